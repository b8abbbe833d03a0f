"""What was earned and on what: margin by design, way of decorating or SKU; misprints, shrinkage, slow movers.

Rows of the book become frames whose money and quantities stay whole numbers; only what is printed
as a percentage is divided.
"""

from __future__ import annotations

import datetime
import sqlite3
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from ledger.book import looking
from ledger.book.bill_store import find_bills
from ledger.catalogue.boms import FINISHED

if TYPE_CHECKING:
    import pandas as pd

DESIGN, WAY, SKU = "design", "way", "sku"
GROUPINGS = (DESIGN, WAY, SKU)

NOT_DECORATED = "sold as it came"
"""The way of what is sold without being decorated."""

NO_BILL = "no bill of materials"
"""The way of finished items whose bill is no longer in the book."""

_FIGURES = ("pieces_milli", "revenue", "shipping", "fees", "cost")


@dataclass(frozen=True, slots=True)
class MarginRow:
    """What a group of items earned; money in minor units, pieces in thousandths.

    ``revenue`` is what was sold less what was paid back, ``shipping`` what was charged for it,
    ``cost`` what the pieces cost landed and made, returns taken off. ``label`` says more about the
    group, such as a design's name.
    """

    name: str
    label: str
    pieces_milli: int
    revenue: int
    shipping: int
    fees: int
    cost: int

    @property
    def left(self) -> int:
        """What is left after fees and cost, in minor units."""
        return self.revenue + self.shipping - self.fees - self.cost

    @property
    def percent(self) -> Fraction | None:
        """What is left in percent of what came in, None where nothing did."""
        came_in = self.revenue + self.shipping
        return Fraction(100 * self.left, came_in) if came_in else None


@dataclass(frozen=True, slots=True)
class MisprintRow:
    """What the jobs of a design spoiled, in thousandths of pieces; ``planned_percent`` is its bill's."""

    name: str
    label: str
    pieces_milli: int
    normal_milli: int
    abnormal_milli: int
    planned_percent: Fraction | None

    @property
    def percent(self) -> Fraction | None:
        """What was spoiled in percent of all pieces begun, None where there were none."""
        spoiled = self.normal_milli + self.abnormal_milli
        return Fraction(100 * spoiled, self.pieces_milli) if self.pieces_milli else None


@dataclass(frozen=True, slots=True)
class ShrinkageRow:
    """What counts did not find of a kind, less what they found too much, and what left; at cost, minor units."""

    kind: str
    differences: int
    left: int

    @property
    def percent(self) -> Fraction | None:
        """The differences in percent of what left, None where nothing did."""
        return Fraction(100 * self.differences, self.left) if self.left else None


@dataclass(frozen=True, slots=True)
class SlowRow:
    """An item that nobody bought or used for long, with what lies on hand of it.

    ``last_left`` is the last day something of it was sold or used, '' where nothing ever was;
    ``days`` is counted from then, or from the day it first came in.
    """

    sku: str
    name: str
    kind: str
    base_unit: str
    quantity_milli: int
    value: int
    last_left: str
    days: int


@dataclass(frozen=True, slots=True)
class Margin:
    """The whole report for a span of days."""

    rows: tuple[MarginRow, ...]
    total: MarginRow
    misprints: tuple[MisprintRow, ...]
    shrinkage: tuple[ShrinkageRow, ...]
    slow: tuple[SlowRow, ...]


_EARNED = """
SELECT l.sku, o.event,
    (CASE o.event WHEN 'sale' THEN 1 ELSE -1 END) * (CASE d.event WHEN 'undo' THEN -1 ELSE 1 END),
    l.quantity_milli, l.amount, coalesce(l.shipping, 0), coalesce(l.fees, 0)
FROM document AS d JOIN document AS o ON o.number = coalesce(d.undoes, d.number)
JOIN document_line AS l ON l.document = o.number
WHERE d.effect_date BETWEEN ? AND ? AND o.event IN ('sale', 'take back', 'refund') AND l.sku IS NOT NULL
AND d.path <> 'dropped'
AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number AND u.path = 'dropped')
"""

_COST = """
SELECT l.sku, sum(l.amount) FROM document AS d JOIN leg AS l ON l.document = d.number
WHERE d.effect_date BETWEEN ? AND ? AND l.account = 'pieces sold' GROUP BY l.sku
"""


def margin(
    connection: sqlite3.Connection, first: str, last: str, *, by: str = DESIGN, slow_days: int = 90
) -> Margin:
    """Return what was earned in a span of days, and what lay idle at its end.

    Late charges on what was sold before are not in it: they cannot be told by design.

    Args:
        connection: a book.
        first: the first day, ISO 8601.
        last: the last day, ISO 8601, in it.
        by: 'design', 'way' or 'sku'.
        slow_days: from how many days without a sale or use on an item is slow, 1 or more.
    """
    rows = _margin_rows(connection, first, last, by)
    total = MarginRow("total", "", *(sum(getattr(row, name) for row in rows) for name in _FIGURES))
    return Margin(
        rows,
        total,
        misprints(connection, first, last),
        shrinkage(connection, first, last),
        slow_movers(connection, last, slow_days),
    )


def sales_frame(connection: sqlite3.Connection, first: str, last: str) -> pd.DataFrame:
    """Return what each sale, return and refund of a span brought, and what the pieces cost, one row each.

    Columns: sku, its name, design, label, way, and in whole numbers pieces_milli, revenue, shipping,
    fees, cost.
    """
    import pandas as pd  # noqa: PLC0415  (slow to import, and only margins need it)

    of_item = _designs(connection)
    rows: list[dict[str, Any]] = []
    for sku, event, sign, milli, amount, shipping, fees in connection.execute(_EARNED, (first, last)):
        moved = 0 if event == "refund" else milli
        figures = (sign * moved, sign * amount, sign * shipping, sign * fees, 0)
        rows.append({**of_item[sku], **dict(zip(_FIGURES, figures, strict=True))})
    for sku, cost in connection.execute(_COST, (first, last)):
        rows.append({**of_item[sku], **dict.fromkeys(_FIGURES, 0), "cost": cost})
    frame = pd.DataFrame(rows, columns=[SKU, "name", DESIGN, "label", WAY, *_FIGURES])
    return frame.astype(dict.fromkeys(_FIGURES, "int64"))


def _margin_rows(connection: sqlite3.Connection, first: str, last: str, by: str) -> tuple[MarginRow, ...]:
    """Return the sums of a frame by group, what leaves most first."""
    label = {DESIGN: "label", WAY: WAY, SKU: "name"}[by]
    frame = sales_frame(connection, first, last).assign(shown=lambda rows: rows[label])
    sums = frame.groupby(by).agg({"shown": "first", **dict.fromkeys(_FIGURES, "sum")})
    rows = [
        MarginRow(str(name), str(shown), *map(int, figures))
        for name, shown, *figures in sums.itertuples(name=None)
    ]
    return tuple(sorted(rows, key=lambda row: (-row.left, row.name)))


def _designs(connection: sqlite3.Connection) -> dict[str, dict[str, str]]:
    """Return, per SKU, its design, its way of decorating and a label."""
    bills = {code.casefold(): bill for code, bill in find_bills(connection).items()}
    found = {}
    for sku, name, kind, style in connection.execute("SELECT sku, name, kind, style FROM item"):
        # A finished item's style is the code of its bill.
        bill = bills.get(style.casefold()) if kind == FINISHED else None
        way = bill.way if bill else NO_BILL if kind == FINISHED else NOT_DECORATED
        label = bill.name if bill else name
        found[sku] = {SKU: sku, "name": name, DESIGN: style or sku, "label": label, WAY: way}
    return found


_JOBS = """
SELECT l.sku, sum(l.quantity_milli), sum(l.normal_milli), sum(l.expensed_milli)
FROM document AS d JOIN document_line AS l ON l.document = d.number AND l.role = 'product'
WHERE d.effect_date BETWEEN ? AND ? AND d.event = 'make'
AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
GROUP BY l.sku
"""


def misprints(connection: sqlite3.Connection, first: str, last: str) -> tuple[MisprintRow, ...]:
    """Return what the jobs of a span spoiled, by design, what spoiled most first.

    Args:
        connection: a book.
        first: the first day, ISO 8601.
        last: the last day, ISO 8601, in it.
    """
    import pandas as pd  # noqa: PLC0415  (slow to import, and only margins need it)

    of_item = _designs(connection)
    planned = {code.casefold(): bill.misprint_percent for code, bill in find_bills(connection).items()}
    frame = pd.DataFrame(
        [
            (of_item[sku][DESIGN], of_item[sku]["label"], *figures)
            for sku, *figures in connection.execute(_JOBS, (first, last))
        ],
        columns=[DESIGN, "label", "pieces", "normal", "abnormal"],
    )
    sums = frame.groupby(DESIGN).agg(
        {"label": "first", **dict.fromkeys(("pieces", "normal", "abnormal"), "sum")}
    )
    rows = []
    for name, label, pieces, normal, abnormal in sums.itertuples(name=None):
        of_bill = planned.get(str(name).casefold())
        rows.append(MisprintRow(str(name), str(label), int(pieces), int(normal), int(abnormal), of_bill))
    return tuple(sorted(rows, key=lambda row: (-(row.percent or 0), row.name)))


_LEFT = """
SELECT i.kind,
    CASE WHEN l.account = 'count differences' THEN l.amount ELSE 0 END,
    CASE WHEN l.account = 'on hand' AND l.quantity_milli < 0 AND d.event NOT IN ('count', 'send back', 'undo')
        THEN -l.amount ELSE 0 END
FROM document AS d JOIN leg AS l ON l.document = d.number JOIN item AS i ON i.sku = l.sku
WHERE d.effect_date BETWEEN ? AND ? AND l.account IN ('count differences', 'on hand')
"""

_COUNTED = """
SELECT DISTINCT l.kind FROM document AS d JOIN document_line AS l ON l.document = d.number
WHERE d.effect_date BETWEEN ? AND ? AND d.event = 'count' AND d.note <> 'use corrected'
AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
"""


def shrinkage(connection: sqlite3.Connection, first: str, last: str) -> tuple[ShrinkageRow, ...]:
    """Return what counts of a span did not find, by kind, beside what left in it; kinds that were counted only.

    Args:
        connection: a book.
        first: the first day, ISO 8601.
        last: the last day, ISO 8601, in it.
    """
    import pandas as pd  # noqa: PLC0415  (slow to import, and only margins need it)

    rows = connection.execute(_LEFT, (first, last)).fetchall()
    frame = pd.DataFrame(rows, columns=["kind", "differences", "left"])
    sums = frame.groupby("kind")[["differences", "left"]].sum()
    found = [
        ShrinkageRow(str(kind), int(differences), int(left))
        for kind, differences, left in sums.itertuples(name=None)
    ]
    counted = {kind for (kind,) in connection.execute(_COUNTED, (first, last))}
    return tuple(row for row in found if row.kind in counted)


_LAST_LEFT = """
SELECT effect_date FROM leg WHERE sku = ? AND effect_date <= ? AND account IN ('pieces sold', 'used')
AND quantity_milli > 0 ORDER BY effect_date DESC LIMIT 1
"""

_CAME_IN = "SELECT min(coalesce(available_from, owned_from)) FROM lot WHERE sku = ?"


SLOW_DAYS = 90
"""From how many days without a sale or use on an item is slow, where nobody says otherwise: our own rule."""


def slow_movers(connection: sqlite3.Connection, on: str, days: int) -> tuple[SlowRow, ...]:
    """Return the items with stock that nobody bought or used for so many days, the most valuable first.

    Args:
        connection: a book.
        on: the day the stock is of and days are counted to, ISO 8601.
        days: 1 or more.
    """
    rows = []
    end = datetime.date.fromisoformat(on)
    for item in looking.stock_on(connection, on):
        if item.quantity_milli <= 0:
            continue
        left = connection.execute(_LAST_LEFT, (item.sku, on)).fetchone()
        last_left = left[0] if left else ""
        since = last_left or connection.execute(_CAME_IN, (item.sku,)).fetchone()[0] or on
        idle = (end - datetime.date.fromisoformat(since)).days
        if idle >= days:
            head = (item.sku, item.name, item.kind, item.base_unit)
            rows.append(SlowRow(*head, item.quantity_milli, item.value, last_left, idle))
    return tuple(sorted(rows, key=lambda row: (-row.value, row.sku)))
