"""Where lots went and what stands behind them, as people and scripts see it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ledger.book.looking import DocumentRow
from ledger.book.recalling import Recall
from ledger.book.tracing import Ahead, Departure, Held, Lot, Source
from ledger.book.tracing_arrivals import ARRIVED, CLAIMED, MISSING
from ledger.costing.shelf import LotId
from ledger.errors import UsageError
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import round_fraction
from ledger.views import figures
from ledger.views.tables import Table, paragraphs

_LOT = re.compile(r"(lot\s+)?(\d{1,15})\.(\d{1,15})", re.IGNORECASE)


@dataclass(frozen=True)
class DocumentTrace:
    """A document with the lots behind it, and where the lots it made went."""

    document: DocumentRow
    behind: tuple[Source, ...]
    ahead: tuple[Ahead, ...]


def read_lot(text: str) -> LotId | None:
    """Return a lot typed as 12.3 or 'lot 12.3', None for what can only be a document.

    Raises UsageError for a lot that cannot be one.
    """
    word = text.strip()
    match = _LOT.fullmatch(word)
    if match is not None:
        return int(match[2]), int(match[3])
    if "." in word:
        raise UsageError(f"'{word}' is not a lot; a lot is its document and line, like 12.3.")
    return None


def show_lot(key: LotId) -> str:
    """Return a lot as it is shown: 12.3."""
    return f"{key[0]}.{key[1]}"


def lot_trace_text(ahead: Ahead, behind: Sequence[Source]) -> str:
    """Return where one lot came from, where it went, and what of it is still on hand."""
    lot = ahead.seeds[0]
    return paragraphs([_lot_head(lot), _behind_text(behind[1:], _made_from(lot)), *_ahead_parts(ahead)])


def _made_from(lot: Lot) -> str:
    return "It was under way as:" if lot.event == ARRIVED else "It was made from:"


def _lot_head(lot: Lot) -> str:
    amount = f"{figures.quantity(lot.received_milli)} {lot.base_unit}"
    return f"Lot {show_lot(lot.key)}: {amount} of {lot.sku}, {_origin(lot)}."


def _origin(lot: Lot) -> str:
    words = [f"{lot.event} {lot.document} of {lot.effect_date}"]
    if lot.party:
        words.append(lot.party)
    if lot.reference:
        words.append(lot.reference)
    return ", ".join(words)


def _ahead_parts(ahead: Ahead) -> list[str]:
    heading = _of(ahead.seeds)
    coming = _under_way_text(ahead.under_way, heading)
    if coming and not ahead.departures:
        return [coming]
    return [_departures_text(ahead), coming, _on_hand_text(ahead.on_hand, heading)]


def _of(seeds: Sequence[Lot]) -> str:
    """Return the heading of the column that tells how much of the traced lot is there; '' for several."""
    return f">{seeds[0].base_unit} of {show_lot(seeds[0].key)}" if len(seeds) == 1 else ""


def _departures_text(ahead: Ahead) -> str:
    if not ahead.departures:
        return "Nothing has left it."
    heading = _of(ahead.seeds)
    columns = ["from lot", "date", "document", "party", "reference", "SKU", ">quantity", ">back", "unit"]
    table = Table([*columns, *([heading] if heading else []), "into lot"])
    for each in ahead.departures:
        table.add(
            show_lot(each.lot),
            each.effect_date,
            _document_words(each),
            each.party,
            each.reference,
            each.sku,
            figures.quantity(each.quantity_milli),
            figures.quantity(each.back_milli) if each.back_milli else "",
            each.base_unit,
            *([_inside(each.inside)] if heading else []),
            show_lot(each.makes) if each.makes else "",
        )
    return paragraphs(["Where it went:", table.text()])


def _document_words(each: Departure) -> str:
    if each.event in (CLAIMED, MISSING):
        return f"{ARRIVED} {each.document}, {each.event}"
    spoiled = ", spoiled" if each.what == "spoil" != each.event else ""
    return f"{each.event} {each.document}{spoiled}"


def _inside(exact: Fraction | None) -> str:
    return "" if exact is None else figures.quantity(round_fraction(exact))


def _on_hand_text(held: Iterable[Held], heading: str) -> str:
    rows = list(held)
    if not rows:
        return "Nothing of it is on hand."
    table = Table(["lot", "SKU", ">on hand", "unit", *([heading] if heading else [])])
    for each in rows:
        lot = each.lot
        table.add(
            show_lot(lot.key),
            lot.sku,
            figures.quantity(lot.on_hand_milli),
            lot.base_unit,
            *([_inside(each.inside)] if heading else []),
        )
    return paragraphs(["Still on hand:", table.text()])


def _under_way_text(held: Iterable[Held], heading: str) -> str:
    """Return what of lots has not arrived yet, '' where nothing is under way."""
    rows = list(held)
    if not rows:
        return ""
    table = Table(["lot", "SKU", ">under way", "unit", *([heading] if heading else [])])
    for each in rows:
        lot = each.lot
        table.add(
            show_lot(lot.key),
            lot.sku,
            figures.quantity(lot.under_way_milli),
            lot.base_unit,
            *([_inside(each.inside)] if heading else []),
        )
    return paragraphs(["Still under way:", table.text()])


def _behind_text(behind: Sequence[Source], words: str) -> str:
    if not behind:
        return ""
    table = Table(["lot", "SKU", ">quantity", "unit", "into lot", "came by", "date", "party", "reference"])
    for each in behind:
        lot = each.lot
        table.add(
            show_lot(lot.key),
            lot.sku,
            figures.quantity(round_fraction(each.quantity)),
            lot.base_unit,
            ", ".join(show_lot(key) for key in each.into),
            f"{lot.event} {lot.document}",
            lot.effect_date,
            lot.party,
            lot.reference,
        )
    return paragraphs([words, table.text()])


def document_trace_text(traced: DocumentTrace) -> str:
    """Return what stands behind a document, and where the lots it made went."""
    document = traced.document
    head = f"{document.event} {document.number} of {document.effect_date}"
    head = ", ".join(filter(None, (head, document.party, document.reference)))
    if not traced.behind and not traced.ahead:
        if document.undone_by:
            return f"{head}: undone by document {document.undone_by}, it moved nothing."
        return f"{head}: it moved no pieces of any lot."
    parts = [f"{head}.", _behind_text(traced.behind, "Behind it:")]
    for ahead in traced.ahead:
        parts += [_lot_head(ahead.seeds[0]), *_ahead_parts(ahead)]
    return paragraphs(parts)


def recall_text(found: Recall) -> str:
    """Return who to tell about bad lots, what is still on hand, and what else became of them."""
    heading = _of(found.seeds)
    heads = "\n".join(_lot_head(lot) for lot in found.seeds)
    return paragraphs(
        [
            heads,
            _holders_text(found, heading),
            _under_way_text(found.under_way, heading),
            _on_hand_text(found.on_hand, heading),
            _elsewhere_text(found, heading),
        ]
    )


def _holders_text(found: Recall, heading: str) -> str:
    if not found.holders:
        return "Nobody holds anything of it."
    columns = ["party", "reference", "date", "document", "SKU", ">pieces", "unit"]
    table = Table([*columns, *([heading] if heading else [])])
    for each in found.holders:
        table.add(
            each.party or "not named",
            each.reference,
            each.effect_date,
            f"{each.event} {each.document}",
            each.sku,
            figures.quantity(each.held_milli),
            each.base_unit,
            *([_inside(each.inside)] if heading else []),
        )
    return paragraphs(["Who holds something of it, returns taken off:", table.text()])


def _elsewhere_text(found: Recall, heading: str) -> str:
    rows = [each for each in found.elsewhere if each.quantity_milli]
    if not rows:
        return ""
    table = Table(["what", "SKU", ">quantity", "unit", *([heading] if heading else [])])
    for each in rows:
        table.add(
            each.event,
            each.sku,
            figures.quantity(each.quantity_milli),
            each.base_unit,
            *([_inside(each.inside)] if heading else []),
        )
    return paragraphs(["What else became of it:", table.text()])


def lot_trace_as_data(ahead: Ahead, behind: Sequence[Source]) -> dict[str, Any]:
    """Return a lot's trace as scripts take it; quantities of the traced lot are in its own unit."""
    return {**_ahead_as_data(ahead), "behind": [_source_as_data(each) for each in behind[1:]]}


def _ahead_as_data(ahead: Ahead) -> dict[str, Any]:
    return {
        **_lot_as_data(ahead.seeds[0]),
        "departures": [
            {
                "from_lot": show_lot(each.lot),
                "date": each.effect_date,
                "document": each.document,
                "line": each.line,
                "event": each.event,
                "what": each.what,
                "party": each.party,
                "reference": each.reference,
                "sku": each.sku,
                "unit": each.base_unit,
                "quantity": show_quantity(each.quantity_milli),
                "taken_back": show_quantity(each.back_milli),
                "quantity_of_lot": _exact(each.inside),
                "into_lot": show_lot(each.makes) if each.makes else None,
            }
            for each in ahead.departures
        ],
        "on_hand": [_held_as_data(each, each.lot.on_hand_milli) for each in ahead.on_hand],
        "under_way": [_held_as_data(each, each.lot.under_way_milli) for each in ahead.under_way],
    }


def _lot_as_data(lot: Lot) -> dict[str, Any]:
    return {
        "lot": show_lot(lot.key),
        "sku": lot.sku,
        "unit": lot.base_unit,
        "quantity_received": show_quantity(lot.received_milli),
        "document": lot.document,
        "event": lot.event,
        "date": lot.effect_date,
        "party": lot.party,
        "reference": lot.reference,
    }


def _held_as_data(each: Held, milli: int) -> dict[str, Any]:
    return {
        "lot": show_lot(each.lot.key),
        "sku": each.lot.sku,
        "unit": each.lot.base_unit,
        "quantity": show_quantity(milli),
        "quantity_of_lot": _exact(each.inside),
    }


def _source_as_data(each: Source) -> dict[str, Any]:
    return {
        **_lot_as_data(each.lot),
        "quantity": _exact(each.quantity),
        "into_lots": [show_lot(key) for key in each.into],
    }


def _exact(milli: Fraction | None) -> str | None:
    """Return an exact quantity in thousandths as text, rounded to a thousandth."""
    return None if milli is None else show_quantity(round_fraction(milli))


def document_trace_as_data(traced: DocumentTrace) -> dict[str, Any]:
    """Return a document's trace as scripts take it."""
    document = traced.document
    return {
        "document": document.number,
        "event": document.event,
        "date": document.effect_date,
        "party": document.party,
        "reference": document.reference,
        "undone_by": document.undone_by,
        "behind": [_source_as_data(each) for each in traced.behind],
        "lots": [_ahead_as_data(each) for each in traced.ahead],
    }


def recall_as_data(found: Recall) -> dict[str, Any]:
    """Return a recall list as scripts take it."""
    return {
        "lots": [_lot_as_data(lot) for lot in found.seeds],
        "holders": [
            {
                "party": each.party,
                "reference": each.reference,
                "date": each.effect_date,
                "document": each.document,
                "event": each.event,
                "sku": each.sku,
                "unit": each.base_unit,
                "pieces": show_quantity(each.held_milli),
                "sold": show_quantity(each.quantity_milli),
                "taken_back": show_quantity(each.back_milli),
                "quantity_of_lot": _exact(each.inside),
            }
            for each in found.holders
        ],
        "on_hand": [_held_as_data(each, each.lot.on_hand_milli) for each in found.on_hand],
        "under_way": [_held_as_data(each, each.lot.under_way_milli) for each in found.under_way],
        "elsewhere": [
            {
                "what": each.event,
                "sku": each.sku,
                "unit": each.base_unit,
                "quantity": show_quantity(each.quantity_milli),
                "quantity_of_lot": _exact(each.inside),
            }
            for each in found.elsewhere
            if each.quantity_milli
        ],
    }
