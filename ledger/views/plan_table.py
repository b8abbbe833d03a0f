"""The lines of a planned order as a table in base units, each with its packs and its reason under it."""

from __future__ import annotations

import datetime
import math
import textwrap
from collections.abc import Sequence
from fractions import Fraction

from ledger.exact.quantity import MILLI, show_quantity
from ledger.exact.rounding import round_fraction
from ledger.sourcing.supplier_orders import PlannedLine, PlannedOrder
from ledger.sourcing.what_to_order import Outlook
from ledger.views import figures
from ledger.views.prose import WIDTH
from ledger.views.tables import Table

FAR_DAYS = 5 * 365
"""A day further away is no day to name; our own rule."""

UNDER = "    "


def order_table(order: PlannedOrder, shown: Sequence[PlannedLine]) -> Table:
    """Return the lines of an order that are shown, every quantity of a row in the item's own unit."""
    currency = order.way.quote.currency
    comes = any(line.chosen.item.coming_milli for line in shown)
    heads = [
        "SKU",
        ">on hand",
        ">under way",
        ">a day",
        "lasts to",
        ">order at",
        ">order",
        "unit",
        f">{currency}",
    ]
    table = Table([head for head in heads if comes or head != ">under way"])
    for line in shown:
        seen, item = line.chosen.seen, line.chosen.item
        on_the_way = [figures.quantity(item.coming_milli) if item.coming_milli else ""] if comes else []
        table.add(
            item.sku,
            figures.quantity(item.on_hand_milli),
            *on_the_way,
            rate(seen.per_day),
            lasting(seen, line.chosen.way.lead.start),
            at_stock(seen.reorder_at),
            figures.quantity(round(line.quantity * MILLI)),
            item.unit,
            figures.money(round_fraction(line.amount_minor), currency),
        )
    if len(shown) == len(order.lines):
        total = sum((line.amount_minor for line in order.lines), Fraction(0))
        blanks = [""] * (len(table.headings) - 1)
        table.total(*blanks, figures.money(round_fraction(total), currency))
    return table


def with_reasons(table: Table, shown: Sequence[PlannedLine]) -> str:
    """Return the table's text with the packs and the reason of each line under its row."""
    lines = table.text().splitlines()
    first = 2
    found = lines[:first]
    for row, line in zip(lines[first:], shown, strict=False):
        words = ": ".join(filter(None, (pack_words(line), line.why[0])))
        found += [row, *textwrap.wrap(words, WIDTH, initial_indent=UNDER, subsequent_indent=UNDER)]
    return "\n".join([*found, *lines[first + len(shown) :]])


def pack_words(line: PlannedLine) -> str:
    """Return the packs of a line: '6 roll of 13,703.2 cm2'; empty where it is ordered in its own unit."""
    factor, item = line.chosen.way.factor, line.chosen.item
    unit = line.chosen.way.quote.unit
    if factor == 1 or not unit:
        return ""
    return f"{line.units:,} {unit} of {figures.quantity(round(factor * MILLI))} {item.unit}"


def rate(per_day: float) -> str:
    """Return the use of a day with three figures that count."""
    if per_day <= 0:
        return "0"
    places = max(0, 2 - math.floor(math.log10(per_day)))
    text = f"{per_day:,.{min(places, 6)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def at_stock(quantity: float) -> str:
    """Return a reorder point: whole from ten on, with a decimal below."""
    return f"{quantity:,.0f}" if quantity >= 10 else f"{quantity:,.1f}".removesuffix(".0")  # noqa: PLR2004


def lasting(seen: Outlook, today: datetime.date) -> str:
    """Return the day on which stock is used up, or the last on which it can be used before it expires."""
    day = seen.lasts_until
    if day is None:
        return ""
    if (day - today).days > FAR_DAYS:
        return "over 5 years"
    return f"{day.isoformat()} expires" if seen.ends_by_expiry else day.isoformat()


def base_quantity(quantity: float) -> str:
    """Return base units as scripts take them: thousandths at most, without trailing zeros."""
    return show_quantity(round(quantity * MILLI))
