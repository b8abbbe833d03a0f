"""A month as a page to keep: what it came to, where each figure comes from, the form's lines, its seal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ledger.book.closing import Closed, ClosePlan
from ledger.book.month_behind import MonthBehind, SourceDocument
from ledger.book.month_report import MonthReport
from ledger.costing.month_statement import OF_WHICH_ACCOUNTS
from ledger.costing.tax_lines import TaxPolicies
from ledger.views import figures, months, tables
from ledger.views.pack_notes import DRAFT_WORDS, rate_document, rate_words, told_policies
from ledger.views.page import (
    Block,
    Caution,
    Fact,
    Facts,
    Page,
    Picture,
    Point,
    Points,
    Section,
    Text,
    from_table,
)
from ledger.views.pictures import svg_text
from ledger.views.shop_pictures import came_to_chart, came_to_figure
from ledger.views.stock_report import how_made, stock_months

MOST_DOCUMENTS = 12
"""Up to how many documents of a figure are named one by one; more are counted by what they were."""

TOGETHER = "together"

FINGERPRINT_WORDS = (
    "A SHA-256 over every document, line, entry and balance of the month and over the fingerprint before it. If "
    "anything in the month is changed afterwards, by whatever program, it no longer matches: the commands "
    "'months' and 'prove' tell. Whoever has this page can hold its fingerprint against the book's."
)

_FIGURES = {
    "opening_entered": "opening stock entered",
    "purchases": "purchases",
    "charges_in": "freight, duty and fees",
    "labour": "labour paid to others",
    "sent_back": "sent back to suppliers",
    "own_use": "taken for own use",
    **{name: words for name, words in months.OF_WHICH if name in OF_WHICH_ACCOUNTS},
}


@dataclass(frozen=True, slots=True)
class MonthPage:
    """What the page of a month is made from.

    ``plan`` is None for a closed month, ``closed`` for an open one; ``closed_on`` is the day of the
    close, ISO 8601 or ''.
    """

    report: MonthReport
    behind: MonthBehind
    plan: ClosePlan | None
    closed: Closed | None
    closed_on: str
    written_on: str


def close_page(month: MonthPage) -> Page:
    """Return the page of a month, closed or a draft."""
    report = month.report
    name = report.statement.last_month
    return Page(
        title=f"{name} of {report.shop.name}",
        lead=_lead(report),
        state=_state(month),
        sections=(
            Section("What the month came to", _came_to(report)),
            Section("To settle before it is closed", _checklist(month.plan)),
            Section("Where each figure comes from", _sources(month)),
            Section("Lines of the tax return", _tax(month)),
            Section("Stock by kind", _stock(month)),
            Section("What the figures rest on", _rests_on(month)),
            Section("The seal", _seal(month)),
        ),
        foot=f"Written by Blankbook from the book of {report.shop.name} on {month.written_on}.",
    )


def _lead(report: MonthReport) -> str:
    lines, currency = report.statement.total, report.statement.currency
    cost, opening, closing = (
        figures.money(one, currency)
        for one in (lines.cost_of_goods_sold, lines.opening_stock, lines.closing_stock)
    )
    return f"The cost of goods sold is {cost} {currency}. Stock was {opening} at the start and is {closing} at the end."


def _state(month: MonthPage) -> str:
    if month.closed is None:
        return f"A draft. {DRAFT_WORDS}"
    when = f" on {month.closed_on}" if month.closed_on else ""
    return f"Closed{when} by document {month.closed.document}; the figures are final unless the month is reopened."


def _came_to(report: MonthReport) -> list[Block]:
    statement = report.statement
    chart = came_to_chart(statement.total, statement.currency)
    described = "; ".join(
        f"{step.name} {figures.money(step.amount_minor, chart.currency)}"
        for step in (*chart.steps, chart.result)
    )
    svg = svg_text(came_to_figure(chart), "What the month came to", f"From top to bottom: {described}.")
    table = months.statement_table(report)
    table.totals = [table.rows.pop()]
    blocks: list[Block] = [
        from_table(
            f"What came in, less what is left, in {statement.currency}",
            table,
            months.closing_parts(statement.total, statement.currency),
        ),
        Picture(
            svg,
            "From the opening stock, with what came in, less what is left: each bar begins where the one above it "
            "ends, and what remains is the cost of goods sold.",
        ),
        from_table(f"Where the cost went, in {statement.currency}", months.of_which_table(report)),
    ]
    blocks += [Text(one) for one in months.remarks(report)]
    return [*blocks, Caution(months.CAUTION)]


def _checklist(plan: ClosePlan | None) -> list[Block]:
    if plan is None:
        return []
    blocks: list[Block] = []
    for words, is_blocking in (
        ("These stop the close:", True),
        ("These are worth a look and do not stop it:", False),
    ):
        points = [point for point in plan.points if point.is_blocking == is_blocking]
        if points:
            named = [Point(f"{one.where}: {one.what}", one.command) for one in points]
            blocks += [Text(words), Points(named)]
    if plan.corrected:
        blocks += [
            Text(
                "The use of these is estimated and ran ahead of the stock. The close counts them at nothing:"
            ),
            Points(
                [
                    f"{one.sku}: {figures.quantity(one.quantity_milli)} {one.base_unit}"
                    for one in plan.corrected
                ]
            ),
        ]
    return blocks or [Text("The checklist found nothing to settle.")]


def _sources(month: MonthPage) -> list[Block]:
    statement = month.report.statement
    table = tables.Table(["figure", "from", "date", "who, and their number", f">{statement.currency}"])
    opening = statement.total.opening_stock - statement.total.opening_entered
    if opening:
        table.add(
            "opening stock",
            "closing stock of the month before",
            "",
            "",
            figures.money(opening, statement.currency),
        )
    for figure, words in _FIGURES.items():
        own = [one for one in month.behind.documents if one.figure == figure]
        for place, row in enumerate(_named(own, statement.currency)):
            table.add("" if place else words, *row)
    table.add(
        "closing stock",
        "what is left of each lot, at its landed cost",
        "",
        "",
        figures.money(statement.total.closing_stock, statement.currency),
    )
    return [
        Text("The documents behind the month's figures. Look at one with: blankbook show, and its number."),
        from_table(f"Figures and their documents, in {statement.currency}", table),
    ]


def _named(documents: Sequence[SourceDocument], currency: str) -> Iterable[Sequence[str]]:
    """Yield the documents of a figure, one by one or, where they are many, together by what they were."""
    if len(documents) <= MOST_DOCUMENTS:
        for one in documents:
            who = ", ".join(part for part in (one.party, one.reference) if part)
            kind = f" ({one.charge_kind.replace('_', ' ')})" if one.charge_kind else ""
            yield (
                f"{one.event} {one.document}{kind}",
                one.effect_date,
                who,
                figures.money(one.amount_minor, currency),
            )
    else:
        yield from _by_event(documents, currency)
    if len(documents) > 1:
        yield TOGETHER, "", "", figures.money(sum(one.amount_minor for one in documents), currency)


def _by_event(documents: Sequence[SourceDocument], currency: str) -> Iterable[Sequence[str]]:
    """Yield many documents of a figure together by what they were."""
    for event in dict.fromkeys(one.event for one in documents):
        own = [one for one in documents if one.event == event]
        numbers = [one.document for one in own]
        span = f"{own[0].effect_date} to {own[-1].effect_date}" if len(own) > 1 else own[0].effect_date
        what = (
            f"{event}: {len(own)} documents, {min(numbers)} to {max(numbers)}"
            if len(own) > 1
            else f"{event} {numbers[0]}"
        )
        yield what, span, "", figures.money(sum(one.amount_minor for one in own), currency)


def _tax(month: MonthPage) -> list[Block]:
    report = month.report
    table = months.tax_table(report)
    if table is None or report.policies is None:
        return []
    sources = line_sources(report.policies)
    shown = tables.Table(
        [*table.headings, "made of"],
        [[*row, sources[row[0]]] for row in table.rows],
    )
    return [
        from_table(f"Schedule C (Form 1040), Part III, in {report.statement.currency}", shown),
        *(Text(one) for one in months.tax_remarks(report)),
        Facts(
            [
                Fact(
                    "where this is from",
                    "The lines as IRS Publication 334 describes them, supplies by Treas. Reg. 1.162-3(a); which class "
                    "of item stands on which line follows the recorded policies and is the program's own reading.",
                )
            ]
        ),
    ]


def line_sources(policies: TaxPolicies) -> dict[str, str]:
    """Return, by the number of a line, which figures of the month it is made of under the recorded policies."""
    held = "goods and finished pieces" + (" and supplies" if policies.supplies_inside else "")
    bought = "goods and supplies" if policies.supplies_inside else "goods"
    given_away = " and what was given away" if policies.samples_elsewhere else ""
    freight = " with their freight, duty and fees" if policies.freight_in_36 else ""
    supplies = "supplies when bought"
    if not policies.supplies_inside:
        supplies = (
            f"supplies used{', less those given away' if policies.samples_elsewhere else ''}, and {supplies}"
        )
    return {
        "35": f"opening stock of {held}, on hand and under way",
        "36": f"purchases of {bought}{freight}, less sent back, own use{given_away}",
        "37": "labour paid to others for jobs",
        "38": supplies,
        "39": "nothing: it is in line 36"
        if policies.freight_in_36
        else f"freight, duty and fees on {bought}",
        "40": "the lines above",
        "41": f"closing stock of {held}, on hand and under way",
        "42": "line 40 less line 41",
    }


def _stock(month: MonthPage) -> list[Block]:
    statement = month.report.statement
    blocks: list[Block] = [
        from_table(
            f"From opening to closing stock by kind, in {statement.currency}", months.by_kind_table(statement)
        )
    ]
    if month.behind.by_month.kinds:
        blocks += stock_months(month.behind.by_month, is_last_so_far=month.closed is None)
    return blocks


_PLAIN_WORDS = (
    Fact(
        "supplier price differences",
        "what goods that went back or never came cost more, or less, than the supplier gave back for them.",
    ),
    Fact(
        "non-incidental supplies",
        "the tax word for materials and supplies of which you keep a record when they are used.",
    ),
)


def _rests_on(month: MonthPage) -> list[Block]:
    shop = month.report.shop
    facts = [*how_made(), *_PLAIN_WORDS]
    policies = told_policies(shop.country, month.behind.policies)
    facts += [Fact(f"policy: {one.name}", one.told, one.decides) for one in policies]
    facts += [
        Fact(f"rate: {rate_document(one)}", rate_words(one, shop.currency)) for one in month.behind.rates
    ]
    if any(one.name not in month.behind.policies for one in policies):
        words = (
            "Policies that are not told do not stop a close: the first value of each is taken, as below. Ask your preparer "
            "and record them before you file: blankbook policies NAME VALUE."
        )
        return [Text(words), Facts(facts)]
    return [Facts(facts)]


def _seal(month: MonthPage) -> list[Block]:
    if month.closed is None:
        return []
    return [
        Facts(
            [
                Fact("fingerprint", month.closed.fingerprint),
                Fact(
                    "the one before",
                    month.closed.previous_fingerprint or "none: the first close of this book",
                ),
                Fact("what it is", FINGERPRINT_WORDS),
            ]
        )
    ]
