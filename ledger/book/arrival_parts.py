"""What of each shipment arrives: the oldest first, with what is missing or damaged and what came beyond it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from ledger.book.orders import Order, OrderLine, Shipment, ShippedLine
from ledger.catalogue.items import Item
from ledger.errors import Problem, Refused
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import divide_round

CLAIMED, NORMAL, EXPENSE = "claimed", "normal", "expense"
LOSSES = (CLAIMED, NORMAL, EXPENSE)
"""What becomes of missing or damaged pieces: the supplier credits them, the good ones bear them, an expense."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArriveWish:
    """What came of one item, damaged pieces among it, in thousandths.

    ``amount_foreign`` is its price by the invoice, for goods that are bought on arrival; None: the order's.
    """

    sku: str
    quantity_milli: int
    amount_foreign: int | None = None
    where: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LossWish:
    """What is missing, or came damaged, of one item; ``treatment`` is one of LOSSES."""

    sku: str
    quantity_milli: int
    treatment: str
    is_missing: bool
    where: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraWish:
    """What came beyond the order; ``amount_foreign`` None: at the order's price."""

    item: Item
    quantity_milli: int
    amount_foreign: int | None = None
    where: str = ""


@dataclass(frozen=True, slots=True)
class Arriving:
    """What of a shipment's line arrives or is found missing, in thousandths."""

    shipped: ShippedLine
    quantity_milli: int
    claimed_milli: int = 0
    normal_milli: int = 0
    expensed_milli: int = 0
    amount_foreign: int | None = None

    @property
    def kept_milli(self) -> int:
        """What enters the lot."""
        return self.quantity_milli - self.claimed_milli - self.normal_milli


@dataclass(frozen=True, slots=True)
class Extra:
    """Pieces beyond what was shipped: a purchase of their own."""

    sku: str
    quantity_milli: int
    amount_foreign: int
    item: Item | None = None


@dataclass(frozen=True, slots=True)
class ArrivalParts:
    """What of each shipment arrives, and what came beyond."""

    lines: tuple[tuple[Shipment, tuple[Arriving, ...]], ...]
    extras: tuple[Extra, ...]
    remarks: tuple[str, ...] = ()
    nothing_came: bool = False
    """Whether all of it is missing."""


@dataclass(frozen=True, slots=True)
class ArrivalWishes:
    """What came, as it was told; without ``came`` everything that is under way.

    ``lost`` is the treatment of all of it where nothing arrived.
    """

    came: tuple[ArriveWish, ...] = ()
    losses: tuple[LossWish, ...] = ()
    extras: tuple[ExtraWish, ...] = ()
    lost: str = ""


@dataclass(slots=True)
class _Told:
    """What was told of one item."""

    came_milli: int | None = None
    amount_foreign: int | None = None
    missing_milli: int = 0
    lost: dict[str, int] = field(default_factory=lambda: dict.fromkeys(LOSSES, 0))
    where: str = ""


def arrival_parts(
    order: Order, shipments: Sequence[Shipment], wishes: ArrivalWishes, problems: list[Problem]
) -> ArrivalParts:
    """Return what arrives of each of some shipments, which come the oldest first.

    What is wrong is added to ``problems``: an item that is not under way, more missing than was shipped,
    more damaged than came, losses that leave nobody to bear them.
    """
    told = _told(wishes, problems)
    open_milli: dict[str, int] = {}
    for line in (line for shipment in shipments for line in shipment.lines):
        open_milli[line.sku] = open_milli.get(line.sku, 0) + line.open_milli
    skus = list(told) if wishes.came else [*open_milli, *(sku for sku in told if sku not in open_milli)]
    found: dict[int, list[Arriving]] = {shipment.document: [] for shipment in shipments}
    extras, remarks, came_milli = [], [], 0
    for sku in skus:
        one = told.get(sku, _Told())
        there = open_milli.get(sku, 0)
        if not there:
            problems += _not_under_way(order, sku, one) if sku in told else ()
            continue
        came = one.came_milli
        if came is None:
            came = 0 if wishes.came else max(0, there - one.missing_milli)
        problems += _too_much(sku, one, came, there)
        came_milli += came
        take = min(came + one.missing_milli, there)
        more = came + one.missing_milli - take
        more_amount = None
        if more and one.amount_foreign is not None:
            more_amount = divide_round(one.amount_foreign * more, take + more)
            one.amount_foreign -= more_amount
        for shipment, part in _of_shipments(shipments, sku, take, one):
            found[shipment.document].append(part)
        if more:
            extra, remark = _beyond(order, sku, more, more_amount)
            extras.append(extra)
            remarks.append(remark)
    extras += _extras(order, wishes.extras, problems)
    lines = tuple(
        (shipment, tuple(sorted(found[shipment.document], key=lambda part: part.shipped.line)))
        for shipment in shipments
        if found[shipment.document]
    )
    parts = ArrivalParts(
        tuple((shipment, _all_lost(own, wishes.lost)) for shipment, own in lines),
        tuple(extras),
        tuple(remarks),
        nothing_came=bool(wishes.lost) or not (came_milli or extras),
    )
    problems += _nobody_bears(part for _, own in parts.lines for part in own)
    return parts


def _told(wishes: ArrivalWishes, problems: list[Problem]) -> dict[str, _Told]:
    told: dict[str, _Told] = {}
    for came in wishes.came:
        one = told.setdefault(came.sku, _Told(where=came.where))
        before = one.came_milli
        one.came_milli = (before or 0) + came.quantity_milli
        if came.amount_foreign is not None:
            one.amount_foreign = (one.amount_foreign or 0) + came.amount_foreign
    for loss in wishes.losses:
        one = told.setdefault(loss.sku, _Told(where=loss.where))
        one.lost[loss.treatment] += loss.quantity_milli
        if loss.is_missing:
            one.missing_milli += loss.quantity_milli
    if wishes.lost and told:
        problems.append(
            Problem("--lost", "nothing arrived, so no line can have come or be damaged.", "Leave those out.")
        )
    return told


def _not_under_way(order: Order, sku: str, told: _Told) -> list[Problem]:
    where = told.where or sku
    own = [line for line in order.lines if line.sku == sku]
    if not own:
        return [
            Problem(
                where,
                f"order {order.number} has no {sku}.",
                f'What came beyond the order: --extra "{sku} 3 at 2.20"',
            )
        ]
    left = sum(order.to_ship_milli(line) for line in own)
    if left:
        return [
            Problem(
                where,
                f"{show_quantity(left)} of {sku} are ordered and not shipped yet.",
                f"Enter the shipment first: blankbook ship {order.number}, or both at once with --shipped-on.",
            )
        ]
    return [Problem(where, f"all of {sku} has arrived already.", f'If more came: --extra "{sku} 3"')]


def _too_much(sku: str, told: _Told, came: int, there: int) -> Iterator[Problem]:
    where = told.where or sku
    if told.missing_milli > there:
        yield Problem(
            where,
            f"{show_quantity(told.missing_milli)} of {sku} are missing, but only {show_quantity(there)} are under way.",
            "Check the number.",
        )
    damaged = sum(told.lost.values()) - told.missing_milli
    if damaged > came:
        yield Problem(
            where,
            f"{show_quantity(damaged)} of {sku} are damaged, but only {show_quantity(came)} came.",
            "Check the number.",
        )


def _of_shipments(
    shipments: Sequence[Shipment], sku: str, take: int, told: _Told
) -> Iterator[tuple[Shipment, Arriving]]:
    """Yield the lines that a quantity of an item fills, the oldest first; its losses are of the oldest."""
    lost = dict(told.lost)
    amount, whole = told.amount_foreign, take
    for shipment in shipments:
        for line in shipment.lines:
            milli = min(take, line.open_milli)
            if line.sku != sku or milli <= 0:
                continue
            parts, room = {}, milli
            for treatment in LOSSES:
                parts[treatment] = min(lost[treatment], room)
                lost[treatment] -= parts[treatment]
                room -= parts[treatment]
            own_amount = None
            if amount is not None:
                after, before = whole - take + milli, whole - take
                own_amount = divide_round(amount * after, whole) - divide_round(amount * before, whole)
            take -= milli
            lost_here = (parts[CLAIMED], parts[NORMAL], parts[EXPENSE])
            yield shipment, Arriving(line, milli, *lost_here, own_amount)


def _all_lost(parts: tuple[Arriving, ...], treatment: str) -> tuple[Arriving, ...]:
    if not treatment:
        return parts
    return tuple(
        Arriving(
            part.shipped,
            part.quantity_milli,
            claimed_milli=part.quantity_milli if treatment == CLAIMED else 0,
            normal_milli=part.quantity_milli if treatment == NORMAL else 0,
            expensed_milli=part.quantity_milli if treatment == EXPENSE else 0,
        )
        for part in parts
    )


def _nobody_bears(parts: Iterable[Arriving]) -> list[Problem]:
    return [
        Problem(
            part.shipped.sku,
            "no good piece is left to bear the lost ones.",
            "Treat them as claimed or as an expense.",
        )
        for part in parts
        if part.normal_milli and part.kept_milli - part.expensed_milli <= 0
    ]


def refuse_never_the_shops(order: Order, parts: ArrivalParts) -> None:
    """Raise Refused where nothing came of goods that are the shop's only when they arrive.

    Nothing was bought then: what became of them on the way is at the supplier's risk.
    """
    for shipment, _ in parts.lines:
        if shipment.is_the_shops or not parts.nothing_came:
            continue
        raise Refused(
            f"the goods of shipment {shipment.document} would have been the shop's only when they arrived "
            f"({order.terms}): on the way the supplier bears the risk, so there is nothing to lose or to claim in "
            "this book. What was paid in advance is between you and the supplier. If nothing comes instead, close "
            f'the order: blankbook order {order.number} --close --why "lost on the way". If other goods are sent '
            f'instead, take the shipment back and ship again: blankbook undo {shipment.document} --why "lost"'
        )


def _beyond(order: Order, sku: str, milli: int, amount: int | None) -> tuple[Extra, str]:
    """Return what came beyond what was shipped, at the invoice's price or the order's, and how it is said."""
    own = [line for line in order.lines if line.sku == sku]
    left = sum(order.to_ship_milli(line) for line in own)
    price = "the order's price" if amount is None else "the invoice's price"
    said = (
        f"{show_quantity(milli)} of {sku} came beyond what was shipped: a purchase of their own at {price}."
    )
    if left:
        said += (
            f" {show_quantity(left)} of the order are still to be shipped; if these are of them, ship them first: "
            f"blankbook ship {order.number}"
        )
    return Extra(sku, milli, _order_price(own[0], milli) if amount is None else amount), said


def _order_price(line: OrderLine, milli: int) -> int:
    return divide_round(line.amount_foreign * milli, line.quantity_milli)


def _extras(order: Order, wishes: Iterable[ExtraWish], problems: list[Problem]) -> Iterator[Extra]:
    for wish in wishes:
        own = [line for line in order.lines if line.sku == wish.item.sku]
        amount = wish.amount_foreign
        if amount is None and not own:
            problems.append(
                Problem(
                    wish.where,
                    f"{wish.item.sku} was not ordered, so it has no price here.",
                    f'Give it: --extra "{wish.item.sku} 3 at 2.20"',
                )
            )
            continue
        if amount is None:
            amount = _order_price(own[0], wish.quantity_milli)
        yield Extra(wish.item.sku, wish.quantity_milli, amount, wish.item)
