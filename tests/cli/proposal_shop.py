"""A shop that receives a supplier's file of a layout nobody prepared: the files, the book and the command."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_shop import Commands, Outcome, new_book

from ledger.book.catalogue_store import save_items
from ledger.book.connect import open_reading, open_writing, write_tx
from ledger.catalogue.items import Item
from ledger.cli import receive

CLEAR = (
    "Invoice no.,ML-7,,Date,2026-03-14\n"
    "Item,Description,Qty,Price,Amount\n"
    "K7-B-M,Tee black M,12,3.10,37.20\nK7-S-L,Tee sand L,4,3.25,13.00\n"
    ",,,Subtotal,50.20\n,,,Shipping,6.00\n,,,Total,56.20\n"
)
UNCLEAR = CLEAR.replace("2026-03-14", "03/04/2026")
SHORT = CLEAR.replace("Price,Amount\n", "Price,Amount,Short\n").replace("37.20\n", "37.20,2\n")
NAMES = "Date,2026-03-14,\nProduct,Qty,Price\nK7 Blck M,12,3.10\nK7 Sand L,4,3.25\n"
SKUS = {"K7-B-M": "TEE-BLK-M", "K7-S-L": "TEE-SND-L"}
SAVED = Path("shop.profiles/mill-lane.toml")


def item(sku: str, colour: str, size: str) -> Item:
    """A blank of the book."""
    return Item(sku, f"Heron tee, {colour}, {size}", "blank", "goods", "each", "Heron", colour, size, "adult")


def receive_shop(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The command with a book that knows two blanks and what Mill Lane calls them."""
    monkeypatch.chdir(folder)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-04-30")
    path = new_book(folder / "shop.blankbook")
    connection = open_writing(path)
    with write_tx(connection):
        save_items(connection, [item("TEE-BLK-M", "Black", "M"), item("TEE-SND-L", "Sand", "L")], [])
        connection.execute("INSERT INTO party (name) VALUES ('Mill Lane')")
        connection.executemany("INSERT INTO supplier_code VALUES ('Mill Lane', ?, ?)", SKUS.items())
    connection.close()
    return Commands(receive.register, path)


def file(text: str = CLEAR, name: str = "list.csv") -> str:
    """Write the supplier's file and return its name."""
    Path(name).write_text(text, "utf-8")
    return name


def second(text: str) -> str:
    """Write a later invoice of the same supplier and return its name."""
    return file(text.replace("ML-7", "ML-8"), "second.csv")


def accepted(blankbook: Commands, *words: str, text: str = CLEAR) -> Outcome:
    """Receive the file, taking its proposal as it is."""
    return blankbook("receive", file(text), "--party", "Mill Lane", "--accept", "--yes", *words)


def receipts(blankbook: Commands) -> int:
    """How many receipts the book has."""
    connection = open_reading(blankbook.book)
    try:
        return int(connection.execute("SELECT count(*) FROM document WHERE event = 'receipt'").fetchone()[0])
    finally:
        connection.close()
