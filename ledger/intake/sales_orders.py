"""What the orders of a sales export hold: for money that was paid back without saying for which item."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.book.row_sources import OrderedItem
from ledger.costing.spreading import spread
from ledger.exact.currencies import exponent
from ledger.exact.rounding import round_fraction
from ledger.intake.events import EventRow
from ledger.intake.sales_amounts import Happening

BookOrders = Callable[[str, str], Sequence[OrderedItem]]
"""Returns what the book sold of a channel's order."""


@dataclass(frozen=True, slots=True)
class ItemOfOrder:
    """An item of an order: its SKU, what it sold for in units of its currency, and how the file calls it."""

    sku: str
    amount: Fraction
    note: str = ""


@dataclass(frozen=True, slots=True)
class Share:
    """The part of what was paid back that one item of the order bears."""

    item: ItemOfOrder
    event: Happening


def items_of_order(
    rows: Iterable[EventRow], order: str, party: str, in_book: BookOrders | None
) -> tuple[ItemOfOrder, ...]:
    """Return the items of an order by SKU: the sales of the file, and those of the book that are not in it.

    Arguments:
        rows: the file's events so far.
        order: the order's number.
        party: the channel.
        in_book: what the book knows; None where no book is at hand.
    """
    sold = [row for row in rows if row.reference == order and row.event == "sell"]
    keys = {row.source.key for row in sold if row.source}
    found: dict[str, ItemOfOrder] = {}
    for row in sold:
        _add(found, ItemOfOrder(row.sku, row.amount or Fraction(0), row.note))
    for one in in_book(party, order) if in_book is not None else ():
        if not one.source_key or one.source_key not in keys:
            amount = Fraction(one.amount_minor, 10 ** exponent(one.currency))
            _add(found, ItemOfOrder(one.sku, amount, one.note))
    return tuple(found[sku] for sku in sorted(found))


def _add(found: dict[str, ItemOfOrder], one: ItemOfOrder) -> None:
    known = found.get(one.sku)
    found[one.sku] = one if known is None else replace(known, amount=known.amount + one.amount)


def shared(event: Happening, items: Sequence[ItemOfOrder], currency: str) -> list[Share]:
    """Return what each item of an order bears of money paid back, by what it sold for, to the cent.

    The largest remainder goes first; an item that bears nothing is left out.
    """
    scale = 10 ** exponent(currency)
    weights = [round_fraction(item.amount * scale) for item in items]

    def parts(value: Fraction | None) -> list[Fraction | None]:
        if value is None:
            return [None] * len(items)
        return [Fraction(part, scale) for part in spread(round_fraction(value * scale), weights)]

    columns = [parts(value) for value in (event.amount, event.shipping, event.fees)]
    shares = []
    for place, item in enumerate(items):
        amount, shipping, fees = (column[place] for column in columns)
        if amount or shipping or fees:
            own = replace(event, amount=amount or None, shipping=shipping, fees=fees)
            shares.append(Share(item, own))
    return shares
