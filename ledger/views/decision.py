"""A buying decision as people read it: one sentence, the tables, the reasons; and as scripts take it."""

from __future__ import annotations

from typing import Any

from ledger.sourcing.alternatives import Alternative
from ledger.sourcing.decide import Decision
from ledger.sourcing.offer_plan import OfferPlan
from ledger.sourcing.sensitivity import CAPITAL, DOMESTIC_PRICE, LANDED, SALVAGE, Swing
from ledger.sourcing.size_quantities import split_by_share
from ledger.sourcing.verdict import BASE_AND_TOP_UP, BULK, NEED_DATA, TOO_CLOSE
from ledger.views.decision_figures import (
    amount_text,
    fixed,
    money_data,
    money_text,
    percent,
    plain,
    unit_data,
    unit_text,
)
from ledger.views.tables import Table, paragraphs
from ledger.views.trial_order import trial_as_data, trial_text, waiting_text

ALL_SIZES = "all"
"""Names the one size of a study that tells no sizes apart."""

CAUTION = (
    "An estimate, not customs or tax advice: class, value, origin and rate are the importer's responsibility; "
    "ask a licensed broker."
)
MOST_SIZES_ACROSS = 8
"""More sizes or colours stand below each other."""

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
        waiting_text(decision),
        trial_text(decision),
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
            f"at most {amount_text(decision, chosen.cash_peak)}, and is cheaper in {percent(chosen.probability_cheaper)} "
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
    each = unit_text(decision, home.cost_per_unit_minor)
    return (
        f"go on buying at {home.offer.name}, {home.order_quantity} at a time, for {each} a piece with ordering "
        "and holding"
    )


def _by_size(decision: Decision, held: Alternative) -> str:
    sizes = decision.study.demand.sizes
    if len(sizes) == 1:
        return ""
    if len(sizes) > MOST_SIZES_ACROSS:
        return " (of each colour and size as below)"
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
        unit_text(decision, plan.curve.unit(plan.order_quantity)),
        fixed(plan.lead_time_days, 0),
        fixed(plan.orders_per_year, 1),
        fixed(again.reorder_at, 1),
        fixed(again.formula_reorder_at, 1),
        fixed(again.safety_stock, 1),
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
            "" if held.probability_cheaper is None else percent(held.probability_cheaper),
            money_text(decision, held.worst_tenth),
            f"{held.expected_left:.1f}",
            f"{held.weeks_of_cover:.1f}",
            money_text(decision, held.cash_peak),
            "" if held.quantity == 0 else "never" if held.payback_weeks is None else str(held.payback_weeks),
            unit_text(decision, _each_sold(decision, held)),
        )
    sizes = decision.study.demand.sizes
    if len(sizes) == 1:
        return table.text()
    return paragraphs([table.text(), _sizes_text(decision)])


def _sizes_text(decision: Decision) -> str:
    """Return the pieces of each size from afar: sizes across, or down where there are many."""
    sizes, bought = decision.study.demand.sizes, decision.alternatives[1:]
    if len(sizes) <= MOST_SIZES_ACROSS:
        grid = Table(["pieces", *(f">{size.name}" for size in sizes), ">all"])
        for held in bought:
            grid.add(held.name, *(f"{each:,}" for each in held.quantities), f"{held.quantity:,}")
        return grid.text()
    grid = Table(["pieces", *(f">{held.name}" for held in bought), ">there now"])
    for place, size in enumerate(sizes):
        grid.add(size.name, *(f"{held.quantities[place]:,}" for held in bought), f"{size.on_hand:,}")
    grid.total("all", *(f"{held.quantity:,}" for held in bought), f"{sum(size.on_hand for size in sizes):,}")
    return grid.text()


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
        lines.append(f"  landed cost from afar: {unit_text(decision, points.landed_unit_minor)} a piece")
    if points.domestic_unit_minor is not None:
        lines.append(f"  price at home: {unit_text(decision, points.domestic_unit_minor)} a piece")
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
        return unit_text(decision, value)
    if swing.assumption in {CAPITAL, SALVAGE}:
        return fixed(value, 3)
    return fixed(value, 1)


def _drawn_text(decision: Decision) -> str:
    if decision.futures == 0:
        return ""
    if decision.futures == 1:
        return "Nothing in this study is uncertain: one future, no chance."
    return (
        f"{decision.futures:,} futures from seed {decision.seed}; demand: {decision.study.demand.source}. ± is one "
        "standard error of the simulation."
    )


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
            "units_per_month": plain(points.units_per_month if points else None, 3),
            "landed_unit_cost": unit_data(decision, points.landed_unit_minor if points else None),
            "domestic_unit_price": unit_data(decision, points.domestic_unit_minor if points else None),
            "quantity_from": plain(points.quantity_from if points else None, 0),
            "quantity_to": plain(points.quantity_to if points else None, 0),
        },
        "screen": _screen_data(decision),
        "order_by": decision.order_by.isoformat() if decision.order_by else None,
        "value_of_waiting": [
            {"weeks": each.weeks, "value": money_data(decision, each.value)} for each in decision.waiting
        ],
        "test_order": trial_as_data(decision),
        "sensitivity": [_swing_data(decision, swing) for swing in decision.sensitivity],
        "warnings": list(decision.warnings),
        "futures": decision.futures,
        "seed": decision.seed,
    }


def _offer_data(decision: Decision, plan: OfferPlan) -> dict[str, Any]:
    offer, quantity = plan.offer, plan.order_quantity
    annual, again = plan.annual, plan.reordering
    origin = "domestic" if offer.is_domestic else offer.quote.origin
    head = {"name": offer.name, "origin": origin, "lead_time_days": plain(plan.lead_time_days, 1)}
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
        "landed_unit_cost": unit_data(decision, plan.curve.unit(quantity)),
        "cost_per_unit_sold": unit_data(decision, plan.cost_per_unit_minor),
        "reorder_point": plain(again.reorder_at, 2),
        "safety_stock": plain(again.safety_stock, 2),
        "reorder_point_by_formula": plain(again.formula_reorder_at, 2),
        "safety_stock_by_formula": plain(again.formula_safety_stock, 2),
        "orders_per_year": plain(plan.orders_per_year, 4),
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
        "probability_cheaper": None if is_home else plain(held.probability_cheaper, _PLACES),
        "worst_tenth": money_data(decision, held.worst_tenth),
        "leftover_units": plain(held.expected_left, 2),
        "weeks_of_cover": plain(held.weeks_of_cover, 2),
        "cash_peak": money_data(decision, held.cash_peak),
        "payback_weeks": held.payback_weeks,
        "cost_per_unit_sold": unit_data(decision, _each_sold(decision, held)),
    }


def _screen_data(decision: Decision) -> dict[str, Any] | None:
    if decision.screen is None:
        return None
    _, found = decision.screen
    window = found.window
    return {
        "can_pay": found.can_pay,
        "quantity_from": plain(window.quantity_from if window else None, 2),
        "quantity_to": plain(window.quantity_to if window else None, 2),
        "best_quantity": plain(found.best_quantity, 2),
        "best_saving": None if found.best_saving is None else money_data(decision, found.best_saving),
        "naive_quantity": plain(found.naive_quantity, 2),
    }


def _swing_data(decision: Decision, swing: Swing) -> dict[str, Any]:
    is_money = swing.assumption in {LANDED, DOMESTIC_PRICE}

    def shown(value: float | None) -> str | None:
        return unit_data(decision, value) if is_money else plain(value, _PLACES)

    return {
        "assumption": swing.assumption,
        "low": shown(swing.low),
        "high": shown(swing.high),
        "saving_low": money_data(decision, swing.saving_low),
        "saving_high": money_data(decision, swing.saving_high),
        "flips_at": shown(swing.flips_at),
    }
