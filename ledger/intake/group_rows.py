"""Rows of a group whose style stands in its first row alone: the style is taken from the row above."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from ledger.intake.nearest import quoted
from ledger.intake.table import Cell, Record

_NAMES = ("code", "style")
_TOLD = ("colour", "size", "variant")
_TAKEN = (*_NAMES, "description")


@dataclass
class GroupRows:
    """The last row that named its item, for the rows below which only name their colour or size.

    ``identity`` are the columns a SKU is made of. A total, a repeated heading or any other row ends a
    group: `end` is called for it, and what stands below is not filled.
    """

    identity: tuple[str, ...]
    _above: Record | None = None
    _filled: dict[str, list[str]] = field(default_factory=dict)

    def end(self) -> None:
        """Forget the group."""
        self._above = None

    def filled(self, record: Record) -> Record:
        """Return the row with the item of the row above, where it has a colour or size and no item of its own."""
        missing = [name for name in _NAMES if name in self.identity]
        told = [name for name in _TOLD if name in self.identity and record.text(name)]
        above = self._above
        is_open = bool(missing) and not any(record.text(name) for name in (*_NAMES, *missing))
        if not is_open or not told or above is None or _is_total(record):
            return record
        taken = [name for name in _TAKEN if name in record.cells and not record.text(name)]
        if "colour" in self.identity and not record.text("colour") and record.text("size"):
            taken.append("colour")
        cells = {name: Cell(above.cells[name].value, record.place(name)) for name in taken}
        item = " ".join(above.text(name) for name in missing)
        self._filled.setdefault(item, []).append(record.where)
        return replace(record, cells={**record.cells, **cells})

    def named(self, record: Record) -> None:
        """Keep a row that names an item, its own or the one of the row above."""
        names = [name for name in _NAMES if name in self.identity]
        self._above = record if names and all(record.text(name) for name in names) else None

    def remarks(self) -> list[str]:
        """Return what was taken from rows above, a remark for each item."""
        found = []
        for item, places in self._filled.items():
            more = f" and {len(places) - 1} more" if len(places) > 1 else ""
            found.append(f"{places[0]}{more}: {quoted(item)} is taken from the row above")
        return found


def _is_total(record: Record) -> bool:
    return any("total" in record.text(name).casefold() for name in record)
