"""What a shell offers when the maker presses Tab: words of the book, read only, and nothing on any failure."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from pathlib import Path
from urllib.parse import quote

import typer

from ledger.cli.common import book_path

MOST_OFFERED = 200
WAIT_SECONDS = 0.1
"""How long a locked book is waited for: nobody waits for a Tab."""

_SKUS = "SELECT sku FROM item WHERE sku LIKE ?1 || '%' ESCAPE '\\' ORDER BY sku LIMIT ?2"
_STYLES = "SELECT DISTINCT style FROM item WHERE style LIKE ?1 || '%' ESCAPE '\\' AND style <> '' ORDER BY style LIMIT ?2"
_KINDS = "SELECT DISTINCT kind FROM item WHERE kind LIKE ?1 || '%' ESCAPE '\\' ORDER BY kind LIMIT ?2"
_PARTIES = "SELECT name FROM party WHERE name LIKE ?1 || '%' ESCAPE '\\' ORDER BY name LIMIT ?2"
_MONTHS = "SELECT DISTINCT month FROM month_balance WHERE month LIKE ?1 || '%' ESCAPE '\\' ORDER BY month DESC LIMIT ?2"


def skus(context: typer.Context, incomplete: str) -> list[str]:
    """Return the book's SKUs that begin with what was typed."""
    return _found(context, incomplete, _SKUS)


def styles(context: typer.Context, incomplete: str) -> list[str]:
    """Return the book's styles that begin with what was typed."""
    return _found(context, incomplete, _STYLES)


def kinds(context: typer.Context, incomplete: str) -> list[str]:
    """Return the kinds of the book's items that begin with what was typed."""
    return _found(context, incomplete, _KINDS)


def parties(context: typer.Context, incomplete: str) -> list[str]:
    """Return the names the book knows that begin with what was typed."""
    return _found(context, incomplete, _PARTIES)


def months(context: typer.Context, incomplete: str) -> list[str]:
    """Return the months the book holds something for, the latest first."""
    return _found(context, incomplete, _MONTHS)


def _found(context: typer.Context, incomplete: str, query: str) -> list[str]:
    # Whatever goes wrong, a Tab that offers nothing is all there is to say: the command itself says it better.
    with contextlib.suppress(Exception):
        return _read(book_path(context), incomplete, query)
    return []


def _read(path: Path, incomplete: str, query: str) -> list[str]:
    plain = incomplete.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    address = f"file:{quote(os.fspath(path.resolve()).replace(os.sep, '/'))}?mode=ro"
    connection = sqlite3.connect(address, uri=True, timeout=WAIT_SECONDS)
    try:
        return [text for (text,) in connection.execute(query, (plain, MOST_OFFERED))]
    finally:
        connection.close()
