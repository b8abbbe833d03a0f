"""The count workbook: what it shows, what it hides, and that it reads back what was written into it."""

from __future__ import annotations

import datetime as dt
import io
import tempfile
from fractions import Fraction
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.errors import InputErrors, Problem, UsageError
from ledger.intake.count_sheet import CountRow, Layout, write_count_sheet
from ledger.intake.count_sheet_reading import CountedRow, read_count_sheet
from ledger.intake.read_csv import read_csv
from ledger.intake.read_file import read_file
from ledger.intake.read_xlsx import read_xlsx

SHOP = "Fernbank Shirts"
LAYOUTS: tuple[Layout, ...] = ("list", "sizes across")


def tee(colour: str, size: str, expected: int | None = 4000) -> CountRow:
    """Return a blank of one style."""
    sku = f"TEE-{colour[:3].upper()}-{size}"
    return CountRow(sku, f"Tee {colour} {size}", "blank", "each", "Tee", colour, size, expected)


ROWS = (
    tee("Black", "XL"),
    tee("Black", "S"),
    tee("Navy", "S", 2000),
    CountRow("CAP-1", "Cap", "blank", "each", expected_milli=1000),
    CountRow("INK-W", "=White ink", "ink", "mL", expected_milli=512_500),
)


def written(path: Path, layout: Layout, rows: tuple[CountRow, ...] = ROWS, *, blind: bool = True) -> Any:
    """Return the count workbook of the rows, as a spreadsheet program opens it."""
    write_count_sheet(path, rows, layout=layout, blind=blind, as_of=dt.date(2026, 3, 31), shop=SHOP)
    return openpyxl.load_workbook(path)


def cell_for(workbook: Any, sku: str) -> Any:
    """Return the cell into which an item is counted, found as a person would: by its headings."""
    for sheet in workbook.worksheets:
        headings: dict[str, int] = {}
        for row in sheet.iter_rows():
            texts = [str(cell.value) for cell in row]
            if "counted" in texts and "SKU" in texts:
                headings = {"SKU": texts.index("SKU"), "counted": texts.index("counted")}
            elif any(text.startswith("SKU of ") for text in texts):
                headings = {text: place for place, text in enumerate(texts) if place}
            if sku in texts and "counted" in headings:
                return row[headings["counted"]]
            if sku in texts:
                place = texts.index(sku)
                size = next(text for text, at in headings.items() if at == place).removeprefix("SKU of ")
                return row[headings[size]]
    raise AssertionError(sku)


def counted(workbook: Any, *, saved_as: str = "count.xlsx") -> tuple[CountedRow, ...]:
    """Return what is read of the workbook once it is saved."""
    stream = io.BytesIO()
    workbook.save(stream)
    return read_count_sheet(read_xlsx(saved_as, stream.getvalue()))


def faults(workbook: Any) -> tuple[Problem, ...]:
    """Return what is wrong with the filled-in workbook."""
    with pytest.raises(InputErrors) as caught:
        counted(workbook)
    return caught.value.problems


def texts(workbook: Any) -> list[str]:
    """Return everything that stands in the workbook."""
    return [
        str(cell.value)
        for sheet in workbook.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None
    ]


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("blind", [True, False])
def test_what_is_written_into_the_sheet_comes_back(layout: Layout, blind: bool, tmp_path: Path) -> None:  # noqa: FBT001
    """A partial count gives the items that were counted, zero among them, and no others."""
    workbook = written(tmp_path / "count.xlsx", layout, blind=blind)
    cell_for(workbook, "TEE-BLA-XL").value = 3
    cell_for(workbook, "TEE-NAV-S").value = 0
    cell_for(workbook, "INK-W").value = 487.25
    assert {row.sku: row.quantity for row in counted(workbook)} == {
        "TEE-BLA-XL": 3,
        "TEE-NAV-S": 0,
        "INK-W": Fraction("487.25"),
    }


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_sheet_left_blank_is_no_count(layout: Layout, tmp_path: Path) -> None:
    """A sheet with expected quantities and nothing counted does not pass for a count of them."""
    (fault,) = faults(written(tmp_path / "count.xlsx", layout, blind=False))
    assert "nothing was counted" in fault.what


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_blind_count_shows_no_expected_quantity(layout: Layout, tmp_path: Path) -> None:
    """Nobody can copy what the book expects."""
    shown = texts(written(tmp_path / "count.xlsx", layout))
    assert not {"512.5", "expected"} & set(shown)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_expected_quantities_are_shown_where_asked(layout: Layout, tmp_path: Path) -> None:
    """A count that is not blind shows what the book expects beside it."""
    assert "512.5" in texts(written(tmp_path / "count.xlsx", layout, blind=False))


def test_each_kind_has_its_sheet(tmp_path: Path) -> None:
    """Blanks and inks are counted in different places."""
    assert written(tmp_path / "count.xlsx", "list").sheetnames == ["Blank", "Ink"]


def test_kinds_that_make_one_title_stay_apart(tmp_path: Path) -> None:
    """What a sheet's title cannot hold does not stop the writing."""
    rows = tuple(
        CountRow(f"S{at}", "x", kind, "each") for at, kind in enumerate(("a/b", "a:b", "[]", "k" * 40))
    )
    assert written(tmp_path / "count.xlsx", "list", rows).sheetnames == [
        "A b",
        "A b 2",
        "Items",
        "K" + "k" * 30,
    ]


def test_sizes_stand_in_their_order_across(tmp_path: Path) -> None:
    """Small comes before extra large, and what is not made is struck out."""
    sheet = written(tmp_path / "count.xlsx", "sizes across")["Blank"]
    block = [[cell.value for cell in row[:4]] for row in sheet.iter_rows(min_row=4, max_row=6)]
    assert block == [
        ["Tee", "each", "S", "XL"],
        ["Black", "counted", None, None],
        ["Navy", "counted", None, "–"],
    ]


def test_items_without_a_size_are_listed_below_the_blocks(tmp_path: Path) -> None:
    """A cap of one size is counted on the same sheet as the shirts."""
    workbook = written(tmp_path / "count.xlsx", "sizes across")
    cell_for(workbook, "CAP-1").value = 1
    assert [row.sku for row in counted(workbook)] == ["CAP-1"]


def test_one_size_on_two_ladders_is_counted_apart(tmp_path: Path) -> None:
    """Two items of the same style, colour and size each keep a cell of their own."""
    rows = (tee("Black", "S"), CountRow("KID-BLA-S", "Kids", "blank", "each", "Tee", "Black", "s"))
    workbook = written(tmp_path / "count.xlsx", "sizes across", rows)
    cell_for(workbook, "TEE-BLA-S").value = 1
    cell_for(workbook, "KID-BLA-S").value = 2
    assert {row.sku: row.quantity for row in counted(workbook)} == {"TEE-BLA-S": 1, "KID-BLA-S": 2}


def test_the_skus_beside_a_block_are_not_printed(tmp_path: Path) -> None:
    """The page ends before the codes that the reading needs."""
    sheet = written(tmp_path / "count.xlsx", "sizes across")["Blank"]
    last = openpyxl.utils.range_boundaries(sheet.print_area.replace("$", "").split("!")[1])[2]
    codes = [cell.column for row in sheet.iter_rows() for cell in row if str(cell.value).startswith("TEE-")]
    assert min(codes) > last


@pytest.mark.parametrize(("layout", "orientation"), [("list", "portrait"), ("sizes across", "landscape")])
def test_the_workbook_is_made_for_paper(layout: Layout, orientation: str, tmp_path: Path) -> None:
    """Paper, orientation, width and repeated headings are set."""
    path = tmp_path / "count.xlsx"
    write_count_sheet(
        path, ROWS, layout=layout, blind=True, as_of=dt.date(2026, 3, 31), shop=SHOP, paper="A4"
    )
    setup = openpyxl.load_workbook(path)["Ink" if layout == "list" else "Blank"]
    assert (
        setup.page_setup.paperSize,
        setup.page_setup.orientation,
        setup.page_setup.fitToWidth,
        setup.print_title_rows is not None,
    ) == (9, orientation, 1, True)


@pytest.mark.parametrize(("layout", "cell"), [("list", "A5"), ("sizes across", "C4")])
def test_the_headings_stay_in_view(layout: Layout, cell: str, tmp_path: Path) -> None:
    """The rows above the first item do not scroll away."""
    assert written(tmp_path / "count.xlsx", layout)["Blank"].freeze_panes == cell


def test_no_text_of_the_catalogue_is_a_formula(tmp_path: Path) -> None:
    """A name that begins with = is written as text."""
    sheet = written(tmp_path / "count.xlsx", "list")["Ink"]
    types = {cell.value: cell.data_type for row in sheet.iter_rows() for cell in row}
    assert types["=White ink"] == "s"


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("a few", "cannot be read"),
        (-1, "below zero"),
        (1.0005, "finer than a thousandth"),
        (10**12, "larger than a book"),
        (True, "stands where a number should"),
        (dt.date(2026, 1, 2), "the date 2026-01-02"),
        ("#N/A", "error #N/A"),
    ],
)
def test_what_is_no_count_is_told_with_its_cell(
    layout: Layout, value: object, words: str, tmp_path: Path
) -> None:
    """A word, a negative number and the like are refused where they stand."""
    workbook = written(tmp_path / "count.xlsx", layout)
    cell = cell_for(workbook, "TEE-NAV-S")
    cell.value = value
    (fault,) = faults(workbook)
    assert (fault.where, words in fault.what) == (f"sheet Blank, cell {cell.coordinate}", True), fault


def test_a_count_where_nothing_is_made_is_refused(tmp_path: Path) -> None:
    """A number over a struck-out cell has no item it could be of."""
    workbook = written(tmp_path / "count.xlsx", "sizes across")
    workbook["Blank"]["D6"] = 2
    (fault,) = faults(workbook)
    assert (fault.where, "no SKU stands for this cell" in fault.what) == ("sheet Blank, cell D6", True)


def test_all_wrong_cells_come_at_once(tmp_path: Path) -> None:
    """Wrong cells on two sheets are two problems of one list."""
    workbook = written(tmp_path / "count.xlsx", "sizes across")
    cell_for(workbook, "TEE-NAV-S").value = -1
    cell_for(workbook, "INK-W").value = "half"
    assert [fault.where.split(",")[0] for fault in faults(workbook)] == ["sheet Blank", "sheet Ink"]


def test_an_item_counted_twice_is_refused() -> None:
    """Two shelves of one item are added up by the maker, not by the program."""
    with pytest.raises(InputErrors, match=r"tee-1 was counted twice: also in row 2, column counted"):
        read_count_sheet(read_csv("count.csv", b"SKU,counted\nTEE-1,2\ntee-1,3\n"))


def test_a_plain_list_of_ones_own_is_read() -> None:
    """SKU and quantity, in a csv file with decimal commas, are enough."""
    file = read_csv("count.csv", b"quantity;SKU\n2,5;INK-W\n;TEE-1\n")
    (row,) = read_count_sheet(file, decimal_comma=True)
    assert (row.where, row.sku, row.quantity) == ("row 2, column quantity", "INK-W", Fraction(5, 2))


def test_an_item_called_expected_is_counted() -> None:
    """Only a row without SKUs is taken for what the book expects."""
    (row,) = read_count_sheet(read_csv("count.csv", b"name,SKU,counted\nExpected,E-1,2\n"))
    assert row.sku == "E-1"


def test_a_file_without_headings_is_no_count() -> None:
    """A file of something else is told apart from a count of nothing."""
    with pytest.raises(InputErrors, match="no headings SKU and counted"):
        read_count_sheet(read_csv("x.csv", b"a,b\n1,2\n"))


def test_a_count_sheet_of_nothing_is_not_written(tmp_path: Path) -> None:
    """Where no item was chosen there is no file."""
    with pytest.raises(UsageError, match="nothing to count"):
        written(tmp_path / "count.xlsx", "list", ())


def test_a_count_sheet_never_overwrites(tmp_path: Path) -> None:
    """A sheet that may be filled in already stays as it is."""
    path = tmp_path / "count.xlsx"
    written(path, "list")
    with pytest.raises(UsageError, match="is there already"):
        written(path, "list")


WORDS = st.text("ABCSXLabcs012 -/=+", min_size=1, max_size=8).map(str.strip).filter(bool)


@st.composite
def counts(draw: st.DrawFn) -> list[tuple[CountRow, Fraction | None]]:
    """Items with different SKUs, and what is there of each; None where it is not counted."""
    skus = draw(
        st.lists(WORDS, min_size=1, max_size=12, unique_by=lambda sku: " ".join(sku.casefold().split()))
    )
    return [
        (
            CountRow(
                sku,
                name=draw(WORDS),
                kind=draw(st.sampled_from(["blank", "ink"])),
                unit="each",
                style=draw(st.sampled_from(["", "Tee", "S", "=Hood"])),
                colour=draw(st.sampled_from(["", "Black", "expected", "Navy"])),
                size=draw(st.sampled_from(["", "S", "s", "XL", "28", "one size"])),
                expected_milli=draw(st.none() | st.integers(0, 10**9)),
            ),
            draw(st.none() | st.integers(0, 10**9).map(lambda milli: Fraction(milli, 1000))),
        )
        for sku in skus
    ]


@settings(max_examples=40, deadline=None)
@given(counts(), st.sampled_from(LAYOUTS), st.booleans())
def test_any_count_comes_back(
    items: list[tuple[CountRow, Fraction | None]],
    layout: Layout,
    blind: bool,  # noqa: FBT001
) -> None:
    """Whatever styles, colours and sizes are called, each quantity comes back under its own SKU."""
    there = {row.sku: quantity for row, quantity in items if quantity is not None}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "count.xlsx"
        rows = tuple(row for row, _ in items)
        workbook = written(path, layout, rows, blind=blind)
        by_sku = sku_cells(workbook)
        for sku, quantity in there.items():
            by_sku[sku].value = float(quantity)
        workbook.save(path)
        if there:
            assert {row.sku: row.quantity for row in read_count_sheet(read_file(path))} == there
        assert set(by_sku) == {row.sku for row in rows}


def sku_cells(workbook: Any) -> dict[str, Any]:
    """Return the cell to count into of every SKU in the workbook.

    It goes by the sheet's shape alone: in a block the SKUs stand as far right of their cells as the
    headings 'SKU of …' stand of the sizes; in a list they stand in the first column.
    """
    found = {}
    for sheet in workbook.worksheets:
        shift, width, column = 0, 0, 0
        for row in sheet.iter_rows(min_row=4):
            values = [cell.value for cell in row]
            marks = [at for at, value in enumerate(values) if str(value).startswith("SKU of ")]
            if marks:
                shift, width, column = marks[0] - 2, len(marks), 0
            elif values[0] == "SKU" and "counted" in values:
                shift, width, column = 0, 0, values.index("counted")
            elif column and values[0]:
                found[values[0]] = row[column]
            elif width:
                found |= {
                    values[at + shift]: row[at]
                    for at in range(2, 2 + width)
                    if at + shift < len(values) and values[at + shift]
                }
    return found
