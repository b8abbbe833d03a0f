"""The shop a book belongs to, and the policies its owner recorded."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from typing import Any

from ledger.errors import BookDamaged

POLICIES: dict[str, tuple[tuple[str, ...], str]] = {
    "accounting": (("cash", "accrual"), "How your tax return counts income and expenses."),
    "inventory": (
        ("inventory", "supplies", "books"),
        "What your preparer chose: kept as inventory, as non-incidental supplies, or as your books treat it.",
    ),
    "freight": (
        ("39", "36"),
        "Where freight and duty on goods are reported: line 39 of Schedule C, or inside line 36.",
    ),
    "supplies": (
        ("outside", "inside"),
        "Whether supplies on hand stand outside lines 35 and 41 of Schedule C, or inside.",
    ),
    "samples": (("cost of goods", "elsewhere"), "Where samples given away are deducted."),
    "bank fees": (("landed", "expense"), "Whether bank fees on foreign bills are part of landed cost."),
    "counts": (
        ("yearly", "quarterly", "monthly"),
        "How often the shop counts its stock; a full count is due in the tax year's last month.",
    ),
    "reversals": (("no", "yes"), "Whether a write-down may be reversed when its reason is gone."),
}
"""Policy name to its allowed values and what it decides.

They are recorded as told: the program never makes an election, and no value is advice. While a
policy is not told, reports take the first value and say so.
"""

ABOUT_US_LINES = frozenset({"freight", "supplies", "samples"})
"""Policies about lines of a United States form: they decide nothing for a shop taxed elsewhere."""

UNITED_STATES = "US"


def policies_for(country: str) -> dict[str, tuple[tuple[str, ...], str]]:
    """Return the policies that decide something for a shop taxed in a country (ISO 3166), as POLICIES has them."""
    return {
        name: policy
        for name, policy in POLICIES.items()
        if country == UNITED_STATES or name not in ABOUT_US_LINES
    }


@dataclass(frozen=True, slots=True)
class Shop:
    """Whose book it is."""

    name: str
    currency: str
    country: str
    first_month: str
    tax_year_starts: str
    closed_through: str

    @property
    def first_day(self) -> str:
        """The first day the book can hold anything for, ISO 8601."""
        return f"{self.first_month}-01"


def read_shop(connection: sqlite3.Connection) -> Shop:
    """Return the shop of the connected book."""
    row = connection.execute(
        "SELECT name, currency, country, first_month, tax_year_starts, closed_through "
        "FROM shop, boundary WHERE shop.id = 1 AND boundary.id = 1"
    ).fetchone()
    if row is None:
        raise BookDamaged("the book does not say whose it is. Restore the latest backup.")
    return Shop(*row)


def read_policies(connection: sqlite3.Connection) -> dict[str, str]:
    """Return the policies in force: the latest recorded value of each."""
    rows = connection.execute("SELECT name, value FROM policy ORDER BY id").fetchall()
    return dict(rows)


def record_policy(connection: sqlite3.Connection, name: str, value: str, now: str) -> None:
    """Record a policy's value as told, inside the caller's transaction; the latest is in force."""
    connection.execute("INSERT INTO policy (name, value, recorded_at) VALUES (?, ?, ?)", (name, value, now))


def write_shop(
    connection: sqlite3.Connection, shop: dict[str, Any], policies: dict[str, str], now: str
) -> None:
    """Record whose book it is and its policies, inside the caller's transaction."""
    connection.execute(
        "INSERT INTO shop (id, name, currency, country, first_month, tax_year_starts, started_at) "
        "VALUES (1, :name, :currency, :country, :first_month, :tax_year_starts, :started_at)",
        {**shop, "started_at": now},
    )
    connection.executemany(
        "INSERT INTO policy (name, value, recorded_at) VALUES (?, ?, ?)",
        [(name, value, now) for name, value in policies.items()],
    )
