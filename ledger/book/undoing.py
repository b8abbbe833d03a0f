"""Undo: the reversing document. Nothing is erased.

In an open month the pair drops out of the costing. Of a closed month a charge becomes a late credit;
what came in untouched leaves again and what left comes back, by a real reversal in the open month.
"""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ledger.book.connect import trial_tx, write_tx
from ledger.book.documents import NewDocument, NewLine, NewShare, insert_documents, next_number
from ledger.book.ordering import first_open
from ledger.book.recosting import Recorded, recost
from ledger.book.shop import Shop, read_shop
from ledger.book.standing import check_date, document_words, undone
from ledger.costing.facts import ARRIVES_FROM, LATE, LEAVES_TO
from ledger.costing.replay import shortage_words
from ledger.errors import ClosedMonth, InputErrors, NotEnoughStock, Refused


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
    path: str = "dropped"


def prepare_undo(connection: sqlite3.Connection, numbers: Sequence[int]) -> tuple[UndoTarget, ...]:
    """Return the documents to undo, latest first.

    Raises Refused where one is missing, is itself an undo, was undone, or is referred to by a
    later document that is not undone with it; ClosedMonth where it lies in a closed month and only
    reopening that helps.
    """
    wanted = sorted(set(numbers), reverse=True)
    shop = read_shop(connection)
    targets = []
    for number in wanted:
        target = _target(connection, number)
        if target.effect_date <= shop.closed_through:
            target = replace(target, path=_path_of_closed(connection, target))
        later = [one for one in resting_on(connection, number) if one not in wanted]
        if later:
            names = ", ".join(map(str, later))
            together = " ".join(map(str, sorted({*later, *wanted}, reverse=True)))
            verb = "refer" if set(later) <= set(_referring(connection, number)) else "rest"
            upon = "to" if verb == "refer" else "on"
            raise Refused(
                f"{target.event} {number} cannot be undone alone: {_noun(len(later))} {names} "
                f"{verb}{'s' if len(later) == 1 else ''} {upon} it. Undo them together: "
                f'blankbook undo {together} --why "…"'
            )
        targets.append(target)
    return tuple(targets)


def _path_of_closed(connection: sqlite3.Connection, target: UndoTarget) -> str:
    """Return how a document of a closed month is undone: by a late credit or a real reversal.

    What moves nothing, an order or a shipment of goods that are bought when they arrive, is dropped.
    """
    if target.event == "charge":
        return "credit"
    if connection.execute(_MOVES_NOTHING, (target.number,)).fetchone() is not None:
        return "dropped"
    arrives = connection.execute(
        """
        SELECT 1 FROM document_line AS l JOIN document AS s ON s.number = l.lot_document AND s.event = 'ship'
            AND s.terms <> 'arrival'
        WHERE l.document = ? LIMIT 1
        """,
        (target.number,),
    ).fetchone()
    if (target.event in _REVERSIBLE) and arrives is None:
        return "reversal"
    raise ClosedMonth(
        f"{target.event} {target.number} lies in {target.effect_date[:7]}, which is closed. "
        f'Reopen the month first: blankbook reopen {target.effect_date[:7]} --why "…".'
    )


_MOVES_NOTHING = """
SELECT 1 FROM document
WHERE number = ? AND (event IN ('order', 'order closed') OR (event = 'ship' AND terms = 'arrival'))
"""


_REVERSIBLE = (*LEAVES_TO, *ARRIVES_FROM, "make")
"""What an open month can take back of a closed one."""


def _noun(count: int) -> str:
    return "document" if count == 1 else "documents"


_A_WORD = {"undo": "an undo", "close": "a close", "reopen": "a reopening"}
_INSTEAD = {
    "undo": "Enter the right document anew.",
    "close": 'To change something in its month: blankbook reopen {month} --why "…".',
    "reopen": "Close its month again: blankbook close {month}.",
}
"""What to do instead of undoing a document that cannot be; the reference of the last two is their month."""


def _target(connection: sqlite3.Connection, number: int) -> UndoTarget:
    row: tuple[int, str, str, str, str, int] | None = connection.execute(
        "SELECT number, event, effect_date, coalesce(party, ''), reference, total FROM document WHERE number = ?",
        (number,),
    ).fetchone()
    if row is None:
        raise Refused(f"there is no document {number} in the book. See: blankbook history")
    if row[1] in _A_WORD:
        raise Refused(
            f"document {number} is {_A_WORD[row[1]]}; it cannot be undone. {_INSTEAD[row[1]].format(month=row[4])}"
        )
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
AND d.event <> 'undo' AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
ORDER BY d.number
"""


def resting_on(connection: sqlite3.Connection, number: int) -> list[int]:
    """Return all later documents that rest on this one: those that name it, those that name them, and so on."""
    found: set[int] = set()
    waiting = [number]
    while waiting:
        new = set(_referring(connection, waiting.pop())) - found
        found |= new
        waiting += new
    return sorted(found)


def _referring(connection: sqlite3.Connection, number: int) -> list[int]:
    """Return the later documents that name this one and were not undone.

    The undo of a charge names its receipts too: it stays, and what it credited with it.
    """
    return [row[0] for row in connection.execute(_REFERRING, (number,))]


@dataclass(frozen=True, slots=True)
class UndoNote:
    """An undo's number, its reason, its day and when it was entered."""

    number: int
    why: str
    on: str
    now: str


def _undo_document(
    connection: sqlite3.Connection, shop: Shop, target: UndoTarget, note: UndoNote
) -> NewDocument:
    lines: tuple[NewLine, ...] = ()
    shares: tuple[NewShare, ...] = ()
    if target.path == "reversal":
        lines = _reversing_lines(connection, target.number)
    elif target.path == "credit":
        lines, shares = _credit(connection, target.number, note.on, shop.closed_through)
    return NewDocument(
        number=note.number,
        event="undo",
        document_date=note.on,
        # What moves nothing may lie in a closed month: its undo takes effect on the first open day.
        effect_date=first_open(shop, datetime.date.fromisoformat(target.effect_date))
        if target.path == "dropped"
        else note.on,
        recorded_at=note.now,
        currency=shop.currency,
        path=target.path,
        undoes=target.number,
        total=target.total,
        reason=note.why,
        lines=lines,
        shares=shares,
        undone_event=target.event if target.path == "reversal" else "",
    )


_COLUMNS = """
line, role, sku, kind, tax_class, unit, unit_quantity, quantity_milli, claimed_milli, normal_milli,
expensed_milli, amount, claimed_amount
"""
_LINE = f"SELECT {_COLUMNS} FROM document_line WHERE document = ? ORDER BY line"  # noqa: S608  (a constant)


def _reversing_lines(connection: sqlite3.Connection, number: int) -> tuple[NewLine, ...]:
    """Return a document's lines as its reversal repeats them; each names the line it reverses."""
    names = [column.strip() for column in _COLUMNS.split(",")]
    return tuple(
        NewLine(**dict(zip(names, row, strict=True)), lot_document=number, lot_line=row[0])
        for row in connection.execute(_LINE, (number,))
        if row[2] is not None
    )


def _credit(
    connection: sqlite3.Connection, number: int, on: str, closed_through: str
) -> tuple[tuple[NewLine, ...], tuple[NewShare, ...]]:
    """Return a charge's lines and shares with the other sign; those of closed months come late."""
    lines = tuple(
        NewLine(line=line, role="charge", amount=-amount, charge_kind=kind, basis=basis)
        for line, amount, kind, basis in connection.execute(
            "SELECT line, amount, charge_kind, basis FROM document_line WHERE document = ? ORDER BY line",
            (number,),
        )
    )
    shares = tuple(
        NewShare(
            line=line,
            receipt_document=receipt,
            receipt_line=receipt_line,
            position=position,
            weight=weight,
            amount=-amount,
            path=path if effect > closed_through else LATE,
            effect_date=effect if effect > closed_through else on,
        )
        for line, receipt, receipt_line, position, weight, amount, path, effect in connection.execute(
            "SELECT line, receipt_document, receipt_line, position, weight, amount, path, effect_date "
            "FROM charge_share WHERE document = ? ORDER BY line, position",
            (number,),
        )
    )
    return lines, shares


def try_undo(
    connection: sqlite3.Connection, numbers: Sequence[int], why: str, on: datetime.date, now: str
) -> tuple[UndoTarget, ...]:
    """Return what would be undone; raises as `post_undo`, and posts nothing."""
    targets = prepare_undo(connection, numbers)
    with trial_tx(connection):
        _post(connection, numbers, why, on, now)
    return targets


def post_undo(
    connection: sqlite3.Connection, numbers: Sequence[int], why: str, on: datetime.date, now: str
) -> Recorded:
    """Undo documents together in one transaction.

    Raises Refused as `prepare_undo`, and where what was received is needed by later documents.
    """
    with write_tx(connection):
        return _post(connection, numbers, why, on, now)


def _post(
    connection: sqlite3.Connection, numbers: Sequence[int], why: str, on: datetime.date, now: str
) -> Recorded:
    """Undo documents together, inside the caller's transaction."""
    targets = prepare_undo(connection, numbers)
    shop = read_shop(connection)
    if any(target.path != "dropped" for target in targets):
        problems = check_date(shop, on, on, "the day of the undo")
        if problems:
            raise InputErrors("this undo", problems)
    first = next_number(connection)
    documents = [
        _undo_document(connection, shop, target, UndoNote(first + place, why, on.isoformat(), now))
        for place, target in enumerate(targets)
    ]
    insert_documents(connection, documents)
    names = ", ".join(f"{target.event} {target.number}" for target in targets)
    try:
        changes = recost(connection, documents, {sku for target in targets for sku in target.skus})
    except NotEnoughStock as shortage:
        lines = [
            f"  - {shortage_words(one, document_words(connection, one.document), '')}"
            for one in shortage.shortages
        ]
        said = "\n".join(lines) or str(shortage)
        raise Refused(
            f"{names} cannot be undone: later documents used what came in.\n{said}\nEnter what is right "
            "first (blankbook receive … --another-box), then undo this one: the later documents then take from "
            "it. Or undo the later ones first."
        ) from shortage
    except Refused as other:
        way_out = "Or undo" if "Reopen its month" in str(other) else "Undo"
        raise Refused(
            f"{names} cannot be undone while later documents rest on it: {other} "
            f"{way_out} the later documents first."
        ) from other
    return Recorded(tuple(one.number for one in documents), changes)
