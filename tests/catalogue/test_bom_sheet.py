"""Bills of materials as rows of a sheet: headers, cells, and the bill that rows make."""

from __future__ import annotations

from fractions import Fraction

import pytest
from bill_parts import line

from ledger.catalogue.bom_sheet import BOM_COLUMNS, BillRow, bill_from_rows, read_bom_header, row_parts


@pytest.mark.parametrize("name", BOM_COLUMNS)
def test_a_header_reads_as_the_template_writes_it(name: str) -> None:
    """What the template writes can be read again."""
    assert read_bom_header(name) == name


def test_a_row_gives_the_bills_own_fields_and_a_line() -> None:
    """Words become exact values."""
    row = row_parts(
        {
            "bill": "FOX",
            "way": "Sublimation one panel",
            "sku": "INK-W",
            "per_piece": "1.5",
            "waste": "10%",
            "uses": "",
            "colours": "Black; White",
            "misprints": "3",
        }
    )
    assert row == BillRow(
        "FOX",
        {"way": "sublimation, one panel", "misprint_percent": Fraction(3)},
        line(per_piece="1.5", waste_percent=Fraction(10), colours=("Black", "White")),
    )


@pytest.mark.parametrize(
    ("column", "text"),
    [
        ("bill", "A B"),
        ("way", "knitting"),
        ("per_piece", "0"),
        ("per_piece", "-1"),
        ("per_piece", "1.2345678"),
        ("per_piece", "a bit"),
        ("waste", "0.15"),
        ("waste", "120"),
        ("uses", "0"),
        ("uses", "2.5"),
        ("misprints", "100"),
        ("labour_per_piece", "-2"),
        ("least_polyester", "64.5"),
        ("light_only", "perhaps"),
    ],
)
def test_a_cell_that_is_wrong_is_named(column: str, text: str) -> None:
    """One problem, in its column."""
    cells = {"bill": "FOX", "sku": "INK-W", "per_piece": "1", column: text}
    assert [problem.column for problem in row_parts(cells).problems] == [column]


def test_an_amount_of_nothing_is_named() -> None:
    """A row with amounts and no SKU says of what."""
    assert [problem.column for problem in row_parts({"bill": "A", "unit": "mL"}).problems] == ["sku"]


def test_sublimation_takes_its_usual_limits() -> None:
    """Empty cells mean 65% polyester and light cloth; 0 and no mean neither."""
    head = {"bill": "A", "name": "A", "way": "sublimation, all over"}
    usual = bill_from_rows("A", [row_parts(head)]).bill
    told = bill_from_rows("A", [row_parts({**head, "least_polyester": "0", "light_only": "no"})]).bill
    assert (
        (usual.least_polyester_percent, usual.light_only),
        (told.least_polyester_percent, told.light_only),
    ) == ((65, True), (None, False))


def test_the_finished_pattern_has_a_default() -> None:
    """Code and blank; the code alone where there is no blank."""
    head = {"bill": "A", "name": "A", "way": "stones"}
    found = [bill_from_rows("A", [row_parts({**head, **more})]).bill for more in ({"blank": "Drift"}, {})]
    assert [each.finished for each in found] == ["A-{blank}", "A"]


def test_a_bill_that_says_two_things_is_told() -> None:
    """Its own fields may stand again, but not otherwise."""
    rows = [row_parts({"bill": "A", "name": name, "way": "stones"}) for name in ("A", "A", "B")]
    assert [(each.row, each.column) for each in bill_from_rows("A", rows).problems] == [(2, "name")]


def test_a_bill_without_name_and_way_is_told() -> None:
    """Both are needed."""
    found = bill_from_rows("A", [row_parts({"bill": "A"})]).problems
    assert [problem.column for problem in found] == ["name", "way"]
