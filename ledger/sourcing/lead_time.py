"""How long goods take: production through a closure calendar, then the way; and the order-by date."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ledger.errors import ValueProblem
from ledger.sourcing.chance import lognormal_quantiles, sample_quantiles
from ledger.sourcing.closures import Calendar, Closures

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Numbers = NDArray[np.int64]

LONGEST_DAYS = 3 * 365


@dataclass(frozen=True)
class LeadTimes:
    """What is believed about the time from order to shelf.

    Attributes:
        mean_days: of the part that is counted in plain days; above 0 unless there are working days.
        sd_days: its standard deviation; 0 is certain. The distribution is lognormal: delay is one-sided.
        samples: days that past orders took, used instead where there are any.
        working_days: days of work at the factory before that, stopped by weekends and closures.
        closures: without working days, the closed days simply come on top of the plain ones.
        start: the date orders are thought to be placed on first.
    """

    mean_days: float
    sd_days: float = 0.0
    samples: tuple[float, ...] = ()
    working_days: int = 0
    closures: Closures = field(default_factory=Closures)
    start: datetime.date = datetime.date(2026, 1, 1)

    def __post_init__(self) -> None:
        every = (*self.samples, self.mean_days, self.sd_days, self.working_days)
        if min(every) < 0:
            raise ValueProblem("a lead time must not be negative.")
        if max(every) > LONGEST_DAYS:
            raise ValueProblem(f"a lead time of more than {LONGEST_DAYS} days is taken for a typing mistake.")

    @property
    def is_certain(self) -> bool:
        """Whether every order takes the same number of days of each part."""
        return len(set(self.samples)) <= 1 if self.samples else self.sd_days == 0

    def plain_days(self, chances: Floats) -> Floats:
        """Return the part in plain days at chances between 0 and 1, before any closure."""
        if self.samples:
            return sample_quantiles(self.samples, chances)
        return lognormal_quantiles(self.mean_days, self.sd_days, chances)

    def days(self, chances: Floats, begin: Floats | None = None) -> Floats:
        """Return the days from order to shelf for orders placed ``begin`` days after the start (0)."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed where lead times are drawn)

        plain = self.plain_days(chances)
        if self.closures.are_none and not self.working_days:
            return plain
        begun = np.zeros(len(plain)) if begin is None else begin
        first = np.floor(begun).astype(np.int64)
        calendar = self._calendar(int(first.max(initial=0)), float(plain.max(initial=0.0)))
        if self.working_days:
            finished = calendar.finish(first, np.full(len(plain), self.working_days, dtype=np.int64))
            found: Floats = finished + plain - begun
            return found
        whole = np.ceil(plain).astype(np.int64)
        # Closed days are added to a time that need not be a whole number of days.
        late: Floats = calendar.finish(first, whole) - first - whole + plain
        return late

    def _calendar(self, last_begin: int, longest: float) -> Calendar:
        # Working days are 5 of 7 at most; two more years hold any closure of a supplier still in business.
        days = last_begin + int(longest) + 2 * self.working_days + 2 * 365
        return Calendar(self.closures, self.start, days, weekends=self.working_days > 0)

    def mean_total(self) -> float:
        """Return the mean days from an order placed at the start to the shelf."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed where lead times are drawn)

        chances = (np.arange(200) + 0.5) / 200
        if self.is_certain:
            return float(self.days(chances[:1])[0])
        return float(self.days(chances).sum()) / len(chances)

    def sd_total(self) -> float:
        """Return the standard deviation of those days; 0 where they are certain."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed where lead times are drawn)

        return 0.0 if self.is_certain else _spread(self.days((np.arange(2000) + 0.5) / 2000))


def _spread(values: Floats) -> float:
    mean = float(values.sum()) / len(values)
    return float((float(((values - mean) ** 2).sum()) / len(values)) ** 0.5)


def arrivals_in_order(placed: Floats, days: Floats) -> Floats:
    """Return when orders arrive, none before an earlier one: orders do not overtake each other.

    Both have one row for each future and one column for each order in the order they are placed.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed where lead times are drawn)

    found: Floats = np.maximum.accumulate(placed + days, axis=1)
    return found


def order_by(lead: LeadTimes, need: datetime.date, chance: float) -> datetime.date | None:
    """Return the latest date to order on so that goods are there by ``need`` with that chance.

    None where even an order at the start would be late. Every date is tried, for closures make the
    chance rise and fall.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed where lead times are drawn)

    latest = (need - lead.start).days
    if latest < 0:
        return None
    at = np.array([chance])
    begins = np.arange(latest + 1, dtype=float)
    # The chance is of the way alone, so the quantile of the whole is the quantile of the way pushed through.
    found = lead.days(np.repeat(at, len(begins)), begins) + begins
    in_time = np.nonzero(found <= latest + 1e-9)[0]
    return None if not len(in_time) else lead.start + datetime.timedelta(days=int(in_time[-1]))
