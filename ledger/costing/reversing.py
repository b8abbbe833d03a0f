"""Real reversals: a document of a closed month is undone by entries of an open one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ledger.costing.facts import ARRIVES_FROM, COMPONENT, LEAVES_TO, ON_HAND, PRODUCT, FactLine
from ledger.costing.shelf import Shelf, Taken
from ledger.errors import Refused

if TYPE_CHECKING:
    from ledger.costing.shelf_walk import ShelfWalk

WORK_IN_PROCESS = "work in process"
UNEXPLAINED = "late charges on used stock"


def reverse(walk: ShelfWalk, fact: FactLine, shelf: Shelf) -> None:
    """Undo one line of an earlier document: what left comes back at its cost, what came in leaves whole."""
    if fact.role == PRODUCT:
        _unmake(walk, fact, shelf)
    elif fact.undone_event in ARRIVES_FROM:
        _unreceive(walk, fact, shelf)
    else:
        _come_back(walk, fact, shelf)


def _come_back(walk: ShelfWalk, fact: FactLine, shelf: Shelf) -> None:
    line = (fact.ref_document or 0, fact.ref_line or 0)
    at = walk.place_of.get(line)
    taken: Taken | None = shelf.takens.get(at) if at is not None else walk.run_of.sold.get(line)
    if taken is None:
        raise Refused(f"{fact.sku}: document {line[0]} took nothing that could come back.")
    try:
        portions = shelf.take_back(taken, fact.quantity_milli)
    except Refused as too_much:
        raise Refused(
            f"{fact.sku}: of what {fact.undone_event} {line[0]} took some came back already, {too_much} of it."
        ) from too_much
    entry, part = walk.run_of.legs.entry, 0
    for one in portions:
        entry(fact, part + 1, ON_HAND, one.lot, one.quantity, one.amount)
        if fact.role == COMPONENT:
            entry(fact, part + 2, "used", one.lot, -one.quantity, 0)
            entry(fact, part + 3, WORK_IN_PROCESS, one.lot, 0, -one.amount)
            part += 3
        else:
            entry(fact, part + 2, LEAVES_TO[fact.undone_event], one.lot, -one.quantity, -one.amount)
            part += 2


def _unreceive(walk: ShelfWalk, fact: FactLine, shelf: Shelf) -> None:
    entry = walk.run_of.legs.entry
    entry(fact, 1, ARRIVES_FROM[fact.undone_event], None, fact.quantity_milli, fact.amount)
    part = 1
    value = 0
    kept = fact.quantity_milli - fact.claimed_milli - fact.normal_milli
    if kept:
        lot, left, value = _take_whole(fact, shelf, kept - fact.expensed_milli)
        part += 1
        entry(fact, part, ON_HAND, lot, -left, -value)
    if fact.claimed_milli:
        part += 1
        entry(fact, part, "returned to supplier", None, -fact.claimed_milli, -fact.claimed_amount)
    if fact.normal_milli:
        part += 1
        entry(fact, part, "spoilage", None, -fact.normal_milli, 0)
    _rest(walk, fact, part + 1, fact.amount - fact.claimed_amount - value)


def _unmake(walk: ShelfWalk, fact: FactLine, shelf: Shelf) -> None:
    entry, job = walk.run_of.legs.entry, fact.ref_document or 0
    total = walk.run_of.start.reversed_jobs.get(job)
    if total is None:
        total = walk.run_of.job_costs.get(job, 0)
    entry(fact, 1, WORK_IN_PROCESS, None, 0, total)
    kept = fact.quantity_milli - fact.normal_milli
    if not kept:
        entry(fact, 2, "spoilage", None, 0, -total)
        return
    lot, left, value = _take_whole(fact, shelf, kept - fact.expensed_milli)
    entry(fact, 2, "made", None, kept, 0)
    entry(fact, 3, ON_HAND, lot, -left, -value)
    _rest(walk, fact, 4, total - value)


def _take_whole(fact: FactLine, shelf: Shelf, wanted: int) -> tuple[tuple[int, int], int, int]:
    """Take all that is left of the reversed line's lot; return the lot, the quantity and its value.

    Raises Refused where something of it is gone.
    """
    number = (fact.ref_document or 0, fact.ref_line or 0)
    lot = shelf.find(number)
    left, value = lot.left, lot.value
    if left != wanted:
        raise Refused(
            f"{fact.sku}: what {fact.undone_event} {number[0]} brought in was used since, so it cannot be taken out "
            "whole. Reopen its month to correct it there."
        )
    if left:
        shelf.take_from(lot, left)
    lot.received = 0
    return number, left, value


def _rest(walk: ShelfWalk, fact: FactLine, part: int, rest: int) -> None:
    """Write what the reversed line expensed, or what of its cost went elsewhere since."""
    entry = walk.run_of.legs.entry
    if fact.expensed_milli:
        entry(fact, part, "spoilage", None, -fact.expensed_milli, -rest)
    elif rest:
        entry(fact, part, UNEXPLAINED, None, 0, -rest)
