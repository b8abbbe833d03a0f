"""The shop's own history as the [demand] of a study says it."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from ledger.exact.numbers import show_fraction
from ledger.exact.quantity import show_quantity
from ledger.sourcing.own_history import OwnHistory, days_outside, days_without_stock, size_shares

SHARE_PLACES = 4


def history_table(history: OwnHistory) -> dict[str, Any]:
    """Return the keys of [demand] that a history gives; stock alone where nothing ever left the shelf.

    Days without stock and days outside the history are given to a tenth of a day, so that both together
    are what ``days_without_stock`` says; shares to four places.
    """
    found: dict[str, Any] = {}
    if not history.is_empty:
        found["history"] = [
            Decimal(show_quantity(history.left_milli(place))) for place in range(len(history.months))
        ]
        days = [_decimal(each, 1) for each in days_without_stock(history)]
        outside = [_decimal(each, 1) for each in days_outside(history)]
        out = [max(Decimal(0), all_in - none_of) for all_in, none_of in zip(days, outside, strict=True)]
        if any(out):
            found["days_out_of_stock"] = out
        if any(outside):
            found["days_outside"] = outside
        if len(history.sizes) > 1:
            found["sizes"] = {
                size.name: _decimal(share, SHARE_PLACES)
                for size, share in zip(history.sizes, size_shares(history), strict=True)
            }
    if len(history.sizes) > 1 and "sizes" in found:
        found["on_hand"] = {size.name: size.stock for size in history.sizes}
    else:
        found["on_hand"] = sum(size.stock for size in history.sizes)
    return found


def _decimal(value: Fraction, places: int) -> Decimal:
    return Decimal(show_fraction(value, places))
