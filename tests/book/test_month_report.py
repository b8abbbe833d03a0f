"""Reports of months from a book: the worked month, spans, the year to date, the roll-forward."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing

import pytest
from book_builder import Book, disarm, line
from documents_builder import finished, leave, make
from month_shop import WORKED_BILLS, WORKED_EVENTS, WORKED_ITEMS, MonthShop, month_shop

from ledger.book.connect import open_reading
from ledger.book.month_report import MonthReport, read_report, read_span, read_statement
from ledger.book.roll_forward import ItemRow, read_roll_forward
from ledger.costing.invariants import MADE_IN_JOBS, USED_IN_JOBS, rows_by_group, total_row
from ledger.costing.tax_lines import TaxLines
from ledger.errors import BookDamaged, Refused


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> MonthShop:
    """The worked month, whose late freight is in the opening stock."""
    start = ("--first-month", "2026-03", "--policy", "freight=39", "--policy", "supplies=outside")
    shop = month_shop(tmp_path_factory.mktemp("worked"), WORKED_ITEMS, WORKED_BILLS, *start)
    shop.post(WORKED_EVENTS)
    return shop


@pytest.fixture(scope="module")
def march(worked: MonthShop) -> MonthReport:
    """Its report."""
    return worked.report("2026-03")


def test_worked_month_from_the_book(march: MonthReport) -> None:
    """Every line; the late bill's 10.00 on stock is opening stock, its 10.00 on used stock is not there."""
    total = march.statement.total
    assert (total.opening_stock, total.purchases, total.charges_in, total.labour) == (
        20500,
        32200,
        3220,
        1986,
    )
    assert (total.own_use, total.closing_stock, total.supplies_on_hand) == (320, 31724, 1267)
    assert (total.cost_of_goods_sold, total.used_in_jobs) == (26862 - 1000, 23514)
    of_which = total.of_which
    assert (of_which.pieces_sold, of_which.samples, of_which.spoilage) == (22180, 520, 500)
    assert (of_which.count_differences, of_which.supplies_when_bought) == (682, 1980)


def test_worked_month_by_kind_from_the_book(march: MonthReport) -> None:
    """What jobs took of each kind, and what they made, without the labour."""
    assert march.statement.kind("blank").used_in_jobs == 17595
    assert march.statement.kind("finished").made_in_jobs == 23514
    assert march.statement.kind("paper").closing_stock == 1267


def test_worked_month_on_tax_lines(march: MonthReport) -> None:
    """By the recorded policies; the freight that is opening stock here is not on line 39."""
    assert march.tax is not None
    lines = march.tax.by_number()
    assert lines == {
        "35": 20000,
        "36": 28880,
        "37": 1986,
        "38": 2533,
        "39": 2920,
        "40": 56319,
        "41": 30457,
        "42": 25862,
    }


def test_an_untold_policy_is_named(march: MonthReport) -> None:
    """Samples were never told about."""
    assert march.policies is not None
    assert march.policies.not_told == ("samples",)


def test_the_year_to_date_waits_for_the_months_before_the_book(march: MonthReport) -> None:
    """The tax year began in January, the book in March."""
    assert march.year.lines is None
    assert "2026-01" in march.year.missing


def test_told_months_complete_the_year(worked: MonthShop) -> None:
    """Their line 41 is the book's opening stock, their line 35 the year's."""
    told = TaxLines(18000, 9000, 0, 300, 400, 20000, supplies_on_hand=500)
    with closing(open_reading(worked.book)) as connection:
        report = read_report(connection, "2026-03", told, told_41=18000)
    assert report.year.lines is not None
    assert report.year.lines.line_42 == told.line_42 + 25862
    assert report.opening is not None
    assert report.opening.agrees


@pytest.fixture(scope="module")
def policies_changed(tmp_path_factory: pytest.TempPathFactory) -> MonthShop:
    """Supplies stood outside lines 35 and 41 when March was closed, and stand inside since."""
    start = ("--first-month", "2026-03", "--policy", "freight=39", "--policy", "supplies=outside")
    shop = month_shop(
        tmp_path_factory.mktemp("policies"), WORKED_ITEMS, WORKED_BILLS, *start, today="2026-05-31"
    )
    shop.post(WORKED_EVENTS)
    shop("close", "2026-03", "--yes")
    shop("policies", "supplies", "inside")
    return shop


def test_a_changed_policy_is_named_with_what_it_moves(policies_changed: MonthShop) -> None:
    """April's line 35 has the supplies that March's line 41 left out, 12.67 of them."""
    april = policies_changed.report("2026-04")
    assert (april.changed_policies, april.other_policies_in) == (("supplies",), ("2026-03",))
    assert april.month_before is not None
    assert (april.month_before.line_35, april.month_before.last_line_41) == (31724, 30457)


def test_a_policy_changed_earlier_in_the_year_is_told_of_the_year(policies_changed: MonthShop) -> None:
    """May follows April under the same policies; March stood on other lines."""
    may = policies_changed.report("2026-05")
    assert (may.changed_policies, may.other_policies_in) == ((), ("2026-03",))
    assert may.month_before is not None
    assert may.month_before.agrees


def test_a_closed_month_keeps_its_policies_and_has_none_before(policies_changed: MonthShop) -> None:
    """March is the book's first month."""
    march = policies_changed.report("2026-03")
    assert (march.changed_policies, march.other_policies_in, march.month_before) == ((), (), None)


@pytest.fixture(scope="module")
def rows(worked: MonthShop) -> Iterator[list[ItemRow]]:
    """The worked month's roll-forward."""
    with closing(open_reading(worked.book)) as connection:
        yield read_roll_forward(connection, "2026-03", "2026-03")


def movements(row: ItemRow) -> dict[str, tuple[int, int]]:
    """What moved of an item, by account."""
    return {each.account: (each.quantity_milli, each.amount) for each in row.rolled.movements}


def test_roll_forward_of_the_shirts(rows: list[ItemRow]) -> None:
    """Opening stock as it was entered, receipts in, own use, jobs and the count out, to 63 on hand."""
    (tee,) = [row for row in rows if row.sku == "TEE"]
    assert (tee.rolled.opening_quantity_milli, tee.rolled.opening_amount) == (40000, 12800)
    assert movements(tee) == {
        "purchases": (80000, 25600),
        "charges": (0, 2560),
        "own use": (-1000, -320),
        USED_IN_JOBS: (-54000, -17595),
        "count differences": (-2000, -682),
    }
    assert (tee.rolled.closing_quantity_milli, tee.rolled.closing_amount) == (63000, 22363)


def test_roll_forward_of_what_jobs_made(rows: list[ItemRow]) -> None:
    """51 pieces come out of the job, one of them to spoilage; 45 are sold and one comes back."""
    (fin,) = [row for row in rows if row.sku == "FIN-M"]
    found = movements(fin)
    assert (found[MADE_IN_JOBS], found["labour"]) == ((51000, 23514), (0, 1986))
    assert (found["pieces sold"], found["spoilage"]) == ((-44000, -22180), (-1000, -500))
    assert (fin.rolled.closing_quantity_milli, fin.rolled.closing_amount) == (15000, 7500)


def test_roll_forward_sums_up_to_the_statement(rows: list[ItemRow], march: MonthReport) -> None:
    """By kind and in all, where what jobs took and made cancels out."""
    rolled = [row.rolled for row in rows]
    total = {each.account: each.amount for each in total_row(rolled).movements}
    assert total[USED_IN_JOBS] + total[MADE_IN_JOBS] == 0
    assert total_row(rolled).closing_amount == march.statement.total.closing_stock
    by_kind = rows_by_group(rolled, {row.sku: row.kind for row in rows})
    assert {row.name: row.closing_amount for row in by_kind} == {
        "blank": 22363,
        "chemical": 0,
        "finished": 7500,
        "paper": 1267,
        "vinyl": 594,
    }


def test_a_span_of_months_begins_and_ends_with_its_ends(book: Book) -> None:
    """January buys, February sells: the span opens with nothing and closes with what February left."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    book.leave("sale", ("TEE-SAND-M", 4), on="02-03")
    span = read_span(book.connection, "2026-01", "2026-02").total
    assert (span.opening_stock, span.purchases, span.closing_stock) == (0, 1000, 600)
    assert span.of_which.pieces_sold == 400
    february = read_statement(book.connection, "2026-02").total
    assert (february.opening_stock, february.purchases, february.closing_stock) == (1000, 0, 600)


def test_a_month_in_which_nothing_moved_keeps_its_stock(book: Book) -> None:
    """Stock of January opens and closes March."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    total = read_statement(book.connection, "2026-03").total
    assert (total.opening_stock, total.closing_stock, total.cost_of_goods_sold) == (1000, 1000, 0)


def test_an_item_that_jobs_make_and_use_is_told_apart(book: Book) -> None:
    """A shirt that is printed twice: what the second job took is not netted against what the first made."""
    finished(book.connection, "ONCE", "TWICE")
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    make(book.connection, ("ONCE", 10), ("TEE-SAND-M", 10), on="01-06", labour_cents=500)
    leave(book.connection, "use", ("ONCE", 1), on="01-07")
    make(book.connection, ("TWICE", 4), ("ONCE", 4), on="01-08")
    statement = read_statement(book.connection, "2026-01")
    one = statement.kind("finished")
    assert (one.made_in_jobs, one.used_in_jobs, one.labour) == (1000 + 600, 600, 500)
    (row,) = [row for row in read_roll_forward(book.connection, "2026-01", "2026-01") if row.sku == "ONCE"]
    assert movements(row) == {
        "labour": (0, 500),
        MADE_IN_JOBS: (10000, 1000),
        "used": (-1000, -150),
        USED_IN_JOBS: (-4000, -600),
    }


def test_year_to_date_of_a_year_in_the_book(book: Book) -> None:
    """The book's first month is the tax year's: line 35 is January's opening, line 41 March's closing."""
    leave(book.connection, "opening", ("TEE-SAND-M", 5), on="01-01")
    book.receive(line("TEE-SAND-M", 10, 1000), on="02-05")
    book.leave("sale", ("TEE-SAND-M", 4), on="03-03")
    lines = read_report(book.connection, "2026-03").year.lines
    assert lines is not None
    assert (lines.line_35, lines.line_36, lines.line_41, lines.line_42) == (500, 1000, 1100, 400)


def test_last_years_41_is_this_years_35(book: Book) -> None:
    """A book that holds both years compares them itself."""
    disarm(book.connection)
    book.connection.execute("UPDATE shop SET tax_year_starts = '03'")
    book.receive(line("TEE-SAND-M", 10, 1000), on="02-05")
    report = read_report(book.connection, "2026-03")
    assert report.opening is not None
    assert (report.opening.line_35, report.opening.last_line_41, report.opening.agrees) == (1000, 1000, True)


def test_a_shop_elsewhere_has_no_tax_lines(book: Book) -> None:
    """The statement is the same, the lines of a US form are left out."""
    disarm(book.connection)
    book.connection.execute("UPDATE shop SET country = 'DE'")
    book.receive(line("TEE-SAND-M", 10, 1000), on="02-05")
    report = read_report(book.connection, "2026-02")
    assert (report.tax, report.policies, report.opening, report.year.lines) == (None, None, None, None)
    assert report.year.statement is not None


def test_a_month_before_the_book_is_refused(book: Book) -> None:
    """With the first month named."""
    with pytest.raises(Refused, match="2026-01"):
        read_report(book.connection, "2025-12")


def test_a_span_the_wrong_way_round_is_refused(book: Book) -> None:
    """The earlier month comes first."""
    with pytest.raises(Refused, match="earlier"):
        read_span(book.connection, "2026-02", "2026-01")


def test_a_broken_month_total_is_never_reported(book: Book) -> None:
    """A cent changed by hand in the file, and neither statement nor roll-forward is given."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    disarm(book.connection)
    book.connection.execute("UPDATE month_total SET amount = amount - 1 WHERE account = 'purchases'")
    with pytest.raises(BookDamaged, match="TEE-SAND-M"):
        read_statement(book.connection, "2026-01")
    with pytest.raises(BookDamaged, match="TEE-SAND-M"):
        read_roll_forward(book.connection, "2026-01", "2026-01")


def test_open_and_closed_months_are_told_apart(book: Book) -> None:
    """An open month is a draft."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    book.close("2026-01")
    assert read_report(book.connection, "2026-01").is_closed
    assert not read_report(book.connection, "2026-02").is_closed


def test_a_job_of_a_closed_month_undone_later_is_reported_where_it_was_undone(book: Book) -> None:
    """What the job took comes back and what it made goes: both rows are negative in that month."""
    finished(book.connection, "ONCE")
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    job = make(book.connection, ("ONCE", 4), ("TEE-SAND-M", 4), on="01-06", labour_cents=200)
    book.close("2026-01")
    book.undo(job)
    statement = read_statement(book.connection, "2026-03")
    blank, once = statement.kind("blank"), statement.kind("finished")
    assert (blank.used_in_jobs, once.made_in_jobs, once.labour) == (-400, -400, -200)
    assert (statement.total.closing_stock, statement.total.cost_of_goods_sold) == (1000, 0)
    rows = {row.sku: row for row in read_roll_forward(book.connection, "2026-03", "2026-03")}
    assert movements(rows["TEE-SAND-M"]) == {USED_IN_JOBS: (4000, 400)}
    assert movements(rows["ONCE"]) == {MADE_IN_JOBS: (-4000, -400), "labour": (0, -200)}
