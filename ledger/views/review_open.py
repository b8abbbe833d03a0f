"""What is still open about a kept decision, so that nobody judges it by less than the whole."""

from __future__ import annotations

from ledger.book.decision_store import KeptDecision
from ledger.book.since_decision import SinceDecision
from ledger.exact.words import how_many
from ledger.sourcing.demand import DAYS_PER_WEEK, WEEKS_PER_MONTH
from ledger.sourcing.hindsight import LEAST_DAYS, SavingSoFar
from ledger.views.figures import quantity


def open_points(kept: KeptDecision, since: SinceDecision, saving: SavingSoFar | None) -> tuple[str, ...]:
    """Return in words what is not known yet."""
    if not kept.items:
        return (
            (
                "the study names no goods of the book (sku = …), so what came of it cannot be looked up; it can only be "
                "decided again."
            ),
        )
    found = []
    if since.days < LEAST_DAYS:
        days = how_many(since.days, "day")
        found.append(
            f"what is wanted: the book tells of {days} since, and a month is needed to say anything."
        )
    weeks = round(kept.horizon_months * WEEKS_PER_MONTH)
    if since.days < weeks * DAYS_PER_WEEK:
        found.append(f"the rest of the {weeks} weeks it looked ahead.")
    found += _of_orders(kept, since)
    if saving is not None and saving.on_hand_milli:
        found.append(f"what becomes of the {quantity(saving.on_hand_milli)} of it on the shelf.")
    if since.receipts:
        found.append("bills that come late: they change what one cost landed.")
    if since.until is not None:
        found.append(f"nothing that was bought later counts here: decision {since.until} answers for it.")
    return tuple(found)


def _of_orders(kept: KeptDecision, since: SinceDecision) -> list[str]:
    if not since.orders and not since.receipts:
        words = f"nothing was bought of it yet{' at ' + kept.supplier if kept.supplier else ''}"
        if not kept.quantity:
            return []
        if kept.order_by and kept.order_by < since.through:
            return [f"{words}; it was to be ordered by {kept.order_by}."]
        return [f"{words}, so price and time are open."]
    found = []
    for order in since.orders:
        if order.is_waiting:
            expected = f"expected on {order.expected_on}" if order.expected_on else "no day is known"
            found.append(f"order {order.number} of {order.ordered_on} has not come whole: {expected}.")
    return found
