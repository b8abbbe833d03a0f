"""Reading and showing plain decimal numbers as exact fractions."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

from ledger.errors import ValueProblem
from ledger.exact.rounding import round_fraction
from ledger.exact.words import with_article

MAX_TEXT = 40
"""A number typed by a person is never longer; longer text is refused before it is parsed."""

_PLAIN = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)\Z", re.ASCII)


def read_decimal(text: str | int | Decimal, *, what: str = "number") -> Fraction:
    """Return the exact value of a plain decimal number.

    Accepts a sign, digits and one decimal point: no exponent, no thousands separators, no
    currency signs (the intake room takes those off, knowing the file's habits).

    >>> read_decimal("182.40")
    Fraction(912, 5)

    Raises ValueProblem naming the text where it is not such a number.
    """
    if isinstance(text, int) and not isinstance(text, bool):
        return Fraction(text)
    if isinstance(text, Decimal):
        if not text.is_finite():
            raise ValueProblem(f"'{text}' is not {with_article(what)}.")
        return Fraction(text)
    stripped = str(text).strip()
    if len(stripped) > MAX_TEXT or not _PLAIN.match(stripped):
        shown = stripped if len(stripped) <= MAX_TEXT else stripped[:MAX_TEXT] + "…"
        raise ValueProblem(
            f"'{shown}' is not {with_article(what)}: write digits with a decimal point, like 12.50."
        )
    return Fraction(Decimal(stripped))


def show_scaled(value: int, places: int) -> str:
    """Return a whole number of ``10**-places`` as decimal text with exactly those places.

    >>> show_scaled(-1205, 2), show_scaled(7, 0), show_scaled(5, 3)
    ('-12.05', '7', '0.005')
    """
    sign = "-" if value < 0 else ""
    if places == 0:
        return f"{sign}{abs(value)}"
    whole, rest = divmod(abs(value), 10**places)
    return f"{sign}{whole}.{rest:0{places}d}"


def show_fraction(value: Fraction, places: int = 6) -> str:
    """Return an exact number as decimal text without trailing zeros, rounded to at most ``places``.

    >>> show_fraction(Fraction(5, 2)), show_fraction(Fraction(2)), show_fraction(Fraction(2, 3), 2)
    ('2.5', '2', '0.67')
    """
    text = show_scaled(round_fraction(value * 10**places), places)
    return text.rstrip("0").rstrip(".") if places else text
