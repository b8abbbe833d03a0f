"""A small picture of lead times: one dot for each order, by supplier and stage."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ledger.book.under_way import STAGES, Took
from ledger.sourcing.past_lead_times import summary
from ledger.views.under_way import by_stage

_COLOURS = dict(zip(STAGES, ("#3b6ea5", "#b5651d"), strict=True))
_MARKS = dict(zip(STAGES, ("o", "s"), strict=True))
_STEP = 0.16
"""How far dots of the same day stand apart, in rows."""


def write_picture(took: Sequence[Took], path: Path) -> None:
    """Write the picture as a PNG file.

    Args:
        took: at least one time taken.
        path: where it is written; a file of that name is replaced.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg  # noqa: PLC0415  (slow, and only for pictures)
    from matplotlib.figure import Figure  # noqa: PLC0415

    rows = by_stage(took)
    figure = Figure(figsize=(7.5, 1.5 + 0.55 * len(rows)), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    places = range(len(rows))
    for place, ((_, stage), own) in zip(places, rows.items(), strict=True):
        _draw_row(axes, place, stage, [one.days for one in own])
    axes.set_yticks(list(places), [f"{party or 'no supplier'}\n{stage}" for party, stage in rows])
    axes.invert_yaxis()
    axes.set_ylim(len(rows) - 0.5, -0.5)
    axes.set_xlim(left=0)
    axes.margins(x=0.05)
    axes.set_xlabel("days")
    axes.set_title(
        "Lead times of the shop's own orders: each mark one order, the bar their mean", fontsize=10
    )
    axes.grid(axis="x", alpha=0.3)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    figure.savefig(path, dpi=130, format="png")


def _draw_row(axes: Any, place: int, stage: str, days: Sequence[int]) -> None:
    """Draw one supplier's stage; orders that took the same days stand beside each other."""
    colour, seen = _COLOURS[stage], dict.fromkeys(days, 0)
    heights = []
    for day in days:
        side = -1 if seen[day] % 2 else 1
        heights.append(place + side * _STEP * ((seen[day] + 1) // 2))
        seen[day] += 1
    axes.plot(
        days,
        heights,
        _MARKS[stage],
        color=colour,
        alpha=0.8,
        markersize=6,
        linestyle="none",
        clip_on=False,
        zorder=3,
    )
    mean = summary(days).mean
    axes.plot([mean, mean], [place - 0.32, place + 0.32], color=colour, linewidth=2, alpha=0.6, zorder=2)
    axes.annotate(
        f"{mean:.1f}",
        (mean, place - 0.32),
        textcoords="offset points",
        xytext=(4, 0),
        fontsize=8,
        color=colour,
    )
