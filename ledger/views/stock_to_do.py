"""What a stock page asks its reader to do, before any figure."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.book.stock_state import EXPIRY_DAYS, StockState
from ledger.views.page import Block, Point, Points
from ledger.views.prose import first_few

_MOST_NAMED = 6


def to_do(state: StockState) -> list[Block]:
    """Return what is short, sold out, expired or late, each in a line; nothing for a day that is past."""
    return [Points(list(_points(state)))] if state.is_now else []


def _points(state: StockState) -> Iterator[Point]:
    if state.shorts:
        yield Point(
            f"More was used than was entered: {_named([row.sku for row in state.shorts])}. Enter or count it."
        )
    empty = [row.sku for row in state.rows if row.style and row.quantity_milli <= 0]
    if empty:
        yield Point(f"Sold out: {_named(empty)}.")
    today = state.on.isoformat()
    gone = [row.sku for row in state.expiring if row.expires_on < today]
    soon = [row.sku for row in state.expiring if row.expires_on >= today]
    if gone:
        yield Point(f"Expired, not to be used: {_named(gone)}.")
    if soon:
        yield Point(f"Expires within {EXPIRY_DAYS} days, use it first: {_named(soon)}.")
    late = [f"{row.sku} of order {row.order}" for row in state.expected if row.days_late > 0]
    if late:
        yield Point(f"Late, ask the supplier: {_named(late)}.")
    unpaid = [f"{row.what} of order {row.order}" for row in state.outstanding if row.days_overdue(state.on)]
    if unpaid:
        yield Point(f"Due and not told to be paid: {_named(unpaid)}.")
    yield Point("What to order now, from whom and by when:", "blankbook plan")


def _named(every: list[str]) -> str:
    return first_few(every, _MOST_NAMED, "more (below)")
