"""The comparison as a picture: the way from price to landed cost, and landed cost by quantity."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.exact.currencies import exponent
from ledger.sourcing.comparison import Contender, Step, waterfall
from ledger.views.pictures import (
    CLEAR,
    GREY,
    LOOKS,
    SMALL_POINTS,
    Look,
    drawn,
    grid,
    legend_below,
    number_axis,
    save,
    stretched_axis,
)
from ledger.views.price_report import PriceReport, per, unit_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_OFFERS = len(LOOKS)
"""How many offers a picture shows, the cheapest first: more would not be told apart."""

_ROOM = 1.5
"""How far the axis of the steps goes beyond the highest bar, for the upright figures and the names."""
_NAMES_AT = 1.48
_LEAST_SHARE = 0.6
"""What share of the widest offer's place each offer has at least, for its name."""


def write_price_picture(report: PriceReport, path: Path) -> None:
    """Write the picture of a comparison as PNG or SVG, by the ending of the file's name.

    Raises UsageError where the file is there already or cannot be written.
    """
    save(price_figure(report), path)


def price_figure(report: PriceReport) -> Figure:
    """Return the figure: one panel of steps, and one of curves where there are any."""
    offers = report.comparison.offers[:MOST_OFFERS]
    goods = report.comparison.market.goods.label

    def draw(figure: Figure) -> None:
        above, below = figure.subplots(2, 1)
        _draw_steps(above, report, offers)
        _draw_curves(below, report, offers)
        below.set_title("Landed cost by quantity")
        below.legend(fontsize=8)
        title = f"{goods}: landed cost {per(report.unit)}, {report.currency}"
        figure.suptitle("\n".join(filter(None, (title, left_out_words(report)))), fontsize=12)

    return drawn(draw, height_inches=8.5, width_inches=9)


def left_out_words(report: PriceReport) -> str:
    """Return how many of the offers a picture shows; '' where it shows all of them.

    >>> from types import SimpleNamespace as Some
    >>> left_out_words(Some(comparison=Some(offers=range(6))))
    'the first 4 of 6 offers'
    """
    offers = len(report.comparison.offers)
    return f"the first {MOST_OFFERS} of {offers} offers" if offers > MOST_OFFERS else ""


def _draw_steps(axes: Axes, report: PriceReport, offers: Sequence[Contender]) -> None:
    """Draw each offer as bars that stand on one another, from the price to the landed cost."""
    ways = [
        (each, waterfall(each.quote, each.estimate))
        for each in offers
        if each.quote is not None and each.estimate is not None
    ]
    scale = 10 ** exponent(report.currency)
    highest = max((_top(steps) / scale for _, steps in ways), default=1.0)
    # Room for each offer's name above its bars, and for the figures that stand upright on them.
    least_room = max((len(steps) + 2 for _, steps in ways), default=1) * _LEAST_SHARE
    place = 0.0
    ticks: list[float] = []
    labels: list[str] = []
    for number, (each, steps) in enumerate(ways):
        shift = max(0.0, least_room - len(steps) - 2) / 2
        start = place + shift
        named = _draw_way(axes, report, start, steps, LOOKS[number])
        ticks += [start + offset for offset in range(len(named))]
        labels += named
        middle = start + (len(named) - 1) / 2
        axes.text(
            middle, highest * _NAMES_AT, _two_lines(each.name), ha="center", va="top", fontsize=8, gid="name"
        )
        place = start + len(named) + 1 + shift
    axes.set_xticks(ticks, labels, rotation=55, ha="right", rotation_mode="anchor", fontsize=7)
    axes.set_ylim(0, highest * _ROOM)
    axes.set_ylabel(f"{report.currency} {per(report.unit)}")
    axes.set_title("From price to landed cost")


def _top(steps: Sequence[Step]) -> float:
    """Return the highest point that bars standing on one another reach."""
    return max(accumulate(float(step.amount_minor) for step in steps), default=0.0)


def _draw_way(axes: Axes, report: PriceReport, start: float, steps: Sequence[Step], look: Look) -> list[str]:
    """Draw the bars of one offer from a place on, with their figures upright above; return their names."""
    scale = 10 ** exponent(report.currency)
    reached = 0.0
    for offset, step in enumerate(steps):
        amount = float(step.amount_minor) / scale
        is_price = offset == 0
        axes.bar(start + offset, amount, bottom=reached, color=look.ink if is_price else GREY, width=0.8)
        sign = "" if is_price or amount < 0 else "+"
        text = sign + unit_text(step.amount_minor, report)
        _figure_above(axes, start + offset, max(reached, reached + amount), text, is_bold=False)
        reached += amount
    last = start + len(steps)
    axes.bar(last, reached, facecolor="white", edgecolor=look.ink, hatch="///", width=0.8)
    landed = sum((step.amount_minor for step in steps), Fraction(0))
    _figure_above(axes, last, reached, unit_text(landed, report), is_bold=True)
    return [*(step.name for step in steps), "landed"]


def _figure_above(axes: Axes, place: float, height: float, text: str, *, is_bold: bool) -> None:
    axes.annotate(
        text,
        (place, height),
        xytext=(0, 2),
        textcoords="offset points",
        ha="center",
        va="bottom",
        rotation=90,
        fontsize=6.5,
        weight="bold" if is_bold else "normal",
        gid="figure",
    )


def _two_lines(name: str) -> str:
    """Return an offer's name with its supplier on a line of its own."""
    return name.replace(", ", "\n", 1)


def draw_curves(figure: Figure, report: PriceReport, offers: Sequence[Contender]) -> None:
    """Draw the curves by themselves, for a page."""
    axes = figure.add_subplot()
    _draw_curves(axes, report, offers)
    legend_below(figure, axes, 1)


def _draw_curves(axes: Axes, report: PriceReport, offers: Sequence[Contender]) -> None:
    """Draw landed unit cost against quantity in base units; both sides of each cliff are points."""
    scale = 10 ** exponent(report.currency)
    costs: list[float] = []
    for look, each in zip(LOOKS, offers, strict=False):
        if each.quote is None:
            continue
        points = report.curves.get(each.name, ())
        quantities = [float(point.quantity * each.quote.unit_factor) for point in points]
        heights = [float(point.unit_cost_minor) / scale for point in points]
        costs += heights
        axes.plot(
            quantities,
            heights,
            color=look.ink,
            marker=look.mark,
            linestyle=look.line,
            markersize=3.5,
            label=each.name,
        )
        bought = float(each.unit_cost_minor) / scale
        costs.append(bought)
        axes.plot(
            [float(each.quantity)],
            [bought],
            color=look.ink,
            marker=look.mark,
            markersize=9,
            markerfacecolor="white",
            markeredgewidth=1.6,
            linestyle="none",
            zorder=3,
            gid="bought",
        )
    wanted = float(report.comparison.wanted)
    axes.axvline(wanted, color=GREY, linestyle=":", linewidth=1)
    axes.set_xscale("log")
    if costs:
        # The first few pieces cost the whole freight each; what matters lies below.
        landed = sorted(costs)
        axes.set_ylim(landed[0] * 0.85, min(landed[-1], landed[0] * 3) * 1.08)
    unit = "" if report.unit == "each" else f", {report.unit}"
    stretched_axis(
        axes.xaxis, f"quantity{unit}; dotted: {wanted:,.0f} as compared\nlarge marks: what would be bought"
    )
    axes.set_ylabel(f"{report.currency} {per(report.unit)} (not from zero)")
    grid(axes, "y")


def draw_way_down(
    figure: Figure, report: PriceReport, steps: Sequence[Step], look: Look, highest_minor: float
) -> None:
    """Draw one offer's steps below each other, for a page; all offers of it on the same axis.

    ``highest_minor`` is the dearest landed cost that is drawn on any of them.
    """
    axes = figure.add_subplot()
    scale = 10 ** exponent(report.currency)
    reached, highest = 0.0, max(highest_minor / scale, _top(steps) / scale)
    for place, step in enumerate(steps):
        amount = float(step.amount_minor) / scale
        axes.barh(place, amount, left=reached, color=look.ink if place == 0 else GREY, height=0.65)
        sign = "" if place == 0 or amount < 0 else "+"
        end = max(reached, reached + amount)
        _figure_beside(axes, end, place, sign + unit_text(step.amount_minor, report))
        reached += amount
    last = len(steps)
    axes.barh(last, reached, facecolor="white", edgecolor=look.ink, hatch="///", height=0.65)
    landed = sum((step.amount_minor for step in steps), Fraction(0))
    _figure_beside(axes, reached, last, unit_text(landed, report))
    axes.set_yticks(range(last + 1), [*(step.name for step in steps), "landed"])
    axes.set_ylim(last + 0.6, -0.6)
    axes.set_xlim(0, highest * 1.25 or 1)
    axes.tick_params(axis="y", length=0)
    number_axis(axes.xaxis, f"{report.currency} {per(report.unit)}")
    grid(axes, "x")


def _figure_beside(axes: Axes, end: float, place: int, text: str) -> None:
    axes.annotate(
        text, (end, place), xytext=(4, 0), textcoords="offset points", va="center", fontsize=SMALL_POINTS,
        bbox=CLEAR,
    )  # fmt: skip
