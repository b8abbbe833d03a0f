"""What a month's costs have that is worth a second look: lots and jobs far from the usual, sales below cost.

An item's own lots say what is usual for it once there are three that agree. Else the other items of its
style do, and where it has no such kin, the nearest of its kind that is counted in the same unit.
"""

from __future__ import annotations

import sqlite3
import statistics
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from ledger.exact.money import grouped_money, unit_cost

ABSURD_FACTOR = 5
"""How many times the usual cost, or which part of it, is asked about: our own rule."""

LATEST_LOTS = 50
"""How many lots of an item say what it usually costs."""

LEAST_LOTS = 3
"""From how many lots on an item's, or a design's, own median is its usual cost: our own rule."""

LEAST_KIN = 2
"""How many other items of the style there must be before they say what is usual: our own rule."""

LATEST_OF_DESIGN = 200
"""How many lots of a design say what its jobs usually cost."""

LOOK = "Look for a pack taken for a piece, or a misplaced decimal point; undo and enter it anew where it is wrong."

_NOT_UNDONE = "NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)"


@dataclass(frozen=True, slots=True)
class CostPoint:
    """Something to look at: in words, the document, and the command that shows where it comes from."""

    what: str
    where: str
    command: str


@dataclass(frozen=True, slots=True)
class CheckedDays:
    """The days that are looked at, both in it, ISO 8601, and the book's currency."""

    first_day: str
    last_day: str
    currency: str

    def money(self, amount: int) -> str:
        """Return an amount in minor units with its currency."""
        return f"{grouped_money(amount, self.currency)} {self.currency}"

    def each(self, cost: Fraction) -> str:
        """Return a cost of one unit, told in minor units per thousandth, with its currency."""
        return f"{unit_cost(cost.numerator, cost.denominator, self.currency)} {self.currency}"


@dataclass(frozen=True, slots=True)
class _NewLot:
    """A lot that came in or was made, with what its item is. Thousandths and minor units."""

    sku: str
    kind: str
    base_unit: str
    style: str
    document: int
    line: int
    event: str
    on: str
    received: int
    cost: int

    @property
    def each(self) -> Fraction:
        """What a thousandth of a unit cost."""
        return Fraction(self.cost, self.received)

    @property
    def where(self) -> str:
        """The lot in words."""
        return f"lot {self.document}.{self.line}, {self.event} of {self.on}"

    @property
    def design(self) -> str:
        """What a finished item shows: its style, which is the code of its bill."""
        return self.style or self.sku


_NEW_LOTS = f"""
SELECT t.sku, i.kind, i.base_unit, i.style, t.document, t.line, d.event, d.effect_date, t.quantity_received,
    t.invoice_cost + t.charges
FROM document AS d JOIN lot AS t ON t.document = d.number JOIN item AS i ON i.sku = t.sku
WHERE d.effect_date BETWEEN ? AND ? AND d.event IN ('opening', 'receipt', 'ship', 'make')
AND t.quantity_received > 0 AND i.tax_class <> 'customer''s' AND {_NOT_UNDONE}
ORDER BY d.effect_date, t.document, t.line
"""  # noqa: S608  (a constant of this module)


def unusual_costs(connection: sqlite3.Connection, days: CheckedDays) -> Iterator[CostPoint]:
    """Yield lots that cost nothing, or much more or less than is usual, and jobs that cost too much."""
    known = _KnownCosts(connection)
    for row in connection.execute(_NEW_LOTS, (days.first_day, days.last_day)).fetchall():
        lot = _NewLot(*row)
        if not lot.cost:
            what = f"{lot.sku} came in for nothing. If it did cost something, enter its price."
            yield CostPoint(what, lot.where, f"blankbook show {lot.document}")
        elif lot.event == "make":
            yield from _job(connection, days, known, lot)
        else:
            yield from _bought(days, known, lot)


@dataclass(frozen=True, slots=True)
class _Usual:
    """What one unit usually costs, and by whose measure."""

    each: Fraction
    words: str


def _bought(days: CheckedDays, known: _KnownCosts, lot: _NewLot) -> Iterator[CostPoint]:
    usual = _usual(days, known, lot)
    if usual is None or not _is_absurd(lot.each, usual.each):
        return
    much = "more" if lot.each > usual.each else "less"
    what = f"{lot.sku} cost {days.each(lot.each)} each, much {much} than {usual.words}. {LOOK}"
    yield CostPoint(what, lot.where, f"blankbook show {lot.document}")


def _is_absurd(each: Fraction, usual: Fraction) -> bool:
    return not usual / ABSURD_FACTOR <= each <= usual * ABSURD_FACTOR


def _usual(days: CheckedDays, known: _KnownCosts, lot: _NewLot) -> _Usual | None:
    """Return what is usual for a lot's item; None where nothing can be said.

    Where its own two lots agree, only its style can say that both are wrong.
    """
    own, kin = known.of_item(lot.sku), known.of_style(lot)
    # Where its own lots disagree, most of them may be the wrong ones: its style knows better.
    is_settled = len(kin) < LEAST_KIN or not _is_absurd(max(own), min(own))
    if len(own) >= LEAST_LOTS and is_settled:
        return _Usual(statistics.median(own), "usual for it")
    if len(kin) >= LEAST_KIN:
        middle = statistics.median(kin)
        return _Usual(middle, f"the other items of style {lot.style}, which cost about {days.each(middle)}")
    others = list(own)
    if lot.each in others:
        others.remove(lot.each)
    if others and not _is_absurd(lot.each, others[0]):
        return None
    kin = known.of_kind(lot)
    if len(kin) >= LEAST_LOTS:
        # The items of a kind differ by more than those of a style: the nearest of them is the measure.
        nearest = min(max(lot.each, min(kin)), max(kin))
        return _Usual(
            nearest, f"any other item of kind {lot.kind}, of which the nearest cost {days.each(nearest)}"
        )
    # The middle of two is as far from the right one as from the wrong one: the other one is the measure.
    return _Usual(others[0], "usual for it") if others else None


class _KnownCosts:
    """What one thousandth of a unit cost in lots that cost anything, the latest first, looked up once each."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.known: dict[tuple[str, ...], list[_Known]] = {}

    def of_item(self, sku: str) -> list[Fraction]:
        """Return an item's own."""
        return [one.each for one in self._of(_OF_ITEM, sku)]

    def of_style(self, lot: _NewLot) -> list[Fraction]:
        """Return the latest of each other item of a lot's style, of the same kind and unit."""
        found = self._of(_OF_STYLE, lot.kind, lot.base_unit, lot.style) if lot.style else []
        return [one.each for one in found if one.sku != lot.sku]

    def of_kind(self, lot: _NewLot) -> list[Fraction]:
        """Return the latest of each other item of a lot's kind that is counted in the same unit."""
        found = self._of(_OF_KIND, lot.kind, lot.base_unit)
        return [one.each for one in found if one.sku != lot.sku]

    def of_design(self, lot: _NewLot) -> list[Fraction]:
        """Return those of the other jobs of a lot's design."""
        found = self._of(_OF_DESIGN, lot.style, lot.kind) if lot.style else self._of(_OF_ITEM, lot.sku)
        return [one.each for one in found if one.document != lot.document and one.is_made]

    def _of(self, query: str, *values: str) -> list[_Known]:
        key = (query, *values)
        if key not in self.known:
            rows = self.connection.execute(query, values)
            self.known[key] = [
                _Known(sku, document, bool(is_made), Fraction(cost, received))
                for sku, document, is_made, cost, received in rows
            ]
        return self.known[key]


@dataclass(frozen=True, slots=True)
class _Known:
    """What one thousandth of a unit cost in a lot, and whether a job made it."""

    sku: str
    document: int
    is_made: bool
    each: Fraction


_LOTS = """
SELECT t.sku, t.document, d.event = 'make', t.invoice_cost + t.charges, t.quantity_received
FROM item AS i CROSS JOIN lot AS t ON t.sku = i.sku JOIN document AS d ON d.number = t.document
WHERE t.quantity_received > 0 AND t.invoice_cost + t.charges > 0
"""
_OF_ITEM = f"{_LOTS} AND i.sku = ? ORDER BY t.available_from DESC LIMIT {LATEST_LOTS}"
_OF_DESIGN = f"{_LOTS} AND i.style = ? AND i.kind = ? ORDER BY t.available_from DESC LIMIT {LATEST_OF_DESIGN}"
_OF_KIND = f"""
{_LOTS} AND i.kind = ? AND i.base_unit = ? AND (t.document, t.line) = (
    SELECT o.document, o.line FROM lot AS o WHERE o.sku = i.sku AND o.quantity_received > 0
    AND o.invoice_cost + o.charges > 0 ORDER BY o.available_from DESC LIMIT 1)
"""  # noqa: S608  (a constant of this module)
"""Of each item its latest alone, found by the index: none outweighs the others, and a kind may have many lots."""

_OF_STYLE = f"{_OF_KIND} AND i.style = ?"


def _job(
    connection: sqlite3.Connection, days: CheckedDays, known: _KnownCosts, lot: _NewLot
) -> Iterator[CostPoint]:
    """Yield a job whose piece cost far more or less than the design's jobs do, or more than it sells for."""
    told = []
    others = known.of_design(lot)
    if others:
        usual = statistics.median([*others, lot.each]) if len(others) + 1 >= LEAST_LOTS else others[0]
        is_much_more = lot.each > usual * ABSURD_FACTOR
        # Of two jobs, the cheap one may be the right one.
        is_much_less = lot.each < usual / ABSURD_FACTOR and len(others) + 1 >= LEAST_LOTS
        if is_much_more or is_much_less:
            much = "more" if is_much_more else "less"
            told.append(f"much {much} than usual for {lot.design}, which is about {days.each(usual)}")
    sold = connection.execute(_LAST_PRICE, (lot.sku, days.last_day)).fetchone()
    if sold is not None and lot.each > Fraction(sold[1], sold[2]):
        told.append(f"more than it sold for on {sold[0]}, {days.each(Fraction(sold[1], sold[2]))}")
    if told:
        what = (
            f"a piece of {lot.sku} cost {days.each(lot.each)}: {'; and '.join(told)}. Look at what the job used, "
            "and at what that had cost."
        )
        yield CostPoint(what, lot.where, f"blankbook cost {lot.document}")


_LAST_PRICE = f"""
SELECT g.effect_date, l.amount, l.quantity_milli FROM leg AS g CROSS JOIN document AS d ON d.number = g.document
CROSS JOIN document_line AS l ON l.document = g.document AND l.line = g.line
WHERE g.sku = ? AND g.effect_date <= ? AND g.account = 'pieces sold' AND g.quantity_milli > 0 AND d.event = 'sale'
AND l.amount > 0 AND {_NOT_UNDONE} ORDER BY g.effect_date DESC, g.document DESC, g.line DESC LIMIT 1
"""  # noqa: S608  (a constant of this module)


@dataclass(frozen=True, slots=True)
class _SaleLine:
    """A line that sold for less than its pieces cost, in minor units; its first lot may be a job's."""

    document: int
    on: str
    sku: str
    design: str
    amount: int
    cost: int
    job: int | None

    @property
    def loss(self) -> int:
        """How much less it brought than it cost."""
        return self.cost - self.amount


BELOW_COST = f"""
SELECT d.number, d.effect_date, l.sku, CASE i.style WHEN '' THEN l.sku ELSE i.style END, l.amount, sum(g.amount),
    min(CASE m.event WHEN 'make' THEN m.number END)
FROM document AS d JOIN document_line AS l ON l.document = d.number JOIN item AS i ON i.sku = l.sku
JOIN leg AS g ON g.document = l.document AND g.line = l.line AND g.account = 'pieces sold'
LEFT JOIN document AS m ON m.number = g.lot_document
WHERE d.effect_date BETWEEN ? AND ? AND d.event = 'sale' AND {_NOT_UNDONE}
GROUP BY l.document, l.line HAVING sum(g.amount) > l.amount ORDER BY d.effect_date, d.number, l.line
"""  # noqa: S608  (a constant of this module)


def sold_below_cost(connection: sqlite3.Connection, days: CheckedDays) -> Iterator[CostPoint]:
    """Yield, per design, sales that brought less than their pieces cost, with the one that lost most."""
    designs: dict[str, list[_SaleLine]] = {}
    for row in connection.execute(BELOW_COST, (days.first_day, days.last_day)):
        line = _SaleLine(*row)
        designs.setdefault(line.design, []).append(line)
    for design, lines in designs.items():
        worst = max(lines, key=lambda line: line.loss)
        lost = days.money(sum(line.loss for line in lines))
        many = "a sale was" if len(lines) == 1 else f"{len(lines)} sales were"
        which = "" if len(lines) == 1 else "the worst: "
        what = (
            f"{design}: {many} below cost, {lost} in all; {which}{worst.sku} brought {days.money(worst.amount)} and "
            f"cost {days.money(worst.cost)}. Check the price, and what the pieces had cost."
        )
        command = f"blankbook trace {worst.document}"
        if worst.job is not None:
            command = f"blankbook cost {worst.job}"
        yield CostPoint(what, f"sale {worst.document} of {worst.on}", command)
