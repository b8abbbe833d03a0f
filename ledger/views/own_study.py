"""What a study from the book was made of: its own history, its stock, and what was assumed."""

from __future__ import annotations

from typing import Any

from ledger.exact.numbers import show_fraction
from ledger.exact.quantity import MILLI, show_quantity
from ledger.intake.book_study import ASSUMPTIONS
from ledger.sourcing.own_history import OwnHistory, SizeHistory, days_without_stock, size_shares
from ledger.views.decision_figures import ASSUMED
from ledger.views.prose import wrapped
from ledger.views.tables import Table, paragraphs

LATEST_MONTHS = 6
"""How many months are shown; the JSON has all."""


def own_study_text(history: OwnHistory) -> str:
    """Return what left the shelf by month and size, what is there, and what nobody stated."""
    return paragraphs([_history_text(history), _assumed_text()])


def _history_text(history: OwnHistory) -> str:
    head = (
        f"The book's own figures for {history.label}, up to {history.through}: used in jobs, sold, given as samples, "
        "own use; net of what customers brought back."
    )
    return f"{wrapped(head)}\n{history_table(history).text()}"


def history_table(history: OwnHistory) -> Table:
    """Return what left the shelf in the latest months by size, and what is there and coming."""
    shown = history.months[-LATEST_MONTHS:]
    table = Table(
        [
            "left the shelf",
            *(f">{month.month}" for month in shown),
            ">days without",
            ">share",
            ">there now",
            ">coming",
        ]
    )
    for size, share in zip(history.sizes, size_shares(history), strict=True):
        table.add(
            size.name or history.label,
            *(show_quantity(milli) for milli in size.left_milli[-len(shown) :]),
            str(sum(size.days_out)),
            f"{show_fraction(share * 100, 1)}%",
            _pieces(size.on_hand_milli),
            _pieces(size.coming_milli),
        )
    if len(history.sizes) > 1:
        places = range(len(history.months) - len(shown), len(history.months))
        table.total(
            "all",
            *(show_quantity(history.left_milli(place)) for place in places),
            "",
            "",
            _pieces(sum(size.on_hand_milli for size in history.sizes)),
            _pieces(sum(size.coming_milli for size in history.sizes)),
        )
    return table


def _pieces(milli: int) -> str:
    return f"{milli // MILLI:,}" if milli % MILLI == 0 else show_quantity(milli)


def _assumed_text() -> str:
    table = Table([ASSUMED, ">value", "meaning"])
    for each in ASSUMPTIONS:
        table.add(each.place, each.value.strip('"'), each.meaning)
    return table.text()


def own_study_as_data(history: OwnHistory) -> dict[str, Any]:
    """Return the same for scripts: what left by month and size, and the assumptions."""
    return {
        "history": {
            "label": history.label,
            "through": history.through,
            "months": [
                {
                    "month": month.month,
                    "left": show_quantity(history.left_milli(place)),
                    "days_without_stock": show_fraction(days, 1),
                }
                for place, (month, days) in enumerate(
                    zip(history.months, days_without_stock(history), strict=True)
                )
            ],
            "sizes": [
                _size_data(history, size, show_fraction(share, 4))
                for size, share in zip(history.sizes, size_shares(history), strict=True)
            ],
        },
        "assumed": [
            {"place": each.place, "value": each.value.strip('"'), "meaning": each.meaning}
            for each in ASSUMPTIONS
        ],
    }


def _size_data(history: OwnHistory, size: SizeHistory, share: str) -> dict[str, Any]:
    return {
        "size": size.name or history.label,
        "left": [show_quantity(milli) for milli in size.left_milli],
        "days_out": list(size.days_out),
        "share": share,
        "on_hand": show_quantity(size.on_hand_milli),
        "coming": show_quantity(size.coming_milli),
    }
