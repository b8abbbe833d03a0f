"""The fast engine: facts in costing order become takings, first in, first out.

A *taking* is what one leaving line took out of one lot. The engine works on parallel columns,
because a book of ten years has a million of them; `ledger.costing.legs` turns takings into the
double entry.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field

from ledger.costing.layers import OpenLayer
from ledger.errors import NotEnoughStock, Refused
from ledger.exact.quantity import show_quantity


@dataclass(frozen=True, slots=True)
class Movements:
    """Lines that touch stock, in costing order, as parallel columns.

    Costing order is effect date, class within the day, document, line. ``account`` is the
    account the quantity comes from (arrivals) or goes to (leaving). For arrivals ``quantity``
    is what enters the lot, ``amount`` its landed cost with every charge that takes effect with
    it, and ``expensed`` the part that leaves it at once as spoilage. Units: thousandths and
    minor units.
    """

    document: list[int] = field(default_factory=list)
    line: list[int] = field(default_factory=list)
    effect_date: list[str] = field(default_factory=list)
    sku: list[str] = field(default_factory=list)
    arrives: list[bool] = field(default_factory=list)
    account: list[str] = field(default_factory=list)
    quantity: list[int] = field(default_factory=list)
    amount: list[int] = field(default_factory=list)
    expensed: list[int] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.document)


@dataclass(frozen=True, slots=True)
class Takings:
    """What left, as parallel columns: the movement's place, the lot, thousandths, minor units."""

    movement: list[int] = field(default_factory=list)
    lot: list[int] = field(default_factory=list)
    quantity: list[int] = field(default_factory=list)
    amount: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Replayed:
    """The result of a replay: takings, the lots they name, and the layers still open afterwards."""

    takings: Takings
    lot_document: list[int]
    lot_line: list[int]
    open_layers: tuple[OpenLayer, ...]


def replay(start: Iterable[OpenLayer], movements: Movements) -> Replayed:
    """Return what every leaving line took from which lot, and the layers left open.

    ``start`` are the layers open before the first movement, in FIFO order within each SKU;
    ``movements`` follow in costing order. Within a layer of quantity q and amount c, what leaves
    costs R(c x used_after / q) - R(c x used_before / q), so a layer's takings add up to c.
    A new lot goes behind the SKU's other lots, which costing order guarantees. Takings are in
    costing order.

    Raises NotEnoughStock naming, per SKU, the first line that finds too little, and Refused
    where an arrival has a cost below zero. Linear in layers, movements and takings.
    Source: our own rule (layers); first in, first out as in any handbook of cost accounting.
    """
    lots = _Lots([], [])
    shelves = _opening_shelves(start, lots)
    takings = Takings()
    shortages: dict[str, str] = {}
    put_movement, put_lot = takings.movement.append, takings.lot.append
    put_quantity, put_amount = takings.quantity.append, takings.amount.append
    # This loop runs once for every line of a ten-year book, nearly always for a line that leaves
    # and finds enough in the front layer: that way through it stands here without a call.
    columns = zip(movements.sku, movements.arrives, movements.quantity, strict=True)
    for place, (sku, arrives, quantity) in enumerate(columns):
        shelf = shelves.get(sku)
        if shelf is None:
            shelf = shelves[sku] = _Shelf()
        if arrives:
            shelf.waiting.append(_arrive(movements, place, lots, takings))
            continue
        after = shelf.used + quantity
        if after > shelf.size:
            quantity = _use_up(shelf, place, quantity, takings)  # noqa: PLW2901  (what is still wanted)
            after = shelf.used + quantity
            if after > shelf.size:
                shortages.setdefault(sku, _not_enough(movements, place, quantity))
                continue
        cost = (shelf.twice_amount * after + shelf.size) // shelf.twice_size
        put_movement(place)
        put_lot(shelf.lot)
        put_quantity(quantity)
        put_amount(cost - shelf.spent)
        shelf.used = after
        shelf.spent = cost
    if shortages:
        raise NotEnoughStock("\n".join(shortages.values()))
    return Replayed(takings, lots.document, lots.line, tuple(_still_open(shelves, lots)))


@dataclass(frozen=True, slots=True)
class _Lots:
    """The lots met during a replay, by a running number."""

    document: list[int]
    line: list[int]


# A layer inside a replay: lot number, position, quantity, amount, used.
_Layer = tuple[int, int, int, int, int]


@dataclass(slots=True)
class _Shelf:
    """One SKU during a replay: the layer in front, and the layers that wait behind it.

    A new shelf has an empty layer in front: the first unit asks for the next one. ``spent`` is
    what the ``used`` part of the front layer cost; the doubled figures spare the loop two products.
    """

    lot: int = -1
    position: int = 0
    size: int = 0
    amount: int = 0
    used: int = 0
    spent: int = 0
    twice_amount: int = 0
    twice_size: int = 2
    waiting: deque[_Layer] = field(default_factory=deque)

    def next_layer(self) -> None:
        """Bring the next waiting layer to the front."""
        self.lot, self.position, self.size, self.amount, self.used = self.waiting.popleft()
        self.twice_amount, self.twice_size = 2 * self.amount, 2 * self.size
        self.spent = (self.twice_amount * self.used + self.size) // self.twice_size


def _use_up(shelf: _Shelf, place: int, wanted: int, takings: Takings) -> int:
    """Take whole layers until the front one holds what is still wanted or is the last; return what that is."""
    while shelf.used + wanted > shelf.size and (shelf.waiting or shelf.used < shelf.size):
        rest = shelf.size - shelf.used
        if rest:
            takings.movement.append(place)
            takings.lot.append(shelf.lot)
            takings.quantity.append(rest)
            takings.amount.append(shelf.amount - shelf.spent)
            shelf.used, shelf.spent = shelf.size, shelf.amount
            wanted -= rest
        if shelf.waiting:
            shelf.next_layer()
    return wanted


def _opening_shelves(start: Iterable[OpenLayer], lots: _Lots) -> dict[str, _Shelf]:
    """Return, per SKU, the layers open before the first movement."""
    shelves: dict[str, _Shelf] = {}
    known: dict[tuple[int, int], int] = {}
    for layer in start:
        key = (layer.lot_document, layer.lot_line)
        if key not in known:
            known[key] = len(lots.document)
            lots.document.append(layer.lot_document)
            lots.line.append(layer.lot_line)
        shelves.setdefault(layer.sku, _Shelf()).waiting.append(
            (known[key], layer.position, layer.quantity, layer.amount, layer.used)
        )
    return shelves


def _arrive(movements: Movements, place: int, lots: _Lots, takings: Takings) -> _Layer:
    """Return the layer of a new lot, less its abnormal losses, which leave it at once."""
    quantity, amount, expensed = movements.quantity[place], movements.amount[place], movements.expensed[place]
    document, line = movements.document[place], movements.line[place]
    if amount < 0:
        raise Refused(
            f"document {document}, line {line} ({movements.sku[place]}): its discounts and credits come "
            "to more than it cost. Check the sign: a discount is typed as a positive amount."
        )
    lot = len(lots.document)
    lots.document.append(document)
    lots.line.append(line)
    if expensed:
        takings.movement.append(place)
        takings.lot.append(lot)
        takings.quantity.append(expensed)
        takings.amount.append((2 * amount * expensed + quantity) // (2 * quantity))
    return (lot, 1, quantity, amount, expensed)


def _not_enough(movements: Movements, place: int, missing: int) -> str:
    """Return in words what one line wanted and did not find."""
    wanted = movements.quantity[place]
    return (
        f"{movements.sku[place]}: document {movements.document[place]} takes {show_quantity(wanted)} on "
        f"{movements.effect_date[place]}, but only {show_quantity(wanted - missing)} are there; "
        f"{show_quantity(missing)} are missing. Enter what arrived before that day, or correct the quantity."
    )


def _still_open(shelves: dict[str, _Shelf], lots: _Lots) -> Iterable[OpenLayer]:
    """Yield the layers with something left, per SKU in FIFO order."""
    for sku, shelf in shelves.items():
        front = (shelf.lot, shelf.position, shelf.size, shelf.amount, shelf.used)
        for lot, position, size, amount, used in (front, *shelf.waiting):
            if used < size:
                yield OpenLayer(sku, lots.document[lot], lots.line[lot], position, size, amount, used)
