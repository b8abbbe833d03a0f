"""Lines of shirts and jobs in March, and what their legs say, for tests of the plain engine's rules."""

from __future__ import annotations

from dataclasses import replace

from ledger.costing.facts import FactLine, Leg


def line(document: int, event: str, pieces: float, amount: int = 0, day: int = 0, **more: object) -> FactLine:
    """A line of shirts in March, on the day of its document's number unless another is given."""
    fact = FactLine(
        document, 1, event, f"2026-03-{day or document:02d}", "shirt", "goods", round(pieces * 1000), amount
    )
    return replace(fact, **more)  # type: ignore[arg-type]


def used(document: int, pieces: float, sku: str = "shirt", number: int = 2, **more: object) -> FactLine:
    """A component line of a job."""
    return line(document, "make", pieces, role="component", sku=sku, line=number, **more)


def made(document: int, pieces: float, sku: str = "print", **more: object) -> FactLine:
    """The product line of a job, which is its first line."""
    return line(document, "make", pieces, **{"role": "product", "sku": sku, **more})


def back(document: int, pieces: float, sale: int, **more: object) -> FactLine:
    """A line that takes back from line 1 of a sale."""
    return line(document, "take back", pieces, ref_document=sale, ref_line=1, **more)


def entries(legs: list[Leg], document: int, number: int | None = None) -> list[tuple[str, str, int, int]]:
    """Account, lot, thousandths and amount of each leg of a document, or of one of its lines."""
    found = [leg for leg in legs if leg.document == document and number in {None, leg.line}]
    return [
        (
            leg.account,
            f"{leg.lot_document}.{leg.lot_line}" if leg.lot_document else "",
            leg.quantity_milli,
            leg.amount,
        )
        for leg in found
    ]


def amounts(legs: list[Leg], account: str, document: int) -> list[int]:
    """The amounts of a document's legs in an account."""
    return [leg.amount for leg in legs if leg.account == account and leg.document == document]
