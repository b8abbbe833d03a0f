"""Drawn histories with late charges, goods under way and reversals, posted month by month and closed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest
from book_builder import ITEMS, NOW, TODAY, copy_in_memory, make_book
from drawn import drawn
from hypothesis import event, given
from late_strategies import LATE_TAX_CLASS_OF_SKU, late_histories
from test_replay_differential import postings, wrong_shares_apart

from ledger.book.closing import post_close, prepare_close
from ledger.book.connect import write_tx
from ledger.book.documents import NewDocument, insert_documents
from ledger.book.proving import read_facts, read_legs
from ledger.book.recosting import recost
from ledger.book.reopening import post_reopen
from ledger.book.undoing import prepare_undo
from ledger.costing.facts import FactLine, Facts
from ledger.costing.plain import plain_legs
from ledger.errors import ClosedMonth, NotEnoughStock, OwnAncestor, Refused

BOOK = drawn(30)


@pytest.fixture(scope="module")
def shop_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book that knows the items of the drawn histories."""
    path = tmp_path_factory.mktemp("closed") / "closed.blankbook"
    items = [
        replace(ITEMS[0], sku=sku, name=sku, tax_class=tax_class)
        for sku, tax_class in LATE_TAX_CLASS_OF_SKU.items()
    ]
    make_book(path, items)
    return path


def documents_of(facts: Facts) -> list[tuple[NewDocument, set[str]]]:
    """The history's documents; the undos that stay in the costing come as undo documents."""
    undos = {undo.document: undo for undo in facts.undos}
    lines: dict[int, list[FactLine]] = {}
    for line in facts.lines:
        lines.setdefault(line.document, []).append(line)
    documents = []
    for document, late_skus in postings(facts):
        undo = undos.get(document.number)
        changed = document
        if undo is not None and undo.path != "dropped":
            repeated = lines.get(undo.undoes, [])
            changed = replace(
                document,
                event="undo",
                path=undo.path,
                undoes=undo.undoes,
                undone_event=repeated[0].event if undo.path == "reversal" else "",
            )
        documents.append((changed, late_skus))
    return documents


def post(connection: sqlite3.Connection, document: NewDocument, late_skus: Iterable[str]) -> bool:
    """Post a document; False where it cannot be costed at this point of the book's life."""
    named = {line.lot_document for line in document.lines} | {
        share.receipt_document for share in document.shares
    }
    # A close takes the next number, and may so come to bear that of a drawn document.
    standing = (
        "SELECT number FROM document AS d WHERE event NOT IN ('close', 'reopen') AND note <> 'use corrected' "
        "AND NOT EXISTS (SELECT 1 FROM document WHERE undoes = d.number)"
    )
    known = {number for (number,) in connection.execute(standing)}
    if document.event != "undo" and not named - {None} <= known:
        # What it refers to was refused or undone: the commands refuse that before costing.
        return False
    if document.undoes is not None:
        try:
            prepare_undo(connection, [document.undoes])
        except (Refused, ClosedMonth):
            return False
    try:
        with write_tx(connection):
            insert_documents(connection, [document])
            recost(connection, [document], late_skus)
    except (NotEnoughStock, Refused, OwnAncestor, sqlite3.IntegrityError) as refused:
        event(type(refused).__name__)
        return False
    return True


@BOOK
@given(facts=late_histories())
def test_posting_what_comes_late_one_by_one_gives_the_plain_legs(shop_book: Path, facts: Facts) -> None:
    """After every posting the legs are the plain engine's, and every check finds the book whole."""
    connection = copy_in_memory(shop_book)
    try:
        for document, late_skus in documents_of(facts):
            if post(connection, document, late_skus):
                assert read_legs(connection) == plain_legs(read_facts(connection))
        assert wrong_shares_apart(connection) == []
    finally:
        connection.close()


@BOOK
@given(facts=late_histories())
def test_months_closed_one_after_the_other_stay_whole(shop_book: Path, facts: Facts) -> None:
    """Posted month by month with a close after each, the legs are the plain engine's, also when reopened."""
    connection = copy_in_memory(shop_book)
    documents = sorted(documents_of(facts), key=lambda one: (one[0].effect_date[:7], one[0].number))
    months = sorted({one[0].effect_date[:7] for one in documents})
    try:
        for month in months:
            for document, late_skus in documents:
                if document.effect_date[:7] == month:
                    post(connection, document, late_skus)
            assert read_legs(connection) == plain_legs(read_facts(connection))
            before = connection.execute("SELECT closed_through FROM boundary").fetchone()
            if not connection.execute(
                "SELECT 1 FROM month_event WHERE month >= ? AND action = 'close'", (month,)
            ).fetchone():
                _close_all_up_to(connection, month)
            assert wrong_shares_apart(connection) == [], before
        closed = connection.execute("SELECT min(month) FROM month_event WHERE action = 'close'").fetchone()[0]
        if closed is not None:
            event("reopened")
            post_reopen(connection, closed, "a test", TODAY.replace(year=2027), NOW)
            with write_tx(connection):
                recost(connection, (), LATE_TAX_CLASS_OF_SKU)
            assert read_legs(connection) == plain_legs(read_facts(connection))
            assert wrong_shares_apart(connection) == []
    finally:
        connection.close()


def _close_all_up_to(connection: sqlite3.Connection, month: str) -> None:
    year, number = 2026, 1
    while f"{year}-{number:02d}" <= month:
        one = f"{year}-{number:02d}"
        through = connection.execute("SELECT closed_through FROM boundary").fetchone()[0]
        if f"{one}-31" > through and through[:7] != one:
            plan = prepare_close(connection, one, TODAY.replace(year=2027))
            if plan.blocking:
                return
            post_close(connection, plan, TODAY.replace(year=2027), NOW)
        year, number = (year + 1, 1) if number == 12 else (year, number + 1)
