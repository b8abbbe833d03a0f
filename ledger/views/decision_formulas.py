"""Each formula behind a buying decision, with its numbers and its source."""

from __future__ import annotations

from ledger.exact.currencies import exponent
from ledger.sourcing.alternatives import Alternative
from ledger.sourcing.bulk import left_minor
from ledger.sourcing.decide import Decision
from ledger.sourcing.demand import DAYS_PER_WEEK, WEEKS_PER_YEAR
from ledger.sourcing.offer_plan import OfferPlan, ordering_of, payments
from ledger.sourcing.price_breaks import break_quantities
from ledger.sourcing.quote import INCREMENTAL
from ledger.sourcing.reorder import premium_ratio, z_of
from ledger.sourcing.screen import Screen, ScreenInput
from ledger.sourcing.waiting import worthwhile_cover_years
from ledger.views.prose import wrapped
from ledger.views.tables import paragraphs


def explain_text(decision: Decision) -> str:
    """Return the formulas of a decision with the numbers that went in and where they come from."""
    parts = [_demand(decision)] if decision.plans else []
    parts += [_offer(decision, plan) for plan in decision.plans if plan.order_quantity is not None]
    if decision.screen is not None:
        parts.append(_screen(decision, *decision.screen))
    parts += [_ratio(decision), _cover(decision)]
    parts += [_alternative(decision, held) for held in decision.alternatives if held.quantity]
    parts.append(_rules(decision))
    return wrapped(paragraphs(["How it was worked out:", *parts]), "    ")


def _major(decision: Decision, minor: float) -> str:
    return f"{minor / 10 ** exponent(decision.study.currency):,.4f}"


def _demand(decision: Decision) -> str:
    demand = decision.study.demand
    lines = [f"Demand: {demand.per_week:.4g} a week, {demand.per_year:.5g} a year; {demand.source}."]
    if demand.is_rate_known:
        lines.append(
            f"  A week varies by {demand.week_sd:.4g} (standard deviation) around a rate taken as known."
        )
    else:
        belief = demand.rate
        lines.append(
            f"  Weekly rate ~ Gamma(shape {belief.shape:.4g}, rate {belief.rate:.4g}); sales ~ Poisson. "
            "Source: Gamma-Poisson conjugacy."
        )
    if len(demand.sizes) > 1:
        lines.append(
            f"  Size shares ~ Dirichlet(share x {demand.share_strength:.4g} pieces). Source: our own rule for how "
            "much stated shares count."
        )
    return "\n".join(lines)


def _offer(decision: Decision, plan: OfferPlan) -> str:
    quantity = plan.order_quantity or 0
    estimate = plan.curve.at(quantity)
    ordering = ordering_of(plan.offer, decision.study.money, decision.study.demand)
    lines = [f"{plan.offer.name}, an order of {quantity}:"]
    lines += [
        f"  {part.name}: {_major(decision, part.amount_minor)}{f' ({part.how})' if part.how else ''}"
        for part in estimate.parts
    ]
    if plan.offer.quote.discount == INCREMENTAL:
        lines.append(f"  {_incremental_words(plan)}")
    lines.append(
        f"  landed a good piece = {_major(decision, estimate.total_minor)} / {float(estimate.good_units):.5g} = "
        f"{_major(decision, plan.curve.unit(quantity))}"
    )
    lines.append(
        f"  a year = D/Q (goods, charges, order) + i c Q/2, D = {ordering.demand_per_year:.5g}, K = "
        f"{_major(decision, ordering.cost_per_order)}, i = {ordering.carrying_per_year:g}; the least over all allowed "
        "quantities, both sides of every break. Source: Snyder & Shen, sections 3.2 to 3.4."
    )
    lines += _reordering(decision, plan)
    lines += [
        f"  paid: {each.what} {_major(decision, each.amount_minor)} on day {each.days_after_order:.0f}, "
        f"{each.days_before_arrival:.0f} days before arrival"
        for each in payments(plan.curve, quantity)
        if each.amount_minor
    ]
    return "\n".join(lines)


def _incremental_words(plan: OfferPlan) -> str:
    """Return what a break of an incremental schedule means, with the offer's second break for an example."""
    firsts = break_quantities(plan.offer.quote)[1:]
    told = (
        f": the price from {firsts[0]:,} is that of pieces beyond the first {firsts[0]:,}" if firsts else ""
    )
    return f"incremental: a break prices only what goes beyond its quantity{told}. Source: Nahmias, incremental schedules."


def _reordering(decision: Decision, plan: OfferPlan) -> list[str]:
    again, service = plan.reordering, decision.study.money.service_level
    if again is None:
        return []
    return [
        _on_the_way(decision, plan),
        (
            f"  reorder point by formula = mean on the way + z √(L s² + d² sL²){_by_size(decision)} = "
            f"{again.mean_on_the_way:.4g} + "
            f"{z_of(service):.4g} x {again.formula_safety_stock / z_of(service) if z_of(service) else 0:.4g} = "
            f"{again.formula_reorder_at:.4g}: gives {again.formula_service:.1%} in the simulation. Source: Chopra & "
            "Meindl, chapter 12."
        ),
        (
            f"  reorder point by simulated quantile = {again.reorder_at:.4g}: gives {again.service:.1%}, {service:.1%} is "
            "wanted. Source: Chopra, Reinhardt & Dada 2004 on why the normal tail fails."
        ),
        (
            f"  short in a cycle {again.short_per_cycle:.3g}: fill rate 1 - short / order = "
            f"{1 - again.short_per_cycle / plan.curve.good(plan.order_quantity or 1):.2%}"
        ),
    ]


def _by_size(decision: Decision) -> str:
    return (
        ", the sum over the sizes, each with its own s and d" if len(decision.study.demand.sizes) > 1 else ""
    )


def _on_the_way(decision: Decision, plan: OfferPlan) -> str:
    """Return the figures that go into the reorder formula for all sizes together."""
    demand, lead = decision.study.demand, plan.offer.lead
    spread = lead.sd_total() / DAYS_PER_WEEK
    return (
        f"  L {plan.lead_time_days / DAYS_PER_WEEK:.4g} weeks, sL {spread:.4g} weeks, d {demand.per_week:.4g} a week, s "
        f"{demand.week_sd:.4g} a week, all sizes together"
    )


def _screen(decision: Decision, given: ScreenInput, found: Screen) -> str:
    lines = [
        (
            "Instant screen: S(Q) = B Q - F - A Q², B = c_d - c_o (1 + i t) - i f / (2 D), A = i c_o / (2 D), where f is "
            "what is fixed in the landed cost (it lies on the shelf with the pieces) and F is the ordering and f (1 + i t). "
            "Storage by the piece is left out. Our own derivation."
        ),
        (
            f"  c_d {_major(decision, given.domestic_cost)}, c_o {_major(decision, given.overseas_cost)}, f "
            f"{_major(decision, given.carried_fixed)}, F {_major(decision, given.fixed_cost)}, D {given.demand_per_year:.5g}, i {given.carrying_per_year:g}, t "
            f"{given.paid_years:.3g} years: B {_major(decision, given.gain_per_unit)}, A "
            f"{given.shelf_cost / 10 ** exponent(decision.study.currency):.6g}"
        ),
    ]
    if found.window is None:
        lines.append("  No quantity pays: it cannot pay at this volume.")
    else:
        end = "no end" if found.window.quantity_to is None else f"{found.window.quantity_to:,.0f}"
        lines.append(f"  It pays from {found.window.quantity_from:,.0f} to {end} pieces.")
    asked = given.demand_per_year * decision.study.weeks / WEEKS_PER_YEAR
    if found.best_quantity is not None and found.best_quantity > asked:
        lines.append(
            f"  Its best quantity lies beyond the {asked:,.0f} asked for in the {decision.study.horizon_months} months "
            "looked at, which it does not know of."
        )
    elif found.best_quantity is not None and found.best_saving is not None:
        lines.append(
            f"  Best {found.best_quantity:,.0f}, saving {_major(decision, found.best_saving)}, the horizon apart."
        )
    return "\n".join(lines)


def _ratio(decision: Decision) -> str:
    if decision.bulk_plan is None or decision.home is None or decision.bulk_plan.order_quantity is None:
        return ""
    held = next((each for each in reversed(decision.alternatives) if each.quantity), None)
    if held is None or decision.home.cost_per_unit_minor is None:
        return ""
    unit, price = decision.bulk_plan.curve.unit(held.quantity), decision.home.cost_per_unit_minor
    salvage = left_minor(decision.study.money.salvage_fraction, unit, price)
    return (
        "Running out of bulk stock costs the premium at home, not the sale: critical ratio (c_d - c_o) / (c_d - s) = "
        f"({_major(decision, price)} - {_major(decision, unit)}) / ({_major(decision, price)} - "
        f"{_major(decision, salvage)}) = {premium_ratio(price, unit, salvage):.4f}, before the shelf's cost. s is "
        f"{decision.study.money.salvage_fraction:g} of the lower of c_o and c_d. Source: Allon & Van Mieghem 2010; newsvendor."
    )


def _cover(decision: Decision) -> str:
    """Return how much cover is worth buying of each size that may go out of use; '' where none may."""
    plan, home, money = decision.bulk_plan, decision.home, decision.study.money
    if plan is None or plan.order_quantity is None or home is None or home.cost_per_unit_minor is None:
        return ""
    unit = plan.curve.unit(plan.order_quantity)
    lines = []
    for size in decision.study.demand.sizes:
        if size.obsolescence_per_year:
            years = worthwhile_cover_years(
                home.cost_per_unit_minor, unit, left_minor(money.salvage_fraction, unit, home.cost_per_unit_minor),
                money.capital_per_year, size.obsolescence_per_year,
            )  # fmt: skip
            shown = "no end" if years is None else f"{years:.2f} years"
            lines.append(f"  {size.name or 'all'}, {size.obsolescence_per_year:g} a year: {shown}")
    if not lines:
        return ""
    head = (
        "A piece used after t years is worth c_d e^-(i+δ)t + s δ/(i+δ) (1 - e^-(i+δ)t), where δ is how often a year "
        "it goes out of use. Cover worth buying at this cost, demand certain (our own derivation):"
    )
    return "\n".join([head, *lines])


def _alternative(decision: Decision, held: Alternative) -> str:
    if decision.bulk_plan is None:
        return ""
    curve = decision.bulk_plan.curve
    total = curve.total(held.quantity)
    lines = [
        (
            f"{held.name}, {held.quantity:,} {decision.study.unit_words}: saving = c_d x used + s x left - week's cost x "
            "piece-weeks - landed - order - early payment; the mean over all futures. An order is there at the start "
            "of the week nearest to its day."
        ),
        (
            f"  used {held.expected_used:.2f}, left {held.expected_left:.2f}, piece-weeks "
            f"{held.expected_held_weeks:.0f}, landed {_major(decision, total)}: saving "
            f"{_major(decision, held.expected_saving)}, standard error {_major(decision, held.standard_error)}"
        ),
    ]
    if held.cost_per_unit_sold is not None:
        lines.append(
            f"  each piece sold = (landed and order - salvage) / used = {_major(decision, held.cost_per_unit_sold)}"
        )
    return "\n".join(lines)


def _rules(decision: Decision) -> str:
    limits = decision.study.limits
    return (
        "Verdict: a bulk is taken where the saving is above two standard errors, it is cheaper in at least "
        f"{limits.probability:.0%} of futures, and the worst tenth, cash, cover and space are within your limits; base "
        "and top-up instead of one bulk where it saves a twentieth more. Our own rule."
    )
