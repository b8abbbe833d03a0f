"""What a pack says of its year: months told before the book, changed policies, gifts, a shop elsewhere."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import pytest
from month_shop import WORKED_BILLS, WORKED_EVENTS, WORKED_ITEMS, MonthShop, month_shop
from pack_shop import amount_of, pack_of, worked_pack, worked_shop

from ledger.book.bought import PurchaseRow
from ledger.book.connect import open_reading
from ledger.book.month_report import read_report
from ledger.book.month_tables import KnownItem
from ledger.book.preparer_lists import GIVEN_AWAY_WORDS
from ledger.book.shop import ABOUT_US_LINES, policies_for
from ledger.costing.tax_lines import POLICIES_OF_LINES, TaxLines
from ledger.views.month_pack import read_pack
from ledger.views.pack import Form, Pack
from ledger.views.pack_documents import purchases

TOLD = TaxLines(18000, 9000, 0, 300, 400, 20000, supplies_on_hand=500)
"""January and February, as the owner of the worked shop tells them; the book begins with March."""


def told_pack(*, whole_year: bool, told: TaxLines | None = TOLD) -> Pack:
    """The worked shop's pack with what was told of the months before the book."""
    with closing(open_reading(worked_shop().book)) as connection:
        report = read_report(connection, "2026-03", told)
        return read_pack(connection, report, whole_year=whole_year)


def labels(form: Form) -> str:
    """All a form says, in one text."""
    return " ".join([form.note, *(row.label for row in form.rows)])


def said(pack: Pack) -> str:
    """All the notes say, in one text."""
    return " ".join(str(cell) for row in pack.table("notes").rows for cell in row)


@pytest.mark.parametrize("whole_year", [False, True])
def test_the_years_lines_hold_what_was_told(whole_year: bool) -> None:  # noqa: FBT001
    """Line 35 as told, line 42 of both, beside what was told alone; also where the year is asked for."""
    pack = told_pack(whole_year=whole_year)
    figures = pack.figures()
    assert figures["year_line_35"] == figures["told_line_35"] == 18000
    assert figures["year_line_42"] == TOLD.line_42 + figures["tax_line_42"]
    assert figures["year_line_41"] == figures["tax_line_41"]
    assert "told of 2026-01 to before 2026-03, when the book began" in labels(pack.form("tax_lines"))


def test_the_years_lines_are_sums_of_what_was_told_and_what_the_book_has() -> None:
    """Each formula of the year's column comes to its figure."""
    pack = told_pack(whole_year=True)
    figures = [
        row.figures[1] for row in pack.form("tax_lines").rows if len(row.figures) > 1 and row.figures[1]
    ]
    worked_out = {one.name: amount_of(pack, one.terms) for one in figures if one.terms is not None}
    assert worked_out == {one.name: one.value for one in figures if one.terms is not None}
    assert {f"year_line_{number}" for number in range(35, 43)} <= worked_out.keys()


def test_the_notes_of_a_told_year_say_what_was_told() -> None:
    """And not that the year to date is unknown."""
    pack = told_pack(whole_year=True)
    assert "as the owner told them" in said(pack)
    assert "can be added up" not in said(pack)
    assert pack.form("tax_lines").headings == ("the book's months", "the tax year")
    assert pack.form("summary").headings == ("the book's months",)


def test_a_year_with_untold_months_claims_to_be_the_books_months_only() -> None:
    """There is no column of the tax year, and the notes say what is missing."""
    pack = told_pack(whole_year=True, told=None)
    assert pack.form("tax_lines").headings == ("the book's months",)
    assert "tell the figures of the months" in said(pack)


def test_a_policy_changed_after_a_close_is_explained(tmp_path: Path) -> None:
    """April's line 35 with the 12.67 of supplies that March's line 41 left out; the year's policies are named."""
    start = ("--first-month", "2026-03", "--policy", "freight=39", "--policy", "supplies=outside")
    shop = month_shop(tmp_path, WORKED_ITEMS, WORKED_BILLS, *start, today="2026-04-30")
    shop.post(WORKED_EVENTS)
    shop("close", "2026-03", "--yes")
    shop("policies", "supplies", "inside")
    pack = pack_of(shop, "2026-04")
    for text in (pack.form("tax_lines").note, said(pack)):
        assert "Line 35 is 317.24, line 41 of the month before was 304.57" in text
        assert "The difference of 12.67 comes from policies changed since: supplies." in text
        assert "2026-03 was closed by others" in text
        assert "supplies on hand inside lines 35 and 41" in text


def test_policies_that_did_not_change_are_not_spoken_of() -> None:
    """Nothing to explain in the worked month."""
    assert "changed since" not in worked_pack().form("tax_lines").note


@pytest.mark.parametrize(("choice", "is_said"), [("elsewhere", True), ("cost of goods", False)])
def test_samples_elsewhere_takes_donations_too_and_says_so(
    tmp_path: Path,
    choice: str,
    is_said: bool,  # noqa: FBT001
) -> None:
    """Both leave the lines at cost."""
    shop = month_shop(tmp_path, WORKED_ITEMS, "", "--first-month", "2026-01", "--policy", f"samples={choice}")
    shop.post(
        "date,event,sku,quantity,amount\n2026-01-05,receive,TEE,10,30.00\n2026-01-06,sample,TEE,1,\n"
        "2026-01-07,donate,TEE,2,\n"
    )
    pack = pack_of(shop, "2026-01")
    assert (GIVEN_AWAY_WORDS in pack.form("tax_lines").note) is is_said
    assert pack.figures()["given_away_elsewhere"] == (900 if is_said else 0)


def test_a_shop_elsewhere_is_told_what_the_book_holds_of_its_year(tmp_path: Path) -> None:
    """Since the book began, without a question that nobody there can answer, and without US policies."""
    shop = MonthShop(tmp_path, "2026-04-30")
    start = (
        "start",
        "--name",
        "Werkstatt",
        "--currency",
        "EUR",
        "--country",
        "DE",
        "--first-month",
        "2026-03",
    )
    shop(*start, "--yes")
    sheet = tmp_path / "items.csv"
    sheet.write_text(WORKED_ITEMS, encoding="utf-8")
    shop("items", "load", str(sheet), "--yes")
    shop.post("date,event,sku,quantity,amount\n2026-03-05,receive,TEE,10,30.00\n2026-04-06,sell,TEE,1,9.00\n")
    pack = pack_of(shop, "2026-04")
    summary = pack.form("summary")
    assert summary.headings == ("this month", "since the book began")
    assert "The tax year began in 2026-01, before the book." in summary.note
    assert pack.figures()["year_purchases"] == 3000
    assert "not told:" not in summary.note
    policies = {str(row[1]).split(":")[0] for row in pack.table("notes").rows if row[0] == "policy"}
    assert not policies & {"freight", "supplies", "samples"}
    assert pack.disagreements() == ()


def test_the_policies_of_us_lines_are_those_that_decide_about_lines() -> None:
    """A shop elsewhere is asked about none of them, one in the United States about all."""
    assert frozenset(POLICIES_OF_LINES) == ABOUT_US_LINES
    assert set(policies_for("US")) - set(policies_for("DE")) == set(POLICIES_OF_LINES)


def test_opening_stock_is_no_movement_on_the_screen_either(tmp_path: Path) -> None:
    """It stands under opening, as in the workbook, and not among what came in."""
    shop = month_shop(tmp_path, WORKED_ITEMS, "", "--first-month", "2026-01")
    shop.post(
        "date,event,sku,quantity,amount\n2026-01-01,opening,TEE,7,21.00\n2026-01-06,receive,TEE,2,8.00\n"
    )
    line = next(text for text in shop("close", "2026-01", "--show", "--skus").splitlines() if "TEE " in text)
    assert line.split() == ["TEE", "each", "7", "2", "0", "9", "21.00", "8.00", "0.00", "29.00"]
    table = pack_of(shop, "2026-01").table("value_by_sku")
    (row,) = table.rows
    assert row[table.place("opening_stock")] == 2100


def test_pieces_lost_as_an_expense_have_a_column() -> None:
    """Of ten bought one was lost, which is in what they cost; without such a loss there is no column."""
    head = ("2026-01-05", 1, "receipt", 1, "Alder Yard Blanks", "R-1", "TEE")
    row = PurchaseRow(*head, 10000, 0, 0, 1000, 3000, 0, 0, "", 0, 1)
    items = {"TEE": KnownItem("TEE", "Plain tee", "blank", "goods", "each")}
    table = purchases([row], items, "USD").shown()
    assert [each[table.place("expensed")] for each in table.rows] == [1000]
    assert [each[table.place("good")] for each in table.rows] == [10000]
    assert "expensed" not in {column.key for column in worked_pack().table("purchases").shown().columns}
