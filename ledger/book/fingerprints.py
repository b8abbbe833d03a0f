"""The fingerprint of a closed month: a SHA-256 over all it holds, chained to the close before.

The canonical form is UTF-8 text of one line per row, each a JSON array without blanks: a heading
line for every part, then its rows in the order of their keys. The parts, in this order: the month
and the previous fingerprint; the documents of the month (by effect date) with all their columns;
their lines; the charge shares that take effect in the month; the terms of its orders; the double
entry of the month; the totals of the month; the balances at its end; kind, tax class and unit of the
items that ever moved by then; the lots' open layers at its end. Texts stand as they are in the book, what is missing is null.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

_IN_MONTH = "effect_date BETWEEN :first AND :last"
_DOCUMENTS = f"SELECT number FROM document WHERE {_IN_MONTH} AND event NOT IN ('close', 'reopen')"  # noqa: S608

_PARTS: tuple[tuple[str, str], ...] = (
    ("documents", f"SELECT * FROM document WHERE number IN ({_DOCUMENTS}) ORDER BY number"),  # noqa: S608
    ("lines", f"SELECT * FROM document_line WHERE document IN ({_DOCUMENTS}) ORDER BY document, line"),  # noqa: S608
    (
        "shares",
        f"SELECT * FROM charge_share WHERE {_IN_MONTH} ORDER BY document, line, position",  # noqa: S608
    ),
    ("orders", f"SELECT * FROM order_terms WHERE document IN ({_DOCUMENTS}) ORDER BY document"),  # noqa: S608
    (
        "entries",
        f"""
        SELECT * FROM leg WHERE document IN ({_DOCUMENTS} UNION SELECT document FROM charge_share WHERE {_IN_MONTH})
        AND {_IN_MONTH} ORDER BY document, line, part
        """,  # noqa: S608
    ),
    ("late costs", f"SELECT * FROM late_cost WHERE {_IN_MONTH} ORDER BY 1, 2, 3, 4, 5"),  # noqa: S608
    ("totals", "SELECT * FROM month_total WHERE month = :month ORDER BY sku, account"),
    ("balances", "SELECT * FROM month_balance WHERE month = :month ORDER BY sku"),
    (
        "items",
        """
        SELECT sku, kind, tax_class, base_unit FROM item
        WHERE EXISTS (SELECT 1 FROM month_balance AS b WHERE b.sku = item.sku AND b.month <= :month) ORDER BY sku
        """,
    ),
    (
        "layers",
        """
        SELECT lot_document, lot_line, position, quantity, amount, used FROM closed_layer
        WHERE close_document = :close ORDER BY lot_document, lot_line, position
        """,
    ),
)


@dataclass(frozen=True, slots=True)
class MonthEvent:
    """A close or a reopening as the book holds it."""

    document: int
    action: str
    month: str
    fingerprint: str
    previous: str
    recorded_at: str = ""
    reason: str = ""


def month_events(connection: sqlite3.Connection) -> list[MonthEvent]:
    """Return all closes and reopenings in the order they were made."""
    rows = connection.execute(
        "SELECT m.document, m.action, m.month, m.fingerprint, m.previous_fingerprint, d.recorded_at, d.reason "
        "FROM month_event AS m JOIN document AS d ON d.number = m.document ORDER BY m.document"
    )
    return [MonthEvent(*row) for row in rows]


def closes_in_force(events: list[MonthEvent]) -> dict[str, MonthEvent]:
    """Return, per month, the close that no later reopening took back."""
    in_force: dict[str, MonthEvent] = {}
    for event in events:
        if event.action == "close":
            in_force[event.month] = event
        else:
            in_force = {month: close for month, close in in_force.items() if month < event.month}
    return in_force


def month_fingerprint(connection: sqlite3.Connection, month: str, close: int, previous: str) -> str:
    """Return the fingerprint of a month as its rows stand now, closed by document ``close``."""
    digest = hashlib.sha256()
    values = {"month": month, "first": f"{month}-01", "last": f"{month}-31", "close": close}
    _add(digest, ["month", month, previous])
    for name, query in _PARTS:
        _add(digest, [name])
        for row in connection.execute(query, values):
            _add(digest, row)
    return digest.hexdigest()


def reopening_fingerprint(month: str, why: str, previous: str) -> str:
    """Return the fingerprint of a reopening: it carries on the chain."""
    digest = hashlib.sha256()
    _add(digest, ["reopen", month, why, previous])
    return digest.hexdigest()


_ENCODE = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), check_circular=False).encode


def _add(digest: hashlib._Hash, row: Sequence[object]) -> None:
    digest.update(_ENCODE(row).encode() + b"\n")


def changed_months(connection: sqlite3.Connection, since: str = "") -> list[tuple[str, str]]:
    """Return the closed months whose rows no longer match their fingerprints, each with what is wrong.

    ``since`` leaves out the rows of the months before; the chain of all closes is always looked at.
    """
    events = month_events(connection)
    faults = []
    previous = ""
    for event in events:
        if event.previous != previous:
            faults.append((event.month, f"its {event.action} does not follow on the one before"))
        elif event.action == "reopen" and event.fingerprint != reopening_fingerprint(
            event.month, event.reason, event.previous
        ):
            faults.append((event.month, "its reopening was changed"))
        previous = event.fingerprint
    for month, close in sorted(closes_in_force(events).items()):
        if month < since:
            continue
        if month_fingerprint(connection, month, close.document, close.previous) != close.fingerprint:
            faults.append((month, "what it holds is not what was closed"))
    return faults
