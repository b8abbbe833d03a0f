"""What a reader still asks of a decision's page, answered in few words from its own figures."""

from __future__ import annotations

from ledger.sourcing.alternatives import BULK
from ledger.sourcing.chart_data import name_of, subject
from ledger.sourcing.decide import Decision
from ledger.sourcing.verdict import DOMESTIC
from ledger.views.decision_figures import counted, fixed, percent

_DAYS_PER_WEEK = 7


def order_words(decision: Decision) -> str:
    """Return which order the switch points, the tornado and the break-even are of; '' where there is none."""
    held = decision.focus
    if held is None:
        return ""
    named = f"{counted(decision, held.quantity)} from {held.offer_name}"
    if held.quantities == decision.verdict.chosen.quantities:
        return f"the recommended order, {named}"
    return f"{name_of(decision, held)}, {named}, which is not recommended"


def good_words(decision: Decision) -> str:
    """Return how many of the order that is shown come good; '' where all of them do."""
    held, plan = subject(decision), decision.bulk_plan
    if held is None or plan is None:
        return ""
    good = plan.curve.good(held.quantity)
    if round(good) == held.quantity:
        return ""
    rate = percent(float(plan.offer.quote.defects.rate))
    return (
        f"Of the {counted(decision, held.quantity)}, {fixed(good, 0)} are expected to be good ({rate} bad): only these "
        "can be used or be left over."
    )


def quantity_words(decision: Decision) -> str:
    """Return why one order from afar is not as large as the one placed again and again; '' where it says nothing."""
    plan = decision.bulk_plan
    bulk = next((each for each in decision.alternatives if each.name == BULK and each.quantity), None)
    if plan is None or bulk is None or plan.order_quantity in {None, bulk.quantity}:
        return ""
    return (
        f"The bulk of {bulk.quantity:,} is what covers the need once{_held_by(decision, bulk.quantity)}. The "
        f"{plan.order_quantity:,} under 'Each offer by itself' is another question: what costs least where the same "
        "order is placed again and again."
    )


def _held_by(decision: Decision, quantity: int) -> str:
    """Return which of the owner's limits the next larger order would break."""
    study = decision.study
    plan = decision.bulk_plan
    larger = plan.curve.allowed().up(quantity + 1) if plan is not None else None
    if larger is None:
        return ""
    limits, found = study.limits, list[str]()
    if limits.weeks_of_cover is not None and larger > limits.weeks_of_cover * study.demand.per_week:
        found.append(f"{limits.weeks_of_cover:g} weeks of cover")
    if limits.space_units and larger > limits.space_units:
        found.append(f"room for {limits.space_units:,}")
    return (
        f", as far as your limit of {' and '.join(found)} allows: {larger:,} would be more" if found else ""
    )


def until_words(decision: Decision) -> str:
    """Return what to buy at home until the goods from afar come, where the shelf is empty before; else ''."""
    plan, study = decision.bulk_plan, decision.study
    if plan is None or decision.home is None or not decision.verdict.chosen.quantity:
        return ""
    asked = study.demand.per_week / _DAYS_PER_WEEK * plan.lead_time_days
    short = [
        (size.name, missing)
        for size in study.demand.sizes
        if (missing := round(size.share * asked - size.on_hand)) > 0
    ]
    if not short:
        return ""
    named = ", ".join(f"{name} {missing:,}" for name, missing in short if name)
    return (
        f"Until they come, in about {fixed(plan.lead_time_days, 0)} days, the shelf does not last: buy about "
        f"{sum(missing for _, missing in short):,} at {decision.home.offer.name} meanwhile"
        f"{f' ({named})' if named else ''}, as they are asked for."
    )


def there_words(decision: Decision) -> str:
    """Return why more is bought at home though there is stock; '' where nothing is there or it is not the answer."""
    there, home = sum(size.on_hand for size in decision.study.demand.sizes), decision.home
    if decision.verdict.word != DOMESTIC or not there or home is None or not home.order_quantity:
        return ""
    per_month = decision.study.demand.per_month
    lasts = f", about {fixed(there / per_month, 0)} months of all sizes together" if per_month else ""
    by = f", by {decision.order_by.isoformat()}" if decision.order_by is not None else ""
    return (
        f"{there:,} are there or coming{lasts}. The next {counted(decision, home.order_quantity)} are not for today: they "
        f"are due when the first of the chief sizes runs short{by}."
    )
