"""`blankbook post --profile`: sales exports, overlaps, refunds, and what is no goods, in this process."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from small_shop import Commands, Outcome, new_book

from ledger.book.connect import open_reading
from ledger.cli import items, post, undo
from ledger.errors import InputErrors, Refused

ITEMS = (
    "sku,name,kind,unit,style,sizes,colours,ladder\n"
    ",Fox tee,finished,each,Fox,S-L,Black=BLK; White=WHT,adult\n"
    ",Owl tee,finished,each,Owl,S-L,Black=BLK,adult\n"
)
OPENING = "date,event,sku,quantity,amount\n2026-01-01,opening,FOX-BLK-M,9000,36000\n2026-01-01,opening,OWL-BLK-M,50,200\n"
PROFILE = """
kind = "sales"
party = "Harbour Fair"
[columns]
date = "Day"
order = "Order"
line = "No"
title = "Product"
variant = "Choice"
pieces = "Pieces"
item_total = "Net"
shipping = "Postage"
fees = "Kept"
refunded = "Given back"
refunded_on = "Given back on"
returned = "Came back"
[[sku.patterns]]
text = "{style} tee | {colour}, {size}"
sku = "{style}-{colour}-{size}"
[sku.style]
Fox = "FOX"
Owl = "OWL"
[sku.colour]
Black = "BLK"
[set_aside]
words = ["shipping label", "subscription"]
"""
HEADINGS = "Day;Order;No;Product;Choice;Pieces;Net;Postage;Kept;Given back;Given back on;Came back"

FOX_SALE = "2026-03-03;1001;1;Fox tee;Black, M;2;39.00;4.95;2.10;;;"
OWL_SALE = "2026-03-04;1002;1;Owl tee;Black, M;1;19.50;;1.00;;;"
LATER = "2026-03-09;1003;1;Fox tee;Black, M;1;19.50;;1.05;;;"
LABEL = "2026-03-03;;;Shipping label;;;4.10;;;;;"
REFUNDED = "2026-03-03;1001;1;Fox tee;Black, M;2;39.00;4.95;2.10;10.00;2026-03-12;0"
RETURNED = "2026-03-04;1002;1;Owl tee;Black, M;1;19.50;;1.00;19.50;2026-03-11;1"


@dataclass(frozen=True)
class Shop:
    """A book with shirts in stock, a profile, and the commands that matter here."""

    book: Path

    def post(self, *rows: str, more: Sequence[str] = ("--yes",)) -> Outcome:
        """Post an export of these rows."""
        Path("sales.csv").write_text("\n".join([HEADINGS, *rows, ""]), "utf-8")
        return Commands(post.register, self.book)("post", "sales.csv", "--profile", "fair.toml", *more)

    def undo(self, number: int) -> None:
        """Undo one document."""
        assert Commands(undo.register, self.book)("undo", str(number), "--why", "a test", "--yes").code == 0

    def rows(self, statement: str) -> list[Any]:
        """Return what the book answers to a query."""
        connection = open_reading(self.book)
        try:
            return connection.execute(statement).fetchall()
        finally:
            connection.close()

    def documents(self) -> list[tuple[Any, ...]]:
        """Return event, reference, total and date of what was posted after the opening stock."""
        return self.rows(
            "SELECT event, reference, total, effect_date FROM document WHERE event <> 'opening' ORDER BY number"
        )

    def on_hand(self, sku: str) -> int:
        """Return how many pieces of an item the book has."""
        return int(self.rows(f"SELECT quantity_milli / 1000 FROM balance WHERE sku = '{sku}'")[0][0])  # noqa: S608


@pytest.fixture(scope="module")
def stocked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with opening stock, made once."""
    folder = tmp_path_factory.mktemp("stocked")
    book = new_book(folder / "shop.blankbook")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BLANKBOOK_TODAY", "2026-03-31")
        for register, words, text in (
            (items.register, ("items", "load"), ITEMS),
            (post.register, ("post",), OPENING),
        ):
            path = folder / f"{words[0]}.csv"
            path.write_text(text, "utf-8")
            assert Commands(register, book)(*words, str(path), "--yes").code == 0
    return book


@pytest.fixture
def shop(stocked: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shop:
    """A copy of the stocked book in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    book = tmp_path / "shop.blankbook"
    book.write_bytes(stocked.read_bytes())
    Path("fair.toml").write_text(PROFILE, "utf-8")
    return Shop(book)


def test_sales_are_posted_with_shipping_and_fees(shop: Shop) -> None:
    """Each row is a sale of its order; money and pieces are in the book."""
    assert shop.post(FOX_SALE, OWL_SALE).code == 0
    assert shop.documents() == [("sale", "1001", 3900, "2026-03-03"), ("sale", "1002", 1950, "2026-03-04")]
    assert shop.rows("SELECT shipping, fees FROM document_line WHERE fees IS NOT NULL") == [
        (495, 210),
        (None, 100),
    ]
    assert (shop.on_hand("FOX-BLK-M"), shop.on_hand("OWL-BLK-M")) == (8998, 49)


def test_money_paid_back_leaves_the_goods_with_the_customer(shop: Shop) -> None:
    """A refund without goods is a document of its own day, and moves no stock."""
    assert shop.post(REFUNDED).code == 0
    assert shop.documents()[1] == ("refund", "1001", 1000, "2026-03-12")
    assert shop.on_hand("FOX-BLK-M") == 8998


def test_goods_that_came_back_are_in_stock_again(shop: Shop) -> None:
    """A refund with goods is a return of its sale."""
    assert shop.post(RETURNED).code == 0
    assert shop.documents()[1] == ("take back", "1002", 1950, "2026-03-11")
    assert shop.on_hand("OWL-BLK-M") == 50


def test_the_same_export_twice_changes_nothing(shop: Shop) -> None:
    """Every row is known: nothing is posted, and it is said."""
    shop.post(FOX_SALE, OWL_SALE, REFUNDED.replace("1001", "1009"))
    before = shop.documents()
    again = shop.post(FOX_SALE, OWL_SALE, REFUNDED.replace("1001", "1009"))
    assert again.code == 0
    assert shop.documents() == before
    assert "3 of 3 rows are in the book already and were skipped." in again.err
    assert "Nothing to post." in again.err


def test_an_export_may_overlap_an_earlier_one(shop: Shop) -> None:
    """Known rows are skipped and counted, the new one is posted."""
    shop.post(FOX_SALE, OWL_SALE)
    told = shop.post(OWL_SALE, LATER, FOX_SALE)
    assert "2 of 3 rows are in the book already and were skipped." in told.err
    assert [row[1] for row in shop.documents()] == ["1001", "1002", "1003"]


def test_what_was_paid_back_since_is_posted_alone(shop: Shop) -> None:
    """The sale came with an earlier export; its row now has a refund, which is new."""
    shop.post(FOX_SALE)
    told = shop.post(REFUNDED)
    assert [row[0] for row in shop.documents()] == ["sale", "refund"]
    assert (
        "Of 1 row the sale is in the book already; what was paid back or came back since is new." in told.err
    )


def test_a_row_that_changed_is_refused_naming_both(shop: Shop) -> None:
    """The order and line are known with other pieces: the document and the row are told."""
    shop.post(FOX_SALE)
    told = shop.post(FOX_SALE.replace(";2;39.00;", ";3;58.50;"), LATER).error
    assert isinstance(told, InputErrors)
    assert str(told.problems[0]) == (
        "row 2: order 1001 is in the book as sale 3 (2026-03-03, 2 of FOX-BLK-M, 39.00 USD, shipping 4.95, "
        "fees 2.10), and here as: 2026-03-03, 3 of FOX-BLK-M, 58.5 USD, shipping 4.95, fees 2.1. If the file "
        'is right: blankbook undo 3 --why "…", then post the file again. Else leave the row out.'
    )
    assert len(shop.documents()) == 1


def test_rows_whose_documents_were_undone_come_again(shop: Shop) -> None:
    """An undone sale does not count as posted, and what replaces it may differ."""
    shop.post(FOX_SALE)
    shop.undo(3)
    assert shop.post(FOX_SALE.replace(";2;39.00;", ";3;58.50;")).code == 0
    assert [row[2] for row in shop.documents() if row[0] == "sale"] == [3900, 5850]
    assert shop.on_hand("FOX-BLK-M") == 8997


def test_the_book_itself_refuses_a_row_twice(shop: Shop) -> None:
    """Also another program cannot write a second document of the same row."""
    shop.post(FOX_SALE)
    connection = sqlite3.connect(shop.book)
    try:
        with pytest.raises(sqlite3.IntegrityError, match="sales export"):
            connection.execute(
                "INSERT INTO document (number, event, document_date, effect_date, recorded_at, currency, source_key) "
                "SELECT 99, event, document_date, effect_date, recorded_at, currency, source_key "
                "FROM document WHERE number = 3"
            )
    finally:
        connection.close()


def test_one_order_number_of_two_channels_is_two_orders(shop: Shop) -> None:
    """Order 1001 of another marketplace is another order."""
    shop.post(FOX_SALE)
    assert shop.post(FOX_SALE, more=("--yes", "--party", "Own shop")).code == 0
    assert len(shop.documents()) == 2


def test_rows_that_are_no_goods_are_listed(shop: Shop) -> None:
    """A shipping label is set aside by its rule, shown, and not posted."""
    told = shop.post(FOX_SALE, LABEL)
    assert "Set aside as no goods, 1 row:\n  1 by 'shipping label': row 3: Shipping label" in told.out
    assert len(shop.documents()) == 1


def test_the_preview_adds_up_by_design(shop: Shop) -> None:
    """Pieces, items, shipping, fees and what was paid back stand by design and foot."""
    told = shop.post(FOX_SALE, RETURNED, LATER, more=("--dry-run",))
    lines = [line.split() for line in told.out.splitlines()]
    assert ["Fox", "tee", "3", "58.50", "4.95", "3.15", "0.00", "0", "60.30"] in lines
    assert ["Owl", "tee", "1", "19.50", "0.00", "1.00", "19.50", "1", "-1.00"] in lines
    assert ["total", "4", "78.00", "4.95", "4.15", "19.50", "1", "59.30"] in lines
    assert shop.documents() == []


def test_a_script_gets_what_was_posted_skipped_and_set_aside(shop: Shop) -> None:
    """--json has the documents as for events, and beside them the export's figures."""
    shop.post(FOX_SALE)
    data = shop.post(FOX_SALE, LATER, LABEL, more=("--yes", "--json")).data
    sales = data["sales"]
    assert [document["reference"] for document in data["documents"]] == ["1003"]
    assert (sales["rows_read"], sales["rows_skipped"], sales["party"]) == (2, 1, "Harbour Fair")
    assert sales["set_aside"] == [{"where": "row 4", "text": "Shipping label", "rule": "shipping label"}]
    assert sales["totals"][0] == {
        "design": "total",
        "currency": "USD",
        "pieces": "1",
        "items": "19.50",
        "shipping": "0.00",
        "fees": "1.05",
        "paid_back": "0.00",
        "pieces_back": "0",
        "in_all": "18.45",
    }


def test_a_script_gets_an_empty_posting_where_all_is_known(shop: Shop) -> None:
    """The second time the document list is empty, and the exit code is 0."""
    shop.post(FOX_SALE)
    again = shop.post(FOX_SALE, more=("--yes", "--json"))
    assert (again.code, again.data["documents"], again.data["sales"]["rows_skipped"]) == (0, [], 1)


def test_a_bad_row_posts_nothing(shop: Shop) -> None:
    """The export is judged as a whole."""
    told = shop.post(FOX_SALE, OWL_SALE.replace("Owl", "Hare")).error
    assert isinstance(told, InputErrors)
    assert "row 3, column Product: 'Hare tee | Black, M': the style 'Hare' has no code." in str(told)
    assert shop.documents() == []


def test_without_an_answer_nothing_is_posted(shop: Shop) -> None:
    """Nobody can be asked and --yes is missing."""
    assert isinstance(shop.post(FOX_SALE, more=()).error, Refused)
    assert shop.documents() == []


def test_a_profile_saved_beside_the_book_is_found(shop: Shop) -> None:
    """The channel's name is enough once its profile is in the book's folder of profiles."""
    folder = Path("shop.profiles")
    folder.mkdir()
    Path("fair.toml").rename(folder / "harbour-fair.toml")
    Path("sales.csv").write_text(f"{HEADINGS}\n{FOX_SALE}\n", "utf-8")
    assert (
        Commands(post.register, shop.book)("post", "sales.csv", "--profile", "Harbour Fair", "--yes").code
        == 0
    )


def test_a_party_without_a_profile_gets_a_proposal(shop: Shop) -> None:
    """How the export would be read is shown; nothing is posted before somebody takes it."""
    Path("sales.csv").write_text(f"{HEADINGS}\n{FOX_SALE}\n", "utf-8")
    outcome = Commands(post.register, shop.book)("post", "sales.csv", "--party", "Harbour Fair")
    assert "How sales.csv would be read" in outcome.out
    assert isinstance(outcome.error, Refused)


def test_five_thousand_rows_are_posted_and_known_again(shop: Shop) -> None:
    """A year of sales goes in at once, and an export of all of it and one more adds the one."""
    rows = [
        f"2026-03-{1 + order % 28:02};{order};1;Fox tee;Black, M;1;19.50;;1.05;;;"
        for order in range(10_000, 15_000)
    ]
    assert shop.post(*rows).code == 0
    assert shop.on_hand("FOX-BLK-M") == 4000
    told = shop.post(*rows, LATER)
    assert "5,000 of 5,001 rows are in the book already and were skipped." in told.err
    assert shop.on_hand("FOX-BLK-M") == 3999
