"""Offers and duties in the book, and what the book knows of past purchases."""

from __future__ import annotations

import datetime
import sqlite3
from pathlib import Path

import pytest
from book_builder import Book

from ledger.book.connect import write_tx
from ledger.book.order_offers import tell_offer
from ledger.book.purchases import OrderBehind, OrderTook, days_under, order_of_receipt, orders_took
from ledger.book.quote_store import (
    find_duties,
    find_offers,
    find_quotes,
    offer_history,
    save_duties,
    save_offers,
)
from ledger.sourcing.duty_columns import DutyRow, read_duty_row
from ledger.sourcing.offers import Offer, OfferRow
from ledger.sourcing.quote import OCEAN, Freight
from ledger.sourcing.quote_columns import COLUMNS, OFFER_COLUMNS

NOW = "2026-03-01T10:00:00Z"
FILLED = {
    "unit": "pack",
    "currency": "CNY",
    "discount": "incremental",
    "breaks_by": "style",
    "minimum": "300",
    "minimum_per_colour": "100",
    "multiple": "12",
    "maximum": "6000",
    "prepack": "S = 1; M = 2",
    "terms": "FOB",
    "origin": "CN",
    "customs_class": "6109.10",
    "quoted_on": "2026-03-01",
    "valid_from": "2026-03-02",
    "valid_until": "2026-12-31",
    "mode": "ocean",
    "freight_per_order": "10",
    "freight_per_unit": "0.1",
    "freight_per_kg": "1.5",
    "volumetric": "6000",
    "weight_step": "0.5",
    "freight_per_m3": "180",
    "least_m3": "2",
    "freight_minimum": "60",
    "free_above": "5000",
    "inland": "40",
    "freight_currency": "USD",
    "insurance": "0.5",
    "insured_value": "110",
    "insurance_minimum": "25",
    "duty_base": "FOB",
    "included_freight": "1",
    "brokerage": "140",
    "bond": "80",
    "terminal": "61",
    "delivery": "92.5",
    "bank_fee": "35",
    "assists": "20",
    "assists_per_unit": "0.05",
    "lead_days": "55",
    "lead_spread": "12",
    "deposit": "30",
    "deposit_days": "20",
    "defects": "2",
    "claim_returns": "50",
    "sample": "300",
    "closures": "CN; 2027-01-25 to 2027-02-22",
    "order_cost": "15",
    "note": "by mail",
}
OFFER = Offer(
    "Sparrow Mill",
    "Knit",
    FILLED,
    (
        OfferRow(style="Wren", colours="Black", sizes="S; M", prices="300 = 11.2; 600 = 10.4"),
        OfferRow(sku="X", prices="1 = 2"),
    ),
)


@pytest.fixture
def connection(book: Book) -> sqlite3.Connection:
    """The connection of a book of its own."""
    return book.connection


def saved(connection: sqlite3.Connection, offer: Offer) -> None:
    """Save one offer."""
    with write_tx(connection):
        save_offers(connection, [offer], NOW)


def test_the_table_has_the_columns_of_the_sheet(connection: sqlite3.Connection) -> None:
    """No column of the sheet is lost on the way."""
    columns = [row[1] for row in connection.execute("PRAGMA table_info(quote)")]
    assert columns == ["supplier", "offer", *OFFER_COLUMNS]


def test_every_column_is_filled_in_by_these_tests() -> None:
    """A new column is not forgotten here, and each reads its own kept text again."""
    assert set(FILLED) == set(OFFER_COLUMNS)
    # Below one, a percentage is typed with its sign.
    typed = {**FILLED, "insurance": "0.5%"}
    assert {name: COLUMNS[name].read(text) for name, text in typed.items()} == FILLED


def test_an_offer_comes_back_as_it_went_in(connection: sqlite3.Connection) -> None:
    """Every column, the rows in order, breaks exact."""
    saved(connection, OFFER)
    assert list(find_offers(connection).values()) == [OFFER]


def test_every_column_reaches_the_quote(connection: sqlite3.Connection) -> None:
    """In minor units of the right currency: freight in dollars, the sample in yuan, the broker at home."""
    saved(connection, OFFER)
    (quote,) = find_quotes(connection)
    assert quote.freight == Freight(
        per_order_minor=1000,
        per_unit_minor=10,
        per_kg_minor=150,
        volumetric_cm3_per_kg=6000,
        weight_step_grams=500,
        per_revenue_ton_minor=18_000,
        minimum_revenue_tons=2,
        minimum_minor=6000,
        free_above_minor=500_000,
        inland_minor=4000,
        mode=OCEAN,
        currency="USD",
    )  # type: ignore[arg-type]
    assert (quote.sample_minor, quote.local.brokerage_minor, quote.cost_per_order_minor) == (
        30_000,
        14_000,
        1500,
    )
    assert (quote.lead_time.mean_days, quote.deposit.days_before_shipping) == (55.0, 20)
    assert quote.closures == ("CN", "2027-01-25 to 2027-02-22")
    assert (quote.valid_until, quote.rules.maximum) == (datetime.date(2026, 12, 31), 6000)
    assert [(group.style, group.sku, len(group.breaks)) for group in quote.prices] == [
        ("Wren", "", 2),
        ("", "X", 1),
    ]


def test_fewer_rows_replace_more(connection: sqlite3.Connection) -> None:
    """What an offer no longer has a price for is gone from it, not from its history."""
    saved(connection, OFFER)
    saved(connection, Offer("sparrow mill", "KNIT", {}, (OfferRow(sku="X", prices="1 = 3"),)))
    assert [len(offer.rows) for offer in find_offers(connection).values()] == [1]
    assert [len(state.offer.rows) for state in offer_history(connection)] == [2, 1]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE quote_change SET content = '{}'",
        "DELETE FROM quote_change",
        "INSERT OR REPLACE INTO quote_change VALUES (1, '', 'Sparrow Mill', 'Knit', '{}')",
        "UPDATE duty_change SET content = '{}'",
        "DELETE FROM duty_change",
        "INSERT OR REPLACE INTO duty_change VALUES (1, '', 'general', '', '', '', '{}')",
    ],
)
def test_the_history_never_changes(connection: sqlite3.Connection, statement: str) -> None:
    """In any program that opens the file."""
    saved(connection, OFFER)
    with write_tx(connection):
        save_duties(connection, [DutyRow("general", rate="16.5")], NOW)
    with pytest.raises(sqlite3.IntegrityError, match="history of"):
        connection.execute(statement)


def test_duties_come_back_as_they_went_in(connection: sqlite3.Connection) -> None:
    """An amended rate takes the place of the old one."""
    cells = {
        "program": "general",
        "customs_class": "6109.10",
        "rate": "16.5%",
        "from": "2020-01-01",
        "example": "yes",
    }
    row = read_duty_row(cells).row
    with write_tx(connection):
        save_duties(connection, [row], NOW)
        save_duties(connection, [read_duty_row({**cells, "rate": "17%"}).row], NOW)
    assert [(each.key == row.key, each.rate, each.is_example) for each in find_duties(connection)] == [
        (True, "17", True)
    ]
    assert connection.execute("SELECT count(*) FROM duty_change").fetchone() == (2,)


def put(connection: sqlite3.Connection, number: int, event: str, day: str, follows: int | None) -> None:
    """Write the head of a document."""
    connection.execute(
        "INSERT INTO document (number, event, document_date, effect_date, recorded_at, party, currency, follows) "
        "VALUES (?, ?, ?, ?, ?, 'Sparrow Mill', 'USD', ?)",
        (number, event, day, day, NOW, follows),
    )


def test_lead_times_run_from_the_order_to_the_receipt(connection: sqlite3.Connection) -> None:
    """Also where the goods were shipped in between, until the last of them; a receipt without an order says nothing."""
    with write_tx(connection):
        connection.execute("INSERT INTO party (name) VALUES ('Sparrow Mill')")
        put(connection, 1, "order", "2026-01-01", None)
        put(connection, 2, "ship", "2026-02-01", 1)
        put(connection, 3, "receipt", "2026-02-20", 2)
        put(connection, 4, "receipt", "2026-03-01", 1)
        put(connection, 5, "receipt", "2026-03-05", None)
    assert orders_took(connection, "Sparrow Mill") == [OrderTook(59)]
    behind = [order_of_receipt(connection, number) for number in (3, 5)]
    assert behind == [OrderBehind(1, "2026-01-01"), None]


def test_orders_told_to_be_under_another_offer_say_nothing_of_one(connection: sqlite3.Connection) -> None:
    """By sea it took 58 days, which is not what the offer by air takes; an order without an offer counts for both."""
    with write_tx(connection):
        connection.execute("INSERT INTO party (name) VALUES ('Sparrow Mill')")
        put(connection, 1, "order", "2026-01-01", None)
        put(connection, 2, "receipt", "2026-02-28", 1)
        put(connection, 3, "order", "2026-02-01", None)
        put(connection, 4, "receipt", "2026-03-03", 3)
        tell_offer(connection, 1, "By sea")
    took = orders_took(connection, "Sparrow Mill")
    assert [days_under(took, f"Sparrow Mill, {offer}") for offer in ("by sea", "by air")] == [[58, 30], [30]]


def test_reading_offers_loads_no_slow_library(tmp_path: Path) -> None:
    """Only loading a sheet does."""
    import subprocess  # noqa: PLC0415
    import sys  # noqa: PLC0415

    code = (
        "import sys, ledger.cli.quotes, ledger.cli.duties, ledger.cli.compare_prices; "
        "print([name for name in ('pandas', 'numpy', 'openpyxl', 'sqlite_utils', 'matplotlib') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path
    )
    assert done.stdout.strip() == "[]"
