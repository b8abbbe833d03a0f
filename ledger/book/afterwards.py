"""Afterwards: what an offer made one expect of an order, against what it really cost and how long it took."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.book.buying import entry_fees_of, order_line
from ledger.book.catalogue_store import find_items, find_packs
from ledger.book.purchases import ordered_on
from ledger.book.quote_store import OfferState, find_duties, find_homes, offer_history
from ledger.book.shop import Shop
from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack
from ledger.catalogue.parties import normal_name
from ledger.errors import ValueProblem
from ledger.exact.quantity import MILLI
from ledger.exact.rounding import round_fraction
from ledger.sourcing import landed_estimate as parts
from ledger.sourcing.duties import DutyLayer
from ledger.sourcing.landed_estimate import LandedEstimate, landed_estimate
from ledger.sourcing.offered_unit import offered_pack
from ledger.sourcing.offers import Home, quote_of
from ledger.sourcing.price_breaks import covers
from ledger.sourcing.quote import Entry, OrderQuantities, Quote

GOODS = "goods"
OTHER = "other"
CLAIM = "claim for defects"
"""What a claim for bad pieces was expected to return: a negative cost, apart from the goods."""

_KIND_OF_PART: Mapping[str, str] = {
    parts.GOODS: GOODS,
    parts.CLAIM: CLAIM,
    parts.INLAND: "freight",
    parts.FREIGHT: "freight",
    parts.INSURANCE: "insurance",
    parts.DUTY: "duty",
    parts.PROCESSING_FEE: "entry_fee",
    parts.HARBOR_FEE: "entry_fee",
    parts.BROKERAGE: "brokerage",
    parts.BOND: "brokerage",
    parts.TERMINAL: "terminal",
    parts.DELIVERY: "delivery",
    parts.BANK_FEE: "bank_fee",
    parts.SAMPLE: OTHER,
}
"""The kind of charge that a part of an estimate is billed as."""

KINDS = (
    GOODS,
    CLAIM,
    *dict.fromkeys(kind for kind in _KIND_OF_PART.values() if kind not in {GOODS, CLAIM, OTHER}),
    OTHER,
)

_OF_GOODS = {"goods", "discount"}
"""Kinds of charge that give or lower the price itself."""


@dataclass(frozen=True)
class KindDifference:
    """What one kind of cost was expected to be and was, in the book's minor units."""

    kind: str
    predicted_minor: int
    actual_minor: int


@dataclass(frozen=True)
class OrderOutcome:
    """One order that came in, against the offer of its time.

    ``problem`` says why nothing could be predicted; then the predicted figures are zero. Days are from
    order to arrival, None where they are not known.
    """

    receipt: int
    received_on: str
    supplier: str
    offer: str
    quantity_milli: int
    unit: str
    kinds: tuple[KindDifference, ...]
    predicted_days: float | None = None
    actual_days: int | None = None
    problem: str = ""

    @property
    def predicted_minor(self) -> int:
        """The landed cost that was to be expected."""
        return sum(each.predicted_minor for each in self.kinds)

    @property
    def actual_minor(self) -> int:
        """The landed cost, late charges included."""
        return sum(each.actual_minor for each in self.kinds)


@dataclass(frozen=True)
class _Line:
    line: int
    sku: str
    quantity_milli: int
    invoice_minor: int
    claimed_minor: int


@dataclass(frozen=True)
class _Receipt:
    number: int
    received_on: str
    party: str
    rate: Fraction
    currency: str
    lines: tuple[_Line, ...]
    ordered_on: str | None

    @property
    def decided_on(self) -> str:
        """The day the buying was decided: of the order, else of the receipt."""
        return self.ordered_on or self.received_on


@dataclass(frozen=True)
class _Known:
    items: Mapping[str, Item]
    packs: Mapping[str, Sequence[Pack]]
    homes: Mapping[str, Home]
    layers: tuple[DutyLayer, ...]
    states: tuple[OfferState, ...]
    shop: Shop


def outcomes(connection: sqlite3.Connection, shop: Shop) -> list[OrderOutcome]:
    """Return every receipt that an offer of its time covers, the latest first.

    Of an offer the latest state counts that was quoted (else recorded) on the day of the order or before.
    """
    known = _Known(
        items=find_items(connection),
        packs=find_packs(connection),
        homes=find_homes(connection),
        layers=tuple(row.layer() for row in find_duties(connection)),
        states=tuple(offer_history(connection)),
        shop=shop,
    )
    found = []
    for receipt in _receipts(connection):
        for state, lines in _by_offer(known, receipt):
            found.append(_outcome(connection, known, receipt, state, lines))
    return sorted(found, key=lambda each: (each.received_on, each.receipt), reverse=True)


def _receipts(connection: sqlite3.Connection) -> Iterator[_Receipt]:
    heads = connection.execute(
        "SELECT number, coalesce(arrived_on, document_date), party, rate, currency FROM document AS d "
        "WHERE event = 'receipt' AND party IS NOT NULL "
        "AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number) ORDER BY number"
    ).fetchall()
    for number, received_on, party, rate, currency in heads:
        lines = connection.execute(
            "SELECT l.line, l.sku, l.quantity_milli, lot.invoice_cost, coalesce(l.claimed_amount, 0) FROM document_line AS l "
            "JOIN lot ON lot.document = l.document AND lot.line = l.line "
            "WHERE l.document = ? AND l.quantity_milli > 0 ORDER BY l.line",
            (number,),
        )
        ordered = ordered_on(connection, number)
        yield _Receipt(
            number, received_on, party, Fraction(rate), currency, tuple(_Line(*row) for row in lines), ordered
        )


def _by_offer(known: _Known, receipt: _Receipt) -> Iterator[tuple[OfferState, list[_Line]]]:
    """Return the offers that cover lines of a receipt; a line goes to the offer that was quoted last."""
    standing: dict[str, OfferState] = {}
    for state in known.states:
        is_theirs = normal_name(state.offer.supplier) == normal_name(receipt.party)
        if is_theirs and _day(state) <= receipt.decided_on:
            standing[normal_name(state.offer.offer)] = state
    newest = sorted(standing.values(), key=_day, reverse=True)
    taken: dict[str, list[_Line]] = {}
    for line in receipt.lines:
        for state in newest:
            quote = _quote(known, state)
            wanted = order_line(quote, known.items[line.sku], 1)
            if any(covers(group, wanted) for group in quote.prices):
                taken.setdefault(state.offer.name, []).append(line)
                break
    for state in newest:
        if state.offer.name in taken:
            yield state, taken[state.offer.name]


def _day(state: OfferState) -> str:
    offer = state.offer
    return offer.text("quoted_on") or offer.text("valid_from") or state.recorded_at[:10]


def _quote(known: _Known, state: OfferState) -> Quote:
    home = known.homes.get(normal_name(state.offer.supplier), known.homes[""])
    return quote_of(state.offer, home)


def _outcome(
    connection: sqlite3.Connection,
    known: _Known,
    receipt: _Receipt,
    state: OfferState,
    lines: Sequence[_Line],
) -> OrderOutcome:
    predicted: dict[str, int] = {}
    problem = ""
    quote = _quote(known, state)
    try:
        estimate = _predicted(known, receipt, quote, lines)
        for part in estimate.parts:
            kind = _KIND_OF_PART[part.name]
            predicted[kind] = predicted.get(kind, 0) + part.amount_minor
    except ValueProblem as error:
        problem = str(error)
    actual = _actual(connection, receipt, lines)
    return OrderOutcome(
        receipt=receipt.number,
        received_on=receipt.received_on,
        supplier=state.offer.supplier,
        offer=state.offer.offer,
        quantity_milli=sum(line.quantity_milli for line in lines),
        unit=known.items[lines[0].sku].base_unit,
        kinds=tuple(
            KindDifference(kind, predicted.get(kind, 0), actual.get(kind, 0))
            for kind in KINDS
            if predicted.get(kind) or actual.get(kind)
        ),
        predicted_days=quote.lead_time.mean_days or None,
        actual_days=_days(receipt),
        problem=problem,
    )


def _predicted(known: _Known, receipt: _Receipt, quote: Quote, lines: Sequence[_Line]) -> LandedEstimate:
    """Return the landed estimate of what was received, at the receipt's own rate and day of entry."""
    day = datetime.date.fromisoformat(receipt.received_on)
    first = known.items[lines[0].sku]
    factor = offered_pack(quote.unit, first, known.packs.get(first.sku, ())).factor
    priced = replace(quote, unit_factor=factor, entry_fees=entry_fees_of(quote, known.shop, day))
    order = OrderQuantities(
        tuple(
            order_line(
                priced,
                known.items[line.sku],
                max(1, round_fraction(Fraction(line.quantity_milli, MILLI) / factor)),
            )
            for line in lines
        )
    )
    own = quote.freight.currency
    if quote.currency not in {receipt.currency, known.shop.currency} or (
        own and own not in {quote.currency, known.shop.currency}
    ):
        raise ValueProblem(
            f"the offer is in {quote.currency} and the bill in {receipt.currency}: no rate of that day is kept."
        )
    entry = Entry(
        on=day,
        currency=known.shop.currency,
        rate=receipt.rate if quote.currency == receipt.currency else Fraction(1),
        destination=known.shop.country,
        duty_layers=known.layers,
    )
    return landed_estimate(priced, order, entry)


def _actual(connection: sqlite3.Connection, receipt: _Receipt, lines: Sequence[_Line]) -> dict[str, int]:
    """Return what the lines cost by kind, in minor units: their invoice, and every share of a charge.

    The lots' invoice cost is already without what was claimed when the goods came; here it stands apart.
    """
    claimed = sum(line.claimed_minor for line in lines)
    actual = {GOODS: sum(line.invoice_minor for line in lines) + claimed, CLAIM: -claimed}
    for line in lines:
        rows = connection.execute(
            "SELECT l.charge_kind, s.amount FROM charge_share AS s "
            "JOIN document_line AS l ON l.document = s.document AND l.line = s.line "
            "WHERE s.receipt_document = ? AND s.receipt_line = ? "
            "AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = s.document)",
            (receipt.number, line.line),
        )
        for charge_kind, amount in rows:
            kind = GOODS if charge_kind in _OF_GOODS else charge_kind if charge_kind in KINDS else OTHER
            actual[kind] = actual.get(kind, 0) + amount
    return actual


def _days(receipt: _Receipt) -> int | None:
    if receipt.ordered_on is None:
        return None
    ordered = datetime.date.fromisoformat(receipt.ordered_on)
    return (datetime.date.fromisoformat(receipt.received_on) - ordered).days
