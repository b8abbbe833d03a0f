"""Days on which a factory works: public holidays of a country, weekends, the supplier's own closures."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.errors import ValueProblem

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.int64]

_SATURDAY = 5
_RANGE = re.compile(r"(\d{4}-\d{2}-\d{2})\s*(?:\.\.|to|–|/)\s*(\d{4}-\d{2}-\d{2})\Z")


@dataclass(frozen=True)
class ClosedDays:
    """A closure from the first to the last day, both closed."""

    first: datetime.date
    last: datetime.date

    def holds(self, day: datetime.date) -> bool:
        """Return whether a day lies within."""
        return self.first <= day <= self.last


@dataclass(frozen=True)
class Closures:
    """A country's public holidays (its ISO 3166 code; empty for none) and closures of the supplier's own."""

    country: str = ""
    own: tuple[ClosedDays, ...] = ()

    @property
    def are_none(self) -> bool:
        """Whether nothing is ever closed."""
        return not self.country and not self.own


def read_closures(texts: Sequence[str]) -> Closures:
    """Return closures written as a country's code or as ranges like 2027-01-25..2027-02-22.

    >>> read_closures(["CN", "2027-01-25..2027-02-22"]).own[0].last
    datetime.date(2027, 2, 22)

    Raises ValueProblem naming the text that is neither, or a second country.
    """
    country, own = "", []
    for text in texts:
        found = _RANGE.match(text.strip())
        if found:
            own.append(_range(text, *found.groups()))
        elif country:
            raise ValueProblem(
                f"'{text}' is a second country: goods come from one. Write its closures as dates."
            )
        else:
            country = _country(text)
    return Closures(country, tuple(own))


def _range(text: str, first: str, last: str) -> ClosedDays:
    try:
        days = ClosedDays(datetime.date.fromisoformat(first), datetime.date.fromisoformat(last))
    except ValueError as error:
        raise ValueProblem(f"'{text}' is no range of dates, like 2027-01-25..2027-02-22.") from error
    if days.last < days.first:
        raise ValueProblem(f"'{text}' ends before it begins.")
    return days


def _country(text: str) -> str:
    import holidays  # noqa: PLC0415  (slow, and only needed where a country is named)

    code = text.strip().upper()
    if code not in holidays.list_supported_countries():
        raise ValueProblem(
            f"'{text}' is neither a country whose holidays are known (ISO 3166, like CN) nor a range of dates "
            "like 2027-01-25..2027-02-22."
        )
    return code


def last_published_year(country: str) -> int | None:
    """Return the last year whose shifted and make-up days are known; None where a country has none.

    Governments that move working days around a holiday say so for one year at a time.
    """
    import holidays  # noqa: PLC0415  (slow, and only needed where a country is named)

    if not country:
        return None
    years = getattr(holidays.country_holidays(country), "special_public_holidays", None)
    if not years:
        return None
    last = max(years)
    return last if holidays.country_holidays(country, years=last).weekend_workdays else None


class Calendar:
    """The days from ``start`` on, and on which of them the factory works; ``start`` is day 0.

    ``weekends`` says whether Saturdays and Sundays are days off: they are for a time given in working
    days, not for one in plain days. A country's make-up days are worked.
    """

    def __init__(self, closures: Closures, start: datetime.date, days: int, *, weekends: bool = True) -> None:
        import numpy as np  # noqa: PLC0415  (slow, and only needed where dates matter)

        self.start = start
        works = _works(closures, start, days, weekends=weekends)
        # worked[d] is how many working days there are from day 1 to day d.
        self._worked: Numbers = np.concatenate(([0], np.cumsum(works[1:], dtype=np.int64)))

    def finish(self, begin: Numbers, need: Numbers) -> Numbers:
        """Return the first day by which ``need`` working days have passed after the day ``begin``.

        Raises ValueProblem where the calendar does not reach so far.
        """
        import numpy as np  # noqa: PLC0415  (slow, and only needed where dates matter)

        wanted = self._worked[begin] + need
        if int(wanted.max(initial=0)) > int(self._worked[-1]):
            raise ValueProblem(
                "the closures leave too few working days for the lead time: check their dates."
            )
        found: Numbers = np.where(need > 0, np.searchsorted(self._worked, wanted, side="left"), begin)
        return found

    def is_open(self, day: datetime.date) -> bool:
        """Return whether the factory works on a day after the first."""
        place = (day - self.start).days
        return bool(self._worked[place] > self._worked[place - 1])


def _works(closures: Closures, start: datetime.date, days: int, *, weekends: bool) -> list[bool]:
    """Return for each day whether it is worked."""
    dates = [start + datetime.timedelta(days=number) for number in range(days + 1)]
    if closures.country:
        import holidays  # noqa: PLC0415  (slow, and only needed where a country is named)

        known = holidays.country_holidays(closures.country, years=range(start.year, dates[-1].year + 1))
        # is_working_day knows the make-up days, which membership does not.
        open_days = [known.is_working_day(day) if weekends else day not in known for day in dates]
    else:
        open_days = [not weekends or day.weekday() < _SATURDAY for day in dates]
    return [
        is_open and not any(each.holds(day) for each in closures.own)
        for day, is_open in zip(dates, open_days, strict=True)
    ]
