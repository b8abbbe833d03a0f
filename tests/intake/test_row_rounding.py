"""A row's total beside quantity x price less a discount, which ends on half a cent."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from shipment_files import made_file, made_profile, problems_of, read

HEAD = ["Style", "Colour", "Size", "Qty", "Price", "Disc %", "Amount"]


@pytest.mark.parametrize(("written", "net"), [("130.62", "130.62"), ("130.63", "130.63")])
def test_half_a_cent_may_be_rounded_either_way(written: str, net: str, tmp_path: Path) -> None:
    """5 at 27.50 less 5% are 130.625: what is written is what is paid."""
    file = made_file(HEAD, ["WREN", "Sand", "M", 5, "27.50", 5, written])
    assert read(file, made_profile(tmp_path)).lines[0].net == Fraction(net)


@pytest.mark.parametrize("written", ["130.61", "130.64", "131.62"])
def test_a_cent_and_more_is_refused(written: str, tmp_path: Path) -> None:
    """It is no rounding."""
    file = made_file(HEAD, ["WREN", "Sand", "M", 5, "27.50", 5, written])
    assert any("130.63" in each for each in problems_of(file, made_profile(tmp_path)))


@pytest.mark.parametrize(("written", "is_sound"), [("10.01", False), ("9.99", False), ("10.00", True)])
def test_a_whole_amount_has_one_way(written: str, is_sound: bool, tmp_path: Path) -> None:  # noqa: FBT001
    """5 at 2.00 are 10.00 and nothing else."""
    file = made_file(HEAD, ["WREN", "Sand", "M", 5, "2.00", None, written])
    assert (problems_of(file, made_profile(tmp_path)) == []) is is_sound
