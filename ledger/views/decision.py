"""A buying decision as people read it: one sentence, the tables, the reasons; and as scripts take it."""

from __future__ import annotations

from typing import Any

from ledger.exact.currencies import exponent
from ledger.exact.money import show_money
from ledger.exact.numbers import show_scaled
from ledger.sourcing.alternatives import Alternative
from ledger.sourcing.decide import Decision
from ledger.sourcing.offer_plan import OfferPlan
from ledger.sourcing.sensitivity import CAPITAL, DOMESTIC_PRICE, LANDED, SALVAGE, Swing
from ledger.sourcing.size_quantities import split_by_share
from ledger.sourcing.verdict import BASE_AND_TOP_UP, BULK, NEED_DATA, TOO_CLOSE
from ledger.views import figures
from ledger.views.tables import Table, paragraphs

ALL_SIZES = "all"
"""Names the one size of a study that tells no sizes apart."""

CAUTION = (
    "An estimate, not customs or tax advice: class, value, origin and rate are the importer's responsibility; "
    "ask a licensed broker."
)
UNIT_PLACES = 4
_PLACES = 4
_SHOWN_SWINGS = 8


def decision_text(decision: Decision) -> str:
    """Return a decision for people: the sentence, offers, alternatives, reasons, what would flip it."""
    parts = [
        sentence(decision),
        _offers_text(decision),
        _alternatives_text(decision),
        _reasons_text(decision),
        _flips_text(decision),
        _tornado_text(decision),
        _waiting_text(decision),
        _trial_text(decision),
        "\n".join(f"Note: {each}" for each in decision.warnings),
        _drawn_text(decision),
    ]
    if any(not plan.offer.is_domestic for plan in decision.plans):
        parts.append(CAUTION)
    return paragraphs(parts)


def sentence(decision: Decision) -> str:
    """Return the decision in one sentence, the verdict first."""
    verdict, chosen = decision.verdict, decision.verdict.chosen
    if verdict.word in {BULK, BASE_AND_TOP_UP}:
        rest = (
            ""
            if verdict.word == BULK or decision.home is None
            else f" and top up at {decision.home.offer.name} as needed"
        )
        return (
            f"{verdict.word}: buy {chosen.quantity} from {chosen.offer_name}{_by_size(decision, chosen)}"
            f"{_by_when(decision)}{rest}: expected to save {amount_text(decision, chosen.expected_saving)} "
            f"(± {amount_text(decision, chosen.standard_error)}) over {decision.study.horizon_months} months, ties up "
            f"at most {amount_text(decision, chosen.cash_peak)}, and is cheaper in {_percent(chosen.probability_cheaper)} "
            "of futures."
        )
    if verdict.word == TOO_CLOSE:
        return f"{verdict.word}: {_home_words(decision)}; the difference is within what chance makes of it."
    if verdict.word == NEED_DATA:
        words = _home_words(decision) if decision.home is not None else "nothing can be recommended yet"
        return f"{verdict.word}: {words} until more is known. {verdict.reasons[-1]}"
    if not decision.plans:
        return f"{verdict.word}: buy nothing. {verdict.reasons[0]}"
    return f"{verdict.word}: {_home_words(decision)}{_by_when(decision)}. {verdict.reasons[0]}"


def _home_words(decision: Decision) -> str:
    home = decision.home
    if home is None or home.order_quantity is None:
        return "buy as you do now"
    each = _unit(decision, home.cost_per_unit_minor)
    return (
        f"go on buying at {home.offer.name}, {home.order_quantity} at a time, for {each} a piece with ordering "
        "and holding"
    )


def _by_size(decision: Decision, held: Alternative) -> str:
    sizes = decision.study.demand.sizes
    if len(sizes) == 1:
        return ""
    named = ", ".join(
        f"{size.name} {pieces}" for size, pieces in zip(sizes, held.quantities, strict=True) if pieces
    )
    return f" ({named})"


def _by_when(decision: Decision) -> str:
    return "" if decision.order_by is None else f" by {decision.order_by.isoformat()}"


def _offers_text(decision: Decision) -> str:
    """Return each offer by itself, ordered from again and again; offers across, figures down."""
    if not decision.plans:
        return ""
    table = Table(["each offer by itself", *(f">{plan.offer.name}" for plan in decision.plans)])
    columns = [_offer_figures(decision, plan) for plan in decision.plans]
    for label in _OFFER_LABELS:
        table.add(label, *(column.get(label, "") for column in columns))
    table.total("a year in all", *(column.get("a year in all", "") for column in columns))
    return table.text()


_OFFER_LABELS = (
    "order quantity", "landed cost of one", "days from order to shelf", "orders a year", "order again at",
    "  by the formula", "  of it safety stock", "goods a year", "freight, duty, fees", "ordering", "holding",
    "paid early", "leftovers", "running short",
)  # fmt: skip


def _offer_figures(decision: Decision, plan: OfferPlan) -> dict[str, str]:
    if plan.annual is None or plan.reordering is None or plan.order_quantity is None:
        return {"order quantity": "none allowed"}
    annual, again = plan.annual, plan.reordering
    figures_of_order = (
        f"{plan.order_quantity:,}",
        _unit(decision, plan.curve.unit(plan.order_quantity)),
        _fixed(plan.lead_time_days, 0),
        _fixed(plan.orders_per_year, 1),
        _fixed(again.reorder_at, 1),
        _fixed(again.formula_reorder_at, 1),
        _fixed(again.safety_stock, 1),
    )
    amounts = (
        annual.goods, annual.freight_duty_fees, annual.ordering, annual.holding, annual.pipeline,
        annual.leftovers, annual.shortage,
    )  # fmt: skip
    shown = (*figures_of_order, *(money_text(decision, each) for each in amounts))
    return {
        **dict(zip(_OFFER_LABELS, shown, strict=True)),
        "a year in all": money_text(decision, annual.total),
    }


def _alternatives_text(decision: Decision) -> str:
    if len(decision.alternatives) < 2:  # noqa: PLR2004 - one alternative is nothing to choose from
        return ""
    table = Table(
        ["alternative", ">pieces", ">saves", ">±", ">cheaper in", ">worst tenth", ">left over", ">weeks of cover",
         ">cash tied up", ">back in weeks", ">each sold"]
    )  # fmt: skip
    for held in decision.alternatives:
        table.add(
            held.name,
            f"{held.quantity:,}",
            money_text(decision, held.expected_saving),
            money_text(decision, held.standard_error),
            "" if held.probability_cheaper is None else _percent(held.probability_cheaper),
            money_text(decision, held.worst_tenth),
            f"{held.expected_left:.1f}",
            f"{held.weeks_of_cover:.1f}",
            money_text(decision, held.cash_peak),
            "" if held.quantity == 0 else "never" if held.payback_weeks is None else str(held.payback_weeks),
            _unit(decision, _each_sold(decision, held)),
        )
    sizes = decision.study.demand.sizes
    if len(sizes) == 1:
        return table.text()
    grid = Table(["pieces", *(f">{size.name}" for size in sizes), ">all"])
    for held in decision.alternatives[1:]:
        grid.add(held.name, *(f"{each:,}" for each in held.quantities), f"{held.quantity:,}")
    return paragraphs([table.text(), grid.text()])


def _each_sold(decision: Decision, held: Alternative) -> float | None:
    if held.quantity == 0:
        return decision.home.cost_per_unit_minor if decision.home else None
    return held.cost_per_unit_sold


def _reasons_text(decision: Decision) -> str:
    lines = [f"  {each}" for each in decision.verdict.reasons]
    return "\n".join(["Why:", *lines])


def _flips_text(decision: Decision) -> str:
    points = decision.break_even
    if points is None:
        return ""
    lines = []
    if points.units_per_month is not None:
        lines.append(f"  demand: {points.units_per_month:.1f} a month")
    if points.landed_unit_minor is not None:
        lines.append(f"  landed cost from afar: {_unit(decision, points.landed_unit_minor)} a piece")
    if points.domestic_unit_minor is not None:
        lines.append(f"  price at home: {_unit(decision, points.domestic_unit_minor)} a piece")
    if points.quantity_from is not None and points.quantity_to is not None:
        lines.append(f"  paying quantities: {points.quantity_from:,} to {points.quantity_to:,}")
    elif decision.screen is not None and not decision.screen[1].can_pay:
        lines.append("  paying quantities: none; it cannot pay at this volume")
    return "\n".join(["The saving is nothing at (all else as it is):", *lines]) if lines else ""


def _tornado_text(decision: Decision) -> str:
    if not decision.sensitivity:
        return ""
    table = Table(["if it were", ">low", ">high", ">saves at low", ">saves at high", ">nothing at"])
    for swing in decision.sensitivity[:_SHOWN_SWINGS]:
        table.add(
            swing.assumption,
            _value(decision, swing, swing.low),
            _value(decision, swing, swing.high),
            money_text(decision, swing.saving_low),
            money_text(decision, swing.saving_high),
            "" if swing.flips_at is None else _value(decision, swing, swing.flips_at),
        )
    return table.text()


def _value(decision: Decision, swing: Swing, value: float) -> str:
    if swing.assumption in {LANDED, DOMESTIC_PRICE}:
        return _unit(decision, value)
    if swing.assumption in {CAPITAL, SALVAGE}:
        return _fixed(value, 3)
    return _fixed(value, 1)


def _waiting_text(decision: Decision) -> str:
    if not decision.waiting:
        return ""
    values = ", ".join(f"{each.weeks} weeks {amount_text(decision, each.value)}" for each in decision.waiting)
    return (
        f"Looking at sales first, then deciding, is worth: {values}. What those weeks themselves would save is not "
        "taken off."
    )


def _trial_text(decision: Decision) -> str:
    """Return what the smallest order from afar would cost first, and what it would tell."""
    trial = decision.trial
    if trial is None:
        return ""
    if not trial.is_smaller:
        return (
            f"A test order is not to be had: {trial.offer_name} takes no order below {trial.quantity:,}, and that is "
            "the order itself."
        )
    saving = amount_text(decision, abs(trial.saving_minor))
    costs = f"costs {saving} more than buying at home" if trial.saving_minor < 0 else f"itself saves {saving}"
    parts = [
        f"A test order of {trial.quantity:,} from {trial.offer_name}, its smallest, {costs} and is there after about "
        f"{trial.weeks} weeks."
    ]
    if trial.sales_worth_minor is not None:
        worth = amount_text(decision, trial.sales_worth_minor)
        parts.append(f"The sales seen until then are worth {worth}; waiting shows them for nothing.")
    limits = []
    if trial.most_defects is not None:
        limits.append(
            f"more than {_percent(trial.most_defects)} are bad ({_percent(trial.defect_rate)} expected)"
        )
    if trial.most_days is not None:
        limits.append(
            f"goods take longer than {_fixed(trial.most_days, 0)} days ({_fixed(trial.lead_days, 0)} expected)"
        )
    if limits:
        parts.append(
            f"What only it shows is quality and time: the order of {trial.larger_quantity:,} saves nothing where "
            f"{' or '.join(limits)}. How likely that is no figure here says, so it has no price."
        )
    return " ".join(parts)


def _drawn_text(decision: Decision) -> str:
    if decision.futures == 0:
        return ""
    if decision.futures == 1:
        return "Nothing in this study is uncertain: one future, no chance."
    return (
        f"{decision.futures:,} futures from seed {decision.seed}; demand: {decision.study.demand.source}. ± is one "
        "standard error of the simulation."
    )


def amount_text(decision: Decision, minor: float) -> str:
    """Return an amount with its currency."""
    return f"{money_text(decision, minor)} {decision.study.currency}"


def money_text(decision: Decision, minor: float) -> str:
    """Return an amount in the study's currency, rounded to its minor unit."""
    whole = _rounded(minor)
    text = figures.money(abs(whole), decision.study.currency)
    return f"-{text}" if whole < 0 else text


def _rounded(minor: float) -> int:
    """Return an amount in whole minor units; a half goes away from zero, as everywhere in the book."""
    return int(minor + 0.5) if minor >= 0 else -int(-minor + 0.5)


def _unit(decision: Decision, minor: float | None) -> str:
    if minor is None:
        return ""
    places = max(UNIT_PLACES, exponent(decision.study.currency))
    return _fixed(minor / 10 ** exponent(decision.study.currency), places)


def _fixed(value: float, places: int) -> str:
    return show_scaled(_rounded(value * 10**places), places)


def _percent(chance: float | None) -> str:
    return "" if chance is None else f"{_fixed(100 * chance, 1)} %"


# As scripts take it.


def decision_as_data(decision: Decision) -> dict[str, Any]:
    """Return a decision as the JSON contract has it; what does not apply is null."""
    points = decision.break_even
    return {
        "currency": decision.study.currency,
        "horizon_months": decision.study.horizon_months,
        "offers": [_offer_data(decision, plan) for plan in decision.plans],
        "alternatives": [_alternative_data(decision, held) for held in decision.alternatives],
        "verdict": decision.verdict.word,
        "sentence": sentence(decision),
        "reasons": list(decision.verdict.reasons),
        "break_even": {
            "units_per_month": _plain(points.units_per_month if points else None, 3),
            "landed_unit_cost": _unit_data(decision, points.landed_unit_minor if points else None),
            "domestic_unit_price": _unit_data(decision, points.domestic_unit_minor if points else None),
            "quantity_from": _plain(points.quantity_from if points else None, 0),
            "quantity_to": _plain(points.quantity_to if points else None, 0),
        },
        "screen": _screen_data(decision),
        "order_by": decision.order_by.isoformat() if decision.order_by else None,
        "value_of_waiting": [
            {"weeks": each.weeks, "value": money_data(decision, each.value)} for each in decision.waiting
        ],
        "test_order": _trial_data(decision),
        "sensitivity": [_swing_data(decision, swing) for swing in decision.sensitivity],
        "warnings": list(decision.warnings),
        "futures": decision.futures,
        "seed": decision.seed,
    }


def _trial_data(decision: Decision) -> dict[str, Any] | None:
    trial = decision.trial
    if trial is None:
        return None
    worth = trial.sales_worth_minor
    return {
        "offer": trial.offer_name,
        "quantity": str(trial.quantity),
        "before_quantity": str(trial.larger_quantity),
        "is_smaller": trial.is_smaller,
        "expected_saving": money_data(decision, trial.saving_minor),
        "weeks": trial.weeks,
        "sales_worth": None if worth is None else money_data(decision, worth),
        "most_defects": _plain(trial.most_defects, _PLACES),
        "most_lead_time_days": _plain(trial.most_days, 1),
    }


def _offer_data(decision: Decision, plan: OfferPlan) -> dict[str, Any]:
    offer, quantity = plan.offer, plan.order_quantity
    annual, again = plan.annual, plan.reordering
    origin = "domestic" if offer.is_domestic else offer.quote.origin
    head = {"name": offer.name, "origin": origin, "lead_time_days": _plain(plan.lead_time_days, 1)}
    if quantity is None or annual is None or again is None:
        empty = (
            "order_quantity", "quantity_by_size", "landed_unit_cost", "cost_per_unit_sold", "reorder_point",
            "safety_stock", "reorder_point_by_formula", "safety_stock_by_formula", "orders_per_year", "annual",
        )  # fmt: skip
        return {**head, **dict.fromkeys(empty)}
    parts = (
        "goods", "freight_duty_fees", "ordering", "holding", "pipeline", "leftovers", "shortage", "total",
    )  # fmt: skip
    return {
        **head,
        "order_quantity": str(quantity),
        "quantity_by_size": _sizes_of_offer(decision, plan, quantity),
        "landed_unit_cost": _unit_data(decision, plan.curve.unit(quantity)),
        "cost_per_unit_sold": _unit_data(decision, plan.cost_per_unit_minor),
        "reorder_point": _plain(again.reorder_at, 2),
        "safety_stock": _plain(again.safety_stock, 2),
        "reorder_point_by_formula": _plain(again.formula_reorder_at, 2),
        "safety_stock_by_formula": _plain(again.formula_safety_stock, 2),
        "orders_per_year": _plain(plan.orders_per_year, 4),
        "annual": {part: money_data(decision, getattr(annual, part)) for part in parts},
    }


def _sizes_of_offer(decision: Decision, plan: OfferPlan, quantity: int) -> dict[str, str] | None:
    """Return an order by size: in whole prepacks, else by the shares; None where sizes are not told apart."""
    sizes = decision.study.demand.sizes
    ratio = plan.offer.quote.rules.size_ratio
    if ratio:
        packs = quantity // sum(share.pieces for share in ratio)
        return {share.size: str(packs * share.pieces) for share in ratio}
    if len(sizes) == 1:
        return None
    split = split_by_share(quantity, [size.share for size in sizes])
    return {size.name: str(pieces) for size, pieces in zip(sizes, split, strict=True)}


def _alternative_data(decision: Decision, held: Alternative) -> dict[str, Any]:
    sizes = decision.study.demand.sizes
    is_home = held.quantity == 0
    return {
        "name": held.name,
        "offer": held.offer_name or None,
        "quantity": str(held.quantity),
        "quantities": {
            size.name or ALL_SIZES: str(pieces) for size, pieces in zip(sizes, held.quantities, strict=True)
        },
        "expected_saving": money_data(decision, held.expected_saving),
        "standard_error": money_data(decision, held.standard_error),
        "probability_cheaper": None if is_home else _plain(held.probability_cheaper, _PLACES),
        "worst_tenth": money_data(decision, held.worst_tenth),
        "leftover_units": _plain(held.expected_left, 2),
        "weeks_of_cover": _plain(held.weeks_of_cover, 2),
        "cash_peak": money_data(decision, held.cash_peak),
        "payback_weeks": held.payback_weeks,
        "cost_per_unit_sold": _unit_data(decision, _each_sold(decision, held)),
    }


def _screen_data(decision: Decision) -> dict[str, Any] | None:
    if decision.screen is None:
        return None
    _, found = decision.screen
    window = found.window
    return {
        "can_pay": found.can_pay,
        "quantity_from": _plain(window.quantity_from if window else None, 2),
        "quantity_to": _plain(window.quantity_to if window else None, 2),
        "best_quantity": _plain(found.best_quantity, 2),
        "best_saving": None if found.best_saving is None else money_data(decision, found.best_saving),
        "naive_quantity": _plain(found.naive_quantity, 2),
    }


def _swing_data(decision: Decision, swing: Swing) -> dict[str, Any]:
    is_money = swing.assumption in {LANDED, DOMESTIC_PRICE}

    def shown(value: float | None) -> str | None:
        return _unit_data(decision, value) if is_money else _plain(value, _PLACES)

    return {
        "assumption": swing.assumption,
        "low": shown(swing.low),
        "high": shown(swing.high),
        "saving_low": money_data(decision, swing.saving_low),
        "saving_high": money_data(decision, swing.saving_high),
        "flips_at": shown(swing.flips_at),
    }


def money_data(decision: Decision, minor: float) -> str:
    """Return an amount in the study's currency as scripts take it."""
    return show_money(_rounded(minor), decision.study.currency)


def _unit_data(decision: Decision, minor: float | None) -> str | None:
    if minor is None:
        return None
    places = exponent(decision.study.currency) + UNIT_PLACES
    return show_scaled(_rounded(minor * 10**UNIT_PLACES), places)


def _plain(value: float | None, places: int) -> str | None:
    """Return a figure without trailing zeros."""
    if value is None:
        return None
    text = _fixed(value, places)
    return text.rstrip("0").rstrip(".") if places else text
