"""`blankbook receive --order` in this process: what arrived, what is missing or lost, what came beyond."""

from __future__ import annotations

import pytest
from book_builder import Book
from order_shop import ORDERED, PLUM, SAND, SHIPPED, is_whole, ok, order_commands, with_order, with_shipment
from small_shop import Commands

from ledger.errors import Refused


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


def test_an_arrival_with_two_missing_pieces(shipped: Commands, book: Book) -> None:
    """98 come in, two are credited at the invoice's price, and the order is complete."""
    outcome = ok(
        shipped(
            "receive",
            "--order",
            "1",
            "--missing-line",
            f"{SAND} 2 claimed",
            "--date",
            "2026-02-20",
            "--yes",
            "--json",
        )
    )
    data = outcome.data
    assert (data["document"], data["documents"], data["shipments"]) == (3, [3], [2])
    assert (data["total_claimed"], data["total_landed"]) == ("4.21", "310.12")
    assert [(lot["lot"], lot["quantity_on_hand"], lot["landed_cost"]) for lot in data["lots"]] == [
        ("3.1", "98", "206.32"),
        ("3.2", "50", "103.80"),
    ]
    assert "Order 1 is complete" in outcome.err
    assert is_whole(book)


def test_an_arrival_is_shown_before_it_is_posted(shipped: Commands) -> None:
    """With what is missing, and that nothing was posted."""
    outcome = ok(
        shipped(
            "receive",
            "--order",
            "1",
            "--line",
            f"{SAND} 40",
            "--damaged-line",
            f"{SAND} 1 expense",
            "--date",
            "2026-02-20",
            "--dry-run",
        )
    )
    assert "1 lost: an expense at once" in outcome.out
    assert "this was a dry run" in outcome.err
    assert ok(shipped("order", "1", "--json")).data["state"] == "open"


def test_more_than_shipped_and_something_else_arrive(shipped: Commands, book: Book) -> None:
    """Both are purchases of their own."""
    words = ("receive", "--order", "1", "--line", f"{SAND} 103", "--line", f"{PLUM} 50", "--rate", "0.15")
    data = ok(
        shipped(*words, "--extra", "FILM-A3 10 for 20.00", "--date", "2026-02-20", "--yes", "--json")
    ).data
    assert [(line["sku"], line["quantity"]) for line in data["lines"] if line["is_extra"]] == [
        (SAND, "3"),
        ("FILM-A3", "10"),
    ]
    assert "at the order's price" in data["remarks"][0]
    assert is_whole(book)


def test_what_came_beyond_is_shown_with_the_order(shipped: Commands) -> None:
    """With its receipt."""
    words = ("receive", "--order", "1", "--extra", f"{SAND} 3", "--rate", "0.15", "--date", "2026-02-20")
    ok(shipped(*words, "--yes"))
    assert "Came beyond what was shipped" in ok(shipped("order", "1")).out
    (one,) = ok(shipped("order", "1", "--json")).data["beyond"]
    assert (one["receipt"], one["quantity"], one["amount"], one["currency"]) == (3, "3", "43.20", "CNY")


def test_a_lost_shipment_is_claimed(shipped: Commands, book: Book) -> None:
    """Nothing arrives, all of it is credited."""
    data = ok(shipped("receive", "--order", "1", "--lost", "claimed", "--yes", "--json")).data
    assert (data["lots"], data["total_claimed"]) == ([], "314.33")
    assert is_whole(book)


def test_what_is_lost_and_claimed_is_said_in_words(ordered: Commands, book: Book) -> None:
    """What was under way, what is credited, and where its charges go; no cost below zero."""
    ok(ordered(*SHIPPED, "--charge", "freight 30.00 by quantity", "--yes"))
    out = ok(ordered("receive", "--order", "1", "--lost", "claimed", "--yes")).out
    assert "nothing comes in" in out
    assert "-" not in out.split("total")[1].split("\n")[0]
    assert (
        "100 claimed: they were under way at 230.53 USD; a credit of 210.53 USD is expected; the rest, 20.00"
        in out
    )
    assert "supplier price differences" in out
    assert is_whole(book)


def test_charges_of_claimed_pieces_stay_with_the_others(ordered: Commands) -> None:
    """And that is said."""
    ok(ordered(*SHIPPED, "--charge", "freight 30.00 by quantity", "--yes"))
    out = ok(ordered("receive", "--order", "1", "--missing-line", f"{SAND} 2 claimed", "--dry-run")).out
    assert "what charges they had borne stays with the other 98" in out


def test_a_credit_above_the_cost_is_the_options_fault(shipped: Commands) -> None:
    """It names the option, and what the pieces cost."""
    words = ("receive", "--order", "1", "--missing-line", f"{SAND} 2 claimed", "--credit", "9000", "--yes")
    assert "--credit: 9,000.00 CNY makes 1,315.80 USD" in str(shipped(*words).error)


def test_goods_that_never_were_the_shops_are_not_lost_here(run: Commands, book: Book) -> None:
    """The supplier bore the risk; a rate or tax on the shipment has no effect and is refused too."""
    ok(run(*ORDERED[:-4], "--terms", "FOB destination", "--date", "2026-01-05", "--yes"))
    assert "--rate" in str(run("ship", "1", "--rate", "0.14", "--yes").error)
    ok(run("ship", "1", "--date", "2026-01-20", "--yes"))
    for lost in (("--lost", "claimed"), ("--lost", "expense"), ("--line", f"{SAND} 1", "--lost", "claimed")):
        assert run("receive", "--order", "1", *lost, "--yes").error is not None
    outcome = run("receive", "--order", "1", "--lost", "expense", "--yes")
    assert isinstance(outcome.error, Refused)
    assert "the supplier bears the risk" in str(outcome.error)
    assert book.rows("SELECT count(*) FROM document") == [(2,)]


def test_both_at_once(ordered: Commands, book: Book) -> None:
    """Shipped and received with one command."""
    words = (
        "receive",
        "--order",
        "1",
        "--shipped-on",
        "2026-01-20",
        "--rate",
        "0.1462",
        "--date",
        "2026-02-20",
    )
    data = ok(ordered(*words, "--yes", "--json")).data
    assert (data["ship_document"], data["document"]) == (2, 3)
    assert is_whole(book)


def test_a_receipt_of_a_supplier_whose_order_waits_has_a_hint(ordered: Commands) -> None:
    """It may be the arrival; another supplier's has none."""
    words = ("receive", "--sku", SAND, "--quantity", "3", "--amount", "9", "--dry-run", "--party")
    assert "blankbook receive --order 1" in ok(ordered(*words, "nine sparrows")).err
    assert "--order" not in ok(ordered(*words, "Mill Lane")).err
