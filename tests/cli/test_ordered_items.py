"""What the book sold of a channel's orders, looked up for refunds that name no item."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_shop import Commands, new_book

from ledger.book import row_sources
from ledger.book.connect import open_reading
from ledger.book.row_sources import find_ordered
from ledger.cli import items, post, undo


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A book with three sales of the fair, the last one undone."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    made = new_book(tmp_path / "shop.blankbook")
    Path("items.csv").write_text("sku,name,kind,unit\nFOX,Fox tee,finished,each\n", "utf-8")
    rows = "".join(
        f"2026-03-0{day},sell,FOX,1,2{day}.00,Harbour Fair,{order}\n"
        for day, order in ((1, "S1"), (2, "S1"), (3, "S2"))
    )
    text = f"date,event,sku,quantity,amount,party,reference\n2026-01-01,opening,FOX,9,36,,\n{rows}"
    Path("events.csv").write_text(text, "utf-8")
    assert Commands(items.register, made)("items", "load", "items.csv", "--yes").code == 0
    assert Commands(post.register, made)("post", "events.csv", "--yes").code == 0
    assert Commands(undo.register, made)("undo", "4", "--why", "a test", "--yes").code == 0
    return made


def test_sales_are_found_by_order(book: Path) -> None:
    """Each with its amount; what was undone is left out, in any case of the channel's name."""
    connection = open_reading(book)
    try:
        found = find_ordered(connection, "harbour fair")
    finally:
        connection.close()
    assert {order: [one.amount_minor for one in several] for order, several in found.items()} == {
        "S1": [2100, 2200]
    }


def test_the_channels_documents_are_found_by_an_index(book: Path) -> None:
    """A book of many years is not read through."""
    connection = open_reading(book)
    try:
        plan = connection.execute(f"EXPLAIN QUERY PLAN {row_sources._ORDERED}", ("Harbour Fair",)).fetchall()
    finally:
        connection.close()
    assert any("document_reference" in row[3] for row in plan)
    assert not any(row[3].startswith("SCAN") for row in plan)
