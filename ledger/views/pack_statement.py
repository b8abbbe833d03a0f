"""The pack's forms: the statement, the tax lines, where the cost went, and the checks that tie them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import fields

from ledger.book.month_report import MonthReport
from ledger.book.preparer_lists import GIVEN_AWAY_WORDS
from ledger.costing.month_statement import (
    GOODS,
    OF_WHICH_ACCOUNTS,
    SUPPLIES_WHEN_BOUGHT,
    SUPPLIES_WHEN_USED,
    CostOfGoodsSold,
    MonthStatement,
    StatementLines,
)
from ledger.costing.tax_lines import YEAR_TO_DATE, TaxLines, TaxPolicies, YearToDate, policy_words, schedule_c
from ledger.views import figures
from ledger.views.pack import Figure, Form, FormRow, Named, Ref, SumWhere, Table, Terms, TotalOf
from ledger.views.pack_stock import BY_KIND, BY_SKU

IN_LINES = ("opening_stock", "purchases", "charges_in", "labour")
OUT_LINES = ("sent_back", "own_use", "closing_stock")
OF_WHICH = tuple(each.name for each in fields(CostOfGoodsSold))

WORDS = {
    "opening_stock": "Opening stock",
    "purchases": "Purchases",
    "charges_in": "Freight, duty and fees on them",
    "labour": "Labour paid to others",
    "sent_back": "less: sent back to suppliers",
    "own_use": "less: own use",
    "closing_stock": "less: closing stock",
    "count_differences": "Count differences, losses less gains",
    "write_downs": "Write-downs",
    "late_charges_on_used": "Late charges on stock already used",
    "supplies_when_bought": "Supplies when bought",
}

YEAR = "year_"
"""What the names of the year to date begin with."""


def _word(name: str) -> str:
    return WORDS.get(name, name.replace("_", " ").capitalize())


def _amount(lines: StatementLines, name: str) -> int:
    return int(getattr(lines.of_which if name in OF_WHICH_ACCOUNTS else lines, name))


def _row(name: str, lines: StatementLines, year: StatementLines | None) -> FormRow:
    """Return a line that is the total of its column by kind; of the year to date it is told."""
    own = Figure(_amount(lines, name), Terms((TotalOf(BY_KIND, name),)), name)
    told = None if year is None else Figure(_amount(year, name), name=YEAR + name)
    return FormRow(_word(name), (own, told))


def summary(report: MonthReport, statement: MonthStatement, sales: Table, year_sales: Table | None) -> Form:
    """Return the statement of a month, beside the tax year to date where that is known.

    ``statement`` is the report's own, or the whole year's; the year to date is left out then.
    """
    whole_year = statement is not report.statement
    year = None if whole_year or report.year.statement is None else report.year.statement.total
    total = statement.total
    rows = [
        FormRow("What came in, less what is left"),
        *(_row(name, total, year) for name in (*IN_LINES, *OUT_LINES)),
        _result("cost_of_goods_sold", "Cost of goods sold", total, year, IN_LINES, OUT_LINES),
        FormRow("Where it went"),
        *(_row(name, total, year) for name in OF_WHICH),
        _result("cost_by_account", "Cost of goods sold", total, year, OF_WHICH, ()),
        FormRow("What customers paid"),
        *_earned(total, year, sales, year_sales if year is not None else None),
        FormRow("Of closing stock"),
        *_of_closing(total, year),
    ]
    headings = (span_words(report),) if whole_year else ("this month", report.year.statement_words)
    note = (
        "Every sum is a formula. The figures by SKU, the journal and the documents stand on the next sheets."
    )
    if report.year.missing and not whole_year:
        note = f"{note} Year to date is not told: {report.year.missing}"
    if year is not None and report.year.statement_words != YEAR_TO_DATE:
        note = f"{note} The tax year began in {report.year.from_month}, before the book."
    if whole_year:
        rows = [FormRow(row.label, row.figures[:1], row.remark, row.is_result) for row in rows]
    return Form("summary", "Summary", note, headings, tuple(rows))


def span_words(report: MonthReport) -> str:
    """Return what the figures of a year's pack are: the year, or less of it where the book began within it."""
    return "the year" if report.shop.first_month <= report.year.from_month else "the book's months"


def _result(
    name: str,
    label: str,
    total: StatementLines,
    year: StatementLines | None,
    plus: Sequence[str],
    minus: Sequence[str],
) -> FormRow:
    """Return the row that sums up named rows above it, for the month and for the year to date."""
    own = Figure(total.cost_of_goods_sold, _named(plus, minus), name)
    if year is None:
        return FormRow(label, (own, None), is_result=True)
    names = [[YEAR + one for one in some] for some in (plus, minus)]
    return FormRow(label, (own, Figure(year.cost_of_goods_sold, _named(*names), YEAR + name)), is_result=True)


def _named(plus: Iterable[str], minus: Iterable[str] = ()) -> Terms:
    return Terms(tuple(map(Named, plus)), tuple(map(Named, minus)))


_EARNED = (
    ("sales", "Sales less returns and refunds", "amount"),
    ("shipping_charged", "Shipping charged", "shipping"),
    ("channel_fees", "Fees of marketplaces and card payments", "fees"),
)


def _earned(
    total: StatementLines, year: StatementLines | None, sales: Table, year_sales: Table | None
) -> list[FormRow]:
    rows = []
    for name, label, column in _EARNED:
        own = Figure(sales.total(column), Terms((TotalOf(sales.key, column),)), name)
        told = None if year_sales is None else Figure(year_sales.total(column), name=YEAR + name)
        rows.append(FormRow(label, (own, told)))
    results = (
        ("gross_profit", "Sales less cost of goods sold", ("sales",), ("cost_of_goods_sold",)),
        (
            "left_after_fees",
            "With shipping charged, less fees",
            ("gross_profit", "shipping_charged"),
            ("channel_fees",),
        ),
    )
    known = {name: _figure_values(rows, place) for place, name in enumerate(("", YEAR))}
    known[""]["cost_of_goods_sold"] = total.cost_of_goods_sold
    if year is not None:
        known[YEAR]["year_cost_of_goods_sold"] = year.cost_of_goods_sold
    for name, label, plus, minus in results:
        cells: list[Figure | None] = []
        for prefix, values in known.items():
            if prefix and year_sales is None:
                cells.append(None)
                continue
            names = [[prefix + one for one in some] for some in (plus, minus)]
            value = sum(values[one] for one in names[0]) - sum(values[one] for one in names[1])
            values[prefix + name] = value
            cells.append(Figure(value, _named(*names), prefix + name))
        rows.append(FormRow(label, tuple(cells), is_result=True))
    return rows


def _figure_values(rows: Iterable[FormRow], place: int) -> dict[str, int]:
    cells = [row.figures[place] for row in rows]
    return {cell.name: cell.value for cell in cells if cell is not None}


def _of_closing(total: StatementLines, year: StatementLines | None) -> list[FormRow]:
    where = SumWhere(BY_SKU, "closing_stock", "reported_as", SUPPLIES_WHEN_USED)
    supplies = Figure(total.supplies_on_hand, Terms((where,)), "supplies_on_hand")
    under_way = Figure(total.under_way, name="under_way")
    cells = (None if year is None else Figure(year.supplies_on_hand, name=YEAR + "supplies_on_hand"),)
    return [
        FormRow("Supplies on hand", (supplies, *cells)),
        FormRow("Under way and already the shop's", (under_way, None)),
    ]


GROUPS = ((GOODS, "goods"), (SUPPLIES_WHEN_USED, "supplies_used"), (SUPPLIES_WHEN_BOUGHT, "supplies_bought"))
"""The classes that tax lines are made of, and what the names of their figures begin with."""

_GROUP_LINES = (
    *("opening_stock", "purchases", "charges_in", "labour", "made_in_jobs", "used_in_jobs"),
    *("sent_back", "own_use", "samples", "donations", "closing_stock"),
)


def tax_form(report: MonthReport, statement: MonthStatement, lines: TaxLines) -> Form:
    """Return lines 35 to 42 by the recorded policies, from the figures of each class beneath them.

    Args:
        report: what the month comes to, with the tax year to date.
        statement: the report's own, or that of the tax year's months in the book.
        lines: what the statement comes to on the form.
    """
    assert report.policies is not None
    terms = _line_terms(report.policies)
    year, is_year = _year_figures(report, statement), statement is not report.statement
    rows = []
    for line in schedule_c(lines):
        name = f"line_{line.number}"
        cells = (Figure(line.amount, terms[line.number], f"tax_{name}"), year.get(line.number))
        rows.append(FormRow(f"{line.number}  {line.text}", cells, is_result=line.number in {"40", "42"}))
    away = Figure(lines.given_away, _given_away(report.policies), "given_away_elsewhere")
    rows.append(FormRow("Samples and donations deducted elsewhere, at cost", (away, None)))
    rows += _told_rows(report.year) if year else ()
    rows.append(FormRow("The figures the lines are made of"))
    for group, prefix in GROUPS:
        rows.append(FormRow(group.capitalize()))
        rows += [_group_row(group, prefix, name, statement) for name in _GROUP_LINES]
    headings: tuple[str, ...] = (span_words(report) if is_year else "this month",)
    if year:
        headings = (*headings, "the tax year" if is_year else "tax year to date")
    else:
        rows = [FormRow(row.label, row.figures[:1], row.remark, row.is_result) for row in rows]
    return Form("tax_lines", "Tax lines", _tax_note(report, report.policies), headings, tuple(rows))


def _year_figures(report: MonthReport, statement: MonthStatement) -> dict[str, Figure]:
    """Return the tax year's lines by number; of a year's pack only where more than its own months is told.

    Beside the lines of the book's months they are sums of these and of what was told; beside those of a single
    month they are told.
    """
    is_year = statement is not report.statement
    if report.year.lines is None or (is_year and report.year.told is None):
        return {}
    found = {}
    for line in schedule_c(report.year.lines):
        terms = _year_terms(line.number)
        if is_year and terms is None:
            own, told = Named(f"tax_line_{line.number}"), Named(f"told_line_{line.number}")
            ends = {"35": (told,), "41": (own,)}
            terms = Terms(ends.get(line.number, (told, own)))
        found[line.number] = Figure(line.amount, terms, f"{YEAR}line_{line.number}")
    return found


def _told_rows(year: YearToDate) -> list[FormRow]:
    """Return what the owner told of the tax year's months before the book; nothing where it holds them all."""
    if year.told is None:
        return []
    before = [line for line in schedule_c(year.told) if _year_terms(line.number) is None]
    return [
        FormRow(told_words(year)),
        *(
            FormRow(
                f"  {line.number}  {line.text}", (None, Figure(line.amount, name=f"told_line_{line.number}"))
            )
            for line in before
        ),
    ]


def told_words(year: YearToDate) -> str:
    """Return that a tax year's figures hold what was told of the months before the book."""
    began = year.statement.first_month if year.statement is not None else ""
    return f"In the tax year, told of {year.from_month} to before {began}, when the book began"


def _tax_note(report: MonthReport, policies: TaxPolicies) -> str:
    said = ["Schedule C (Form 1040), Part III, by the policies on the sheet Notes.", *policy_notes(report)]
    if policies.samples_elsewhere:
        said.append(GIVEN_AWAY_WORDS)
    if policies.not_told:
        said.append(f"Not told: {', '.join(policies.not_told)}; taken as the first choice.")
    return " ".join(said)


def policy_notes(report: MonthReport) -> list[str]:
    """Return what to say where a policy that decides about lines was changed within the year's months."""
    said, before = [], report.month_before
    if report.changed_policies and before is not None and before.agrees:
        said.append(f"Changed since the month before: {', '.join(report.changed_policies)}.")
    elif report.changed_policies and before is not None:
        amounts = [
            figures.money(one, report.shop.currency)
            for one in (before.line_35, before.last_line_41, before.line_35 - before.last_line_41)
        ]
        said.append(
            f"Line 35 is {amounts[0]}, line 41 of the month before was {amounts[1]} by the policies it was reported "
            f"by. The difference of {amounts[2]} comes from policies changed since: {', '.join(report.changed_policies)}."
        )
    if report.other_policies_in and report.policies is not None:
        months = report.other_policies_in
        span = months[0] if len(months) == 1 else f"{months[0]} to {months[-1]}"
        said.append(
            f"The tax year's lines are by the policies of {report.statement.last_month} throughout "
            f"({policy_words(report.policies)}); {span} {'was' if len(months) == 1 else 'were'} closed by others."
        )
    return said


def _group_row(group: str, prefix: str, name: str, statement: MonthStatement) -> FormRow:
    value = _amount(statement.tax_class(group), name)
    terms = Terms((SumWhere(BY_SKU, name, "reported_as", group),))
    label = _word(name).removeprefix("less: ").capitalize()
    return FormRow(f"  {label}", (Figure(value, terms, f"{prefix}_{name}"), None))


def _of(prefixes: Iterable[str], *names: str) -> tuple[Ref, ...]:
    return tuple(Named(f"{prefix}_{name}") for prefix in prefixes for name in names)


def _line_terms(policies: TaxPolicies) -> dict[str, Terms]:
    """Return each line as a sum of named figures, by the policies."""
    stocked = ("goods", "supplies_used") if policies.supplies_inside else ("goods",)
    charges = _of(stocked, "charges_in")
    less = ["sent_back", "own_use", *(("samples", "donations") if policies.samples_elsewhere else ())]
    return {
        "35": Terms(_of(stocked, "opening_stock")),
        "36": Terms(
            (*_of(stocked, "purchases"), *(charges if policies.freight_in_36 else ())), _of(stocked, *less)
        ),
        "37": Terms(_of(("goods",), "labour")),
        "38": _supplies_terms(policies),
        "39": Terms(() if policies.freight_in_36 else charges),
        "40": Terms(_of(("tax",), "line_35", "line_36", "line_37", "line_38", "line_39")),
        "41": Terms(_of(stocked, "closing_stock")),
        "42": Terms(_of(("tax",), "line_40"), _of(("tax",), "line_41")),
    }


def _supplies_terms(policies: TaxPolicies) -> Terms:
    """Return line 38: supplies when bought, and what left the shelf of supplies that stand outside stock."""
    came = ("opening_stock", "purchases", "charges_in", "labour", "made_in_jobs")
    plus = _of(("supplies_bought",), *came)
    minus = _of(("supplies_bought",), "used_in_jobs", "sent_back", "own_use", "closing_stock")
    if not policies.supplies_inside:
        away = ("samples", "donations") if policies.samples_elsewhere else ()
        plus += _of(("supplies_used",), "opening_stock", "purchases", "charges_in", "labour")
        minus += _of(("supplies_used",), "sent_back", "own_use", "closing_stock", *away)
    return Terms(plus, minus)


def _given_away(policies: TaxPolicies) -> Terms:
    if not policies.samples_elsewhere:
        return Terms(())
    return Terms(_of(("goods", "supplies_used"), "samples", "donations"))


def _year_terms(number: str) -> Terms | None:
    """Return the year's lines that are sums of others; the other lines of the year are told."""
    if number == "40":
        return Terms(tuple(Named(f"{YEAR}line_{one}") for one in range(35, 40)))
    if number == "42":
        return Terms((Named(f"{YEAR}line_40"),), (Named(f"{YEAR}line_41"),))
    return None


def where_cost_went(lines: StatementLines) -> Form:
    """Return what the cost of goods sold is made of, largest first, without what is zero."""
    parts = [(name, _amount(lines, name)) for name in OF_WHICH]
    rows = tuple(
        FormRow(name.replace("_", " "), (Figure(value, _named((name,))),))
        for name, value in sorted(parts, key=lambda part: -part[1])
        if value
    )
    return Form("where_cost_went", "Where the cost went", "", ("amount",), rows)
