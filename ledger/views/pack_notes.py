"""What stands beside a pack's figures in words: how they were made, policies, rates, fingerprint, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ledger.book.guessed_costs import GuessedStock
from ledger.book.month_report import MonthReport
from ledger.book.month_tables import RateRow
from ledger.book.shop import policies_for
from ledger.costing.tax_lines import YEAR_TO_DATE
from ledger.views import figures
from ledger.views.pack import Column, Kind, Table
from ledger.views.pack_statement import policy_notes, told_words

CAUTION = "Records, not tax advice; ask a licensed preparer; no election is made here."

DRAFT_WORDS = "This month is not closed: what is entered later may change its figures."

METHOD = (
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
"""How figures are made, a word and what is said of it."""


@dataclass(frozen=True, slots=True)
class Closed:
    """What a close recorded: its document and its fingerprint, and that of the close before."""

    document: int
    fingerprint: str
    previous_fingerprint: str


def notes(
    report: MonthReport,
    policies: Mapping[str, str],
    rates: Iterable[RateRow],
    closed: Closed | None,
    guessed: GuessedStock,
) -> Table:
    """Return the notes; ``closed`` is None for a month that is open, ``guessed`` what is left of guessed costs."""
    shop = report.shop
    rows = [
        ("caution", "", CAUTION),
        ("shop", "name", shop.name),
        ("shop", "country", shop.country),
        ("shop", "currency", shop.currency),
        ("shop", "tax year begins with month", shop.tax_year_starts),
    ]
    rows += [("how it is made", what, said) for what, said in METHOD]
    if guessed.lots:
        rows.append(("opening stock", "guessed costs", guessed_words(guessed, shop.currency)))
    rows += [
        ("policy", f"{one.name}: {one.told}", one.decides) for one in told_policies(shop.country, policies)
    ]
    rows += [("rate", rate_document(rate), rate_words(rate, shop.currency)) for rate in rates]
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
    return Table("notes", "Notes", "", columns, rows, keys=2)


@dataclass(frozen=True, slots=True)
class ToldPolicy:
    """A policy, what was told of it, and what it decides."""

    name: str
    told: str
    decides: str


def told_policies(country: str, policies: Mapping[str, str]) -> list[ToldPolicy]:
    """Return every policy that decides something in a country (ISO 3166); what was not told says as what it is taken."""
    return [
        ToldPolicy(name, policies.get(name, f"not told; taken as '{values[0]}'"), meaning)
        for name, (values, meaning) in policies_for(country).items()
    ]


def guessed_words(guessed: GuessedStock, currency: str) -> str:
    """Return how much of what is on hand stands at costs that the owner guessed."""
    lots = "1 lot on hand stands" if guessed.lots == 1 else f"{guessed.lots} lots on hand stand"
    value = f"{figures.money(guessed.value, currency)} {currency}"
    return f"{lots} at costs that the owner guessed when the book began, {value}; the lots are marked."


def rate_document(rate: RateRow) -> str:
    """Return which document a rate converted, and its day."""
    return f"{rate.event} {rate.document}, {rate.effect_date}"


def rate_words(rate: RateRow, currency: str) -> str:
    """Return what a rate made of a document's total, in the book's currency, and where it is from."""
    amount = f"{rate.currency} {figures.money(rate.total_foreign, rate.currency)}"
    source = f", {rate.rate_source}" if rate.rate_source else ""
    return f"{amount} at {rate.rate} is {currency} {figures.money(rate.total, currency)}{source}"


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
