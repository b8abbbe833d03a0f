"""What a check says it found wrong, and the words it says it in."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.costing.facts import ON_HAND, Leg

UNDER_WAY = "under way"

HELD_ACCOUNTS = (ON_HAND, UNDER_WAY)
"""The accounts that lots stand in: what is on the shelf, and what the carrier has of the shop's."""

PARTS_OF_A_SHARE = 1_000_000
"""The legs of the late share at position p of a charge line are numbered from p times this on."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found wrong: which invariant it breaks, what is wrong, and where."""

    invariant: int
    what: str
    where: str


@dataclass(slots=True)
class Sum:
    """A quantity and an amount being added up."""

    quantity_milli: int = 0
    amount: int = 0

    def add(self, quantity_milli: int, amount: int) -> None:
        """Add a quantity, in thousandths, and an amount, in minor units."""
        self.quantity_milli += quantity_milli
        self.amount += amount


def place(leg: Leg) -> str:
    """Return where a leg stands, in words."""
    return f"document {leg.document}, line {leg.line}, part {leg.part}"


def units(amount: int) -> str:
    """Return an amount in words; the legs do not know which currency the book is kept in."""
    return f"{amount} minor unit" if abs(amount) == 1 else f"{amount} minor units"
