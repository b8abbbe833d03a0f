"""What is shipped of each line of an order, and what part of its amount goes with it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from ledger.book.orders import INVOICE_PRICE, Order, OrderLine
from ledger.costing.spreading import spread
from ledger.errors import Problem
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import divide_round


@dataclass(frozen=True, slots=True, kw_only=True)
class ShipWish:
    """What is shipped of one item, in thousandths.

    ``amount_foreign`` is its price by the invoice; None: the order's. Weight and volume are of all of it,
    None where only the order or the catalogue tells.
    """

    sku: str
    quantity_milli: int
    amount_foreign: int | None = None
    weight_mg: int | None = None
    volume_mm3: int | None = None
    where: str = ""


@dataclass(frozen=True, slots=True)
class ShipPart:
    """What is shipped of one line of the order."""

    line: OrderLine
    quantity_milli: int
    amount_foreign: int
    is_invoice_price: bool
    weight_mg: int | None
    volume_mm3: int | None


def ship_parts(order: Order, wishes: Sequence[ShipWish], problems: list[Problem]) -> list[ShipPart]:
    """Return what is shipped of each line of an order; without wishes all that is not shipped yet.

    What is wrong is added to ``problems``: more than was ordered, or nothing of the order.
    """
    wanted = _by_sku(wishes) or [
        ShipWish(sku=line.sku, quantity_milli=milli)
        for line in order.lines
        if (milli := order.to_ship_milli(line))
    ]
    left = {line.line: order.to_ship_milli(line) for line in order.lines}
    parts: list[ShipPart] = []
    for wish in wanted:
        own = [line for line in order.lines if line.sku == wish.sku]
        free = sum(left[line.line] for line in own)
        where = wish.where or wish.sku
        if not own:
            skus = ", ".join(dict.fromkeys(line.sku for line in order.lines))
            problems.append(Problem(where, f"order {order.number} has no {wish.sku}.", f"It is of {skus}."))
        elif wish.quantity_milli > free:
            ordered = show_quantity(sum(line.quantity_milli for line in own))
            problems.append(
                Problem(
                    where,
                    f"{show_quantity(wish.quantity_milli)} of {wish.sku} are shipped, but of the {ordered} "
                    f"ordered only {show_quantity(free)} are left to ship.",
                    "Ship what was ordered; what comes beyond it is entered at its arrival, or ordered anew.",
                )
            )
        else:
            parts += _of_lines(order, own, wish, left)
    return parts


def _by_sku(wishes: Sequence[ShipWish]) -> list[ShipWish]:
    """Return one wish for each item; several with prices have them added up."""
    found: dict[str, ShipWish] = {}
    for wish in wishes:
        before = found.get(wish.sku)
        found[wish.sku] = (
            wish
            if before is None
            else replace(
                before,
                quantity_milli=before.quantity_milli + wish.quantity_milli,
                amount_foreign=_sum(before.amount_foreign, wish.amount_foreign),
                weight_mg=_sum(before.weight_mg, wish.weight_mg),
                volume_mm3=_sum(before.volume_mm3, wish.volume_mm3),
            )
        )
    return list(found.values())


def _sum(one: int | None, other: int | None) -> int | None:
    return None if one is None or other is None else one + other


def _of_lines(
    order: Order, own: Sequence[OrderLine], wish: ShipWish, left: dict[int, int]
) -> Iterator[ShipPart]:
    """Yield a wish's parts of the order's lines, filled in their order."""
    missing, amount = wish.quantity_milli, wish.amount_foreign
    for line in own:
        milli = min(missing, left[line.line])
        if not milli:
            continue
        part = _order_amount(order, line, milli, left[line.line])
        if amount is not None:
            # What is left of the invoice's amount, by quantity.
            part = spread(amount, [milli, missing - milli])[0]
            amount -= part
        left[line.line] -= milli
        yield ShipPart(
            line,
            milli,
            part,
            is_invoice_price=wish.amount_foreign is not None,
            weight_mg=_share(wish.weight_mg, milli, wish.quantity_milli)
            or _share(line.weight_mg, milli, line.quantity_milli),
            volume_mm3=_share(wish.volume_mm3, milli, wish.quantity_milli)
            or _share(line.volume_mm3, milli, line.quantity_milli),
        )
        missing -= milli


def _order_amount(order: Order, line: OrderLine, milli: int, left: int) -> int:
    """Return what part of a line's amount goes with a quantity: parts of all shipments add up to it."""
    gone = 0
    for shipment in order.shipments:
        for one in shipment.lines:
            if one.order_line == line.line:
                gone += (
                    divide_round(line.amount_foreign * one.quantity_milli, line.quantity_milli)
                    if one.note == INVOICE_PRICE
                    else one.amount_foreign
                )
    return spread(line.amount_foreign - gone, [milli, left - milli])[0]


def _share(whole: int | None, milli: int, of_milli: int) -> int | None:
    return None if whole is None else divide_round(whole * milli, of_milli)
