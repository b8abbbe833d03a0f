"""Opening closed months again: the last ones first, with a reason that is kept."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from ledger.book.closing import CORRECTED
from ledger.book.connect import write_tx
from ledger.book.documents import NewDocument, insert_documents, next_number
from ledger.book.fingerprints import closes_in_force, month_events, reopening_fingerprint
from ledger.book.recosting import recost
from ledger.book.shop import Shop, read_shop
from ledger.errors import Refused
from ledger.exact.months import last_day


@dataclass(frozen=True, slots=True)
class Reopened:
    """A reopening that was made."""

    document: int
    months: tuple[str, ...]
    undone: tuple[int, ...]


def prepare_reopen(connection: sqlite3.Connection, month: str) -> tuple[str, ...]:
    """Return the months that open when one is reopened: it and all closed after it.

    Raises Refused where it is not closed.
    """
    in_force = closes_in_force(month_events(connection))
    if month not in in_force:
        raise Refused(f"{month} is not closed. See: blankbook months")
    return tuple(sorted(one for one in in_force if one >= month))


def post_reopen(
    connection: sqlite3.Connection, month: str, why: str, today: datetime.date, now: str
) -> Reopened:
    """Open a month and those after it again, in one transaction; why is kept.

    What the close itself counted to correct an estimated use is undone with it.
    """
    with write_tx(connection):
        months = prepare_reopen(connection, month)
        shop = read_shop(connection)
        number = next_number(connection)
        previous = month_events(connection)[-1].fingerprint
        insert_documents(
            connection,
            [
                NewDocument(
                    number=number,
                    event="reopen",
                    document_date=today.isoformat(),
                    effect_date=today.isoformat(),
                    recorded_at=now,
                    currency=shop.currency,
                    reference=month,
                    reason=why,
                )
            ],
        )
        connection.execute(
            "INSERT INTO month_event (document, action, month, fingerprint, previous_fingerprint) "
            "VALUES (?, 'reopen', ?, ?, ?)",
            (number, month, reopening_fingerprint(month, why, previous), previous),
        )
        before = connection.execute(
            "SELECT coalesce(max(month), '') FROM month_event WHERE action = 'close' AND month < ?", (month,)
        ).fetchone()[0]
        connection.execute(
            "UPDATE boundary SET closed_through = ?", (last_day(before) if before else "0000-00-00",)
        )
        undone = _undo_corrections(connection, shop, months, now, today)
    return Reopened(number, months, undone)


def _undo_corrections(
    connection: sqlite3.Connection, shop: Shop, months: Sequence[str], now: str, today: datetime.date
) -> tuple[int, ...]:
    counts = connection.execute(
        "SELECT number, effect_date FROM document AS d WHERE event = 'count' AND note = ? AND effect_date >= ? "
        "AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)",
        (CORRECTED, f"{months[0]}-01"),
    ).fetchall()
    first = next_number(connection)
    documents = [
        NewDocument(
            number=first + place,
            event="undo",
            document_date=today.isoformat(),
            effect_date=effect_date,
            recorded_at=now,
            currency=shop.currency,
            path="dropped",
            undoes=number,
            reason="the month was reopened",
        )
        for place, (number, effect_date) in enumerate(counts)
    ]
    if documents:
        insert_documents(connection, documents)
        marks = ",".join("?" * len(counts))
        skus = connection.execute(
            f"SELECT DISTINCT sku FROM document_line WHERE document IN ({marks})",  # noqa: S608
            [number for number, _ in counts],
        )
        recost(connection, documents, {sku for (sku,) in skus})
    return tuple(one.number for one in documents)
