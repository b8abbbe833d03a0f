"""Whether the kept decisions are what was kept, and still say what can be decided again."""

from __future__ import annotations

import sqlite3
import tomllib

from ledger.book.decision_store import MONEY_COLUMNS, KeptDecision, sealed_decisions
from ledger.costing.invariants import Finding

FACTS = 6
"""Kept decisions are facts: they never change."""


def decision_findings(connection: sqlite3.Connection) -> list[Finding]:
    """Return what is wrong with the kept decisions.

    Each must be what its fingerprint says, its study must be TOML with a demand and offers, its figures whole
    numbers, and what it buys of each size must add up to what it buys.
    """
    findings = []
    for sealed in sealed_decisions(connection):
        where = f"decision {sealed.kept.number}"
        if sealed.is_changed:
            findings.append(Finding(FACTS, "it is not what was kept", where))
        findings += [Finding(FACTS, what, where) for what in _faults(sealed.kept)]
    return findings


def _faults(kept: KeptDecision) -> list[str]:
    faults = []
    try:
        study = tomllib.loads(kept.study)
    except tomllib.TOMLDecodeError:
        faults.append("its study can no longer be read")
    else:
        if not isinstance(study.get("demand"), dict) or not isinstance(study.get("offer", []), list):
            faults.append("its study has lost its demand or its offers")
    for name in MONEY_COLUMNS:
        value = getattr(kept, name)
        if value is not None and not isinstance(value, int):
            faults.append(f"its {name.replace('_', ' ')} is no whole number: {value}")
    of_sizes = sum(each.quantity for each in kept.sizes)
    if kept.sizes and of_sizes != kept.quantity:
        faults.append(f"its sizes add up to {of_sizes}, it buys {kept.quantity}")
    return faults
