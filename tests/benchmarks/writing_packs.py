"""A month's pack and its workbook against what openpyxl takes to write the same cells alone.

Run: python -m tests.benchmarks.writing_packs
"""

from __future__ import annotations

import argparse
import io
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice
from pathlib import Path

import openpyxl

sys.path.insert(0, str(Path(__file__).resolve().parent))

from big_books import FIRST_YEAR, BookShape, make_documents, make_empty_book, post_batch
from measuring import Row, side_by_side, table

from ledger.book.connect import open_reading, open_writing
from ledger.book.documents import NewDocument
from ledger.book.month_report import read_report
from ledger.views.month_pack import read_pack
from ledger.views.workbook import pack_bytes

DOCUMENTS, SKUS, ROUNDS = 10_000, 500, 1
MONTH = f"{FIRST_YEAR}-01"
MOST = 3.0
"""How many times what the cells alone take the pack and its workbook may take."""

Cells = list[tuple[str, list[tuple[object, ...]]]]


def into_one_month(documents: Iterator[NewDocument], count: int) -> list[NewDocument]:
    """Return the first documents of a large book, in their order, spread over one month."""
    listed = list(islice(documents, count))
    moved = []
    for place, document in enumerate(listed):
        day = f"{MONTH}-{1 + 31 * place // len(listed):02d}"
        # A charge takes effect with its receipt, the document that it follows.
        if document.follows is not None:
            day = moved[document.follows - 1].effect_date
        shares = tuple(replace(share, effect_date=day) for share in document.shares)
        moved.append(replace(document, document_date=day, effect_date=day, shares=shares))
    return moved


def make_month(path: Path, documents: int, skus: int = SKUS) -> None:
    """Make a book whose documents all lie in one month."""
    make_empty_book(path, skus)
    connection = open_writing(path)
    shape = BookShape(legs=40 * documents, skus=skus)
    post_batch(connection, into_one_month(make_documents(shape), documents))
    connection.close()


def pack_and_workbook(path: Path, month: str = MONTH) -> bytes:
    """Return the workbook of the month, read and written."""
    connection = open_reading(path)
    content = pack_bytes(read_pack(connection, read_report(connection, month)))
    connection.close()
    return content


def cells_of(content: bytes) -> Cells:
    """Return every cell of a workbook, formulas as formulas, sheet by sheet."""
    workbook = openpyxl.load_workbook(io.BytesIO(content))
    return [(sheet.title, list(sheet.iter_rows(values_only=True))) for sheet in workbook.worksheets]


def write_cells(cells: Cells) -> bytes:
    """Return a workbook of the same cells, merely written: no looks, no widths, no charts, no values."""
    workbook = openpyxl.Workbook(write_only=True)
    for title, rows in cells:
        sheet = workbook.create_sheet(title)
        for row in rows:
            sheet.append(row)
    content = io.BytesIO()
    workbook.save(content)
    return content.getvalue()


def rows_of(folder: Path, documents: int = DOCUMENTS, skus: int = SKUS, rounds: int = ROUNDS) -> list[Row]:
    """Return the lines of the table; processor time, for another process may be busy."""
    path = folder / "month.blankbook"
    make_month(path, documents, skus)
    cells = cells_of(pack_and_workbook(path))
    connection = open_reading(path)
    report = read_report(connection, MONTH)
    seconds = side_by_side(
        {
            "pack": lambda: read_pack(connection, report),
            "both": lambda: pack_and_workbook(path),
            "yardstick": lambda: write_cells(cells),
        },
        rounds,
        clock=time.process_time,
    )
    connection.close()
    count = sum(value is not None for _, rows in cells for row in rows for value in row)
    against = f"openpyxl writing the same {count} cells"
    return [
        Row(f"pack read: {documents} documents", seconds["pack"], seconds["yardstick"], "s", against),
        Row(
            f"pack and workbook: {documents} documents",
            seconds["both"],
            seconds["yardstick"],
            "s",
            against,
            MOST,
        ),
    ]


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="A month's pack as a ratio to writing its cells alone.")
    parser.add_argument("--documents", type=int, default=DOCUMENTS, help="how many the month has")
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        print(table(rows_of(Path(temporary), told.documents)))  # noqa: T201


if __name__ == "__main__":
    main()
