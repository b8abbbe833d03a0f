"""An items file against the book: what is new, what changes, what stays."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path

from ledger.book.catalogue_store import find_items, find_ladders, find_packs, fixed_fields_changed, save_items
from ledger.catalogue.item_sheet import ITEM_COLUMNS, REQUIRED_COLUMNS, items_from_row, read_item_header
from ledger.catalogue.items import KINDS, Item, Kind
from ledger.catalogue.packs import Pack
from ledger.catalogue.sizes import Ladder, find_ladder, read_size
from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.intake.catalogue_sheet import SheetKind, read_catalogue_sheet
from ledger.intake.nearest import fold

_COLUMNS_OF: Mapping[str, tuple[str, ...]] = {
    "name": ("name",),
    "kind": ("kind",),
    "tax_class": ("tax_class",),
    "base_unit": ("unit",),
    "style": ("style",),
    "colour": ("colour", "colours"),
    "size": ("size", "sizes"),
    "ladder": ("ladder",),
    "fibre_content": ("fibre",),
    "weight_mg": ("weight_g",),
    "volume_mm3": ("volume_mL",),
    "density_mg_per_ml": ("density_g_per_mL",),
    "customs_class": ("customs_class",),
    "origin": ("origin",),
    "shelf_life_days": ("shelf_life_days",),
    "use_estimated": ("use_estimated",),
    "safety_sheet": ("safety_sheet",),
    "note": ("note",),
}
"""An item's fields, each with the columns of the sheet that say it."""

PACKS_COLUMN = "packs"


@dataclass(frozen=True)
class ItemsFile:
    """What an items file says, before the book is asked.

    ``places`` says where each SKU stands in the file; ``columns`` are the columns it has.
    """

    name: str
    items: tuple[Item, ...]
    packs: tuple[Pack, ...]
    places: Mapping[str, str]
    columns: frozenset[str]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class ChangedItem:
    """An item that the book has, as it will be, and the columns in which it differs."""

    item: Item
    columns: tuple[str, ...]


@dataclass(frozen=True)
class ItemsPlan:
    """What loading the file does to the book.

    ``packs`` are those new or changed; ``kept_packs`` are packs of these items that stand in the book and
    not in the file, as 'SKU name': loading takes none away.
    """

    new: tuple[Item, ...] = ()
    changed: tuple[ChangedItem, ...] = ()
    unchanged: tuple[str, ...] = ()
    packs: tuple[Pack, ...] = ()
    kept_packs: tuple[str, ...] = field(default=())

    @property
    def is_empty(self) -> bool:
        """Whether the book already says all that the file says."""
        return not (self.new or self.changed)

    @property
    def loaded(self) -> tuple[Item, ...]:
        """The items that are added or amended, as they will be."""
        return (*self.new, *(change.item for change in self.changed))

    @property
    def changed_columns(self) -> tuple[str, ...]:
        """The columns in which any item changes, in the sheet's order."""
        named = {column for change in self.changed for column in change.columns}
        return tuple(column for column in ITEM_COLUMNS if column in named)


def _required(there: frozenset[str]) -> tuple[str, ...]:
    makes_skus = there & {"sizes", "colours", "sku_pattern"}
    return tuple(column for column in REQUIRED_COLUMNS if column != "sku" or not makes_skus)


ITEMS_SHEET = SheetKind("Items", tuple(ITEM_COLUMNS), read_item_header, _required)


def read_items_file(
    path: Path, *, kinds: Mapping[str, Kind] = KINDS, own_ladders: Iterable[Ladder] = ()
) -> ItemsFile:
    """Return every item and pack that an .xlsx or csv file of items means.

    Raises InputErrors with every problem of the file, each with its cell, or its row and column.
    """
    sheet = read_catalogue_sheet(path, ITEMS_SHEET)
    ladders = tuple(own_ladders)
    problems = list(sheet.problems)
    items: list[Item] = []
    packs: list[Pack] = []
    places: dict[str, str] = {}
    first: dict[str, str] = {}
    for record in sheet.records:
        cells = {column: record.text(column) for column in record}
        row = items_from_row(cells, kinds=kinds, own_ladders=ladders)
        problems += [Problem(record.place(problem.column), problem.what) for problem in row.problems]
        # A row with another fault has no items; its SKU counts all the same.
        for sku in [item.sku for item in row.items] or [cells.get("sku", "").strip()]:
            if fold(sku) in first:
                stands = f"the SKU {sku} stands twice in the file: also in {first[fold(sku)]}."
                problems.append(Problem(record.place("sku"), stands, "Keep one of the two, or mend one SKU."))
            if sku and "{" not in sku:
                first.setdefault(fold(sku), record.where)
                places[sku] = record.place("sku")
        items += row.items
        packs += row.packs
    if problems:
        raise InputErrors(sheet.source, problems)
    return ItemsFile(sheet.source, tuple(items), tuple(packs), places, sheet.columns, sheet.remarks)


def plan_items(connection: sqlite3.Connection, file: ItemsFile) -> ItemsPlan:
    """Return what loading the file would change in the book; nothing is written.

    Of an item the book has, what the file has no column for stays as it is. Raises InputErrors where
    a SKU differs from the book's only in its capitals, and where an item in use would change what is fixed.
    """
    known = find_items(connection)
    ladders = find_ladders(connection)
    _check_spelling(file, known)
    book_packs = find_packs(connection, known)
    file_packs = _by_sku(file.packs)
    plan: dict[str, list[Item]] = {"new": [], "unchanged": []}
    changed: list[ChangedItem] = []
    packs: list[Pack] = []
    kept: list[str] = []
    for item in file.items:
        there = book_packs.get(item.sku, [])
        wanted = [_spelled_as_known(pack, there) for pack in file_packs.get(item.sku, [])]
        differing = [pack for pack in wanted if pack not in there]
        packs += differing
        before = known.get(item.sku)
        if before is None:
            plan["new"].append(item)
            continue
        after = _merged(before, item, file.columns, ladders)
        columns = (*_changed_columns(before, after, file.columns), *([PACKS_COLUMN] if differing else []))
        if columns:
            changed.append(ChangedItem(after, columns))
        else:
            plan["unchanged"].append(after)
        if PACKS_COLUMN in file.columns:
            names = {pack.name for pack in wanted}
            kept += [f"{item.sku} {pack.name}" for pack in there if pack.name not in names]
    _check_fixed(connection, file, changed)
    return ItemsPlan(
        new=tuple(plan["new"]),
        changed=tuple(changed),
        unchanged=tuple(item.sku for item in plan["unchanged"]),
        packs=tuple(packs),
        kept_packs=tuple(kept),
    )


def save_plan(connection: sqlite3.Connection, plan: ItemsPlan) -> None:
    """Add and amend what the plan says, inside the caller's transaction."""
    save_items(connection, plan.loaded, plan.packs)


def _by_sku(packs: Iterable[Pack]) -> dict[str, list[Pack]]:
    found: dict[str, list[Pack]] = {}
    for pack in packs:
        found.setdefault(pack.sku, []).append(pack)
    return found


def _spelled_as_known(pack: Pack, there: Iterable[Pack]) -> Pack:
    """Return the pack under the name the book has for it: Case and case are one pack."""
    names = {fold(each.name): each.name for each in there}
    return replace(pack, name=names.get(fold(pack.name), pack.name))


def _merged(before: Item, said: Item, columns: frozenset[str], ladders: tuple[Ladder, ...]) -> Item:
    """Return the item as the file says it, with the book's values where the file has no column."""
    values = {
        name: getattr(before, name) for name, said_by in _COLUMNS_OF.items() if columns.isdisjoint(said_by)
    }
    if said.kind != before.kind:
        # Another kind has another usual tax class: the old one was not said for it.
        values.pop("tax_class", None)
    if "ladder" in values and "size" not in values:
        # A size alone guesses its ladder; where it stands on the book's ladder, that one is meant.
        values |= _on_known_ladder(before, said, ladders)
    return replace(said, **values)


def _on_known_ladder(before: Item, said: Item, ladders: tuple[Ladder, ...]) -> dict[str, str]:
    try:
        ladder = find_ladder(before.ladder, ladders)
        return {"size": read_size(said.size, ladder), "ladder": ladder.name}
    except ValueProblem:
        return {"size": said.size, "ladder": said.ladder}


def _changed_columns(before: Item, after: Item, columns: frozenset[str]) -> tuple[str, ...]:
    def differing() -> Iterator[str]:
        for name in (each.name for each in fields(Item) if each.name != "sku"):
            if getattr(before, name) != getattr(after, name):
                said_by = _COLUMNS_OF[name]
                yield next((column for column in said_by if column in columns), said_by[0])

    return tuple(differing())


def _check_spelling(file: ItemsFile, known: Mapping[str, Item]) -> None:
    by_fold = {fold(sku): sku for sku in known}
    problems = [
        Problem(
            file.places[item.sku],
            f"the SKU {item.sku} stands in the book as {by_fold[fold(item.sku)]}.",
            "Write it so, or give other goods another SKU.",
        )
        for item in file.items
        if item.sku not in known and fold(item.sku) in by_fold
    ]
    if problems:
        raise InputErrors(file.name, problems)


def _check_fixed(connection: sqlite3.Connection, file: ItemsFile, changed: Iterable[ChangedItem]) -> None:
    faults = fixed_fields_changed(connection, [change.item for change in changed])
    if faults:
        places = [file.places.get(fault.partition(":")[0], "") for fault in faults]
        raise InputErrors(
            file.name,
            [
                Problem(where, fault, "Give the changed goods a new SKU.")
                for where, fault in zip(places, faults, strict=True)
            ],
        )
