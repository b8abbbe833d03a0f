"""A shop that orders abroad: an order in yuan, the same under way, and the commands around them."""

from __future__ import annotations

import pytest
import typer
from book_builder import Book
from small_shop import Commands, Outcome

from ledger.cli import charge, look, order, receive, ship, stock, trace

SAND, PLUM = "TEE-SAND-M", "TEE-PLUM-L"
ORDERED = (
    "order",
    *("--line", f"{SAND} 100 at 14.40", "--line", f"{PLUM} 50 at 14.20"),
    *("--party", "Nine Sparrows", "--currency", "CNY", "--terms", "FOB Port Rellan", "--date", "2026-01-05"),
)
SHIPPED = ("ship", "1", "--date", "2026-01-20", "--on-board", "2026-01-23", "--rate", "0.1462")


def everything(app: typer.Typer) -> None:
    """Put the commands of these tests together."""
    for module in (order, ship, receive, stock, look, charge, trace):
        module.register(app)


def order_commands(book: Book, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book of a few items, on the 31st of March."""
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    return Commands(everything, book.path)


def with_order(run: Commands) -> Commands:
    """The same with an order in yuan, on board at a port."""
    ok(run(*ORDERED, "--yes"))
    return run


def with_shipment(ordered: Commands) -> Commands:
    """The same, under way."""
    ok(ordered(*SHIPPED, "--reference", "NS-118", "--yes"))
    return ordered


def ok(outcome: Outcome) -> Outcome:
    """The outcome of a command that went well."""
    assert outcome.code == 0, (outcome.err, outcome.error)
    return outcome


def is_whole(book: Book) -> bool:
    """Whether nothing is found wrong with the book."""
    return book.prove().findings == ()
