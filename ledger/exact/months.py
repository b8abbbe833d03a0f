"""Months written as 2026-03, and their days."""

from __future__ import annotations

import calendar


def months_between(first: str, last: str) -> list[str]:
    """Return the months from the first to the last, both in it, YYYY-MM.

    >>> months_between("2025-11", "2026-02")
    ['2025-11', '2025-12', '2026-01', '2026-02']
    """
    months, month = [], first
    while month <= last:
        months.append(month)
        year, number = int(month[:4]), int(month[5:])
        month = f"{year + number // 12:04d}-{number % 12 + 1:02d}"
    return months


def first_day(month: str) -> str:
    """Return the first day of a month, ISO 8601."""
    return f"{month}-01"


def last_day(month: str) -> str:
    """Return the last day of a month, ISO 8601.

    >>> last_day("2028-02")
    '2028-02-29'
    """
    return f"{month}-{calendar.monthrange(int(month[:4]), int(month[5:]))[1]:02d}"
