"""Profiles of sales exports: how one layout of a web shop's or marketplace's file is read."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, cast

from ledger.carried import carried
from ledger.errors import InputErrors, Problem, UsageError
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.profile import SALES_PREFIX
from ledger.intake.records import normal_heading
from ledger.intake.toml_tables import Table, profile_tables
from ledger.intake.values import DATE_ORDERS, DateOrder

SALES_COLUMNS = (
    *("date", "order", "line", "type", "sku", "title", "variant"),
    *("pieces", "unit_price", "item_total", "tax", "discount", "shipping", "fees", "other_fees"),
    *("refunded", "refunded_tax", "refunded_shipping", "refunded_on", "returned"),
    *("party", "currency", "more_shipping", "more_fees", "more_discount", "more_tax", "more_refunded"),
)
"""What a column of a sales export can be."""
MORE_COLUMNS: Mapping[str, str] = MappingProxyType(
    {name: name.removeprefix("more_") for name in SALES_COLUMNS if name.startswith("more_")}
)
"""What several columns can be, and the column that each of them is added to."""
MONEY_COLUMNS = (
    *("unit_price", "item_total", "tax", "discount", "shipping", "fees", "other_fees"),
    *("refunded", "refunded_tax", "refunded_shipping", *MORE_COLUMNS),
)
MINUS_COLUMNS = tuple(name for name in MONEY_COLUMNS if name not in ("unit_price", "item_total"))
"""Columns that some files write with a minus."""
PER_ORDER_COLUMNS = (
    *("shipping", "fees", "other_fees", "refunded_shipping", "tax", "discount", "refunded", "refunded_tax"),
    *MORE_COLUMNS,
)
"""Columns that some files repeat on every row of an order."""
TYPES = ("sale", "refund", "take back", "fees", "shipping", "set aside")
"""What a word of the type column can mean; rows of fees and shipping belong to their order's sale."""
BELOW_ZERO = ("refund", "take back")
"""What a row with pieces and an amount below zero can be, where no type says it."""
FEE_ROWS = ("minus", "plus")
"""How rows of fees write what was kept."""
TAX_HABITS = ("apart", "inside")
DISCOUNT_HABITS = ("taken off", "to take off", "in the price")
"""Whether the item total is after or before its discount; in the price: the price is after it too."""
IGNORE = "ignore"
"""The line of [columns] that lists the headings of columns that are known and not read."""
BESIDE = " | "
"""What stands between title and variant where the two are one text."""

_PLACEHOLDER = re.compile(r"\{([a-z_]+)\}")
_TABLES = ("file", "numbers", "columns", "amounts", "refunds", "types", "sku", "set_aside")

Words = Mapping[str, str]


def _none() -> Mapping[str, Any]:
    return MappingProxyType({})


@dataclass(frozen=True, slots=True)
class SkuPattern:
    """A text with placeholders, and the SKU it gives: 'Fox tee | {colour}, {size}' is 'FOX-{colour}-{size}'."""

    text: str
    sku: str

    def matcher(self) -> re.Pattern[str]:
        """Return what a whole text is matched with, in any case; each placeholder takes some of it."""
        parts = _PLACEHOLDER.split(self.text)
        made = [
            rf"(?P<{part}>\S.*?)" if place % 2 else re.escape(part).replace(r"\ ", r"\s+")
            for place, part in enumerate(parts)
        ]
        return re.compile("".join(made), re.IGNORECASE)


@dataclass(frozen=True)
class SalesProfile:
    """How one sales export is read. Every table but ``columns`` may be empty.

    ``columns`` maps what a column is to the headings accepted for it; of MORE_COLUMNS each heading is a
    column of its own. ``ignored`` are headings of columns that are not to be read, or 'column H' for one
    without a heading. ``date_order`` is empty where the file's own dates must say it. ``tax`` and ``refund_tax`` are 'inside' where the sales tax is in
    the amounts and its column is taken off; ``discount`` says whether it was taken off already.
    ``below_zero`` says what rows with pieces and money below zero are, '' where nobody said it.
    ``fee_rows`` says whether rows of fees write what was kept with a minus.
    ``minus`` are columns written with a minus, ``per_order`` those repeated on every row of an order,
    ``per_row`` those of which each row surely has its own.
    ``types`` maps the type column's words to TYPES. ``aliases`` maps the file's SKU, its title, or
    'title | variant' to our SKU; ``codes`` what a placeholder's words are in our SKUs.
    ``set_aside_words`` and ``set_aside_patterns`` (with * for anything) tell rows that are not goods.
    """

    name: str
    columns: Mapping[str, tuple[str, ...]]
    ignored: tuple[str, ...] = ()
    source: str = ""
    party: str = ""
    currency: str = ""
    sheet: str = ""
    header_row: int | None = None
    decimal_comma: bool = False
    date_order: DateOrder | None = None
    tax: str = "apart"
    discount: str = "taken off"
    minus: tuple[str, ...] = ()
    per_order: tuple[str, ...] = ()
    per_row: tuple[str, ...] = ()
    refund_tax: str = "apart"
    undated_refunds: str = "refuse"
    refunds_above: str = "refuse"
    below_zero: str = ""
    fee_rows: str = "minus"
    types: Words = field(default_factory=_none)
    aliases: Words = field(default_factory=_none)
    patterns: tuple[SkuPattern, ...] = ()
    codes: Mapping[str, Words] = field(default_factory=_none)
    set_aside_words: tuple[str, ...] = ()
    set_aside_patterns: tuple[str, ...] = ()


def sales_profile_names() -> tuple[str, ...]:
    """Return the names of the carried profiles of sales exports, as they are typed."""
    return tuple(sorted(path.stem for path in carried("imports").glob(f"{SALES_PREFIX}*.toml")))


def profiles_beside(book: Path) -> Path:
    """Return the folder beside a book that keeps its own profiles."""
    return book.with_name(f"{book.stem}.profiles")


def find_sales_profile(name_or_path: str, book: Path | None = None) -> Path:
    """Return the profile's file: a path as typed, else one beside the book, else a carried one.

    A name may be typed with blanks or hyphens. Raises UsageError where there is none, with the nearest.
    """
    typed = Path(name_or_path)
    if typed.is_file():
        return typed
    own = sorted(profiles_beside(book).glob("*.toml")) if book is not None else []
    paths = {_plain(path.stem): path for path in own}
    for name in sales_profile_names():
        paths.setdefault(_plain(name), carried("imports", f"{name}.toml"))
        paths.setdefault(_plain(name.removeprefix(SALES_PREFIX)), carried("imports", f"{name}.toml"))
    wanted = _plain(name_or_path.removesuffix(".toml"))
    if wanted in paths:
        return paths[wanted]
    where = f", none of that name beside the book in {profiles_beside(book).name}" if book is not None else ""
    raise UsageError(
        f"there is no profile file {name_or_path}{where}, and no sales profile of that name comes with "
        f"Blankbook. {did_you_mean(wanted, [path.stem for path in paths.values()])}".rstrip()
    )


def _plain(name: str) -> str:
    return re.sub(r"[\W_]+", "-", fold(name)).strip("-")


def load_sales_profile(path: Path) -> SalesProfile:
    """Return the sales profile a TOML file holds.

    Raises InputErrors with everything wrong in it: text that is no TOML, a profile of something else,
    unknown keys with the nearest right one, columns that are missing or unclear, patterns that fail.
    """
    tables = profile_tables(path)
    if tables.get("kind") != "sales":
        what = 'this is no profile of a sales export: it does not begin with kind = "sales".'
        advice = "For a supplier's file use: blankbook receive FILE --profile NAME."
        raise InputErrors(path.name, [Problem("", what, advice)])
    return read_sales_profile(tables, path.name)


def read_sales_profile(tables: Mapping[str, Any], source: str) -> SalesProfile:
    """Return the profile that TOML tables say; ``source`` is the name shown in errors.

    Raises InputErrors as `load_sales_profile`.
    """
    problems: list[Problem] = []
    profile = _read(Table("", tables, problems), source)
    if problems:
        raise InputErrors(f"profile {source}", problems)
    return profile


def _read(top: Table, source: str) -> SalesProfile:
    top.known(("kind", "name", "party", "currency", *_TABLES))
    file, numbers, amounts, refunds = (top.table(key) for key in ("file", "numbers", "amounts", "refunds"))
    file.known(("sheet", "header_row"))
    numbers.known(("decimal_comma", "date_order"))
    amounts.known(("tax", "discount", "minus", "per_order", "per_row", "fee_rows"))
    refunds.known(("tax", "undated", "above_item_total", "below_zero"))
    columns = _columns(top.table("columns"))
    _check_columns(top, columns)
    _check_habits(amounts, refunds, columns)
    words, patterns = _set_aside(top.table("set_aside"))
    order = numbers.choice("date_order", ("", *DATE_ORDERS), "")
    sku = top.table("sku")
    sku_patterns = _patterns(sku)
    return SalesProfile(
        name=top.text("name") or source.removesuffix(".toml"),
        source=source,
        columns=columns,
        ignored=top.table("columns").texts(IGNORE),
        party=top.text("party"),
        currency=top.currency("currency"),
        sheet=file.text("sheet"),
        header_row=file.row_number("header_row"),
        decimal_comma=numbers.flag("decimal_comma"),
        date_order=cast("DateOrder", order) if order else None,
        tax=amounts.choice("tax", TAX_HABITS, "apart"),
        discount=amounts.choice("discount", DISCOUNT_HABITS, "taken off"),
        minus=_some(amounts, "minus", MINUS_COLUMNS),
        per_order=_some(amounts, "per_order", PER_ORDER_COLUMNS),
        per_row=_some(amounts, "per_row", PER_ORDER_COLUMNS),
        refund_tax=refunds.choice("tax", TAX_HABITS, "apart"),
        undated_refunds=refunds.choice("undated", ("refuse", "sale date"), "refuse"),
        refunds_above=refunds.choice("above_item_total", ("refuse", "shipping"), "refuse"),
        below_zero=refunds.choice("below_zero", ("", *BELOW_ZERO), ""),
        fee_rows=amounts.choice("fee_rows", FEE_ROWS, "minus"),
        types=_types(top, columns),
        aliases={fold(word): code for word, code in sku.mapping("aliases").items()},
        patterns=sku_patterns,
        codes=_codes(sku, sku_patterns),
        set_aside_words=words,
        set_aside_patterns=patterns,
    )


def _columns(table: Table) -> dict[str, tuple[str, ...]]:
    table.known((*SALES_COLUMNS, IGNORE))
    columns = {name: table.texts(name) or (name,) for name in SALES_COLUMNS if table.has(name)}
    owner: dict[str, str] = {}
    for name, headings in {**columns, IGNORE: table.texts(IGNORE)}.items():
        for heading in headings:
            other = owner.setdefault(normal_heading(heading), name)
            if other != name:
                what = f"{quoted(heading)} is also the heading of {other}."
                table.note(name, what, "Drop it from one of them.")
    return columns


def _check_columns(top: Table, columns: Mapping[str, object]) -> None:
    for name, why in (("date", "Each sale has its day."), ("order", "It tells rows that came before.")):
        if name not in columns:
            top.note("[columns]", f"no column holds the {name}.", f'{why} Add a line like {name} = "…".')
    if "sku" not in columns and "title" not in columns:
        top.note("[columns]", "no column says what was sold.", 'Add a line like sku = "…" or title = "…".')
    if "item_total" not in columns and not {"unit_price", "pieces"} <= set(columns):
        what = "no column holds the item total."
        top.note("[columns]", what, 'Add item_total = "…", or unit_price and pieces.')
    for name, base in MORE_COLUMNS.items():
        if name in columns and base not in columns:
            top.note("[columns]", f"{name} stands without {base}.", f"Name the first of them {base}.")
    if "refunded_on" in columns and "refunded" not in columns:
        top.note("[columns]", "refunded_on stands without refunded.", "Name the column of the amount too.")


def _check_habits(amounts: Table, refunds: Table, columns: Mapping[str, object]) -> None:
    for table, key, column, choices in (
        (amounts, "tax", "tax", TAX_HABITS),
        (amounts, "discount", "discount", DISCOUNT_HABITS),
        (refunds, "tax", "refunded_tax", TAX_HABITS),
    ):
        if column in columns and not table.has(key):
            what = f"there is a column {column}, and nothing says what it means for the total."
            words = " or ".join(f'"{word}"' for word in choices)
            table.note(key, what, f"Write {key} = {words}.")
        if table.has(key) and column not in columns and table.text(key) in ("inside", "to take off"):
            table.note(key, f"it needs the column {column}.", f'Add {column} = "…" under [columns].')
    for column in amounts.texts("per_row"):
        if column in amounts.texts("per_order"):
            amounts.note("per_row", f"{column} stands in per_order too.", "Take it out of one of them.")
    for key in ("minus", "per_order", "per_row"):
        for column in amounts.texts(key):
            if column in SALES_COLUMNS and column not in columns:
                amounts.note(key, f"{column} is not under [columns].", "Add it there, or take it out here.")


def _some(table: Table, key: str, choices: tuple[str, ...]) -> tuple[str, ...]:
    texts = table.texts(key)
    for text in texts:
        if text not in choices:
            table.note(key, f"{quoted(text)} cannot stand here.", did_you_mean(text, choices))
    return texts


def _types(top: Table, columns: Mapping[str, object]) -> dict[str, str]:
    types = {}
    for word, meaning in top.mapping("types").items():
        types[fold(word)] = fold(meaning)
        if fold(meaning) not in TYPES:
            top.note(f"[types] {word}", f"{quoted(meaning)} is not known.", did_you_mean(meaning, TYPES))
    if types and "type" not in columns:
        top.note("[types]", "no column holds the type.", 'Add type = "…" under [columns].')
    if "type" in columns and not types:
        advice = f'Write lines like "Order" = "sale"; there are {", ".join(TYPES)}.'
        top.note("[types]", "nothing says what the words of the type column mean.", advice)
    return types


def _patterns(table: Table) -> tuple[SkuPattern, ...]:
    """Return the patterns of [[sku.patterns]], with every problem noted."""
    value = table.raw("patterns", [])
    if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
        table.note("patterns", "this is no list of tables.", "Write [[sku.patterns]], with text and sku.")
        return ()
    patterns = []
    for place, each in enumerate(value, 1):
        inner = table.inner(f"patterns {place}", each)
        inner.known(("text", "sku"))
        pattern = SkuPattern(" ".join(inner.text("text").split()), inner.text("sku"))
        found = _PLACEHOLDER.findall(pattern.text)
        if not pattern.text or not pattern.sku:
            inner.note(
                "", "a pattern needs text and sku.", 'Like text = "Fox tee | {size}", sku = "FOX-{size}".'
            )
        elif len(set(found)) < len(found):
            inner.note("text", "a placeholder stands twice.", "Name each once.")
        else:
            for part in _PLACEHOLDER.findall(pattern.sku):
                if part not in found:
                    inner.note("sku", f"{{{part}}} is not in the text.", did_you_mean(part, found))
            patterns.append(pattern)
    return tuple(patterns)


def _codes(table: Table, patterns: tuple[SkuPattern, ...]) -> dict[str, dict[str, str]]:
    parts = tuple(dict.fromkeys(part for one in patterns for part in _PLACEHOLDER.findall(one.text)))
    table.known(("aliases", "patterns", *parts))
    return {
        part: {fold(word): code for word, code in table.mapping(part).items()}
        for part in parts
        if table.has(part)
    }


def _set_aside(table: Table) -> tuple[tuple[str, ...], tuple[str, ...]]:
    table.known(("words", "patterns"))
    patterns = table.texts("patterns")
    for pattern in patterns:
        if not pattern.strip("* "):
            table.note("patterns", f"{quoted(pattern)} would set every row aside.", "Write more of the text.")
    return table.texts("words"), patterns
