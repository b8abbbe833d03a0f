"""Months as people look at them: how they stand, what to settle, what a month comes to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

from ledger.book.checklist import CheckItem
from ledger.book.closing import Closed, ClosePlan, MonthRow
from ledger.book.month_report import MonthReport
from ledger.book.preparer_lists import GIVEN_AWAY_WORDS
from ledger.book.roll_forward import ItemRow
from ledger.book.shop import POLICIES
from ledger.book.stock_by_month import StockByMonth
from ledger.costing.invariants import total_row
from ledger.costing.month_statement import CostOfGoodsSold, MonthStatement, StatementLines
from ledger.costing.tax_lines import TaxLines, form_1125_a, schedule_c
from ledger.exact.money import show_money
from ledger.exact.quantity import show_quantity
from ledger.views import figures
from ledger.views.bars import Bars, beside
from ledger.views.pack_statement import policy_notes
from ledger.views.tables import Table, paragraphs

CAUTION = (
    "Figures from your records, not tax advice: no election is made here. Have a licensed preparer look at "
    "them before you file."
)

_LINES: tuple[tuple[str, str], ...] = (
    ("opening_stock", "opening stock"),
    ("purchases", "+ purchases"),
    ("charges_in", "+ freight, duty and fees"),
    ("labour", "+ labour paid to others"),
    ("sent_back", "- sent back to suppliers"),
    ("own_use", "- taken for own use"),
    ("closing_stock", "- closing stock"),
)

OF_WHICH: tuple[tuple[str, str], ...] = (
    ("pieces_sold", "pieces sold"),
    ("used", "materials used outside jobs"),
    ("samples", "samples"),
    ("donations", "donations"),
    ("spoilage", "spoilage"),
    ("count_differences", "count differences"),
    ("write_downs", "write-downs"),
    ("late_charges_on_used", "late charges on used stock"),
    ("supplies_when_bought", "supplies when bought"),
    ("supplier_price_differences", "supplier price differences"),
)


_KIND_COLUMNS: tuple[tuple[str, str, int], ...] = (
    ("opening_stock", "opening", 1),
    ("purchases", "purchases", 1),
    ("charges_in", "charges", 1),
    ("labour", "labour", 1),
    ("made_in_jobs", "made", 1),
    ("used_in_jobs", "in jobs", -1),
    ("sent_back", "sent back", -1),
    ("own_use", "own use", -1),
    ("closing_stock", "closing", 1),
    ("cost_of_goods_sold", "cost of goods sold", 1),
)
_ALWAYS = ("opening", "purchases", "closing", "cost of goods sold")


def months_text(rows: Sequence[MonthRow], stock: StockByMonth, bars: Bars | None = None) -> str:
    """Return the months and how they stand, on a terminal with bars of their closing stock."""
    table = Table(
        ["month", "state", "closed on", ">documents", f">closing stock {stock.currency}", "fingerprint"]
    )
    closing = _closing(stock)
    for row in rows:
        state = "closed" if row.is_closed else "open"
        if row.is_changed:
            state = "closed, but CHANGED since"
        amount = figures.money(closing[row.month], stock.currency)
        table.add(row.month, state, row.closed_on, str(row.documents), amount, row.fingerprint[:12])
    changed = [row.month for row in rows if row.is_changed]
    note = ""
    if changed:
        note = (
            f"{', '.join(changed)}: what the book holds is not what was closed. Something other than Blankbook "
            "changed the file. Look with: blankbook prove. Restore the latest backup from before."
        )
    return paragraphs([beside(table, [closing[row.month] for row in rows], bars).text(), note])


def _closing(stock: StockByMonth) -> dict[str, int]:
    """Return the closing stock of each month, in minor units."""
    return dict(zip(stock.months, stock.totals_minor, strict=True))


def months_as_data(rows: Sequence[MonthRow], stock: StockByMonth) -> list[dict[str, Any]]:
    """Return the months as data."""
    closing = _closing(stock)
    return [
        {
            "month": row.month,
            "closed": row.is_closed,
            "closed_on": row.closed_on or None,
            "documents": row.documents,
            "closing_stock": show_money(closing[row.month], stock.currency),
            "fingerprint": row.fingerprint or None,
            "changed": row.is_changed,
        }
        for row in rows
    ]


def checklist(plan: ClosePlan) -> str:
    """Return what to settle before a close, what stops it first."""
    parts = []
    blocking = plan.blocking
    if blocking:
        parts.append(_points("To settle first: the month cannot be closed before.", blocking))
    advice = [point for point in plan.points if not point.is_blocking]
    if advice:
        parts.append(_points("To look at: none of these stops the close.", advice))
    if plan.corrected:
        lines = [
            f"  {one.sku}: {show_quantity(one.quantity_milli)} {one.base_unit} more used than there was; it "
            "counts as nothing left (use corrected)"
            for one in plan.corrected
        ]
        parts.append("\n".join(["The use of these items is estimated, and ran ahead of the stock:", *lines]))
    if not parts:
        return "The checklist found nothing to settle."
    return paragraphs(parts)


def _points(heading: str, points: Sequence[CheckItem]) -> str:
    lines = [heading]
    for point in points:
        lines.append(f"  {point.where}: {point.what}")
        if point.command:
            lines.append(f"    {point.command}")
    return "\n".join(lines)


def statement(report: MonthReport) -> str:
    """Return what a month comes to, beside the tax year to date, by kind, and on the form's lines."""
    month = report.statement
    currency = month.currency
    state = "closed" if report.is_closed else "open: a draft, what is entered later may change it"
    head = f"{month.last_month} of {report.shop.name} ({state}), in {currency}"
    parts = [head, statement_table(report).text(), of_which_table(report).text()]
    parts += [closing_parts(month.total, currency), by_kind_table(month).text(), tax_form(report)]
    return paragraphs([*parts, *remarks(report), CAUTION])


def statement_table(report: MonthReport) -> Table:
    """Return what came in less what is left, of the month and of the tax year to date where it is known."""
    month, year = report.statement, report.year.statement
    table = Table(["", f">{month.last_month}", *([f">{report.year.statement_words}"] if year else [])])
    for name, words in _LINES:
        table.add(words, *_amounts(name, month, year))
    table.add("= cost of goods sold", *_amounts("cost_of_goods_sold", month, year))
    return table


def remarks(report: MonthReport) -> list[str]:
    """Return what must be said of a month's figures besides the caution."""
    currency = report.statement.currency
    said = policy_notes(report)
    if report.policies is not None and report.policies.samples_elsewhere:
        said.append(GIVEN_AWAY_WORDS)
    if report.year.missing:
        said.append(
            f'No year to date: {report.year.missing} Tell a figure with: blankbook months --earlier "36 512.40".'
        )
    if report.opening is not None and not report.opening.agrees:
        said.append(
            f"Line 35 of this tax year is {figures.money(report.opening.line_35, currency)}, line 41 of last "
            f"year {figures.money(report.opening.last_line_41, currency)}: the form wants them equal, or an "
            "explanation attached."
        )
    return said


def _amounts(name: str, month: MonthStatement, year: MonthStatement | None) -> list[str]:
    return [
        figures.money(getattr(one.total, name), month.currency) for one in (month, year) if one is not None
    ]


def of_which_table(report: MonthReport) -> Table:
    """Return where the cost of goods sold went, without what is zero throughout."""
    month, year = report.statement, report.year.statement
    span = report.year.statement_words
    table = Table(["where the cost went", f">{month.last_month}", *([f">{span}"] if year else [])])
    both = [one for one in (month, year) if one is not None]
    for name, words in OF_WHICH:
        amounts = [getattr(one.total.of_which, name) for one in both]
        if any(amounts):
            table.add(words, *(figures.money(amount, month.currency) for amount in amounts))
    table.total(
        "cost of goods sold",
        *(figures.money(one.total.of_which.total, month.currency) for one in both),
    )
    return table


def closing_parts(lines: StatementLines, currency: str) -> str:
    """Return what of the closing stock is under way, and what is supplies; '' where nothing is."""
    parts = []
    if lines.under_way:
        parts.append(f"{figures.money(lines.under_way, currency)} are under way and already the shop's")
    if lines.supplies_on_hand:
        parts.append(f"{figures.money(lines.supplies_on_hand, currency)} are supplies on hand")
    return f"Of the closing stock {', and '.join(parts)}." if parts else ""


def by_kind_table(month: MonthStatement) -> Table:
    """Return the roll-forward by kind; what jobs took of one kind they made of another."""
    currency = month.currency
    columns = [
        (
            words,
            [sign * getattr(lines, name) for lines in (*(one.lines for one in month.by_kind), month.total)],
        )
        for name, words, sign in _KIND_COLUMNS
    ]
    # A month without labour or own use has no column for it.
    shown = [(words, amounts) for words, amounts in columns if words in _ALWAYS or any(amounts)]
    table = Table(["kind", *(f">{words}" for words, _ in shown)])
    for place, group in enumerate(month.by_kind):
        table.add(group.name, *(figures.money(amounts[place], currency) for _, amounts in shown))
    table.total("total", *(figures.money(amounts[-1], currency) for _, amounts in shown))
    return table


def by_sku(rows: Sequence[ItemRow], currency: str) -> str:
    """Return the roll-forward of every item, quantity and money."""
    table = Table(
        ["SKU", "unit", ">opening", ">in", ">out", ">closing", ">opening", ">in", ">out", ">closing"]
    )
    for row in rows:
        rolled = row.rolled
        quantities = [one.quantity_milli for one in rolled.movements]
        amounts = [one.amount for one in rolled.movements]
        table.add(
            row.sku,
            row.base_unit,
            figures.quantity(rolled.opening_quantity_milli),
            figures.quantity(sum(one for one in quantities if one > 0)),
            figures.quantity(-sum(one for one in quantities if one < 0)),
            figures.quantity(rolled.closing_quantity_milli),
            figures.money(rolled.opening_amount, currency),
            figures.money(sum(one for one in amounts if one > 0), currency),
            figures.money(-sum(one for one in amounts if one < 0), currency),
            figures.money(rolled.closing_amount, currency),
        )
    everything = total_row(row.rolled for row in rows)
    moved = [one.amount for one in everything.movements]
    table.total(
        "total",
        *[""] * 5,
        figures.money(everything.opening_amount, currency),
        figures.money(sum(one for one in moved if one > 0), currency),
        figures.money(-sum(one for one in moved if one < 0), currency),
        figures.money(everything.closing_amount, currency),
    )
    return table.text()


def tax_form(report: MonthReport) -> str:
    """Return the lines of the US form for the month and the year to date; empty for another country."""
    table = tax_table(report)
    return "" if table is None else paragraphs([table.text(), *tax_remarks(report)])


def tax_table(report: MonthReport) -> Table | None:
    """Return the lines of the US form for the month and the year to date; None for another country."""
    if report.tax is None or report.policies is None:
        return None
    currency = report.statement.currency
    year = report.year.lines
    table = Table(["line", "Schedule C, Part III", ">month", *([">year to date"] if year else [])])
    for number, line in enumerate(schedule_c(report.tax)):
        cells = [figures.money(line.amount, currency)]
        if year is not None:
            cells.append(figures.money(schedule_c(year)[number].amount, currency))
        table.add(line.number, line.text, *cells)
    return table


def tax_remarks(report: MonthReport) -> list[str]:
    """Return what must be said of the form's lines: the bridge to the closing stock, policies not told."""
    said: list[str] = []
    if report.tax is None or report.policies is None:
        return said
    currency = report.statement.currency
    if report.tax.supplies_on_hand:
        said.append(
            f"Line 41 and supplies on hand of {figures.money(report.tax.supplies_on_hand, currency)} are the "
            f"closing stock of {figures.money(report.statement.total.closing_stock, currency)}."
        )
    if report.policies.not_told:
        first = report.policies.not_told[0]
        said.append(
            f"Not told yet: {', '.join(report.policies.not_told)}. The first value of each is taken; ask your "
            f'preparer, then record it: blankbook policies {first} "{POLICIES[first][0][0]}".'
        )
    return said


def closed_as_data(
    report: MonthReport, plan: ClosePlan | None, closed: Closed | None, number: int | None
) -> dict[str, Any]:
    """Return a month as the JSON contract has it, closed now, closed before, or a draft."""
    statement_ = report.statement
    currency = statement_.currency
    year, lines = report.year.statement, report.year.lines
    data: dict[str, Any] = {"month": statement_.last_month, "currency": currency}
    data |= _lines_as_data(statement_.total, currency)
    data["by_kind"] = [
        {
            "kind": group.name,
            **_lines_as_data(group.lines, currency),
            "used_in_jobs": show_money(group.lines.used_in_jobs, currency),
            "made_in_jobs": show_money(group.lines.made_in_jobs, currency),
        }
        for group in statement_.by_kind
    ]
    data["tax_form"] = _tax_as_data(report.tax, currency)
    data["form_1125_a"] = (
        {line.number: show_money(line.amount, currency) for line in form_1125_a(report.tax)}
        if report.tax
        else None
    )
    data["year_to_date"] = None
    if year is not None:
        data["year_to_date"] = {
            "from_month": max(report.year.from_month, year.first_month)
            if lines is None
            else report.year.from_month,
            **_lines_as_data(year.total, currency),
            "tax_form": _tax_as_data(lines, currency),
        }
    data["fingerprint"] = closed.fingerprint if closed else None
    data["previous_fingerprint"] = (closed.previous_fingerprint or None) if closed else None
    data["document"] = number
    data["is_draft"] = not report.is_closed
    data["checklist"] = [
        {
            "what": point.what,
            "where": point.where,
            "command": point.command,
            "blocking": point.is_blocking,
        }
        for point in (plan.points if plan else ())
    ]
    return data


_KEYS = (
    "opening_stock",
    "purchases",
    "charges_in",
    "labour",
    "sent_back",
    "own_use",
    "samples",
    "donations",
    "closing_stock",
    "under_way",
    "supplies_on_hand",
    "cost_of_goods_sold",
)


def _lines_as_data(lines: StatementLines, currency: str) -> dict[str, Any]:
    data: dict[str, Any] = {name: show_money(getattr(lines, name), currency) for name in _KEYS}
    data["of_which"] = {
        each.name: show_money(getattr(lines.of_which, each.name), currency)
        for each in fields(CostOfGoodsSold)
    }
    return data


def _tax_as_data(lines: TaxLines | None, currency: str) -> dict[str, str] | None:
    if lines is None:
        return None
    by_number: Mapping[str, int] = lines.by_number()
    return {number: show_money(amount, currency) for number, amount in by_number.items()}
