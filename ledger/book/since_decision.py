"""What the book knows of what came of a kept decision: what was wanted, ordered, received and is left."""

from __future__ import annotations

import datetime
import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ledger.book.decision_store import DecisionItem, KeptDecision
from ledger.book.demand_history import (
    LAST_ENTRY,
    ON_HAND_BY_DAY,
    WANTED,
    days_out,
    history_months,
    ordered_and_coming,
)
from ledger.book.order_store import find_orders
from ledger.book.orders import Order
from ledger.book.purchases import order_of_receipt
from ledger.catalogue.parties import normal_name
from ledger.sourcing.hindsight import LotSince
from ledger.sourcing.own_history import HistoryMonth, OwnHistory, SizeHistory

_LEFT = """
SELECT substr(effect_date, 1, 7), sum(quantity_milli) FROM leg
WHERE sku = ? AND account IN (SELECT value FROM json_each(?)) AND effect_date >= ? AND effect_date <= ?
GROUP BY 1
"""

_LOTS = """
SELECT d.number, coalesce(d.arrived_on, d.document_date), coalesce(d.party, ''), lot.sku, lot.quantity_received,
    lot.invoice_cost + lot.charges + (SELECT coalesce(sum(c.amount), 0) FROM late_cost AS c
        WHERE c.lot_document = lot.document AND c.lot_line = lot.line),
    lot.quantity_on_hand, lot.value_on_hand,
    (SELECT coalesce(sum(quantity_milli), 0) FROM leg WHERE lot_document = lot.document AND lot_line = lot.line
        AND account IN (SELECT value FROM json_each(?2))),
    (SELECT coalesce(sum(quantity_milli), 0) FROM leg WHERE lot_document = lot.document AND lot_line = lot.line
        AND account = 'returned to supplier'),
    (SELECT coalesce(sum(amount), 0) FROM leg WHERE lot_document = lot.document AND lot_line = lot.line
        AND account = 'returned to supplier')
FROM lot JOIN document AS d ON d.number = lot.document
WHERE lot.sku = ?1 AND d.event = 'receipt' AND lot.quantity_received > 0
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
"""
"""The lots of one SKU that receipts brought, with what became of them."""


@dataclass(frozen=True)
class OrderSince:
    """An order placed because of a decision; ``quantity_milli`` of its goods, ``expected_on`` '' where unknown."""

    number: int
    ordered_on: str
    party: str
    quantity_milli: int
    state: str
    is_waiting: bool
    expected_on: str


@dataclass(frozen=True)
class ReceiptSince:
    """What one receipt brought of a decision's goods; ``took_days`` from its order, None where it has none."""

    document: int
    received_on: str
    party: str
    order: int | None
    took_days: int | None
    lots: tuple[LotSince, ...]

    @property
    def quantity_milli(self) -> int:
        """Good pieces that came."""
        return sum(lot.received_milli for lot in self.lots)

    @property
    def landed_minor(self) -> int:
        """Their landed cost, late charges included."""
        return sum(lot.landed_minor for lot in self.lots)


@dataclass(frozen=True)
class SinceDecision:
    """What came since a decision, up to ``through``, the last day the book tells of (ISO 8601).

    Attributes:
        days: the days from the decision to then.
        history: what was wanted since, by month and size; it begins on the day after the decision.
        orders: those of the supplier it was decided for.
        receipts: what came from there because of it.
        home: what came from the supplier at home since; empty where that is the one it was decided for.
        until: the number of the next decision on the same goods, which answers for what was bought after it.
    """

    through: str
    days: int
    history: OwnHistory
    orders: tuple[OrderSince, ...] = ()
    receipts: tuple[ReceiptSince, ...] = ()
    home: tuple[ReceiptSince, ...] = ()
    until: int | None = None

    @property
    def lots(self) -> tuple[LotSince, ...]:
        """The lots that came because of it."""
        return tuple(lot for receipt in self.receipts for lot in receipt.lots)

    @property
    def took_days(self) -> tuple[int, ...]:
        """The days that its orders took to each receipt."""
        return tuple(each.took_days for each in self.receipts if each.took_days is not None)


def since_decision(
    connection: sqlite3.Connection,
    kept: KeptDecision,
    every: Sequence[KeptDecision],
    today: datetime.date,
) -> SinceDecision:
    """Return what came of a decision; ``every`` are all kept ones, the oldest first.

    A buy counts for the latest decision on its goods that was kept before it was ordered (received, where
    it follows no order), unless somebody told which order a decision led to. What a decision could not know,
    an earlier order's goods, is none of its doing.
    """
    entry = connection.execute(LAST_ENTRY, (today.isoformat(),)).fetchone()[0]
    through = max(entry or kept.decided_on, kept.decided_on)
    days = (datetime.date.fromisoformat(through) - datetime.date.fromisoformat(kept.decided_on)).days
    later = next((one for one in every if one.number > kept.number and set(one.skus) & set(kept.skus)), None)
    window = _Window(
        kept, later, frozenset(order for one in every for order in one.orders if one is not kept)
    )
    receipts = tuple(_receipts(connection, kept))
    orders = find_orders(connection)
    home = kept.home_supplier if kept.is_from_afar else None
    return SinceDecision(
        through=through,
        days=days,
        history=_history(connection, kept, through, ordered_and_coming(orders, today)),
        orders=tuple(_orders(orders, window)),
        receipts=tuple(
            each
            for each in receipts
            if _is_of(each.party, kept.supplier, each.order, kept) and window.holds(each)
        ),
        home=tuple(each for each in receipts if home and _is_of(each.party, home) and window.holds(each)),
        until=None if later is None else later.number,
    )


@dataclass(frozen=True)
class _Window:
    """From a decision to the next one on the same goods; ``others`` are orders told of other decisions."""

    kept: KeptDecision
    later: KeptDecision | None
    others: frozenset[int]

    def has(self, number: int, on: str) -> bool:
        """Whether an order or receipt of that number and day was decided on here."""
        if number in self.kept.orders:
            return True
        if number in self.others or on < self.kept.decided_on or number <= self.kept.known_documents:
            return False
        return self.later is None or number <= self.later.known_documents

    def holds(self, receipt: ReceiptSince) -> bool:
        """Whether what a receipt brought was decided on here."""
        if receipt.order is None or receipt.took_days is None:
            return self.has(receipt.document, receipt.received_on)
        taken = datetime.timedelta(days=receipt.took_days)
        return self.has(receipt.order, (datetime.date.fromisoformat(receipt.received_on) - taken).isoformat())


def _is_of(
    party: str, wanted: str | None, order: int | None = None, kept: KeptDecision | None = None
) -> bool:
    if kept is not None and order in kept.orders:
        return True
    return wanted is not None and normal_name(party) == normal_name(wanted)


def _orders(orders: Sequence[Order], window: _Window) -> Iterator[OrderSince]:
    kept = window.kept
    skus = set(kept.skus)
    for order in orders:
        quantity = sum(line.quantity_milli for line in order.lines if line.sku in skus)
        if not quantity or not window.has(order.number, order.ordered_on):
            continue
        if _is_of(order.party, kept.supplier, order.number, kept):
            yield OrderSince(
                order.number,
                order.ordered_on,
                order.party,
                quantity,
                order.state,
                order.is_waiting,
                order.next_expected,
            )


def _receipts(connection: sqlite3.Connection, kept: KeptDecision) -> Iterator[ReceiptSince]:
    """Return what every receipt of the goods brought, the oldest first."""
    found: dict[int, tuple[str, str, list[LotSince]]] = {}
    for sku in kept.skus:
        for number, day, party, _, *figures in connection.execute(_LOTS, (sku, json.dumps(WANTED))):
            found.setdefault(number, (day, party, []))[2].append(LotSince(*figures))
    for number, (day, party, lots) in sorted(found.items()):
        order = order_of_receipt(connection, number)
        yield ReceiptSince(
            document=number,
            received_on=day,
            party=party,
            order=None if order is None else order.number,
            took_days=None if order is None else order.days_until(day),
            lots=tuple(lots),
        )


def _history(
    connection: sqlite3.Connection, kept: KeptDecision, through: str, coming: Mapping[str, int]
) -> OwnHistory:
    """Return what was wanted from the day after the decision on, with the days that each item was not there."""
    first = datetime.date.fromisoformat(kept.decided_on) + datetime.timedelta(days=1)
    months = history_months(first, datetime.date.fromisoformat(through))
    sizes = tuple(
        _size(connection, item, first.isoformat(), through, months, coming.get(item.sku, 0))
        for item in kept.items
    )
    return OwnHistory(kept.label, through, months, sizes)


def _size(
    connection: sqlite3.Connection,
    item: DecisionItem,
    first: str,
    through: str,
    months: Sequence[HistoryMonth],
    coming_milli: int,
) -> SizeHistory:
    left = dict(connection.execute(_LEFT, (item.sku, json.dumps(WANTED), first, through)))
    moves = connection.execute(ON_HAND_BY_DAY, (item.sku,)).fetchall()
    return SizeHistory(
        name=item.size,
        left_milli=tuple(left.get(month.month, 0) for month in months),
        days_out=days_out(moves, months, first),
        on_hand_milli=max(0, sum(change for day, change, _ in moves if day <= through)),
        coming_milli=coming_milli,
    )


def stock_milli(history: OwnHistory) -> int:
    """Return what of the goods is on the shelf."""
    return sum(size.on_hand_milli for size in history.sizes)
