"""The pictures of a buying decision: what each shows, in words, and how it is drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import Enum, auto
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.exact.currencies import exponent
from ledger.sourcing.chart_data import CostLine, name_of, orders
from ledger.sourcing.charts import DecisionCharts, charts_of
from ledger.sourcing.decide import Decision
from ledger.sourcing.offer_plan import OfferPlan
from ledger.views.decision_answers import order_words
from ledger.views.decision_drawing import (
    Chosen,
    Scale,
    draw_cash,
    draw_cost,
    draw_saving,
    draw_stock,
    draw_tornado,
    draw_volume,
)
from ledger.views.decision_figures import amount_text, counted, fixed, percent, value_text
from ledger.views.pictures import drawn, save

if TYPE_CHECKING:
    from matplotlib.figure import Figure, SubFigure

_ROW_INCHES = 0.5
_SHEET_WIDTH_INCHES = 10.5
_COLUMNS = 2


class Shows(Enum):
    """What a picture of a decision is of."""

    COST_BY_DEMAND = auto()
    SAVING = auto()
    ASSUMPTIONS = auto()
    COST_BY_QUANTITY = auto()
    CASH = auto()
    SHELF = auto()


@dataclass(frozen=True)
class DecisionPicture:
    """One picture: what it is of, its title, what it shows in words, how it is read, and how it is drawn."""

    of: Shows
    title: str
    shows: str
    reading: str
    height_inches: float
    draw: Callable[[Figure | SubFigure], None]


def decision_pictures(decision: Decision, charts: DecisionCharts) -> tuple[DecisionPicture, ...]:
    """Return the pictures that a decision has, in the order of reading."""
    scale = Scale(decision.study.currency, 10 ** exponent(decision.study.currency), decision.study.unit_words)
    found = (
        _volume(decision, charts, scale),
        _saving(decision, charts, scale),
        _tornado(decision, charts, scale),
        _cost(decision, charts, scale),
        _cash(decision, charts, scale),
        _stock(charts, scale),
    )
    return tuple(each for each in found if each is not None)


def write_decision_picture(decision: Decision, path: Path) -> None:
    """Write all pictures of a decision on one sheet, as PNG or SVG by the ending of the file's name.

    Raises UsageError where the file is there already or cannot be written.
    """
    save(sheet(decision_pictures(decision, charts_of(decision))), path)


def sheet(pictures: tuple[DecisionPicture, ...]) -> Figure:
    """Return one figure of at least one picture, two beside each other, with their titles."""
    columns = min(_COLUMNS, len(pictures))
    rows = [pictures[place : place + columns] for place in range(0, len(pictures), columns)]
    heights = [max(each.height_inches for each in row) + 0.3 for row in rows]

    def draw(figure: Figure) -> None:
        parts = figure.subfigures(
            len(rows), columns, height_ratios=heights, squeeze=False, wspace=0.04, hspace=0.04
        )
        for row, places in zip(rows, parts, strict=True):
            for each, place in zip(row, places, strict=False):
                place.suptitle(each.title, fontsize=10.5, weight="bold", x=0.02, ha="left")
                each.draw(place)

    return drawn(draw, sum(heights), _SHEET_WIDTH_INCHES * columns / _COLUMNS)


def _cost(decision: Decision, charts: DecisionCharts, scale: Scale) -> DecisionPicture | None:
    if not charts.cost:
        return None
    one = decision.study.of_one
    marks = "; ".join(_marked(decision, line) for line in charts.cost)
    return DecisionPicture(
        Shows.COST_BY_QUANTITY,
        "What one costs landed, by how many are ordered at once",
        "Landed cost of one against the quantity of an order, for "
        + " and ".join(line.offer for line in charts.cost)
        + ".",
        f"Landed is the price with everything needed to bring the goods in, {one}. A line that drops at once is a price "
        f"break: just below it an order costs more for each. The large marks are the orders of the tables: {marks}.",
        3.3,
        lambda figure: draw_cost(figure, charts.cost, scale, one, _chosen(decision)),
    )


def _chosen(decision: Decision) -> Chosen | None:
    """Return the recommended order: the one from afar, else the usual one at home."""
    held, home = decision.verdict.chosen, decision.home
    if held.quantity:
        return Chosen(held.offer_name, held.quantity)
    return Chosen(home.offer.name, home.order_quantity) if home is not None and home.order_quantity else None


def _marked(decision: Decision, line: CostLine) -> str:
    """Return what the large marks of a line are: the way to buy that each order is of."""
    plan = next((plan for plan in decision.plans if plan.offer.name == line.offer), None)
    named = [
        f"{quantity:,} ({', '.join(names)})"
        for quantity in line.ordered
        if (names := list(_ways(decision, plan, quantity)))
    ]
    return f"{line.offer} at {', '.join(named)}"


def _ways(decision: Decision, plan: OfferPlan | None, quantity: int) -> Iterator[str]:
    if plan is None:
        return
    bulk = decision.bulk_plan
    if bulk is not None and bulk.offer.name == plan.offer.name:
        yield from (name_of(decision, held) for held in orders(decision) if held.quantity == quantity)
    if plan.order_quantity == quantity:
        yield "again and again"
    if _chosen(decision) == Chosen(plan.offer.name, quantity):
        yield "chosen"


def _volume(decision: Decision, charts: DecisionCharts, scale: Scale) -> DecisionPicture | None:
    chart = charts.volume
    if chart is None:
        return None
    months, of = decision.study.horizon_months, order_words(decision) or chart.of
    at = (
        f"The break-even is at {fixed(chart.break_even, 1)} a month: there {of} costs as much as buying everything at "
        "home."
        if chart.break_even is not None
        else f"There is no break-even: however much is asked for, {of} never costs as much as buying at home."
    )
    return DecisionPicture(
        Shows.COST_BY_DEMAND,
        "What it costs in all, by how many are asked for a month",
        f"Total cost over {months} months of each alternative against monthly demand. {at}",
        f"The lowest line is the cheapest way. Each order stays as it is; what it does not cover is bought at home. {at} "
        f"The decision counts with {fixed(chart.counted_per_month, 1)} a month.",
        3.2,
        lambda figure: draw_volume(figure, chart, scale, months),
    )


def _saving(decision: Decision, charts: DecisionCharts, scale: Scale) -> DecisionPicture | None:
    chart = charts.saving
    if chart is None:
        return None
    said = "; ".join(
        f"{each.name} of {counted(decision, each.quantity)}: cheaper in {percent(each.probability_cheaper)} of futures, "
        f"{amount_text(decision, each.mean_minor)} on average, the worst tenth {amount_text(decision, each.worst_tenth_minor)}"
        for each in chart.spreads
    )
    said = f"{said[:1].upper()}{said[1:]}"
    limit = (
        ""
        if chart.limit_minor is None
        else f" Your limit for the worst tenth is {amount_text(decision, chart.limit_minor)}."
    )
    return DecisionPicture(
        Shows.SAVING,
        "How much it saves or loses, and how often",
        f"How the saving against buying at home spreads over {chart.futures:,} futures. {said}.{limit}",
        f"Each bar says in how many of {chart.futures:,} imagined futures the saving lies there; hatched bars lose. {said}."
        f" The worst tenth is the mean of the worst tenth of futures.{limit}",
        0.8 + 1.5 * len(chart.spreads),
        lambda figure: draw_saving(figure, chart, scale),
    )


def _cash(decision: Decision, charts: DecisionCharts, scale: Scale) -> DecisionPicture | None:
    chart = charts.cash
    if chart is None:
        return None
    back = (
        "In half of the futures the money does not come back within the time looked at."
        if chart.payback_weeks is None
        else f"In half of the futures the money is back after {chart.payback_weeks} weeks."
    )
    deepest = f"At the deepest {amount_text(decision, -chart.deepest_minor)} are tied up."
    return DecisionPicture(
        Shows.CASH,
        "The money tied up, week by week",
        f"Cash of an order of {counted(decision, chart.quantity)} from {chart.offer}: what it has saved so far less what "
        f"was paid for it. {deepest} {back}",
        f"For an order of {counted(decision, chart.quantity)} from {chart.offer}: what was paid for it, less what was saved "
        f"by not buying at home. Half of the futures lie above the line, half below; eight of ten lie in the band. {deepest} {back}",
        2.9,
        lambda figure: draw_cash(figure, chart, scale),
    )


def _stock(charts: DecisionCharts, scale: Scale) -> DecisionPicture | None:
    chart = charts.stock
    if chart is None:
        return None
    of = f"{chart.size}, {chart.ordered:,} of it ordered" if chart.size else f"{chart.ordered:,} ordered"
    weeks = (
        f"in week {chart.arrival.low}"
        if chart.arrival.low == chart.arrival.high
        else f"between week {chart.arrival.low} and week {chart.arrival.high}"
    )
    return DecisionPicture(
        Shows.SHELF,
        f"The shelf, week by week{f': {chart.size}' if chart.size else ''}",
        f"Stock over time ({of} from {chart.offer}). The goods arrive {weeks} in eight of ten futures; at the end "
        f"{fixed(chart.expected_left, 1)} of them are left on average.",
        f"{of[:1].upper()}{of[1:]} from {chart.offer}; {chart.on_hand:,} there now. The goods arrive {weeks} in eight of ten "
        "futures; while the shelf is empty, pieces are bought at home as they are asked for. Half of the futures lie "
        f"above the line, half below; eight of ten lie in the band. At the end {fixed(chart.expected_left, 1)} of the order are left on average.",
        2.9,
        lambda figure: draw_stock(figure, chart, scale),
    )


def _tornado(decision: Decision, charts: DecisionCharts, scale: Scale) -> DecisionPicture | None:
    chart = charts.tornado
    if chart is None:
        return None
    labels = tuple(
        (value_text(decision, swing, swing.low), value_text(decision, swing, swing.high))
        for swing in chart.swings
    )
    first = chart.swings[0]
    crosses = (
        "Where a bar crosses 0, the answer turns."
        if any(swing.flips_within for swing in chart.swings)
        else "No bar crosses 0: none of these alone turns the answer."
    )
    return DecisionPicture(
        Shows.ASSUMPTIONS,
        "What the saving hangs on",
        f"How the saving of an order of {counted(decision, chart.quantity)} moves when one assumption alone is lower or "
        f"higher; it hangs most on the {first.assumption}.",
        f"Each bar moves one assumption alone, from its low to its high value (written at the bar's ends), all else as it "
        f"is; it hangs most on the {first.assumption}. {crosses} The thin line is the saving expected, "
        f"{amount_text(decision, chart.expected_minor)}.",
        1.1 + _ROW_INCHES * len(chart.swings),
        lambda figure: draw_tornado(figure, chart, scale, labels),
    )
