"""What an order is: what was ordered, shipped and arrived, and when the rest is expected."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field

from ledger.exact.rounding import divide_round
from ledger.sourcing.closures import Calendar, read_closures

SHIPPING, ON_BOARD, ARRIVAL = "shipping", "on board", "arrival"
TITLES = (SHIPPING, ON_BOARD, ARRIVAL)
"""From where goods are the shop's: handed to the carrier or ready at the works, on board, or arrived."""

OPEN, PART_RECEIVED, COMPLETE, CLOSED_BY_HAND = "open", "part received", "complete", "closed by hand"

SHIPS, ARRIVES = "ships", "arrives"
DEPOSIT_DUE, DEPOSIT_PAID, BALANCE_DUE, BALANCE_PAID = (
    "deposit due",
    "deposit paid",
    "balance due",
    "balance paid",
)
TOLD_DAYS = (SHIPS, ARRIVES, DEPOSIT_DUE, DEPOSIT_PAID, BALANCE_DUE, BALANCE_PAID)
"""What can be told of an order's dates; the latest told of a kind is in force."""

INVOICE_PRICE = "at the invoice's price"
"""The note of a shipped line whose price is the invoice's, not the order's."""

_WAITING_DAYS = 3 * 366
"""How far the calendar reaches beyond the working days that are counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One line of an order. Quantities in thousandths, ``amount_foreign`` in minor units of its currency."""

    line: int
    sku: str
    kind: str
    tax_class: str
    base_unit: str
    unit: str
    unit_quantity: str
    quantity_milli: int
    amount_foreign: int
    weight_mg: int | None
    volume_mm3: int | None
    supplier_code: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShippedLine:
    """One line of a shipment, and how much of it has arrived or was found missing.

    ``amount`` is in the book's currency, 0 where the goods are the shop's only on arrival.
    ``arrived_foreign`` is what of ``amount_foreign`` came in with receipts.
    """

    document: int
    line: int
    order_line: int
    sku: str
    quantity_milli: int
    amount_foreign: int
    amount: int
    note: str
    weight_mg: int | None
    volume_mm3: int | None
    arrived_milli: int
    arrived_foreign: int

    @property
    def open_milli(self) -> int:
        """What has neither arrived nor was found missing."""
        return self.quantity_milli - self.arrived_milli


@dataclass(frozen=True, slots=True, kw_only=True)
class BeyondLine:
    """Pieces that came with an arrival beyond what was shipped. Thousandths, and minor units of ``currency``."""

    receipt: int
    sku: str
    base_unit: str
    quantity_milli: int
    amount_foreign: int
    currency: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shipment:
    """Goods that were handed to the carrier. ``title_passes`` is one of TITLES, as it was when shipped."""

    document: int
    shipped_on: str
    effect_date: str
    reference: str
    title_passes: str
    currency: str
    rate: str
    rate_source: str
    lines: tuple[ShippedLine, ...] = ()

    @property
    def is_arrived(self) -> bool:
        """Whether nothing of it is still to come."""
        return all(line.open_milli <= 0 for line in self.lines)

    @property
    def is_the_shops(self) -> bool:
        """Whether its goods are the shop's while they are under way."""
        return self.title_passes != ARRIVAL


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """An order with everything that followed. Money in minor units of its currency, dates ISO 8601."""

    number: int
    ordered_on: str
    effect_date: str
    party: str
    reference: str
    currency: str
    terms: str
    named_place: str
    title_passes: str
    origin: str
    deposit_foreign: int
    working_days: int | None
    transit_days: int | None
    closures: str
    closed_by: int | None
    undone_by: int | None
    note: str = ""
    closed_on: str = ""
    closed_why: str = ""
    days: Mapping[str, str] = field(default_factory=dict)
    lines: tuple[OrderLine, ...] = ()
    shipments: tuple[Shipment, ...] = ()
    beyond: tuple[BeyondLine, ...] = ()

    @property
    def total_foreign(self) -> int:
        """What was ordered comes to."""
        return sum(line.amount_foreign for line in self.lines)

    @property
    def owed_foreign(self) -> int:
        """What of the total is owed, at the order's prices.

        Of an order closed by hand only what was shipped; what is the shop's on arrival only as far as it came.
        """
        if self.closed_by is None:
            return self.total_foreign
        there = self.arrived_milli if self.title_passes == ARRIVAL else self.shipped_milli
        return sum(
            divide_round(
                line.amount_foreign * min(there(line.line), line.quantity_milli), line.quantity_milli
            )
            for line in self.lines
        )

    def shipped_milli(self, line: int) -> int:
        """Return how much of a line was shipped."""
        return sum(
            one.quantity_milli for ship in self.shipments for one in ship.lines if one.order_line == line
        )

    def arrived_milli(self, line: int) -> int:
        """Return how much of a line has arrived or was found missing."""
        return sum(
            one.arrived_milli for ship in self.shipments for one in ship.lines if one.order_line == line
        )

    def to_ship_milli(self, line: OrderLine) -> int:
        """Return how much of a line is still to be shipped."""
        return max(0, line.quantity_milli - self.shipped_milli(line.line))

    @property
    def is_shipped(self) -> bool:
        """Whether nothing of it is still to be shipped."""
        return all(not self.to_ship_milli(line) for line in self.lines)

    @property
    def state(self) -> str:
        """Where it stands: open, part received, complete or closed by hand."""
        if self.closed_by is not None:
            return CLOSED_BY_HAND
        arrived = [self.arrived_milli(line.line) for line in self.lines]
        if all(milli >= line.quantity_milli for milli, line in zip(arrived, self.lines, strict=True)):
            return COMPLETE
        return PART_RECEIVED if any(arrived) else OPEN

    @property
    def is_waiting(self) -> bool:
        """Whether anything of it is still to come."""
        if self.closed_by is not None:
            return bool(self.coming)
        return self.state != COMPLETE

    @property
    def coming(self) -> tuple[Shipment, ...]:
        """The shipments of which something is still expected.

        Goods that are not the shop's yet no longer are, once their order is closed by hand.
        """
        return tuple(
            ship
            for ship in self.shipments
            if not ship.is_arrived and (ship.is_the_shops or self.closed_by is None)
        )

    @property
    def works_from(self) -> str:
        """The day production begins: the order's, or that of a deposit paid later. Our own rule."""
        return max(self.ordered_on, self.days.get(DEPOSIT_PAID, ""))

    @property
    def expected_ships(self) -> str:
        """The day it is expected to be shipped: as told, else through working days; '' where unknown."""
        if self.days.get(SHIPS):
            return self.days[SHIPS]
        if self.working_days is None:
            return ""
        return working_day(self.works_from, self.working_days, self.closures)

    def expected_on(self, shipment: Shipment | None = None) -> str:
        """Return the day goods are expected: as told, else the way from the day they are shipped; '' unknown."""
        if self.days.get(ARRIVES):
            return self.days[ARRIVES]
        shipped = shipment.shipped_on if shipment is not None else self.expected_ships
        if not shipped or self.transit_days is None:
            return ""
        return _plus(shipped, self.transit_days)

    @property
    def next_expected(self) -> str:
        """The day the next goods of it are expected; '' where nothing waits or no day is known."""
        if not self.is_waiting:
            return ""
        days = [self.expected_on(ship) for ship in self.coming]
        if not self.is_shipped and self.closed_by is None:
            days.append(self.expected_on())
        return min((day for day in days if day), default="")


def working_day(start: str, number: int, closures: str) -> str:
    """Return the day on which so many working days after ``start`` are over, ISO 8601.

    Args:
        start: a day, not counted itself.
        number: how many working days, 0 or more.
        closures: a country whose public holidays are off, and closures of one's own, ';' between.

    >>> working_day("2026-02-13", 5, "CN; 2026-02-01..2026-02-10")
    '2026-02-27'
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed where working days are counted)

    first = datetime.date.fromisoformat(start)
    own = read_closures([part for part in (one.strip() for one in closures.split(";")) if part])
    calendar = Calendar(own, first, 2 * number + _WAITING_DAYS)
    days = calendar.finish(np.array([0]), np.array([number]))
    return (first + datetime.timedelta(days=int(days[0]))).isoformat()


def days_late(expected: str, today: datetime.date) -> int:
    """Return how many days past the expected day it is; 0 where it is not late or nothing is expected."""
    if not expected:
        return 0
    return max(0, (today - datetime.date.fromisoformat(expected)).days)


def _plus(day: str, days: int) -> str:
    return (datetime.date.fromisoformat(day) + datetime.timedelta(days=days)).isoformat()
