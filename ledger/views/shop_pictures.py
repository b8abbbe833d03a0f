"""Pictures of the shop's state: stock value by month and kind, what a month came to, unit costs over time."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from typing import TYPE_CHECKING

from ledger.book.stock_by_month import StockByMonth
from ledger.book.unit_costs import UnitCosts
from ledger.costing.month_statement import StatementLines
from ledger.exact.currencies import exponent
from ledger.views import figures
from ledger.views.pictures import FONT_POINTS, GREY, LOOKS, drawn, grid, legend_below, money_axis

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_MONTHS = 24
"""How many months a picture shows, the last ones."""

OTHER_KINDS = "all other kinds"

_MOST_FIGURES = 8
"""Up to how many months have their sum written above them."""

_MOST_NAMED = 12
"""Up to how many months are all named below the axis."""


@dataclass(frozen=True, slots=True)
class Band:
    """One kind of the picture, or several together, and its value at the end of each month, in minor units."""

    name: str
    amounts_minor: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class StockValueChart:
    """Stock value by month and kind; the bands of a month add up to its closing stock.

    ``is_last_so_far`` tells that the last month is not over.
    """

    currency: str
    months: tuple[str, ...]
    bands: tuple[Band, ...]
    is_last_so_far: bool = False

    @property
    def totals_minor(self) -> tuple[int, ...]:
        """What all bands of each month are together."""
        return tuple(
            sum(amounts) for amounts in zip(*(band.amounts_minor for band in self.bands), strict=True)
        )


def stock_value_chart(stock: StockByMonth, *, is_last_so_far: bool = False) -> StockValueChart:
    """Return the chart of the last months: the kinds worth most by themselves, the others together."""
    shown = stock.latest(MOST_MONTHS)
    by_worth = sorted(shown.kinds, key=lambda one: -sum(one.amounts_minor))
    own, others = by_worth[: len(LOOKS)], by_worth[len(LOOKS) :]
    bands = [Band(one.kind, one.amounts_minor) for one in own]
    if others:
        together = zip(*(one.amounts_minor for one in others), strict=True)
        bands.append(Band(OTHER_KINDS, tuple(sum(amounts) for amounts in together)))
    return StockValueChart(stock.currency, shown.months, tuple(bands), is_last_so_far)


def stock_value_figure(chart: StockValueChart) -> Figure:
    """Return the picture: a bar for each month, its kinds upon one another, the sum above."""
    scale = 10 ** exponent(chart.currency)

    def draw(figure: Figure) -> None:
        axes = figure.add_subplot()
        places = range(len(chart.months))
        above, below = [0.0] * len(places), [0.0] * len(places)
        for number, band in enumerate(chart.bands):
            amounts = [amount / scale for amount in band.amounts_minor]
            floors = [above[i] if amount >= 0 else below[i] for i, amount in enumerate(amounts)]
            ink, hatch = (LOOKS[number].ink, LOOKS[number].hatch) if number < len(LOOKS) else ("0.8", "")
            axes.bar(
                places, amounts, bottom=floors, width=0.7, color=ink, hatch=hatch, edgecolor="white",
                linewidth=0.6, label=band.name, gid="band",
            )  # fmt: skip
            for i, amount in enumerate(amounts):
                (above if amount >= 0 else below)[i] += amount
        if len(places) <= _MOST_FIGURES:
            for place, total in zip(places, chart.totals_minor, strict=True):
                words = figures.money(round(total / scale) * scale, chart.currency).split(".")[0]
                _above(axes, place, above[place], words)
        _month_ticks(axes, chart)
        axes.set_xlim(-0.6, max(len(places), 4) - 0.4)
        axes.margins(y=0.1)
        money_axis(axes.yaxis, chart.currency)
        axes.set_ylabel(f"{chart.currency} at the month's end")
        axes.set_title("Stock value by month and kind")
        grid(axes, "y")
        legend_below(figure, axes, 3)

    return drawn(draw, height_inches=3.4)


def _above(axes: Axes, place: float, height: float, words: str) -> None:
    axes.annotate(
        words, (place, height), xytext=(0, 2), textcoords="offset points", ha="center", va="bottom",
        fontsize=FONT_POINTS - 1,
    )  # fmt: skip


def _month_ticks(axes: Axes, chart: StockValueChart) -> None:
    names = list(chart.months)
    step = -(-len(names) // _MOST_NAMED)
    # Counted from the last month back, which is the one that is looked for.
    places = list(range(len(names) - 1, -1, -step))[::-1]
    is_crowded = len(places) > 5  # noqa: PLR2004 - as many names as stand beside one another
    if chart.is_last_so_far and is_crowded:
        axes.set_xlabel(f"{names[-1]}: so far")
    elif chart.is_last_so_far:
        names[-1] += "\nso far"
    axes.set_xticks(
        places,
        [names[place] for place in places],
        rotation=55 if is_crowded else 0,
        ha="right" if is_crowded else "center",
        rotation_mode="anchor" if is_crowded else "default",
        fontsize=FONT_POINTS - 1,
    )


@dataclass(frozen=True, slots=True)
class CameToStep:
    """One line of a statement: what it adds, or (below zero) takes away, in minor units."""

    name: str
    amount_minor: int


@dataclass(frozen=True, slots=True)
class CameToChart:
    """How a month comes to its cost of goods sold: the steps add up to it."""

    currency: str
    steps: tuple[CameToStep, ...]
    result: CameToStep


_STEPS = (
    ("opening_stock", "opening stock", 1),
    ("purchases", "purchases", 1),
    ("charges_in", "freight, duty, fees", 1),
    ("labour", "labour", 1),
    ("sent_back", "sent back", -1),
    ("own_use", "own use", -1),
    ("closing_stock", "closing stock", -1),
)


def came_to_chart(lines: StatementLines, currency: str) -> CameToChart:
    """Return the chart of a month's statement; steps of nothing are left out."""
    steps = [CameToStep(words, sign * getattr(lines, name)) for name, words, sign in _STEPS]
    return CameToChart(
        currency,
        tuple(step for step in steps if step.amount_minor),
        CameToStep("cost of goods sold", lines.cost_of_goods_sold),
    )


_HATCHED = 0.02
"""From what share of the longest bar on a bar has room for a hatch; shorter ones are a line of their ink."""


def came_to_figure(chart: CameToChart) -> Figure:
    """Return the picture: a bar for each step from where the one before ended, and the result from zero."""
    scale = 10 ** exponent(chart.currency)

    def draw(figure: Figure) -> None:
        axes = figure.add_subplot()
        reached = 0.0
        furthest = max([0.0, *accumulate(step.amount_minor / scale for step in chart.steps)])
        rows = [*chart.steps, chart.result]
        for place, step in enumerate(rows):
            is_result = place == len(chart.steps)
            amount = step.amount_minor / scale
            start = 0.0 if is_result else reached
            look = LOOKS[0] if is_result or amount >= 0 else LOOKS[1]
            axes.barh(
                place, amount, left=start, height=0.62, color=look.ink, hatch=look.hatch,
                edgecolor="white" if abs(amount) > furthest * _HATCHED else look.ink, linewidth=0.6, gid="step",
            )  # fmt: skip
            reached = reached if is_result else reached + amount
            end = max(start, start + amount)
            words = figures.money(step.amount_minor, chart.currency).replace("-", "\N{MINUS SIGN}")
            axes.annotate(
                words, (end, place), xytext=(3, 0), textcoords="offset points", ha="left", va="center",
                fontsize=FONT_POINTS - 1, weight="bold" if is_result else "normal",
            )  # fmt: skip
        axes.set_yticks(range(len(rows)), [step.name for step in rows])
        axes.set_ylim(len(rows) - 0.5, -0.5)
        axes.set_xlim(min(0.0, *(axes.get_xlim())) if reached < 0 else 0, furthest * 1.22 or 1)
        axes.axhline(len(rows) - 1.5, color=GREY, linewidth=0.7)
        money_axis(axes.xaxis, chart.currency)
        grid(axes, "x")

    return drawn(draw, height_inches=1.0 + 0.34 * (len(chart.steps) + 1))


@dataclass(frozen=True, slots=True)
class CostPoint:
    """A day (ISO 8601) and the cost of so many base units, in minor units."""

    day: str
    cost_minor: Fraction


_MANY = {"each": "pieces", "sheet": "sheets"}
"""What several of a base unit are called; the others are signs of units."""


@dataclass(frozen=True, slots=True)
class UnitCostChart:
    """What an item cost over time: each lot as it came in, and what left.

    ``per_units`` is of how many base units the costs are: one, or more of what costs next to nothing.
    """

    title: str
    currency: str
    per_units: int
    base_unit: str
    came_in: tuple[CostPoint, ...]
    went_out: tuple[CostPoint, ...]

    @property
    def unit_words(self) -> str:
        """What the costs are of: 'each', 'a sheet', 'for 1,000 cm2'."""
        if self.per_units > 1:
            return f"for {self.per_units:,} {_MANY.get(self.base_unit, self.base_unit)}"
        return "each" if self.base_unit == "each" else f"a {self.base_unit}"


_LEAST_MINOR = 20
"""What the dearest lot of the picture costs at least, in minor units; else more units are taken together."""


def unit_cost_chart(costs: UnitCosts) -> UnitCostChart:
    """Return the chart of an item's costs; both of its rows may be empty."""
    every = [one.unit_cost_minor for one in costs.came_in] + [one.unit_cost_minor for one in costs.went_out]
    dearest = max(every, default=Fraction(0))
    per_units = next((many for many in (1, 100, 1000) if dearest * many >= _LEAST_MINOR), 1)
    return UnitCostChart(
        f"{costs.sku}, {costs.name}",
        costs.currency,
        per_units,
        costs.base_unit,
        tuple(CostPoint(one.day, one.unit_cost_minor * per_units) for one in costs.came_in),
        tuple(CostPoint(one.day, one.unit_cost_minor * per_units) for one in costs.went_out),
    )


def unit_cost_figure(chart: UnitCostChart) -> Figure:
    """Return the picture: a mark for each lot and each time something left, over their days."""
    scale = 10 ** exponent(chart.currency)

    def draw(figure: Figure) -> None:
        import matplotlib.dates as mdates  # noqa: PLC0415 - slow to import

        axes = figure.add_subplot()
        came, left = LOOKS[0], LOOKS[1]
        for points, look, words, is_lot in (
            (chart.came_in, came, "came in, landed", True),
            (chart.went_out, left, "what left the shelf cost (first in, first out)", False),
        ):
            if points:
                days = [mdates.date2num(datetime.date.fromisoformat(point.day)) for point in points]  # type: ignore[no-untyped-call]
                heights = [float(point.cost_minor) / scale for point in points]
                axes.plot(
                    days, heights, linestyle="none" if is_lot else look.line, linewidth=0.8, marker=look.mark,
                    color=look.ink, markersize=7.0 if is_lot else 4.5, fillstyle="full" if is_lot else "none",
                    label=words, clip_on=False, zorder=3 if is_lot else 2.5,
                )  # fmt: skip
        axes.xaxis.set_major_locator(mdates.AutoDateLocator(minticks=2, maxticks=5))  # type: ignore[no-untyped-call]
        axes.xaxis.set_major_formatter(mdates.DateFormatter("%Y-%m-%d"))  # type: ignore[no-untyped-call]
        axes.set_ylim(0, axes.get_ylim()[1] * 1.05)
        axes.margins(x=0.06)
        money_axis(axes.yaxis, chart.currency, chart.unit_words)
        axes.yaxis.set_major_formatter(lambda value, _: f"{value:,.2f}")
        grid(axes, "y")
        axes.set_title(chart.title)
        legend_below(figure, axes, 1)

    return drawn(draw, height_inches=2.8)
