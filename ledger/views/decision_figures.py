"""The figures of a buying decision as words and as scripts take them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

from ledger.exact.currencies import exponent
from ledger.exact.money import show_money
from ledger.exact.numbers import show_scaled
from ledger.intake.study_sources import StudySources
from ledger.sourcing.alternatives import Alternative
from ledger.sourcing.chart_data import name_of
from ledger.sourcing.decide import Decision
from ledger.sourcing.offer_plan import AnnualCosts
from ledger.sourcing.sensitivity import CAPITAL, DOMESTIC_PRICE, LANDED, SALVAGE, Swing
from ledger.views import figures

UNIT_PLACES = 4

ASSUMED = "assumed, for nobody said"
"""What stands as the source of a figure that is our own starting value."""


def who_said(sources: StudySources, place: str) -> str:
    """Return who said a figure of money or of the limits, '[money] capital_per_year': the study, or nobody."""
    if sources.is_from_book or place not in sources.stated:
        return ASSUMED
    return sources.made_from


def shown_alternatives(decision: Decision) -> dict[str, Alternative]:
    """Return by name the alternatives, and the order that what flips is asked of where it is none of them."""
    found = {held.name: held for held in decision.alternatives}
    focus = decision.focus
    if focus is not None and all(held.quantities != focus.quantities for held in decision.alternatives):
        found[name_of(decision, focus)] = focus
    return found


def amount_text(decision: Decision, minor: float) -> str:
    """Return an amount with its currency."""
    return f"{money_text(decision, minor)} {decision.study.currency}"


def money_text(decision: Decision, minor: float) -> str:
    """Return an amount in the study's currency, rounded to its minor unit."""
    return figures.money(rounded(minor), decision.study.currency)


def rounded(minor: float) -> int:
    """Return an amount in whole minor units; a half goes away from zero, as everywhere in the book."""
    return int(minor + 0.5) if minor >= 0 else -int(-minor + 0.5)


def unit_text(decision: Decision, minor: float | None) -> str:
    """Return what one piece costs, to four places at least; nothing for None."""
    if minor is None:
        return ""
    places = max(UNIT_PLACES, exponent(decision.study.currency))
    return fixed(minor / 10 ** exponent(decision.study.currency), places)


def landed_unit(decision: Decision, held: Alternative) -> float | None:
    """Return what one costs landed, in minor units: in the order from afar, or in the usual order at home."""
    home = decision.home
    if held.quantity == 0 and home is not None and home.order_quantity is not None:
        return home.curve.unit(home.order_quantity)
    return held.landed_unit_minor


def each_sold(decision: Decision, held: Alternative) -> float | None:
    """Return what a piece sold costs under an alternative, in minor units; None where that is not known."""
    if held.quantity == 0:
        return decision.home.cost_per_unit_minor if decision.home else None
    return held.cost_per_unit_sold


def annual_minor(annual: AnnualCosts) -> dict[str, int]:
    """Return a year's costs by part in whole minor units, and their total: the parts add up to it."""
    parts = {each.name: getattr(annual, each.name) for each in fields(annual)}
    whole = footing(list(parts.values()))
    return {**dict(zip(parts, whole, strict=True)), "total": sum(whole)}


def footing(minor: Sequence[float]) -> list[int]:
    """Return amounts in whole minor units that add up to their rounded sum: those that are off most give way."""
    whole = [rounded(each) for each in minor]
    off = rounded(sum(minor)) - sum(whole)
    step = 1 if off > 0 else -1
    by_error = sorted(range(len(whole)), key=lambda at: step * (whole[at] - minor[at]))
    for at in by_error[: abs(off)]:
        whole[at] += step
    return whole


def counted(decision: Decision, quantity: int, grouping: str = ",") -> str:
    """Return a quantity, with its unit where that is not pieces."""
    unit = f" {decision.study.unit_words}" if decision.study.unit else ""
    return f"{quantity:{grouping}}{unit}"


def fixed(value: float, places: int) -> str:
    """Return a figure with so many places."""
    return show_scaled(rounded(value * 10**places), places)


def percent(chance: float | None) -> str:
    """Return a chance in per cent with one place; nothing for None."""
    return "" if chance is None else f"{fixed(100 * chance, 1)}%"


def money_data(decision: Decision, minor: float) -> str:
    """Return an amount in the study's currency as scripts take it."""
    return show_money(rounded(minor), decision.study.currency)


def unit_data(decision: Decision, minor: float | None) -> str | None:
    """Return what one piece costs as scripts take it."""
    if minor is None:
        return None
    places = exponent(decision.study.currency) + UNIT_PLACES
    return show_scaled(rounded(minor * 10**UNIT_PLACES), places)


def plain(value: float | None, places: int) -> str | None:
    """Return a figure without trailing zeros."""
    if value is None:
        return None
    text = fixed(value, places)
    return text.rstrip("0").rstrip(".") if places else text


def value_text(decision: Decision, swing: Swing, value: float) -> str:
    """Return a value of an assumption: money for one, a fraction or a plain figure."""
    if swing.assumption in {LANDED, DOMESTIC_PRICE}:
        return unit_text(decision, value)
    if swing.assumption in {CAPITAL, SALVAGE}:
        return fixed(value, 3)
    return fixed(value, 1)
