"""Kept buying decisions in the book: added, read, never changed."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

from ledger.catalogue.parties import normal_name
from ledger.errors import Refused


@dataclass(frozen=True)
class DecisionItem:
    """An item that a decision is about, and what the study calls it; empty where it tells no sizes apart."""

    sku: str
    size: str = ""


@dataclass(frozen=True)
class DecisionSize:
    """How many of one size a decision buys, in whole base units."""

    size: str
    quantity: int


@dataclass(frozen=True, kw_only=True)
class KeptDecision:
    """A buying decision as it was kept.

    Attributes:
        number: 0 while it is not kept yet.
        kept_at: the moment, ISO 8601; ``decided_on`` is the day it was made for.
        subject: the SKU or style it was asked about, with its ``colour``, or the study's name.
        from_book: whether the study was made from the book's quotes and history.
        from_history: the keys of the study's demand that the book's history gave, with a comma between.
        known_documents: the highest document number of that moment; 0 for none.
        study: the whole study as TOML.
        alternative: the one the verdict speaks for; ``is_from_afar`` says whether it buys abroad.
        offer: the offer that is bought from; ``supplier`` is the book's party of it, None where unknown.
        quantity: whole units bought; at home what an order there holds.
        expected_saving: against buying everything at home, in minor units, as standard_error and cash_peak.
        landed_unit_ten_thousandths: what one was expected to cost landed, in ten-thousandths of a minor unit,
            as ``sold_unit_ten_thousandths`` and ``home_unit_ten_thousandths``.
        lead_time_days_milli: thousandths of a day from order to shelf.
        demand_per_month_milli: thousandths of a unit that were expected to be wanted in a month.
        order_by: the latest day to order on, ISO 8601; empty where there was none to give.
        orders: the orders that somebody said it led to.
    """

    number: int = 0
    kept_at: str
    decided_on: str
    subject: str
    colour: str = ""
    from_book: bool
    from_history: str = ""
    known_documents: int = 0
    currency: str
    unit: str = ""
    horizon_months: int
    study: str
    seed: int
    futures: int
    verdict: str
    sentence: str
    alternative: str
    is_from_afar: bool
    offer: str = ""
    supplier: str | None = None
    quantity: int
    expected_saving: int | None = None
    standard_error: int | None = None
    cash_peak: int | None = None
    landed_unit_ten_thousandths: int | None = None
    sold_unit_ten_thousandths: int | None = None
    lead_time_days_milli: int | None = None
    demand_per_month_milli: int
    weeks_of_cover_milli: int | None = None
    order_by: str = ""
    home_offer: str = ""
    home_supplier: str | None = None
    home_unit_ten_thousandths: int | None = None
    why: str = ""
    items: tuple[DecisionItem, ...] = ()
    sizes: tuple[DecisionSize, ...] = ()
    orders: tuple[int, ...] = ()

    @property
    def skus(self) -> tuple[str, ...]:
        """The items it is about."""
        return tuple(item.sku for item in self.items)

    @property
    def label(self) -> str:
        """What it is about, in words."""
        return " ".join(filter(None, (self.subject, self.colour)))


_APART = ("items", "sizes", "orders")
_COLUMNS = tuple(each.name for each in fields(KeptDecision) if each.name not in _APART)
_FLAGS = ("from_book", "is_from_afar")
MONEY_COLUMNS = tuple(
    name for name in _COLUMNS if name.endswith(("_saving", "_error", "_peak", "_thousandths", "_milli"))
)
"""The columns of figures: whole numbers, or null."""

_READ = f"SELECT {', '.join(_COLUMNS)}, content_sha256 FROM decision ORDER BY number"  # noqa: S608  (our own columns)
_ADD = (
    f"INSERT INTO decision ({', '.join(_COLUMNS)}, content_sha256) "  # noqa: S608  (our own columns)
    f"VALUES ({', '.join('?' * (len(_COLUMNS) + 1))})"
)


def fingerprint(kept: KeptDecision) -> str:
    """Return the SHA-256 over everything that was kept, orders told later apart.

    Its canonical form is JSON: the columns in the table's order, then each item with its size by SKU, then
    each size with its quantity as they stand.
    """
    content = [
        *(getattr(kept, name) for name in _COLUMNS),
        [[item.sku, item.size] for item in sorted(kept.items, key=lambda item: item.sku)],
        [[each.size, each.quantity] for each in kept.sizes],
    ]
    return hashlib.sha256(json.dumps(content, ensure_ascii=False).encode()).hexdigest()


def keep(connection: sqlite3.Connection, kept: KeptDecision) -> KeptDecision:
    """Add a decision, inside the caller's transaction; returns it with its number."""
    number, known = connection.execute(
        "SELECT (SELECT coalesce(max(number), 0) + 1 FROM decision), (SELECT coalesce(max(number), 0) FROM document)"
    ).fetchone()
    kept = replace(kept, number=number, known_documents=known)
    values = [int(value) if isinstance(value := getattr(kept, name), bool) else value for name in _COLUMNS]
    connection.execute(_ADD, (*values, fingerprint(kept)))
    connection.executemany(
        "INSERT INTO decision_item (decision, sku, size) VALUES (?, ?, ?)",
        [(number, item.sku, item.size) for item in kept.items],
    )
    connection.executemany(
        "INSERT INTO decision_size (decision, position, size, quantity) VALUES (?, ?, ?, ?)",
        [(number, place, each.size, each.quantity) for place, each in enumerate(kept.sizes, 1)],
    )
    return kept


def tell_order(connection: sqlite3.Connection, number: int, order: int, now: str) -> None:
    """Record that a decision led to an order, inside the caller's transaction.

    Raises Refused where the decision or the order is not there, or the order is told of one already.
    """
    kept = find_decision(connection, number)
    event = connection.execute("SELECT event FROM document WHERE number = ?", (order,)).fetchone()
    if event is None or event[0] != "order":
        raise Refused(f"document {order} is no order of the book. See the orders with: blankbook order")
    told = connection.execute(
        "SELECT decision FROM decision_order WHERE order_document = ?", (order,)
    ).fetchone()
    if told is not None:
        raise Refused(f"order {order} is told as what decision {told[0]} led to; that stays.")
    connection.execute(
        "INSERT INTO decision_order (decision, order_document, told_at) VALUES (?, ?, ?)",
        (kept.number, order, now),
    )


def find_decisions(connection: sqlite3.Connection) -> list[KeptDecision]:
    """Return all kept decisions, the oldest first."""
    return [sealed.kept for sealed in sealed_decisions(connection)]


def find_decision(connection: sqlite3.Connection, number: int) -> KeptDecision:
    """Return one kept decision; raises Refused where there is none of that number."""
    for kept in find_decisions(connection):
        if kept.number == number:
            return kept
    raise Refused(f"there is no kept decision {number}. See what was kept with: blankbook review")


def party_of(offer: str, parties: Sequence[str]) -> str | None:
    """Return the party whose offer this is by its name: 'Mill Lane' or 'Mill Lane, winter list'.

    >>> party_of("mill lane, winter list", ["Mill", "Mill Lane"])
    'Mill Lane'
    """
    whole, before = normal_name(offer), normal_name(offer.partition(",")[0])
    named = {normal_name(party): party for party in parties}
    if whole in named:
        return named[whole]
    begun = [name for name in named if whole.startswith(f"{name},")]
    return named[max(begun, key=len)] if begun else named.get(before)


@dataclass(frozen=True)
class SealedDecision:
    """A kept decision beside the fingerprint that it was given when it was kept."""

    kept: KeptDecision
    sha256: str

    @property
    def is_changed(self) -> bool:
        """Whether it is not what was kept."""
        return fingerprint(self.kept) != self.sha256


def sealed_decisions(connection: sqlite3.Connection) -> list[SealedDecision]:
    """Return all kept decisions with their fingerprints, the oldest first."""
    items: dict[int, list[DecisionItem]] = {}
    for number, sku, size in connection.execute(
        "SELECT decision, sku, size FROM decision_item ORDER BY decision, sku"
    ):
        items.setdefault(number, []).append(DecisionItem(sku, size))
    sizes: dict[int, list[DecisionSize]] = {}
    for number, size, quantity in connection.execute(
        "SELECT decision, size, quantity FROM decision_size ORDER BY decision, position"
    ):
        sizes.setdefault(number, []).append(DecisionSize(size, quantity))
    orders: dict[int, list[int]] = {}
    for number, order in connection.execute(
        "SELECT decision, order_document FROM decision_order ORDER BY decision, order_document"
    ):
        orders.setdefault(number, []).append(order)
    found = []
    for row in connection.execute(_READ).fetchall():
        values = dict(zip((*_COLUMNS, "sha256"), row, strict=True))
        told = values.pop("sha256")
        values |= {name: bool(values[name]) for name in _FLAGS}
        number = values["number"]
        kept = KeptDecision(
            **values,
            items=tuple(items.get(number, ())),
            sizes=tuple(sizes.get(number, ())),
            orders=tuple(orders.get(number, ())),
        )
        found.append(SealedDecision(kept, told))
    return found
