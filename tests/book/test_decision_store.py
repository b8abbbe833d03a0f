"""Kept decisions: read back as they were kept, never changed, and found where a hand changed them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from book_builder import Book, copy_in_memory, disarm
from decision_builder import A_DECISION, kept
from orders_builder import Buyer

from ledger.book.connect import write_tx
from ledger.book.decision_store import (
    find_decision,
    find_decisions,
    party_of,
    tell_order,
)
from ledger.book.proving_decisions import decision_findings
from ledger.errors import Refused

NOW = "2026-02-01T12:00:00Z"


@pytest.fixture
def shop(empty_book: Path) -> Iterator[Book]:
    """A book in memory with order 1 in it."""
    book = Book(empty_book, copy_in_memory(empty_book))
    Buyer(book).order()
    yield book
    book.connection.close()


def test_what_was_kept_is_read_back(shop: Book) -> None:
    """Every figure, the items and the sizes; the book gives the number and knows what it knew."""
    added = kept(shop)
    assert find_decisions(shop.connection) == [added]
    assert added == replace(A_DECISION, number=1, known_documents=1)


def test_decisions_are_numbered_in_their_order(shop: Book) -> None:
    """One, two, three."""
    assert [kept(shop).number for _ in range(3)] == [1, 2, 3]
    assert find_decision(shop.connection, 2).number == 2


def test_an_unknown_number_is_refused(shop: Book) -> None:
    """With the command that lists what there is."""
    with pytest.raises(Refused, match=r"no kept decision 4.*blankbook review"):
        find_decision(shop.connection, 4)


def test_an_order_is_told_once(shop: Book) -> None:
    """It is kept with the decision; telling it again, or of another one, is refused."""
    first, second = kept(shop), kept(shop)
    with write_tx(shop.connection):
        tell_order(shop.connection, first.number, 1, NOW)
    assert find_decision(shop.connection, first.number).orders == (1,)
    with pytest.raises(Refused, match="told as what decision 1 led to"):
        tell_order(shop.connection, second.number, 1, NOW)


def test_only_an_order_is_told(shop: Book) -> None:
    """A number that is no order's is refused."""
    kept(shop)
    with pytest.raises(Refused, match="document 9 is no order"):
        tell_order(shop.connection, 1, 9, NOW)


@pytest.mark.parametrize(
    ("offer", "party"),
    [
        ("Mill Lane", "Mill Lane"),
        ("MILL LANE, knit to order", "Mill Lane"),
        ("Mill", None),
        ("Mill Lane Two", None),
        ("Reed, Sons", "Reed, Sons"),
        ("Reed, Sons, spring", "Reed, Sons"),
    ],
)
def test_whose_offer_it_is(offer: str, party: str | None) -> None:
    """By the whole name, or by what stands before a comma; the longest name counts."""
    assert party_of(offer, ["Mill Lane", "Reed", "Reed, Sons"]) == party


GUARDED = [
    "UPDATE decision SET verdict = 'DOMESTIC'",
    "DELETE FROM decision",
    "INSERT OR REPLACE INTO decision SELECT * FROM decision",
    "UPDATE decision_item SET size = 'S'",
    "DELETE FROM decision_item",
    "INSERT OR REPLACE INTO decision_item SELECT * FROM decision_item",
    "UPDATE decision_size SET quantity = 1",
    "DELETE FROM decision_size",
    "INSERT OR REPLACE INTO decision_size SELECT * FROM decision_size",
    "INSERT OR REPLACE INTO decision_size VALUES (1, 9, 'M', 1)",
    "UPDATE decision_order SET told_at = 'x'",
    "DELETE FROM decision_order",
    "INSERT OR REPLACE INTO decision_order SELECT * FROM decision_order",
    "INSERT OR REPLACE INTO decision_order VALUES (2, 1, 'x')",
]


@pytest.mark.parametrize("recursive", ["ON", "OFF"])
@pytest.mark.parametrize("statement", GUARDED)
def test_a_kept_decision_never_changes(shop: Book, statement: str, recursive: str) -> None:
    """The file itself refuses to change, delete or replace any of it, whoever asks."""
    kept(shop)
    kept(shop, sizes=(), quantity=7)
    tell_order(shop.connection, 1, 1, NOW)
    shop.connection.execute(f"PRAGMA recursive_triggers = {recursive}")
    before = list(shop.connection.iterdump())
    with pytest.raises(
        sqlite3.IntegrityError, match=r"kept decision (never changes|is never (deleted|replaced))"
    ):
        shop.connection.execute(statement)
    assert list(shop.connection.iterdump()) == before


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE decision SET landed_unit_ten_thousandths = 2.5 WHERE number = 1",
        "UPDATE decision SET currency = 'DOLLAR' WHERE number = 1",
        "UPDATE decision SET study = '' WHERE number = 1",
        "UPDATE decision SET supplier = 'Nobody' WHERE number = 1",
        "INSERT INTO decision_item VALUES (1, 'NO-SUCH-SKU', '')",
    ],
)
def test_the_columns_refuse_what_cannot_be(shop: Book, statement: str) -> None:
    """Half a unit, a long currency, no study, an unknown supplier or item: even without guards."""
    kept(shop)
    disarm(shop.connection)
    with pytest.raises(sqlite3.IntegrityError):
        shop.connection.execute(statement)


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE decision SET verdict = 'DOMESTIC'", "not what was kept"),
        ("UPDATE decision SET expected_saving = expected_saving + 1", "not what was kept"),
        ("UPDATE decision SET study = study || ' = ='", "its study can no longer be read"),
        ("UPDATE decision SET study = 'x = 1'", "lost its demand"),
        ("UPDATE decision_item SET size = 'S' WHERE sku = 'TEE-SAND-M'", "not what was kept"),
        ("DELETE FROM decision_item WHERE sku = 'TEE-SAND-M'", "not what was kept"),
        ("UPDATE decision_size SET quantity = 99 WHERE size = 'M'", "its sizes add up to 149, it buys 150"),
    ],
)
def test_prove_finds_what_a_hand_changed(shop: Book, statement: str, words: str) -> None:
    """Without its guards the file takes the change; the proof names the decision and what is wrong."""
    kept(shop)
    assert shop.prove().is_whole
    disarm(shop.connection)
    shop.connection.execute(statement)
    told = [finding.what for finding in shop.prove().findings if finding.where == "decision 1"]
    assert words in " ".join(told)


def test_prove_finds_a_figure_that_is_no_whole_number(shop: Book) -> None:
    """A file whose table was rewritten without its types can hold one."""
    kept(shop)
    disarm(shop.connection)
    shop.connection.execute("PRAGMA foreign_keys = OFF")
    shop.connection.execute("CREATE TABLE loose AS SELECT * FROM decision")
    shop.connection.execute("DROP TABLE decision")
    shop.connection.execute("ALTER TABLE loose RENAME TO decision")
    shop.connection.execute("UPDATE decision SET expected_saving = 12.5")
    told = [finding.what for finding in decision_findings(shop.connection)]
    assert "its expected saving is no whole number: 12.5" in told


def test_prove_finds_a_guard_that_is_gone(shop: Book) -> None:
    """Like every other guard."""
    shop.connection.execute("DROP TRIGGER decision_no_delete")
    assert [finding.what for finding in shop.prove().findings] == [
        "the guard decision no delete was taken out of the file"
    ]


def test_a_decision_without_goods_is_kept(shop: Book) -> None:
    """A study may be of goods the book does not have."""
    added = kept(shop, items=(), sizes=(), supplier=None, home_supplier=None)
    assert find_decisions(shop.connection) == [added]
    assert shop.prove().is_whole
    assert added.items == ()
