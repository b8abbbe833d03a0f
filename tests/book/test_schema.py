"""The schema's guards: what was posted, what is closed and what was used stays, whoever asks."""

from __future__ import annotations

import re
import sqlite3
from dataclasses import replace
from importlib import resources

import pytest
from book_builder import ITEMS, Book, charge, leaving, line

from ledger.book.catalogue_store import save_items
from ledger.book.connect import write_tx
from ledger.book.documents import insert_documents
from ledger.book.schema import SCRIPTS, guards
from ledger.errors import Refused


@pytest.fixture
def full(book: Book) -> Book:
    """A book with January closed and February open: receipt 1, charge 2, sale 3, undo 5, close 6, receipt 7."""
    receipt = book.receive(line("TEE-SAND-M"), line("FILM-A3"), on="01-05", charges=(charge(100),))
    book.leave("sale", ("TEE-SAND-M", 2), on="01-10")
    mistake = book.leave("sale", ("TEE-SAND-M", 1), on="01-11")
    book.undo(mistake)
    book.close("2026-01")
    book.receive(line("TEE-SAND-M"), on="02-05", charges=(charge(50),))
    book.connection.execute("INSERT INTO policy (name, value, recorded_at) VALUES ('freight', '39', 'then')")
    assert (receipt, mistake) == (1, 4)
    return book


def refused(book: Book, statement: str, words: str) -> None:
    """Check that a guard refuses a statement, also where recursive triggers are off."""
    for recursive in ("ON", "OFF"):
        book.connection.execute(f"PRAGMA recursive_triggers = {recursive}")
        before = "\n".join(book.connection.iterdump())
        with pytest.raises(sqlite3.IntegrityError, match=words):
            book.connection.execute(statement)
        assert "\n".join(book.connection.iterdump()) == before


POSTED = "a posted (document|line|charge) (never changes|is never (deleted|replaced))"


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE document SET note = 'x' WHERE number = 7",
        "DELETE FROM document WHERE number = 7",
        "INSERT OR REPLACE INTO document SELECT * FROM document WHERE number = 7",
        (
            "REPLACE INTO document (number, event, document_date, effect_date, recorded_at, currency) "
            "VALUES (7, 'receipt', '2026-02-06', '2026-02-06', 'now', 'USD')"
        ),
        "UPDATE document_line SET quantity_milli = 1 WHERE document = 7",
        "DELETE FROM document_line WHERE document = 7",
        "INSERT OR REPLACE INTO document_line SELECT * FROM document_line WHERE document = 7",
        "UPDATE charge_share SET amount = 1 WHERE document = 8",
        "DELETE FROM charge_share WHERE document = 8",
        "INSERT OR REPLACE INTO charge_share SELECT * FROM charge_share WHERE document = 8",
    ],
)
def test_what_was_posted_never_changes(full: Book, statement: str) -> None:
    """Facts of an open month refuse every way to change, delete or replace them."""
    refused(full, statement, POSTED)


def test_an_undo_is_not_replaced_by_another(full: Book) -> None:
    """A second undo of a document would push the first out through its unique index."""
    undo_again = (
        "INSERT OR REPLACE INTO document (number, event, document_date, effect_date, recorded_at, currency, "
        "path, undoes) VALUES (90, 'undo', '2026-02-06', '2026-02-06', 'now', 'USD', 'dropped', 4)"
    )
    refused(full, undo_again, "never replaced")


def test_a_share_is_not_replaced_through_its_position(full: Book) -> None:
    """A share of another receipt line in the same position would push the first one out."""
    intruder = (
        "INSERT OR REPLACE INTO charge_share SELECT document, line, 1, 2, position, weight, amount, path, "
        "effect_date FROM charge_share WHERE document = 8"
    )
    refused(full, intruder, "never replaced")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE month_event SET fingerprint = 'x'",
        "DELETE FROM month_event",
        "INSERT OR REPLACE INTO month_event SELECT * FROM month_event",
    ],
)
def test_a_close_never_changes(full: Book, statement: str) -> None:
    """A close is followed by a reopen, never amended."""
    refused(full, statement, "a close (never changes|is never (deleted|replaced))")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE policy SET value = '36'",
        "DELETE FROM policy",
        "INSERT OR REPLACE INTO policy SELECT * FROM policy",
    ],
)
def test_a_recorded_policy_never_changes(full: Book, statement: str) -> None:
    """A policy is followed by another one, never amended."""
    refused(full, statement, "a recorded policy")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE boundary SET closed_through = '2026-02-28'",
        "UPDATE boundary SET closed_through = '0000-00-00'",
        "DELETE FROM boundary",
        "INSERT OR REPLACE INTO boundary VALUES (1, '0000-00-00')",
    ],
)
def test_months_close_only_by_their_documents(full: Book, statement: str) -> None:
    """The boundary follows the closes and nothing else."""
    refused(full, statement, "only by their documents")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE leg SET amount = 0 WHERE document = 3 AND part = 1",
        "UPDATE leg SET effect_date = '2026-02-01' WHERE document = 3",
        "UPDATE leg SET effect_date = '2026-01-31' WHERE document = 7",
        "DELETE FROM leg WHERE document = 3",
        "INSERT INTO leg VALUES (3, 9, 1, '2026-01-10', 'on hand', 'TEE-SAND-M', 1, 1, 0, 5)",
        "INSERT OR REPLACE INTO leg SELECT * FROM leg WHERE document = 3",
        (
            "INSERT OR REPLACE INTO leg SELECT document, line, part, '2026-02-01', account, sku, lot_document, "
            "lot_line, quantity_milli, amount FROM leg WHERE document = 3"
        ),
    ],
)
def test_legs_of_a_closed_month_stay(full: Book, statement: str) -> None:
    """They are not changed, deleted, added to, replaced, or moved to an open month."""
    refused(full, statement, "a closed month does not change")


@pytest.mark.parametrize("table", ["month_balance", "month_total"])
@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE {} SET amount = 0 WHERE month = '2026-01'",
        "UPDATE {} SET month = '2025-12' WHERE month = '2026-02'",
        "UPDATE {} SET month = '2026-03' WHERE month = '2026-01'",
        "DELETE FROM {} WHERE month = '2026-01'",
        "INSERT OR REPLACE INTO {} SELECT * FROM {} WHERE month = '2026-01'",
    ],
)
def test_figures_of_a_closed_month_stay(full: Book, table: str, statement: str) -> None:
    """Balances and totals of a closed month are as frozen as its legs."""
    refused(full, statement.replace("{}", table), "a closed month does not change")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE closed_layer SET used = 0",
        "DELETE FROM closed_layer",
        "INSERT OR REPLACE INTO closed_layer SELECT * FROM closed_layer",
    ],
)
def test_layers_of_a_close_stay(full: Book, statement: str) -> None:
    """Where replaying starts is not moved."""
    refused(full, statement, "a closed month does not change")


def test_nothing_is_posted_into_a_closed_month(full: Book) -> None:
    """A document dated there is refused, whatever it is."""
    late = leaving(90, "sale", [("TEE-SAND-M", 1)], "2026-01-20")
    with pytest.raises(sqlite3.IntegrityError, match="the month of this date is closed"):
        insert_documents(full.connection, [late])


def test_no_line_is_added_to_a_closed_document(full: Book) -> None:
    """A document of a closed month takes no further line."""
    added = "INSERT INTO document_line (document, line, sku, quantity_milli) VALUES (3, 9, 'TEE-SAND-M', 1)"
    refused(full, added, "the month of this document is closed")


def test_no_charge_takes_effect_in_a_closed_month(full: Book) -> None:
    """A share may not be slipped under an open bill."""
    added = "INSERT INTO charge_share VALUES (8, 1, 1, 1, 9, 1, 5, 'with receipt', '2026-01-05')"
    refused(full, added, "the month of this charge is closed")


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("kind", "'paper'"),
        ("tax_class", "'supplies when used'"),
        ("base_unit", "'sheet'"),
        ("sku", "'TEE-SAND-XS'"),
    ],
)
def test_a_used_item_keeps_what_costing_rests_on(full: Book, column: str, value: str) -> None:
    """Kind, tax class, base unit and SKU are fixed once the item stands in a document."""
    full.connection.execute("INSERT INTO kind (name) VALUES ('paper')")
    refused(full, f"UPDATE item SET {column} = {value} WHERE sku = 'TEE-SAND-M'", "are fixed once")  # noqa: S608


def test_a_used_item_is_not_replaced_by_another(full: Book) -> None:
    """Replacing the row would be a way around."""
    statement = (
        "INSERT OR REPLACE INTO item (sku, name, kind, tax_class, base_unit) "
        "VALUES ('TEE-SAND-M', 'Tee', 'blank', 'supplies when used', 'each')"
    )
    refused(full, statement, "are fixed once")


def test_a_used_item_may_change_its_name(full: Book) -> None:
    """What no cost rests on can be amended at any time."""
    with write_tx(full.connection):
        save_items(full.connection, [replace(ITEMS[0], name="Alder tee, warm sand, M")], [])
    assert full.rows("SELECT name FROM item WHERE sku = 'TEE-SAND-M'") == [("Alder tee, warm sand, M",)]


def test_a_used_item_that_would_change_is_named(full: Book) -> None:
    """The refusal names the item and what it was."""
    with pytest.raises(Refused, match="TEE-SAND-M: its base unit is each since it was first used, not sheet"):
        save_items(full.connection, [replace(ITEMS[0], base_unit="sheet")], [])


def test_an_unused_item_may_change(full: Book) -> None:
    """Before its first use everything can be corrected."""
    with write_tx(full.connection):
        save_items(full.connection, [replace(ITEMS[2], base_unit="g")], [])
    assert full.rows("SELECT base_unit FROM item WHERE sku = 'INK-CYAN'") == [("g",)]


def test_an_item_in_use_is_not_deleted(full: Book) -> None:
    """Its documents hold on to it."""
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        full.connection.execute("DELETE FROM item WHERE sku = 'TEE-SAND-M'")


def test_every_table_is_strict(book: Book) -> None:
    """No column takes a value of another type."""
    loose = book.rows(
        "SELECT name FROM pragma_table_list WHERE type = 'table' AND strict = 0 AND schema = 'main' "
        "AND name NOT LIKE 'sqlite_%' AND name NOT LIKE '\\_%' ESCAPE '\\'"
    )
    assert loose == []


@pytest.mark.parametrize(
    "statement",
    [
        "INSERT INTO kind (name, note) VALUES ('a', x'00')",
        "INSERT INTO document_line (document, line, sku, quantity_milli) VALUES (1, 1, 'TEE-SAND-M', 1.5)",
        "INSERT INTO document_line (document, line, sku, quantity_milli) VALUES (1, 1, 'TEE-SAND-M', 'three')",
        "INSERT INTO month_total (month, sku, account, quantity_milli, amount) VALUES ('2026-02', 'INK-CYAN', 'used', 0, 0.5)",
    ],
)
def test_a_value_of_another_type_is_refused(book: Book, statement: str) -> None:
    """A fraction of a cent or a text cannot slip into a whole number."""
    with pytest.raises(sqlite3.IntegrityError, match="cannot store"):
        book.connection.execute(statement)


@pytest.mark.parametrize(
    ("statement", "constraint"),
    [
        (
            (
                "INSERT INTO document_line (document, line, sku, quantity_milli, claimed_milli) "
                "VALUES (7, 9, 'TEE-SAND-M', 1000, 2000)"
            ),
            "losses_within_the_line",
        ),
        (
            "INSERT INTO document_line (document, line, quantity_milli) VALUES (7, 9, 1000)",
            "an_item_line_names_one",
        ),
        (
            (
                "INSERT INTO document (number, event, document_date, effect_date, recorded_at, currency) "
                "VALUES (90, 'undo', '2026-02-06', '2026-02-06', 'now', 'USD')"
            ),
            "undo_says_what",
        ),
        (
            (
                "INSERT INTO document (number, event, document_date, effect_date, recorded_at, currency, undoes) "
                "VALUES (90, 'undo', '2026-02-06', '2026-02-06', 'now', 'USD', 7)"
            ),
            "undo_says_how",
        ),
    ],
)
def test_a_fact_that_contradicts_itself_is_refused(full: Book, statement: str, constraint: str) -> None:
    """The named constraints refuse it."""
    with pytest.raises(sqlite3.IntegrityError, match=constraint):
        full.connection.execute(statement)


def test_a_line_belongs_to_a_document(book: Book) -> None:
    """A line of a document that is not there is refused."""
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        book.connection.execute("INSERT INTO document_line (document, line, role) VALUES (99, 1, 'charge')")


def test_the_shops_currency_is_fixed_once_used(book: Book) -> None:
    """What every amount is in cannot be changed under them."""
    book.receive(line("TEE-SAND-M"))
    with pytest.raises(sqlite3.IntegrityError, match="fixed once the book holds"):
        book.connection.execute("UPDATE shop SET currency = 'EUR'")


def test_prove_knows_every_guard_of_the_schema() -> None:
    """A guard that is taken out of the file is noticed, whichever it is."""
    folder = resources.files("ledger.book")
    text = "".join(folder.joinpath(name).read_text(encoding="utf-8") for name in SCRIPTS)
    assert sorted(guards()) == sorted(re.findall(r"CREATE TRIGGER (\w+)", text))
