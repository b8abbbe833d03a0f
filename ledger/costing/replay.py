"""The fast engine: facts in costing order become takings, first in, first out.

A *taking* is what one leaving line took out of one lot. The engine works on parallel columns,
because a book of ten years has a million of them; `ledger.costing.legs` turns takings into the
double entry.
"""

from __future__ import annotations

from array import array
from collections import deque
from collections.abc import Iterable, Iterator, MutableSequence
from dataclasses import dataclass, field
from itertools import compress, count, repeat

from ledger.costing.layers import OpenLayer
from ledger.errors import NotEnoughStock, Refused, Shortage
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


def _column() -> MutableSequence[int]:
    return array("q")


@dataclass(frozen=True, slots=True)
class Takings:
    """What left, as parallel columns: the movement's place, the lot, thousandths, minor units.

    The columns are arrays of 64 bits: a million takings need a fifth of the memory lists would.
    """

    movement: MutableSequence[int] = field(default_factory=_column)
    lot: MutableSequence[int] = field(default_factory=_column)
    quantity: MutableSequence[int] = field(default_factory=_column)
    amount: MutableSequence[int] = field(default_factory=_column)


@dataclass(frozen=True, slots=True)
class Replayed:
    """The result of a replay: takings, the lots they name, and the layers still open afterwards."""

    takings: Takings
    lot_document: list[int]
    lot_line: list[int]
    open_layers: tuple[OpenLayer, ...]


BULK_MOVEMENTS = 300_000
"""Above so many movements whole columns are costed at once; with fewer, loading numpy takes longer."""


def replay(start: Iterable[OpenLayer], movements: Movements) -> Replayed:
    """Return what every leaving line took from which lot, and the layers left open.

    ``start`` are the layers open before the first movement, in FIFO order within each SKU;
    ``movements`` follow in costing order. Within a layer of quantity q and amount c, what leaves
    costs R(c x used_after / q) - R(c x used_before / q), so a layer's takings add up to c.
    A new lot goes behind the SKU's other lots, which costing order guarantees. Takings are in
    costing order, open layers in the order in which their SKUs first appear.

    Raises NotEnoughStock naming, per SKU, the first line that finds too little, and Refused
    where an arrival has a cost below zero. Linear in layers, movements and takings.
    Source: our own rule (layers); first in, first out as in any handbook of cost accounting.
    """
    layers = tuple(start)
    if len(movements) > BULK_MOVEMENTS:
        # Imported here because it uses what this module defines; it loads numpy only when it runs.
        from ledger.costing.bulk_replay import bulk_replay  # noqa: PLC0415

        replayed = bulk_replay(layers, movements)
        if replayed is not None:
            return replayed
    return replay_one_by_one(layers, movements)


def replay_one_by_one(start: Iterable[OpenLayer], movements: Movements) -> Replayed:
    """Return what `replay` returns, worked out line by line: the plain way, for any history.

    Raises what `replay` raises.
    """
    lots = _Lots([], [])
    queues = _opening_queues(start, lots)
    for sku in dict.fromkeys(movements.sku):
        if sku not in queues:
            queues[sku] = _Queue()
    takings = Takings()
    shortages: dict[str, NotEnoughStock] = {}
    arrivals = _arrivals(movements, lots)
    put_movement, put_lot = takings.movement.append, takings.lot.append
    put_quantity, put_amount = takings.quantity.append, takings.amount.append
    # This loop runs once for every line of a ten-year book, nearly always for a line that leaves
    # and finds enough in the front layer: that way through it stands here without a call.
    columns = zip(movements.sku, movements.arrives, movements.quantity, strict=True)
    for place, (sku, arrives, quantity) in enumerate(columns):
        queue = queues[sku]
        if arrives:
            layer = next(arrivals)
            queue.waiting.append(layer)
            if layer[_USED]:
                _expense(layer, place, takings)
            continue
        after = queue.used + quantity
        if after > queue.size:
            quantity = _use_up(queue, place, quantity, takings)  # noqa: PLW2901  (what is still wanted)
            after = queue.used + quantity
            if after > queue.size:
                shortages.setdefault(sku, _short_at(movements, place, quantity))
                continue
        cost = (queue.twice_amount * after + queue.size) // queue.twice_size
        put_movement(place)
        put_lot(queue.lot)
        put_quantity(quantity)
        put_amount(cost - queue.spent)
        queue.used = after
        queue.spent = cost
    if shortages:
        raise all_short(shortages.values())
    return Replayed(takings, lots.document, lots.line, tuple(_still_open(queues, lots)))


@dataclass(frozen=True, slots=True)
class _Lots:
    """The lots met during a replay, by a running number."""

    document: list[int]
    line: list[int]


# A layer inside a replay: lot number, position, quantity, amount, used.
_Layer = tuple[int, int, int, int, int]
_USED = 4


@dataclass(slots=True)
class _Queue:
    """One SKU during a replay: the layer in front, and the layers that wait behind it.

    A new queue has an empty layer in front: the first unit asks for the next one. ``spent`` is
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
        self.lot, self.position, size, amount, used = self.waiting.popleft()
        self.size, self.amount, self.used = size, amount, used
        self.twice_amount = 2 * amount
        self.twice_size = 2 * size
        self.spent = (2 * amount * used + size) // (2 * size) if used else 0


def _use_up(queue: _Queue, place: int, wanted: int, takings: Takings) -> int:
    """Take whole layers until the front one holds what is still wanted or is the last; return what that is."""
    while queue.used + wanted > queue.size:
        rest = queue.size - queue.used
        if rest:
            takings.movement.append(place)
            takings.lot.append(queue.lot)
            takings.quantity.append(rest)
            takings.amount.append(queue.amount - queue.spent)
            queue.used, queue.spent = queue.size, queue.amount
            wanted -= rest
        if not queue.waiting:
            break
        queue.next_layer()
    return wanted


def _opening_queues(start: Iterable[OpenLayer], lots: _Lots) -> dict[str, _Queue]:
    """Return, per SKU, the layers open before the first movement."""
    queues: dict[str, _Queue] = {}
    known: dict[tuple[int, int], int] = {}
    for layer in start:
        key = (layer.lot_document, layer.lot_line)
        if key not in known:
            known[key] = len(lots.document)
            lots.document.append(layer.lot_document)
            lots.line.append(layer.lot_line)
        if layer.sku not in queues:
            queues[layer.sku] = _Queue()
        queues[layer.sku].waiting.append(
            (known[key], layer.position, layer.quantity, layer.amount, layer.used)
        )
    return queues


def _arrivals(movements: Movements, lots: _Lots) -> Iterator[_Layer]:
    """Number the lots that arrive, and return the layer of each, in the order they arrive.

    What is expensed counts as used. Raises Refused where a lot has a cost below zero.
    """
    arrives, amounts = movements.arrives, movements.amount
    if min(compress(amounts, arrives), default=0) < 0:
        place = next(at for at, amount in enumerate(amounts) if arrives[at] and amount < 0)
        raise Refused(
            f"document {movements.document[place]}, line {movements.line[place]} ({movements.sku[place]}): "
            "its discounts and credits come to more than it cost. Check the sign: a discount is typed as "
            "a positive amount."
        )
    numbers = count(len(lots.document))
    lots.document.extend(compress(movements.document, arrives))
    lots.line.extend(compress(movements.line, arrives))
    columns = (compress(column, arrives) for column in (movements.quantity, amounts, movements.expensed))
    return zip(numbers, repeat(1), *columns)


def _expense(layer: _Layer, place: int, takings: Takings) -> None:
    """Take a new lot's abnormal losses, which leave it at once."""
    lot, _, quantity, amount, expensed = layer
    takings.movement.append(place)
    takings.lot.append(lot)
    takings.quantity.append(expensed)
    takings.amount.append((2 * amount * expensed + quantity) // (2 * quantity))


def _short_at(movements: Movements, place: int, missing: int) -> NotEnoughStock:
    return short_of(
        movements.sku[place],
        movements.document[place],
        movements.effect_date[place],
        movements.quantity[place],
        missing,
    )


def all_short(errors: Iterable[NotEnoughStock]) -> NotEnoughStock:
    """Return several shortages as one error that names them all."""
    known = list(errors)
    return NotEnoughStock(
        "\n".join(map(str, known)), [shortage for one in known for shortage in one.shortages]
    )


def short_of(sku: str, document: int, effect_date: str, wanted: int, missing: int) -> NotEnoughStock:
    """Return the error for a line that finds too little; quantities in thousandths."""
    shortage = Shortage(sku, document, effect_date, wanted, missing)
    return NotEnoughStock(shortage_words(shortage, f"document {document}"), [shortage])


ADVICE = "Enter what arrived before that day, or correct the quantity."


def shortage_words(shortage: Shortage, what: str, advice: str = ADVICE) -> str:
    """Return a shortage in words, ``what`` naming the line that finds too little."""
    wanted, missing = shortage.wanted_milli, shortage.missing_milli
    there = show_quantity(wanted - missing) if wanted > missing else "nothing"
    return (
        f"{shortage.sku}: {what} takes {show_quantity(wanted)} on {shortage.effect_date}, on hand {there}, "
        f"missing {show_quantity(missing)}. {advice}"
    ).rstrip()


def _still_open(queues: dict[str, _Queue], lots: _Lots) -> Iterable[OpenLayer]:
    """Yield the layers with something left, per SKU in FIFO order."""
    for sku, queue in queues.items():
        front = (queue.lot, queue.position, queue.size, queue.amount, queue.used)
        for lot, position, size, amount, used in (front, *queue.waiting):
            if used < size:
                yield OpenLayer(sku, lots.document[lot], lots.line[lot], position, size, amount, used)
