"""Reading what a cell holds by the file's habits: numbers, dates, yes and no.

Each function returns an exact value or raises ValueProblem naming the value and the way out; the
caller, who knows the cell, adds the place.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from ledger.errors import ValueProblem
from ledger.exact.currencies import EXPONENTS
from ledger.exact.numbers import MAX_TEXT
from ledger.intake.table import Cell

DateOrder = Literal["day month year", "month day year", "year month day"]
DATE_ORDERS: tuple[DateOrder, ...] = ("day month year", "month day year", "year month day")

FIRST_DATE = dt.date(2000, 1, 1)
LAST_DATE = dt.date(2100, 12, 31)

MAX_NUMBER = 10**15
MAX_DECIMALS = 20

_CENTURIES = {2: "20"}

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH_NAMES = (
    *("january", "february", "march", "april", "may", "june", "july"),
    *("august", "september", "october", "november", "december"),
)
_TIME_OF_DAY = re.compile(
    r"(?:t| +)\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?( *[ap]m)?(z| *[+-]\d{2}:?\d{2})?\Z", re.ASCII
)
_DATE_PARTS = re.compile(r"(\d{1,4}|[a-z]+)([-/. ]+|, *)(\d{1,2}|[a-z]+)([-/. ]+|, *)(\d{1,4})\Z", re.ASCII)
_WEEKDAY = re.compile(
    r"\A(?:mon|tues?|wed(?:nes)?|thu(?:rs?)?|fri|sat(?:ur)?|sun)(?:day)?[.,]? +(?=\S)", re.ASCII
)
_ORDINAL = re.compile(r"\b(\d{1,2})(?:st|nd|rd|th)\b", re.ASCII)
_OF = re.compile(r"(?<=\d) of (?=[a-z])")
_BASIC_DATE = re.compile(r"20\d{6}\Z", re.ASCII)
_DIGIT = re.compile(r"\d")
_MARKER = re.compile(r"[^\d\s.,'()+-]+")
_COUNTRY_SIGNS = ("", "US", "CA", "AU", "NZ", "HK", "CN")
"""What may stand before a currency sign to tell whose it is: US$, CN¥."""

_BLANKS = " \N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}"


def read_text(cell: Cell) -> str:
    """Return the cell's trimmed text, an empty string for an empty cell.

    Raises ValueProblem where an error such as #N/A stands in the cell.
    """
    if cell.is_error:
        raise ValueProblem(
            f"the error {cell.text} stands there instead of a value: mend the formula or type it."
        )
    return cell.text


def read_number(cell: Cell, *, decimal_comma: bool = False) -> Fraction:
    """Return the cell's exact number.

    Arguments:
        cell: a number, or text as people write numbers: with a currency sign or code, thousands
            separators (the other of comma and point, a blank, an apostrophe), a minus before or
            behind, or parentheses for negative.
        decimal_comma: whether the file writes 4,10 for four and a tenth.

    >>> read_number(Cell("$1,234.50", "")), read_number(Cell("(1.234,50)", ""), decimal_comma=True)
    (Fraction(2469, 2), Fraction(-2469, 2))

    Raises ValueProblem where there is none, where it could be read in two ways, or where it is absurd.
    """
    text = read_text(cell)
    if isinstance(cell.value, Decimal):
        return _bounded(cell.value, text)
    if isinstance(cell.value, bool):
        raise ValueProblem(f"'{text}' stands where a number should: type the number.")
    if isinstance(cell.value, dt.date):
        raise ValueProblem(
            f"the date {text} stands where a number should: set the cell's format to number and check it."
        )
    if not text:
        raise ValueProblem("the cell is empty: a number is needed.")
    if len(text) > MAX_TEXT:
        raise ValueProblem(f"'{text[:MAX_TEXT]}…' is too long for a number.")
    if not _DIGIT.search(text):
        raise ValueProblem(f"'{text}' cannot be read for certain as a number: write it in digits.")
    plain = text.replace("\N{MINUS SIGN}", "-").replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
    negative, digits = _sign(_without_currency(plain))
    value = _bounded(Decimal(_ungrouped(digits, text, decimal_comma=decimal_comma)), text)
    return -value if negative else value


def read_date(cell: Cell, order: DateOrder) -> dt.date:
    """Return the cell's date; a time of day is dropped.

    Arguments:
        cell: a date cell, or text. ISO 8601 (2026-01-31) and any other text that begins with a
            four-digit year are read year first, whatever the order. English month names are known.
        order: how the file writes its dates. Two-digit years are of this century.

    >>> read_date(Cell("31.1.26", ""), "day month year")
    datetime.date(2026, 1, 31)

    Raises ValueProblem where there is no date, or one before 2000 or after 2100.
    """
    text = read_text(cell)
    if isinstance(cell.value, dt.date):
        return _plausible(cell.value, text)
    if not text:
        raise ValueProblem("the cell is empty: a date is needed.")
    lowered = _plain_date(_TIME_OF_DAY.sub("", text.lower()))
    if _BASIC_DATE.match(lowered):
        return _plausible(_date(lowered[:4], lowered[4:6], lowered[6:], text, order), text)
    parts = _DATE_PARTS.match(lowered)
    if isinstance(cell.value, Decimal | bool) or parts is None:
        raise ValueProblem(
            f"'{text}' is not a date: write it like 2026-01-31, or set the cell's format to date."
        )
    return _plausible(_ordered(parts.group(1), parts.group(3), parts.group(5), text, order), text)


def _without_currency(text: str) -> str:
    """Return the text without currency signs (any of Unicode's) and ISO 4217 codes before or behind."""
    for marker in _MARKER.findall(text)[:2]:
        letters = "".join(
            character for character in marker if unicodedata.category(character) != "Sc"
        ).upper()
        signs = len(marker) - len(letters)
        if letters not in EXPONENTS and not (signs == 1 and letters in _COUNTRY_SIGNS):
            return text
        before, after = text.split(marker, 1)
        if _DIGIT.search(before) and _DIGIT.search(after):
            return text  # between digits, as in 4$10, it is left in place and refused with the rest
        text = f"{before}{after}".strip()
    return text


def _sign(text: str) -> tuple[bool, str]:
    """Return whether the number is negative, and its digits without the one sign it may have."""
    if text.startswith("(") and text.endswith(")"):
        return True, text[1:-1].strip()
    if text.endswith("-"):
        return True, text[:-1].strip()
    if text.startswith(("-", "+")):
        return text[0] == "-", text[1:].strip()
    return False, text


def _ungrouped(digits: str, shown: str, *, decimal_comma: bool) -> str:
    """Return plain digits with a decimal point, or raise ValueProblem where the grouping is not regular."""
    point, other = (",", r"\.") if decimal_comma else (r"\.", ",")
    # One kind of separator throughout, groups of three, no leading zero: 0,125 is no hundred and
    # twenty-five, and 1,5 in a file with decimal points is somebody's decimal comma.
    grouped = rf"[1-9]\d{{0,2}}(?P<separator>{other}|[{_BLANKS}'])\d{{3}}(?:(?P=separator)\d{{3}})*"
    match = re.fullmatch(rf"(?P<whole>{grouped}|\d*)(?:{point}(?P<rest>\d*))?", digits, re.ASCII)
    if match is None or not (match["whole"] or match["rest"]):
        habit = "a decimal comma" if decimal_comma else "a decimal point"
        raise ValueProblem(
            f"'{shown}' cannot be read for certain as a number with {habit}: "
            "write plain digits, or say which decimal sign the file uses."
        )
    whole = re.sub(r"\D", "", match["whole"])
    return f"{whole or '0'}.{match['rest'] or '0'}"


def _bounded(value: Decimal, shown: str) -> Fraction:
    exponent = value.as_tuple().exponent
    if not isinstance(exponent, int) or exponent < -MAX_DECIMALS or abs(value) > MAX_NUMBER:
        raise ValueProblem(f"'{shown[:MAX_TEXT]}' is far too large or too fine: check for a misplaced point.")
    return exact(value)


@lru_cache(maxsize=4096)
def exact(value: Decimal) -> Fraction:
    """Return a decimal as a fraction: quantities and prices repeat through a long list, and it is slow to make."""
    return Fraction(value)


def _ordered(first: str, second: str, third: str, shown: str, order: DateOrder) -> dt.date:
    """Return the date of three parts, each digits or a month's name."""
    if first.isdigit() and len(first) > 2:  # noqa: PLR2004 - more than a day's two digits: a year
        return _date(first, second, third, shown, order)
    if second.isalpha() and order != "year month day":
        return _date(third, second, first, shown, order)
    if first.isalpha():
        return _date(third, first, second, shown, order)
    if order == "day month year":
        return _date(third, second, first, shown, order)
    if order == "month day year":
        return _date(third, first, second, shown, order)
    return _date(first, second, third, shown, order)


def _plain_date(text: str) -> str:
    """Return a date in words without its weekday, and 'the 21st of March' as '21 march'."""
    if not any(char.isalpha() for char in text):
        return text
    text = _WEEKDAY.sub("", text).removeprefix("the ")
    return _OF.sub(" ", _ORDINAL.sub(r"\1", text))


def _date(year: str, month: str, day: str, shown: str, order: DateOrder) -> dt.date:
    century = _CENTURIES.get(len(year), "")
    try:
        # A year of one or three digits is left too short, and refused by its range.
        return dt.date(int(century + year), _month(month), int(day))
    except ValueError:
        raise ValueProblem(
            f"'{shown}' is not a date read as {order}: write it like 2026-01-31, or say the file's order of dates."
        ) from None


def _month(text: str) -> int:
    if text.isdigit():
        return int(text)
    text = "sep" if text == "sept" else text
    return _MONTHS.index(text) + 1 if text in _MONTHS else _MONTH_NAMES.index(text) + 1


def _plausible(value: dt.date, shown: str) -> dt.date:
    if not FIRST_DATE <= value <= LAST_DATE:
        raise ValueProblem(f"'{shown}' lies outside {FIRST_DATE.year} to {LAST_DATE.year}: check the year.")
    return value
