"""Undo: the reversing document. Nothing is erased; in an open month the pair drops out of the costing."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from ledger.book.connect import write_tx
from ledger.book.documents import NewDocument, insert_documents, next_number
from ledger.book.recosting import Recorded, recost
from ledger.book.shop import read_shop
from ledger.book.standing import document_words, undone
from ledger.costing.replay import shortage_words
from ledger.errors import ClosedMonth, NotEnoughStock, Refused


@dataclass(frozen=True, slots=True)
class UndoTarget:
    """A document that is to be undone, as the preview shows it."""

    number: int
    event: str
    effect_date: str
    party: str
    reference: str
    total: int
    skus: tuple[str, ...]


def prepare_undo(connection: sqlite3.Connection, numbers: Sequence[int]) -> tuple[UndoTarget, ...]:
    """Return the documents to undo, latest first.

    Raises Refused where one is missing, is itself an undo, was undone, or is referred to by a
    later document that is not undone with it.
    """
    wanted = sorted(set(numbers), reverse=True)
    shop = read_shop(connection)
    targets = []
    for number in wanted:
        target = _target(connection, number)
        if target.effect_date <= shop.closed_through:
            raise ClosedMonth(
                f"{target.event} {number} lies in {target.effect_date[:7]}, which is closed. "
                f'Reopen the month first: blankbook reopen {target.effect_date[:7]} --why "…".'
            )
        later = [one for one in _referring(connection, number) if one not in wanted]
        if later:
            names = ", ".join(map(str, later))
            together = " ".join(map(str, [*reversed(later), number]))
            raise Refused(
                f"{target.event} {number} cannot be undone alone: {_noun(len(later))} {names} "
                f"refer{'s' if len(later) == 1 else ''} to it. Undo them together: "
                f'blankbook undo {together} --why "…"'
            )
        targets.append(target)
    return tuple(targets)


def _noun(count: int) -> str:
    return "document" if count == 1 else "documents"


def _target(connection: sqlite3.Connection, number: int) -> UndoTarget:
    row: tuple[int, str, str, str, str, int] | None = connection.execute(
        "SELECT number, event, effect_date, coalesce(party, ''), reference, total FROM document WHERE number = ?",
        (number,),
    ).fetchone()
    if row is None:
        raise Refused(f"there is no document {number} in the book. See: blankbook history")
    if row[1] in ("undo", "close", "reopen"):
        raise Refused(f"document {number} is a {row[1]}; it cannot be undone. Enter the right document anew.")
    by = undone(connection, number)
    if by is not None:
        raise Refused(f"{row[1]} {number} was undone already, by document {by}.")
    skus = connection.execute(
        """
        SELECT DISTINCT sku FROM document_line WHERE document = ?1 AND sku IS NOT NULL
        UNION
        SELECT l.sku FROM charge_share AS s JOIN document_line AS l
            ON l.document = s.receipt_document AND l.line = s.receipt_line
        WHERE s.document = ?1
        """,
        (number,),
    )
    return UndoTarget(*row, tuple(sorted(sku for (sku,) in skus)))


_REFERRING = """
SELECT d.number FROM document AS d
WHERE d.number IN (
    SELECT document FROM charge_share WHERE receipt_document = ?1
    UNION SELECT number FROM document WHERE follows = ?1
    UNION SELECT document FROM document_line WHERE lot_document = ?1)
AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
ORDER BY d.number
"""


def _referring(connection: sqlite3.Connection, number: int) -> list[int]:
    """Return the later documents that name this one and were not undone."""
    return [row[0] for row in connection.execute(_REFERRING, (number,))]


def post_undo(
    connection: sqlite3.Connection, numbers: Sequence[int], why: str, on: datetime.date, now: str
) -> Recorded:
    """Undo documents together in one transaction.

    Raises Refused as `prepare_undo`, and where what was received is needed by later documents.
    """
    with write_tx(connection):
        targets = prepare_undo(connection, numbers)
        currency = read_shop(connection).currency
        first = next_number(connection)
        documents = [
            NewDocument(
                number=first + place,
                event="undo",
                document_date=on.isoformat(),
                effect_date=target.effect_date,
                recorded_at=now,
                currency=currency,
                path="dropped",
                undoes=target.number,
                total=target.total,
                reason=why,
            )
            for place, target in enumerate(targets)
        ]
        insert_documents(connection, documents)
        names = ", ".join(f"{target.event} {target.number}" for target in targets)
        try:
            changes = recost(connection, (), {sku for target in targets for sku in target.skus})
        except NotEnoughStock as shortage:
            lines = [
                f"  - {shortage_words(one, document_words(connection, one.document), '')}"
                for one in shortage.shortages
            ]
            said = "\n".join(lines) or str(shortage)
            raise Refused(
                f"{names} cannot be undone: later documents used what came in.\n{said}\nUndo those first."
            ) from shortage
        except Refused as other:
            raise Refused(
                f"{names} cannot be undone while later documents rest on it: {other} "
                "Undo the later documents first."
            ) from other
    return Recorded(tuple(one.number for one in documents), changes)
