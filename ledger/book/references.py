"""What an entry refers to: receipts by number or by party and reference, sales that come back."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ledger.book.documents import NewDocument
from ledger.errors import ValueProblem
from ledger.exact.quantity import show_quantity


@dataclass(frozen=True, slots=True)
class SoldLine:
    """A line of a sale with what of it is still out, in thousandths."""

    document: int
    line: int
    effect_date: str
    party: str
    reference: str
    left: int


@dataclass(frozen=True, slots=True)
class ReturnPart:
    """How much of one sale's line comes back, in thousandths."""

    document: int
    line: int
    quantity: int


def document_number(text: str, noun: str) -> int | None:
    """Return the number in '12' or 'receipt 12', None where the text is something else."""
    word = text.strip().casefold().removeprefix(noun).strip()
    return int(word) if word.isascii() and word.isdecimal() and len(word) < 16 else None  # noqa: PLR2004


def receipts_named(
    connection: sqlite3.Connection,
    texts: Sequence[str],
    batch: Iterable[NewDocument],
    *,
    with_shipments: bool = False,
) -> list[int]:
    """Return the receipts that texts like '12' and 'Mill Lane/ML-204' name, also among ``batch``.

    ``with_shipments`` takes shipments too; goods that arrived are named by theirs then.
    Raises ValueProblem naming the text that names none.
    """
    new = [one for one in batch if one.event == "receipt"]
    numbers: list[int] = []
    for text in texts:
        number = document_number(text, "receipt")
        if number is None and with_shipments:
            number = document_number(text, "ship")
        if number is not None:
            events = ("receipt", "ship") if with_shipments else ("receipt",)
            if _event(connection, number) not in events and all(one.number != number for one in new):
                raise ValueProblem(f"'{text}' is no receipt of the book. See: blankbook history")
            numbers.append(number)
            continue
        found = _by_reference(connection, text, new)
        if with_shipments:
            found = [*_with_shipments(connection, found), *_shipments_by_reference(connection, text)]
        if not found:
            raise ValueProblem(
                f"'{text}' names no receipt: write its number, or the party and its reference like "
                "Mill Lane/ML-204."
            )
        numbers.extend(found)
    return sorted(set(numbers))


def _event(connection: sqlite3.Connection, number: int) -> str:
    row = connection.execute("SELECT event FROM document WHERE number = ?", (number,)).fetchone()
    return "" if row is None else str(row[0])


_ARRIVED_FROM = """
SELECT s.number FROM document AS d JOIN document AS s ON s.number = d.follows
WHERE d.number = ? AND d.event = 'receipt' AND s.event = 'ship' AND s.terms <> 'arrival'
"""


def _with_shipments(connection: sqlite3.Connection, found: Sequence[int]) -> list[int]:
    """Return the receipts, in place of those that arrived from a shipment the shipment: a bill follows it."""
    shipments = {number: connection.execute(_ARRIVED_FROM, (number,)).fetchone() for number in found}
    return sorted({number if row is None else row[0] for number, row in shipments.items()})


# Only what has a reference is in the index of references; the query must say so to use it.
_BY_REFERENCE = """
SELECT number FROM document AS d
WHERE event = 'receipt' AND party = ? AND reference = ? AND reference <> ''
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
"""


# What was shipped under a number is charged there before it arrives, and after.
_SHIPMENTS_BY_REFERENCE = _BY_REFERENCE.replace("'receipt'", "'ship'") + " AND terms <> 'arrival'"


def _shipments_by_reference(connection: sqlite3.Connection, text: str) -> list[int]:
    """Return shipments by party and reference, as `_by_reference` does receipts."""
    parts = text.strip().split("/")
    for cut in range(1, len(parts)):
        names = ("/".join(parts[:cut]).strip(), "/".join(parts[cut:]).strip())
        found = [row[0] for row in connection.execute(_SHIPMENTS_BY_REFERENCE, names)]
        if found:
            return found
    return []


def _by_reference(connection: sqlite3.Connection, text: str, new: Sequence[NewDocument]) -> list[int]:
    """Return receipts by party and reference; either may hold a slash, so every split is tried."""
    parts = text.strip().split("/")
    for cut in range(1, len(parts)):
        party, reference = "/".join(parts[:cut]).strip(), "/".join(parts[cut:]).strip()
        rows = connection.execute(_BY_REFERENCE, (party, reference))
        found = [row[0] for row in rows]
        found += [
            one.number
            for one in new
            if (one.party or "").casefold() == party.casefold() and one.reference == reference
        ]
        if found:
            return found
    return []


# What came back is added up once for the whole item: asked for sale by sale it would be looked for
# among all lines of the book each time.
_SOLD = """
SELECT l.document, l.line, d.effect_date, coalesce(d.party, ''), d.reference,
    l.quantity_milli - coalesce(back.quantity_milli, 0)
FROM document_line AS l JOIN document AS d ON d.number = l.document AND d.event = 'sale'
LEFT JOIN (
    SELECT b.lot_document, b.lot_line, sum(b.quantity_milli) AS quantity_milli
    FROM document_line AS b JOIN document AS bd ON bd.number = b.document AND bd.event = 'take back'
    WHERE b.sku = ?1 AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = bd.number)
    GROUP BY b.lot_document, b.lot_line
) AS back ON back.lot_document = l.document AND back.lot_line = l.line
WHERE l.sku = ?1 AND d.effect_date <= ?2
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
"""


def sold_lines(
    connection: sqlite3.Connection, sku: str, on: str, batch: Sequence[NewDocument]
) -> list[SoldLine]:
    """Return the sales of an item up to a day with something still out, the latest first."""
    lines = [SoldLine(*row) for row in connection.execute(_SOLD, (sku, on))]
    back: dict[tuple[int | None, int | None], int] = {}
    for document in batch:
        for line in document.lines:
            if document.event == "take back" and line.sku == sku:
                key = (line.lot_document, line.lot_line)
                back[key] = back.get(key, 0) + line.quantity_milli
            elif document.event == "sale" and line.sku == sku and document.effect_date <= on:
                head = (document.number, line.line, document.effect_date)
                lines.append(SoldLine(*head, document.party or "", document.reference, line.quantity_milli))
    open_lines = [
        SoldLine(
            one.document,
            one.line,
            one.effect_date,
            one.party,
            one.reference,
            one.left - back.get((one.document, one.line), 0),
        )
        for one in lines
    ]
    open_lines = [one for one in open_lines if one.left > 0]
    return sorted(open_lines, key=lambda one: (one.effect_date, one.document, one.line), reverse=True)


@dataclass(frozen=True, slots=True)
class ReturnWish:
    """What a customer brings back, and what is known of the sale."""

    sku: str
    quantity: int
    party: str
    reference: str
    applies_to: tuple[str, ...]


def split_return(wish: ReturnWish, sold: Sequence[SoldLine]) -> list[ReturnPart]:
    """Return which sales a return belongs to: those named, else the most recent, latest first.

    Raises ValueProblem where fewer pieces are out than come back.
    """
    matching = [one for one in sold if _matches(one, wish)]
    named = wish.reference or ", ".join(wish.applies_to)
    if not matching and named:
        raise ValueProblem(
            f"no sale of {wish.sku} with anything still out has the number {named}. Check the number and the "
            "date, or leave it out for the most recent sales."
        )
    parts = []
    missing = wish.quantity
    for one in matching:
        quantity = min(missing, one.left)
        if quantity:
            parts.append(ReturnPart(one.document, one.line, quantity))
            missing -= quantity
    if missing:
        out = show_quantity(wish.quantity - missing)
        of = f" of {named}" if named else ""
        raise ValueProblem(
            f"{show_quantity(wish.quantity)} of {wish.sku} come back, but only {out}{of} are still out. "
            "Check the quantity, the date and the order's number."
        )
    return parts


def _matches(one: SoldLine, wish: ReturnWish) -> bool:
    if wish.applies_to:
        return any(
            document_number(text, "sale") == one.document or text.strip() == one.reference
            for text in wish.applies_to
        )
    if wish.reference and one.reference != wish.reference:
        return False
    return not wish.party or not one.party or one.party.casefold() == wish.party.casefold()


def returned_lot(
    connection: sqlite3.Connection, sku: str, lot: str, receipts: Sequence[int], batch: Sequence[NewDocument]
) -> tuple[int, int]:
    """Return the receipt line that goods sent back came in with, by lot ('12.3') or by receipt.

    Raises ValueProblem where the lot is not of the item, or the receipt has no line of it.
    """
    if lot:
        head, _, tail = lot.partition(".")
        wanted = (document_number(head, "") or 0, document_number(tail, "") or 0)
        if wanted in _arrival_lines(connection, sku, batch):
            return wanted
        raise ValueProblem(f"lot {lot[:40]} is no receipt's lot of {sku}. See: blankbook lots {sku} --all")
    for line in _arrival_lines(connection, sku, batch):
        if line[0] in receipts:
            return line
    raise ValueProblem(f"receipt {', '.join(map(str, receipts))} has no line of {sku}.")


def _arrival_lines(
    connection: sqlite3.Connection, sku: str, batch: Sequence[NewDocument]
) -> list[tuple[int, int]]:
    rows = connection.execute(
        "SELECT l.document, l.line FROM document_line AS l JOIN document AS d ON d.number = l.document "
        "WHERE l.sku = ? AND d.event IN ('receipt', 'opening') "
        "AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number) "
        "ORDER BY l.document, l.line",
        (sku,),
    )
    found = [(document, line) for document, line in rows]
    found += [
        (one.number, line.line)
        for one in batch
        for line in one.lines
        if one.event in ("receipt", "opening") and line.sku == sku
    ]
    return found
