"""The profiles kept beside a book, one for each party: a folder of TOML files named by them."""

from __future__ import annotations

import os
import re
import sqlite3
import tempfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from ledger.book.alias_store import CODE, find_aliases
from ledger.book.catalogue_store import find_items, find_ladders, find_packs
from ledger.book.shop import read_shop
from ledger.errors import InputErrors, Refused, UsageError
from ledger.intake.nearest import fold
from ledger.intake.profile import Profile, load_profile
from ledger.intake.proposal import CatalogueWords, KnownItem
from ledger.intake.shipment_frame import choose_sheet, find_columns
from ledger.intake.table import SourceFile

FOLDER_SUFFIX = ".profiles"
_DEVICES = frozenset(
    ("con", "prn", "aux", "nul", *(f"{name}{n}" for name in ("com", "lpt") for n in range(10)))
)


def profiles_folder(book: Path) -> Path:
    """Return the folder beside a book that holds its parties' profiles; it need not be there."""
    return book.with_name(book.stem + FOLDER_SUFFIX)


def profile_path(book: Path, party: str) -> Path:
    """Return the file of a party's profile, there or not.

    >>> profile_path(Path("shop.blankbook"), "Mill Lane & Co.").as_posix()
    'shop.profiles/mill-lane-co.toml'

    Raises UsageError where the name has no letter or digit to name a file by.
    """
    words = re.findall(r"\w+", party.casefold())
    name = "-".join(words)[:80]
    if not name.strip("_-"):
        raise UsageError(f"'{party}' has no letters to name its profile by. Name the supplier with --party.")
    return profiles_folder(book) / f"{'party-' if name in _DEVICES else ''}{name}.toml"


def saved_profile(book: Path, party: str) -> Profile | None:
    """Return the profile saved for a party, None where there is none.

    Raises Refused where the file of that name is another party's, InputErrors where it cannot be read.
    """
    path = profile_path(book, party)
    if not path.is_file():
        return None
    profile = load_profile(path)
    if profile.party and fold(profile.party) != fold(party):
        raise Refused(
            f"{path} is the profile of {profile.party}, not of {party}. Give --profile, or rename it."
        )
    return profile


def fitting_profiles(book: Path, file: SourceFile) -> list[Profile]:
    """Return the saved profiles whose columns are all in the file."""
    fitting = []
    for path in sorted(profiles_folder(book).glob("*.toml")):
        try:
            profile = load_profile(path)
            find_columns(choose_sheet(file, profile), profile)
        except InputErrors:
            continue
        fitting.append(profile)
    return fitting


def save_text(path: Path, text: str) -> None:
    """Write a profile's text as one whole file, its folder made where it is missing.

    Raises UsageError where it cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=".toml.part")
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                file.write(text)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise UsageError(f"{path} cannot be written: {error.strerror or error}.") from None


def catalogue_words(connection: sqlite3.Connection, party: str) -> CatalogueWords:
    """Return what the book calls things, for proposing."""
    items = find_items(connection).values()
    sizes = {size for ladder in find_ladders(connection) for size in (*ladder.sizes, *ladder.aliases)}
    packs_of = find_packs(connection)
    packs = {pack.name for each in packs_of.values() for pack in each}
    codes = (
        {alias.word: alias.meaning for alias in find_aliases(connection, party) if alias.part == CODE}
        if party
        else {}
    )
    known = {
        item.sku: KnownItem(
            item.sku, item.base_unit, tuple(packs_of.get(item.sku, ())), item.density_g_per_ml
        )
        for item in items
    }
    return CatalogueWords(
        skus=frozenset(fold(item.sku) for item in items),
        styles=frozenset(fold(item.style) for item in items if item.style),
        colours=frozenset(fold(item.colour) for item in items if item.colour),
        sizes=frozenset(map(fold, sizes)),
        codes=frozenset(map(fold, codes)),
        packs=frozenset(map(fold, packs)),
        items={fold(word): known[sku] for word, sku in codes.items() if sku in known}
        | {fold(sku): each for sku, each in known.items()},
        currency=read_shop(connection).currency,
    )


def with_party_codes(connection: sqlite3.Connection, profile: Profile, party: str) -> Profile:
    """Return the profile with the codes that the book knows of the party; the profile's own come first."""
    known = {alias.word: alias.meaning for alias in find_aliases(connection, party) if alias.part == CODE}
    if not known:
        return profile
    own: Mapping[str, str] = profile.aliases.get(CODE, {})
    return replace(profile, aliases={**profile.aliases, CODE: {**known, **own}})
