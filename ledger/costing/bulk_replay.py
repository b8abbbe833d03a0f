"""Long histories costed in whole columns: what the loop in `ledger.costing.replay` finds, sooner.

Ten years of a busy shop are a million issues over a hundred thousand lots. The loop needs for
them about four times what merely filling the result's columns takes; this module needs RATIO.
It knows the plain case only. Whatever it cannot decide (a shortage, a cost below zero, figures
too large for 64 bits) it leaves to the loop, which has the words for it.

The idea: each SKU's layers, first in first, lie end to end along an axis of quantity, and its
issues, oldest first, along the same axis. An issue takes from the layers its stretch overlaps.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields
from itertools import chain, count
from typing import TYPE_CHECKING

from ledger.costing.layers import OpenLayer
from ledger.costing.replay import Movements, Replayed, Takings

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

# numpy is imported in the functions: ordinary commands cost few movements and never load it.

LARGEST = 2**63 - 1
"""The largest figure a column of 64 bits holds."""


def bulk_replay(start: Sequence[OpenLayer], movements: Movements) -> Replayed | None:
    """Return what the loop returns for the same layers and movements, or None where it must decide.

    ``start`` are the layers open before the first movement, in FIFO order within each SKU;
    ``movements`` follow in costing order. None where a line finds too little, where a cost is
    below zero or a quantity not above it, and where the rounding rule's products could pass
    64 bits. Linear but for the search for each issue's layer.
    """
    if not len(movements):
        return None
    lots = list(dict.fromkeys((one.lot_document, one.lot_line) for one in start))
    numbers: defaultdict[str, int] = defaultdict(count().__next__)
    try:
        layers, issues = _read(start, movements, lots, numbers)
    except OverflowError:
        return None
    if not _fit(layers, issues):
        return None
    shelf = _shelf(layers, issues, len(numbers))
    if shelf is None:
        return None
    pieces = _pieces(shelf)
    if pieces is None:
        return None
    places = layers.place[len(start) :].tolist()
    documents = [*(document for document, _ in lots), *map(movements.document.__getitem__, places)]
    lines = [*(line for _, line in lots), *map(movements.line.__getitem__, places)]
    still_open = tuple(_still_open(shelf, list(numbers), documents, lines))
    takings = _in_costing_order([_expensed(layers), pieces], len(movements))
    return Replayed(takings, documents, lines, still_open)


@dataclass(frozen=True, slots=True)
class _Layers:
    """Layers as columns: the SKU and the lot by running numbers, the movement (-1 before the first).

    ``used`` counts what left before and what is expensed on arrival.
    """

    sku: Ints
    lot: Ints
    place: Ints
    position: Ints
    quantity: Ints
    amount: Ints
    used: Ints

    def pick(self, which: NDArray[np.intp]) -> _Layers:
        """Return the layers at some indexes, in their order."""
        return _Layers(*(getattr(self, column.name)[which] for column in fields(self)))

    def cost_of(self, used: Ints, which: NDArray[np.intp]) -> Ints:
        """Return what the first ``used`` thousandths of the layers at some indexes cost: R(c x used / q)."""
        cost = (2 * self.amount)[which]
        cost *= used
        cost += self.quantity[which]
        cost //= (2 * self.quantity)[which]
        return cost


@dataclass(frozen=True, slots=True)
class _Issues:
    """Lines that leave, as columns: the SKU by its running number, the movement, the quantity."""

    sku: Ints
    place: Ints
    quantity: Ints


@dataclass(frozen=True, slots=True)
class _Shelf:
    """Layers and issues by SKU, and where each begins and ends on the axis of quantity.

    ``taken_until`` says, per layer, where the last issue of its SKU ends.
    """

    layers: _Layers
    layer_begin: Ints
    layer_end: Ints
    taken_until: Ints
    issue_place: Ints
    issue_begin: Ints
    issue_end: Ints


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Takings as columns; ``row`` counts, from zero, the takings of one movement."""

    place: Ints
    row: Ints
    lot: Ints
    quantity: Ints
    amount: Ints


def _ints(values: Iterable[int]) -> Ints:
    """Return whole numbers as a column; raises OverflowError where one needs more than 64 bits."""
    import numpy as np  # noqa: PLC0415

    return np.fromiter(values, dtype=np.int64)


def _read(
    start: Sequence[OpenLayer],
    movements: Movements,
    lots: Sequence[tuple[int, int]],
    numbers: defaultdict[str, int],
) -> tuple[_Layers, _Issues]:
    """Return the layers, those of ``start`` first, and the issues; ``numbers`` learns the SKUs."""
    import numpy as np  # noqa: PLC0415

    arrives = np.frombuffer(bytes(movements.arrives), dtype=np.bool_)
    arrived, left = np.flatnonzero(arrives), np.flatnonzero(~arrives)
    skus = _ints(map(numbers.__getitem__, chain((one.sku for one in start), movements.sku)))
    before, since = skus[: len(start)], skus[len(start) :]
    quantity = _ints(movements.quantity)
    number_of_lot = {lot: number for number, lot in enumerate(lots)}
    known = (number_of_lot[one.lot_document, one.lot_line] for one in start)
    places = arrived.tolist()
    columns = (
        (before, since[arrived]),
        (_ints(known), np.arange(len(lots), len(lots) + len(arrived))),
        (np.full(len(start), -1), arrived),
        (_ints(one.position for one in start), np.ones(len(arrived), dtype=np.int64)),
        (_ints(one.quantity for one in start), quantity[arrived]),
        (_ints(one.amount for one in start), _ints(map(movements.amount.__getitem__, places))),
        (_ints(one.used for one in start), _ints(map(movements.expensed.__getitem__, places))),
    )
    return (
        _Layers(*(np.concatenate(column, dtype=np.int64) for column in columns)),
        _Issues(since[left], left, quantity[left]),
    )


def _fit(layers: _Layers, issues: _Issues) -> bool:
    """Whether all figures are the plain case's, and no sum or product of them can pass 64 bits."""
    most, issued = int(layers.quantity.max(initial=0)), int(issues.quantity.max(initial=0))
    if int(layers.quantity.min(initial=1)) <= 0 or int(issues.quantity.min(initial=1)) <= 0:
        return False
    if min(int(layers.amount.min(initial=0)), int(layers.used.min(initial=0))) < 0:
        return False
    if bool((layers.used > layers.quantity).any()):
        return False
    product = 2 * int(layers.amount.max(initial=0)) * most + most
    return max(product, 2 * most, most * len(layers.sku), issued * len(issues.sku)) <= LARGEST


def _by_sku(sku: Ints, skus: int) -> NDArray[np.intp]:
    """Return the order that puts each SKU's rows together and leaves them in their own order."""
    import numpy as np  # noqa: PLC0415

    # Numbers of 16 bits are sorted by their digits, several times as fast as by comparing.
    small = skus <= np.iinfo(np.uint16).max
    return np.argsort(sku.astype(np.uint16) if small else sku, kind="stable")


def _shelf(layers: _Layers, issues: _Issues, skus: int) -> _Shelf | None:
    """Return layers and issues laid along the axis, or None where an SKU has fewer than leave it."""
    import numpy as np  # noqa: PLC0415

    left = np.flatnonzero(layers.used < layers.quantity)
    layers = layers.pick(left[_by_sku(layers.sku[left], skus)])
    order = _by_sku(issues.sku, skus)
    quantity = issues.quantity[order]
    layer_count, issue_count = (
        np.bincount(layers.sku, minlength=skus),
        np.bincount(issues.sku, minlength=skus),
    )
    layer_sums = np.append(0, np.cumsum(layers.quantity - layers.used))
    issue_sums = np.append(0, np.cumsum(quantity))
    layer_from, layer_to = _bounds(layer_sums, layer_count)
    issue_from, issue_to = _bounds(issue_sums, issue_count)
    taken_until = layer_from + (issue_to - issue_from)
    if bool((taken_until > layer_to).any()):
        return None
    issue_end = issue_sums[1:] + np.repeat(layer_from - issue_from, issue_count)
    return _Shelf(
        layers=layers,
        layer_begin=layer_sums[:-1],
        layer_end=layer_sums[1:],
        taken_until=np.repeat(taken_until, layer_count),
        issue_place=issues.place[order],
        issue_begin=issue_end - quantity,
        issue_end=issue_end,
    )


def _bounds(sums: Ints, counts: NDArray[np.intp]) -> tuple[Ints, Ints]:
    """Return where each SKU's stretch begins and ends: running sums before its first and after its last row."""
    last = counts.cumsum()
    return sums[last - counts], sums[last]


def _pieces(shelf: _Shelf) -> _Pieces | None:
    """Return what each issue takes from each layer, or None where one would take what is not there yet."""
    import numpy as np  # noqa: PLC0415

    layers = shelf.layers
    # How many issues end within each layer says where each issue ends.
    ended = np.searchsorted(shelf.issue_end, shelf.layer_end, side="right")
    last = np.repeat(np.arange(len(ended)), np.diff(ended, prepend=0))
    if bool((layers.place[last] > shelf.issue_place).any()):
        return None
    first = last.copy()
    several = np.flatnonzero(shelf.layer_begin[last] > shelf.issue_begin)
    first[several] = np.searchsorted(shelf.layer_end, shelf.issue_begin[several], side="right")
    pieces = last - first + 1
    row = np.arange(int(pieces.sum())) - np.repeat(pieces.cumsum() - pieces, pieces)
    layer = np.repeat(first, pieces) + row
    used = np.minimum(np.repeat(shelf.issue_end, pieces), shelf.layer_end[layer])
    used += (layers.used - shelf.layer_begin)[layer]
    cost = layers.cost_of(used, layer)
    # A piece begins where the one before it ended; the first of its layer, where the layer was.
    opening = np.flatnonzero(np.diff(layer, prepend=-1))
    opened = layer[opening]
    quantity, amount = np.diff(used, prepend=0), np.diff(cost, prepend=0)
    quantity[opening] = used[opening] - layers.used[opened]
    amount[opening] = cost[opening] - layers.cost_of(layers.used[opened], opened)
    return _Pieces(np.repeat(shelf.issue_place, pieces), row, layers.lot[layer], quantity, amount)


def _expensed(layers: _Layers) -> _Pieces:
    """Return what new lots lose as they arrive."""
    import numpy as np  # noqa: PLC0415

    which = np.flatnonzero((layers.place >= 0) & (layers.used > 0))
    used = layers.used[which]
    place, row = layers.place[which], np.zeros(len(which), dtype=np.int64)
    return _Pieces(place, row, layers.lot[which], used, layers.cost_of(used, which))


def _in_costing_order(parts: Sequence[_Pieces], movements: int) -> Takings:
    """Return takings in the order of their movements; no movement is in two of the parts."""
    import numpy as np  # noqa: PLC0415

    counts = sum(np.bincount(part.place, minlength=movements) for part in parts)
    before = counts.cumsum() - counts
    ordered = np.empty((3, int(counts.sum())), dtype=np.int64)
    for part in parts:
        to = before[part.place] + part.row
        for column, values in zip(ordered, (part.lot, part.quantity, part.amount), strict=True):
            column[to] = values
    return Takings(np.repeat(np.arange(movements), counts).tolist(), *(column.tolist() for column in ordered))


def _still_open(
    shelf: _Shelf, skus: Sequence[str], documents: Sequence[int], lines: Sequence[int]
) -> Iterator[OpenLayer]:
    """Return the layers with something left, per SKU in FIFO order."""
    import numpy as np  # noqa: PLC0415

    layers = shelf.layers
    taken = np.clip(shelf.taken_until, shelf.layer_begin, shelf.layer_end) - shelf.layer_begin
    used = layers.used + taken
    which = np.flatnonzero(used < layers.quantity)
    columns = (layers.sku, layers.lot, layers.position, layers.quantity, layers.amount, used)
    sku, lot, *figures = (column[which].tolist() for column in columns)
    heads = ((skus[one] for one in sku), (documents[one] for one in lot), (lines[one] for one in lot))
    return map(OpenLayer, *heads, *figures)
