"""Reading a maker's file against what the library underneath takes for it.

Run: python -m tests.benchmarks.reading_files
"""

from __future__ import annotations

import csv
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

import openpyxl

sys.path.insert(0, str(Path(__file__).resolve().parent))

from measuring import Row, side_by_side, table

from ledger.intake.propose import propose_profile
from ledger.intake.read_file import read_file
from ledger.intake.read_shipment import ShipmentOptions, read_shipment

ROUNDS = 3
MOST = 3.0
"""How many times what openpyxl alone takes a workbook may take, its proposal included."""


def write_workbook(path: Path, lines: int) -> None:
    """Write an invoice of so many lines."""
    workbook = openpyxl.Workbook(write_only=True)
    sheet = workbook.create_sheet("Invoice")
    sheet.append(["Style", "Colour", "Size", "Qty", "Unit price", "Amount", "Note"])
    for number in range(lines):
        pieces = number % 50 + 1
        size = ("S", "M", "L", "XL")[number % 4]
        sheet.append(
            [f"TEE-{number % 40}", "Heather Navy", size, pieces, 4.1, round(4.1 * pieces, 2), f"box {number}"]
        )
    workbook.save(path)


def write_csv(path: Path, lines: int) -> None:
    """Write a wide text, a third of whose fields are blank."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow([f"column {column}" for column in range(19)])
        writer.writerows(
            [f"v{number}-{column}" if column % 3 else "" for column in range(19)] for number in range(lines)
        )


def bare_openpyxl(path: Path) -> int:
    """Return the number of rows, each of them read by openpyxl alone."""
    workbook = openpyxl.load_workbook(path, read_only=True, data_only=True)
    return sum(1 for _ in workbook.active.iter_rows(values_only=True))


def proposed_lines(path: Path) -> int:
    """Return the number of lines, read by the profile that is proposed for the workbook."""
    file = read_file(path)
    profile = propose_profile(file).profile
    draft = read_shipment(
        file, profile, invoice_date=date(2026, 3, 1), options=ShipmentOptions(default_currency="USD")
    )
    return len(draft.lines)


def bare_csv(path: Path) -> list[list[str]]:
    """Return the rows as the csv module alone reads them."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def rows_of(folder: Path, lines: int, wide_lines: int, rounds: int = ROUNDS) -> list[Row]:
    """Return the lines of the table, over files of these sizes."""
    workbook, wide = folder / "lines.xlsx", folder / "wide.csv"
    write_workbook(workbook, lines)
    write_csv(wide, wide_lines)
    found = side_by_side(
        {
            "bare": lambda: bare_openpyxl(workbook),
            "read": lambda: read_file(workbook),
            "proposed": lambda: propose_profile(read_file(workbook)),
            "lines": lambda: proposed_lines(workbook),
            "bare csv": lambda: bare_csv(wide),
            "read csv": lambda: read_file(wide),
            "every cell": lambda: [len(row) for row in read_file(wide).sheets[0].rows],
        },
        rounds,
        clock=time.process_time,
    )
    return [
        Row(f"workbook, {lines:,} lines", found["read"], found["bare"], "s", "openpyxl reading it", MOST),
        Row("workbook with its proposal", found["proposed"], found["bare"], "s", "openpyxl reading it", MOST),
        Row("workbook with its lines read", found["lines"], found["bare"], "s", "openpyxl reading it", MOST),
        Row(f"csv, {wide_lines:,} x 19", found["read csv"], found["bare csv"], "s", "the csv module"),
        Row("csv, every cell made", found["every cell"], found["bare csv"], "s", "the csv module"),
    ]


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        sys.stdout.write(table(rows_of(Path(folder), 5_000, 100_000)) + "\n")


if __name__ == "__main__":
    main()
