"""What must hold of every lot, and of what went short: invariants 2 and 5, over facts and legs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from ledger.costing.facts import ON_HAND, PRODUCT, SUPPLIES_WHEN_BOUGHT, FactLine, Facts, Leg
from ledger.costing.findings import HELD_ACCOUNTS, PARTS_OF_A_SHARE, UNDER_WAY, Finding, Sum, place, units
from ledger.exact.quantity import show_quantity

_Number = tuple[int, int]
"""A document and a line in it, which is also the number of the lot that the line makes."""


@dataclass(slots=True)
class _LotSums:
    """What one lot received, and what its legs say became of it.

    ``held`` is what is on hand, or still under way where the lot was ``shipped``. ``came_back`` is
    positive: what customers returned of what left. ``came_on`` is what other lots' late charges
    brought, ``passed_on`` what its own brought to other lots.
    """

    received: Sum = field(default_factory=Sum)
    held: Sum = field(default_factory=Sum)
    left: Sum = field(default_factory=Sum)
    came_back: Sum = field(default_factory=Sum)
    written_down: int = 0
    came_on: int = 0
    passed_on: int = 0
    shipped: bool = False


def lot_findings(facts: Facts, legs: Iterable[Leg]) -> list[Finding]:
    """Return the findings of invariant 2: lots whose cost or quantity got lost on the way.

    Per lot, in amount: invoice and all charges, or what the job cost, what came on from other lots'
    late charges and the worth of what came back are what left, what late charges passed on, what
    was written down and what is on hand or under way. In quantity: what was received and came back
    is what left and what is on hand or under way. Nothing on hand or under way costs nothing, no lot
    holds less than nothing, and no more comes back than left.

    Args:
        facts: the facts, which say what each lot received.
        legs: the legs, which say what became of it, what a job cost and what a count found more.
    """
    listed = list(legs)
    standing = _standing(facts)
    lots = _lots_received(standing, listed)
    findings = []
    for leg in listed:
        if leg.lot_document is None or leg.lot_line is None:
            continue
        lot = lots.get((leg.lot_document, leg.lot_line))
        if lot is None:
            what = f"the lot {leg.lot_document}.{leg.lot_line} follows from no line that makes one"
            findings.append(Finding(2, what, place(leg)))
        else:
            _add_leg(lot, leg)
    _add_what_left_as_a_whole(lots, standing, listed)
    _add_what_late_charges_passed_on(lots, standing, listed)
    for (document, line), lot in sorted(lots.items()):
        findings += [Finding(2, what, f"lot {document}.{line}") for what in _faults_of_a_lot(lot)]
    return findings


def _add_leg(lot: _LotSums, leg: Leg) -> None:
    """Add a leg to the sums of its lot."""
    if leg.account in HELD_ACCOUNTS:
        lot.held.add(leg.quantity_milli, leg.amount)
    elif leg.account == "write-downs":
        lot.written_down += leg.amount
    elif leg.quantity_milli < 0:
        lot.came_back.add(-leg.quantity_milli, -leg.amount)
    else:
        lot.left.add(leg.quantity_milli, leg.amount)


def _add_what_left_as_a_whole(lots: Mapping[_Number, _LotSums], facts: Facts, legs: Sequence[Leg]) -> None:
    """Add what arrivals took of lots under way, and the lots that reversals took away.

    Their legs elsewhere name no lot, or another one: the quantity is read off the facts, and the
    amount off all the legs of the line but those of the account that the lot stood in.
    """
    lines = {(line.document, line.line): line for line in facts.lines}
    taken: dict[_Number, tuple[_Number, int, str]] = {}
    for number, line in lines.items():
        original = (line.ref_document or 0, line.ref_line or 0)
        if original in lots and _is_arrival(line):
            taken[number] = (original, line.quantity_milli, UNDER_WAY)
        elif original in lots and line.event == "reversal" and _made_a_lot(lines[original]):
            left_milli = _kept_milli(lines[original]) - lines[original].expensed_milli
            taken[number] = (original, left_milli, ON_HAND)
    for original, quantity_milli, _ in taken.values():
        lots[original].left.add(quantity_milli, 0)
    for leg in legs:
        number = (leg.document, leg.line)
        if number in taken and leg.account != taken[number][2]:
            lots[taken[number][0]].left.add(0, leg.amount)


def _add_what_late_charges_passed_on(
    lots: Mapping[_Number, _LotSums], facts: Facts, legs: Sequence[Leg]
) -> None:
    """Add what the late charges of each lot brought to other lots."""
    late = {
        (share.document, share.line, share.position): (share.receipt_document, share.receipt_line)
        for share in facts.shares
        if share.path == "late"
    }
    for leg in legs:
        own_lot = late.get((leg.document, leg.line, leg.part // PARTS_OF_A_SHARE))
        lot = (leg.lot_document or 0, leg.lot_line or 0)
        if own_lot in lots and lot in lots and own_lot is not None and lot != own_lot:
            lots[own_lot].passed_on += leg.amount
            lots[lot].came_on += leg.amount


def _lots_received(facts: Facts, legs: Sequence[Leg]) -> dict[_Number, _LotSums]:
    """Return the lots with what each received.

    What a job cost is what its product took out of work in process, what a count found more is
    what came from count differences, and what an arrival cost is what it took out of what was
    under way: these follow from the legs, all else from the facts.
    """
    out_of_process = _sums_out_of(legs, "work in process")
    counted_more = _sums_out_of(legs, "count differences")
    out_of_under_way = _sums_out_of(legs, UNDER_WAY, of_lots=True)
    lots: dict[_Number, _LotSums] = {}
    for line in facts.lines:
        number = (line.document, line.line)
        kept_milli = _kept_milli(line)
        if line.event == "count" and number in counted_more:
            lots[number] = _LotSums(counted_more[number])
        elif not _made_a_lot(line):
            continue
        elif line.role == PRODUCT:
            lots[number] = _LotSums(Sum(kept_milli, out_of_process[number].amount))
        elif _is_arrival(line):
            amount = out_of_under_way[number].amount - line.claimed_amount
            lots[number] = _LotSums(Sum(kept_milli, amount))
        else:
            amount = line.amount - line.claimed_amount
            lots[number] = _LotSums(Sum(kept_milli, amount), shipped=line.event == "ship")
    for share in facts.shares:
        receipt = (share.receipt_document, share.receipt_line)
        if receipt in lots:
            lots[receipt].received.add(0, share.amount)
    return lots


def _sums_out_of(legs: Iterable[Leg], account: str, *, of_lots: bool = False) -> dict[_Number, Sum]:
    """Return, for each line, what left an account without a lot, or with one."""
    sums: dict[_Number, Sum] = defaultdict(Sum)
    for leg in legs:
        if leg.account == account and (leg.lot_document is not None) == of_lots:
            sums[leg.document, leg.line].add(-leg.quantity_milli, -leg.amount)
    return sums


def _standing(facts: Facts) -> Facts:
    """Return the facts without those of the documents that take no part in the costing."""
    dropped = {
        number for undo in facts.undos if undo.path == "dropped" for number in (undo.document, undo.undoes)
    }
    return Facts(
        tuple(line for line in facts.lines if line.document not in dropped),
        tuple(share for share in facts.shares if share.document not in dropped),
    )


def _is_arrival(line: FactLine) -> bool:
    """Return whether a line brings in what was under way."""
    return line.event == "receipt" and line.ref_document is not None


def _kept_milli(line: FactLine) -> int:
    """Return what of a line that brings something in makes its lot."""
    return line.quantity_milli - line.claimed_milli - line.normal_milli


def _made_a_lot(line: FactLine) -> bool:
    """Return whether a line brought in something that is kept in stock, or has the carrier bring it."""
    comes_in = line.event in {"opening", "receipt", "ship"} or (line.event == "make" and line.role == PRODUCT)
    return comes_in and line.tax_class != SUPPLIES_WHEN_BOUGHT and _kept_milli(line) > 0


def _faults_of_a_lot(lot: _LotSums) -> list[str]:
    """Return what is wrong with one lot, in words."""
    received, left, held, came_back = lot.received, lot.left, lot.held, lot.came_back
    where = "under way" if lot.shipped else "on hand"
    faults = []
    came_amount = received.amount + lot.came_on + came_back.amount
    if came_amount != left.amount + lot.passed_on + lot.written_down + held.amount:
        came_on = f" and {units(lot.came_on)} of others' late charges" if lot.came_on else ""
        back = f" and {units(came_back.amount)} came back" if came_back.amount else ""
        passed_on = f", {units(lot.passed_on)} passed on" if lot.passed_on else ""
        down = f", {units(lot.written_down)} written down" if lot.written_down else ""
        faults.append(
            f"cost {units(received.amount)} with its charges{came_on}{back}, "
            f"but {units(left.amount)} left{passed_on}{down} and {units(held.amount)} are {where}"
        )
    if received.quantity_milli + came_back.quantity_milli != left.quantity_milli + held.quantity_milli:
        back = f" and {show_quantity(came_back.quantity_milli)} came back" if came_back.quantity_milli else ""
        faults.append(
            f"received {show_quantity(received.quantity_milli)}{back}, "
            f"but {show_quantity(left.quantity_milli)} left and {show_quantity(held.quantity_milli)} "
            f"are {where}"
        )
    return faults + _faults_of_what_is_held(lot, where)


def _faults_of_what_is_held(lot: _LotSums, where: str) -> list[str]:
    """Return what cannot be of what came back, was written down and is held, in words."""
    faults = []
    if lot.came_back.quantity_milli > lot.left.quantity_milli:
        faults.append(
            f"{show_quantity(lot.came_back.quantity_milli)} came back, "
            f"but only {show_quantity(lot.left.quantity_milli)} left"
        )
    if lot.written_down < 0:
        faults.append(f"was written up by {units(-lot.written_down)}")
    if lot.held.quantity_milli == 0 and lot.held.amount != 0:
        faults.append(f"nothing is {where}, but it costs {units(lot.held.amount)}")
    if lot.held.quantity_milli < 0:
        faults.append(f"holds {show_quantity(lot.held.quantity_milli)}, less than nothing")
    return faults


def negative_stock_findings(legs: Iterable[Leg], facts: Facts | None = None) -> list[Finding]:
    """Return the findings of invariant 5: stock below zero, but for what may go short.

    What a line that may go short took of a lot that came later counts from the day the lot came,
    and what no lot settled does not count at all. With that, no SKU has less than nothing on hand
    or under way at the end of any day, and nothing leaves without a lot but what may go short.

    Args:
        legs: all the legs of the book.
        facts: the facts, which say which lines may go short; without them no line may.
    """
    may_go_short, arrived_on = _lines_that_may_go_short(facts), _days_of_arrival(facts)
    by_day: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    under_way_by_day: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    findings = []
    for leg in legs:
        if leg.account == UNDER_WAY:
            under_way_by_day[leg.sku][leg.effect_date] += leg.quantity_milli
        if leg.account != ON_HAND:
            continue
        number, lot = (leg.document, leg.line), (leg.lot_document, leg.lot_line)
        if number not in may_go_short:
            by_day[leg.sku][leg.effect_date] += leg.quantity_milli
            if lot == (None, None) and leg.quantity_milli != 0:
                what = f"{show_quantity(-leg.quantity_milli)} of {leg.sku} left without a lot, though nothing may go short there"
                findings.append(Finding(5, what, place(leg)))
        elif lot != (None, None):
            by_day[leg.sku][max(leg.effect_date, arrived_on.get(lot, ""))] += leg.quantity_milli
    return findings + _days_below_zero(by_day, "on hand") + _days_below_zero(under_way_by_day, "under way")


def _lines_that_may_go_short(facts: Facts | None) -> set[_Number]:
    """Return the numbers of the marked lines, and of those that take back or reverse such a line."""
    lines = facts.lines if facts else ()
    marked = {(line.document, line.line) for line in lines if line.short_allowed}
    back = {
        (line.document, line.line)
        for line in lines
        if line.event in {"take back", "reversal"} and (line.ref_document, line.ref_line) in marked
    }
    return marked | back


def _days_of_arrival(facts: Facts | None) -> dict[tuple[int | None, int | None], str]:
    """Return the date of each line, which is the day its lot came if it makes one."""
    lines = facts.lines if facts else ()
    return {(line.document, line.line): line.effect_date for line in lines}


def _days_below_zero(by_day: Mapping[str, Mapping[str, int]], where: str) -> list[Finding]:
    """Return a finding for each SKU and day at whose end there is less than nothing of it."""
    findings = []
    for sku, changes in sorted(by_day.items()):
        held_milli = 0
        for effect_date, change_milli in sorted(changes.items()):
            held_milli += change_milli
            if held_milli < 0:
                what = f"{show_quantity(held_milli)} {where} at the end of the day, less than nothing"
                findings.append(Finding(5, what, f"{sku} on {effect_date}"))
    return findings
