"""Afterwards: what an offer made one expect of an order, against what it really cost and how long it took."""

from __future__ import annotations

import datetime
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.book.buying import Day, entry_fees_of, entry_under, order_line
from ledger.book.catalogue_store import find_items, find_packs
from ledger.book.order_offers import (
    Bought,
    BoughtLine,
    Catalogue,
    PlacedOrder,
    offers_by_sku,
    order_behind,
    quoted_day,
)
from ledger.book.quote_store import OfferState, find_duties, find_homes, offer_history
from ledger.book.shop import Shop
from ledger.costing.spreading import spread
from ledger.errors import RateUnknown, ValueProblem
from ledger.exact.quantity import MILLI
from ledger.exact.rounding import round_fraction
from ledger.sourcing import landed_estimate as parts
from ledger.sourcing.duties import DutyLayer
from ledger.sourcing.landed_estimate import LandedEstimate, landed_estimate
from ledger.sourcing.offered_unit import offered_pack
from ledger.sourcing.quote import OrderQuantities, Quote

RateOn = Callable[[str, datetime.date], Fraction]
"""Returns the book's currency for one unit of a currency on a day; raises RateUnknown."""

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
    amount_foreign: int
    invoice_minor: int
    charges_minor: int
    claimed_minor: int
    ship_document: int | None
    ship_line: int | None


@dataclass(frozen=True)
class _Receipt:
    """Goods that came in; ``currency`` and ``rate`` are those they were bought at, of the shipment or the receipt."""

    number: int
    received_on: str
    effect_date: str
    party: str
    rate: Fraction
    currency: str
    lines: tuple[_Line, ...]
    order: PlacedOrder | None

    @property
    def decided_on(self) -> str:
        """The day the buying was decided: of the order, else of the receipt."""
        return self.order.ordered_on if self.order else self.received_on

    def bought(self) -> Bought:
        """Return what was ordered, and what came without being ordered; all that came where nothing was."""
        ordered = self.order.lines if self.order else ()
        known = {line.sku for line in ordered}
        came = tuple(
            BoughtLine(line.sku, line.quantity_milli, line.amount_foreign)
            for line in self.lines
            if line.sku not in known
        )
        return Bought(
            party=self.party,
            decided_on=self.decided_on,
            currency=self.order.currency if self.order else self.currency,
            terms=self.order.terms if self.order else "",
            offer=self.order.offer if self.order else None,
            lines=(*ordered, *came),
        )


@dataclass(frozen=True)
class _Known:
    catalogue: Catalogue
    layers: tuple[DutyLayer, ...]
    states: tuple[OfferState, ...]
    shop: Shop
    rate_on: RateOn


def outcomes(connection: sqlite3.Connection, shop: Shop, rate_on: RateOn) -> list[OrderOutcome]:
    """Return every receipt that an offer of its time covers, the latest first.

    Of an offer the latest state counts that was quoted (else recorded) on the day of the order or before.
    ``rate_on`` gives the rates of currencies that the bill itself does not have.
    """
    known = _Known(
        catalogue=Catalogue(find_items(connection), find_packs(connection), find_homes(connection)),
        layers=tuple(row.layer() for row in find_duties(connection)),
        states=tuple(offer_history(connection)),
        shop=shop,
        rate_on=rate_on,
    )
    found = []
    for receipt in _receipts(connection):
        for state, lines in _by_offer(known, receipt):
            found.append(_outcome(connection, known, receipt, state, lines))
    return sorted(found, key=lambda each: (each.received_on, each.receipt), reverse=True)


_RECEIPTS = """
SELECT d.number, coalesce(d.arrived_on, d.document_date), d.effect_date, d.party,
    coalesce(s.rate, d.rate), coalesce(s.currency, d.currency)
FROM document AS d
LEFT JOIN document AS s ON s.number = d.follows AND s.event = 'ship' AND s.terms <> 'arrival'
WHERE d.event = 'receipt' AND d.party IS NOT NULL
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number) ORDER BY d.number
"""
"""Receipts with the rate their goods were bought at: the shipment's, where it made them the shop's."""

_LINES = """
SELECT l.line, l.sku, l.quantity_milli, l.amount_foreign, lot.invoice_cost, lot.charges,
    coalesce(l.claimed_amount, 0), s.document, s.line
FROM document_line AS l
JOIN lot ON lot.document = l.document AND lot.line = l.line
LEFT JOIN lot AS s ON s.document = l.lot_document AND s.line = l.lot_line
WHERE l.document = ? AND l.quantity_milli > 0 ORDER BY l.line
"""
"""A receipt's lines, each with the lot that was under way before, where it was the shop's then."""


def _receipts(connection: sqlite3.Connection) -> Iterator[_Receipt]:
    for number, received_on, effect_date, party, rate, currency in connection.execute(_RECEIPTS).fetchall():
        lines = tuple(_Line(*row) for row in connection.execute(_LINES, (number,)))
        order = order_behind(connection, number)
        if lines:
            yield _Receipt(number, received_on, effect_date, party, Fraction(rate), currency, lines, order)


def _by_offer(known: _Known, receipt: _Receipt) -> Iterator[tuple[OfferState, list[_Line]]]:
    """Return the offers that lines of a receipt were bought under, the latest quoted first."""
    offers = offers_by_sku(known.states, receipt.bought(), known.catalogue)
    taken: dict[str, list[_Line]] = {}
    states: dict[str, OfferState] = {}
    for line in receipt.lines:
        state = offers.get(line.sku)
        if state is not None:
            states[state.offer.name] = state
            taken.setdefault(state.offer.name, []).append(line)
    for state in sorted(states.values(), key=quoted_day, reverse=True):
        yield state, taken[state.offer.name]


def _outcome(
    connection: sqlite3.Connection,
    known: _Known,
    receipt: _Receipt,
    state: OfferState,
    lines: Sequence[_Line],
) -> OrderOutcome:
    predicted: dict[str, int] = {}
    problem = ""
    quote = known.catalogue.quote(state)
    try:
        estimate = _predicted(known, receipt, quote, lines)
        for part in estimate.parts:
            kind = _KIND_OF_PART[part.name]
            predicted[kind] = predicted.get(kind, 0) + part.amount_minor
    except (ValueProblem, RateUnknown) as error:
        problem = str(error)
    actual = _actual(connection, receipt, lines)
    return OrderOutcome(
        receipt=receipt.number,
        received_on=receipt.received_on,
        supplier=state.offer.supplier,
        offer=state.offer.offer,
        quantity_milli=sum(line.quantity_milli for line in lines),
        unit=known.catalogue.items[lines[0].sku].base_unit,
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
    """Return the landed estimate of what was received, at the rate it was bought at and its day of entry."""
    day = datetime.date.fromisoformat(receipt.received_on)
    catalogue = known.catalogue
    first = catalogue.items[lines[0].sku]

    def rate_of(currency: str) -> Fraction:
        if currency == known.shop.currency:
            return Fraction(1)
        return receipt.rate if currency == receipt.currency else known.rate_on(currency, day)

    entry = entry_under(quote, known.shop, Day(day, day), known.layers, rate_of)
    priced = replace(
        quote,
        unit_factor=offered_pack(quote.unit, first, catalogue.packs.get(first.sku, ())).factor,
        entry_fees=entry_fees_of(quote, known.shop, day, entry.dollar_rate),
    )
    order = OrderQuantities(
        tuple(
            order_line(
                priced,
                catalogue.items[line.sku],
                max(1, round_fraction(Fraction(line.quantity_milli, MILLI) / priced.unit_factor)),
            )
            for line in lines
        )
    )
    return landed_estimate(priced, order, replace(entry, today=None))


_SHARES = """
SELECT l.charge_kind, s.amount FROM charge_share AS s
JOIN document_line AS l ON l.document = s.document AND l.line = s.line
WHERE s.receipt_document = ? AND s.receipt_line = ? AND s.effect_date <= ? AND (s.path <> 'late' OR ?)
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = s.document AND u.path = 'dropped')
"""
"""What was charged on a line up to a day, with or without what came late."""

_LATE = """
SELECT l.charge_kind, c.amount FROM late_cost AS c
JOIN document_line AS l ON l.document = c.document AND l.line = c.line
WHERE c.lot_document = ? AND c.lot_line = ?
"""
"""What late charges added to what a lot cost landed, whatever they were put on."""


def _actual(connection: sqlite3.Connection, receipt: _Receipt, lines: Sequence[_Line]) -> dict[str, int]:
    """Return what the lines cost by kind, in minor units; together it is what their lots cost landed.

    That is their invoice, what was charged on them, what they bear of the charges on the shipment, and
    late charges. The lots' invoice cost is already without what was claimed when the goods came; here it
    stands apart.
    """
    claimed = sum(line.claimed_minor for line in lines)
    actual = Counter({GOODS: sum(line.invoice_minor for line in lines) + claimed, CLAIM: -claimed})
    for line in lines:
        own = _by_kind(connection.execute(_SHARES, (receipt.number, line.line, "9999", 0)))
        late = _by_kind(connection.execute(_LATE, (receipt.number, line.line)))
        on_shipment: dict[str, int] = {}
        if line.ship_document is not None:
            on_shipment = _by_kind(
                connection.execute(_SHARES, (line.ship_document, line.ship_line, receipt.effect_date, 1))
            )
        for found in (own, late, _carried(line.charges_minor - sum(own.values()), on_shipment)):
            for kind, amount in found.items():
                actual[kind] += amount
    return actual


def _by_kind(rows: Iterable[tuple[str, int]]) -> dict[str, int]:
    """Return amounts added up by the kinds of this comparison."""
    found: dict[str, int] = {}
    for charge_kind, amount in rows:
        kind = GOODS if charge_kind in _OF_GOODS else charge_kind if charge_kind in KINDS else OTHER
        found[kind] = found.get(kind, 0) + amount
    return found


def _carried(amount: int, on_shipment: Mapping[str, int]) -> dict[str, int]:
    """Return what goods brought with them of a shipment's charges, by kind, as these were charged on all of it."""
    if not amount:
        return {}
    if min(on_shipment.values(), default=-1) < 0 or not any(on_shipment.values()):
        return {OTHER: amount}
    return dict(zip(on_shipment, spread(amount, list(on_shipment.values())), strict=True))


def _days(receipt: _Receipt) -> int | None:
    if receipt.order is None:
        return None
    ordered = datetime.date.fromisoformat(receipt.order.ordered_on)
    return (datetime.date.fromisoformat(receipt.received_on) - ordered).days
