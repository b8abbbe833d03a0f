"""What guards closed months, proved: the boundary is where the closes left it, and they keep their policies."""

from __future__ import annotations

import json
import sqlite3

from ledger.book.fingerprints import closes_in_force, month_events
from ledger.costing.invariants import Finding
from ledger.exact.months import last_day

CLOSED = 6
"""A closed month changes only through a logged reopening."""

NONE_CLOSED = "0000-00-00"


def month_findings(connection: sqlite3.Connection) -> list[Finding]:
    """Return where the boundary of closed months or the policies of a close are not what was recorded."""
    return [*_boundary_findings(connection), *_policy_findings(connection)]


def _boundary_findings(connection: sqlite3.Connection) -> list[Finding]:
    (kept,) = connection.execute("SELECT closed_through FROM boundary").fetchone()
    closed = closes_in_force(month_events(connection))
    wanted = last_day(max(closed)) if closed else NONE_CLOSED
    if kept == wanted:
        return []
    return [
        Finding(CLOSED, f"months are kept as closed through {kept}, the closes say {wanted}", "the months")
    ]


def _policy_findings(connection: sqlite3.Connection) -> list[Finding]:
    """Return the closes whose policies were not in force at their moment.

    Moments are kept to the second, so a policy recorded in the same one may or may not be in it.
    """
    recorded = connection.execute("SELECT name, value, recorded_at FROM policy ORDER BY id").fetchall()
    findings = []
    for month, moment, told in connection.execute(
        "SELECT m.month, d.recorded_at, m.policies FROM month_event AS m "
        "JOIN document AS d ON d.number = m.document WHERE m.action = 'close' ORDER BY m.document"
    ):
        kept = _read(told)
        for name in sorted({*kept, *(name for name, _, _ in recorded)}):
            if kept.get(name) not in _in_force(recorded, name, moment):
                value = kept.get(name, "not told")
                what = f"it was closed with the policy {name} as '{value}', which was not recorded then"
                findings.append(Finding(CLOSED, what, f"month {month}"))
    return findings


def _read(told: str) -> dict[str, object]:
    try:
        kept = json.loads(told)
    except ValueError:
        kept = {"that cannot be read": told}
    return kept if isinstance(kept, dict) else {"that cannot be read": told}


def _in_force(recorded: list[tuple[str, str, str]], name: str, moment: str) -> set[str | None]:
    """Return the values a policy can have had at a moment; None where it was not told."""
    before: str | None = None
    within: set[str | None] = set()
    for policy, value, recorded_at in recorded:
        if policy == name and recorded_at < moment:
            before = value
        elif policy == name and recorded_at == moment:
            within.add(value)
    return {before, *within}
