"""The figures behind the pictures of a decision, so that what is drawn can be read and checked."""

from __future__ import annotations

from itertools import pairwise

from ledger.sourcing.charts import DecisionCharts
from ledger.sourcing.decide import Decision
from ledger.views.decision_figures import counted, fixed, money_text, unit_text
from ledger.views.page import Block, Table

EVERY_WEEKS = 4
"""Of the weekly bands every fourth week is told, and the last."""


def chart_tables(decision: Decision, charts: DecisionCharts) -> list[Block]:
    """Return one table for each picture whose figures stand in no other table of the page."""
    return [
        *_volume(decision, charts),
        *_saving(decision, charts),
        *_cost(decision, charts),
        *_weeks(decision, charts),
    ]


def _volume(decision: Decision, charts: DecisionCharts) -> list[Block]:
    chart = charts.volume
    if chart is None:
        return []
    heads = ["asked for a month", *(_named(decision, line.name, line.quantity) for line in chart.lines)]
    rows = [
        (
            fixed(volume, 1),
            *(money_text(decision, line.totals_minor[place]) for line in chart.lines),
        )
        for place, volume in enumerate(chart.per_month)
    ]
    months = decision.study.horizon_months
    return [
        Table(
            f"Total cost in {months} months by monthly demand, {decision.study.currency}",
            heads,
            rows,
            frozenset(range(len(heads))),
        )
    ]


def _named(decision: Decision, name: str, quantity: int) -> str:
    return f"{name}, {counted(decision, quantity)}" if quantity else name


def _saving(decision: Decision, charts: DecisionCharts) -> list[Block]:
    chart = charts.saving
    if chart is None:
        return []
    heads = ["above", "up to", *(_named(decision, each.name, each.quantity) for each in chart.spreads)]
    rows = [
        (
            money_text(decision, above),
            money_text(decision, upto),
            *(f"{spread.counts[place]:,}" for spread in chart.spreads),
        )
        for place, (above, upto) in enumerate(pairwise(chart.edges_minor))
    ]
    totals = ("all", "", *(f"{sum(spread.counts):,}" for spread in chart.spreads))
    return [
        Table(
            f"In how many futures the saving lies there, {decision.study.currency}",
            heads,
            rows,
            frozenset(range(len(heads))),
            (totals,),
        )
    ]


def _cost(decision: Decision, charts: DecisionCharts) -> list[Block]:
    rows = [
        (line.offer, f"{point.quantity:,}", unit_text(decision, point.unit_minor), point.what)
        for line in charts.cost
        for point in line.points
        if point.what or point.quantity in line.ordered or point in {line.points[0], line.points[-1]}
    ]
    if not rows:
        return []
    return [
        Table(
            f"Landed cost {decision.study.of_one} by how many are ordered, {decision.study.currency}",
            ("offer", "ordered", "landed", "what changes there"),
            rows,
            frozenset({1, 2}),
        )
    ]


def _weeks(decision: Decision, charts: DecisionCharts) -> list[Block]:
    cash, stock = charts.cash, charts.stock
    if cash is None or stock is None:
        return []
    last = len(cash.band.middle) - 1
    of = f" of {stock.size}" if stock.size else ""
    rows = [
        (
            f"{week}",
            *(money_text(decision, each[week]) for each in (cash.band.low, cash.band.middle, cash.band.high)),
            *(fixed(each[week], 0) for each in (stock.band.low, stock.band.middle, stock.band.high)),
        )
        for week in sorted({*range(0, last + 1, EVERY_WEEKS), last})
    ]
    heads = (
        "week", "cash, low", "cash, middle", "cash, high", "shelf, low", "shelf, middle", "shelf, high",
    )  # fmt: skip
    return [
        Table(
            f"Cash (saved less paid, {decision.study.currency}) and {decision.study.unit_words}{of} on the shelf; one "
            "future in ten lies below the low figure, one in ten above the high one",
            heads,
            rows,
            frozenset(range(len(heads))),
        )
    ]
