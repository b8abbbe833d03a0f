"""A small picture of lead times: one dot for each order, by supplier and stage."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.book.under_way import STAGES, Took
from ledger.sourcing.past_lead_times import summary
from ledger.views.pictures import FONT_POINTS, LOOKS, Look, drawn, grid, number_axis, save
from ledger.views.under_way import by_stage

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LOOKS = dict(zip(STAGES, LOOKS, strict=False))
_STEP = 0.16
"""How far dots of the same day stand apart, in rows."""


def write_picture(took: Sequence[Took], path: Path) -> None:
    """Write the picture as PNG or SVG, by the ending of the file's name.

    Args:
        took: at least one time taken.
        path: where it is written.

    Raises UsageError where the file is there already or cannot be written.
    """
    save(lead_times_figure(took), path)


def lead_times_figure(took: Sequence[Took]) -> Figure:
    """Return the figure of at least one time taken."""
    rows = by_stage(took)

    def draw(figure: Figure) -> None:
        axes = figure.add_subplot()
        places = range(len(rows))
        for place, ((_, stage), own) in zip(places, rows.items(), strict=True):
            _draw_row(axes, place, _LOOKS[stage], [one.days for one in own])
        axes.set_yticks(list(places), [f"{party or 'no supplier'}\n{stage}" for party, stage in rows])
        axes.set_ylim(len(rows) - 0.5, -0.5)
        axes.set_xlim(left=0)
        axes.margins(x=0.05)
        number_axis(axes.xaxis, "days")
        figure.suptitle("Each mark an order of the shop, the bar their mean", fontsize=FONT_POINTS)
        grid(axes, "x")

    return drawn(draw, height_inches=1.2 + 0.6 * len(rows))


def _draw_row(axes: Axes, place: int, look: Look, days: Sequence[int]) -> None:
    """Draw one supplier's stage; orders that took the same days stand beside each other."""
    seen = dict.fromkeys(days, 0)
    heights = []
    for day in days:
        side = -1 if seen[day] % 2 else 1
        heights.append(place + side * _STEP * ((seen[day] + 1) // 2))
        seen[day] += 1
    axes.plot(
        days,
        heights,
        look.mark,
        color=look.ink,
        alpha=0.8,
        markersize=6,
        linestyle="none",
        clip_on=False,
        zorder=3,
    )
    mean = summary(days).mean
    axes.plot([mean, mean], [place - 0.32, place + 0.32], color=look.ink, linewidth=2, alpha=0.6, zorder=2)
    axes.annotate(
        f"{mean:.1f}",
        (mean, place - 0.32),
        textcoords="offset points",
        xytext=(4, 0),
        fontsize=8,
        color=look.ink,
    )
