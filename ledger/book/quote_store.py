"""Offers and duties in the book: as they stand, and every state they had."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from ledger.book.catalogue_store import ensure_party, find_parties
from ledger.book.shop import read_shop
from ledger.catalogue.parties import normal_name
from ledger.sourcing.duty_columns import DutyRow
from ledger.sourcing.offered_quote import Home, quote_of
from ledger.sourcing.offers import Offer, OfferRow
from ledger.sourcing.quote import Quote
from ledger.sourcing.quote_columns import OFFER_COLUMNS
from ledger.sourcing.quote_readers import read_breaks, show_breaks

_HEAD = ", ".join(OFFER_COLUMNS)
_DUTY_COLUMNS = "program, customs_class, origin, rate, start, until, source, checked_on, is_example, note"


@dataclass(frozen=True)
class OfferState:
    """An offer as it stood from a moment on, or as it was when it was withdrawn at that moment."""

    recorded_at: str
    offer: Offer
    is_withdrawn: bool = False


def find_offers(connection: sqlite3.Connection) -> dict[tuple[str, str], Offer]:
    """Return the offers as they stand, by supplier and offer folded for comparing."""
    breaks: dict[tuple[str, str, int], list[str]] = {}
    for supplier, offer, position, start, price in connection.execute(
        "SELECT supplier, offer, position, from_quantity, price FROM quote_break "
        "ORDER BY supplier, offer, position, from_quantity"
    ):
        breaks.setdefault((supplier, offer, position), []).append(f"{start} = {price}")
    rows: dict[tuple[str, str], list[OfferRow]] = {}
    for supplier, offer, position, sku, style, colours, sizes in connection.execute(
        "SELECT supplier, offer, position, sku, style, colours, sizes FROM quote_price "
        "ORDER BY supplier, offer, position"
    ):
        prices = "; ".join(breaks.get((supplier, offer, position), []))
        rows.setdefault((supplier, offer), []).append(OfferRow(sku, style, colours, sizes, prices))
    found = {}
    query = f"SELECT supplier, offer, {_HEAD} FROM quote ORDER BY supplier, offer"  # noqa: S608  (our own columns)
    for supplier, offer, *texts in connection.execute(query):
        head = {name: text for name, text in zip(OFFER_COLUMNS, texts, strict=True) if text}
        found[offer_key(supplier, offer)] = Offer(
            supplier, offer, head, tuple(rows.get((supplier, offer), ()))
        )
    return found


def offer_key(supplier: str, offer: str) -> tuple[str, str]:
    """Return what tells an offer from others, whatever its capitals and blanks."""
    return normal_name(supplier), normal_name(offer)


def save_offers(connection: sqlite3.Connection, offers: Iterable[Offer], now: str) -> None:
    """Add or amend offers and note the state of each, inside the caller's transaction.

    A supplier the book does not know is added by name. ``now`` is the moment, ISO 8601.
    """
    from sqlite_utils import Database  # noqa: PLC0415  (slow, and only needed where offers change)

    db = Database(connection, execute_plugins=False)
    for offer in offers:
        key = _key(connection, offer)
        values = tuple(key.values())
        connection.execute("DELETE FROM quote_price WHERE supplier = ? AND offer = ?", values)
        head = {name: offer.text(name) for name in OFFER_COLUMNS}
        db.table("quote").upsert({**key, **head}, pk=("supplier", "offer"))
        db.table("quote_price").upsert_all(
            [
                {
                    **key,
                    "position": position,
                    "sku": row.sku,
                    "style": row.style,
                    "colours": row.colours,
                    "sizes": row.sizes,
                }
                for position, row in enumerate(offer.rows, start=1)
            ],
            pk=("supplier", "offer", "position"),
        )
        db.table("quote_break").upsert_all(
            [
                {**key, "position": position, "from_quantity": each.from_quantity, "price": price}
                for position, row in enumerate(offer.rows, start=1)
                for each in read_breaks(row.prices)
                for price in [show_breaks((each,)).partition("= ")[2]]
            ],
            pk=("supplier", "offer", "position", "from_quantity"),
        )
        _note(connection, values, _content(offer), now)


def _key(connection: sqlite3.Connection, offer: Offer) -> dict[str, str]:
    """Return supplier and offer as the book spells them: rows of the three tables are joined by them."""
    supplier = ensure_party(connection, offer.supplier)
    row = connection.execute(
        "SELECT supplier, offer FROM quote WHERE supplier = ? AND offer = ?", (supplier, offer.offer)
    ).fetchone()
    return {"supplier": row[0], "offer": row[1]} if row else {"supplier": supplier, "offer": offer.offer}


def offer_history(connection: sqlite3.Connection) -> list[OfferState]:
    """Return every state that offers had, oldest first."""
    rows = connection.execute("SELECT recorded_at, supplier, offer, content FROM quote_change ORDER BY id")
    return [
        _state(recorded_at, Offer(supplier, offer), json.loads(content))
        for recorded_at, supplier, offer, content in rows
    ]


def _state(recorded_at: str, named: Offer, data: dict[str, Any]) -> OfferState:
    rows = tuple(OfferRow(**row) for row in data["rows"])
    return OfferState(recorded_at, replace(named, head=data["head"], rows=rows), bool(data.get("withdrawn")))


def withdraw_offer(connection: sqlite3.Connection, offer: Offer, now: str) -> None:
    """Take an offer out of those that stand and note it in the history, inside the caller's transaction."""
    key = (offer.supplier, offer.offer)
    connection.execute("DELETE FROM quote WHERE supplier = ? AND offer = ?", key)
    _note(connection, key, {**_content(offer), "withdrawn": True}, now)


def _content(offer: Offer) -> dict[str, Any]:
    return {"head": dict(offer.head), "rows": [asdict(row) for row in offer.rows]}


def _note(connection: sqlite3.Connection, key: tuple[str, ...], content: dict[str, Any], now: str) -> None:
    connection.execute(
        "INSERT INTO quote_change (recorded_at, supplier, offer, content) VALUES (?, ?, ?, ?)",
        (now, *key, json.dumps(content, ensure_ascii=False)),
    )


def find_homes(connection: sqlite3.Connection) -> Mapping[str, Home]:
    """Return what an offer takes where it says nothing, by the supplier's name folded; '' for others."""
    shop = read_shop(connection)
    homes = {
        normal_name(name): Home(shop.currency, shop.country, party.country, party.currency)
        for name, party in find_parties(connection).items()
    }
    return {"": Home(shop.currency, shop.country), **homes}


def find_quotes(connection: sqlite3.Connection) -> list[Quote]:
    """Return every offer as the quote it means, by supplier and offer.

    Duties and entry fees are not in it: the entry date picks them.
    """
    homes = find_homes(connection)
    return [
        quote_of(offer, homes.get(normal_name(offer.supplier), homes[""]))
        for offer in find_offers(connection).values()
    ]


def find_duties(connection: sqlite3.Connection) -> list[DutyRow]:
    """Return the duty layers by program, class, origin and start."""
    rows = connection.execute(
        f"SELECT {_DUTY_COLUMNS} FROM duty_layer ORDER BY program, customs_class, origin, start"  # noqa: S608
    )
    names = [name.strip() for name in _DUTY_COLUMNS.split(",")]
    found = [dict(zip(names, row, strict=True)) for row in rows]
    return [DutyRow(**{**values, "is_example": bool(values["is_example"])}) for values in found]


def save_duties(connection: sqlite3.Connection, rows: Iterable[DutyRow], now: str) -> None:
    """Add or amend duty layers and note the state of each, inside the caller's transaction."""
    from sqlite_utils import Database  # noqa: PLC0415  (as above)

    db = Database(connection, execute_plugins=False)
    for row in rows:
        values = {**asdict(row), "is_example": int(row.is_example)}
        db.table("duty_layer").upsert(values, pk=("program", "customs_class", "origin", "start"))
        connection.execute(
            "INSERT INTO duty_change (recorded_at, program, customs_class, origin, start, content) "
            "VALUES (?, ?, ?, ?, ?, ?)",
            (
                now,
                row.program,
                row.customs_class,
                row.origin,
                row.start,
                json.dumps(values, ensure_ascii=False),
            ),
        )
