"""Long histories costed in whole columns: what the loop in `ledger.costing.replay` finds, sooner.

Ten years of a busy shop are a million issues over a hundred thousand lots. The loop needs for
them four times what merely filling the result's columns takes, this way one and a half times (the
benchmark's figures). It knows the plain case only: a shortage, a cost below zero or figures too
large for 64 bits are left to the loop, which has the words for them.

The idea: each SKU's layers, first in first, lie end to end along an axis of quantity, and its
issues, oldest first, along the same axis. An issue takes from the layers its stretch overlaps.
"""

from __future__ import annotations

from array import array
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
    below zero or a quantity not above it, and where a product of the rounding rule could pass 64 bits.
    """
    skus: defaultdict[str, int] = defaultdict(count().__next__)
    lots: defaultdict[tuple[int, int], int] = defaultdict(count().__next__)
    try:
        layers, issues = _read(start, movements, skus, lots)
    except OverflowError:
        return None
    shelf = _shelf(layers, issues, len(skus)) if _fit(layers, issues) else None
    pieces = _pieces(shelf) if shelf else None
    if shelf is None or pieces is None:
        return None
    places = layers.place[len(start) :].tolist()
    documents = [*(document for document, _ in lots), *map(movements.document.__getitem__, places)]
    lines = [*(line for _, line in lots), *map(movements.line.__getitem__, places)]
    still_open = tuple(_still_open(shelf, list(skus), documents, lines))
    return Replayed(_in_costing_order(layers, pieces, len(movements)), documents, lines, still_open)


@dataclass(frozen=True, slots=True)
class _Layers:
    """Layers as columns: SKU and lot by running numbers, movement (-1: none), what left or was expensed."""

    sku: Ints
    lot: Ints
    place: Ints
    position: Ints
    quantity: Ints
    amount: Ints
    used: Ints

    def pick(self, which: Ints) -> _Layers:
        """Return the layers at some indexes, in their order."""
        return _Layers(*(getattr(self, column.name)[which] for column in fields(self)))

    def cost_of(self, used: Ints, which: Ints) -> Ints:
        """Return what the first ``used`` thousandths of the layers at some indexes cost: R(c x used / q)."""
        cost = (2 * self.amount)[which] * used
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
    """Layers and issues by SKU, where they are on the axis and, per layer, where its SKU's issues end."""

    layers: _Layers
    issues: _Issues
    layer_begin: Ints
    layer_end: Ints
    issue_end: Ints
    taken_until: Ints


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Takings of issues as columns; ``row`` counts, from zero, those of one movement."""

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
    skus: defaultdict[str, int],
    lots: defaultdict[tuple[int, int], int],
) -> tuple[_Layers, _Issues]:
    """Return the layers, those of ``start`` first, and the issues; number the SKUs and the lots of ``start``."""
    import numpy as np  # noqa: PLC0415

    arrives = np.array(bytearray(movements.arrives), dtype=np.bool_)
    arrived, left = np.flatnonzero(arrives), np.flatnonzero(~arrives)
    sku = _ints(map(skus.__getitem__, chain((one.sku for one in start), movements.sku)))
    before, since = sku[: len(start)], sku[len(start) :]
    known = _ints(lots[one.lot_document, one.lot_line] for one in start)
    quantity, places = _ints(movements.quantity), arrived.tolist()
    columns = (
        (before, since[arrived]),
        (known, np.arange(len(lots), len(lots) + len(arrived))),
        (np.full(len(start), -1), arrived),
        (_ints(one.position for one in start), np.ones(len(arrived), dtype=np.int64)),
        (_ints(one.quantity for one in start), quantity[arrived]),
        (_ints(one.amount for one in start), _ints(map(movements.amount.__getitem__, places))),
        (_ints(one.used for one in start), _ints(map(movements.expensed.__getitem__, places))),
    )
    layers = _Layers(*(np.concatenate(column, dtype=np.int64) for column in columns))
    return layers, _Issues(since[left], left, quantity[left])


def _fit(layers: _Layers, issues: _Issues) -> bool:
    """Whether all figures are the plain case's, and no sum or product of them can pass 64 bits."""
    most, issued = int(layers.quantity.max(initial=0)), int(issues.quantity.max(initial=0))
    if min(layers.quantity.min(initial=1), issues.quantity.min(initial=1)) <= 0:
        return False
    if min(layers.amount.min(initial=0), layers.used.min(initial=0)) < 0:
        return False
    product = 2 * int(layers.amount.max(initial=0)) * most + most
    sums = max(2 * most, most * len(layers.sku), issued * len(issues.sku))
    return max(product, sums) <= LARGEST and bool((layers.used <= layers.quantity).all())


def _by_sku(sku: Ints, skus: int) -> Ints:
    """Return the order that puts each SKU's rows together and leaves them in their own order."""
    import numpy as np  # noqa: PLC0415

    # 16 bits are sorted by their digits, several times as fast as by comparing.
    return np.argsort(sku.astype(np.uint16) if skus <= 2**16 else sku, kind="stable")


def _shelf(layers: _Layers, issues: _Issues, skus: int) -> _Shelf | None:
    """Return layers and issues laid along the axis, or None where more of an SKU leaves than ever came."""
    import numpy as np  # noqa: PLC0415

    left = np.flatnonzero(layers.used < layers.quantity)
    layers = layers.pick(left[_by_sku(layers.sku[left], skus)])
    order = _by_sku(issues.sku, skus)
    issues = _Issues(issues.sku, issues.place[order], issues.quantity[order])
    sums = [np.append(0, column.cumsum()) for column in (layers.quantity - layers.used, issues.quantity)]
    counts = [np.bincount(column, minlength=skus) for column in (layers.sku, issues.sku)]
    ends = [one.cumsum() for one in counts]
    begun, issued_before = (one[end - rows] for one, end, rows in zip(sums, ends, counts, strict=True))
    taken_until = begun + sums[1][ends[1]] - issued_before
    if bool((taken_until > sums[0][ends[0]]).any()):
        return None
    issue_end = sums[1][1:] + (begun - issued_before).repeat(counts[1])
    return _Shelf(layers, issues, sums[0][:-1], sums[0][1:], issue_end, taken_until.repeat(counts[0]))


def _pieces(shelf: _Shelf) -> _Pieces | None:
    """Return what each issue takes from each layer, or None where one would take what is not there yet."""
    import numpy as np  # noqa: PLC0415

    layers, issues, layer_begin = shelf.layers, shelf.issues, shelf.layer_begin
    # How many issues end within each layer says where each issue ends.
    ended = np.searchsorted(shelf.issue_end, shelf.layer_end, side="right")
    last = np.arange(len(ended)).repeat(np.diff(ended, prepend=0))
    if bool((layers.place[last] > issues.place).any()):
        return None
    first, issue_begin = last.copy(), shelf.issue_end - issues.quantity
    several = np.flatnonzero(layer_begin[last] > issue_begin)
    first[several] = np.searchsorted(shelf.layer_end, issue_begin[several], side="right")
    pieces = last - first + 1
    row = np.arange(int(pieces.sum())) - (pieces.cumsum() - pieces).repeat(pieces)
    layer = first.repeat(pieces) + row
    used = np.minimum(shelf.issue_end.repeat(pieces), shelf.layer_end[layer])
    used += (layers.used - layer_begin)[layer]
    cost = layers.cost_of(used, layer)
    # A piece begins where the one before it ended; the first of its layer, where the layer was.
    opening = np.flatnonzero(np.diff(layer, prepend=-1))
    opened = layer[opening]
    quantity, amount = np.diff(used, prepend=0), np.diff(cost, prepend=0)
    quantity[opening] = used[opening] - layers.used[opened]
    amount[opening] = cost[opening] - layers.cost_of(layers.used[opened], opened)
    return _Pieces(issues.place.repeat(pieces), row, layers.lot[layer], quantity, amount)


def _in_costing_order(layers: _Layers, pieces: _Pieces, movements: int) -> Takings:
    """Return all takings in the order of their movements: the issues' pieces, and what is expensed."""
    import numpy as np  # noqa: PLC0415

    lost = np.flatnonzero((layers.place >= 0) & (layers.used > 0))
    place, used = layers.place[lost], layers.used[lost]
    rows = np.bincount(pieces.place, minlength=movements)
    rows[place] = 1
    before = rows.cumsum() - rows
    at = before[pieces.place] + pieces.row
    from_pieces = pieces.lot, pieces.quantity, pieces.amount
    from_arrivals = layers.lot[lost], used, layers.cost_of(used, lost)
    ordered = np.empty((3, int(rows.sum())), dtype=np.int64)
    for column, taken, expensed in zip(ordered, from_pieces, from_arrivals, strict=True):
        column[at] = taken
        column[before[place]] = expensed
    columns = (np.arange(movements, dtype=np.int64).repeat(rows), *ordered)
    return Takings(*(array("q", column.tobytes()) for column in columns))


def _still_open(
    shelf: _Shelf, skus: Sequence[str], documents: Sequence[int], lines: Sequence[int]
) -> Iterator[OpenLayer]:
    """Return the layers with something left, per SKU in FIFO order."""
    layers = shelf.layers
    used = layers.used + shelf.taken_until.clip(shelf.layer_begin, shelf.layer_end) - shelf.layer_begin
    which = (used < layers.quantity).nonzero()[0]
    columns = (layers.sku, layers.lot, layers.position, layers.quantity, layers.amount, used)
    sku, lot, *figures = (column[which].tolist() for column in columns)
    heads = ((skus[one] for one in sku), (documents[one] for one in lot), (lines[one] for one in lot))
    return map(OpenLayer, *heads, *figures)
