"""Long histories costed with whole columns at once: the same takings as the loop in `replay`.

Ten years of a busy shop are a million issues over a hundred thousand lots. The loop costs them in
about four times what it takes merely to fill the result's columns; this way through takes less
than twice that. It knows only the plain case: whatever it cannot decide (a shortage, a cost below
zero, figures too large for 64 bits) it leaves to the loop, which finds the right words.

The idea: line up each SKU's layers, first in first, and its issues, oldest first, along one axis
of quantity. An issue takes from the layers that its stretch of the axis overlaps.
"""

from __future__ import annotations

from array import array
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain, compress, count
from typing import TYPE_CHECKING

from ledger.costing.layers import OpenLayer
from ledger.costing.replay import Movements, Replayed, Takings

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

LARGEST = 2**63 - 1
"""What an element of an integer column holds at most."""


def bulk_replay(start: Sequence[OpenLayer], movements: Movements) -> Replayed | None:
    """Return what `replay` returns for the same layers and movements, or None where the loop must do it.

    ``start`` are the layers open before the first movement, in FIFO order within each SKU;
    ``movements`` follow in costing order. None where a line finds too little, a figure is below
    zero (or a quantity is zero), or a product of the rounding rule could pass 64 bits.
    """
    supply = _read(start, movements)
    if supply is None:
        return None
    layers = _layers_in_order(supply)
    issues = _issues_in_order(supply, layers)
    if issues is None:
        return None
    pieces = _cut(layers, issues)
    if pieces is None:
        return None
    takings = _in_costing_order(len(movements), supply, layers, issues, pieces)
    lots = [(one.lot_document, one.lot_line) for one in start]
    known = list(dict.fromkeys(lots))
    return Replayed(
        takings,
        [*(document for document, _ in known), *compress(movements.document, movements.arrives)],
        [*(line for _, line in known), *compress(movements.line, movements.arrives)],
        (),
    )
