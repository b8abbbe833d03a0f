from __future__ import annotations

import datetime
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shipment_files import PLAIN, made_file, made_profile, problems_of, read

from ledger.carried import carried
from ledger.errors import InputErrors
from ledger.intake.profile import Profile, load_profile
from ledger.intake.read_csv import read_csv
from ledger.intake.read_file import read_file
from ledger.intake.read_shipment import read_shipment

HEADINGS = ["Style", "Colour", "Size", "Qty", "Unit", "Price", "Amount"]
TEE = ["T10", "Black", "M", 2, "CS", "205.20", "410.40"]

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
def plain(tmp_path: Path) -> Profile:
    """Return a profile with one row per size."""
    return made_profile(tmp_path, PLAIN)


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


def test_the_head_gives_reference_and_date(plain: Profile) -> None:
    """A label's right neighbour is its value, or stands behind its colon."""
    file = made_file(["Invoice no.:", None, "A-17"], ["Date: 02/03/2026"], HEADINGS, TEE)
    draft = read(file, plain)
    assert (draft.reference, draft.invoice_date) == ("A-17", datetime.date(2026, 2, 3))


def test_an_empty_field_of_the_head_does_not_take_the_next_label(plain: Profile) -> None:
    """A blank reference stays blank where another label follows in its row."""
    file = made_file(["Invoice no.", None, "Date", datetime.date(2026, 2, 3)], HEADINGS, TEE)
    draft = read(file, plain)
    assert (draft.reference, draft.invoice_date) == ("", datetime.date(2026, 2, 3))


def test_the_head_may_be_a_cell(tmp_path: Path) -> None:
    """A field of the head can be named by its cell."""
    profile = made_profile(tmp_path, PLAIN.replace('"Invoice no."', '"cell C1"'))
    assert read(made_file(["Bill", None, "B-9"], HEADINGS, TEE), profile).reference == "B-9"


def test_what_the_caller_says_comes_first(plain: Profile) -> None:
    """Options outrank the file's head and the profile."""
    file = made_file(["Invoice no.", "A-17"], HEADINGS, TEE)
    draft = read_shipment(file, plain, party="Fernbank", reference="X", currency="CNY")
    assert (draft.party, draft.reference, draft.currency) == ("Fernbank", "X", "CNY")


def test_the_foot_gives_discount_and_charges(plain: Profile) -> None:
    """Labelled rows under the table are checked, or become a discount and charges."""
    file = made_file(
        HEADINGS,
        TEE,
        ["Subtotal", None, None, None, None, None, "410.40"],
        ["Discount", None, None, None, None, None, -10],
        [None, None, None, None, None, "Freight:", 25],
        ["Total", None, None, None, None, None, "$425.40"],
        ["Thank you for your order"],
    )
    draft = read(file, plain)
    assert (draft.invoice_discount, [str(charge) for charge in draft.charges], len(draft.lines)) == (
        10,
        ["freight 25 USD by weight"],
        1,
    )


def test_a_subtotal_between_lines_counts_what_stands_above_it(plain: Profile) -> None:
    """Subtotals of groups are checked against their own group."""
    subtotal = ["Subtotal", None, None, None, None, None, "410.40"]
    file = made_file(HEADINGS, TEE, subtotal, TEE, subtotal, ["Total", "820.80"])
    assert problems_of(file, plain) == []


def test_blank_rows_and_repeated_headings_are_skipped(plain: Profile) -> None:
    """A long list repeats its headings on every page."""
    assert len(read(made_file(HEADINGS, TEE, [None], HEADINGS, TEE), plain).lines) == 2


def test_a_heading_between_lines_is_said_and_skipped(plain: Profile) -> None:
    """A word alone in a row is a heading, and the maker is told."""
    draft = read(made_file(HEADINGS, ["Sweatshirts"], TEE), plain)
    assert (
        draft.remarks[-1] == "sheet Invoice, row 2: 'Sweatshirts' has no quantity and was taken for a heading"
    )


def test_a_second_line_of_headings_is_no_foot(plain: Profile) -> None:
    """A word of the foot under the headings, without any number in its row, is passed over."""
    second = ["code", None, None, "(case)", None, "per piece", "Total"]
    assert len(read(made_file(HEADINGS, second, TEE), plain).lines) == 1


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


def test_missing_columns_are_told_together_with_the_head(plain: Profile) -> None:
    """A missing column names what was found and what comes near, beside a wrong date."""
    found = problems_of(made_file(["Date", "soon"], ["Style", "Color", "Size", "Quant", "Unit"]), plain)
    assert len(found) == 3
    assert any("the column Qty is missing. Found: Style, Color, Size, Quant, Unit" in each for each in found)
    assert any("the column Colour is missing" in each and "Nearest: Color" in each for each in found)


def test_a_file_without_a_price_column_is_refused(plain: Profile) -> None:
    """Without any price column every line would be provisional without a word."""
    (problem,) = problems_of(made_file(["Style", "Colour", "Size", "Qty"], ["T10", "Black", "M", 1]), plain)
    assert "no column holds the price" in problem


def test_a_foot_that_does_not_add_up_is_refused(plain: Profile) -> None:
    """The file's own totals are checked to the cent."""
    file = made_file(HEADINGS, TEE, ["Subtotal", 410], ["Freight", 5], ["Total", "415.41"])
    assert [problem.split(" Look")[0] for problem in problems_of(file, plain)] == [
        "sheet Invoice, cell B3: 410 stands there, and the lines above add up to 410.40.",
        "sheet Invoice, cell B5: 415.41 stands there, and lines less discount plus charges come to 415.40.",
    ]


def test_a_total_not_named_in_the_profile_is_never_an_item(tmp_path: Path) -> None:
    """A row called total would otherwise become an item of that name."""
    text = 'currency = "USD"\n[columns]\ncode = "Item"\nquantity = "Qty"\n'
    (problem,) = problems_of(
        made_file(["Item", "Qty"], ["A1", 5], ["TOTAL", 5]), made_profile(tmp_path, text)
    )
    assert "'TOTAL' looks like a total" in problem


def test_a_price_per_piece_needs_to_know_the_pack(tmp_path: Path) -> None:
    """An unknown pack with a price per piece is refused, naming what to add."""
    profile = made_profile(tmp_path, PLAIN + '[prices]\nper = "piece"\n')
    (problem,) = problems_of(made_file(HEADINGS, ["T10", "Black", "M", 1, "bale", 2, None]), profile)
    assert 'Add bale = "72 each"' in problem


def test_a_sheet_that_is_not_there_names_those_that_are(tmp_path: Path) -> None:
    """The profile's sheet is looked for by name."""
    profile = made_profile(tmp_path, PLAIN + '[file]\nsheet = "Invoce"\n')
    assert problems_of(made_file(HEADINGS, TEE), profile) == [
        "there is no visible sheet 'Invoce', which the profile made reads. Did you mean 'Invoice'?"
    ]


def test_a_file_without_a_currency_takes_the_book_s(tmp_path: Path) -> None:
    """The book's currency serves where neither the file nor the profile names one."""
    profile = made_profile(tmp_path, PLAIN.replace('currency = "USD"', ""))
    assert read(made_file(HEADINGS, TEE), profile, default_currency="EUR").currency == "EUR"


def test_a_file_without_any_currency_is_refused(tmp_path: Path) -> None:
    """No currency is guessed."""
    profile = made_profile(tmp_path, PLAIN.replace('currency = "USD"', ""))
    assert problems_of(made_file(HEADINGS, TEE), profile) == [
        "no currency is given. Give it with --currency, or in the profile."
    ]


def test_a_cost_column_that_is_absent_is_said(plain: Profile) -> None:
    """A profile's discount or duty column that the file lacks is named in a remark."""
    remarks = read(made_file(HEADINGS, TEE), plain).remarks
    assert remarks == ("no column Disc %, Short, Damaged, Duty, Duty rate: taken as none",)


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
