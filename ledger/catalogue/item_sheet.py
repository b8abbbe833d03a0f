"""One row of the items sheet as items and packs: words into values, every problem named."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TypeVar

from ledger.catalogue import items as rules
from ledger.catalogue._words import fold, quoted
from ledger.catalogue.items import KINDS, Item, Kind
from ledger.catalogue.packs import Pack, read_packs
from ledger.catalogue.parties import read_country
from ledger.catalogue.sizes import Ladder, find_ladder, guess_ladder, read_size
from ledger.catalogue.units import read_base_unit
from ledger.errors import ValueProblem
from ledger.exact.numbers import read_decimal

ITEM_COLUMNS: Mapping[str, str] = {
    "sku": "The item's code: letters, digits and - _ . / +. For a whole style: a pattern, {style}-{colour}-{size}.",
    "name": "What it is called.",
    "kind": "blank, vinyl, paper, film, ink … one of the list.",
    "unit": "What stock is counted in: each, sheet, mL, g, cm or cm2. Empty: the kind's usual one.",
    "tax_class": "goods, supplies when used, supplies when bought, customer's. Empty: the kind's usual one.",
    "style": "The style that colours and sizes belong to.",
    "colour": "One colour.",
    "size": "One size.",
    "sizes": "All sizes of the style: S-3XL, or S; M; L, or the name of a ladder.",
    "colours": "All colours of the style, with ; between; a code after =, like Heather Navy=HNV.",
    "sku_pattern": "How the SKUs of a style are made. Empty: {style}-{colour}-{size}.",
    "ladder": "infant, toddler, youth, adult, ladies, tall, one size, or the shop's own. Name it for youth.",
    "fibre": "Fibre content as on the label: 60% cotton 40% polyester.",
    "weight_g": "Weight of one unit in grams.",
    "volume_mL": "Room one unit takes in a carton, in millilitres.",
    "density_g_per_mL": "Grams in a millilitre, for things bought by volume and kept by weight or the other way.",
    "customs_class": "Tariff number, checked by you or your broker.",
    "origin": "Country of origin by its two letters, ISO 3166.",
    "shelf_life_days": "Days it keeps from receipt.",
    "use_estimated": "yes where use is estimated, not measured.",
    "safety_sheet": "Where the safety data sheet is kept: a file or an address.",
    "packs": "What it is bought in, with ; between: case = 72 each; roll = 11.8 in x 5 yd (sold as 12 in x 5 yd).",
    "note": "Anything else.",
}
"""The columns of the items sheet in order, each with what the maker is told about it."""

REQUIRED_COLUMNS = ("sku", "name", "kind", "unit")
"""The columns a sheet of single items must have; with style and sizes or colours, sku may be missing."""

_ALIASES = {
    "item": "sku",
    "item code": "sku",
    "code": "sku",
    "description": "name",
    "type": "kind",
    "base unit": "unit",
    "unit of measure": "unit",
    "color": "colour",
    "colors": "colours",
    "fiber": "fibre",
    "fiber content": "fibre",
    "fibre content": "fibre",
    "weight": "weight_g",
    "weight in g": "weight_g",
    "volume": "volume_mL",
    "volume in ml": "volume_mL",
    "density": "density_g_per_mL",
    "tariff number": "customs_class",
    "hs code": "customs_class",
    "country of origin": "origin",
    "shelf life": "shelf_life_days",
    "sds": "safety_sheet",
    "safety data sheet": "safety_sheet",
    "pack": "packs",
    "notes": "note",
    "size ladder": "ladder",
}


def _words(header: str) -> str:
    return fold(header.replace("_", " "))


_BY_HEADER = {_words(name): name for name in ITEM_COLUMNS} | _ALIASES


def read_item_header(text: str) -> str | None:
    """Return the items sheet's column that a header cell names, or None where it names none.

    >>> read_item_header("Color"), read_item_header("Base Unit"), read_item_header("shelf_life_days")
    ('colour', 'unit', 'shelf_life_days')
    """
    return _BY_HEADER.get(_words(text))


@dataclass(frozen=True)
class CellProblem:
    """One thing wrong in a row: the column's name, and what is wrong with its value."""

    column: str
    what: str


@dataclass(frozen=True)
class ItemRow:
    """What one row of the items sheet means; with problems, it has no items and no packs."""

    items: tuple[Item, ...] = ()
    packs: tuple[Pack, ...] = ()
    problems: tuple[CellProblem, ...] = ()


Value = TypeVar("Value")
Default = TypeVar("Default")


class _Row:
    """The cells of one row, read one by one while problems are collected."""

    def __init__(self, cells: Mapping[str, str]) -> None:
        self._cells = cells
        self.problems: list[CellProblem] = []

    def text(self, column: str) -> str:
        return self._cells.get(column, "").strip()

    def read(self, column: str, reader: Callable[[str], Value], default: Default) -> Value | Default:
        """Return the cell as ``reader`` understands it, or ``default`` where empty or wrong."""
        if not self.text(column):
            return default
        try:
            return reader(self.text(column))
        except ValueProblem as problem:
            self.problem(column, str(problem))
            return default

    def problem(self, column: str, what: str) -> None:
        self.problems.append(CellProblem(column, what))


def items_from_row(
    cells: Mapping[str, str], *, kinds: Mapping[str, Kind] = KINDS, own_ladders: Iterable[Ladder] = ()
) -> ItemRow:
    """Return the items and packs of one row, or every problem in it.

    ``cells`` maps the columns of ITEM_COLUMNS to trimmed text; absent columns are empty. A row with
    sizes or colours stands for a whole style, and its sku (or sku_pattern) is a pattern.
    """
    row = _Row(cells)
    own = tuple(own_ladders)
    shared = _shared(row, kinds)
    expanded = bool(row.text("sizes") or row.text("colours"))
    found = _style_items(row, shared, own) if expanded else _single_item(row, shared, own)
    packs: list[Pack] = []
    if shared.base_unit:
        density = shared.density_g_per_ml
        template = row.read("packs", lambda text: read_packs(text, shared.base_unit, density), ())
        packs = [replace(pack, sku=item.sku) for item in found for pack in template]
    if not row.problems:
        # Items of one style share most of what can be wrong: each fault is said once.
        for what in dict.fromkeys(what for item in found for what in rules.check_item(item, kinds, own)):
            row.problem("sku", what)
    if row.problems:
        return ItemRow(problems=tuple(row.problems))
    return ItemRow(found, tuple(packs))


def _shared(row: _Row, kinds: Mapping[str, Kind]) -> Item:
    """Return what every item of the row shares, with an empty SKU."""
    for column, advice in (("name", "say what it is called"), ("kind", f"use one of {', '.join(kinds)}")):
        if not row.text(column):
            row.problem(column, f"the {column} is empty: {advice}.")
    kind = row.read("kind", lambda text: rules.read_kind(text, kinds), None)
    return Item(
        sku="",
        name=row.text("name"),
        kind=kind.name if kind else "",
        tax_class=row.read("tax_class", rules.read_tax_class, kind.tax_class if kind else ""),
        base_unit=row.read("unit", read_base_unit, kind.base_unit if kind and not row.text("unit") else ""),
        style=row.text("style"),
        colour=row.text("colour"),
        fibre_content=row.text("fibre"),
        weight_mg=row.read("weight_g", _thousandths("weight", "g"), None),
        volume_mm3=row.read("volume_mL", _thousandths("volume", "mL"), None),
        density_mg_per_ml=row.read("density_g_per_mL", _thousandths("density", "g per mL"), None),
        customs_class=row.read("customs_class", rules.read_customs_class, ""),
        origin=row.read("origin", read_country, ""),
        shelf_life_days=row.read("shelf_life_days", _days, None),
        use_estimated=row.read("use_estimated", _yes_or_no, default=False),
        safety_sheet=row.text("safety_sheet"),
        note=row.text("note"),
    )


def _sized(row: _Row, shared: Item, own: tuple[Ladder, ...]) -> Item:
    """Return the item with its size as its ladder names it; no ladder known: the size as typed."""
    size = row.text("size")
    ladder = row.read("ladder", lambda text: find_ladder(text, own), None)
    if size and not row.text("ladder"):
        ladder = guess_ladder(size, own)
    if ladder is None:
        return replace(shared, size=size)
    return replace(
        shared, size=row.read("size", lambda text: read_size(text, ladder), ""), ladder=ladder.name
    )


def _single_item(row: _Row, shared: Item, own: tuple[Ladder, ...]) -> tuple[Item, ...]:
    """Return the one item of a row without sizes and colours, its SKU typed or made by a pattern."""
    item = _sized(row, shared, own)
    column = "sku" if row.text("sku") or not row.text("sku_pattern") else "sku_pattern"
    typed = row.text(column)
    values = {"style": item.style, "colour": item.colour, "size": item.size}
    try:
        sku = rules.sku_from_pattern(typed, values) if "{" in typed else rules.read_sku(typed)
    except ValueProblem as problem:
        row.problem(column, str(problem))
        return ()
    return (replace(item, sku=sku),)


def _style_items(row: _Row, shared: Item, own: tuple[Ladder, ...]) -> tuple[Item, ...]:
    """Return every item of a row with sizes or colours."""
    before = len(row.problems)
    sku, pattern = row.text("sku"), row.text("sku_pattern")
    if not shared.style:
        row.problem("style", "a row with sizes or colours needs the style they belong to.")
    if sku and "{" not in sku:
        row.problem(
            "sku",
            f"{quoted(sku)} would be the code of them all: write a pattern, like {{style}}-{{colour}}-{{size}}.",
        )
    for one, several in (("size", "sizes"), ("colour", "colours")):
        if row.text(one) and row.text(several):
            row.problem(one, f"both {one} and {several} are filled in: leave one of them empty.")
    row.read("colours", rules.read_colours, ())
    style = _sized(row, shared, own)
    sizes = row.text("sizes")
    if sizes:
        row.read("sizes", lambda text: rules.read_style_sizes(text, style.ladder, own), None)
    if len(row.problems) > before:
        return ()
    try:
        return rules.expand_style(
            style, colours=row.text("colours"), sizes=sizes, sku_pattern=pattern or sku, own_ladders=own
        )
    except ValueProblem as problem:
        row.problem("sku_pattern" if pattern or not sku else "sku", str(problem))
        return ()


def _thousandths(what: str, unit: str) -> Callable[[str], int]:
    """Return a reader of a measure above zero, in whole thousandths of ``unit``."""

    def read(text: str) -> int:
        value: Fraction = read_decimal(text, what=f"{what} in {unit}") * 1000
        if value <= 0:
            raise ValueProblem(
                f"{quoted(text)}: the {what} must be above zero; leave it empty where not known."
            )
        if value.denominator != 1:
            raise ValueProblem(f"{quoted(text)}: the {what} in {unit} has three decimals at most.")
        if value > rules.LARGEST_MEASURE:
            raise ValueProblem(
                f"{quoted(text)} is far too much for a {what} in {unit}: check the decimal point."
            )
        return int(value)

    return read


def _days(text: str) -> int:
    value = read_decimal(text, what="number of days")
    if value.denominator != 1 or not 1 <= value <= rules.LONGEST_SHELF_LIFE_DAYS:
        raise ValueProblem(
            f"{quoted(text)} is not a shelf life: write whole days from 1 to {rules.LONGEST_SHELF_LIFE_DAYS}."
        )
    return int(value)


def _yes_or_no(text: str) -> bool:
    word = fold(text)
    if word in {"yes", "y", "true", "1"}:
        return True
    if word in {"no", "n", "false", "0"}:
        return False
    raise ValueProblem(f"{quoted(text)} is neither yes nor no.")
