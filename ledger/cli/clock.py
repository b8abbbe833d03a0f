"""The only clock: today's date and the moment a document is recorded.

Tests and child processes inject a date through BLANKBOOK_TODAY; nothing else reads the clock.
"""

from __future__ import annotations

import datetime
import os

from ledger.errors import UsageError

VARIABLE = "BLANKBOOK_TODAY"


def today() -> datetime.date:
    """Return today's local date, or the date in BLANKBOOK_TODAY."""
    told = os.environ.get(VARIABLE)
    if not told:
        return datetime.datetime.now().astimezone().date()
    try:
        return datetime.date.fromisoformat(told)
    except ValueError as error:
        raise UsageError(f"{VARIABLE} is '{told}', not a date like 2026-03-31.") from error


def now() -> str:
    """Return the present moment in UTC as ISO 8601 text with seconds; noon of an injected date."""
    if os.environ.get(VARIABLE):
        return f"{today().isoformat()}T12:00:00Z"
    return datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
