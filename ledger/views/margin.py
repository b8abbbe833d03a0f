"""Margin by design, way or SKU, with misprints, shrinkage and slow movers: text and data."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from ledger.book.margin import WAY, Margin, MarginRow, MisprintRow, ShrinkageRow, SlowRow
from ledger.exact.money import show_money
from ledger.exact.numbers import show_fraction, show_scaled
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import round_fraction
from ledger.views import figures
from ledger.views.bars import Bars, beside
from ledger.views.tables import Table, paragraphs

PERCENT_PLACES = 1

WHAT_IS_LEFT = (
    "Left is what was sold and charged for shipping, less what was paid back, fees and the cost of the pieces.\n"
    "Postage you paid, and other costs of the shop, are not in it."
)


def margin_text(
    found: Margin, currency: str, by: str, heading: str, slow_days: int, bars: Bars | None = None
) -> str:
    """Return the report as tables under headings; what is empty is left out."""
    if not (found.rows or found.misprints or found.shrinkage or found.slow):
        return "Nothing was sold, made or counted in this time."
    return paragraphs(
        [
            heading,
            beside(_margin_table(found, currency, by), [row.left for row in found.rows], bars).text()
            if found.rows
            else "Nothing was sold.",
            WHAT_IS_LEFT if found.rows else "",
            _under("Misprints: spoiled pieces of all that were begun", _misprint_table(found.misprints)),
            _under(
                "Shrinkage: what counts did not find, of what left, at cost",
                _shrinkage_table(found.shrinkage, currency),
            ),
            _under(
                f"Nothing sold or used for {slow_days} days or more", _text(slow_table(found.slow, currency))
            ),
        ]
    )


def _under(heading: str, table: str) -> str:
    return f"{heading}\n\n{table}" if table else ""


def percent(value: Fraction | None) -> str:
    """Return a percentage with one decimal, '' where there is none.

    >>> percent(Fraction(100, 3)), percent(None)
    ('33.3', '')
    """
    return "" if value is None else show_scaled(round_fraction(value * 10**PERCENT_PLACES), PERCENT_PLACES)


def _margin_table(found: Margin, currency: str, by: str) -> Table:
    # A way needs no more words than its name.
    words = 1 if by == WAY else 2
    headings = [by, "", ">pieces", f">sold {currency}", ">shipping", ">fees", ">cost", ">left", ">percent"]
    table = Table([*headings[:words], *headings[2:]])
    for row in found.rows:
        table.add(*(row.name, row.label)[:words], *_amounts(row, currency))
    table.total(*("total", "")[:words], *_amounts(found.total, currency))
    return table


def _amounts(row: MarginRow, currency: str) -> list[str]:
    amounts = (row.revenue, row.shipping, row.fees, row.cost, row.left)
    shown = [figures.money(amount, currency) for amount in amounts]
    return [figures.quantity(row.pieces_milli), *shown, percent(row.percent)]


def _misprint_table(rows: Sequence[MisprintRow]) -> str:
    if not rows:
        return ""
    table = Table(["design", "", ">begun", ">as usual", ">unusual", ">percent", ">planned"])
    for row in rows:
        counted = (row.pieces_milli, row.normal_milli, row.abnormal_milli)
        shown = [figures.quantity(each) for each in counted]
        table.add(row.name, row.label, *shown, percent(row.percent), percent(row.planned_percent))
    return table.text()


def _shrinkage_table(rows: Sequence[ShrinkageRow], currency: str) -> str:
    if not rows:
        return ""
    table = Table(["kind", f">not found {currency}", ">left", ">percent"])
    for row in rows:
        amounts = [figures.money(each, currency) for each in (row.differences, row.left)]
        table.add(row.kind, *amounts, percent(row.percent))
    return table.text()


def _text(table: Table) -> str:
    return table.text() if table.rows else ""


def slow_table(rows: Sequence[SlowRow], currency: str) -> Table:
    """Return what nobody bought or used for long as a table, the most valuable first."""
    table = Table(["SKU", "name", "kind", ">on hand", "unit", f">value {currency}", "last left", ">days"])
    for row in rows:
        table.add(
            row.sku,
            row.name,
            row.kind,
            figures.quantity(row.quantity_milli),
            row.base_unit,
            figures.money(row.value, currency),
            row.last_left or "never",
            str(row.days),
        )
    value = figures.money(sum(row.value for row in rows), currency)
    table.total("total", "", "", "", "", value, "", "")
    return table


def margin_as_data(found: Margin, currency: str, by: str) -> dict[str, Any]:
    """Return the report as scripts take it."""
    return {
        "by": by,
        "currency": currency,
        "rows": [{by: row.name, "name": row.label, **_data(row, currency)} for row in found.rows],
        "total": _data(found.total, currency),
        "misprints": [_misprint_data(row) for row in found.misprints],
        "shrinkage": [
            {
                "kind": row.kind,
                "count_differences": show_money(row.differences, currency),
                "left": show_money(row.left, currency),
                "percent": _percent_data(row.percent),
            }
            for row in found.shrinkage
        ],
        "slow_movers": [
            {
                "sku": row.sku,
                "kind": row.kind,
                "unit": row.base_unit,
                "quantity": show_quantity(row.quantity_milli),
                "value": show_money(row.value, currency),
                "last_left": row.last_left or None,
                "days": row.days,
            }
            for row in found.slow
        ],
    }


def _data(row: MarginRow, currency: str) -> dict[str, Any]:
    amounts = {name: getattr(row, name) for name in ("revenue", "shipping", "fees", "cost", "left")}
    shown = {name: show_money(amount, currency) for name, amount in amounts.items()}
    return {"pieces": show_quantity(row.pieces_milli), **shown, "percent": _percent_data(row.percent)}


def _misprint_data(row: MisprintRow) -> dict[str, Any]:
    return {
        "design": row.name,
        "name": row.label,
        "pieces": show_quantity(row.pieces_milli),
        "normal": show_quantity(row.normal_milli),
        "abnormal": show_quantity(row.abnormal_milli),
        "percent": _percent_data(row.percent),
        "planned_percent": _percent_data(row.planned_percent),
    }


def _percent_data(value: Fraction | None) -> str | None:
    return None if value is None else show_fraction(value, 2)
