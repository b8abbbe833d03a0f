"""Codes that lost their leading zeros are remarked; numbers that never had any are not."""

from __future__ import annotations

import pytest

from ledger.intake.lost_zeros import lost_zeros
from ledger.intake.read_csv import read_csv


def remarks(*codes: str) -> tuple[str, ...]:
    """Return what is remarked of a column of codes."""
    (sheet,) = read_csv(
        "codes.csv", "\n".join(["Code,Qty", *(f"{code},1" for code in codes)]).encode()
    ).sheets
    return lost_zeros(sheet)


def test_a_shorter_number_beside_codes_with_zeros_is_remarked() -> None:
    """It is named with its place, so that it can be looked at."""
    assert "412 in row 3, column 1" in remarks("00411", "412", "00413")[0]


@pytest.mark.parametrize(
    "codes",
    [
        ("411", "412"),
        ("00411", "10412"),
        ("00411", "0412", "13"),
        ("00411", "TEE-12"),
        ("0.50", "2"),
        ("00411", "0"),
    ],
)
def test_other_columns_are_not_remarked(codes: tuple[str, ...]) -> None:
    """Without zeros, of full length, of mixed length, of letters, decimals or a plain zero: nothing is lost."""
    assert remarks(*codes) == ()


def test_a_long_list_is_cut_and_counted() -> None:
    """Five places are named, the rest counted."""
    assert "and 7 more" in remarks("00411", *map(str, range(100, 112)))[0]
