"""Numbers in a study file: exact, with their bounds, each problem noted at its key."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from ledger.errors import ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.numbers import read_decimal
from ledger.intake.nearest import quoted
from ledger.intake.toml_tables import Table

MOST = Fraction(10**9)
"""No price, quantity or rate of a study is larger: a misplaced decimal point is caught here."""


def number(
    table: Table,
    key: str,
    default: Fraction,
    *,
    least: Fraction | None = None,
    most: Fraction = MOST,
    example: str = "12.50",
) -> Fraction:
    """Return a number written with or without quotes, exactly; the default where it is absent or wrong.

    ``example`` is how such a number looks, for the message about one that is none.
    """
    value = table.raw(key, None)
    if value is None:
        return default
    read = as_number(table, key, value, example)
    if read is None:
        return default
    if least is not None and read < least:
        table.note(key, f"{quoted(str(value))} is below {_plain(least)}, the least there can be.", "Mend it.")
        return default
    if read > most:
        table.note(
            key,
            f"{quoted(str(value))} is above {_plain(most)}, the most there can be.",
            "Is the decimal point right?",
        )
        return default
    return read


def as_number(table: Table, key: str, value: Any, example: str = "12.50") -> Fraction | None:
    """Return a TOML value as an exact number, None with a note where it is none."""
    if isinstance(value, int | str | Decimal) and not isinstance(value, bool):
        try:
            return read_decimal(value)
        except ValueProblem:
            pass
    how = "digits with a decimal point" if "." in example else "digits"
    table.note(key, f"{quoted(str(value))} is not a number.", f"Write {how}, like {example}.")
    return None


def _plain(value: Fraction) -> str:
    return f"{int(value):,}" if value.denominator == 1 else f"{float(value):.6g}"


def fraction_of_one(table: Table, key: str, default: Fraction = Fraction(0)) -> Fraction:
    """Return a fraction from 0 to 1; a percentage is told how it is written here."""
    value = number(table, key, default, least=Fraction(0), example="0.15")
    if value > 1:
        table.note(
            key,
            f"{quoted(str(table.raw(key, '')))} is more than 1.",
            f"It is a fraction: 16.5% is 0.165; is {float(value / 100):g} meant?",
        )
        return default
    return value


def money(table: Table, key: str, currency: str, default: Fraction = Fraction(0)) -> Fraction:
    """Return an amount from 0 on in minor units of a currency, exactly: a price may be finer than a cent."""
    return number(table, key, default / _unit(currency), least=Fraction(0)) * _unit(currency)


def optional_money(table: Table, key: str, currency: str) -> Fraction | None:
    """Return an amount in minor units, None where it is absent or an empty text; it may be negative."""
    value = table.raw(key, None)
    if value is None or value == "":
        return None
    read = as_number(table, key, value)
    return None if read is None else read * _unit(currency)


def _unit(currency: str) -> int:
    return int(10 ** exponent(currency))


def whole(table: Table, key: str, default: int, *, least: int = 0, most: int = 10**7) -> int:
    """Return a whole number within bounds."""
    value = number(table, key, Fraction(default), least=Fraction(least), most=Fraction(most), example="12")
    if value.denominator != 1:
        table.note(
            key,
            f"{quoted(str(table.raw(key, '')))} is not a whole number.",
            "Write it without a decimal point, like 12.",
        )
        return default
    return int(value)


def day(table: Table, key: str) -> datetime.date | None:
    """Return a date, with or without quotes, None where it is absent."""
    value = table.raw(key, None)
    if value is None or value == "":
        return None
    if isinstance(value, datetime.datetime):
        return value.date()
    if isinstance(value, datetime.date):
        return value
    try:
        return datetime.date.fromisoformat(str(value))
    except ValueError:
        table.note(key, f"{quoted(str(value))} is no date.", "Write it like 2026-11-24.")
        return None


def numbers(table: Table, key: str) -> tuple[Fraction, ...]:
    """Return a list of numbers from 0 on."""
    value = table.raw(key, [])
    if not isinstance(value, list):
        table.note(key, f"{quoted(str(value))} is no list.", "Write it like [52, 61, 48].")
        return ()
    read = [as_number(table, key, each) for each in value]
    if any(each is not None and each < 0 for each in read):
        table.note(key, "no number in it may be negative.")
        return ()
    return tuple(each for each in read if each is not None)


def named_numbers(table: Table, key: str) -> dict[str, Fraction]:
    """Return a table of numbers from 0 on by name, in the order of the file."""
    content = table.table(key)
    return {name: number(content, name, Fraction(0), least=Fraction(0)) for name in content.keys()}  # noqa: SIM118


def rows(table: Table, key: str) -> tuple[Mapping[str, Any], ...]:
    """Return a list of tables."""
    value = table.raw(key, [])
    if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
        table.note(
            key, f"{quoted(str(value))} is no list of tables.", 'Write it like [{from = 1, price = "4.10"}].'
        )
        return ()
    return tuple(value)
