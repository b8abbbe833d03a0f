"""What looking first would tell: some weeks of sales, or a small order from afar; in words and for scripts."""

from __future__ import annotations

from typing import Any

from ledger.sourcing.decide import Decision
from ledger.views.decision_figures import amount_text, counted, fixed, money_data, percent, plain

_PLACES = 4


def waiting_text(decision: Decision) -> str:
    """Return what some weeks of sales are worth before deciding."""
    if not decision.waiting:
        return ""
    values = ", ".join(f"{each.weeks} weeks {amount_text(decision, each.value)}" for each in decision.waiting)
    return (
        f"Looking at sales first, then deciding, is worth, against deciding today: {values}. What those weeks themselves would save is not "
        "taken off."
    )


def trial_text(decision: Decision) -> str:
    """Return what the smallest order from afar would cost first, and what it would tell."""
    trial = decision.trial
    if trial is None:
        return ""
    if not trial.is_smaller:
        return (
            f"A test order is not to be had: {trial.offer_name} takes no order below {counted(decision, trial.quantity)}, and that is "
            "the order itself."
        )
    saving = amount_text(decision, abs(trial.saving_minor))
    colours = dict.fromkeys(size.colour for size in decision.study.demand.sizes)
    taken = " and ".join(each for each in colours if each not in trial.left_at_home)
    only = f" ({taken} only)" if trial.left_at_home else ""
    costs = f"costs {saving} more than buying at home" if trial.saving_minor < 0 else f"itself saves {saving}"
    first = (
        f"A test order of {counted(decision, trial.quantity)} from {trial.offer_name}, its smallest{only}, {costs} and is there after about "
        f"{trial.weeks} weeks."
    )
    parts = [first]
    if trial.sales_worth_minor is not None:
        worth = amount_text(decision, trial.sales_worth_minor)
        parts.append(f"The sales seen until then are worth {worth}; waiting shows them for nothing.")
    limits = []
    if trial.most_defects is not None:
        limits.append(
            f"more than {percent(trial.most_defects)} are bad ({percent(trial.defect_rate)} expected)"
        )
    if trial.most_days is not None:
        limits.append(
            f"goods take longer than {fixed(trial.most_days, 0)} days ({fixed(trial.lead_days, 0)} expected)"
        )
    if limits:
        parts.append(
            f"What only it shows is quality and time: the order of {trial.larger_quantity:,} saves nothing where "
            f"{' or '.join(limits)}. How likely that is no figure here says, so it has no price."
        )
    return " ".join(parts)


def trial_as_data(decision: Decision) -> dict[str, Any] | None:
    """Return the test order for scripts, None where there is none to speak of."""
    trial = decision.trial
    if trial is None:
        return None
    worth = trial.sales_worth_minor
    return {
        "offer": trial.offer_name,
        "quantity": str(trial.quantity),
        "left_at_home": list(trial.left_at_home),
        "before_quantity": str(trial.larger_quantity),
        "is_smaller": trial.is_smaller,
        "expected_saving": money_data(decision, trial.saving_minor),
        "weeks": trial.weeks,
        "sales_worth": None if worth is None else money_data(decision, worth),
        "most_defects": plain(trial.most_defects, _PLACES),
        "most_lead_time_days": plain(trial.most_days, 1),
    }
