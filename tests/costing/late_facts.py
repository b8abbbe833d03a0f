"""Short ways to write facts of goods under way, late charges and reversals, and to read their legs."""

from __future__ import annotations

from dataclasses import replace

from ledger.costing.facts import FactLine, Facts, Leg, ShareFact, UndoFact
from ledger.costing.plain import plain_legs


def line(document: int, event: str, pieces: float, amount: int = 0, on: str = "", **more: object) -> FactLine:
    """Line 1 of a document, of shirts, on the day of its number in March unless another is given."""
    effect_date = f"2026-{on}" if on else f"2026-03-{document:02d}"
    fact = FactLine(document, 1, event, effect_date, "shirt", "goods", round(pieces * 1000), amount)
    return replace(fact, **more)  # type: ignore[arg-type]


def job(document: int, used: float, pieces: float, sku: str = "print", on: str = "", **more: object) -> tuple:
    """A job that uses shirts (or ``of``) in line 2 and makes something in line 1."""
    of = str(more.pop("of", "shirt"))
    return (
        line(document, "make", used, on=on, sku=of, line=2, role="component"),
        line(document, "make", pieces, on=on, sku=sku, **{"role": "product", **more}),
    )


def arrival(document: int, pieces: float, shipped: int = 1, on: str = "", **more: object) -> FactLine:
    """A line by which some of line 1 of a shipment arrives."""
    return line(document, "receipt", pieces, on=on, **{"ref_document": shipped, "ref_line": 1, **more})


def share(document: int, amount: int, receipt: int = 1, path: str = "late", on: str = "04-04") -> ShareFact:
    """The only share of a charge, on line 1 of a receipt or shipment; late, in April, unless told otherwise."""
    return ShareFact(document, 1, 1, receipt, 1, amount, path, f"2026-{on}")


def reversal(document: int, *originals: FactLine, on: str = "04-20") -> Facts:
    """The lines that reverse all the lines of a document, with the undo."""
    lines = tuple(
        FactLine(
            document,
            original.line,
            "reversal",
            f"2026-{on}",
            original.sku,
            original.tax_class,
            original.quantity_milli,
            role=original.role,
            ref_document=original.document,
            ref_line=original.line,
        )
        for original in originals
    )
    return Facts(lines, undos=(UndoFact(document, originals[0].document, "reversal"),))


def facts(*parts: FactLine | ShareFact | UndoFact | Facts) -> Facts:
    """All of it together as the facts of a book."""
    lines = tuple(part for part in parts if isinstance(part, FactLine))
    shares = tuple(part for part in parts if isinstance(part, ShareFact))
    undos = tuple(part for part in parts if isinstance(part, UndoFact))
    for part in parts:
        if isinstance(part, Facts):
            lines, shares, undos = lines + part.lines, shares + part.shares, undos + part.undos
    return Facts(lines, shares, undos)


def legs_of(*parts: FactLine | ShareFact | UndoFact | Facts) -> list[Leg]:
    """The plain engine's legs of all of it."""
    return plain_legs(facts(*parts))


def told(legs: list[Leg], document: int, number: int | None = None) -> list[tuple[int, str, str, int, int]]:
    """Part, account, lot, thousandths and amount of each leg of a document, or of one of its lines."""
    return [
        (
            leg.part,
            leg.account,
            f"{leg.lot_document}.{leg.lot_line}" if leg.lot_document else "",
            leg.quantity_milli,
            leg.amount,
        )
        for leg in legs
        if leg.document == document and number in {None, leg.line}
    ]


def late(legs: list[Leg], document: int) -> list[tuple[int, str, str, int]]:
    """Of a document with one late share: the part less a million, account, lot and amount of each leg."""
    return [
        (part - 1_000_000, account, lot, amount) for part, account, lot, _, amount in told(legs, document)
    ]


def on_hand(legs: list[Leg], sku: str = "shirt", account: str = "on hand") -> tuple[int, int]:
    """Thousandths and amount of an item on hand, or in another account."""
    found = [leg for leg in legs if leg.account == account and leg.sku == sku]
    return sum(leg.quantity_milli for leg in found), sum(leg.amount for leg in found)
