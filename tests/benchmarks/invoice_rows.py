"""A large workbook received, and files read, against the libraries that merely read them."""

from __future__ import annotations

import random
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

from benchmark_sizes import Sizes
from big_books import COLOURS, SIZES, STYLES, SUPPLIERS, make_empty_book
from measuring import Row, run_command, side_by_side
from reading_files import rows_of
from yardsticks import read_workbook


def invoice_rows(folder: Path, sizes: Sizes) -> Iterator[Row]:
    """Yield receiving a workbook, and reading it, against openpyxl merely reading it."""
    file, empty, work = folder / "invoice.xlsx", folder / "empty.blankbook", folder / "work.blankbook"
    write_invoice(file, sizes.invoice_lines)
    empty.unlink(missing_ok=True)
    make_empty_book(empty, sizes.skus)
    profile = ("--profile", "one-row-per-size", "--party", SUPPLIERS[0], "--add-items")
    words = ("receive", str(file), *profile, "--charge", "freight 182.40 by value")

    def anew(_: str) -> None:
        shutil.copyfile(empty, work)

    anew("")
    run_command(work, *words, "--dry-run")
    seconds = side_by_side(
        {
            "--dry-run": lambda: run_command(work, *words, "--dry-run"),
            "--yes": lambda: run_command(work, *words, "--yes"),
            "yardstick": lambda: read_workbook(file),
        },
        sizes.rounds,
        before=anew,
        clock=time.process_time,
    )
    for how in ("--dry-run", "--yes"):
        what = f"receive {how}: {sizes.invoice_lines} lines"
        yield Row(what, seconds[how], seconds["yardstick"], "s", "openpyxl reading the file")
    yield from rows_of(folder, sizes.invoice_lines, sizes.csv_lines, sizes.rounds)


def write_invoice(path: Path, lines: int) -> None:
    """Write a supplier's invoice with one row for every style, colour and size.

    The first 440 of 5,000 lines are of items the large books know; the others are new to them, as
    all are to a shop on its first day.
    """
    import openpyxl  # noqa: PLC0415  (slow, and only needed here)

    chance = random.Random(5)  # noqa: S311  (made-up shops, not secrets)
    workbook = openpyxl.Workbook(write_only=True)
    sheet = workbook.create_sheet("Invoice")
    sheet.append(["Invoice no.", "L-5000", None, "Date", "01/08/2026"])
    sheet.append(["Currency", "USD"])
    sheet.append([])
    sheet.append(["Style", "Colour", "Size", "Description", "Quantity", "Unit", "Unit price", "Amount"])
    total = 0
    for number in range(lines):
        style = STYLES[number // (len(SIZES) * len(COLOURS)) % len(STYLES)]
        colour, size = COLOURS[number // len(SIZES) % len(COLOURS)], SIZES[number % len(SIZES)]
        series = number // (len(SIZES) * len(COLOURS) * len(STYLES))
        style = f"{style}{series}" if series else style
        pieces, cents = 12 * chance.randint(1, 6), chance.randint(285, 615)
        total += pieces * cents
        amounts = [pieces, "each", cents / 100, round(pieces * cents / 100, 2)]
        sheet.append([style, colour, size, f"{style} tee", *amounts])
    sheet.append(["Total", None, None, None, None, None, None, round(total / 100, 2)])
    workbook.save(path)
