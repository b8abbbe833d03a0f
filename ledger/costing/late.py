"""Late charges: a bill for goods whose month is closed, spread over where those goods are now.

Measured by quantity: what of the lot is on hand or under way, what of it sits in other lots on
hand (through jobs, and jobs of jobs, and arrivals), what the owner took, and the rest, which was
sold or used up. The last part is the cost of goods sold of the month the bill came in.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import lcm

from ledger.costing.facts import ON_HAND, FactLine, Leg, ShareFact
from ledger.costing.legs import LegColumns
from ledger.costing.shelf import LotId
from ledger.costing.spreading import spread

UNDER_WAY = "under way"
OWN_USE = "own use"
USED_UP = "late charges on used stock"

PARTS_OF_A_SHARE = 1_000_000
"""A late share's legs are numbered from this many times its position on: it has as many as it needs."""


@dataclass(frozen=True, slots=True)
class Move:
    """What left a lot, in thousandths; what came back into it is negative.

    All of it is in lot ``into`` where it went into one; what is neither in a lot nor with the owner
    was sold or used up.
    """

    lot: LotId
    quantity: int
    is_own_use: bool = False
    into: LotId | None = None


@dataclass(frozen=True, slots=True)
class LotSize:
    """A lot and how much entered it, in thousandths."""

    sku: str
    received: int
    is_under_way: bool = False


@dataclass(slots=True)
class Became:
    """Where a lot's units are, in thousandths of its own unit, exact."""

    in_lots: dict[LotId, Fraction] = field(default_factory=dict)
    own_use: Fraction = Fraction(0)
    used_up: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class LatePart:
    """What a late share puts on one lot; ``part`` is the number of its leg.

    The lot that was charged always has one, if of nothing: what it cost landed has changed.
    """

    share: ShareFact
    lot: LotId
    sku: str
    part: int
    amount: int
    is_under_way: bool

    @property
    def is_own(self) -> bool:
        """Whether it is the charged lot's own part."""
        return self.lot == (self.share.receipt_document, self.share.receipt_line)


def what_became(
    lot: LotId, moves_of: Callable[[LotId], Sequence[Move]], sizes: Mapping[LotId, LotSize]
) -> Became:
    """Return where the units of a lot are; ``moves_of`` gives what left a lot up to that place in the order.

    Source: our own rule (a late charge follows the goods, by quantity).
    """
    became = Became()
    inflow: dict[LotId, Fraction] = defaultdict(Fraction)
    inflow[lot] = Fraction(sizes[lot].received)
    moves: dict[LotId, Sequence[Move]] = {}
    for one in _components_first(lot, moves_of, moves):
        received = sizes[one].received
        if not received or not inflow[one]:
            continue
        per_unit = inflow[one] / received
        left = Fraction(received)
        for move in moves[one]:
            left -= move.quantity
            carried = per_unit * move.quantity
            if move.is_own_use:
                became.own_use += carried
            elif move.into is not None and sizes[move.into].received:
                inflow[move.into] += carried
            else:
                became.used_up += carried
        if left:
            became.in_lots[one] = per_unit * left
    return became


def _components_first(
    lot: LotId, moves_of: Callable[[LotId], Sequence[Move]], moves: dict[LotId, Sequence[Move]]
) -> list[LotId]:
    """Return the lots reached from one, each after all that flow into it; keep their ``moves``."""
    into: dict[LotId, set[LotId]] = {}
    waiting = [lot]
    while waiting:
        one = waiting.pop()
        if one not in into:
            moves[one] = moves_of(one)
            into[one] = {move.into for move in moves[one] if move.into is not None}
            waiting.extend(into[one])
    sources: dict[LotId, int] = defaultdict(int)
    for targets in into.values():
        for target in targets:
            sources[target] += 1
    ready, order = deque([lot]), []
    while ready:
        one = ready.popleft()
        order.append(one)
        for target in sorted(into[one]):
            sources[target] -= 1
            if not sources[target]:
                ready.append(target)
    return order


def spread_late(
    share: ShareFact, sku: str, became: Became, sizes: Mapping[LotId, LotSize], legs: LegColumns
) -> list[LatePart]:
    """Append the legs of a late share that do not wait for any lot's cost; return its parts for lots.

    One largest remainder over: the lot itself, other lots by number, the owner, what is used up.
    """
    own = (share.receipt_document, share.receipt_line)
    others = sorted(lot for lot in became.in_lots if lot != own)
    lots = [*([own] if own in became.in_lots else []), *others]
    weights = [became.in_lots[lot] for lot in lots]
    gone = [(OWN_USE, became.own_use), (USED_UP, became.used_up)]
    gone = [(account, weight) for account, weight in gone if weight]
    amounts = spread(share.amount, _whole([*weights, *(weight for _, weight in gone)]))
    first = PARTS_OF_A_SHARE * share.position
    _put(legs, share, first + 1, share.account, (sku, None), -share.amount)
    parts = [
        LatePart(share, lot, sizes[lot].sku, first + 2 + 2 * place, amount, sizes[lot].is_under_way)
        for place, (lot, amount) in enumerate(zip(lots, amounts, strict=False))
        if amount or lot == own
    ]
    if own not in became.in_lots:
        parts.append(LatePart(share, own, sku, 0, 0, sizes[own].is_under_way))
    for place, ((account, _), amount) in enumerate(
        zip(gone, amounts[len(lots) :], strict=True), start=len(lots)
    ):
        if amount:
            _put(legs, share, first + 2 + 2 * place, account, (sku, own), amount)
    return parts


def supplies_legs(share: ShareFact, sku: str, legs: LegColumns) -> None:
    """Append the legs of a late share for supplies that were deducted when they were bought."""
    first = PARTS_OF_A_SHARE * share.position
    _put(legs, share, first + 1, share.account, (sku, None), -share.amount)
    _put(legs, share, first + 2, "supplies", (sku, None), share.amount)


def part_legs(part: LatePart, borne: int, legs: LegColumns) -> None:
    """Append the legs of a late share's part for a lot that bears ``borne`` of it.

    A credit of more than the lot is worth takes off what it is worth; the rest of it is the cost
    of goods sold.
    """
    account = UNDER_WAY if part.is_under_way else ON_HAND
    if borne:
        _put(legs, part.share, part.part, account, (part.sku, part.lot), borne)
    if borne != part.amount:
        _put(legs, part.share, part.part + 1, USED_UP, (part.sku, part.lot), part.amount - borne)


def _put(
    legs: LegColumns, share: ShareFact, part: int, account: str, of: tuple[str, LotId | None], amount: int
) -> None:
    """Append one leg of a late share, for an item and perhaps a lot of it."""
    sku, lot = of
    document, line = lot if lot is not None else (None, None)
    legs.put(
        Leg(share.document, share.line, part, share.effect_date, account, sku, document, line, 0, amount)
    )


def _whole(weights: Sequence[Fraction]) -> list[int]:
    """Return weights as whole numbers in the same proportions."""
    common = lcm(*(weight.denominator for weight in weights)) if weights else 1
    return [int(weight * common) for weight in weights]


def moves_of_legs(
    legs: LegColumns, facts: Mapping[LotId, FactLine], made: Mapping[int, LotId]
) -> dict[LotId, list[tuple[LotId, Move]]]:
    """Return what left each lot by the legs of a run, each with the document line that moved it.

    ``facts`` are the run's lines by document and line, ``made`` the finished lot of each job, as far
    as it made one, that of closed months too.
    """
    moved: dict[LotId, list[tuple[LotId, Move]]] = defaultdict(list)
    columns = zip(
        legs.document,
        legs.line,
        legs.account,
        legs.lot_document,
        legs.lot_line,
        legs.quantity_milli,
        strict=True,
    )
    for document, line, account, lot_document, lot_line, quantity in columns:
        if account not in (ON_HAND, UNDER_WAY) or lot_document is None or lot_line is None or not quantity:
            continue
        lot, number = (lot_document, lot_line), (document, line)
        if quantity > 0 and lot == number:
            continue
        moved[lot].append((number, _move(lot, -quantity, account, facts[number], made)))
    return moved


def _move(lot: LotId, quantity: int, account: str, fact: FactLine, made: Mapping[int, LotId]) -> Move:
    if account == UNDER_WAY:
        # Good pieces bear what was paid for those that are claimed or lost as usual, as in any receipt.
        kept = fact.quantity_milli - fact.claimed_milli - fact.normal_milli
        return Move(lot, quantity, into=(fact.document, fact.line) if kept else None)
    is_reversal = fact.event == "reversal"
    event = fact.undone_event if is_reversal else fact.event
    if fact.role == "component":
        return Move(lot, quantity, into=made.get((fact.ref_document or 0) if is_reversal else fact.document))
    return Move(lot, quantity, is_own_use=event == OWN_USE)
