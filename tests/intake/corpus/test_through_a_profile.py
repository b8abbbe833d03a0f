"""A file with everything in between its lines, read through a profile as a delivery."""

from __future__ import annotations

from pathlib import Path

import by_xlsxwriter
import pytest

from ledger.intake.profile import load_profile
from ledger.intake.read_file import read_file
from ledger.intake.read_shipment import read_shipment
from ledger.intake.shipment import ShipmentDraft

PROFILE = """
currency = "USD"
[columns]
style = "Style"
colour = "Colour"
size = "Size"
quantity = "Qty"
unit_price = "Price"
[sku]
pattern = "{style}-{size}"
[foot]
"Subtotal" = "ignore"
"""


def read(name: str, folder: Path) -> ShipmentDraft:
    """Return the delivery that a case of the corpus holds."""
    (case,) = [case for case in by_xlsxwriter.CASES if case.name == name]
    path, profile = folder / case.file, folder / "mine.toml"
    case.make(path)
    profile.write_text(PROFILE, "utf-8")
    return read_shipment(read_file(path), load_profile(profile), party="Mill Lane", reference="1")


@pytest.mark.parametrize(
    "name", ["xlsxwriter, a plain invoice", "xlsxwriter, subtotals in between and headings repeated"]
)
def test_subtotals_and_repeated_headings_are_no_lines(name: str, tmp_path: Path) -> None:
    """The lines are the same with them and without."""
    lines = read(name, tmp_path).lines
    assert [(line.sku, int(line.quantity)) for line in lines] == [
        ("TEE-180-S", 12),
        ("TEE-180-M", 24),
        ("HOOD-280-L", 6),
    ]
