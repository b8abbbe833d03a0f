"""What must hold of every lot, and of what went short: invariants 2 and 5, over facts and legs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from ledger.costing.facts import ON_HAND, PRODUCT, SUPPLIES_WHEN_BOUGHT, FactLine, Facts, Leg
from ledger.costing.findings import Finding, Sum, place, units
from ledger.exact.quantity import show_quantity

_Number = tuple[int, int]
"""A document and a line in it, which is also the number of the lot that the line makes."""


@dataclass(slots=True)
class _LotSums:
    """What one lot received, and what its legs say became of it.

    ``came_back`` is positive: what customers returned of what left.
    """

    received: Sum = field(default_factory=Sum)
    on_hand: Sum = field(default_factory=Sum)
    left: Sum = field(default_factory=Sum)
    came_back: Sum = field(default_factory=Sum)
    written_down: int = 0


def lot_findings(facts: Facts, legs: Iterable[Leg]) -> list[Finding]:
    """Return the findings of invariant 2: lots whose cost or quantity got lost on the way.

    Per lot, in amount: invoice and charges, or what the job cost, and the worth of what came
    back, are what left, what was written down and what is on hand. In quantity: what was received
    and came back is what left and what is on hand. Nothing on hand costs nothing, no lot holds
    less than nothing, and no more comes back than left.

    Args:
        facts: the facts, which say what each lot received.
        legs: the legs, which say what became of it, what a job cost and what a count found more.
    """
    listed = list(legs)
    lots = _lots_received(facts, listed)
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
    for (document, line), lot in sorted(lots.items()):
        findings += [Finding(2, what, f"lot {document}.{line}") for what in _faults_of_a_lot(lot)]
    return findings


def _add_leg(lot: _LotSums, leg: Leg) -> None:
    """Add a leg to the sums of its lot."""
    if leg.account == ON_HAND:
        lot.on_hand.add(leg.quantity_milli, leg.amount)
    elif leg.account == "write-downs":
        lot.written_down += leg.amount
    elif leg.quantity_milli < 0:
        lot.came_back.add(-leg.quantity_milli, -leg.amount)
    else:
        lot.left.add(leg.quantity_milli, leg.amount)


def _lots_received(facts: Facts, legs: Sequence[Leg]) -> dict[_Number, _LotSums]:
    """Return the lots with what each received.

    What a job cost is what its product took out of work in process, and what a count found more
    is what came from count differences: both follow from the legs, all else from the facts.
    """
    dropped = _dropped(facts)
    out_of_process = _sums_without_a_lot(legs, "work in process")
    counted_more = _sums_without_a_lot(legs, "count differences")
    lots: dict[_Number, _LotSums] = {}
    for line in facts.lines:
        number = (line.document, line.line)
        if line.document in dropped:
            continue
        kept_milli = line.quantity_milli - line.claimed_milli - line.normal_milli
        if line.role == PRODUCT and kept_milli > 0:
            lots[number] = _LotSums(Sum(kept_milli, out_of_process[number].amount))
        elif line.event == "count" and number in counted_more:
            lots[number] = _LotSums(counted_more[number])
        elif _comes_into_stock(line) and kept_milli > 0:
            lots[number] = _LotSums(Sum(kept_milli, line.amount - line.claimed_amount))
    for share in facts.shares:
        receipt = (share.receipt_document, share.receipt_line)
        if share.document not in dropped and receipt in lots:
            lots[receipt].received.add(0, share.amount)
    return lots


def _sums_without_a_lot(legs: Iterable[Leg], account: str) -> dict[_Number, Sum]:
    """Return, for each line, what left an account without a lot."""
    sums: dict[_Number, Sum] = defaultdict(Sum)
    for leg in legs:
        if leg.lot_document is None and leg.account == account:
            sums[leg.document, leg.line].add(-leg.quantity_milli, -leg.amount)
    return sums


def _dropped(facts: Facts) -> set[int]:
    """Return the numbers of the documents that take no part in the costing."""
    return {
        number for undo in facts.undos if undo.path == "dropped" for number in (undo.document, undo.undoes)
    }


def _comes_into_stock(line: FactLine) -> bool:
    """Return whether a line is an arrival that is kept in stock."""
    return line.event in {"opening", "receipt"} and line.tax_class != SUPPLIES_WHEN_BOUGHT


def _faults_of_a_lot(lot: _LotSums) -> list[str]:
    """Return what is wrong with one lot, in words."""
    received, left, on_hand, came_back = lot.received, lot.left, lot.on_hand, lot.came_back
    faults = []
    if received.amount + came_back.amount != left.amount + lot.written_down + on_hand.amount:
        back = f" and {units(came_back.amount)} came back" if came_back.amount else ""
        down = f", {units(lot.written_down)} written down" if lot.written_down else ""
        faults.append(
            f"cost {units(received.amount)} with its charges{back}, "
            f"but {units(left.amount)} left{down} and {units(on_hand.amount)} are on hand"
        )
    if received.quantity_milli + came_back.quantity_milli != left.quantity_milli + on_hand.quantity_milli:
        back = f" and {show_quantity(came_back.quantity_milli)} came back" if came_back.quantity_milli else ""
        faults.append(
            f"received {show_quantity(received.quantity_milli)}{back}, "
            f"but {show_quantity(left.quantity_milli)} left and {show_quantity(on_hand.quantity_milli)} "
            "are on hand"
        )
    if came_back.quantity_milli > left.quantity_milli:
        faults.append(
            f"{show_quantity(came_back.quantity_milli)} came back, "
            f"but only {show_quantity(left.quantity_milli)} left"
        )
    if lot.written_down < 0:
        faults.append(f"was written up by {units(-lot.written_down)}")
    if on_hand.quantity_milli == 0 and on_hand.amount != 0:
        faults.append(f"nothing is on hand, but it costs {units(on_hand.amount)}")
    if on_hand.quantity_milli < 0:
        faults.append(f"holds {show_quantity(on_hand.quantity_milli)}, less than nothing")
    return faults


def negative_stock_findings(legs: Iterable[Leg], facts: Facts | None = None) -> list[Finding]:
    """Return the findings of invariant 5: stock below zero, but for what may go short.

    What a line that may go short took of a lot that came later counts from the day the lot came,
    and what no lot settled does not count at all. With that, no SKU has less than nothing on hand
    at the end of any day, and nothing leaves without a lot but what may go short.

    Args:
        legs: all the legs of the book.
        facts: the facts, which say which lines may go short; without them no line may.
    """
    may_go_short, arrived_on = _lines_that_may_go_short(facts), _days_of_arrival(facts)
    by_day: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    findings = []
    for leg in legs:
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
    return findings + _days_below_zero(by_day)


def _lines_that_may_go_short(facts: Facts | None) -> set[_Number]:
    """Return the numbers of the marked lines, and of those that take back what such a line sold."""
    lines = facts.lines if facts else ()
    marked = {(line.document, line.line) for line in lines if line.short_allowed}
    back = {
        (line.document, line.line)
        for line in lines
        if line.event == "take back" and (line.ref_document, line.ref_line) in marked
    }
    return marked | back


def _days_of_arrival(facts: Facts | None) -> dict[tuple[int | None, int | None], str]:
    """Return the date of each line, which is the day its lot came if it makes one."""
    lines = facts.lines if facts else ()
    return {(line.document, line.line): line.effect_date for line in lines}


def _days_below_zero(by_day: Mapping[str, Mapping[str, int]]) -> list[Finding]:
    """Return a finding for each SKU and day at whose end less than nothing is on hand."""
    findings = []
    for sku, changes in sorted(by_day.items()):
        on_hand_milli = 0
        for effect_date, change_milli in sorted(changes.items()):
            on_hand_milli += change_milli
            if on_hand_milli < 0:
                what = f"{show_quantity(on_hand_milli)} on hand at the end of the day, less than nothing"
                findings.append(Finding(5, what, f"{sku} on {effect_date}"))
    return findings
