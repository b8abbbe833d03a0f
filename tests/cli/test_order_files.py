"""Suppliers' files for `blankbook order`, `ship` and `receive --order` in this process: prices, weights, currency."""

from __future__ import annotations

from pathlib import Path

import pytest
from book_builder import Book
from order_shop import ORDERED, PLUM, SAND, is_whole, ok, order_commands, with_order, with_shipment
from small_shop import Commands

from ledger.errors import InputErrors


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


def test_a_packing_list_says_what_arrived(shipped: Commands, book: Book, tmp_path: Path) -> None:
    """Read by a profile; what it says is missing is missing."""
    sheet = tmp_path / "list.csv"
    sheet.write_text(
        "Supplier,Nine Sparrows\nReference,NS-118\nDate,2026-01-20\nCurrency,CNY\n\n"
        "sku,quantity,unit,amount,missing,damaged,treat as,expires on,tax paid,charge,note\n"
        f"{SAND},100,each,,2,,claimed,,,,\n{PLUM},50,each,,,,,,,,\n",
        encoding="utf-8",
    )
    outcome = shipped("receive", str(sheet), "--order", "1", "--date", "2026-02-20", "--yes", "--json")
    assert ok(outcome).data["total_claimed"] == "4.21"
    assert is_whole(book)


def test_an_order_is_read_from_a_file(run: Commands, tmp_path: Path) -> None:
    """The same sheet as a shipment's, its charges left for later."""
    sheet = tmp_path / "quote.csv"
    sheet.write_text(
        "Supplier,Mill Lane\nReference,Q-9\nDate,2026-01-07\nCurrency,USD\n\n"
        "sku,quantity,unit,amount,missing,damaged,treat as,expires on,tax paid,charge,note\n"
        f"{SAND},2,dozen,52.80,,,,,,freight 9.00 by value,\n",
        encoding="utf-8",
    )
    data = ok(run("order", str(sheet), "--terms", "destination", "--yes", "--json")).data
    assert (data["party"], data["reference"], data["date"], data["title_passes"]) == (
        *("Mill Lane", "Q-9", "2026-01-07"),
        "arrival",
    )
    assert (data["lines"][0]["quantity"], data["lines"][0]["amount"]) == ("24", "52.80")
    assert "no part of the order" in data["remarks"][0]


def test_a_shipment_is_read_from_an_invoice_at_its_prices(
    ordered: Commands, book: Book, tmp_path: Path
) -> None:
    """Where they are not the order's, that is said."""
    sheet = tmp_path / "invoice.csv"
    sheet.write_text(
        "Supplier,Nine Sparrows\nReference,NS-119\nDate,2026-01-20\nCurrency,CNY\n\n"
        "sku,quantity,unit,amount,missing,damaged,treat as,expires on,tax paid,charge,note\n"
        f"{SAND},60,each,870.00,,,,,,,\n",
        encoding="utf-8",
    )
    data = ok(ordered("ship", "1", str(sheet), "--rate", "0.1462", "--yes", "--json")).data
    assert (data["reference"], data["shipped_on"], data["total_foreign"]) == (
        "NS-119",
        "2026-01-20",
        "870.00",
    )
    assert "not the order's, for TEE-SAND-M" in " ".join(data["remarks"])
    assert is_whole(book)


@pytest.fixture
def short_list(tmp_path: Path) -> str:
    """A packing list with a weight for each row, and what was missing of it noted in it later."""
    sheet = tmp_path / "list.csv"
    sheet.write_text(
        "Invoice no.,NS-120\nDate,01/20/2026\nCurrency,CNY\n"
        "Style,Colour,Size,Quantity,Price,Amount,Weight kg,Short\n"
        "TEE,SAND,M,40,14.40,576.00,8,30\nTEE,PLUM,L,40,14.20,568.00,8,\n",
        encoding="utf-8",
    )
    return str(sheet)


FREIGHT = ("--rate", "0.1462", "--charge", "freight 10.00 by weight", "--yes")
BY_PROFILE = ("--profile", "one-row-per-size")


def _freight(run: Commands) -> list[str]:
    legs = ok(run("show", "3", "--json")).data["legs"]
    return [leg["amount"] for leg in legs if leg["account"] == "under way"]


def test_what_is_missing_later_is_weighed_when_it_is_shipped(ordered: Commands, short_list: str) -> None:
    """Freight by weight goes by the pieces sent, though the list has some that will be missing."""
    ok(ordered("ship", "1", short_list, *BY_PROFILE, *FREIGHT))
    assert _freight(ordered) == ["5.00", "5.00"]


def test_what_is_ordered_by_a_packing_list_weighs_what_all_its_pieces_do(
    run: Commands, short_list: str
) -> None:
    """An order takes the list's weights for what it orders, and a shipment of it the order's."""
    order_by = ("order", short_list, *BY_PROFILE, "--party", "Nine Sparrows", "--terms", "FOB Port Rellan")
    ok(run(*order_by, "--yes"))
    ok(run("ship", "1", "--date", "2026-01-22", *FREIGHT))
    assert _freight(run) == ["5.00", "5.00"]


@pytest.fixture
def plain_invoice(tmp_path: Path) -> str:
    """An invoice that names no currency, of a layout nobody prepared."""
    sheet = tmp_path / "plain.csv"
    sheet.write_text(
        f"sku,qty,price,amount\n{SAND},100,14.40,1440.00\n{PLUM},50,14.20,710.00\n", encoding="utf-8"
    )
    return str(sheet)


TAKEN = ("--date", "2026-01-20", "--rate", "0.1462", "--accept", "--yes", "--json")


def test_a_file_without_a_currency_is_in_the_orders(ordered: Commands, plain_invoice: str) -> None:
    """Not in the book's, in which the goods would cost seven times as much; so the proposal says."""
    outcome = ok(ordered("ship", "1", plain_invoice, *TAKEN))
    assert (outcome.data["currency"], outcome.data["total"]) == ("CNY", "314.33")
    assert "the file names none: the order's is proposed" in outcome.err


def test_a_saved_layout_of_another_currency_is_read_in_the_orders(run: Commands, plain_invoice: str) -> None:
    """What earlier files were in says nothing of this one."""
    first = ("order", plain_invoice, "--party", "Nine Sparrows", "--terms", "FCA Rellan", "--currency", "USD")
    ok(run(*first, "--accept", "--yes"))
    ok(run(*ORDERED, "--yes"))
    data = ok(
        run("ship", "2", plain_invoice, "--date", "2026-01-20", "--rate", "0.1462", "--yes", "--json")
    ).data
    assert (data["currency"], data["total"]) == ("CNY", "314.33")


def test_an_arrival_by_a_file_is_in_the_currency_it_was_shipped_in(
    run: Commands, book: Book, plain_invoice: str
) -> None:
    """Goods that are bought on arrival cost what the file says, in yuan."""
    ok(run(*ORDERED[:-4], "--terms", "DAP Springfield", "--date", "2026-01-05", "--yes"))
    ok(run("ship", "1", "--date", "2026-01-20", "--yes"))
    words = ("receive", plain_invoice, "--order", "1", "--date", "2026-02-20", "--rate", "0.1462", "--accept")
    assert ok(run(*words, "--yes", "--json")).data["total_landed"] == "314.33"
    assert is_whole(book)


def test_an_arrival_by_a_file_in_another_currency_is_refused(run: Commands, tmp_path: Path) -> None:
    """Its prices are those of what is bought on arrival."""
    ok(run(*ORDERED[:-4], "--terms", "DAP Springfield", "--date", "2026-01-05", "--yes"))
    ok(run("ship", "1", "--date", "2026-01-20", "--yes"))
    sheet = tmp_path / "euro.csv"
    sheet.write_text(f"sku,qty,price EUR,amount EUR\n{SAND},100,2.00,200.00\n", encoding="utf-8")
    outcome = run("receive", str(sheet), "--order", "1", "--rate", "0.1462", "--accept", "--yes")
    assert isinstance(outcome.error, InputErrors)
    assert "its prices are in EUR, and what was shipped is in CNY" in str(outcome.error)
