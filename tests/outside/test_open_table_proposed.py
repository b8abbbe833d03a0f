"""An open table that nobody made for this program, read through a proposed and corrected profile.

Source: the table of a sample shop's orders in the package bokeh_sampledata, marked CC0 there.
"""

from __future__ import annotations

import gzip
from decimal import Decimal
from importlib import resources
from io import BytesIO
from pathlib import Path

import pandas as pd
import pytest

from ledger.intake.answers import read_answers
from ledger.intake.propose import propose_profile
from ledger.intake.read_file import read_file
from ledger.intake.read_shipment import read_shipment
from ledger.intake.shipment import ShipmentDraft

ROWS = 1500
CORRECTIONS = (
    "I=code",
    "J=line total",
    "L=ignore",
    "M=ignore",
    "A=ignore",
    "B=ignore",
    "D=ignore",
    "E=ignore",
    "G=ignore",
)
"""What a person would say of it: the kind of goods is the code, Sales is what the line came to, and
neither the shop's discount nor its profit is the supplier's."""


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The first rows whose amounts are whole cents, as the file they came in: a csv."""
    packed = resources.files("bokeh_sampledata").joinpath("_data", "SampleSuperstore.csv.gz").read_bytes()
    lines = gzip.decompress(packed).decode("utf-8").splitlines()
    whole = [line for line in lines[1:] if Decimal(line.split(",")[9]).as_tuple().exponent >= -2]
    path = tmp_path_factory.mktemp("open") / "orders.csv"
    path.write_text("\n".join([lines[0], *whole[:ROWS], ""]), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def read(table: Path) -> ShipmentDraft:
    """The table as the proposed profile reads it once its columns are corrected."""
    file = read_file(table)
    proposal = propose_profile(file, None, party="An open table", answers=read_answers(CORRECTIONS))
    assert proposal.questions == ()
    return read_shipment(file, proposal.profile, currency="USD")


@pytest.fixture(scope="module")
def by_pandas(table: Path) -> pd.DataFrame:
    """The same file by another reader, every cell as text."""
    return pd.read_csv(BytesIO(table.read_bytes()), dtype=str)


def test_every_row_is_a_line(read: ShipmentDraft, by_pandas: pd.DataFrame) -> None:
    """Nothing is left out and nothing invented."""
    assert len(read.lines) == len(by_pandas) == ROWS


def test_amounts_agree_with_another_reader(read: ShipmentDraft, by_pandas: pd.DataFrame) -> None:
    """Every line's amount is the file's, to the cent."""
    assert [line.net for line in read.lines] == [Decimal(text) for text in by_pandas["Sales"]]


def test_quantities_agree_with_another_reader(read: ShipmentDraft, by_pandas: pd.DataFrame) -> None:
    """Every line's quantity is the file's."""
    assert [line.quantity for line in read.lines] == [int(text) for text in by_pandas["Quantity"]]


def test_codes_agree_with_another_reader(read: ShipmentDraft, by_pandas: pd.DataFrame) -> None:
    """Every line's code is the file's."""
    assert [line.code for line in read.lines] == list(by_pandas["Sub-Category"])
