"""Beside the comparison: print it or buy the transfer, and afterwards, what was expected and what it was."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from ledger.book.afterwards import OrderOutcome
from ledger.book.print_or_buy import PrintOrBuy, PrintOrBuyRow
from ledger.exact.currencies import exponent
from ledger.exact.money import show_money
from ledger.exact.numbers import show_fraction, show_scaled
from ledger.exact.quantity import MILLI, show_quantity
from ledger.exact.rounding import round_fraction
from ledger.views import figures
from ledger.views.price_report import script_cost
from ledger.views.tables import Table, paragraphs

_NOT_COUNTED = (
    "Materials at their latest landed cost, and paid labour; your own time and the printer's wear are not counted, "
    "and pressing is the same either way."
)


def _each(cost_minor: Fraction, currency: str) -> str:
    places = max(figures.SHOWN_UNIT_PLACES, exponent(currency))
    value = cost_minor / 10 ** exponent(currency)
    return show_scaled(round_fraction(value * 10**places), places)


def print_or_buy_text(found: PrintOrBuy, transfer: str, currency: str) -> str:
    """Return the print of a bill beside a transfer, by quantity, with the verdict in words."""
    materials = Table(["print of a piece", f">{currency}"])
    for part in found.parts:
        known = "not known yet" if part.per_piece_minor is None else _each(part.per_piece_minor, currency)
        materials.add(part.sku or "paid labour", known)
    table = Table([">pieces", ">print each", f">{transfer} each", "from", "cheaper", ">by, each", ">in all"])
    for row in found.rows:
        if row.transfer is None:
            table.add(str(row.pieces), _each(row.print_minor, currency), "", "", "", "", "")
            continue
        saving = row.saving_minor
        cheaper = "the transfer" if saving > 0 else "printing" if saving < 0 else "the same"
        table.add(
            str(row.pieces),
            _each(row.print_minor, currency),
            _each(row.transfer.unit_cost_minor, currency),
            _source(row),
            cheaper,
            _each(abs(saving), currency),
            figures.money(round_fraction(abs(saving) * row.pieces), currency),
        )
    unknown = f"Not known yet, so left out of the print: {', '.join(found.unknown)}." if found.unknown else ""
    return paragraphs(
        [
            f"Print it or buy the transfer: {found.bill.code}, {found.bill.way}, without its blank.",
            materials.text(),
            table.text(),
            unknown,
            _misprint_text(found),
            _NOT_COUNTED,
        ]
    )


def _misprint_text(found: PrintOrBuy) -> str:
    percent = show_fraction(found.bill.misprint_percent)
    if not found.bill.misprint_percent:
        return "The bill allows for no misprints."
    return f"Without the {percent}% misprints of the bill: each costs its materials and a blank again."


def _source(row: PrintOrBuyRow) -> str:
    """Return who sells the transfer, and how many have to be bought where that is more than wanted."""
    if row.transfer is None:
        return ""
    buying = row.transfer.buying
    return f"{row.transfer.name} (buys {buying.quantity})" if buying and buying.extra else row.transfer.name


def print_or_buy_as_data(found: PrintOrBuy, transfer: str, currency: str) -> dict[str, Any]:
    """Return the print of a bill beside a transfer as scripts take it."""
    return {
        "bill": found.bill.code,
        "transfer": transfer,
        "currency": currency,
        "pieces": found.pieces,
        "misprint_percent_not_counted": show_fraction(found.bill.misprint_percent),
        "print_parts": [
            {
                "sku": part.sku or None,
                "per_piece": None
                if part.per_piece_minor is None
                else script_cost(part.per_piece_minor, currency),
            }
            for part in found.parts
        ],
        "by_quantity": [
            {
                "pieces": row.pieces,
                "print_each": script_cost(row.print_minor, currency),
                "transfer_each": None
                if row.transfer is None
                else script_cost(row.transfer.unit_cost_minor, currency),
                "from": row.transfer.name if row.transfer else None,
                "transfer_saves_each": script_cost(row.saving_minor, currency) if row.transfer else None,
            }
            for row in found.rows
        ],
        "cost_unknown": list(found.unknown),
    }


def afterwards_text(found: Sequence[OrderOutcome], currency: str) -> str:
    """Return what each order was expected to cost and cost, by kind, and how long it took."""
    table = Table(
        [
            *("receipt", "date", "offer", ">quantity", ">expected", ">was", ">more", ">%", ">days expected"),
            ">days",
        ]
    )
    for each in found:
        expected = "" if each.problem else figures.money(each.predicted_minor, currency)
        gap = each.actual_minor - each.predicted_minor
        table.add(
            str(each.receipt),
            each.received_on,
            f"{each.supplier}, {each.offer}",
            _good_words(each),
            expected,
            figures.money(each.actual_minor, currency),
            "" if each.problem else figures.money(gap, currency),
            "" if each.problem else _percent(gap, each.predicted_minor),
            "" if each.predicted_days is None else f"{each.predicted_days:g}",
            "" if each.actual_days is None else str(each.actual_days),
        )
    notes = [
        f"receipt {each.receipt}: nothing was expected: {each.problem}" for each in found if each.problem
    ]
    notes += [
        f"receipt {each.receipt}: {_good_words(each)} came good, {figures.quantity(each.claimed_milli)} claimed."
        for each in found
        if each.claimed_milli
    ]
    return paragraphs(
        [table.text(), *(_kinds_text(each, currency) for each in found if not each.problem), *notes]
    )


def _good_words(each: OrderOutcome) -> str:
    """Return how many came good, and of how many where some did not: 70 of 72."""
    good = figures.quantity(each.quantity_milli)
    every = figures.quantity(each.invoiced_milli)
    return good if each.quantity_milli == each.invoiced_milli else f"{good} of {every}"


def _percent(gap: int, expected: int) -> str:
    if not expected:
        return ""
    tenths = round_fraction(Fraction(gap * 1000, expected))
    return f"{'+' if tenths > 0 else ''}{show_scaled(tenths, 1)}%"


def _kinds_text(each: OrderOutcome, currency: str) -> str:
    table = Table([f"receipt {each.receipt}", ">expected", ">was", ">more"])
    for kind in each.kinds:
        table.add(
            kind.kind.replace("_", " "),
            figures.money(kind.predicted_minor, currency),
            figures.money(kind.actual_minor, currency),
            figures.money(kind.actual_minor - kind.predicted_minor, currency),
        )
    return table.text()


def afterwards_as_data(found: Sequence[OrderOutcome], currency: str) -> list[dict[str, Any]]:
    """Return what each order was expected to cost and cost as scripts take it."""
    return [
        {
            "receipt": each.receipt,
            "date": each.received_on,
            "supplier": each.supplier,
            "offer": each.offer,
            "quantity": show_quantity(each.quantity_milli),
            "invoiced": show_quantity(each.invoiced_milli),
            "claimed": show_quantity(each.claimed_milli),
            "unit": each.unit,
            "currency": currency,
            "expected": None if each.problem else show_money(each.predicted_minor, currency),
            "actual": show_money(each.actual_minor, currency),
            "expected_per_unit": None
            if each.problem
            else _per_unit(each.predicted_minor, each.invoiced_milli * each.expected_good, currency),
            "actual_per_unit": _per_unit(each.actual_minor, Fraction(each.quantity_milli), currency)
            if each.quantity_milli
            else None,
            "by_kind": [
                {
                    "kind": kind.kind,
                    "expected": show_money(kind.predicted_minor, currency),
                    "actual": show_money(kind.actual_minor, currency),
                }
                for kind in each.kinds
            ],
            "expected_days": each.predicted_days,
            "actual_days": each.actual_days,
            "problem": each.problem or None,
        }
        for each in found
    ]


def _per_unit(minor: int, good_milli: Fraction, currency: str) -> str:
    return script_cost(minor * MILLI / good_milli, currency)
