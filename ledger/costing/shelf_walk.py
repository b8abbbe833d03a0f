"""Costing items on their shelves: everything that can happen to an item, in costing order."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING

from ledger.costing.facts import ARRIVES_FROM, CLASS_IN_DAY, COMPONENT, LEAVES_TO, ON_HAND, PRODUCT, FactLine
from ledger.costing.late import LatePart, part_legs
from ledger.costing.layers import OpenLayer
from ledger.costing.replay import short_of
from ledger.costing.reversing import reverse
from ledger.costing.shelf import Layer, LotId, LotKey, Missing, Portion, Shelf, ShelfLot, Taken
from ledger.costing.spreading import spread
from ledger.costing.states import LateCost
from ledger.costing.under_way import arrive_from_shipment, ship
from ledger.errors import NotEnoughStock, OwnAncestor, Refused
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import divide_round

if TYPE_CHECKING:
    from ledger.costing.walk import _Run


_WITHOUT_SUPPLIER = (CLASS_IN_DAY["make"], CLASS_IN_DAY["count"])
"""The classes of lots that no supplier sent."""


class ShelfWalk:
    """One group of items: one item, or several that are made from one another in a circle."""

    def __init__(self, run: _Run, group: list[str], layers: Mapping[str, list[OpenLayer]]) -> None:
        self.run_of = run
        self.shelves = {sku: Shelf(sku) for sku in group}
        self.is_circle = len(group) > 1
        self.places = sorted(place for sku in group for place in run.places[sku])
        self.place_of = {(run.facts[place].document, run.facts[place].line): place for place in self.places}
        self.sealed: set[int] = set()
        """Places of components whose job is costed already: in a circle they can no longer change."""
        self.invoice_costs: dict[LotId, tuple[int, int]] = {}
        """Invoice cost and quantity received of each bought lot, for what a supplier credits."""
        for sku, shelf in self.shelves.items():
            self._open(sku, shelf, layers.get(sku, []))

    def _open(self, sku: str, shelf: Shelf, layers: Iterable[OpenLayer]) -> None:
        """Put what stood before the first fact on the shelf."""
        start = self.run_of.start
        lots = {lot.key[2:]: lot for lot in start.lots if lot.sku == sku}
        for known in lots.values():
            # A reversed lot holds nothing and is no latest cost.
            lot = ShelfLot(known.key, known.received if known.landed is not None else 0, known.landed or 0)
            if known.is_under_way:
                shelf.under_way[lot.lot] = lot
            else:
                shelf.put(lot)
            if known.key[1] not in _WITHOUT_SUPPLIER:
                self.invoice_costs[known.key[2:]] = (known.invoice_cost, known.received)
        by_lot = {lot.lot: lot for lot in (*shelf.lots, *shelf.under_way.values())}
        for layer in layers:
            by_lot[layer.lot_document, layer.lot_line].layers.append(
                Layer(layer.position, layer.quantity, layer.amount, layer.used)
            )
        shelf.carried_short = start.short.get(sku, 0)

    def run(self) -> None:
        """Walk through the group's facts, then write the legs of what left, and what is left."""
        handlers: dict[str, Callable[[int, FactLine, Shelf], None]] = {
            "make": self._make,
            "take back": self._take_back,
            "send back": self._send_back,
            "count": self._count,
            "write down": self._write_down,
            "reversal": self._reverse,
            "ship": self._ship,
            **dict.fromkeys(ARRIVES_FROM, self._arrive),
            **dict.fromkeys(LEAVES_TO, self._leave),
        }
        late = deque(
            sorted(
                (one for sku in self.shelves for one in self.run_of.late_parts.get(sku, ())),
                key=lambda one: one[0],
            )
        )
        for place in self.places:
            while late and late[0][0] <= place:
                self._late(late.popleft()[1])
            fact = self.run_of.facts[place]
            handlers[fact.event](place, fact, self.shelves[fact.sku])
        for _, part in late:
            self._late(part)
        for shelf in self.shelves.values():
            self._finish(shelf)

    def _late(self, part: LatePart) -> None:
        """Put a late share's part on its lot."""
        shelf = self.shelves[part.sku]
        lot = shelf.find(part.lot)
        borne = shelf.bear(lot, part.amount)
        part_legs(part, borne, self.run_of.legs)
        landed = part.share.amount if part.is_own else borne
        lot.landed += landed
        self.run_of.late_costs.append(LateCost(part.share, part.lot, part.sku, landed))

    def _ship(self, place: int, fact: FactLine, shelf: Shelf) -> None:
        del place
        ship(self, fact, shelf)

    def _reverse(self, place: int, fact: FactLine, shelf: Shelf) -> None:
        del place
        reverse(self, fact, shelf)

    def _make(self, place: int, fact: FactLine, shelf: Shelf) -> None:
        if fact.role == COMPONENT:
            self._leave(place, fact, shelf)
            return
        if self.is_circle:
            self._seal(fact.document)
        self._arrive(place, fact, shelf)

    def _seal(self, document: int) -> None:
        """Add what the group's own components of a job cost, which from here on is fixed."""
        for shelf in self.shelves.values():
            for place, taken in shelf.takens.items():
                component = self.run_of.facts[place]
                if (
                    component.document == document
                    and component.role == COMPONENT
                    and place not in self.sealed
                ):
                    self.sealed.add(place)
                    self._add_job_cost(document, taken)

    def _add_job_cost(self, document: int, taken: Taken) -> None:
        costs = self.run_of.job_costs
        costs[document] = costs.get(document, 0) + sum(one.amount for one in taken.entries())

    def _arrive(self, place: int, fact: FactLine, shelf: Shelf) -> None:
        del place
        if fact.is_arrival:
            arrive_from_shipment(self, fact, shelf)
            return
        run = self.run_of
        cost = run.arrival_cost(fact)
        quantity = fact.quantity_milli - fact.claimed_milli - fact.normal_milli
        if cost < 0:
            raise Refused(
                f"document {fact.document}, line {fact.line} ({fact.sku}): its discounts and credits come to "
                "more than it cost. Check the sign: a discount is typed as a positive amount."
            )
        run.arrived(fact, cost)
        if quantity <= 0:
            return
        charges = run.charged.get((fact.document, fact.line), 0)
        self.put_lot(fact, shelf, (quantity, cost, cost if fact.role == PRODUCT else cost - charges))

    def put_lot(self, fact: FactLine, shelf: Shelf, figures: tuple[int, int, int]) -> None:
        """Put a lot of (quantity, landed cost, invoice cost) on the shelf, its abnormal losses gone."""
        quantity, cost, invoice_cost = figures
        key = lot_key(fact)
        lot = ShelfLot(key, quantity, cost, [Layer(1, quantity, cost)])
        if key[1] not in _WITHOUT_SUPPLIER:
            self.invoice_costs[key[2:]] = (invoice_cost, quantity)
        if fact.expensed_milli and fact.event != "count":
            amount = lot.layers[0].take(fact.expensed_milli)
            part = self.run_of.first_part[fact.document, fact.line]
            entry = self.run_of.legs.entry
            entry(fact, part + 1, ON_HAND, lot.lot, -fact.expensed_milli, -amount)
            entry(fact, part + 2, "spoilage", lot.lot, fact.expensed_milli, amount)
        settled = shelf.arrive(lot, fact.effect_date[:7])
        if self.sealed.intersection(settled):
            raise OwnAncestor(
                f"{fact.sku}: document {fact.document} would supply a job that it was itself made from. "
                "Check the dates of the jobs, or enter where the missing stock came from."
            )

    def _leave(self, place: int, fact: FactLine, shelf: Shelf) -> None:
        try:
            shelf.leave_line(
                place,
                fact.quantity_milli,
                month=fact.effect_date[:7],
                short_allowed=fact.short_allowed,
                own_cost=fact.amount if fact.role != PRODUCT else 0,
            )
        except Missing as missing:
            raise self._not_enough(fact, missing) from missing

    def _not_enough(self, fact: FactLine, missing: Missing) -> NotEnoughStock:
        return short_of(fact.sku, fact.document, fact.effect_date, fact.quantity_milli, missing.quantity)

    def _take_back(self, place: int, fact: FactLine, shelf: Shelf) -> None:
        del place
        sale = (fact.ref_document or 0, fact.ref_line or 0)
        sold_at = self.place_of.get(sale)
        taken = shelf.takens.get(sold_at) if sold_at is not None else self.run_of.sold.get(sale)
        if taken is None:
            raise Refused(f"{fact.sku}: document {fact.document} takes back a sale that is not there.")
        try:
            portions = shelf.take_back(taken, fact.quantity_milli)
        except Refused as too_much:
            raise Refused(
                f"{fact.sku}: {show_quantity(fact.quantity_milli)} come back on {fact.effect_date}, "
                f"{too_much} more than sale {sale[0]} still has out. Check the quantity and the sale."
            ) from too_much
        part = 0
        for one in portions:
            self.run_of.legs.entry(fact, part + 1, ON_HAND, one.lot, one.quantity, one.amount)
            self.run_of.legs.entry(fact, part + 2, "pieces sold", one.lot, -one.quantity, -one.amount)
            part += 2

    def _send_back(self, place: int, fact: FactLine, shelf: Shelf) -> None:
        del place
        preferred = (fact.ref_document, fact.ref_line or 0) if fact.ref_document else None
        try:
            portions = shelf.send_back(preferred, fact.quantity_milli)
        except Missing as missing:
            raise self._not_enough(fact, missing) from missing
        entry, part = self.run_of.legs.entry, 0
        for one, credit in zip(portions, self._credits(fact, portions), strict=True):
            entry(fact, part + 1, ON_HAND, one.lot, -one.quantity, -one.amount)
            entry(fact, part + 2, "returned to supplier", one.lot, one.quantity, credit)
            part += 2
            if one.amount != credit:
                part += 1
                entry(fact, part, "supplier price differences", one.lot, 0, one.amount - credit)

    def _credits(self, fact: FactLine, portions: list[Portion]) -> list[int]:
        """Return what the supplier credits for each portion: as told, else its invoice cost."""
        if fact.credit is not None:
            return spread(fact.credit, [one.quantity for one in portions])
        credits_ = []
        for one in portions:
            invoice = self.invoice_costs.get(one.lot or (0, 0))
            # What was made or counted has no invoice: it is credited at its cost.
            credits_.append(
                one.amount if invoice is None else divide_round(invoice[0] * one.quantity, invoice[1])
            )
        return credits_

    def _count(self, place: int, fact: FactLine, shelf: Shelf) -> None:
        difference = fact.quantity_milli - (shelf.on_hand() - shelf.outstanding())
        if difference < 0:
            portions, _ = shelf.leave(-difference)
            part = 0
            for one in portions:
                self.run_of.legs.entry(fact, part + 1, ON_HAND, one.lot, -one.quantity, -one.amount)
                self.run_of.legs.entry(fact, part + 2, "count differences", one.lot, one.quantity, one.amount)
                part += 2
        elif difference > 0:
            cost = shelf.latest_cost(difference)
            if cost is None:
                raise Refused(
                    f"{fact.sku}: {show_quantity(fact.quantity_milli)} were counted on {fact.effect_date}, but "
                    "nothing of it ever came in. Enter the receipt, or what the shop had as opening stock."
                )
            lot = (fact.document, fact.line)
            self.run_of.legs.entry(fact, 1, "count differences", None, -difference, -cost)
            self.run_of.legs.entry(fact, 2, ON_HAND, lot, difference, cost)
            self.run_of.lot(fact, difference, cost, 0)
            self.put_lot(fact, shelf, (difference, cost, cost))
        del place

    def _write_down(self, place: int, fact: FactLine, shelf: Shelf) -> None:
        del place
        part = 0
        for lot, loss in shelf.write_down(fact.amount).items():
            self.run_of.legs.entry(fact, part + 1, ON_HAND, lot, 0, -loss)
            self.run_of.legs.entry(fact, part + 2, "write-downs", lot, 0, loss)
            part += 2

    def _finish(self, shelf: Shelf) -> None:
        """Write the legs of what left the shelf, now that every short is settled that will be."""
        run = self.run_of
        for place, taken in shelf.takens.items():
            fact = run.facts[place]
            if fact.role == COMPONENT and place not in self.sealed:
                self._add_job_cost(fact.document, taken)
            self._leaving_legs(fact, taken)
        for place, short in shelf.shorts:
            fact = run.facts[place]
            run.note_short(fact, short.outstanding)
        for lot in (*shelf.lots, *shelf.under_way.values()):
            for layer in lot.open_layers():
                run.open_layers.append(
                    OpenLayer(shelf.sku, *lot.lot, layer.position, layer.quantity, layer.amount, layer.used)
                )

    def _leaving_legs(self, fact: FactLine, taken: Taken) -> None:
        entry, part = self.run_of.legs.entry, 0
        for one in taken.entries():
            entry(fact, part + 1, ON_HAND, one.lot, -one.quantity, -one.amount)
            if fact.role == COMPONENT:
                entry(fact, part + 2, "used", one.lot, one.quantity, 0)
                entry(fact, part + 3, "work in process", one.lot, 0, one.amount)
                part += 3
            else:
                entry(fact, part + 2, LEAVES_TO[fact.event], one.lot, one.quantity, one.amount)
                part += 2


def lot_key(fact: FactLine) -> LotKey:
    """Return the place of the lot that a fact makes in the order of use."""
    return (fact.effect_date, CLASS_IN_DAY[fact.event], fact.document, fact.line)
