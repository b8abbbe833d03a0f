"""What the targets share: what a target is, a book in memory, and one folder for readers that want a path."""

from __future__ import annotations

import atexit
import shutil
import sqlite3
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

from book_builder import NOW, TODAY, copy_in_memory, make_book

from ledger.book.posting import post_entries
from ledger.intake.events_file import read_events
from ledger.intake.read_file import read_content
from ledger.intake.resolve_events import EventOptions, resolve_events

FIRST = "date,event,sku,quantity,amount,party,reference\n2026-01-05,receive,TEE-SAND-M,40,120,Alder Yard Blanks,R-1\n"


@dataclass(frozen=True)
class Target:
    """One reader: its name, what makes an input, what reads it, and how many inputs a long run gives it."""

    name: str
    make: Callable[[Random], Any]
    read: Callable[[Any], object]
    share: int


@cache
def book() -> sqlite3.Connection:
    """Return a book in memory with a few items and a receipt; nothing more is ever kept in it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "empty.blankbook"
        make_book(path)
        connection = copy_in_memory(path)
    rows = read_events(read_content("first.csv", ".csv", FIRST.encode()), book_currency="USD")
    entries = resolve_events(connection, rows, EventOptions(source="first.csv"))
    post_entries(connection, entries, today=TODAY, now=NOW, source="first.csv")
    return connection


@cache
def own_folder() -> Path:
    """Return the one folder in which files are put for readers that want a path; it goes at the end."""
    folder = Path(tempfile.mkdtemp(prefix="fuzzing-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def put(name: str, content: bytes) -> Path:
    """Write a file into the folder and return its path."""
    path = own_folder() / name
    path.write_bytes(content)
    return path
