"""Percent cells of a spreadsheet: a number in a percent format is a percentage, a bare one is asked."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import Workbook

from ledger.errors import InputErrors
from ledger.intake.duties_file import read_duties_file
from ledger.intake.quotes_file import read_quotes_file


def written(folder: Path, headings: list[str], row: list[object], formats: dict[str, str]) -> Path:
    """Return a workbook of one row whose cells have these number formats."""
    workbook = Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.append(["Something above"])
    sheet.append(headings)
    sheet.append(row)
    for heading, number_format in formats.items():
        sheet.cell(3, headings.index(heading) + 1).number_format = number_format
    path = folder / "sheet.xlsx"
    workbook.save(path)
    return path


@pytest.mark.parametrize(
    ("value", "number_format", "kept"),
    [(0.165, "0.0%", "16.5"), (0.02, "0%", "2"), (0.003464, "0.0%", "0.3464")],
)
def test_a_rate_in_a_percent_format_is_one(
    tmp_path: Path, value: float, number_format: str, kept: str
) -> None:
    """In percent, with all the decimals the cell holds, also those the spreadsheet does not show."""
    path = written(
        tmp_path, ["program", "customs_class", "rate"], ["general", "6109.10", value], {"rate": number_format}
    )
    assert read_duties_file(path).rows[0].rate == kept


def test_a_bare_number_below_one_is_still_asked(tmp_path: Path) -> None:
    """0.02 may be two percent or a fiftieth of one."""
    path = written(tmp_path, ["program", "customs_class", "rate"], ["general", "6109.10", 0.02], {})
    with pytest.raises(InputErrors, match="write the per cent sign"):
        read_duties_file(path)


def test_percent_cells_of_quotes_are_read(tmp_path: Path) -> None:
    """Defects of 2%; a price in a percent format by mistake stays what it is."""
    headings = ["supplier", "sku", "prices", "defects", "deposit"]
    path = written(tmp_path, headings, ["Mill", "A", 3, 0.02, 30], {"defects": "0.00%", "prices": "0%"})
    file = read_quotes_file(path)
    assert file.problems == ()
    assert (file.offers[0].text("defects"), file.offers[0].text("deposit")) == ("2", "30")
    assert file.offers[0].rows[0].prices == "1 = 3"
