"""What the supplier credits for claimed pieces, line by line."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.arrival_parts import ArrivalParts, Arriving
from ledger.book.orders import Shipment
from ledger.book.shop import Shop
from ledger.costing.spreading import spread
from ledger.errors import InputErrors, Problem
from ledger.exact.money import convert_minor, grouped_money
from ledger.exact.rounding import divide_round

UNDER_WAY_COST = """
SELECT coalesce(sum(l.amount), 0), coalesce(sum(l.quantity_milli), 0) FROM leg AS l INDEXED BY leg_lot
WHERE l.lot_document = ? AND l.lot_line = ? AND l.account = 'under way'
"""
"""What of a shipment's line is under way, at what cost."""


@dataclass(frozen=True, slots=True)
class CreditTold:
    """A credit for all claimed pieces, in minor units of ``currency``; None where none was told.

    ``rate_of`` gives the rate, as decimal text, of a currency on the day of arrival.
    """

    amount_foreign: int | None
    currency: str
    rate_of: Callable[[str], str]


def credits_of(
    connection: sqlite3.Connection, shop: Shop, told: CreditTold, parts: ArrivalParts
) -> dict[tuple[int, int], int]:
    """Return what is credited for the claimed pieces of each line of a shipment, in the book's minor units.

    Without a credit that was told, lines that are the shop's since they were shipped get their share of
    the invoice, and those that are bought on arrival are left to the receipt's own rule.

    Raises InputErrors where nothing is claimed, or more is credited than the pieces cost.
    """
    claimed = [(ship, part) for ship, own in parts.lines for part in own if part.claimed_milli]
    if not claimed:
        if told.amount_foreign is not None:
            raise InputErrors(
                "this arrival", [Problem("--credit", "nothing is claimed, so nothing is credited.")]
            )
        return {}
    shares = [
        divide_round(part.shipped.amount * part.claimed_milli, part.shipped.quantity_milli)
        for _, part in claimed
    ]
    keys = [(part.shipped.document, part.shipped.line) for _, part in claimed]
    if told.amount_foreign is None:
        return {
            key: share
            for key, share, (ship, _) in zip(keys, shares, claimed, strict=True)
            if ship.is_the_shops
        }
    ship = claimed[0][0]
    rate = Fraction(
        ship.rate if ship.is_the_shops and ship.currency == told.currency else told.rate_of(told.currency)
    )
    credit = convert_minor(told.amount_foreign, rate, told.currency, shop.currency)
    weights = shares if all(shares) else [part.claimed_milli for _, part in claimed]
    amounts = spread(credit, weights)
    _refuse_too_much(connection, shop, told, claimed, amounts)
    return dict(zip(keys, amounts, strict=True))


def _refuse_too_much(
    connection: sqlite3.Connection,
    shop: Shop,
    told: CreditTold,
    claimed: Sequence[tuple[Shipment, Arriving]],
    amounts: Sequence[int],
) -> None:
    """Raise InputErrors where a line is credited with more than all of what arrives of it cost."""
    problems = []
    for (ship, part), amount in zip(claimed, amounts, strict=True):
        cost = _cost(connection, shop, told, ship, part)
        if amount > cost:
            problems.append(
                Problem(
                    "--credit",
                    f"{grouped_money(told.amount_foreign or 0, told.currency)} {told.currency} makes "
                    f"{grouped_money(amount, shop.currency)} {shop.currency} for {part.shipped.sku} of shipment "
                    f"{ship.document}, and all of it that arrives or is missing cost "
                    f"{grouped_money(cost, shop.currency)}.",
                    "Give what is credited for the claimed pieces alone.",
                )
            )
    if problems:
        raise InputErrors("this arrival", problems)


def _cost(
    connection: sqlite3.Connection, shop: Shop, told: CreditTold, ship: Shipment, part: Arriving
) -> int:
    """Return what the arriving part of a line cost, rounded up."""
    shipped = part.shipped
    if not ship.is_the_shops:
        whole = part.amount_foreign
        if whole is None:
            whole = divide_round(shipped.amount_foreign * part.quantity_milli, shipped.quantity_milli)
        return convert_minor(whole, Fraction(told.rate_of(ship.currency)), ship.currency, shop.currency)
    amount, milli = connection.execute(UNDER_WAY_COST, (shipped.document, shipped.line)).fetchone()
    if milli <= 0:
        # It is shipped in the same step, and not costed yet.
        amount, milli = shipped.amount, shipped.quantity_milli
    return -(-int(amount) * part.quantity_milli // int(milli))
