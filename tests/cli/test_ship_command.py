"""`blankbook ship` and `stock --under-way` in this process: what is under way, its charges and its trace."""

from __future__ import annotations

import pytest
from book_builder import Book
from order_shop import PLUM, SAND, SHIPPED, is_whole, ok, order_commands, with_order, with_shipment
from small_shop import Commands


@pytest.fixture
def run(book: Book, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book of a few items, on the 31st of March."""
    return order_commands(book, monkeypatch)


@pytest.fixture
def ordered(run: Commands) -> Commands:
    """The same with an order in yuan, on board at a port."""
    return with_order(run)


@pytest.fixture
def shipped(ordered: Commands) -> Commands:
    """The same, under way."""
    return with_shipment(ordered)


def test_a_shipment_is_under_way_at_the_rate_of_the_day_on_board(shipped: Commands, book: Book) -> None:
    """2,150.00 yuan at 0.1462."""
    rows = ok(shipped("stock", "--under-way", "--json")).data
    assert [(row["sku"], row["quantity"], row["value"], row["shipment"]) for row in rows] == [
        (SAND, "100", "210.53", 2),
        (PLUM, "50", "103.80", 2),
    ]
    assert set(rows[0]) == {
        *("sku", "kind", "unit", "quantity", "value", "currency", "order", "shipment", "party"),
        *("shipped_on", "expected_on", "days_late"),
    }
    assert is_whole(book)


def test_a_shipments_json_says_what_was_posted(ordered: Commands) -> None:
    """With its charges, and nothing of it for a dry run."""
    words = (*SHIPPED, "--charge", "freight 30.00 by quantity", "--json")
    dry = ok(ordered(*words, "--dry-run")).data
    kept = ok(ordered(*words, "--yes")).data
    assert (dry["document"], dry["charge_documents"], dry["total"]) == (None, [], "314.33")
    assert (kept["document"], kept["charge_documents"], kept["total_charges"]) == (2, [3], "30.00")


def test_a_part_is_shipped_by_lines(ordered: Commands) -> None:
    """In any capitals, in units of the item."""
    data = ok(ordered(*SHIPPED, "--line", "tee-sand-m 5 dozen", "--yes", "--json")).data
    assert [(line["sku"], line["quantity"], line["amount_foreign"]) for line in data["lines"]] == [
        (SAND, "60", "864.00")
    ]


def test_a_charge_on_several_shipments_names_each_with_its_month(ordered: Commands) -> None:
    """And on one it says that it is a shipment."""
    ok(ordered(*SHIPPED, "--line", f"{SAND} 60", "--yes"))
    ok(ordered("ship", "1", "--date", "2026-02-10", "--rate", "0.1462", "--yes"))
    words = ("charge", "freight 12.00 by quantity", "--date", "2026-03-02", "--dry-run", "--on", "2")
    assert "The month of the shipment is open" in ok(ordered(*words)).out
    assert (
        "The months of shipment 2 (2026-01), shipment 3 (2026-02) are open"
        in ok(ordered(*words, "--on", "3")).out
    )


def test_a_lot_under_way_is_traced(shipped: Commands) -> None:
    """How much is under way, and what of it came."""
    ok(shipped("receive", "--order", "1", "--line", f"{SAND} 40", "--date", "2026-02-20", "--yes"))
    outcome = ok(shipped("trace", "2.1"))
    assert ("Still under way:" in outcome.out, "receipt 3" in outcome.out) == (True, True)
    data = ok(shipped("trace", "2.1", "--json")).data
    assert [(one["lot"], one["quantity"]) for one in data["under_way"]] == [("2.1", "60")]
    assert "Nothing has left it" not in ok(shipped("trace", "2.2")).out
