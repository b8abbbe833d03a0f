"""What the timings are held against: the least that a program could do for the same result."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from pathlib import Path

from ledger.costing.replay import Movements, Takings

POSTED_TABLES = (
    "document",
    "document_line",
    "charge_share",
    "leg",
    "lot",
    "layer",
    "balance",
    "month_total",
    "month_balance",
)
"""The tables a posting writes to, in the order their foreign keys ask for."""

Rows = dict[str, list[tuple[object, ...]]]


def imports_only() -> list[str]:
    """Return the arguments of a Python that imports what any command line over SQLite imports."""
    return ["-c", "import typer, sqlite3"]


def fill_columns(movements: Movements) -> Takings:
    """Return columns as long as a replay's, filled in one plain pass that costs nothing.

    Each issue gets what the engine gives it: its place, the number of a lot, its quantity and a
    fresh amount; nothing is looked up and nothing is divided. Lists are filled: they grow faster
    than the engine's arrays, so that the yardstick is the stricter one.
    """
    takings = Takings([], [], [], [])
    put_movement, put_lot = takings.movement.append, takings.lot.append
    put_quantity, put_amount = takings.quantity.append, takings.amount.append
    lot = 0
    columns = zip(movements.arrives, movements.quantity, strict=True)
    for place, (arrives, quantity) in enumerate(columns):
        if arrives:
            lot += 1
            continue
        put_movement(place)
        put_lot(lot)
        put_quantity(quantity)
        put_amount(place + quantity)
    return takings


def posted_rows(connection: sqlite3.Connection) -> Rows:
    """Return all that was posted to a book, table by table, in the order of the primary keys."""
    return {
        table: connection.execute(f"SELECT * FROM {table} ORDER BY {_key(connection, table)}").fetchall()  # noqa: S608
        for table in POSTED_TABLES
    }


NUMBERED_BY = {
    "document": "number",
    "document_line": "document",
    "charge_share": "document",
    "leg": "document",
    "lot": "document",
    "layer": "lot_document",
}
"""The column which says what document a row came with; rows of the other tables are renewed instead."""


def rows_since(connection: sqlite3.Connection, number: int, month: str) -> Rows:
    """Return what the documents after ``number`` wrote, and the figures of ``month`` and balances they renewed.

    What they took from the layers of older lots is left out: the yardstick writes a little less.
    """
    rows = {}
    for table in POSTED_TABLES:
        column = NUMBERED_BY.get(table)
        where = f"{column} > :number" if column else "1" if table == "balance" else "month = :month"
        rows[table] = connection.execute(
            f"SELECT * FROM {table} WHERE {where} ORDER BY {_key(connection, table)}",  # noqa: S608
            {"number": number, "month": month},
        ).fetchall()
    return rows


def _key(connection: sqlite3.Connection, table: str) -> str:
    columns = connection.execute(f"PRAGMA table_info({table})").fetchall()
    keys = sorted((column[5], column[1]) for column in columns if column[5])
    return ", ".join(name for _, name in keys)


def insert_rows(connection: sqlite3.Connection, rows: Rows) -> None:
    """Insert the rows with executemany, in one transaction, in the order of the primary keys."""
    connection.execute("BEGIN IMMEDIATE")
    for table, listed in rows.items():
        if listed:
            marks = ", ".join("?" * len(listed[0]))
            verb = "INSERT" if table in NUMBERED_BY else "INSERT OR REPLACE"
            connection.executemany(f"{verb} INTO {table} VALUES ({marks})", listed)
    connection.execute("COMMIT")


def read_workbook(path: Path) -> Sequence[tuple[object, ...]]:
    """Return every row of a workbook's sheets, merely read."""
    import openpyxl  # noqa: PLC0415  (slow, and timed only once it is imported)

    workbook = openpyxl.load_workbook(path, read_only=True, data_only=True)
    rows = [row for sheet in workbook.worksheets for row in sheet.iter_rows(values_only=True)]
    workbook.close()
    return rows


def read_every_row(path: Path) -> int:
    """Return how many rows a book's tables hold, each of them read by sqlite3 and thrown away."""
    connection = sqlite3.connect(path)
    names = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
    count = sum(1 for (name,) in names for _ in connection.execute(f'SELECT * FROM "{name}"'))  # noqa: S608
    connection.close()
    return count
