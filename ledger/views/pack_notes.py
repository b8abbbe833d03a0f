"""What stands beside a pack's figures in words: how they were made, policies, rates, fingerprint, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ledger.book.month_report import MonthReport
from ledger.book.month_tables import RateRow
from ledger.book.shop import POLICIES
from ledger.costing.tax_lines import COUNTRY_WITH_LINES
from ledger.views import figures
from ledger.views.pack import Column, Kind, Table

CAUTION = "Records, not tax advice; ask a licensed preparer; no election is made here."
_ABOUT_US_LINES = frozenset({"freight", "supplies"})

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
    for name, (values, meaning) in POLICIES.items():
        if shop.country == COUNTRY_WITH_LINES or name not in _ABOUT_US_LINES:
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
    rows += _closing(closed)
    columns = (Column("about", "about"), Column("what", "what"), Column("said", "note", Kind.PROSE))
    return Table("notes", "Notes", CAUTION, columns, rows, keys=2)


def _closing(closed: Closed | None) -> list[tuple[str, str, str]]:
    if closed is None:
        return [("close", "open", "This month is not closed: what is entered later may change its figures.")]
    return [
        (
            "close",
            f"close {closed.document}",
            "The month is closed; its figures are final unless it is reopened.",
        ),
        ("close", "fingerprint (SHA-256)", closed.fingerprint),
        ("close", "fingerprint before", closed.previous_fingerprint or "none: the first close of this book"),
    ]
