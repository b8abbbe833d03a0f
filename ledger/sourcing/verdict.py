"""The verdict: one of five words, by the owner's limits, with its reasons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ledger.exact.money import grouped_money
from ledger.sourcing.alternatives import Alternative, paired_error
from ledger.sourcing.sensitivity import Swing
from ledger.sourcing.study import Study

BULK = "BULK"
DOMESTIC = "DOMESTIC"
BASE_AND_TOP_UP = "BASE AND TOP-UP"
TOO_CLOSE = "TOO CLOSE"
NEED_DATA = "NEED DATA"
VERDICTS = (BULK, DOMESTIC, BASE_AND_TOP_UP, TOO_CLOSE, NEED_DATA)

ERRORS = 2.0
"""A saving within so many standard errors of 0 is not told from 0."""

WORTH_SPLITTING = 0.05
"""Base and top-up must save a twentieth more than one bulk to be worth the more numerous orders."""


@dataclass(frozen=True)
class Verdict:
    """The word, the alternative it speaks for, and why, one sentence each."""

    word: str
    chosen: Alternative
    reasons: tuple[str, ...]


def limit_faults(study: Study, held: Alternative) -> tuple[str, ...]:
    """Return which of the owner's limits an alternative breaks, in words."""
    limits, currency = study.limits, study.currency
    faults = []
    if held.probability_cheaper is not None and held.probability_cheaper < limits.probability:
        faults.append(
            f"it is cheaper in {held.probability_cheaper:.1%} of futures, and {limits.probability:.1%} is the limit"
        )
    if limits.worst_tenth_minor is not None and held.worst_tenth <= limits.worst_tenth_minor:
        faults.append(
            f"the worst tenth of futures saves {amount(held.worst_tenth, currency)} on average, and it must be "
            f"above {amount(limits.worst_tenth_minor, currency)}"
        )
    if limits.cash_minor is not None and held.cash_peak > limits.cash_minor:
        faults.append(
            f"it ties up {amount(held.cash_peak, currency)}, and {amount(limits.cash_minor, currency)} is the limit"
        )
    if limits.weeks_of_cover is not None and held.weeks_of_cover > limits.weeks_of_cover + 1e-9:
        faults.append(
            f"it is {held.weeks_of_cover:.0f} weeks of cover, and {limits.weeks_of_cover:g} is the limit"
        )
    if limits.space_units and held.quantity > limits.space_units:
        faults.append(
            f"it is {held.quantity:,} {study.unit_words}, and the shelf holds {limits.space_units:,}"
        )
    return tuple(faults)


def amount(minor: float, currency: str) -> str:
    """Return an amount with its currency in words, rounded to the minor unit."""
    return f"{grouped_money(round(minor), currency)} {currency}"


@dataclass(frozen=True)
class Field:
    """The alternatives held against the same futures.

    Attributes:
        base: None where nobody at home tops up.
        least_bad: the order that saves most or loses least, whatever the limits; for telling what fails.
        bulk_covers: whether the bulk covers the need at the owner's service level; a quantity that the
            offer fixes, or a maximum, may be too small for that.
        home_cost_minor: what the horizon costs at home; a hundredth of it is no difference to speak of.
    """

    domestic: Alternative
    bulk: Alternative
    base: Alternative | None
    least_bad: Alternative
    bulk_covers: bool
    home_cost_minor: float


INDIFFERENT = 0.01
"""A difference below this part of what the horizon costs at home is not worth finding anything out for."""


def judge(study: Study, field: Field, swings: Sequence[Swing]) -> Verdict:
    """Return the verdict on three alternatives held against the same futures.

    A bulk passes where its saving is beyond two standard errors, it is likely enough to be cheaper, the
    worst tenth is bearable, and cash, cover and space are within the limits. Where both pass, the one
    bulk stands unless base and top-up saves clearly more.

    Source: our own rule.
    """
    domestic, bulk, base = field.domestic, field.bulk, field.base
    candidates = [each for each in (bulk, base) if each is not None and each.quantity > 0]
    if not candidates:
        return Verdict(DOMESTIC, domestic, ("No allowed quantity from afar saves anything.",))
    passing = [each for each in candidates if _is_beyond_error(each) and not limit_faults(study, each)]
    if passing:
        return _passed(study, field, passing)
    best = max(candidates, key=lambda each: each.expected_saving)
    if best.expected_saving <= 0 and field.least_bad.quantity > 0:
        best = max(best, field.least_bad, key=lambda each: each.expected_saving)
    return _failed(study, field, best, swings)


def _is_beyond_error(held: Alternative) -> bool:
    return held.expected_saving > ERRORS * held.standard_error


def _passed(study: Study, field: Field, passing: list[Alternative]) -> Verdict:
    bulk, base = field.bulk, field.base
    is_base_in = base is not None and base in passing
    is_base_better = is_base_in and base is not None and _is_clearly_better(base, bulk)
    if bulk in passing and field.bulk_covers and not is_base_better:
        reasons = ["One order covers the need after it arrives, within all of your limits."]
        more = 0.0 if base is None else base.expected_saving - bulk.expected_saving
        if base is not None and base.quantity > 0 and base.quantity != bulk.quantity and round(more) > 0:
            said = amount(more, study.currency)
            reasons.append(
                f"Buying less and topping up at home would save only {said} more."
                if base.quantity < bulk.quantity
                else f"Buying more, {base.quantity:,}, would save only {said} more."
            )
        return Verdict(BULK, bulk, tuple(reasons))
    if base is None:
        return Verdict(BULK, bulk, ("It is within all of your limits.",))
    chosen = base if is_base_in else bulk
    reasons = [_what_comes(study, chosen)]
    if bulk.quantity > chosen.quantity:
        reasons.append(_why_not_bulk(study, field, chosen))
    elif chosen.quantity > bulk.quantity > 0 and field.bulk_covers:
        reasons.append(_why_more(study, bulk, chosen))
    if chosen.left_at_home:
        reasons.append(_why_at_home(study, chosen))
    return Verdict(BASE_AND_TOP_UP, chosen, tuple(reasons))


CERTAIN_LEFT = 0.02
"""Of an order that is called the certain part at most so much is expected to be left over."""


def _what_comes(study: Study, chosen: Alternative) -> str:
    left = chosen.expected_left
    if left <= CERTAIN_LEFT * chosen.quantity:
        return "The certain part comes from afar; peaks and the tails of sizes are bought at home."
    return (
        f"Of the {chosen.quantity:,} from afar {chosen.expected_used:,.0f} are expected to be used within the "
        f"{study.horizon_months} months and {left:,.0f} to be left over; what is asked for beyond them or before they "
        "arrive is bought at home."
    )


def _why_more(study: Study, bulk: Alternative, chosen: Alternative) -> str:
    """Return why an order larger than the one that covers the need saves more."""
    one, other = bulk.landed_unit_minor or 0.0, chosen.landed_unit_minor or 0.0
    causes = []
    if round(one - other) > 0:
        causes.append(
            f"so many cost {amount(other, study.currency)} landed {study.of_one} instead of "
            f"{amount(one, study.currency)}"
        )
    if study.money.salvage_fraction > 0:
        causes.append(
            f"a leftover still fetches {study.money.salvage_fraction:.0%} of the lower of landed and home cost"
        )
    why = " and ".join(causes) or "a further one is still used often enough to be worth its cost"
    return (
        f"That is more than the {bulk.quantity:,} that cover the need at your service level of "
        f"{study.money.service_level:.0%}: {why}."
    )


def _why_at_home(study: Study, chosen: Alternative) -> str:
    quote = next(offer.quote for offer in study.offers if offer.name == chosen.offer_name)
    return (
        f"{chosen.offer_name} takes at least {quote.rules.minimum_per_colour} of each colour, too many of "
        f"{' and '.join(chosen.left_at_home)}: bought at home entirely."
    )


def _why_not_bulk(study: Study, field: Field, chosen: Alternative) -> str:
    bulk = field.bulk
    faults = limit_faults(study, bulk)
    what = (
        f"Covering everything in one bulk of {bulk.quantity:,}"
        if field.bulk_covers
        else f"A bulk of {bulk.quantity:,}, as many as may be bought at once,"
    )
    if faults:
        return f"{what} is not within your limits: {'; '.join(faults)}."
    less = amount(chosen.expected_saving - bulk.expected_saving, study.currency)
    return f"{what} would save {less} less: running out costs only the dearer price at home, not the sale."


def _is_clearly_better(base: Alternative, bulk: Alternative) -> bool:
    more = base.expected_saving - bulk.expected_saving
    return more > ERRORS * paired_error(base, bulk) and more > WORTH_SPLITTING * abs(bulk.expected_saving)


def _failed(study: Study, field: Field, best: Alternative, swings: Sequence[Swing]) -> Verdict:
    domestic = field.domestic
    saving, error = best.expected_saving, best.standard_error
    if saving < -ERRORS * error or (saving <= 0 and error == 0):
        lost = amount(-saving, study.currency)
        return Verdict(
            DOMESTIC,
            domestic,
            (f"{_which(study, best)}, {best.quantity:,} {study.unit_words}, would lose {lost}.",),
        )
    doubts = [swing for swing in swings if swing.is_doubt and swing.flips_within]
    said = f"An order of {best.quantity:,} is expected to save {amount(saving, study.currency)}"
    faults = limit_faults(study, best)
    if abs(saving) <= ERRORS * error:
        if doubts and doubts[0].width > 2 * INDIFFERENT * field.home_cost_minor:
            return Verdict(NEED_DATA, domestic, (f"{said}, not told from 0.", _doubt_words(doubts[0])))
        return Verdict(
            TOO_CLOSE,
            domestic,
            (f"{said}, within two standard errors ({amount(error, study.currency)} each) of nothing.",),
        )
    if doubts and any("of futures" in fault for fault in faults):
        return Verdict(NEED_DATA, domestic, (f"{said}, but {'; '.join(faults)}.", _doubt_words(doubts[0])))
    return Verdict(DOMESTIC, domestic, (f"{said}, but your limits exclude it: {'; '.join(faults)}.",))


def _which(study: Study, best: Alternative) -> str:
    """Return what the order is that loses: the best one, or the one that the study fixes."""
    is_fixed = any(offer.name == best.offer_name and offer.quote.quantity for offer in study.offers)
    return "The order from afar as the study fixes it" if is_fixed else "Even the best order from afar"


def _doubt_words(swing: Swing) -> str:
    flips = "" if swing.flips_at is None else f"; it flips at {swing.flips_at:.4g}"
    return (
        f"It depends on {swing.assumption}: between {swing.low:.4g} and {swing.high:.4g}, the 10 and 90% points "
        f"of what is known, the saving changes its sign{flips}. Find that out first."
    )
