"""A proposed profile as people check it: the columns and why, three lines as read, the open questions."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from ledger.errors import InputErrors
from ledger.exact.currencies import exponent
from ledger.exact.money import grouped_money, show_money
from ledger.exact.numbers import show_fraction
from ledger.exact.rounding import round_fraction
from ledger.intake.proposal import Proposal
from ledger.intake.propose_sales import SalesProposal
from ledger.intake.sales import SalesDraft
from ledger.intake.shipment import ShipmentDraft
from ledger.views.tables import Table, paragraphs

_LONGEST = 32

SHOWN_LINES = 3
"""How many rows of an export are shown as they would be read."""


def proposal_text(source_name: str, proposal: Proposal, sample: ShipmentDraft | InputErrors) -> str:
    """Return the whole proposal: columns, everything else decided, the first lines, the questions."""
    return paragraphs(
        [
            f"How {source_name} would be read:",
            _columns(proposal),
            _decisions(proposal),
            _sample(sample),
            _questions(proposal),
        ]
    )


def sales_proposal_text(source_name: str, proposal: SalesProposal, sample: SalesDraft | InputErrors) -> str:
    """Return how a sales export would be read: columns, decisions, the first rows, the questions."""
    return paragraphs(
        [
            f"How {source_name} would be read:",
            _columns(proposal),
            _decisions(proposal),
            _sales_sample(sample, proposal.tables.get("currency", "")),
            _questions(proposal),
        ]
    )


def _sales_sample(sample: SalesDraft | InputErrors, currency: str) -> str:
    if isinstance(sample, InputErrors):
        problems = "\n".join(f"  - {problem}" for problem in sample.problems[:SHOWN_LINES])
        more = len(sample.problems) - SHOWN_LINES
        return f"The rows could not be read so:\n{problems}" + (f"\n  … and {more} more" if more > 0 else "")
    table = Table(["the first rows", "date", "event", "SKU", ">pieces", ">amount", "order"])
    for row in sample.rows[:SHOWN_LINES]:
        pieces = "" if row.quantity is None else show_fraction(row.quantity)
        amount = _money(row.amount, row.currency or currency, grouped_money)
        event = row.event.replace("_", " ")
        table.add(row.where, row.date.isoformat(), event, row.sku, pieces, amount, row.reference)
    return table.text()


def _money(amount: Fraction | None, currency: str, shown: Callable[[int, str], str]) -> str:
    """Return an amount with the decimals of its currency, as ``shown`` writes minor units of one."""
    if amount is None:
        return ""
    if not currency:
        return show_fraction(amount, 4)
    return shown(round_fraction(amount * 10 ** exponent(currency)), currency)


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"


def _columns(proposal: Proposal | SalesProposal) -> str:
    table = Table(["column", "heading", "taken as", ">sure", "example", "why"])
    for each in proposal.columns:
        meaning = each.meaning.replace("_", " ") or ("?" if each.confidence == 0 else "not read")
        sure = "" if not each.meaning else f"{each.confidence}%"
        table.add(each.letters, _cut(each.heading), meaning, sure, _cut(each.example), each.why)
    return table.text()


def _decisions(proposal: Proposal | SalesProposal) -> str:
    table = Table(["beside the columns", "taken as", ">sure", "why"])
    for each in proposal.decisions:
        table.add(each.subject, _cut(each.taken_as), f"{each.confidence}%", each.why)
    return table.text()


def _sample(sample: ShipmentDraft | InputErrors) -> str:
    if isinstance(sample, InputErrors):
        problems = "\n".join(f"  - {problem}" for problem in sample.problems)
        return f"The first lines could not be read so:\n{problems}"
    table = Table(["the first lines", "SKU or name", ">quantity", "unit", ">price", ">amount"])
    for line in sample.lines:
        price = "" if line.unit_price is None else show_fraction(line.unit_price, 4)
        amount = "not known yet" if line.provisional else show_fraction(line.net, 4)
        table.add(line.where, line.code or line.sku, show_fraction(line.quantity), line.unit, price, amount)
    return table.text()


def _questions(proposal: Proposal | SalesProposal) -> str:
    if not proposal.questions:
        return ""
    return "To be answered:\n" + "\n".join(f"  - {question}" for question in proposal.questions)


def sales_proposal_as_data(proposal: SalesProposal, sample: SalesDraft | InputErrors) -> dict[str, Any]:
    """Return the proposal for a sales export as JSON holds it."""
    rows = [] if isinstance(sample, InputErrors) else sample.rows[:SHOWN_LINES]
    own = proposal.tables.get("currency", "")
    return {
        **_decided(proposal),
        "first_rows": [
            {
                "date": row.date.isoformat(),
                "event": row.event,
                "sku": row.sku,
                "pieces": None if row.quantity is None else show_fraction(row.quantity),
                "amount": _money(row.amount, row.currency or own, show_money) or None,
                "order": row.reference,
            }
            for row in rows
        ],
        "problems": [str(each) for each in sample.problems] if isinstance(sample, InputErrors) else [],
    }


def as_data(proposal: Proposal, sample: ShipmentDraft | InputErrors) -> dict[str, Any]:
    """Return the proposal as JSON holds it."""
    lines = [] if isinstance(sample, InputErrors) else sample.lines
    return {
        **_decided(proposal),
        "first_lines": [
            {
                "sku": line.sku,
                "code": line.code,
                "quantity": show_fraction(line.quantity),
                "unit": line.unit,
                "amount": None if line.provisional else show_fraction(line.net, 4),
            }
            for line in lines
        ],
    }


def _decided(proposal: Proposal | SalesProposal) -> dict[str, Any]:
    return {
        "columns": [
            {
                "column": each.letters,
                "heading": each.heading,
                "taken_as": each.meaning or None,
                "confidence": each.confidence,
                "why": each.why,
                "example": each.example,
            }
            for each in proposal.columns
        ],
        "decisions": [
            {
                "subject": each.subject,
                "taken_as": each.taken_as,
                "confidence": each.confidence,
                "why": each.why,
            }
            for each in proposal.decisions
        ],
        "questions": [
            {"subject": each.subject, "question": each.text, "answers": list(each.answers)}
            for each in proposal.questions
        ],
    }
