"""How the pictures of a buying decision are drawn from their data, in the look of all pictures."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.sourcing.alternatives import BASE, BULK, DOMESTIC
from ledger.sourcing.chart_data import (
    CostLine,
    SavingChart,
    SavingSpread,
    TornadoChart,
    VolumeChart,
)
from ledger.sourcing.chart_paths import Band, CashChart, StockChart
from ledger.views.pictures import (
    CLEAR,
    FONT_POINTS,
    GREY,
    LOOKS,
    PALE,
    SMALL_POINTS,
    Look,
    grid,
    legend_below,
    money_axis,
    number_axis,
    stretched_axis,
    upright_line,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure, SubFigure

_DEARER = 1.9
"""How far above the dearest order of the tables the axis of landed cost goes."""

_LEFT_FOR_WORDS = 0.25
"""From this part of the axis on there is room for words at the left of a line."""

_END_ROOM = 0.02
"""So much of an axis is left free at its ends, for the marks that stand there."""

_LABEL_ROOM, _LABEL_PART = 0.32, 0.9
"""How much room stands beside a bar, as a part of the reach of all bars, and how much of it a label takes."""

_LABEL_LETTERS = 14
"""So many letters of an assumption stand on one line."""


@dataclass(frozen=True)
class Scale:
    """The currency, how many minor units one of it has, and what quantities are counted in."""

    currency: str
    minor_units: int
    units: str

    def major(self, values_minor: Sequence[float]) -> list[float]:
        """Return amounts in the currency."""
        return [value / self.minor_units for value in values_minor]


@dataclass(frozen=True)
class Chosen:
    """The order that a decision recommends, by its offer and quantity."""

    offer: str
    quantity: int


def look_of(name: str) -> Look:
    """Return how an alternative looks in every picture."""
    names = (DOMESTIC, BULK, BASE)
    return LOOKS[names.index(name)] if name in names else LOOKS[-1]


def draw_cost(
    figure: Figure | SubFigure,
    lines: Sequence[CostLine],
    scale: Scale,
    of_one: str,
    chosen: Chosen | None = None,
) -> None:
    """Draw landed cost against quantity; both sides of each break are points of the line, the chosen order is named."""
    axes = figure.add_subplot()
    highest, most = 0.0, 1
    for look, line in zip(LOOKS, lines, strict=False):
        heights = scale.major([each.unit_minor for each in line.points])
        costs = dict(zip((each.quantity for each in line.points), heights, strict=True))
        axes.plot(
            list(costs), list(costs.values()), color=look.ink, linestyle=look.line, linewidth=1.4,
            marker=look.mark, markersize=3, label=line.offer,
            markevery=[place for place, each in enumerate(line.points) if each.what],
        )  # fmt: skip
        ordered = [costs[quantity] for quantity in line.ordered]
        axes.plot(
            line.ordered, ordered, color=look.ink, linestyle="none", marker=look.mark, markersize=7.5,
            markerfacecolor="white", markeredgewidth=1.4, zorder=3,
        )  # fmt: skip
        highest = max([highest, *ordered])
        if chosen is not None and chosen.offer == line.offer and chosen.quantity in costs:
            axes.annotate(
                f"chosen: {chosen.quantity:,}", (chosen.quantity, costs[chosen.quantity]), xytext=(0, -9),
                textcoords="offset points", ha="center", va="top", fontsize=SMALL_POINTS, bbox=CLEAR,
            )  # fmt: skip
        most = max(most, *costs)
    least = min(quantity for line in lines for quantity in line.ordered)
    axes.set_xscale("log")
    axes.set_xlim(max(1, least / 8), most * 1.08)
    axes.set_ylim(0, highest * _DEARER)
    stretched_axis(axes.xaxis, f"{scale.units} in one order (the scale shortens to the right)")
    money_axis(axes.yaxis, scale.currency, of_one)
    grid(axes, "y")
    legend_below(figure, axes, 1)


def draw_volume(figure: Figure | SubFigure, chart: VolumeChart, scale: Scale, months: int) -> None:
    """Draw total cost against monthly volume, with the break-even."""
    axes = figure.add_subplot()
    for line in chart.lines:
        look = look_of(line.name)
        label = f"{line.name}, {line.quantity:,}" if line.quantity else "domestic: all at home"
        axes.plot(
            chart.per_month, scale.major(line.totals_minor), color=look.ink, linestyle=look.line,
            marker=look.mark, markersize=3.5, linewidth=1.5, label=label,
        )  # fmt: skip
    axes.set_xlim(-_END_ROOM * chart.per_month[-1], (1 + _END_ROOM) * chart.per_month[-1])
    axes.set_ylim(bottom=0)
    if chart.break_even is not None:
        held = next((line.quantity for line in chart.lines if line.name == chart.of), 0)
        words = f"break-even of {held:,}:\n{chart.break_even:,.1f}"
        # To the left of the line there is room above the costs, unless the line stands at the very left.
        is_left = chart.break_even > _LEFT_FOR_WORDS * chart.per_month[-1]
        upright_line(axes, chart.break_even, words, is_strong=True, is_left=is_left)
    upright_line(axes, chart.counted_per_month, "", is_dotted=True)
    axes.annotate(
        f"counted with\n{chart.counted_per_month:,.1f}", (chart.counted_per_month, 0.02),
        xycoords=("data", "axes fraction"), xytext=(3, 0), textcoords="offset points", fontsize=SMALL_POINTS,
        va="bottom", bbox=CLEAR,
    )  # fmt: skip
    number_axis(axes.xaxis, f"{scale.units} asked for a month")
    money_axis(axes.yaxis, scale.currency, f"in {months} months")
    grid(axes, "y")
    legend_below(figure, axes, 2)


def draw_saving(figure: Figure | SubFigure, chart: SavingChart, scale: Scale) -> None:
    """Draw how the saving of each alternative spreads, one above the other on the same axis."""
    panels = figure.subplots(len(chart.spreads), 1, sharex=True, squeeze=False)[:, 0]
    tallest = max(max(spread.counts) for spread in chart.spreads)
    for axes, spread in zip(panels, chart.spreads, strict=True):
        _draw_spread(axes, chart, spread, scale)
        axes.set_ylim(0, tallest * 1.3)
        number_axis(axes.yaxis, "futures")
        grid(axes, "y")
    money_axis(panels[-1].xaxis, scale.currency, "saved against buying everything at home")
    legend_below(figure, panels[-1], 2)


def _draw_spread(axes: Axes, chart: SavingChart, spread: SavingSpread, scale: Scale) -> None:
    look, edges = look_of(spread.name), scale.major(chart.edges_minor)
    for left, right, count in zip(edges, edges[1:], spread.counts, strict=False):
        loses = right <= 0
        axes.bar(
            left, count, right - left, align="edge", edgecolor=look.ink if loses else "white", linewidth=0.8,
            facecolor="white" if loses else look.ink, hatch="////" if loses else "",
        )  # fmt: skip
    axes.set_title(f"{spread.name}, {spread.quantity:,}", fontsize=FONT_POINTS)
    axes.axvline(0, color="0.1", linewidth=1.2)
    marks = [("the mean", spread.mean_minor, "v"), ("mean of the worst tenth", spread.worst_tenth_minor, "X")]
    for label, value, mark in marks:
        axes.plot(
            [value / scale.minor_units], [0.93], mark, transform=axes.get_xaxis_transform(), color="0.1",
            markersize=7, markerfacecolor="white" if mark == "X" else "0.1", label=label, linestyle="none",
        )  # fmt: skip
    if chart.limit_minor is not None:
        axes.axvline(
            chart.limit_minor / scale.minor_units,
            color=GREY,
            linestyle=(0, (5, 3)),
            label="your limit for it",
        )


def _draw_band(axes: Axes, band: Band, values: Sequence[Sequence[float]], look: Look) -> None:
    low, middle, high = values
    weeks = range(len(band.low))
    axes.fill_between(weeks, low, high, color=PALE, linewidth=0, label="eight of ten futures")
    axes.plot(weeks, low, color=look.ink, linewidth=0.6)
    axes.plot(weeks, high, color=look.ink, linewidth=0.6)
    axes.plot(weeks, middle, color=look.ink, linewidth=1.8, label="half above, half below")
    axes.set_xlim(0, len(band.low) - 1)
    number_axis(axes.xaxis, "weeks from now")


def draw_cash(figure: Figure | SubFigure, chart: CashChart, scale: Scale) -> None:
    """Draw what the order has saved so far less what was paid for it."""
    axes = figure.add_subplot()
    band = chart.band
    _draw_band(
        axes, band, [scale.major(each) for each in (band.low, band.middle, band.high)], look_of(chart.name)
    )
    axes.axhline(0, color="0.1", linewidth=1)
    deepest = chart.deepest_minor / scale.minor_units
    axes.axhline(deepest, color=GREY, linestyle=":", linewidth=1.2, label="deepest in any future")
    if chart.limit_minor is not None:
        axes.axhline(
            -chart.limit_minor / scale.minor_units,
            color="0.1",
            linestyle=(0, (5, 3)),
            linewidth=1,
            label="your limit",
        )
    money_axis(axes.yaxis, scale.currency, "ahead or behind")
    grid(axes, "y")
    legend_below(figure, axes, 2)


def draw_stock(figure: Figure | SubFigure, chart: StockChart, scale: Scale) -> None:
    """Draw the stock of one size with when the goods may come."""
    axes = figure.add_subplot()
    band, arrival = chart.band, chart.arrival
    _draw_band(axes, band, (band.low, band.middle, band.high), look_of(chart.name))
    highest = max(*band.high, 1.0)
    axes.set_ylim(0, highest * 1.18)
    # The arrival stands above all stock, where the band does not hide it.
    place = highest * 1.1
    axes.plot(
        (arrival.low, arrival.high), (place, place), color="0.1", linewidth=1.2, marker="|", markersize=9,
        label="arrives, eight of ten",
    )  # fmt: skip
    axes.plot(
        (arrival.middle,),
        (place,),
        color="0.1",
        marker="D",
        markersize=5,
        linestyle="none",
        label="arrives, in half of them by then",
    )
    number_axis(axes.yaxis, f"{scale.units}{f' of {chart.size}' if chart.size else ''} on the shelf")
    grid(axes, "y")
    legend_below(figure, axes, 2)


def draw_tornado(
    figure: Figure | SubFigure, chart: TornadoChart, scale: Scale, labels: Sequence[tuple[str, str]]
) -> None:
    """Draw what each assumption alone does to the saving; ``labels`` are its low and its high value."""
    axes = figure.add_subplot()
    expected = chart.expected_minor / scale.minor_units
    ends = [
        value / scale.minor_units for swing in chart.swings for value in (swing.saving_low, swing.saving_high)
    ]
    room = _LABEL_ROOM * (max(ends) - min(ends) or 1.0)
    for place, (swing, words) in enumerate(zip(chart.swings, labels, strict=True)):
        low, high = (value / scale.minor_units for value in (swing.saving_low, swing.saving_high))
        for value, text, is_high in ((low, words[0], False), (high, words[1], True)):
            _draw_side(axes, place, expected, value, is_high=is_high, is_first=place == 0)
            other = high if not is_high else low
            to_right = value > other or (value == other and is_high)
            axes.annotate(
                text, (_beside_zero(value, room, to_right=to_right), place), xytext=(4 if to_right else -4, 0), textcoords="offset points",
                ha="left" if to_right else "right", va="center", fontsize=SMALL_POINTS, bbox=CLEAR,
            )  # fmt: skip
    axes.set_yticks(
        range(len(chart.swings)),
        ["\n".join(textwrap.wrap(swing.assumption, _LABEL_LETTERS)) for swing in chart.swings],
    )
    axes.set_ylim(len(chart.swings) - 0.4, -0.6)
    # Where a label stands beyond the line at 0 there is room for it, too.
    begins = [_beside_zero(value, room, to_right=side) for value in ends for side in (False, True)]
    axes.set_xlim(min(*ends, *begins, expected) - room, max(*ends, *begins, expected) + room)
    axes.tick_params(axis="y", length=0)
    axes.axvline(expected, color="0.1", linewidth=0.8)
    if axes.get_xlim()[0] < 0 < axes.get_xlim()[1]:
        axes.axvline(0, color="0.1", linewidth=1.8)
    money_axis(axes.xaxis, scale.currency, "saved against buying everything at home")
    grid(axes, "x")
    legend_below(figure, axes, 2)


def _beside_zero(value: float, room: float, *, to_right: bool) -> float:
    """Return where a bar's label begins: at the bar's end, or beyond the line at 0 that would cut through it."""
    reach = _LABEL_PART * room
    is_cut = -reach < value < 0 if to_right else 0 < value < reach
    return 0.0 if is_cut else value


def _draw_side(
    axes: Axes, place: int, expected: float, value: float, *, is_high: bool, is_first: bool
) -> None:
    look = LOOKS[0] if is_high else LOOKS[1]
    label = ("at its high value" if is_high else "at its low value") if is_first else None
    axes.barh(
        place, value - expected, height=0.55, left=expected, facecolor=look.ink if is_high else "white",
        edgecolor=look.ink, hatch="" if is_high else "////", linewidth=0.8, label=label,
    )  # fmt: skip
