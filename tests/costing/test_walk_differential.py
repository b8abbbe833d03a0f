"""The whole engine against the plain one: every event of a shop, however the documents are posted."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from book_builder import ITEMS, copy_in_memory, make_book
from drawn import drawn
from hypothesis import given
from hypothesis import strategies as st
from shop_strategies import TAX_CLASS_OF_SKU, shop_histories
from test_replay_differential import kept_figures, post, postings, wrong_shares_apart

from ledger.book.connect import write_tx
from ledger.book.documents import NewDocument, insert_documents
from ledger.book.proving import read_facts, read_legs
from ledger.book.recosting import recost
from ledger.costing.facts import Facts, Leg
from ledger.costing.plain import plain_legs
from ledger.costing.walk import walk

ENGINE = drawn(80)
BOOK = drawn(25)


def walked_legs(facts: Facts) -> list[Leg]:
    """What the engine makes of a whole history at once."""
    dropped = [undo for undo in facts.undos if undo.path == "dropped"]
    gone = {number for undo in dropped for number in (undo.document, undo.undoes)}
    by_place = {(line.document, line.line): line for line in facts.lines}
    attached = []
    for share in facts.shares:
        receipt = by_place[share.receipt_document, share.receipt_line]
        if share.document not in gone and receipt.document not in gone:
            attached.append((share, receipt.sku, receipt.tax_class))
    walked = walk([line for line in facts.lines if line.document not in gone], attached)
    return sorted(walked.legs.legs(), key=lambda leg: (leg.document, leg.line, leg.part))


@ENGINE
@given(shop_histories())
def test_both_engines_give_the_same_legs_for_every_event(facts: Facts) -> None:
    """Jobs of jobs, returns, counts, shorts, write-downs: the legs of a history are the plain engine's."""
    assert walked_legs(facts) == plain_legs(facts)


@pytest.fixture(scope="module")
def shop_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book that knows the items of the drawn histories."""
    path = tmp_path_factory.mktemp("shops") / "shops.blankbook"
    like = ITEMS[0]
    make_book(
        path,
        [
            replace(like, sku=sku, name=sku, tax_class=tax_class)
            for sku, tax_class in TAX_CLASS_OF_SKU.items()
        ],
    )
    return path


@BOOK
@given(facts=shop_histories(14))
def test_posting_any_history_one_by_one_gives_the_plain_legs(shop_book: Path, facts: Facts) -> None:
    """After every posting of any event the legs are the plain engine's, and every check finds the book whole."""
    connection = copy_in_memory(shop_book)
    try:
        for document, late_skus in postings(facts):
            post(connection, document, late_skus)
            assert read_legs(connection) == plain_legs(read_facts(connection))
        assert wrong_shares_apart(connection) == []
        assert read_facts(connection).lines == tuple(
            sorted(facts.lines, key=lambda line: (line.document, line.line))
        )
    finally:
        connection.close()


def post_together(connection: sqlite3.Connection, group: list[tuple[NewDocument, set[str]]]) -> None:
    """Post documents in one transaction, as a sheet is."""
    documents = [document for document, _ in group]
    with write_tx(connection):
        insert_documents(connection, documents)
        recost(connection, documents, {sku for _, late_skus in group for sku in late_skus})


def groups(
    documents: Iterator[tuple[NewDocument, set[str]]], sizes: list[int]
) -> Iterator[list[tuple[NewDocument, set[str]]]]:
    """The documents in sheets of some sizes; what is undone is in the book before its undo."""
    waiting: list[tuple[NewDocument, set[str]]] = []
    for place, document in enumerate(documents):
        if document[0].event == "undo" and waiting:
            yield waiting
            waiting = []
        waiting.append(document)
        if len(waiting) >= sizes[place % len(sizes)]:
            yield waiting
            waiting = []
    if waiting:
        yield waiting


@BOOK
@given(facts=shop_histories(16), sizes=st.lists(st.integers(1, 8), min_size=1, max_size=4))
def test_posting_any_history_in_sheets_gives_the_plain_legs(
    shop_book: Path, facts: Facts, sizes: list[int]
) -> None:
    """Several documents judged together cost what they cost one by one."""
    connection = copy_in_memory(shop_book)
    try:
        for group in groups(postings(facts), sizes):
            post_together(connection, group)
            assert read_legs(connection) == plain_legs(read_facts(connection))
        assert wrong_shares_apart(connection) == []
    finally:
        connection.close()


@BOOK
@given(facts=shop_histories(14))
def test_kept_figures_of_any_history_do_not_depend_on_the_way_there(shop_book: Path, facts: Facts) -> None:
    """Lots, layers, balances and month totals kept posting by posting are those of one replay at the end."""
    connection = copy_in_memory(shop_book)
    try:
        for document, late_skus in postings(facts):
            post(connection, document, late_skus)
        before = kept_figures(connection)
        with write_tx(connection):
            recost(connection, (), TAX_CLASS_OF_SKU)
        assert kept_figures(connection) == before
    finally:
        connection.close()


@BOOK
@given(facts=shop_histories(14))
def test_posting_any_history_tells_every_cost_that_moved(shop_book: Path, facts: Facts) -> None:
    """The changes a posting reports are what earlier documents that still count took before and take now."""
    connection = copy_in_memory(shop_book)
    try:
        for document, late_skus in postings(facts):
            before = on_hand_amounts(connection)
            with write_tx(connection):
                insert_documents(connection, [document])
                changes = recost(connection, [document], late_skus)
            after = on_hand_amounts(connection)
            expected = {
                place: (before.get(place, 0), after.get(place, 0))
                for place in before.keys() | after.keys()
                if before.get(place, 0) != after.get(place, 0)
                and place[0] not in (document.number, document.undoes)
            }
            assert {(one.document, one.sku): (one.before, one.after) for one in changes} == expected
    finally:
        connection.close()


def on_hand_amounts(connection: sqlite3.Connection) -> dict[tuple[int, str], int]:
    """What each document took off the shelf of each item, in minor units."""
    rows = connection.execute(
        "SELECT document, sku, -sum(amount) FROM leg WHERE account = 'on hand' GROUP BY document, sku"
    )
    return {(document, sku): amount for document, sku, amount in rows}
