"""What is on the shelf: the list, the grid of a style, the lots, what expires."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import Any

from ledger.book.looking import SOON_DAYS, ExpiryRow, LotRow, ShortRow, StockRow
from ledger.catalogue.sizes import LADDERS, Ladder, find_ladder, size_sort_key
from ledger.errors import ValueProblem
from ledger.exact.money import show_money
from ledger.exact.quantity import show_quantity
from ledger.views import figures
from ledger.views.bars import Bars, beside
from ledger.views.tables import Table, paragraphs

NOTHING = "Nothing is on hand."

COST_IS, A_GUESS = "cost is", "a guess"

CHEMICALS = "Store and dispose of chemicals by their label and local rules."

GAP_MARK = "."
"""Stands where the style has that size in other colours, but not in this one."""

NAMED_GAPS = 12
"""How many sizes at zero are named below a grid before they are only counted."""


def stock_text(rows: Sequence[StockRow], currency: str, heading: str, bars: Bars | None = None) -> str:
    """Return stock as a list, grouped by kind, with a total for each kind and for all, on a terminal with bars."""
    if not rows:
        return NOTHING
    kinds = sorted({row.kind for row in rows})
    values = [sum(row.value for row in rows if row.kind == kind) for kind in kinds]
    table = stock_table(rows, currency)
    if len(kinds) > 1:
        table = beside(table, values, bars, in_totals=True)
    return paragraphs([heading, table.text()])


def stock_table(rows: Sequence[StockRow], currency: str) -> Table:
    """Return stock as a table, grouped by kind, with a total for each kind and for all."""
    table = Table(["SKU", "name", "kind", ">quantity", "unit", f">value {currency}", ">each"])
    for row in sorted(rows, key=lambda row: (row.kind, _sku_order(row))):
        table.add(
            row.sku,
            row.name,
            row.kind,
            figures.quantity(row.quantity_milli),
            row.base_unit,
            figures.money(row.value, currency),
            figures.per_unit(row.value, row.quantity_milli, currency),
        )
    kinds = sorted({row.kind for row in rows})
    if len(kinds) > 1:
        for kind in kinds:
            value = sum(row.value for row in rows if row.kind == kind)
            table.total("", f"all {kind}", kind, "", "", figures.money(value, currency), "")
    table.total("", "all stock", "", "", "", figures.money(sum(row.value for row in rows), currency), "")
    return table


def _sku_order(row: StockRow) -> tuple[object, ...]:
    """Sort as people expect: style, colour, then size along its ladder; SKU for the rest."""
    return (row.style.casefold(), row.colour.casefold(), size_sort_key(row.size, _ladder(row)), row.sku)


def _ladder(row: StockRow) -> Ladder | None:
    if not row.ladder:
        return None
    try:
        return find_ladder(row.ladder)
    except ValueProblem:
        # One of the shop's own ladders: its sizes sort in natural order.
        return None


def stock_as_data(rows: Sequence[StockRow], currency: str) -> list[dict[str, Any]]:
    """Return stock as the JSON contract has it."""
    return [
        {
            "sku": row.sku,
            "kind": row.kind,
            "unit": row.base_unit,
            "quantity": show_quantity(row.quantity_milli),
            "value": show_money(row.value, currency),
            "unit_cost": figures.unit_cost(row.value, row.quantity_milli, currency),
            "currency": currency,
        }
        for row in rows
    ]


def grid_text(
    style: str, rows: Sequence[StockRow], currency: str, heading: str, bars: Bars | None = None
) -> str:
    """Return a style as a grid: colours down, sizes across, totals on both sides, on a terminal with bars.

    Zero is a size that is sold out, a dot one that this colour does not have.
    """
    pieces = [sum(row.quantity_milli for row in rows if row.colour == colour) for colour in _colours(rows)]
    table = beside(grid_table(rows, currency), pieces, bars)
    return paragraphs([f"{style}{heading}", table.text(), grid_note(rows)])


def _colours(rows: Sequence[StockRow]) -> list[str]:
    return sorted({row.colour for row in rows}, key=str.casefold)


def grid_table(rows: Sequence[StockRow], currency: str) -> Table:
    """Return the rows of one style as a grid: colours down, sizes across, totals on both sides."""
    sizes = sorted(
        {row.size for row in rows},
        key=lambda size: min(size_sort_key(size, _ladder(row), LADDERS) for row in rows if row.size == size),
    )
    colours = _colours(rows)
    table = Table(["colour", *(f">{size or 'no size'}" for size in sizes), ">pieces", f">value {currency}"])
    cells = {(row.colour, row.size): row for row in rows}
    for colour in colours:
        own = [cells.get((colour, size)) for size in sizes]
        table.add(
            colour or "no colour",
            *(figures.quantity(row.quantity_milli) if row else GAP_MARK for row in own),
            figures.quantity(sum(row.quantity_milli for row in own if row)),
            figures.money(sum(row.value for row in own if row), currency),
        )
    table.total(
        "all",
        *(figures.quantity(sum(row.quantity_milli for row in rows if row.size == size)) for size in sizes),
        figures.quantity(sum(row.quantity_milli for row in rows)),
        figures.money(sum(row.value for row in rows), currency),
    )
    return table


def grid_note(rows: Sequence[StockRow]) -> str:
    """Return which sizes and colours are at zero, as long as they can be told apart from the rest."""
    none_left = [
        f"{row.colour} {row.size}".strip() for row in sorted(rows, key=_sku_order) if not row.quantity_milli
    ]
    if not none_left:
        return ""
    if len(none_left) > NAMED_GAPS:
        return f"None on hand in {len(none_left)} of {len(rows)} sizes and colours."
    between = _between_sizes(rows)
    more = f" Of these between sizes that are there: {', '.join(between)}." if between else ""
    return f"None on hand: {', '.join(none_left)}.{more}"


def _between_sizes(rows: Sequence[StockRow]) -> list[str]:
    """Return the colours and sizes that are out while a smaller and a larger size of the colour are there."""
    found = []
    for colour in _colours(rows):
        own = sorted((row for row in rows if row.colour == colour), key=_sku_order)
        there = [place for place, row in enumerate(own) if row.quantity_milli > 0]
        if there:
            gaps = (row for row in own[there[0] : there[-1]] if not row.quantity_milli)
            found += [f"{row.colour} {row.size}".strip() for row in gaps]
    return found


def lots_text(rows: Sequence[LotRow], currency: str) -> str:
    """Return lots in the order they are used up."""
    if not rows:
        return "There are no lots with anything left. Add --all to see the empty ones."
    is_any_guessed = any(row.is_cost_guessed for row in rows)
    table = Table(
        [
            "lot",
            "SKU",
            "date",
            "party",
            "reference",
            ">received",
            ">on hand",
            "unit",
            ">goods",
            ">charges",
            ">landed",
            ">each",
            f">on hand {currency}",
            "expires",
            *([COST_IS] if is_any_guessed else []),
        ]
    )
    for row in rows:
        table.add(
            f"{row.document}.{row.line}",
            row.sku,
            row.received_on,
            row.party,
            row.reference,
            figures.quantity(row.quantity_received),
            figures.quantity(row.quantity_on_hand),
            row.base_unit,
            figures.money(row.invoice_cost, currency),
            figures.money(row.charges, currency),
            figures.money(row.landed_cost, currency),
            figures.per_unit(row.landed_cost, row.quantity_received, currency),
            figures.money(row.value_on_hand, currency),
            row.expires_on or "",
            *([A_GUESS if row.is_cost_guessed else ""] if is_any_guessed else []),
        )
    table.total(
        "total",
        "",
        "",
        "",
        "",
        "",
        "",
        "",
        figures.money(sum(row.invoice_cost for row in rows), currency),
        figures.money(sum(row.charges for row in rows), currency),
        figures.money(sum(row.landed_cost for row in rows), currency),
        "",
        figures.money(sum(row.value_on_hand for row in rows), currency),
        "",
        *([""] if is_any_guessed else []),
    )
    return table.text()


def lots_as_data(rows: Sequence[LotRow], currency: str) -> list[dict[str, Any]]:
    """Return lots as the JSON contract has them."""
    return [
        {
            "lot": f"{row.document}.{row.line}",
            "sku": row.sku,
            "received_on": row.received_on,
            "party": row.party,
            "reference": row.reference,
            "quantity_received": show_quantity(row.quantity_received),
            "quantity_on_hand": show_quantity(row.quantity_on_hand),
            "invoice_cost": show_money(row.invoice_cost, currency),
            "charges": show_money(row.charges, currency),
            "landed_cost": show_money(row.landed_cost, currency),
            "value_on_hand": show_money(row.value_on_hand, currency),
            "unit_cost": figures.unit_cost(row.landed_cost, row.quantity_received, currency),
            "expires_on": row.expires_on,
            "is_cost_guessed": row.is_cost_guessed,
        }
        for row in rows
    ]


def expiry_text(rows: Sequence[ExpiryRow], on: datetime.date) -> str:
    """Return what has expired or soon will, '' where nothing does."""
    if not rows:
        return ""
    lines = []
    for row in rows:
        when = expires_when(row, on)
        amount = f"{figures.quantity(row.quantity_on_hand)} {row.base_unit}"
        lines.append(f"  {row.expires_on} ({when})  {row.sku}, {amount} of lot {row.document}.{row.line}")
    return "\n".join(
        [
            f"Expires within {SOON_DAYS} days, or has:",
            *lines,
            CHEMICALS,
        ]
    )


def expires_when(row: ExpiryRow, on: datetime.date) -> str:
    """Return how far off a lot's expiry is: 'in 16 days', 'tomorrow', 'today', 'EXPIRED'."""
    days = (datetime.date.fromisoformat(row.expires_on) - on).days
    if days > 1:
        return f"in {days} days"
    return {1: "tomorrow", 0: "today"}.get(days, "EXPIRED")


def coming_text(value: int, currency: str) -> str:
    """Return what is said of goods that are the shop's and not on the shelf yet."""
    return f"Under way and the shop's already, not counted here: {figures.money(value, currency)} {currency}"


def shorts_text(rows: Sequence[ShortRow]) -> str:
    """Return what was used before it was entered, '' where nothing was."""
    if not rows:
        return ""
    lines = [
        f"  {row.sku}: {figures.quantity(row.quantity_milli)} {row.base_unit} since {row.since}"
        for row in rows
    ]
    return "\n".join(["Used before it was entered (enter the receipt, or count it):", *lines])
