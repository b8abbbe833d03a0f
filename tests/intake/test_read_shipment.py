"""Whole invoices and packing lists by their profiles: csv files, hostile cells, every problem at once, the samples."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shipment_files import HEADINGS, PLAIN, made_file, made_profile, problems_of, read

from ledger.carried import carried
from ledger.errors import InputErrors
from ledger.intake.profile import Profile, load_profile
from ledger.intake.read_csv import read_csv
from ledger.intake.read_file import read_file
from ledger.intake.read_shipment import read_shipment


def test_a_csv_file_is_read_with_its_rows_named(plain: Profile) -> None:
    """Rows and headings are the places of a csv file."""
    content = b"Style,Colour,Size,Qty,Unit,Price\nT10,Black,M,-2,CS,3\n"
    assert problems_of(read_csv("a.csv", content), plain) == [
        (
            "row 2, column Qty: the quantity -2 is not above zero. "
            "Goods sent back are no line of a shipment; delete the row or correct it."
        )
    ]


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-x", "@SUM(A1)"])
def test_text_like_a_formula_is_text(text: str, tmp_path: Path) -> None:
    """A description that begins like a formula arrives as it was written."""
    toml = PLAIN.replace("[columns]", '[columns]\ndescription = "What"')
    content = f"What,Style,Colour,Size,Qty,Price\n{text},T10,Black,M,2,3\n".encode()
    (line,) = read(read_csv("a.csv", content), made_profile(tmp_path, toml)).lines
    assert line.description == text


def test_a_formula_s_text_is_no_quantity(plain: Profile) -> None:
    """Text like a formula is never worked out."""
    (problem,) = problems_of(made_file(HEADINGS, ["T10", "Black", "M", "=1+1", "CS", 3, None]), plain)
    assert "'=1+1' cannot be read for certain as a number" in problem


def test_every_problem_of_a_file_is_told_at_once(plain: Profile) -> None:
    """One list names each cell that is wrong, whatever is wrong with the others."""
    headings = [
        *HEADINGS,
        "Pieces",
        "Disc %",
        "Short",
        "Damaged",
        "Treat as",
        "Duty",
        "Duty rate",
        "Best before",
        "Tax",
    ]
    good = ["T10", "Black", "M", 1, "each", 3, 3]

    def row(*wrong: object, **cells: object) -> list:
        values = dict(zip(headings, [*(wrong or good)], strict=False)) | cells
        return [values.get(name) for name in headings]

    file = made_file(
        ["Date", "31/31/2026"],
        headings,
        row("T10", "Black", "M", -3, "each", 3, None),
        row("T10", "Black", "M", 0, "each", 3, None),
        row("T10", "Black", "M", 20000, "CS", 3, None),
        row("T10", "Black", "M", "many", "each", 3, None),
        row("T10", "Black", "M", 1, "each", 0, None),
        row("T10", "Black", "M", 1, "each", -5, None),
        row("T10", "Black", "M", 1, "each", 100001, None),
        row("T10", "Black", "M", 2, "each", 3, 7),
        row("T10", "Black", "M", None, "each", 3, 3),
        row("T10", None, "M", 1, "each", 3, 3),
        row("T10", "Bl*ck", "M", 1, "each", 3, 3),
        row(Pieces=2),
        row("T10", "Black", "M", "0.3", "CS", 3, None),
        row("T10", "Black", "M", 1, "each", 3, None, **{"Disc %": 0.1}),
        row("T10", "Black", "M", 1, "each", 3, None, **{"Disc %": 101}),
        row(Short=1, Damaged=1),
        row(Short=-1),
        row(**{"Treat as": "claim"}),
        row(Duty=1, **{"Duty rate": "5%"}),
        row(**{"Best before": "soon"}),
        row(Tax="maybe"),
        ["Handling", None, None, None, None, None, 5],
        ["Total pieces", None, None, 144],
        ["Subtotal", "none"],
        ["Freight", -3],
    )
    found = "\n".join(problems_of(file, plain))
    for said in (
        "cell B1: '31/31/2026' is not a date",
        "cell D3: the quantity -3 is not above zero",
        "cell D4: the quantity 0 is not above zero",
        "cell D5: 1440000 is more than 1,000,000",
        "cell D6: 'many' cannot be read",
        "cell F7: the price is 0. Write 'free'",
        "cell F8: the price -5 is below zero",
        "cell F9: 100001 for one each is more than 100,000",
        "cell G10: the row's total is 7, and quantity x price is 6",
        "row 11: the row 'T10' has an amount and no quantity",
        "cell B12: the SKU pattern",
        "cell A13: the SKU 'T10-BL*CK-M'",
        "cell H14: the row says 2 pieces, and 1 x 1 is 1",
        "cell D15: 0.3 CS is not a whole number of pieces",
        "cell I16: 0.1 may be 10%",
        "cell I17: 101 is not a percentage",
        "cell J18: 1 missing and 1 damaged are more than the 1",
        "cell J19: -1 is below zero",
        "cell L20: 'claim' is not known. Did you mean 'claimed'?",
        "cell M21: the row has a duty and a duty percentage",
        "cell O22: 'soon' is not a date",
        "cell P23: 'maybe' is not known",
        "row 24: the row 'Handling' has an amount and no quantity",
        "cell A25: 'Total pieces' looks like a total",
        "cell A26: the row 'Subtotal' holds no amount",
        "cell B27: -3 is below zero",
    ):
        assert said in found


cells = (
    st.none()
    | st.text(max_size=8)
    | st.integers(-5, 10**12)
    | st.sampled_from(
        ["T10", "Black", "M", "Total", "Freight", "free", "=1", "10%", "CS", "each", "Subtotal"]
    )
)


@given(st.lists(st.lists(cells, max_size=len(HEADINGS)), max_size=6))
def test_any_rows_are_a_shipment_or_named_problems(rows: list[list]) -> None:
    """Nothing in the cells ends in anything but a draft or a list of problems."""
    profile = Profile(
        name="any",
        columns={
            name: (heading,)
            for name, heading in zip(
                ("style", "colour", "size", "quantity", "unit", "unit_price", "line_total"),
                HEADINGS,
                strict=True,
            )
        },
        currency="USD",
        packs={"CS": "72 each"},
        sku_pattern="{style}-{colour}-{size}",
        foot={"Subtotal": "lines total", "Freight": "freight by weight"},
    )
    try:
        draft = read(made_file(HEADINGS, *rows), profile)
    except InputErrors as errors:
        assert all(str(problem) for problem in errors.problems)  # noqa: PT017 - either way is right
        return
    assert all(line.quantity > 0 and line.net >= 0 for line in draft.lines)


@pytest.mark.parametrize(
    ("file", "profile"),
    [
        ("domestic-blanks.xlsx", "tarnwick-blank-goods"),
        ("consumables.csv", "dunnoway-craft-supply"),
        ("overseas-packing-list.xlsx", "nine-sparrows-packing-list"),
    ],
)
def test_the_sample_files_are_read_by_their_profiles(file: str, profile: str) -> None:
    """Each sample invoice and its profile belong together."""
    draft = read_shipment(
        read_file(carried("samples", file)), load_profile(carried("imports", f"{profile}.toml"))
    )
    assert draft.lines
