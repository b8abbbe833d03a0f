"""What an order's first row says for its other rows: the day, how far the order is, the currency."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ledger.errors import Problem
from ledger.intake.table import Cell, Record


class FirstRows:
    """The first row of each order that says something; ``usual`` is what amounts are in that say nothing."""

    def __init__(self, usual: str) -> None:
        self.usual = usual
        self._dates: dict[str, Cell] = {}
        self._statuses: dict[str, Cell] = {}
        self._currencies: dict[str, Cell] = {}
        self._others: set[str] = set()

    def learn(self, found: Sequence[Record], *, has_status: bool) -> None:
        """Look through the rows; ``has_status`` says that their type is how far the order is."""
        for record in found:
            order = record.text("order")
            if order and record.text("date"):
                self._dates.setdefault(order, record.cells["date"])
            if order and has_status and record.text("type"):
                self._statuses.setdefault(order, record.cells["type"])
            if currency := record.text("currency"):
                self._currencies.setdefault(order, record.cells["currency"])
                if currency.upper() != self.usual:
                    self._others.add(currency)

    def dated(self, record: Record) -> Record:
        """Return a row without a date with that of its order's first row that has one."""
        return _filled(record, "date", self._dates)

    def with_status(self, record: Record) -> Record:
        """Return a row with how far its order is, where that stands on the order's first row alone."""
        return _filled(record, "type", self._statuses)

    def with_currency(self, record: Record) -> Record | Problem:
        """Return a row with its order's currency where its own cell is empty; a problem where none can be known."""
        if "currency" not in record.cells or record.text("currency") or not self._others:
            return record
        if record.text("order") in self._currencies:
            return _filled(record, "currency", self._currencies)
        what = f"the currency is missing, and other rows say one that is not {self.usual}."
        return Problem(record.place("currency"), what, "Fill it in.")


def _filled(record: Record, name: str, firsts: dict[str, Cell]) -> Record:
    cell = firsts.get(record.text("order"))
    if cell is None or record.text(name):
        return record
    return replace(record, cells={**record.cells, name: cell})
