"""Afterwards: what an offer made one expect of an order, against what it really cost and how long it took."""

from __future__ import annotations

import datetime
import sqlite3
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.book.buying import Day, entry_fees_of, entry_under, order_line
from ledger.book.catalogue_store import find_items, find_packs
from ledger.book.order_offers import Catalogue, offers_by_sku, quoted_day
from ledger.book.quote_store import OfferState, find_duties, find_homes, offer_history
from ledger.book.received_goods import Received, ReceivedLine, received_goods
from ledger.book.shop import Shop
from ledger.costing.spreading import spread
from ledger.errors import RateUnknown, ValueProblem
from ledger.exact.quantity import MILLI
from ledger.exact.rounding import round_fraction
from ledger.sourcing import landed_estimate as parts
from ledger.sourcing.duties import DutyLayer
from ledger.sourcing.landed_estimate import LandedEstimate, landed_estimate
from ledger.sourcing.offered_unit import offered_pack
from ledger.sourcing.price_breaks import line_costs
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

_BY_VALUE = {parts.GOODS, parts.CLAIM, parts.INSURANCE, parts.DUTY, parts.PROCESSING_FEE, parts.HARBOR_FEE}
"""The parts of an estimate that go by the value of the goods."""

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
    order to arrival, None where they are not known. ``quantity_milli`` is what came good of
    ``invoiced_milli``; ``claimed_milli`` is what of the rest was claimed. ``expected_good`` is the part of
    what is invoiced that the offer lets one expect to be good.
    """

    receipt: int
    received_on: str
    supplier: str
    offer: str
    quantity_milli: int
    unit: str
    kinds: tuple[KindDifference, ...]
    invoiced_milli: int
    claimed_milli: int = 0
    expected_good: Fraction = Fraction(1)
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
class _Known:
    catalogue: Catalogue
    layers: tuple[DutyLayer, ...]
    states: tuple[OfferState, ...]
    shop: Shop
    rate_on: RateOn
    by_order: Mapping[int, Sequence[Received]]

    def of_one_order(self, receipt: Received) -> Sequence[Received]:
        """Return the receipts of the order that one came of, in the order they were posted; itself without one."""
        return (receipt,) if receipt.order is None else self.by_order[receipt.order.number]


@dataclass(frozen=True)
class _Under:
    """The lines of a receipt bought under one offer, and all SKUs of it and its order that were."""

    state: OfferState
    lines: Sequence[ReceivedLine]
    skus: Collection[str]


@dataclass(frozen=True)
class _Expected:
    """What a whole order was to cost landed, what of it by SKU is for the goods, and how much it is by SKU."""

    estimate: LandedEstimate
    goods: Mapping[str, Fraction]
    quantities_milli: Mapping[str, int]


def outcomes(connection: sqlite3.Connection, shop: Shop, rate_on: RateOn) -> list[OrderOutcome]:
    """Return every receipt that an offer of its time covers, the latest first.

    Of an offer the latest state counts that was quoted (else recorded) on the day of the order or before.
    ``rate_on`` gives the rates of currencies that the bill itself does not have.
    """
    receipts = tuple(received_goods(connection))
    by_order: dict[int, list[Received]] = {}
    for receipt in receipts:
        if receipt.order is not None:
            by_order.setdefault(receipt.order.number, []).append(receipt)
    known = _Known(
        catalogue=Catalogue(find_items(connection), find_packs(connection), find_homes(connection)),
        layers=tuple(row.layer() for row in find_duties(connection)),
        states=tuple(offer_history(connection)),
        shop=shop,
        rate_on=rate_on,
        by_order=by_order,
    )
    found = [
        _outcome(connection, known, receipt, under)
        for receipt in receipts
        for under in _by_offer(known, receipt)
    ]
    return sorted(found, key=lambda each: (each.received_on, each.receipt), reverse=True)


def _by_offer(known: _Known, receipt: Received) -> Iterator[_Under]:
    """Return the offers that lines of a receipt were bought under, the latest quoted first."""
    offers = offers_by_sku(known.states, receipt.bought(), known.catalogue)
    taken: dict[str, list[ReceivedLine]] = {}
    states: dict[str, OfferState] = {}
    for line in receipt.lines:
        state = offers.get(line.sku)
        if state is not None:
            states[state.offer.name] = state
            taken.setdefault(state.offer.name, []).append(line)
    for state in sorted(states.values(), key=quoted_day, reverse=True):
        name = state.offer.name
        yield _Under(state, taken[name], {sku for sku, each in offers.items() if each.offer.name == name})


def _outcome(connection: sqlite3.Connection, known: _Known, receipt: Received, under: _Under) -> OrderOutcome:
    state, lines = under.state, under.lines
    predicted: dict[str, int] = {}
    problem = ""
    quote = known.catalogue.quote(state)
    try:
        predicted = _shared(known, receipt, _predicted(known, receipt, quote, under.skus))
    except (ValueProblem, RateUnknown) as error:
        problem = str(error)
    actual = _actual(connection, receipt, lines)
    return OrderOutcome(
        receipt=receipt.number,
        received_on=receipt.received_on,
        supplier=state.offer.supplier,
        offer=state.offer.offer,
        quantity_milli=sum(line.quantity_milli - line.claimed_milli - line.lost_milli for line in lines),
        unit=known.catalogue.items[lines[0].sku].base_unit,
        kinds=tuple(
            KindDifference(kind, predicted.get(kind, 0), actual.get(kind, 0))
            for kind in KINDS
            if predicted.get(kind) or actual.get(kind)
        ),
        invoiced_milli=sum(line.quantity_milli for line in lines),
        claimed_milli=sum(line.claimed_milli for line in lines),
        expected_good=1 - quote.defects.rate,
        predicted_days=quote.lead_time.mean_days or None,
        actual_days=_days(receipt),
        problem=problem,
    )


def _arrived(receipts: Iterable[Received], skus: Collection[str]) -> Counter[str]:
    arrived = Counter[str]()
    for receipt in receipts:
        for line in receipt.lines:
            if line.sku in skus:
                arrived[line.sku] += line.quantity_milli
    return arrived


def _whole_order(known: _Known, receipt: Received, skus: Collection[str]) -> Counter[str]:
    """Return by SKU what was ordered, or came of it in all where that is more, in thousandths."""
    ordered = Counter[str]()
    for line in receipt.order.lines if receipt.order else ():
        if line.sku in skus:
            ordered[line.sku] += line.quantity_milli
    return ordered | _arrived(known.of_one_order(receipt), skus)


def _shared(known: _Known, receipt: Received, expected: _Expected) -> dict[str, int]:
    """Return by kind what one receipt was to cost of its order.

    What goes by the value of the goods is shared by that, what else is due once for the order by the
    pieces. Each receipt takes what is due up to it, so that together they take all of it.

    Source: our own rule.
    """
    every = known.of_one_order(receipt)
    place = next(number for number, each in enumerate(every) if each.number == receipt.number)
    whole = expected.quantities_milli
    before, then = (_arrived(every[:end], whole) for end in (place, place + 1))
    found: dict[str, int] = {}
    for part in expected.estimate.parts:
        by_value = part.name in _BY_VALUE and any(expected.goods.values())
        weights = expected.goods if by_value else {sku: Fraction(count) for sku, count in whole.items()}
        total = sum(weights.values(), Fraction(0))
        due = [
            round_fraction(
                part.amount_minor
                * sum((weights[sku] * came[sku] / whole[sku] for sku in whole), Fraction(0))
                / total
            )
            for came in (before, then)
        ]
        kind = _KIND_OF_PART[part.name]
        found[kind] = found.get(kind, 0) + due[1] - due[0]
    return found


def _predicted(known: _Known, receipt: Received, quote: Quote, skus: Collection[str]) -> _Expected:
    """Return the landed estimate of a whole order, at the rate a receipt was bought at and its day of entry."""
    quantities = _whole_order(known, receipt, skus)
    day = datetime.date.fromisoformat(receipt.received_on)
    catalogue = known.catalogue
    first = catalogue.items[next(iter(quantities))]

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
                catalogue.items[sku],
                max(1, round_fraction(Fraction(quantity_milli, MILLI) / priced.unit_factor)),
            )
            for sku, quantity_milli in quantities.items()
        )
    )
    estimate = landed_estimate(priced, order, replace(entry, today=None))
    return _Expected(estimate, dict(zip(quantities, line_costs(priced, order), strict=True)), quantities)


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


def _actual(
    connection: sqlite3.Connection, receipt: Received, lines: Sequence[ReceivedLine]
) -> dict[str, int]:
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


def _days(receipt: Received) -> int | None:
    if receipt.order is None:
        return None
    ordered = datetime.date.fromisoformat(receipt.order.ordered_on)
    return (datetime.date.fromisoformat(receipt.received_on) - ordered).days
