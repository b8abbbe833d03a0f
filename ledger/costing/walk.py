"""The fast engine as a whole: facts in, the double entry and what is left on the shelves out.

Items are costed in the order in which they are made from one another. Items that only arrive
and leave go through the fast loop together; an item with returns, counts, write-downs, or stock
used before it was entered goes over a shelf of its own.
"""

from __future__ import annotations

import bisect
from collections.abc import Callable, Iterable, Mapping, Sequence

from ledger.costing.facts import (
    ARRIVES_FROM,
    CLASS_IN_DAY,
    COMPONENT,
    LABOUR,
    LATE,
    LEAVES_TO,
    PRODUCT,
    FactLine,
    ShareFact,
)
from ledger.costing.landed import is_stocked
from ledger.costing.late import (
    LatePart,
    LotSize,
    Move,
    moves_of_legs,
    spread_late,
    supplies_legs,
    what_became,
)
from ledger.costing.layers import OpenLayer
from ledger.costing.legs import (
    LegColumns,
    fixed_legs,
    share_legs,
    taking_legs,
)
from ledger.costing.order import dependency_groups, in_costing_order, late_position, positions
from ledger.costing.replay import Movements, all_short, replay
from ledger.costing.shelf import LotId
from ledger.costing.shelf_walk import ShelfWalk
from ledger.costing.states import LateCost, MadeLot, OutstandingShort, Start, Walked
from ledger.errors import NotEnoughStock

WORK_IN_PROCESS = "work in process"

_COMES_IN = (*ARRIVES_FROM, "ship", "reversal")
"""The events whose lines may be of supplies when bought: those make no lot."""


def walk(
    facts: Iterable[FactLine], shares: Iterable[tuple[ShareFact, str, str]], start: Start | None = None
) -> Walked:
    """Return the double entry of facts and what is left on the shelves after them.

    ``facts`` are those that take part in the costing (no dropped pairs), in any order;
    ``shares`` the charge shares, each with the SKU and tax class of its receipt line. Where some
    are late the engine runs twice: where the goods are does not depend on what they cost.

    Raises NotEnoughStock naming what goes short without being allowed to, Refused for returns of
    more than was sold and costs below zero, OwnAncestor for a lot made from itself.
    """
    ordered = in_costing_order(facts)
    begin = start or Start()
    early, late = [], []
    for one in shares:
        if one[0].path == LATE:
            late.append(one)
        else:
            early.append(one)
    run = _Run(ordered, early, begin)
    run.cost()
    if any(share.amount for share, _, _ in late):
        without = run
        run = _Run(ordered, early, begin)
        run.follow(without, late)
        run.cost()
    return Walked(run.legs, run.lots, run.open_layers, run.shorts, run.late_costs)


class _Run:
    """One run of the engine."""

    def __init__(self, facts: list[FactLine], shares: list[tuple[ShareFact, str, str]], start: Start) -> None:
        self.facts, self.start = facts, start
        self.legs = LegColumns()
        self.lots: list[MadeLot] = []
        self.open_layers: list[OpenLayer] = []
        self.shorts: list[OutstandingShort] = []
        self.job_costs = dict(start.job_costs)
        # A run gives of the portions of earlier lines back: the next run must find them as they were.
        self.sold = {line: taken.fresh() for line, taken in start.sold.items()}
        self.late_costs: list[LateCost] = []
        self.late_parts: dict[str, list[tuple[int, LatePart]]] = {}
        """Per SKU, in order: before which place of the facts a late share's part comes, and the part."""
        self.charged: dict[LotId, int] = {}
        shipped = {(fact.document, fact.line) for fact in facts if fact.event == "ship"}
        for share, sku, tax_class in shares:
            is_under_way = (share.receipt_document, share.receipt_line) in shipped
            share_legs(share, sku, tax_class, self.legs, is_under_way=is_under_way)
            key = (share.receipt_document, share.receipt_line)
            self.charged[key] = self.charged.get(key, 0) + share.amount
        self.with_under_way = {lot.sku for lot in start.lots if lot.is_under_way} | {
            fact.sku for fact in facts if fact.event == "ship"
        }
        self.places: dict[str, list[int]] = {}
        self.first_part: dict[LotId, int] = {}
        self._look_at_facts()

    def _look_at_facts(self) -> None:
        """Group the facts by item, note which item is made from which, and write fixed legs."""
        components: dict[int, set[str]] = {}
        products: dict[int, str] = {}
        for place, fact in enumerate(self.facts):
            if fact.role == LABOUR:
                self.job_costs[fact.document] = self.job_costs.get(fact.document, 0) + fact.amount
                self._labour_legs(fact)
                continue
            if fact.event in _COMES_IN:
                self.first_part[fact.document, fact.line] = fixed_legs(fact, self.legs)
                if not is_stocked(fact.tax_class):
                    continue
            self.places.setdefault(fact.sku, []).append(place)
            if fact.event == "make":
                if fact.role == COMPONENT:
                    components.setdefault(fact.document, set()).add(fact.sku)
                else:
                    products[fact.document] = fact.sku
        for layer in self.start.layers:
            self.places.setdefault(layer.sku, [])
        self.made_from: dict[str, set[str]] = {}
        for document, sku in products.items():
            if document in components:
                self.made_from.setdefault(sku, set()).update(components[document])

    def _labour_legs(self, fact: FactLine) -> None:
        amount = -fact.amount if fact.event == "reversal" else fact.amount
        if amount:
            self.legs.entry(fact, 1, "labour", None, 0, -amount)
            self.legs.entry(fact, 2, WORK_IN_PROCESS, None, 0, amount)

    def follow(self, without: _Run, late: list[tuple[ShareFact, str, str]]) -> None:
        """Spread the late shares over where the goods were in a run ``without`` them."""
        known = {lot.key[2:]: LotSize(lot.sku, lot.received, lot.is_under_way) for lot in self.start.lots}
        new = {
            (lot.document, lot.line): LotSize(lot.sku, lot.quantity_received, lot.is_under_way)
            for lot in without.lots
        }
        sizes = {**known, **new}
        by_line = {(fact.document, fact.line): place for place, fact in enumerate(self.facts)}
        made = {
            **self.start.made,
            **{fact.document: line for line in new if (fact := self.facts[by_line[line]]).role == PRODUCT},
        }
        moved = moves_of_legs(
            without.legs, {line: self.facts[place] for line, place in by_line.items()}, made
        )
        past: dict[LotId, list[Move]] = {}
        for move in self.start.past:
            past.setdefault(move.lot, []).append(move)
        order = positions(self.facts)
        for share, sku, tax_class in sorted(late, key=lambda one: late_position(one[0])):
            if not share.amount:
                continue
            if not is_stocked(tax_class):
                supplies_legs(share, sku, self.legs)
                continue
            at = bisect.bisect_left(order, late_position(share))
            became = what_became(
                (share.receipt_document, share.receipt_line), _moves_before(at, past, moved, by_line), sizes
            )
            for part in spread_late(share, sku, became, sizes, self.legs):
                self.late_parts.setdefault(part.sku, []).append((at, part))
                self.places.setdefault(part.sku, [])

    def cost(self) -> None:
        """Cost all items, those that others are made from first."""
        groups = dependency_groups(list(self.places), self.made_from)
        level_of: dict[str, int] = {}
        levels: dict[int, list[list[str]]] = {}
        for group in groups:
            inside = set(group)
            below = [
                level_of[component]
                for sku in group
                for component in self.made_from.get(sku, ())
                if component in level_of and component not in inside
            ]
            level = max(below, default=-1) + 1
            level_of.update(dict.fromkeys(group, level))
            levels.setdefault(level, []).append(group)
        shortages: list[NotEnoughStock] = []
        for level in sorted(levels):
            self._cost_level(levels[level], shortages)
        if shortages:
            raise all_short(shortages)

    def _cost_level(self, groups: list[list[str]], shortages: list[NotEnoughStock]) -> None:
        """Cost groups that do not depend on one another."""
        layers: dict[str, list[OpenLayer]] = {}
        for layer in self.start.layers:
            layers.setdefault(layer.sku, []).append(layer)
        simple = [
            group[0]
            for group in groups
            if len(group) == 1 and self._is_simple(group[0], layers.get(group[0], []))
        ]
        if simple:
            try:
                self._cost_simple(simple, layers)
            except NotEnoughStock as shortage:
                shortages.append(shortage)
        alone = set(simple)
        for group in groups:
            if group[0] not in alone:
                try:
                    ShelfWalk(self, group, layers).run()
                except NotEnoughStock as shortage:
                    shortages.append(shortage)

    def _is_simple(self, sku: str, layers: Sequence[OpenLayer]) -> bool:
        """Whether an item only arrives and leaves, each lot in one layer, and never goes short by leave."""
        if self.start.short.get(sku) or sku in self.late_parts or sku in self.with_under_way:
            return False
        if len({(layer.lot_document, layer.lot_line) for layer in layers}) < len(layers):
            return False
        there = sum(layer.left for layer in layers)
        for place in self.places[sku]:
            fact = self.facts[place]
            if fact.event != "reversal" and (fact.event in LEAVES_TO or fact.role == COMPONENT):
                there -= fact.quantity_milli
                if there < 0 and fact.short_allowed:
                    return False
            elif fact.event != "reversal" and (fact.event in ARRIVES_FROM or fact.role == PRODUCT):
                there += kept(fact) - fact.expensed_milli
            else:
                return False
        return True

    def _cost_simple(self, skus: list[str], layers: Mapping[str, list[OpenLayer]]) -> None:
        """Cost items that only arrive and leave, all in one run of the fast loop."""
        movements = Movements()
        for place in sorted(place for sku in skus for place in self.places[sku]):
            self._add_movement(self.facts[place], movements)
        replayed = replay((layer for sku in skus for layer in layers.get(sku, [])), movements)
        taking_legs(movements, replayed, self.legs, self.first_part)
        takings = replayed.takings
        for place, amount in zip(takings.movement, takings.amount, strict=True):
            if movements.account[place] == WORK_IN_PROCESS and not movements.arrives[place]:
                document = movements.document[place]
                self.job_costs[document] = self.job_costs.get(document, 0) + amount
        self.open_layers.extend(replayed.open_layers)

    def _add_movement(self, fact: FactLine, movements: Movements) -> None:
        arrives = fact.role == PRODUCT or fact.event in ARRIVES_FROM
        quantity, amount = fact.quantity_milli, 0
        if arrives:
            quantity, amount = kept(fact), self.arrival_cost(fact)
            self.arrived(fact, amount)
            if quantity <= 0:
                return
        account = WORK_IN_PROCESS if fact.event == "make" else LEAVES_TO.get(fact.event, "")
        movements.document.append(fact.document)
        movements.line.append(fact.line)
        movements.effect_date.append(fact.effect_date)
        movements.sku.append(fact.sku)
        movements.arrives.append(arrives)
        movements.account.append(account)
        movements.quantity.append(quantity)
        movements.amount.append(amount)
        movements.expensed.append(fact.expensed_milli if arrives else 0)

    def arrival_cost(self, fact: FactLine) -> int:
        """Return what an arriving line or a job's product costs landed, in minor units."""
        if fact.role == PRODUCT:
            return self.job_costs.get(fact.document, 0)
        return fact.amount - fact.claimed_amount + self.charged.get((fact.document, fact.line), 0)

    def arrived(self, fact: FactLine, cost: int) -> None:
        """Note the lot of an arriving line, and write the legs of a job's product."""
        quantity = kept(fact)
        if fact.role == PRODUCT:
            self.legs.entry(fact, 1, WORK_IN_PROCESS, None, 0, -cost)
            if quantity <= 0:
                self.legs.entry(fact, 2, "spoilage", None, 0, cost)
                return
            self.legs.entry(fact, 2, "made", None, -quantity, 0)
            self.legs.entry(fact, 3, "on hand", (fact.document, fact.line), quantity, cost)
            self.first_part[fact.document, fact.line] = 3
        if quantity > 0:
            charges = self.charged.get((fact.document, fact.line), 0)
            self.lot(fact, quantity, cost - charges, charges)

    def lot(self, fact: FactLine, quantity: int, invoice_cost: int, charges: int) -> None:
        """Note a lot that a fact makes; what a shipment makes is under way."""
        self.lots.append(
            MadeLot(
                fact.document,
                fact.line,
                fact.sku,
                fact.effect_date,
                CLASS_IN_DAY[fact.event],
                quantity,
                invoice_cost,
                charges,
                fact.event == "ship",
            )
        )

    def note_short(self, fact: FactLine, quantity: int) -> None:
        """Note a line whose stock was never entered, so far."""
        self.shorts.append(OutstandingShort(fact.document, fact.line, fact.sku, fact.effect_date, quantity))


def _moves_before(
    at: int,
    past: Mapping[LotId, list[Move]],
    moved: Mapping[LotId, list[tuple[LotId, Move]]],
    by_line: Mapping[LotId, int],
) -> Callable[[LotId], list[Move]]:
    """Return what says of a lot what left it before a place of the facts."""

    def moves_of(lot: LotId) -> list[Move]:
        return [*past.get(lot, ()), *(move for line, move in moved.get(lot, ()) if by_line[line] < at)]

    return moves_of


def kept(fact: FactLine) -> int:
    """Return how much of an arriving line or a product enters its lot, in thousandths."""
    return fact.quantity_milli - fact.claimed_milli - fact.normal_milli
