"""How many days offers take and who says so, as every screen and page of a comparison tells it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ledger.exact.words import listed
from ledger.sourcing.expected_days import CLOSED_ON_TOP

NOBODY = "nobody says"


@dataclass(frozen=True)
class DaysTold:
    """How long an offer takes from order to shelf.

    Attributes:
        name: the offer's.
        days: how many, closed days in them; empty where nobody says.
        words: who says so; empty where nobody does.
        has_closures: whether closed days came on top of what is stated.
    """

    name: str
    days: str
    words: str
    has_closures: bool = False

    @property
    def source(self) -> str:
        """Who says so, and whether closed days came on top."""
        return f"{self.words or NOBODY}{f', {CLOSED_ON_TOP}' if self.has_closures and self.words else ''}"


def days_data(days: float) -> str | None:
    """Return days as scripts take them, to a tenth; None where nobody says any.

    >>> days_data(54.96), days_data(0)
    ('55', None)
    """
    return f"{days:.1f}".removesuffix(".0") if days else None


def days_text(told: Iterable[DaysTold]) -> str:
    """Return in a sentence how long each offer takes and who says so, offers of one source together.

    >>> days_text([DaysTold("Mill", "4", "as the offer states"), DaysTold("Far Mill", "51", "from 4 orders of your own")])
    'Days from order to shelf: 4 for Mill, as the offer states; 51 for Far Mill, from 4 orders of your own.'
    """
    by_source: dict[str, list[str]] = {}
    for each in told:
        days = f"{each.days} for {each.name}" if each.words else f"{NOBODY} for {each.name}"
        by_source.setdefault(each.source if each.words else "", []).append(days)
    said = "; ".join(", ".join(filter(None, (listed(days), source))) for source, days in by_source.items())
    return f"Days from order to shelf: {said}." if said else ""
