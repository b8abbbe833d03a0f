"""A decision that is kept: what of it stands in the book."""

from __future__ import annotations

from ledger.book.decision_store import KeptDecision
from ledger.exact.currencies import exponent
from ledger.exact.numbers import show_scaled
from ledger.exact.rounding import divide_round
from ledger.sourcing.hindsight import TEN_THOUSANDTHS
from ledger.views.figures import money
from ledger.views.prose import wrapped

_UNIT_DIGITS = 4


def keep_preview(kept: KeptDecision) -> str:
    """Return what is kept of a decision, in a few lines."""
    unit = kept.unit or "pieces"
    bought = f"{kept.quantity:,} {unit} from {kept.offer}" if kept.quantity else "nothing"
    by_size = ", ".join(f"{each.size} {each.quantity}" for each in kept.sizes if each.quantity)
    lines = [
        (
            f"Keep: {kept.label}, {kept.verdict}, decided on {kept.decided_on}: {bought}"
            f"{f' ({by_size})' if by_size else ''}; expected: {expected_words(kept)}."
        )
    ]
    if not kept.items:
        lines.append(
            "The study names no goods of the book (sku = …), so what comes of it cannot be looked up afterwards."
        )
    elif kept.offer and kept.supplier is None:
        lines.append(
            f"The book knows no supplier by the name of {kept.offer}: what comes of it is found only where an order "
            "is told: review N --order M."
        )
    if kept.why:
        lines.append(f"Why: {kept.why}")
    return "\n".join(wrapped(line, "  ") for line in lines)


def expected_words(kept: KeptDecision) -> str:
    """Return the figures that a decision expects, in words."""
    found = [f"{plain_milli(kept.demand_per_month_milli, 1)} wanted a month"]
    if kept.landed_unit_ten_thousandths is not None:
        found.append(
            f"one landed at {unit_cost_text(kept.landed_unit_ten_thousandths, kept.currency)} {kept.currency}"
        )
    if kept.lead_time_days_milli is not None:
        found.append(f"{plain_milli(kept.lead_time_days_milli, 0)} days to arrive")
    if kept.is_from_afar and kept.expected_saving is not None:
        found.append(f"{money(kept.expected_saving, kept.currency)} {kept.currency} saved")
    return ", ".join(found)


def plain_milli(milli: int, places: int) -> str:
    """Return thousandths with so many places, a half away from zero."""
    return show_scaled(divide_round(milli, 10 ** (3 - places)), places)


def unit_cost_text(ten_thousandths: int, currency: str) -> str:
    """Return what one costs, with four places at least."""
    places = max(_UNIT_DIGITS, exponent(currency))
    return show_scaled(
        divide_round(ten_thousandths * 10**places, TEN_THOUSANDTHS * 10 ** exponent(currency)), places
    )


def unit_cost_data(ten_thousandths: int | None, currency: str) -> str | None:
    """Return what one costs as scripts take it: all places that are kept."""
    return (
        None if ten_thousandths is None else show_scaled(ten_thousandths, exponent(currency) + _UNIT_DIGITS)
    )
