"""One row of an invoice as lines: its pack, SKU, price and losses, and sizes that stand across."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shipment_files import HEADINGS, PLAIN, TEE, made_file, made_profile, problems_of, read

from ledger.intake.profile import Profile

ACROSS = """
currency = "USD"
[columns]
style = "Style"
colour = "Colour"
pieces = "Pieces"
unit = "Unit"
unit_price = "Price"
line_total = "Amount"
missing = "Short"
duty = "Duty"
weight_kg = "Net kg"
[sizes_across]
sizes = ["S", "M", "XXL"]
[prices]
per = "piece"
surcharges = { "2XL" = "1.50" }
[sku]
pattern = "{style}-{colour}-{size}"
"""


@pytest.fixture
def across(tmp_path: Path) -> Profile:
    """Return a profile with sizes across and prices per piece."""
    return made_profile(tmp_path, ACROSS)


def test_a_case_becomes_a_line_with_its_pack(plain: Profile) -> None:
    """The file's unit word keeps its quantity and brings the pieces it holds."""
    (line,) = read(made_file(HEADINGS, TEE), plain).lines
    assert (line.sku, line.quantity, line.unit, line.pack_factor, line.pack_base_unit, line.net) == (
        "T10-BLACK-M",
        2,
        "CS",
        72,
        "each",
        Fraction("410.4"),
    )


def test_a_case_of_a_large_size_holds_its_own_number(plain: Profile) -> None:
    """The size's own pack comes before the general one, however the size is spelled."""
    (line,) = read(made_file(HEADINGS, ["T10", "Black", "XXL", 1, "CS", 100, 100]), plain).lines
    assert (line.size, line.pack_factor) == ("2XL", 36)


def test_an_alias_makes_the_sku_and_leaves_the_colour_its_name(plain: Profile) -> None:
    """Our code stands in the SKU, the colour's name in the new item."""
    (line,) = read(made_file(HEADINGS, ["T10", "heather navy", "Medium", 1, "each", 3, 3]), plain).lines
    assert (line.sku, line.new_item["colour"], line.new_item["name"]) == (
        "T10-HNV-M",
        "heather navy",
        "T10 tee, heather navy, M",
    )


def test_a_supplier_code_may_be_a_sku_of_ours(tmp_path: Path) -> None:
    """The table of codes names a SKU directly, and what a code becomes."""
    text = """
currency = "USD"
[columns]
code = "Item"
quantity = "Qty"
line_total = "Amount"
[sku.code]
"80417" = "VINYL-BLACK"
[items.by_code]
"80417" = { kind = "vinyl", unit = "cm2" }
"""
    (line,) = read(made_file(["Item", "Qty", "Amount"], [80417, 1, 25]), made_profile(tmp_path, text)).lines
    assert (line.sku, dict(line.new_item)) == (
        "VINYL-BLACK",
        {"kind": "vinyl", "unit": "cm2", "sku": "VINYL-BLACK", "name": "VINYL-BLACK"},
    )


def test_a_blank_price_is_provisional(plain: Profile) -> None:
    """A line whose price is not known yet costs nothing so far and says so."""
    (line,) = read(made_file(HEADINGS, ["T10", "Black", "M", 2, "CS", None, None]), plain).lines
    assert (line.provisional, line.net, line.unit_price) == (True, 0, None)


def test_a_free_line_is_not_provisional(plain: Profile) -> None:
    """The word free is a price of nothing."""
    (line,) = read(made_file(HEADINGS, ["T10", "Black", "M", 2, "CS", "Free", 0]), plain).lines
    assert (line.provisional, line.unit_price) == (False, 0)


def test_a_total_alone_is_the_line_s_cost(plain: Profile) -> None:
    """Without a price the row's total counts."""
    (line,) = read(made_file(HEADINGS, ["T10", "Black", "M", 3, "each", None, 10]), plain).lines
    assert (line.net, line.unit_price, line.provisional) == (10, None, False)


def test_a_total_rounded_to_the_cent_is_right(plain: Profile) -> None:
    """3 x 3.335 is 10.005, which an invoice prints as 10.01."""
    (line,) = read(made_file(HEADINGS, ["T10", "Black", "M", 3, "each", "3.335", "10.01"]), plain).lines
    assert line.net == Fraction("10.01")


def test_a_discount_in_percent_is_taken_off(plain: Profile) -> None:
    """The line's net is after its own discount."""
    headings = [*HEADINGS, "Disc %"]
    (line,) = read(made_file(headings, ["T10", "Black", "M", 10, "each", 3, 27, "10%"]), plain).lines
    assert (line.net, line.discount) == (27, 3)


@pytest.mark.parametrize(("per", "net"), [("piece", 432), ("dozen", 36), ("hundred", Fraction("4.32"))])
def test_a_price_may_be_per_piece_dozen_or_hundred(tmp_path: Path, per: str, net: Fraction) -> None:
    """A case of 72 at 3.00 costs what the price is per."""
    profile = made_profile(tmp_path, PLAIN + f'[prices]\nper = "{per}"\n')
    (line,) = read(made_file(HEADINGS, ["T10", "Black", "M", 2, "CS", 3, None]), profile).lines
    assert line.net == net


def test_the_catalogue_may_know_what_a_case_holds(tmp_path: Path) -> None:
    """Where the profile is silent the caller's catalogue is asked."""
    profile = made_profile(tmp_path, PLAIN + '[prices]\nper = "piece"\n')
    file = made_file(HEADINGS, ["T10", "Black", "M", 1, "carton", 2, None])
    (line,) = read(file, profile, known_factor=lambda _sku, _unit: Fraction(48)).lines
    assert line.net == 96


def test_pieces_tell_what_a_pack_holds_where_nothing_else_does(plain: Profile) -> None:
    """Three cartons with 60 pieces hold 20 each."""
    file = made_file([*HEADINGS, "Pieces"], ["T10", "Black", "M", 3, "carton", 40, 120, 60])
    (line,) = read(file, plain).lines
    assert line.pack_factor == 20


def test_losses_are_pieces_and_claimed_where_nothing_is_said(plain: Profile) -> None:
    """Missing and damaged pieces are claimed unless the file or the caller says otherwise."""
    headings = [*HEADINGS, "Short", "Damaged", "Treat as"]
    file = made_file(headings, [*TEE, 2, 1, None], [*TEE, 1, None, "Expense"])
    first, second = read(file, plain, damaged_as="normal").lines
    assert (first.missing, first.damaged, first.missing_as, first.damaged_as, second.missing_as) == (
        2,
        1,
        "claimed",
        "normal",
        "expense",
    )


def test_sizes_across_become_a_line_each(across: Profile) -> None:
    """Every filled size of a row is a line; empty, zero and dash are none."""
    headings = ["Style", "Colour", "S", "M", "XXL", "Price"]
    lines = read(
        made_file(headings, ["T10", "Black", 12, None, 6, 3], ["T10", "Red", "-", 5, 0, 3]), across
    ).lines
    assert [(line.sku, line.quantity, line.net) for line in lines] == [
        ("T10-BLACK-S", 12, 36),
        ("T10-BLACK-2XL", 6, 27),
        ("T10-RED-M", 5, 15),
    ]


def test_a_row_total_over_sizes_is_split_to_the_cent(across: Profile) -> None:
    """With only the row's total, surcharges stay with their size and the parts add up."""
    headings = ["Style", "Colour", "S", "M", "XXL", "Amount"]
    lines = read(made_file(headings, ["T10", "Black", 1, 1, 1, "11.50"]), across).lines
    assert [line.net for line in lines] == [Fraction("3.34"), Fraction("3.33"), Fraction("4.83")]


def test_a_weight_over_sizes_is_shared_by_pieces(across: Profile) -> None:
    """The row's net weight goes to the sizes by their pieces."""
    headings = ["Style", "Colour", "S", "M", "Price", "Net kg"]
    lines = read(made_file(headings, ["T10", "Black", 10, 20, 3, 6]), across).lines
    assert [line.weight_kg for line in lines] == [2, 4]


def test_a_loss_over_sizes_names_its_size(across: Profile) -> None:
    """Which size is missing stands in the cell."""
    headings = ["Style", "Colour", "S", "M", "Price", "Short"]
    lines = read(made_file(headings, ["T10", "Black", 10, 20, 3, "m 2; S: 1"]), across).lines
    assert [line.missing for line in lines] == [1, 2]


def test_a_size_the_profile_does_not_read_is_not_lost(across: Profile) -> None:
    """A column headed like a size must be named, or its pieces would vanish."""
    headings = ["Style", "Colour", "S", "3XL", "Price"]
    (problem,) = problems_of(made_file(headings, ["T10", "Black", 10, 20, 3]), across)
    assert problem.startswith("sheet Invoice, cell D1: the column '3XL' looks like a size")


def test_a_price_per_piece_needs_to_know_the_pack(tmp_path: Path) -> None:
    """An unknown pack with a price per piece is refused, naming what to add."""
    profile = made_profile(tmp_path, PLAIN + '[prices]\nper = "piece"\n')
    (problem,) = problems_of(made_file(HEADINGS, ["T10", "Black", "M", 1, "bale", 2, None]), profile)
    assert 'Add bale = "72 each"' in problem


@given(
    st.lists(
        st.tuples(st.integers(0, 50), st.integers(0, 50), st.integers(0, 50), st.integers(1, 10**6)),
        min_size=1,
    )
)
def test_the_lines_of_a_row_add_up_to_its_total(rows: list[tuple[int, int, int, int]]) -> None:
    """However a row's total is split over its sizes, not a cent is lost."""
    profile = Profile(
        name="any",
        columns={"style": ("Style",), "line_total": ("Amount",)},
        currency="USD",
        sizes_across=("S", "M", "L"),
        sku_pattern="{style}-{size}",
    )
    filled = [row for row in rows if any(row[:3])]
    if not filled:
        return
    file = made_file(
        ["Style", "S", "M", "L", "Amount"],
        *[[f"T{number}", *row[:3], f"{row[3] / 100:.2f}"] for number, row in enumerate(filled)],
    )
    assert read(file, profile).lines_total == Fraction(sum(row[3] for row in filled), 100)
