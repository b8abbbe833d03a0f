"""Profiles: how one layout of invoice or packing list is read, as a TOML file says it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType
from typing import Any, cast

from ledger.carried import carried
from ledger.catalogue.item_sheet import ITEM_COLUMNS
from ledger.errors import InputErrors, Problem, UsageError, ValueProblem
from ledger.exact.numbers import read_decimal
from ledger.intake.charge_words import read_charge
from ledger.intake.nearest import did_you_mean, fold, nearest, quoted
from ledger.intake.pack_content import stated_content
from ledger.intake.records import normal_heading
from ledger.intake.toml_tables import Table, profile_tables
from ledger.intake.values import DATE_ORDERS, DateOrder

COLUMNS = (
    *("sku", "style", "colour", "size", "variant", "code", "description"),
    *("quantity", "unit", "content", "pieces", "cartons", "carton_numbers", "per_carton"),
    *("unit_price", "line_total", "discount_percent"),
    *("missing", "damaged", "loss", "duty", "duty_percent", "weight_kg", "volume_m3"),
    *("expires_on", "tax_paid", "fibre", "customs_class", "origin", "charge", "note"),
)
"""What a column of a shipment file can be."""
ONE_SIZE_COLUMNS = ("sku", "size", "variant", "quantity")
"""Columns that belong to one size, so they cannot stand beside sizes across."""
HEAD_FIELDS = ("party", "reference", "date", "currency")
FOOT_MEANINGS = ("lines total", "discount", "invoice total", "ignore")
PRICE_UNITS = ("unit", "piece", "dozen", "hundred")
LOSS_UNITS = ("pieces", "dozens", "hundreds", "packs", "cartons")
"""What missing and damaged may be counted in; packs are whatever the row's quantity counts."""
PERCENT_HABITS = ("points", "fraction")
TAX_PAID = ("", "yes", "resale", "none")
ITEM_FIELDS = tuple(name for name in ITEM_COLUMNS if name not in ("sku", "sizes", "colours", "sku_pattern"))
PLACEHOLDERS = ("style", "colour", "size", "code", "description", "sku")
"""What a value under [items] can quote of the row: the colour as the file names it, the rest as our codes."""

_TABLES = (
    *("file", "numbers", "columns", "sizes_across", "prices", "defaults", "packs", "packs_by_size"),
    *("sku", "items", "head", "foot", "not_read"),
)
_SKU_PARTS = ("style", "colour", "size", "code")
_PLACEHOLDER = re.compile(r"\{([^{}]*)\}")
MOST_HEADING_ROWS = 2
SALES_PREFIX = "sales-"
"""How the carried profiles of sales exports begin; `ledger.intake.sales_profile` reads them."""
STUDY_NAME = "study"
"""The carried buying study, which is no profile; `ledger.intake.study_file` reads it."""

Words = Mapping[str, str]


def _none() -> Mapping[str, Any]:
    return MappingProxyType({})


@dataclass(frozen=True)
class Profile:
    """How one layout is read. Every table but ``columns`` may be empty.

    ``columns`` maps what a column is to the headings accepted for it, or to its place: 'column F'.
    ``heading_rows`` is 2 where a heading is written over two rows; ``header_row`` is then the lower one.
    ``surcharges`` is the price added per piece for a size, in the file's currency. ``units_by_item`` maps
    an item, as the file or the book calls it, to what its quantities count in rows that name no unit.
    ``packs`` maps the file's unit words to a unit or pack name, or to a content such as '72 each';
    ``packs_by_size`` the same for one size. ``percent_as`` says whether a number cell of 10 ('points') or
    of 0.1 ('fraction', a cell with the format percent) is 10%. ``losses_in`` is one of LOSS_UNITS, for
    headings that name no unit; empty is pieces. ``aliases`` maps
    style, colour, size and code to what the file's words are in our SKUs. ``foot`` maps a label to what
    its amount is: one of FOOT_MEANINGS, or a charge without its amount. ``not_read`` holds the headings, or
    places like 'column F', of columns that somebody decided to leave.
    """

    name: str
    columns: Mapping[str, tuple[str, ...]]
    source: str = ""
    party: str = ""
    currency: str = ""
    sheet: str = ""
    header_row: int | None = None
    heading_rows: int = 1
    decimal_comma: bool = False
    date_order: DateOrder = "month day year"
    percent_as: str = "points"
    sizes_across: tuple[str, ...] = ()
    price_per: str = "unit"
    surcharges: Mapping[str, Fraction] = field(default_factory=_none)
    default_unit: str = ""
    units_by_item: Words = field(default_factory=_none)
    default_tax_paid: str = ""
    losses_in: str = ""
    packs: Words = field(default_factory=_none)
    packs_by_size: Mapping[str, Words] = field(default_factory=_none)
    sku_pattern: str = ""
    aliases: Mapping[str, Words] = field(default_factory=_none)
    new_item: Words = field(default_factory=_none)
    new_item_by_code: Mapping[str, Words] = field(default_factory=_none)
    head: Words = field(default_factory=_none)
    foot: Words = field(default_factory=_none)
    not_read: tuple[str, ...] = ()

    def sku_parts(self) -> tuple[str, ...]:
        """Return the columns a SKU is made of, 'sku' alone where the file holds our own SKUs."""
        if "sku" in self.columns:
            return ("sku",)
        return tuple(name for name in _SKU_PARTS if f"{{{name}}}" in self.sku_pattern)


def profile_names() -> tuple[str, ...]:
    """Return the names of the carried profiles of shipments, as they are typed."""
    names = (path.stem for path in carried("imports").glob("*.toml"))
    return tuple(sorted(name for name in names if not name.startswith(SALES_PREFIX) and name != STUDY_NAME))


def find_profile(name_or_path: str) -> Path:
    """Return the profile's file: a path as typed, else the carried profile of that name.

    A name may be typed with blanks or hyphens: 'one row per size' is 'one-row-per-size'.

    Raises UsageError where there is neither, with the nearest name.
    """
    typed = Path(name_or_path)
    if typed.is_file():
        return typed
    names = profile_names()
    wanted = fold(name_or_path).replace(" ", "-").removesuffix(".toml")
    if wanted in names:
        return carried("imports", f"{wanted}.toml")
    raise UsageError(
        f"there is no profile file {name_or_path}, and no profile of that name comes with Blankbook. "
        f"{did_you_mean(wanted, names) if names else ''}".rstrip()
    )


def load_profile(path: Path) -> Profile:
    """Return the profile a TOML file holds.

    Raises InputErrors with everything wrong in it: text that is no TOML, unknown keys with the nearest
    right one, values of the wrong sort, a SKU pattern that asks for a column there is not.
    """
    return _profile_of(profile_tables(path), path.name)


def profile_of_text(text: str, source: str) -> Profile:
    """Return the profile of a text that was written here. Raises InputErrors like `load_profile`."""
    return _profile_of(tomllib.loads(text), source)


def _profile_of(tables: dict[str, Any], source: str) -> Profile:
    problems: list[Problem] = []
    profile = _read_profile(Table("", tables, problems), source)
    if problems:
        raise InputErrors(f"profile {source}", problems)
    return profile


def _read_profile(top: Table, source: str) -> Profile:
    top.known(("name", "party", "currency", *_TABLES))
    file, numbers, prices, defaults = (top.table(key) for key in ("file", "numbers", "prices", "defaults"))
    file.known(("sheet", "header_row", "heading_rows"))
    numbers.known(("decimal_comma", "date_order", "percent_as"))
    prices.known(("per", "surcharges"))
    defaults.known(("unit", "tax_paid", "units", "losses_in"))
    columns = _columns(top.table("columns"))
    sizes, not_read = top.table("sizes_across"), top.table("not_read")
    sizes.known(("sizes",))
    not_read.known(("columns",))
    sizes_across = sizes.texts("sizes")
    _check_columns(top, columns, sizes_across)
    return Profile(
        name=top.text("name") or source.removesuffix(".toml"),
        source=source,
        columns=columns,
        party=top.text("party"),
        currency=top.currency("currency"),
        sheet=file.text("sheet"),
        header_row=file.row_number("header_row"),
        heading_rows=_heading_rows(file),
        decimal_comma=numbers.flag("decimal_comma"),
        date_order=cast("DateOrder", numbers.choice("date_order", DATE_ORDERS, "month day year")),
        percent_as=numbers.choice("percent_as", PERCENT_HABITS, "points"),
        sizes_across=sizes_across,
        price_per=prices.choice("per", PRICE_UNITS, "unit"),
        surcharges=_surcharges(prices.table("surcharges")),
        default_unit=defaults.text("unit"),
        units_by_item=defaults.mapping("units"),
        default_tax_paid=defaults.choice("tax_paid", TAX_PAID, ""),
        losses_in=defaults.choice("losses_in", ("", *LOSS_UNITS), ""),
        packs=_packs(top.table("packs")),
        packs_by_size=_packs_by_size(top.table("packs_by_size")),
        sku_pattern=_sku_pattern(top.table("sku"), columns, sizes_across),
        aliases=_aliases(top.table("sku")),
        new_item=_item_fields(top.table("items"), inner=("by_code",)),
        new_item_by_code=_items_by_code(top.table("items").table("by_code")),
        head=_head(top.table("head")),
        foot=_foot(top.table("foot")),
        not_read=not_read.texts("columns"),
    )


def _heading_rows(file: Table) -> int:
    rows = file.row_number("heading_rows") or 1
    if rows > MOST_HEADING_ROWS:
        file.note("heading_rows", f"{rows} rows of headings cannot be read.", "Write 1 or 2.")
        return 1
    return rows


def _columns(table: Table) -> dict[str, tuple[str, ...]]:
    table.known(COLUMNS)
    columns = {name: table.texts(name) or (name,) for name in COLUMNS if table.has(name)}
    owner: dict[str, str] = {}
    for name, headings in columns.items():
        for heading in headings:
            other = owner.setdefault(normal_heading(heading), name)
            if other != name:
                table.note(
                    name, f"{quoted(heading)} is also the heading of {other}.", "Drop it from one of them."
                )
    return columns


def _check_columns(top: Table, columns: Mapping[str, tuple[str, ...]], sizes_across: tuple[str, ...]) -> None:
    if not top.has("sizes_across"):
        if "quantity" not in columns and not counts_cartons(columns):
            advice = 'Add a line like quantity = "Qty", or [sizes_across].'
            top.note("[columns]", "no column holds the quantity.", advice)
        return
    if not sizes_across:
        top.note("[sizes_across]", "there are no sizes.", 'Name the columns: sizes = ["S", "M", "L"].')
    for name in ONE_SIZE_COLUMNS:
        if name in columns:
            top.note(
                f"[columns] {name}", "this belongs to one size, and the sizes stand across.", "Take it out."
            )
    taken = {normal_heading(heading) for headings in columns.values() for heading in headings}
    for size in sizes_across:
        if normal_heading(size) in taken:
            top.note(
                "[sizes_across] sizes", f"{quoted(size)} stands twice, or is also a heading of [columns]."
            )
        taken.add(normal_heading(size))


def counts_cartons(columns: Collection[str]) -> bool:
    """Return whether columns tell a quantity by cartons: how many there are, or their numbers, and what one holds."""
    return "per_carton" in columns and ("cartons" in columns or "carton_numbers" in columns)


def _surcharges(table: Table) -> dict[str, Fraction]:
    surcharges = {}
    for size in table.keys():  # noqa: SIM118 - no dict
        amount = _decimal(table, size)
        if amount is not None:
            surcharges[size] = amount
    return surcharges


def _decimal(table: Table, key: str) -> Fraction | None:
    text = table.text(key)
    if not text:
        return None
    try:
        return read_decimal(text, what="surcharge")
    except ValueProblem as problem:
        table.note(key, str(problem), 'Write it in quotes, like "1.50".')
        return None


def _packs(table: Table) -> dict[str, str]:
    packs = {}
    for word in table.keys():  # noqa: SIM118 - no dict
        packs[word] = table.text(word)
        if packs[word][:1].isdigit() and stated_content(packs[word]) is None:
            table.note(word, f"{quoted(packs[word])} is not the content of a pack.", "Write it like 72 each.")
    return packs


def _packs_by_size(table: Table) -> dict[str, dict[str, str]]:
    return {size: _packs(table.table(size)) for size in table.keys()}  # noqa: SIM118 - no dict


def _aliases(table: Table) -> dict[str, dict[str, str]]:
    return {part: table.mapping(part) for part in _SKU_PARTS if table.has(part)}


def _sku_pattern(table: Table, columns: Mapping[str, object], sizes_across: tuple[str, ...]) -> str:
    table.known(("pattern", *_SKU_PARTS))
    pattern = table.text("pattern")
    if "sku" in columns:
        return pattern
    if not pattern and "code" in columns:
        pattern = "{code}"
    if not pattern:
        advice = 'Write one like pattern = "{style}-{colour}-{size}", or "{code}".'
        table.note("pattern", "there is no pattern that makes an SKU of a row.", advice)
    for part in _PLACEHOLDER.findall(pattern):
        if part not in _SKU_PARTS:
            table.note("pattern", f"{{{part}}} is not known.", did_you_mean(part, _SKU_PARTS))
        elif part in ("colour", "size") and "variant" in columns:
            continue
        elif part not in columns and not (part == "size" and sizes_across):
            table.note(
                "pattern", f"it asks for {{{part}}}, and no column holds it.", f"Add {part} under [columns]."
            )
    if sizes_across and pattern and "{size}" not in pattern:
        table.note("pattern", "every size of a row would get the same SKU.", "Put {size} into it.")
    if pattern and not _PLACEHOLDER.search(pattern):
        table.note(
            "pattern",
            f"{quoted(pattern)} would give every row the same SKU.",
            "Use {style}, {code} and so on.",
        )
    return pattern


def _item_fields(table: Table, inner: tuple[str, ...] = ()) -> dict[str, str]:
    table.known((*ITEM_FIELDS, *inner))
    fields = {}
    for name in table.keys():  # noqa: SIM118 - no dict
        if name in inner:
            continue
        fields[name] = table.text(name)
        for part in _PLACEHOLDER.findall(fields[name]):
            if part not in PLACEHOLDERS:
                table.note(name, f"{{{part}}} is not known.", did_you_mean(part, PLACEHOLDERS))
    return fields


def _items_by_code(table: Table) -> dict[str, dict[str, str]]:
    return {code: _item_fields(table.table(code)) for code in table.keys()}  # noqa: SIM118 - no dict


def _head(table: Table) -> dict[str, str]:
    table.known(HEAD_FIELDS)
    return {name: table.text(name) for name in HEAD_FIELDS if table.has(name)}


def _foot(table: Table) -> dict[str, str]:
    foot = {}
    for label in table.keys():  # noqa: SIM118 - no dict
        meaning = fold(table.text(label))
        foot[label] = meaning if meaning in FOOT_MEANINGS else table.text(label)
        if meaning in FOOT_MEANINGS:
            continue
        try:
            read_charge(foot[label], amount=Fraction(1))
        except ValueProblem as problem:
            near = nearest(meaning, FOOT_MEANINGS)
            hint = (
                f"Did you mean {quoted(near[0])}?"
                if near
                else f"It is {', '.join(FOOT_MEANINGS)}, or a charge."
            )
            table.note(label, str(problem), hint)
    return foot
