"""Closing a month and opening it again: what is frozen, in which order, and how it is sealed."""

from __future__ import annotations

import datetime
import json
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from ledger.book.checklist import CheckItem, checklist
from ledger.book.connect import trial_tx, write_tx
from ledger.book.documents import NewDocument, NewLine, insert_documents, next_number
from ledger.book.fingerprints import (
    changed_months,
    closes_in_force,
    month_events,
    month_fingerprint,
)
from ledger.book.recosting import recost
from ledger.book.replay_scope import everything_tied
from ledger.book.replay_start import Work, add_replayed
from ledger.book.shop import Shop, read_policies, read_shop
from ledger.costing.tax_lines import tax_year_of
from ledger.costing.walk import walk
from ledger.errors import BookDamaged, Refused
from ledger.exact.months import last_day, months_between

_T = TypeVar("_T")

CORRECTED = "use corrected"
"""The note of a count made by a close: an estimated use took more than there was."""

MOVED_AFTER = """
SELECT sku FROM item WHERE EXISTS (SELECT 1 FROM leg WHERE leg.sku = item.sku AND leg.effect_date > ?)
"""
"""The items with something after a day: asked item by item, for legs have no index by date alone."""


@dataclass(frozen=True, slots=True)
class MonthRow:
    """A month of the book and how it stands."""

    month: str
    is_closed: bool
    closed_on: str
    fingerprint: str
    documents: int
    is_changed: bool = False


@dataclass(frozen=True, slots=True)
class Corrected:
    """An item whose use was estimated too high: what it was short of at the month's end."""

    sku: str
    base_unit: str
    quantity_milli: int


@dataclass(frozen=True, slots=True)
class ClosePlan:
    """What stands before a close: the checklist, and uses that the close corrects."""

    month: str
    points: tuple[CheckItem, ...]
    corrected: tuple[Corrected, ...]

    @property
    def blocking(self) -> tuple[CheckItem, ...]:
        """What stops the close."""
        return tuple(point for point in self.points if point.is_blocking)


@dataclass(frozen=True, slots=True)
class Closed:
    """A close that was made."""

    document: int
    month: str
    fingerprint: str
    previous_fingerprint: str
    corrected: tuple[int, ...]


def list_months(
    connection: sqlite3.Connection, today: datetime.date, *, check: bool = True
) -> list[MonthRow]:
    """Return the book's months up to today, with ``check`` also whether a closed one was changed."""
    shop = read_shop(connection)
    in_force = closes_in_force(month_events(connection))
    changed = {month for month, _ in changed_months(connection)} if check else set()
    counts = dict(
        connection.execute(
            "SELECT substr(effect_date, 1, 7), count(*) FROM document WHERE event NOT IN ('close', 'reopen') GROUP BY 1"
        ).fetchall()
    )
    last = max([today.isoformat()[:7], *counts, *in_force])
    rows = []
    for month in months_between(shop.first_month, last):
        close = in_force.get(month)
        rows.append(
            MonthRow(
                month,
                close is not None,
                close.recorded_at[:10] if close else "",
                close.fingerprint if close else "",
                counts.get(month, 0),
                month in changed,
            )
        )
    return rows


def prepare_close(connection: sqlite3.Connection, month: str, today: datetime.date) -> ClosePlan:
    """Return what stands before closing a month.

    Raises Refused where it cannot be closed now: it is not over, closed already, an earlier month
    is open, the clock was set back; BookDamaged where a closed month was changed from outside.
    """
    shop = read_shop(connection)
    _check_order(connection, shop, month, today)
    _check_sealed(connection, tax_year_of(month, shop.tax_year_starts))
    return look_before(connection, month)


def look_before(connection: sqlite3.Connection, month: str) -> ClosePlan:
    """Return the checklist of a month and the uses that its close would correct, whenever it is asked."""
    return ClosePlan(month, tuple(checklist(connection, month)), tuple(_to_correct(connection, month)))


def _check_order(connection: sqlite3.Connection, shop: Shop, month: str, today: datetime.date) -> None:
    end = last_day(month)
    if month < shop.first_month:
        raise Refused(f"{month} is before {shop.first_month}, the book's first month.")
    if end <= shop.closed_through:
        raise Refused(
            f"{month} is closed already. Look at it with: blankbook close {month} --show. To change something "
            f'in it: blankbook reopen {month} --why "…".'
        )
    if end > today.isoformat():
        raise Refused(f"{month} is not over: it ends on {end}, and today is {today.isoformat()}.")
    first_open = next(
        one for one in months_between(shop.first_month, month) if last_day(one) > shop.closed_through
    )
    if first_open != month:
        raise Refused(f"{first_open} is still open. Close the months in order: blankbook close {first_open}.")
    latest = connection.execute("SELECT max(recorded_at) FROM document").fetchone()[0]
    if latest is not None and latest[:10] > (today + datetime.timedelta(days=1)).isoformat():
        raise Refused(
            f"the clock says {today.isoformat()}, but the book holds an entry made on {latest[:10]}. Set the "
            "computer's date right, then close."
        )


def _check_sealed(connection: sqlite3.Connection, since: str) -> None:
    """Raise BookDamaged where closed months of the tax year no longer match their fingerprints.

    Years before are in the chain, and are looked at whole by `months` and `prove`: a close costs what
    its year holds, however old the book is.
    """
    changed = changed_months(connection, since)
    if changed:
        told = "; ".join(f"{month}: {what}" for month, what in changed)
        raise BookDamaged(
            f"a closed month was changed by something other than Blankbook ({told}). Nothing is closed on top "
            "of it. Restore the latest backup from before, or look with: blankbook prove."
        )


_SHORTS = """
SELECT s.sku, i.base_unit, sum(s.quantity_milli), min(l.estimated)
FROM short AS s JOIN item AS i ON i.sku = s.sku
JOIN document_line AS l ON l.document = s.document AND l.line = s.line
WHERE s.effect_date BETWEEN ? AND ? GROUP BY s.sku ORDER BY s.sku
"""


def _to_correct(connection: sqlite3.Connection, month: str) -> list[Corrected]:
    """Return the estimated items that are short at the month's end: they count as zero there."""
    return [
        Corrected(sku, unit, quantity)
        for sku, unit, quantity, estimated in connection.execute(_SHORTS, (f"{month}-01", last_day(month)))
        if estimated
    ]


def post_close(connection: sqlite3.Connection, plan: ClosePlan, today: datetime.date, now: str) -> Closed:
    """Close a month in one transaction: correct estimated uses, keep the layers, seal, move the boundary.

    Raises as `prepare_close`, and Refused naming what blocks.
    """
    with write_tx(connection):
        again = prepare_close(connection, plan.month, today)
        if again.blocking:
            names = "\n".join(f"  - {point.what} ({point.where})" for point in again.blocking)
            raise Refused(f"{plan.month} cannot be closed yet:\n{names}\nNothing was closed.")
        shop = read_shop(connection)
        corrected = _correct_uses(connection, shop, again, now)
        end = last_day(plan.month)
        number = next_number(connection)
        events = month_events(connection)
        previous = events[-1].fingerprint if events else ""
        insert_documents(
            connection,
            [
                NewDocument(
                    number=number,
                    event="close",
                    document_date=today.isoformat(),
                    effect_date=end,
                    recorded_at=now,
                    currency=shop.currency,
                    reference=plan.month,
                )
            ],
        )
        # The layers refer to their close, the fingerprint covers the layers: so the deferred check.
        connection.execute("PRAGMA defer_foreign_keys = ON")
        _keep_layers(connection, number, end)
        fingerprint = month_fingerprint(connection, plan.month, number, previous)
        connection.execute(
            "INSERT INTO month_event (document, action, month, fingerprint, previous_fingerprint, policies) "
            "VALUES (?, 'close', ?, ?, ?, ?)",
            (
                number,
                plan.month,
                fingerprint,
                previous,
                json.dumps(read_policies(connection), sort_keys=True),
            ),
        )
        connection.execute("UPDATE boundary SET closed_through = ?", (end,))
    return Closed(number, plan.month, fingerprint, previous, corrected)


def with_corrections(connection: sqlite3.Connection, plan: ClosePlan, now: str, read: Callable[[], _T]) -> _T:
    """Return what ``read`` finds in the book as the close would leave it; nothing is posted."""
    if not plan.corrected:
        return read()
    with trial_tx(connection):
        _correct_uses(connection, read_shop(connection), plan, now)
        return read()


def _correct_uses(connection: sqlite3.Connection, shop: Shop, plan: ClosePlan, now: str) -> tuple[int, ...]:
    """Count estimated items that are short at nothing on the last day; return the count's number."""
    if not plan.corrected:
        return ()
    end = last_day(plan.month)
    lines = []
    for place, one in enumerate(plan.corrected, 1):
        kind, tax_class = connection.execute(
            "SELECT kind, tax_class FROM item WHERE sku = ?", (one.sku,)
        ).fetchone()
        lines.append(
            NewLine(
                line=place,
                sku=one.sku,
                kind=kind,
                tax_class=tax_class,
                unit=one.base_unit,
                unit_quantity="0",
                estimated=1,
                note=CORRECTED,
            )
        )
    document = NewDocument(
        number=next_number(connection),
        event="count",
        document_date=end,
        effect_date=end,
        recorded_at=now,
        currency=shop.currency,
        note=CORRECTED,
        lines=tuple(lines),
    )
    insert_documents(connection, [document])
    recost(connection, [document])
    return (document.number,)


def _keep_layers(connection: sqlite3.Connection, close: int, end: str) -> None:
    """Keep the layers as they were at the end of a day: where the next replay starts.

    Items with nothing later stand as they are; the others are costed again up to that day.
    """
    later = {row[0] for row in connection.execute(MOVED_AFTER, (end,))}
    if later:
        later = everything_tied(connection, later)
        work = Work()
        add_replayed(connection, work, later, until=end)
        walked = walk(work.facts, work.shares, work.start())
        connection.executemany(
            "INSERT INTO closed_layer VALUES (?, ?, ?, ?, ?, ?, ?)",
            [
                (close, one.lot_document, one.lot_line, one.position, one.quantity, one.amount, one.used)
                for one in walked.open_layers
            ],
        )
    rows = connection.execute(
        "SELECT lot.sku, y.lot_document, y.lot_line, y.position, y.quantity, y.amount, y.used FROM layer AS y "
        "JOIN lot ON lot.document = y.lot_document AND lot.line = y.lot_line"
    ).fetchall()
    connection.executemany(
        "INSERT INTO closed_layer VALUES (?, ?, ?, ?, ?, ?, ?)",
        [(close, *row[1:]) for row in rows if row[0] not in later],
    )
