"""What is believed about demand: its rate, how sure that is, its sizes, its ups and downs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from ledger.errors import ValueProblem

WEEKS_PER_YEAR = 52.0
MONTHS_PER_YEAR = 12
WEEKS_PER_MONTH = WEEKS_PER_YEAR / MONTHS_PER_YEAR
DAYS_PER_WEEK = 7
DAYS_PER_MONTH = 365 / 12

PRIOR_SHAPE = 0.5
"""What is believed of a rate before any sale: next to nothing (the Jeffreys prior of a Poisson rate)."""

STATED_MONTHS = 1.0
"""A rate that is only stated counts as much as one month of sales would; our own rule."""

STATED_SHARE_PIECES = 60.0
"""Size shares that are only stated count as much as sixty pieces sold would; our own rule."""


@dataclass(frozen=True)
class GammaRate:
    """A rate believed to be gamma distributed: mean shape / rate, variance shape / rate²."""

    shape: float
    rate: float

    @property
    def mean(self) -> float:
        """The expected rate."""
        return self.shape / self.rate

    def after(self, counts: Sequence[float], exposures: Sequence[float] | None = None) -> GammaRate:
        """Return the belief after counts were seen, each over its exposure (1 each if left out).

        >>> GammaRate(10, 2).after([6, 2, 2, 1])
        GammaRate(shape=21, rate=6)

        Source: the gamma distribution is conjugate to Poisson counts (Bayes Rules!, chapter 5).
        """
        seen = [1] * len(counts) if exposures is None else exposures
        return GammaRate(self.shape + sum(counts), self.rate + sum(seen))


@dataclass(frozen=True)
class SizeDemand:
    """A size or colour: its share of demand, the yearly hazard of going out of use, stock on hand.

    ``colour`` is the colour it is of, where offers have a minimum for each; else empty.
    """

    name: str
    share: float
    obsolescence_per_year: float = 0.0
    on_hand: int = 0
    colour: str = ""


@dataclass(frozen=True)
class Demand:
    """What is believed about demand, per week.

    Attributes:
        rate: the weekly rate; its shape is infinite where the rate is known.
        weekly_variation: squared coefficient of variation of a week's own ups and downs, beyond Poisson.
        weekly_sd: where set, weeks vary by this standard deviation instead (less than Poisson; 0 is
            certain).
        sizes: at least one; their shares add up to 1.
        share_strength: how many pieces the shares are known from; infinite where they are certain.
        source: in words, where all this comes from.
        left_per_month: what really left the shelf in a month of the history, days without stock included;
            None where there is no history.
        days_out_per_month: how many a month are counted beyond those, because days without stock do not count.
    """

    rate: GammaRate
    weekly_variation: float = 0.0
    weekly_sd: float | None = None
    sizes: tuple[SizeDemand, ...] = (SizeDemand("", 1.0),)
    share_strength: float = math.inf
    source: str = ""
    known_mean: float | None = field(default=None)
    left_per_month: float | None = None
    days_out_per_month: float = 0.0

    @property
    def per_month(self) -> float:
        """Expected demand of a month."""
        return self.per_week * WEEKS_PER_MONTH

    @property
    def per_week(self) -> float:
        """Expected demand of a week."""
        return self.known_mean if self.known_mean is not None else self.rate.mean

    @property
    def per_year(self) -> float:
        """Expected demand of a year."""
        return self.per_week * WEEKS_PER_YEAR

    @property
    def is_rate_known(self) -> bool:
        """Whether the rate itself is taken as known."""
        return self.known_mean is not None

    @property
    def is_certain(self) -> bool:
        """Whether nothing about demand is uncertain."""
        return self.weekly_sd == 0

    @property
    def week_sd(self) -> float:
        """The standard deviation of a week's demand around a known rate."""
        if self.weekly_sd is not None:
            return self.weekly_sd
        mean = self.per_week
        return math.sqrt(mean + mean**2 * self.weekly_variation)

    def scaled(self, factor: float) -> Demand:
        """Return the belief with the mean multiplied and its relative spread unchanged."""
        return replace(
            self,
            rate=GammaRate(self.rate.shape, self.rate.rate / factor),
            known_mean=None if self.known_mean is None else self.known_mean * factor,
            weekly_sd=None if self.weekly_sd is None else self.weekly_sd * factor,
        )

    def known(self, per_week: float) -> Demand:
        """Return the belief with the rate known to be that many a week."""
        if self.weekly_sd is not None and self.per_week:
            return replace(
                self, known_mean=per_week, weekly_sd=self.weekly_sd * math.sqrt(per_week / self.per_week)
            )
        return replace(self, known_mean=per_week)


def stated_demand(per_month: float, sd_per_month: float | None = None) -> Demand:
    """Return demand of a stated mean per month.

    Without a standard deviation: Poisson with a rate as uncertain as after one month of such sales.
    With one: the rate is known and months vary by so much; 0 is certain.
    """
    if per_month < 0 or (sd_per_month is not None and sd_per_month < 0):
        raise ValueProblem("demand and its standard deviation must not be negative.")
    per_week = per_month / WEEKS_PER_MONTH
    if sd_per_month is None:
        shape = max(per_month * STATED_MONTHS, PRIOR_SHAPE)
        rate = GammaRate(shape, shape / per_week if per_week else math.inf)
        return Demand(rate, source="stated, as sure as one month of such sales")
    known = GammaRate(math.inf, math.inf)
    if sd_per_month**2 <= per_month:
        week_sd = sd_per_month / math.sqrt(WEEKS_PER_MONTH)
        how = "certain" if sd_per_month == 0 else "stated with its standard deviation"
        return Demand(known, weekly_sd=week_sd, known_mean=per_week, source=how)
    variation = (sd_per_month**2 - per_month) * WEEKS_PER_MONTH / per_month**2
    return Demand(
        known,
        weekly_variation=variation,
        known_mean=per_week,
        source="stated with its standard deviation",
    )


def demand_from_history(
    pieces: Sequence[float],
    days_out_of_stock: Sequence[float] = (),
    months_each: float = 1.0,
    *,
    days_outside: Sequence[float] = (),
) -> Demand:
    """Return demand as the shop's own sales tell it, one figure for each month.

    Days out of stock are not days without demand: they shorten what was observed. Months that vary
    more than Poisson counts do widen both the weeks and the doubt about the rate. ``days_outside`` says how
    many of those days lie before the history begins or after it ends: nothing could leave on them.

    Raises ValueProblem where nothing was ever sold, or the shop was out of stock all the time.
    Source: Gamma-Poisson with a Jeffreys prior; the extra variation by the method of moments.
    """
    out = [*days_out_of_stock, *[0.0] * (len(pieces) - len(days_out_of_stock))]
    exposures = [
        max(0.0, 1 - days / (DAYS_PER_MONTH * months_each)) * months_each for days in out[: len(pieces)]
    ]
    seen = [(count, exposure) for count, exposure in zip(pieces, exposures, strict=True) if exposure > 0]
    if not seen:
        raise ValueProblem(
            "the history holds no day on which there was stock to sell: state the demand "
            "(low, likely and high)."
        )
    total = sum(count for count, _ in seen)
    if total == 0:
        raise ValueProblem(
            "nothing was sold in the whole history, so it does not say what would sell: state the demand "
            "(low, likely and high)."
        )
    months = sum(exposure for _, exposure in seen)
    variation = _variation(seen, total / months)
    left = _left_per_month(pieces, days_outside, months_each)
    belief = GammaRate(PRIOR_SHAPE, 0.0).after([total], [months])
    # Months that scatter say less about the rate than as many Poisson months would.
    doubt = 1 + belief.mean * variation
    rate = GammaRate(belief.shape / doubt, belief.rate * WEEKS_PER_MONTH / doubt)
    return Demand(
        rate,
        weekly_variation=variation * WEEKS_PER_MONTH,
        share_strength=max(total, 1.0),
        source=f"{total:g} left in {months:.3g} months with stock",
        left_per_month=left,
        days_out_per_month=total / months - left if sum(out) - sum(days_outside) > _HALF_A_DAY else 0.0,
    )


_HALF_A_DAY = 0.5


def _left_per_month(pieces: Sequence[float], days_outside: Sequence[float], months_each: float) -> float:
    """Return what left in a month of the history, whether there was stock or not."""
    outside = sum(days_outside) / DAYS_PER_MONTH
    return sum(pieces) / max(len(pieces) * months_each - outside, months_each / DAYS_PER_MONTH)


LEAST_MONTHS_FOR_VARIATION = 3


def _variation(seen: Sequence[tuple[float, float]], mean: float) -> float:
    """Return how much more than Poisson months vary: squared coefficient of variation, 0 for none."""
    if len(seen) < LEAST_MONTHS_FOR_VARIATION:
        return 0.0
    # The expectation of (x - m e)² is m e + m² e² v.
    squares = sum((count - mean * exposure) ** 2 for count, exposure in seen) * len(seen) / (len(seen) - 1)
    poisson = sum(mean * exposure for _, exposure in seen)
    weights = sum((mean * exposure) ** 2 for _, exposure in seen)
    return max(0.0, (squares - poisson) / weights)


def guessed_demand(low: float, likely: float, high: float) -> Demand:
    """Return demand a new shop guesses: low and high are meant as one chance in ten each, per month.

    >>> round(guessed_demand(30, 50, 80).per_year)
    636

    Source: the 30-40-30 weights for three-point estimates (Swanson), from memory; a gamma distribution
    of that mean and variance.
    """
    if not 0 <= low <= likely <= high:
        raise ValueProblem(
            f"low {low:g}, likely {likely:g} and high {high:g} must not be negative and must rise."
        )
    mean = 0.3 * low + 0.4 * likely + 0.3 * high
    variance = 0.3 * (low - mean) ** 2 + 0.4 * (likely - mean) ** 2 + 0.3 * (high - mean) ** 2
    if variance == 0:
        return replace(
            stated_demand(mean), rate=GammaRate(math.inf, math.inf), known_mean=mean / WEEKS_PER_MONTH
        )
    shape = mean**2 / variance
    return Demand(
        GammaRate(shape, shape / (mean / WEEKS_PER_MONTH)), source="low, likely and high as guessed"
    )


def with_sizes(
    demand: Demand,
    shares: Mapping[str, float],
    *,
    obsolescence_per_year: float = 0.0,
    obsolescence: Mapping[str, float] | None = None,
    on_hand: Mapping[str, int] | None = None,
    colours: Mapping[str, str] | None = None,
    counted_pieces: float | None = None,
) -> Demand:
    """Return demand split into sizes (or colours and sizes); shares are brought to a sum of 1.

    Without shares there is one size without a name. Shares are as uncertain as the pieces they are
    known from: ``counted_pieces``, else the shop's own sales, else sixty. ``colours`` says by size which colour it is of.
    """
    total = sum(shares.values())
    if shares and not total > 0:
        raise ValueProblem("the shares of the sizes are all 0.")
    hazards, stock, of_colour = obsolescence or {}, on_hand or {}, colours or {}
    named = {name: float(Fraction(str(share)) / Fraction(str(total))) for name, share in shares.items()}
    sizes = tuple(
        SizeDemand(
            name, share, hazards.get(name, obsolescence_per_year), stock.get(name, 0), of_colour.get(name, "")
        )
        for name, share in (named or {"": 1.0}).items()
    )
    strength = demand.share_strength if math.isfinite(demand.share_strength) else STATED_SHARE_PIECES
    if counted_pieces is not None:
        strength = counted_pieces
    is_sure = demand.is_certain or len(sizes) == 1
    return replace(demand, sizes=sizes, share_strength=math.inf if is_sure else strength)
