"""One SKU's shelf during a replay: lots in order, their layers, what goes short, what comes back.

The fast loop in `ledger.costing.replay` serves items that only arrive and leave; a shelf serves
everything else: returns, counts, write-downs, stock used before it was entered.
"""

from __future__ import annotations

import bisect
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from ledger.costing.spreading import spread
from ledger.errors import Refused
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import divide_round

LotKey = tuple[str, int, int, int]
"""A lot's place in the order of use: day available, class of its event, document, line."""

COUNT_CLASS = 6

LotId = tuple[int, int]
"""A lot by the document and line that made it."""


@dataclass(slots=True)
class Layer:
    """A part of a lot: ``used`` of ``quantity`` have left ``amount``."""

    position: int
    quantity: int
    amount: int
    used: int = 0

    @property
    def left(self) -> int:
        """What is still there, in thousandths."""
        return self.quantity - self.used

    @property
    def value(self) -> int:
        """What is still there, in minor units."""
        return self.amount - divide_round(self.amount * self.used, self.quantity)

    def take(self, quantity: int) -> int:
        """Take ``quantity``, at most what is left; return what it costs."""
        before = divide_round(self.amount * self.used, self.quantity)
        self.used += quantity
        return divide_round(self.amount * self.used, self.quantity) - before


@dataclass(slots=True)
class ShelfLot:
    """A lot on the shelf, from its first unit to after its last; a return may open it again."""

    key: LotKey
    received: int
    landed: int
    layers: list[Layer] = field(default_factory=list)

    @property
    def lot(self) -> LotId:
        """The document and line that made it."""
        return self.key[2:]

    def open_layers(self) -> Iterator[Layer]:
        """Yield the layers with something left."""
        return (layer for layer in self.layers if layer.left)

    @property
    def left(self) -> int:
        """What is still there, in thousandths."""
        return sum(layer.left for layer in self.layers)

    @property
    def value(self) -> int:
        """What is still there, in minor units."""
        return sum(layer.value for layer in self.open_layers())


@dataclass(slots=True)
class Portion:
    """What one line took out of one lot; ``back`` is how much of it a customer returned."""

    lot: LotId | None
    quantity: int
    amount: int
    back: int = 0

    def give_back(self, quantity: int) -> int:
        """Return the worth of ``quantity`` coming back, the last taken first."""
        left = self.quantity - self.back
        worth = divide_round(self.amount * left, self.quantity) - divide_round(
            self.amount * (left - quantity), self.quantity
        )
        self.back += quantity
        return worth


@dataclass(slots=True)
class Short:
    """What a line used before it was entered: ``portion`` shrinks as later lots settle it.

    The part still outstanding is worth its share of the cost it was given, ``cost`` for
    ``quantity``; what was returned keeps the worth it came back at.
    """

    month: str
    portion: Portion
    quantity: int
    cost: int
    returned_worth: int = 0

    @property
    def outstanding(self) -> int:
        """What is still neither settled nor returned."""
        return self.portion.quantity - self.portion.back

    def settle(self, quantity: int) -> None:
        """Take ``quantity`` out of the short: it came from a lot after all."""
        self.portion.quantity -= quantity
        self.portion.amount = self._worth(self.outstanding) + self.returned_worth

    def give_back(self, quantity: int) -> int:
        """Return the worth of ``quantity`` coming back before it was ever entered."""
        worth = self._worth(self.outstanding) - self._worth(self.outstanding - quantity)
        self.portion.back += quantity
        self.returned_worth += worth
        return worth

    def _worth(self, quantity: int) -> int:
        return divide_round(self.cost * quantity, self.quantity)


@dataclass(slots=True)
class Taken:
    """What one line took: its portions in order, and what went short."""

    portions: list[Portion] = field(default_factory=list)
    short: Short | None = None

    def fresh(self) -> Taken:
        """Return a copy, whose portions can be given back apart from this one's."""
        return Taken([replace(one) for one in self.portions], self.short)

    def entries(self) -> list[Portion]:
        """Return all portions, the short one last, without the empty ones."""
        rest = [self.short.portion] if self.short and self.short.portion.quantity else []
        return [*self.portions, *rest]


class Missing(Exception):
    """Too little is on the shelf; the caller knows the document and says so."""

    def __init__(self, quantity: int) -> None:
        self.quantity = quantity
        super().__init__(quantity)


class Shelf:
    """One SKU's lots, oldest first."""

    def __init__(self, sku: str) -> None:
        self.sku = sku
        self.lots: list[ShelfLot] = []
        self.shorts: list[tuple[int, Short]] = []
        """Unsettled shorts with the replay's place of their line, in costing order."""
        self.takens: dict[int, Taken] = {}
        self.carried_short = 0
        """Shorts of closed months: they count against stock and are never settled."""
        self.under_way: dict[LotId, ShelfLot] = {}
        """Lots that were shipped; what has not arrived of them is in their layers."""
        self._first = 0

    def put(self, lot: ShelfLot) -> None:
        """Put a lot in its place in the order."""
        if not self.lots or self.lots[-1].key <= lot.key:
            self.lots.append(lot)
            return
        bisect.insort(self.lots, lot, key=lambda one: one.key)
        self._first = 0

    def on_hand(self) -> int:
        """What the lots hold, in thousandths."""
        return sum(lot.left for lot in self.lots[self._first :])

    def outstanding(self) -> int:
        """What is short, in thousandths."""
        return self.carried_short + sum(short.outstanding for _, short in self.shorts)

    def latest_cost(self, quantity: int) -> int | None:
        """Return ``quantity`` at the latest landed cost, None where none is known."""
        for lot in reversed(self.lots):
            if lot.key[1] != COUNT_CLASS and lot.received > 0:
                return divide_round(lot.landed * quantity, lot.received)
        return None

    def arrive(self, lot: ShelfLot, month: str) -> list[int]:
        """Put a new lot on the shelf and let it settle what went short in its month.

        Returns the places of the lines it settled.
        """
        self.put(lot)
        settled = []
        for place, short in self.shorts:
            wanted = min(short.outstanding, lot.left) if short.month == month else 0
            if wanted:
                self.takens[place].portions.append(_from_lot(lot, wanted))
                short.settle(wanted)
                settled.append(place)
        self.shorts = [(place, short) for place, short in self.shorts if short.outstanding]
        return settled

    def leave(self, wanted: int) -> tuple[list[Portion], int]:
        """Take from the oldest lots; return the portions and how much was missing."""
        portions: list[Portion] = []
        while wanted and self._first < len(self.lots):
            lot = self.lots[self._first]
            quantity = min(wanted, lot.left)
            if quantity:
                portions.append(_from_lot(lot, quantity))
                wanted -= quantity
            if not lot.left:
                self._first += 1
        return portions, wanted

    def leave_line(self, place: int, wanted: int, *, month: str, short_allowed: bool, own_cost: int) -> Taken:
        """Let a line take ``wanted``; what is missing goes short where that is allowed.

        Raises Missing where that is not allowed.
        """
        portions, missing = self.leave(wanted)
        taken = self.takens[place] = Taken(portions)
        if missing:
            cost = self.latest_cost(missing)
            if cost is None and own_cost > 0:
                cost = own_cost
            if not short_allowed or cost is None:
                raise Missing(missing)
            taken.short = Short(month, Portion(None, missing, cost), missing, cost)
            self.shorts.append((place, taken.short))
        return taken

    def send_back(self, preferred: LotId | None, wanted: int) -> list[Portion]:
        """Take from the preferred lot (document, line) what it still holds, the rest from the oldest.

        Raises Missing as `leave_line`.
        """
        portions: list[Portion] = []
        for lot in self.lots:
            if preferred is not None and lot.lot == preferred and lot.left:
                quantity = min(wanted, lot.left)
                portions.append(_from_lot(lot, quantity))
                wanted -= quantity
        rest, missing = self.leave(wanted)
        if missing:
            raise Missing(missing)
        return [*portions, *rest]

    def take_back(self, taken: Taken, quantity: int) -> list[Portion]:
        """Give units of a sale back to the lots they came from, the last taken first.

        Raises Refused where more comes back than was sold.
        """
        returned: list[Portion] = []
        for portion in reversed(taken.entries()):
            back = min(quantity, portion.quantity - portion.back)
            if not back:
                continue
            is_short = taken.short is not None and portion is taken.short.portion
            worth = taken.short.give_back(back) if taken.short and is_short else portion.give_back(back)
            quantity -= back
            returned.append(Portion(portion.lot, back, worth))
            if portion.lot is not None:
                self._layer_in_front(portion.lot, back, worth)
            elif not is_short:
                self.carried_short -= back
        if quantity:
            raise Refused(show_quantity(quantity))
        self.shorts = [(place, short) for place, short in self.shorts if short.outstanding]
        return returned

    def _layer_in_front(self, lot: LotId, quantity: int, worth: int) -> None:
        for place, one in enumerate(self.lots):
            if one.lot == lot:
                # Only open layers number the new one: a replay that begins at a close knows no others.
                front = min((layer.position for layer in one.open_layers()), default=1) - 1
                one.layers.insert(0, Layer(front, quantity, worth))
                self._first = min(self._first, place)
                return
        raise ValueError(f"lot {lot} of {self.sku} is not known to the replay")

    def take_from(self, lot: ShelfLot, quantity: int) -> int:
        """Take ``quantity``, at most what is left, out of one lot; return what it costs."""
        return _from_lot(lot, quantity).amount

    def find(self, lot: LotId) -> ShelfLot:
        """Return a lot of this item, on the shelf or under way."""
        if lot in self.under_way:
            return self.under_way[lot]
        for one in self.lots:
            if one.lot == lot:
                return one
        raise ValueError(f"lot {lot} of {self.sku} is not known to the replay")

    def bear(self, lot: ShelfLot, amount: int) -> int:
        """Put a late charge's part on a lot, at most taking its value away; return what it bears.

        Each open layer ends and starts again with what is left of it: an increase is spread over
        them by quantity, a decrease by value.
        """
        layers = list(lot.open_layers())
        values = [layer.value for layer in layers]
        worth = [max(0, value) for value in values]
        borne = max(amount, -sum(worth))
        if borne:
            weights = [layer.left for layer in layers] if borne > 0 else worth
            for layer, value, share in zip(layers, values, spread(borne, weights), strict=True):
                layer.quantity, layer.amount, layer.used = layer.left, value + share, 0
        return borne

    def write_down(self, loss: int) -> dict[LotId, int]:
        """Lower the layers' amounts by ``loss``, at most their value; return what each lot lost."""
        layers = [(lot, layer) for lot in self.lots[self._first :] for layer in lot.open_layers()]
        values = [layer.value for _, layer in layers]
        loss = min(loss, sum(values))
        if not loss:
            return {}
        losses: dict[LotId, int] = {}
        for (lot, layer), value, share in zip(layers, values, spread(loss, values), strict=True):
            losses[lot.lot] = losses.get(lot.lot, 0) + share
            layer.quantity, layer.amount, layer.used = layer.left, value - share, 0
        return {lot: lost for lot, lost in losses.items() if lost}


def _from_lot(lot: ShelfLot, wanted: int) -> Portion:
    """Take ``wanted`` (at most what is left) out of one lot, as one portion."""
    total = wanted
    amount = 0
    for layer in lot.open_layers():
        quantity = min(wanted, layer.left)
        amount += layer.take(quantity)
        wanted -= quantity
        if not wanted:
            break
    return Portion(lot.lot, total, amount)
