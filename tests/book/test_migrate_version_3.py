"""A book of version 3, made by that version's own schema, is brought to the present one when opened."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from book_builder import Book, disarm, line
from decision_builder import kept
from sqlite_utils import Database, Migrations

from ledger.book import migrations
from ledger.book.catalogue_store import ensure_party, save_items
from ledger.book.connect import APPLICATION_ID, SCHEMA_VERSION, open_writing, write_tx
from ledger.book.schema import guards, schema_faults
from ledger.book.shop import write_shop
from ledger.catalogue.items import Item

OLD = 3
TABLES = ("decision", "decision_item", "decision_size", "decision_order", "order_offer")
SHOP = {
    "name": "Old shop",
    "currency": "USD",
    "first_month": "2026-01",
    "country": "US",
    "tax_year_starts": "01",
}
ITEMS = (
    Item("TEE-SAND-M", "Alder tee, sand, M", "blank", "goods", "each", "Alder", "Sand", "M", "adult"),
    Item("TEE-PLUM-L", "Alder tee, plum, L", "blank", "goods", "each", "Alder", "Plum", "L", "adult"),
)


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A book of version 3 with a shop, two items and a receipt."""
    path = tmp_path / "old.blankbook"
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA foreign_keys = ON")
    steps = Migrations("blankbook")
    for step in migrations._STEPS._migrations[:OLD]:
        steps(name=step.name)(step.fn)
    steps.apply(Database(connection, execute_plugins=False))
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {OLD}")
    with write_tx(connection):
        write_shop(connection, SHOP, {}, "2026-01-02T10:00:00Z")
        save_items(connection, ITEMS, [])
        ensure_party(connection, "Alder Yard Blanks")
    Book(path, connection).receive(line("TEE-SAND-M", 10), on="01-05")
    connection.close()
    return path


def test_it_has_none_of_the_new_tables(old: Path) -> None:
    """So that the migration has something to do."""
    connection = sqlite3.connect(old)
    assert connection.execute("PRAGMA user_version").fetchone() == (OLD,)
    found = {row[0] for row in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    assert not found & set(TABLES)
    connection.close()


def test_it_is_brought_up_with_every_guard(old: Path) -> None:
    """The present version, all tables, indexes and triggers as the scripts say."""
    connection = open_writing(old)
    assert connection.execute("PRAGMA user_version").fetchone() == (SCHEMA_VERSION,)
    assert schema_faults(connection) == []
    there = {row[0] for row in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'")}
    of_new = ("decision_", "order_offer_")
    assert {name for name in guards() if name.startswith(of_new)} <= there
    assert sum(name.startswith(of_new) for name in there) == 3 * len(TABLES)
    connection.close()


def test_what_it_held_is_untouched_and_proves(old: Path) -> None:
    """Rows of the old tables are the same before and after, and the book is whole."""
    plain = sqlite3.connect(old)
    queries = ("SELECT * FROM document", "SELECT * FROM leg", "SELECT * FROM lot")
    before = {query: plain.execute(query).fetchall() for query in queries}
    plain.close()
    book = Book(old, open_writing(old))
    for query, rows in before.items():
        assert rows
        assert book.rows(query) == rows
    assert book.prove().is_whole
    book.connection.close()


def test_the_old_book_is_kept_beside_it(old: Path) -> None:
    """A backup of version 3."""
    open_writing(old).close()
    copy = sqlite3.connect(old.with_name(f"old.before-version-{SCHEMA_VERSION}.blankbook"))
    assert copy.execute("PRAGMA user_version").fetchone() == (OLD,)
    copy.close()


def test_a_decision_can_be_kept_in_it(old: Path) -> None:
    """The new tables take one, guard it, and it proves."""
    book = Book(old, open_writing(old))
    assert kept(book).known_documents == 1
    with pytest.raises(sqlite3.IntegrityError, match="never changes"):
        book.connection.execute("UPDATE decision SET why = 'x'")
    assert book.prove().is_whole
    disarm(book.connection)
    book.connection.execute("UPDATE decision SET why = 'x'")
    assert not book.prove().is_whole
    book.connection.close()
