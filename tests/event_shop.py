"""A small shop for tests of events: rows of an events sheet posted into a book as `post` does it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from book_builder import NOW, TODAY, Book, day

from ledger.book.bill_store import save_bills
from ledger.book.catalogue_store import save_items
from ledger.book.connect import write_tx
from ledger.book.entries import Entries
from ledger.book.posting import Posted, post_entries
from ledger.catalogue.boms import Bill, BillLine
from ledger.catalogue.items import Item
from ledger.costing.facts import Leg
from ledger.errors import InputErrors
from ledger.intake.events import EventRow
from ledger.intake.events_file import read_events
from ledger.intake.read_file import read_file
from ledger.intake.resolve_events import EventOptions, resolve_events

HEADINGS = "date,event,sku,quantity,amount,unit,kind,party,reference,applies_to,lot,shipping,fees,note"

MORE_ITEMS = (
    Item("TEE-SAND-S", "Alder tee, sand, S", "blank", "goods", "each", "Alder", "Sand", "S", "adult"),
    Item("HOOD-SAND-M", "Cedar hoodie, sand, M", "blank", "goods", "each", "Cedar", "Sand", "M", "adult"),
)

FOX = Bill(
    code="FOX",
    name="A fox at dusk",
    way="direct to film",
    blank="Alder",
    finished="FOX-{colour}-{size}",
    lines=(BillLine("FILM-A3", per_piece=Fraction(1)), BillLine("INK-CYAN", per_run=Fraction(5))),
)
"""One sheet of film a piece, and five millilitres of ink a run."""

FOX_M = "FOX-SAND-M"


@dataclass
class EventShop:
    """A book with a bill of materials, and short words to post rows of an events sheet into it."""

    book: Book

    def rows(self, *rows: str) -> tuple[EventRow, ...]:
        """Read rows written as `HEADINGS` has them, the date as '01-05'; trailing commas may be left out."""
        path = Path(self.book.path).parent / "events.csv"
        width = HEADINGS.count(",")
        full = [f"2026-{row}{',' * (width - row.count(','))}" for row in rows]
        path.write_text("\n".join([HEADINGS, *full, ""]), encoding="utf-8")
        return read_events(read_file(path), book_currency="USD")

    def entries(self, rows: Iterable[EventRow], *, short: bool = False) -> Entries:
        """Resolve rows against the book."""
        return resolve_events(self.book.connection, tuple(rows), EventOptions(short, "events.csv"))

    def post(self, *rows: str, short: bool = False, keep: bool = True) -> Posted:
        """Post rows; all of them or nothing."""
        entries = self.entries(self.rows(*rows), short=short)
        return post_entries(
            self.book.connection, entries, today=TODAY, now=NOW, source="events.csv", keep=keep
        )

    def refused(self, *rows: str, short: bool = False) -> list[str]:
        """Post rows that must be refused; return what is said of each, and see that nothing is posted."""
        before = self.facts()
        try:
            self.post(*rows, short=short)
        except InputErrors as errors:
            assert self.facts() == before
            return [str(problem) for problem in errors.problems]
        raise AssertionError("the rows were posted")

    def facts(self) -> list[tuple[object, ...]]:
        """Everything that is stated in the book."""
        return [
            row
            for table in ("document", "document_line", "item", "party")
            for row in self.book.rows(f"SELECT * FROM {table}")  # noqa: S608
        ]

    def costs(self, event: str) -> list[int]:
        """What each document of an event took off the shelf, in minor units, in order of entry."""
        return [
            int(str(amount))
            for (amount,) in self.book.rows(
                "SELECT (SELECT coalesce(-sum(amount), 0) FROM leg WHERE document = d.number AND account = 'on hand') "
                "FROM document AS d WHERE event = ? ORDER BY number",
                event,
            )
        ]

    def stock(self, sku: str) -> tuple[int, int]:
        """What is there of an item, in thousandths and minor units."""
        rows = self.book.rows("SELECT quantity_milli, amount FROM balance WHERE sku = ?", sku)
        quantity, amount = rows[0] if rows else (0, 0)
        return int(str(quantity)), int(str(amount))

    def legs_of(self, number: int) -> list[Leg]:
        """The legs of a document."""
        return [leg for leg in self.book.legs() if leg.document == number]

    def is_whole(self) -> bool:
        """Whether every check finds the book whole."""
        proof = self.book.prove()
        assert proof.findings == ()
        return proof.is_whole


def event_shop(book: Book) -> EventShop:
    """Return a shop around an open book, with a few more items and a bill of materials."""
    with write_tx(book.connection):
        save_items(book.connection, MORE_ITEMS, [])
        save_bills(book.connection, [FOX])
    return EventShop(book)


__all__ = ["FOX", "FOX_M", "HEADINGS", "EventShop", "day", "event_shop"]
