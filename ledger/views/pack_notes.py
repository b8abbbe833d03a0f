"""What stands beside a pack's figures in words: how they were made, policies, rates, fingerprint, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ledger.book.month_report import MonthReport
from ledger.book.month_tables import RateRow
from ledger.book.shop import policies_for
from ledger.costing.tax_lines import YEAR_TO_DATE
from ledger.views import figures
from ledger.views.pack import Column, Kind, Table
from ledger.views.pack_statement import policy_notes, told_words

CAUTION = "Records, not tax advice; ask a licensed preparer; no election is made here."

DRAFT_WORDS = "This month is not closed: what is entered later may change its figures."

_METHOD = (
    ("cost", "First in, first out: the oldest lot of an item leaves first, at its landed cost."),
    (
        "landed cost",
        "The invoice less discounts, and every freight, duty and fee bill spread over its goods.",
    ),
    (
        "jobs",
        "What a job uses becomes the cost of its good and abnormally spoiled pieces. The owner's own work has no cost.",
    ),
    (
        "stock",
        "What is on hand, and what is under way and already the shop's. Customers' own goods have no cost.",
    ),
    (
        "figures",
        "Money is exact to the currency's smallest unit, quantities to a thousandth of the item's unit.",
    ),
    (
        "workbook",
        "Totals, ties and tax lines are formulas over the figures by SKU and document; every check is zero.",
    ),
)


@dataclass(frozen=True, slots=True)
class Closed:
    """What a close recorded: its document and its fingerprint, and that of the close before."""

    document: int
    fingerprint: str
    previous_fingerprint: str


def notes(
    report: MonthReport, policies: Mapping[str, str], rates: Iterable[RateRow], closed: Closed | None
) -> Table:
    """Return the notes; ``closed`` is None for a month that is open."""
    shop = report.shop
    rows = [
        ("caution", "", CAUTION),
        ("shop", "name", shop.name),
        ("shop", "country", shop.country),
        ("shop", "currency", shop.currency),
        ("shop", "tax year begins with month", shop.tax_year_starts),
    ]
    rows += [("how it is made", what, said) for what, said in _METHOD]
    for name, (values, meaning) in policies_for(shop.country).items():
        told = policies.get(name, f"not told; taken as '{values[0]}'")
        rows.append(("policy", f"{name}: {told}", meaning))
    for rate in rates:
        amount = f"{rate.currency} {figures.money(rate.total_foreign, rate.currency)}"
        ours = f"{shop.currency} {figures.money(rate.total, shop.currency)}"
        source = f", {rate.rate_source}" if rate.rate_source else ""
        what = f"{rate.event} {rate.document}, {rate.effect_date}"
        rows.append(("rate", what, f"{amount} at {rate.rate} is {ours}{source}"))
    if report.opening is not None:
        told = figures.money(report.opening.last_line_41, shop.currency)
        agrees = "agrees with" if report.opening.agrees else "DIFFERS from"
        line = figures.money(report.opening.line_35, shop.currency)
        rows.append(("tax year", "line 35", f"{line} {agrees} last year's line 41, {told}"))
    if report.year.missing:
        rows.append(("tax year", "year to date", report.year.missing))
    if report.year.told is not None:
        rows.append(("tax year", "told", f"{told_words(report.year)}: as the owner told them."))
    if report.year.statement_words != YEAR_TO_DATE:
        rows.append(
            ("tax year", report.year.statement_words, f"The tax year began in {report.year.from_month}.")
        )
    rows += [("tax year", "policies", said) for said in policy_notes(report)]
    rows += _closing(closed)
    columns = (Column("about", "about"), Column("what", "what"), Column("said", "note", Kind.PROSE))
    return Table("notes", "Notes", CAUTION, columns, rows, keys=2)


def _closing(closed: Closed | None) -> list[tuple[str, str, str]]:
    if closed is None:
        return [("draft", "open", DRAFT_WORDS)]
    return [
        (
            "close",
            f"close {closed.document}",
            "The month is closed; its figures are final unless it is reopened.",
        ),
        ("close", "fingerprint (SHA-256)", closed.fingerprint),
        ("close", "fingerprint before", closed.previous_fingerprint or "none: the first close of this book"),
    ]
