"""Arrival of what was shipped: one receipt for each shipment, in one transaction.

Goods that were the shop's since they were shipped come out of what is under way, at what they cost there.
Goods that are the shop's only on arrival, and what came beyond what was shipped, are bought that day.
"""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from ledger.book.arrival_credit import CreditTold, credits_of
from ledger.book.arrival_lines import Bought, bought_of, cost_of, invoice_of, measure
from ledger.book.arrival_parts import ArrivalWishes, Arriving, Extra, arrival_parts, refuse_never_the_shops
from ledger.book.catalogue_store import find_items
from ledger.book.charging import ChargeTarget, target_of
from ledger.book.documents import NewDocument, NewLine, insert_documents, next_number
from ledger.book.order_charges import Wishes, charge_lines, no_wishes
from ledger.book.order_store import find_order
from ledger.book.orders import ARRIVAL, Order, Shipment
from ledger.book.recosting import CostChange, recost
from ledger.book.shipping import PostedShipment, ShipRequest, posting, refuse_same_invoice, shipment_documents
from ledger.book.shop import Shop, read_shop
from ledger.book.standing import check_date
from ledger.catalogue.items import Item
from ledger.costing.landed import ChargeSpread, Conversion, Landing, land
from ledger.errors import InputErrors, Problem, Refused
from ledger.exact.quantity import show_quantity


@dataclass(frozen=True, slots=True)
class RateUsed:
    """An exchange rate as decimal text, and where it came from."""

    text: str
    source: str


RateOf = Callable[[str], RateUsed]
"""Returns the rate at which a currency is converted on the day of arrival; raises RateUnknown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrivalRequest:
    """What arrived of an order.

    ``shipment`` limits it to one; ``ship`` is posted before it where the order was not shipped yet.
    ``credit_foreign`` is what the supplier credited for all claimed pieces, in minor units of
    ``credit_currency``, the order's where empty; None: their share of the invoice.
    """

    order: int
    on: datetime.date
    wishes: ArrivalWishes
    rate_of: RateOf
    ship: ShipRequest | None = None
    shipment: int | None = None
    credit_foreign: int | None = None
    credit_currency: str = ""
    reference: str = ""
    charges: Wishes = no_wishes
    tax_paid: str = ""
    another_box: bool = False
    source_name: str = ""


@dataclass(frozen=True, slots=True)
class ArrivedLot:
    """A lot that came with an arrival, as it stands after posting. Thousandths and minor units."""

    document: int
    line: int
    received_milli: int
    on_hand_milli: int
    invoice_cost: int
    charges: int
    value_on_hand: int
    expires_on: str | None


@dataclass(frozen=True, slots=True)
class PostedArrival:
    """An arrival as it was posted, or would be."""

    shop: Shop
    order: Order
    on: datetime.date
    shipment: PostedShipment | None
    receipts: tuple[NewDocument, ...]
    charge_documents: tuple[NewDocument, ...]
    charges: tuple[ChargeSpread, ...]
    lots: Mapping[tuple[int, int], ArrivedLot] = field(default_factory=dict)
    amounts: Mapping[tuple[int, int], Mapping[str, int]] = field(default_factory=dict)
    """What each line moved, by account, in the book's minor units."""
    changes: tuple[CostChange, ...] = ()
    remarks: tuple[str, ...] = ()
    base_units: Mapping[str, str] = field(default_factory=dict)

    @property
    def documents(self) -> tuple[NewDocument, ...]:
        """All that is posted, in the order of their numbers."""
        shipped = self.shipment.documents if self.shipment else ()
        return (*shipped, *self.receipts, *self.charge_documents)


def arrive(
    connection: sqlite3.Connection, request: ArrivalRequest, today: datetime.date, now: str, *, keep: bool
) -> PostedArrival:
    """Post an arrival, its charges and perhaps its shipment; with ``keep`` False only say what it would be.

    Raises InputErrors with everything wrong together, Refused where nothing is under way.
    """
    with posting(connection, keep=keep):
        shop = read_shop(connection)
        shipment = None
        if request.ship is not None:
            shipment = shipment_documents(connection, request.ship, today, now)
            insert_documents(connection, shipment.documents)
        arrival = _Arrival(connection, shop, request, now)
        posted = arrival.documents(today, shipment)
        insert_documents(connection, [*posted.receipts, *posted.charge_documents])
        changes = recost(connection, posted.documents)
        lots, amounts = _lots(connection, posted.receipts), _amounts(connection, posted.receipts)
    return replace(posted, changes=changes, lots=lots, amounts=amounts)


@dataclass(frozen=True, slots=True)
class _Arrival:
    """One arrival while it becomes documents, inside the caller's transaction."""

    connection: sqlite3.Connection
    shop: Shop
    request: ArrivalRequest
    now: str

    def documents(self, today: datetime.date, shipment: PostedShipment | None) -> PostedArrival:
        """Return the receipts and charges; ``shipment`` was written just before, where there is one."""
        request = self.request
        order = find_order(self.connection, request.order)
        shipments = self._shipments(order, shipment)
        problems = check_date(self.shop, request.on, today, "the day it arrived")
        problems += _too_early(shipments, request.on)
        parts = arrival_parts(order, shipments, request.wishes, problems)
        if problems:
            raise InputErrors(request.source_name or "this arrival", problems)
        if not parts.lines:
            raise Refused("nothing of what is under way arrives, so there is nothing to post.")
        refuse_never_the_shops(order, parts)
        self._check_reference(order, shipments)
        skus = {part.shipped.sku for _, own in parts.lines for part in own}
        items = find_items(self.connection, skus | {extra.sku for extra in parts.extras})
        receipts, targets, number = [], [], next_number(self.connection)
        told = CreditTold(
            request.credit_foreign,
            request.credit_currency or order.currency,
            lambda code: request.rate_of(code).text,
        )
        claims = credits_of(self.connection, self.shop, told, parts)
        for place, (ship, own) in enumerate(parts.lines):
            extras = parts.extras if place == len(parts.lines) - 1 else ()
            receipt, costs = self._receipt(number + place, (order, ship), (own, extras), items, claims)
            receipts.append(receipt)
            targets += costs
        first = number + len(receipts)
        wishes = request.charges([target.sku for target in targets])
        charged = charge_lines(self.connection, self.shop, wishes, targets, (request.on, self.now, first))
        return PostedArrival(
            shop=self.shop,
            order=order,
            on=request.on,
            shipment=shipment,
            receipts=tuple(receipts),
            charge_documents=charged.documents,
            charges=charged.spreads,
            remarks=(*(shipment.remarks if shipment else ()), *parts.remarks),
            base_units={sku: item.base_unit for sku, item in items.items()},
        )

    def _shipments(self, order: Order, shipment: PostedShipment | None) -> list[Shipment]:
        """Return the shipments that this can be the arrival of, the oldest first."""
        number = shipment.document.number if shipment else self.request.shipment
        own = [one for one in order.shipments if number in (None, one.document)]
        if not own and number is not None:
            raise Refused(
                f"order {order.number} has no shipment {number}. See: blankbook order {order.number}"
            )
        waiting = [one for one in own if not one.is_arrived]
        if waiting:
            return waiting
        if order.is_shipped and order.shipments:
            raise Refused(
                f"all of order {order.number} has arrived already. What came beyond it is a purchase of its own: "
                f'blankbook receive --sku SKU --quantity 3 --amount 6.60 --party "{order.party}"'
            )
        raise Refused(
            f"nothing of order {order.number} is under way. Enter the shipment first: blankbook ship "
            f"{order.number} --date DATE, or both at once: blankbook receive --order {order.number} "
            "--shipped-on DATE"
        )

    def _check_reference(self, order: Order, shipments: Sequence[Shipment]) -> None:
        """Refuse another invoice's number: goods on their own invoice bear the one they were shipped with."""
        reference = self.request.reference
        if reference and all(reference != one.reference for one in shipments):
            refuse_same_invoice(self.connection, order, reference, another_box=self.request.another_box)

    def _receipt(
        self,
        number: int,
        of: tuple[Order, Shipment],
        what: tuple[Sequence[Arriving], Sequence[Extra]],
        items: Mapping[str, Item],
        credited: Mapping[tuple[int, int], int],
    ) -> tuple[NewDocument, list[ChargeTarget]]:
        """Return one shipment's receipt, and what charges on it are spread by."""
        (order, ship), (parts, extras) = of, what
        bought = [] if ship.is_the_shops else [bought_of(part, items) for part in parts]
        bought += [
            Bought(extra.item or items[extra.sku], extra.quantity_milli, extra.amount_foreign)
            for extra in extras
        ]
        rate = self.request.rate_of(ship.currency) if bought else RateUsed("1", "")
        conversion = Conversion(ship.currency, self.shop.currency, Fraction(rate.text))
        landing = land([invoice_of(one) for one in bought], (), conversion)
        lines = (
            [self._arrived(part, items[part.shipped.sku], credited) for part in parts]
            if ship.is_the_shops
            else []
        )
        lines += [self._purchase(one, landing, place, credited) for place, one in enumerate(bought)]
        day = self.request.on.isoformat()
        receipt = NewDocument(
            number=number,
            event="receipt",
            document_date=day,
            effect_date=day,
            recorded_at=self.now,
            # What only arrives was converted when it was shipped: its receipt has no rate of its own.
            currency=ship.currency if bought else self.shop.currency,
            party=order.party or None,
            reference=self.request.reference or ship.reference,
            rate=rate.text,
            rate_source=rate.source,
            follows=ship.document,
            shipped_on=ship.shipped_on,
            arrived_on=day,
            terms="" if ship.is_the_shops else ARRIVAL,
            total_foreign=landing.total_foreign,
            total=landing.total_invoice,
            source_name=self.request.source_name,
            lines=tuple(replace(line, line=place) for place, line in enumerate(lines, 1)),
        )
        costs = {
            (part.shipped.document, part.shipped.line): cost_of(part, credited)
            for part in parts
            if ship.is_the_shops
        }
        targets = [target_of(receipt, line) for line in receipt.lines]
        return receipt, [
            replace(target, cost=costs.get((line.lot_document or 0, line.lot_line or 0), target.cost))
            for target, line in zip(targets, receipt.lines, strict=True)
        ]

    def _arrived(self, part: Arriving, item: Item, credited: Mapping[tuple[int, int], int]) -> NewLine:
        """Return the line of goods that were the shop's already: its cost comes from the shipment."""
        shipped = part.shipped
        return self._line(
            item,
            part,
            NewLine(
                line=1,
                quantity_milli=part.quantity_milli,
                claimed_milli=part.claimed_milli,
                normal_milli=part.normal_milli,
                expensed_milli=part.expensed_milli,
                claimed_amount=credited.get((shipped.document, shipped.line), 0),
                lot_document=shipped.document,
                lot_line=shipped.line,
            ),
        )

    def _purchase(
        self, one: Bought, landing: Landing, place: int, credited: Mapping[tuple[int, int], int]
    ) -> NewLine:
        """Return a line that is bought on the day of arrival."""
        landed, part = landing.lines[place], one.part
        line = NewLine(
            line=1,
            quantity_milli=one.quantity_milli,
            amount_foreign=landed.amount_foreign,
            amount=landed.amount,
            tax_paid=self.request.tax_paid,
        )
        if part is None:
            return self._line(one.item, None, line)
        key = (part.shipped.document, part.shipped.line)
        return self._line(
            one.item,
            part,
            replace(
                line,
                claimed_milli=part.claimed_milli,
                normal_milli=part.normal_milli,
                expensed_milli=part.expensed_milli,
                claimed_amount=credited.get(key, landed.claimed_amount),
                lot_document=key[0],
                lot_line=key[1],
            ),
        )

    def _line(self, item: Item, part: Arriving | None, line: NewLine) -> NewLine:
        """Return a line with what every line of a receipt has; weights are of its good pieces."""
        good = line.quantity_milli - line.claimed_milli - line.normal_milli - line.expensed_milli
        expires = (
            (self.request.on + datetime.timedelta(days=item.shelf_life_days)).isoformat()
            if item.shelf_life_days
            else None
        )
        return replace(
            line,
            sku=item.sku,
            kind=item.kind,
            tax_class=item.tax_class,
            unit=item.base_unit,
            unit_quantity=show_quantity(line.quantity_milli),
            weight_mg=measure(part, part.shipped.weight_mg if part else None, item.weight_mg, good),
            volume_mm3=measure(part, part.shipped.volume_mm3 if part else None, item.volume_mm3, good),
            estimated=int(item.use_estimated),
            expires_on=expires,
        )


def _too_early(shipments: Sequence[Shipment], on: datetime.date) -> list[Problem]:
    """Return which shipments this would arrive before they were shipped."""
    day = on.isoformat()
    return [
        Problem(
            "the day it arrived",
            f"{day} is before shipment {one.document} was under way, on {max(one.shipped_on, one.effect_date)}.",
            f"Correct the date, or name the shipment that arrived: --shipment {one.document}",
        )
        for one in shipments
        if day < max(one.shipped_on, one.effect_date if one.is_the_shops else "")
    ]


def _amounts(
    connection: sqlite3.Connection, receipts: Sequence[NewDocument]
) -> dict[tuple[int, int], dict[str, int]]:
    """Return what each line of receipts moved, by account."""
    found: dict[tuple[int, int], dict[str, int]] = {}
    for receipt in receipts:
        for line, account, amount in connection.execute(
            "SELECT line, account, sum(amount) FROM leg WHERE document = ? GROUP BY line, account",
            (receipt.number,),
        ):
            found.setdefault((receipt.number, line), {})[account] = amount
    return found


def _lots(
    connection: sqlite3.Connection, receipts: Sequence[NewDocument]
) -> dict[tuple[int, int], ArrivedLot]:
    """Return the lots of receipts as they stand."""
    found = {}
    for receipt in receipts:
        rows = connection.execute(
            "SELECT document, line, quantity_received, quantity_on_hand, invoice_cost, charges, value_on_hand, "
            "expires_on FROM lot WHERE document = ? ORDER BY line",
            (receipt.number,),
        )
        found.update({(row[0], row[1]): ArrivedLot(*row) for row in rows})
    return found
