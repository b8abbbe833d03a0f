"""Tables that nobody made for these tests: those that the package vega_datasets ships, under the MIT licence."""

from __future__ import annotations

import datetime
import importlib.util
from fractions import Fraction
from pathlib import Path

import pandas as pd
import pytest

from ledger.intake.read_file import read_file
from ledger.intake.records import find_header, records
from ledger.intake.table import Record
from ledger.intake.values import read_date, read_number


def shipped(name: str) -> Path:
    """Return a table of the package, which itself need not be imported."""
    found = importlib.util.find_spec("vega_datasets")
    assert found is not None
    assert found.submodule_search_locations is not None
    return Path(found.submodule_search_locations[0]) / "_data" / name


def table(name: str, *columns: str) -> list[Record]:
    """Return the table's rows by its headings."""
    (sheet,) = read_file(shipped(name)).sheets
    return records(sheet, find_header(sheet, dict.fromkeys(columns, ()), columns))


@pytest.mark.parametrize(
    ("name", "column"),
    [
        ("seattle-weather.csv", "precipitation"),
        ("us-employment.csv", "nonfarm"),
        ("iowa-electricity.csv", "net_generation"),
        ("airports.csv", "latitude"),
    ],
)
def test_a_column_adds_up_to_what_another_reader_finds(name: str, column: str) -> None:
    """Every row is there once, and every number is what it says, by pandas."""
    ours = sum((read_number(record.cells[column]) for record in table(name, column)), Fraction(0))
    theirs = pd.read_csv(shipped(name), dtype=str)[column]
    assert ours == sum(map(Fraction, theirs), Fraction(0))


def test_dates_are_read_in_the_files_own_order() -> None:
    """The first and the last day are those of the file."""
    days = [
        read_date(record.cells["date"], "year month day") for record in table("seattle-weather.csv", "date")
    ]
    assert (days[0], days[-1], len(days)) == (datetime.date(2012, 1, 1), datetime.date(2015, 12, 31), 1461)


def test_names_with_commas_inside_quotation_marks_stay_whole() -> None:
    """A quoted name with a comma is one cell."""
    names = [record.text("name") for record in table("airports.csv", "iata", "name")]
    assert names == [str(name).strip() for name in pd.read_csv(shipped("airports.csv"), dtype=str)["name"]]
