"""A buying decision as people read it: one sentence, the tables, the reasons."""

from __future__ import annotations

from ledger.exact.words import how_many
from ledger.sourcing.alternatives import BULK as BULK_NAME
from ledger.sourcing.alternatives import Alternative
from ledger.sourcing.chart_data import name_of
from ledger.sourcing.decide import Decision
from ledger.sourcing.demand import Demand
from ledger.sourcing.offer_plan import OfferPlan
from ledger.sourcing.verdict import BASE_AND_TOP_UP, BULK, NEED_DATA, TOO_CLOSE
from ledger.sourcing.year_bridge import year_bridge
from ledger.views.decision_figures import (
    amount_text,
    annual_minor,
    counted,
    each_sold,
    fixed,
    landed_unit,
    money_text,
    percent,
    rounded,
    shown_alternatives,
    unit_text,
    value_text,
)
from ledger.views.decision_sizes import MOST_SIZES_ACROSS, sizes_text
from ledger.views.lead_words import DaysTold, days_text
from ledger.views.prose import wrapped
from ledger.views.tables import Table, paragraphs
from ledger.views.trial_order import trial_text, waiting_text

CAUTION = (
    "An estimate, not customs or tax advice: class, value, origin and rate are the importer's responsibility; "
    "ask a licensed broker."
)
_SHOWN_SWINGS = 8


def decision_text(decision: Decision) -> str:
    """Return a decision for people: the sentence, offers, alternatives, reasons, what would flip it."""
    parts = [
        wrapped(sentence(decision)),
        text_of(offers_table(decision)),
        wrapped(days_words(decision)),
        text_of(alternatives_table(decision)),
        sizes_text(decision),
        wrapped(year_text(decision)),
        _reasons_text(decision),
        _flips_text(decision),
        text_of(tornado_table(decision)),
        wrapped(tornado_note(decision)),
        wrapped(waiting_text(decision)),
        wrapped(trial_text(decision)),
        "\n".join(wrapped(f"Note: {each}", "  ") for each in decision.warnings),
        wrapped(demand_text(decision)),
        wrapped(drawn_text(decision)),
    ]
    if any(not plan.offer.is_domestic for plan in decision.plans):
        parts.append(wrapped(CAUTION))
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
            f"{verdict.word}: buy {counted(decision, chosen.quantity, '')} from {chosen.offer_name}{_by_size(decision, chosen)}"
            f"{_by_when(decision)}{rest}: expected to save {amount_text(decision, chosen.expected_saving)} "
            f"(± {amount_text(decision, chosen.standard_error)}) over {_horizon(decision)}{_if_today(decision)}, ties up "
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
    when = _by_when(decision)
    return (
        f"{verdict.word}: {_home_words(decision, f', the next{when}' if when else '')}. {verdict.reasons[0]}"
    )


def _home_words(decision: Decision, when: str = "") -> str:
    """Return what to go on with at home; ``when`` says the day of the next order, with a comma before it."""
    home = decision.home
    if home is None or home.order_quantity is None:
        return "buy as you do now"
    each = unit_text(decision, home.cost_per_unit_minor)
    return (
        f"go on buying at {home.offer.name}, {counted(decision, home.order_quantity, '')} at a time{when}, for {each} {decision.study.of_one} with "
        "ordering and holding"
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


def _horizon(decision: Decision) -> str:
    return how_many(decision.study.horizon_months, "month")


def _if_today(decision: Decision) -> str:
    """Return that the saving is of an order placed today, where the last day to order is a later one."""
    later = decision.order_by is not None and decision.order_by > decision.study.today
    return " if ordered today" if later else ""


def _by_when(decision: Decision) -> str:
    if decision.order_by is not None:
        return f" by {decision.order_by.isoformat()}"
    need = decision.study.need_by
    if decision.order_date.too_late is None or need is None:
        return ""
    return f" today (too late for {need.isoformat()})"


def text_of(table: Table | None) -> str:
    """Return a table as the screen shows it; nothing for None."""
    return "" if table is None else table.text()


def offers_table(decision: Decision) -> Table | None:
    """Return each offer by itself, ordered from again and again; offers across, figures down."""
    if not decision.plans:
        return None
    table = Table(["each offer by itself", *(f">{plan.offer.name}" for plan in decision.plans)])
    columns = [_offer_figures(decision, plan) for plan in decision.plans]
    for label in _OFFER_LABELS:
        table.add(label, *(column.get(label, "") for column in columns))
    table.total("a year in all", *(column.get("a year in all", "") for column in columns))
    return table


_OFFER_LABELS = (
    "order quantity", "landed cost of one", "days from order to shelf", "orders a year", "order again at",
    "  by the formula", "  of it safety stock", "goods a year", "freight, duty, fees", "ordering", "holding",
    "paid early", "leftovers", "running short",
)  # fmt: skip


def _offer_figures(decision: Decision, plan: OfferPlan) -> dict[str, str]:
    if plan.annual is None or plan.reordering is None or plan.order_quantity is None:
        return {"order quantity": "none allowed"}
    again, costs = plan.reordering, annual_minor(plan.annual)
    total = costs.pop("total")
    figures_of_order = (
        f"{plan.order_quantity:,}",
        unit_text(decision, plan.curve.unit(plan.order_quantity)),
        fixed(plan.lead_time_days, 0),
        fixed(plan.orders_per_year, 1),
        fixed(again.reorder_at, 1),
        fixed(again.formula_reorder_at, 1),
        fixed(again.safety_stock, 1),
    )
    shown = (*figures_of_order, *(money_text(decision, each) for each in costs.values()))
    return {**dict(zip(_OFFER_LABELS, shown, strict=True)), "a year in all": money_text(decision, total)}


def days_told(plan: OfferPlan) -> DaysTold:
    """Return how long an offer takes and who says so."""
    days = fixed(plan.lead_time_days, 0) if plan.offer.lead_words else ""
    return DaysTold(plan.offer.name, days, plan.offer.lead_words, not plan.offer.lead.closures.are_none)


def days_words(decision: Decision) -> str:
    """Return how long each offer takes and who says so."""
    return days_text(map(days_told, decision.plans))


def alternatives_table(decision: Decision) -> Table | None:
    """Return the alternatives held against the same futures; None where there is nothing to choose from."""
    if len(decision.alternatives) < 2:  # noqa: PLR2004 - one alternative is nothing to choose from
        return None
    table = Table(
        ["alternative", f">{decision.study.unit_words}", ">landed", ">saves", ">±", ">cheaper in", ">worst tenth",
         ">left over", ">weeks of cover", ">cash tied up", ">back in weeks", ">each sold"]
    )  # fmt: skip
    for name, held in shown_alternatives(decision).items():
        table.add(
            name,
            f"{held.quantity:,}",
            unit_text(decision, landed_unit(decision, held)),
            money_text(decision, held.expected_saving),
            money_text(decision, held.standard_error),
            "" if held.probability_cheaper is None else percent(held.probability_cheaper),
            money_text(decision, held.worst_tenth),
            f"{held.expected_left:.1f}",
            f"{held.weeks_of_cover:.1f}",
            money_text(decision, held.cash_peak),
            "" if held.quantity == 0 else "never" if held.payback_weeks is None else str(held.payback_weeks),
            unit_text(decision, each_sold(decision, held)),
        )
    return table


def year_text(decision: Decision) -> str:
    """Return why one bulk now does not save what a year of orders costs less: leftovers, what comes first."""
    bulk = next((held for held in decision.alternatives if held.name == BULK_NAME and held.quantity), None)
    if bulk is None or decision.home is None or decision.bulk_plan is None or decision.break_even is None:
        return ""
    bridge = year_bridge(decision.study, decision.home, decision.bulk_plan, bulk)
    if bridge is None:
        return ""
    yearly, left, forgone, saving = (
        rounded(each) for each in (bridge.yearly, bridge.left_over, bridge.not_served, bridge.saving)
    )
    signs = [
        f"less {money_text(decision, left)} for {bridge.pieces_left:.0f} left over",
    ]
    signs.append(
        f"{'less' if forgone >= 0 else 'plus'} {money_text(decision, abs(forgone))} for the "
        f"{bridge.pieces_not_served:.0f} it does not serve (asked for before it arrives or beyond it, or on the shelf)"
    )
    rest = saving - (yearly - left - forgone)
    signs.append(
        f"{'less' if rest < 0 else 'plus'} {money_text(decision, abs(rest))} for the rest (another quantity's cost, the "
        "shelf, paying early)"
    )
    costs = "less" if yearly >= 0 else "more"
    return (
        f"Ordered from again and again, {decision.bulk_plan.offer.name} costs {money_text(decision, abs(yearly))} {costs} "
        f"than home over {_horizon(decision)}. One bulk of {bulk.quantity:,} now: that, "
        f"{', '.join(signs)}: saves {amount_text(decision, bridge.saving)}."
    )


def demand_text(decision: Decision) -> str:
    """Return the demand that was counted with, and what really left where that is another figure."""
    demand = decision.study.demand
    if not decision.plans:
        return ""
    counted = f"Demand: counted with {demand.per_month:.1f} a month"
    left = demand.left_per_month
    if left is None or f"{left:.1f}" == f"{demand.per_month:.1f}":
        return f"{counted} ({demand.source})."
    return f"{counted}; {left:.1f} a month really left; {_why_not_as_left(demand, left)}. {demand.source[:1].upper()}{demand.source[1:]}."


NAMED_CAUSE = 0.25
"""A smaller part of the difference between what is counted with and what left is not worth naming its cause."""


def _why_not_as_left(demand: Demand, left_per_month: float) -> str:
    """Return why another demand is counted with than what left: days without stock, what is believed at first, or both."""
    of_days = demand.days_out_per_month
    causes = {
        "the difference is days without stock (if you buy to order set days_out_of_stock to 0)": of_days,
        "what is believed begins with half a piece more than left, for few sales say little": demand.per_month
        - left_per_month
        - of_days,
    }
    least = NAMED_CAUSE * sum(abs(each) for each in causes.values())
    return ", and ".join(words for words, part in causes.items() if abs(part) >= least)


def _reasons_text(decision: Decision) -> str:
    lines = [wrapped(f"  {each}", "    ") for each in decision.verdict.reasons]
    return "\n".join(["Why:", *lines])


def _flips_text(decision: Decision) -> str:
    lines = [f"  {each}" for each in flip_lines(decision)]
    return "\n".join([wrapped(_flips_head(decision)), *lines]) if lines else ""


def _flips_head(decision: Decision) -> str:
    """Return over which order the switch points, the tornado and the test order speak."""
    focus = decision.focus
    if focus is None or focus.quantities == decision.verdict.chosen.quantities:
        return "The saving is nothing at (all else as it is):"
    return (
        f"{name_of(decision, focus).capitalize()}, {focus.quantity:,} from {focus.offer_name}, is what the rest speaks of, "
        "though it is not recommended. Its saving is nothing at (all else as it is):"
    )


def flip_lines(decision: Decision) -> list[str]:
    """Return where the saving of the order from afar is nothing, figure by figure."""
    points = decision.break_even
    if points is None:
        return []
    lines, each = [], decision.study.of_one
    if points.units_per_month is not None:
        lines.append(f"demand: {points.units_per_month:.1f} a month")
    if points.landed_unit_minor is not None:
        lines.append(f"landed cost from afar: {unit_text(decision, points.landed_unit_minor)} {each}")
    if points.domestic_unit_minor is not None:
        where = "price at home" if decision.home is not None else "cost and margin of a lost sale"
        lines.append(f"{where}: {unit_text(decision, points.domestic_unit_minor)} {each}")
    if points.quantity_from is not None:
        lines.append(
            f"paying quantities: {_paying_words(decision, points.quantity_from, points.quantity_to)}"
        )
    elif decision.screen is not None and not decision.screen[1].can_pay:
        lines.append("paying quantities: none; it cannot pay at this volume")
    return lines


def _paying_words(decision: Decision, first: int, last: int | None) -> str:
    """Return the paying quantities, and that the one which the study fixes is none of them."""
    words = f"{first:,} {'and more' if last is None else f'to {last:,}'}"
    held = decision.focus
    if held is None or (first <= held.quantity and (last is None or held.quantity <= last)):
        return words
    return f"{words}; the {held.quantity:,} that the study fixes are not among them"


def tornado_table(decision: Decision) -> Table | None:
    """Return how the saving moves with each assumption alone, the widest swing first."""
    if not decision.sensitivity:
        return None
    table = Table(["if it were", ">low", ">high", ">saves at low", ">saves at high", ">nothing at"])
    for swing in decision.sensitivity[:_SHOWN_SWINGS]:
        table.add(
            swing.assumption,
            value_text(decision, swing, swing.low),
            value_text(decision, swing, swing.high),
            money_text(decision, swing.saving_low),
            money_text(decision, swing.saving_high),
            "" if swing.flips_at is None else value_text(decision, swing, swing.flips_at),
        )
    return table


def tornado_note(decision: Decision) -> str:
    """Return which lines of the tornado look at fewer futures, and how sure they are; nothing where none does."""
    fewer = [each for each in decision.sensitivity if each.standard_error and each.futures < decision.futures]
    if not fewer:
        return ""
    said = " and ".join(
        f"{each.assumption} on {each.futures:,} of the futures (± {amount_text(decision, each.standard_error)})"
        for each in fewer
    )
    return f"The change is worked out for {said}, and added to the saving in all of them."


def drawn_text(decision: Decision) -> str:
    """Return how many futures were drawn, from which seed; nothing where nothing was."""
    if decision.futures == 0:
        return ""
    if decision.futures == 1:
        return "Nothing in this study is uncertain: one future, no chance."
    return (
        f"{decision.futures:,} futures from seed {decision.seed}. ± is one standard error of the simulation."
    )
