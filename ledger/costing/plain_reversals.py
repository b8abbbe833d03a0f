"""Reversals in the plain engine: a document of a closed month is undone by one of an open month.

What left comes back at what it cost, what came in goes again as a whole. Where charges, rounding
or a write-down have changed what it costs by then, the difference is a late charge on used stock.
"""

from __future__ import annotations

from ledger.costing.facts import ARRIVES_FROM, LEAVES_TO, FactLine
from ledger.costing.plain_checks import STRAIGHT_TO_SUPPLIES, kept_milli, reference
from ledger.costing.plain_entries import (
    IN_PROCESS,
    LATE_ON_USED,
    NO_AMOUNT,
    ON_HAND,
    SENT_BACK,
    Entry,
    entries_of_what_came_back,
)
from ledger.costing.plain_figures import Figure, shown
from ledger.costing.plain_shelf import Lot
from ledger.costing.plain_stock import Stock
from ledger.errors import Refused


def reverse(line: FactLine, stock: Stock) -> list[Entry]:
    """Return the entries of the reversal of one line.

    Raises:
        ValueError: some of what the line sold was taken back before.
        Refused: what the line brought is not all there any more.
    """
    original = stock.lines[reference(line)]
    if original.role == "labour":
        return _give_back_labour(original)
    if original.role == "product":
        return _unmake(line, original, stock)
    if original.event in ARRIVES_FROM:
        return _give_away_again(line, original, stock)
    return _come_back(line, original, stock)


def _come_back(line: FactLine, original: FactLine, stock: Stock) -> list[Entry]:
    """Put back what a leaving line or a job's component took, what it took last first."""
    issue = stock.issues[reference(line)]
    short = issue.short
    if any(taking.back_milli for taking in issue.takings) or (short and short.back_milli):
        raise ValueError(
            f"document {line.document}, line {line.line}: some of what document {original.document}, "
            f"line {original.line} took came back before, so it cannot be reversed."
        )
    portions: list[tuple[int, Figure[int], Lot | None]] = []
    if short is not None and short.open_milli > 0:
        open_milli = short.open_milli
        portions.append((open_milli, stock.put_back_short(issue, open_milli), None))
    portions += [
        (taking.quantity_milli, stock.put_back(taking, taking.quantity_milli), taking.lot)
        for taking in reversed(issue.takings)
    ]
    entries: list[Entry] = []
    for milli, worth, lot in portions:
        if original.event == "make":
            entries += [
                Entry(ON_HAND, milli, worth, lot),
                Entry("used", -milli, NO_AMOUNT, lot),
                Entry(IN_PROCESS, 0, worth, lot, comes_in=False),
            ]
        else:
            entries += entries_of_what_came_back(milli, worth, lot, LEAVES_TO[original.event])
    return entries


def _give_back_labour(original: FactLine) -> list[Entry]:
    """Take what was paid for work out of its job again."""
    if original.amount == 0:
        return []
    return [
        Entry("labour", 0, Figure(original.amount)),
        Entry(IN_PROCESS, 0, Figure(-original.amount)),
    ]


def _give_away_again(line: FactLine, original: FactLine, stock: Stock) -> list[Entry]:
    """Take what a receipt or opening line brought off the shelf again."""
    claimed = Entry(SENT_BACK, -original.claimed_milli, Figure(-original.claimed_amount))
    entries = [Entry(ARRIVES_FROM[original.event], original.quantity_milli, Figure(original.amount))]
    kept_amount = original.amount - original.claimed_amount
    if original.tax_class == STRAIGHT_TO_SUPPLIES:
        supplies_milli = original.quantity_milli - original.claimed_milli
        entries.append(Entry("supplies", -supplies_milli, Figure(-kept_amount)))
        return [*entries, claimed] if original.claimed_milli > 0 else entries
    lot = stock.lot_of(original)
    value: Figure[int] = NO_AMOUNT
    if lot is not None:
        value = _clear_away(line, original, lot, stock)
        entries.append(_entry_of_the_shelf(original, value, lot))
    if original.claimed_milli > 0:
        entries.append(claimed)
    if original.normal_milli > 0:
        entries.append(Entry("spoilage", -original.normal_milli, NO_AMOUNT))
    return [*entries, _entry_of_the_difference(original, Figure(kept_amount), value, stock)]


def _unmake(line: FactLine, original: FactLine, stock: Stock) -> list[Entry]:
    """Take what a job made off the shelf again, and put what the job cost back into process."""
    cost = stock.jobs[original.document].cost
    entries = [Entry(IN_PROCESS, 0, cost)]
    lot = stock.lot_of(original)
    if lot is None:
        return [*entries, Entry("spoilage", 0, cost, comes_in=False)]
    value = _clear_away(line, original, lot, stock)
    return [
        *entries,
        Entry("made", lot.received_milli, NO_AMOUNT),
        _entry_of_the_shelf(original, value, lot),
        _entry_of_the_difference(original, cost, value, stock),
    ]


def _clear_away(line: FactLine, original: FactLine, lot: Lot, stock: Stock) -> Figure[int]:
    """Take a whole lot off its shelf, and return what it cost by then."""
    left_milli, came_in_milli = lot.left_milli(), kept_milli(original) - original.expensed_milli
    if left_milli != came_in_milli:
        raise Refused(
            f"{line.sku} on {line.effect_date}: document {line.document}, line {line.line} reverses "
            f"document {original.document}, line {original.line}, which brought {shown(came_in_milli)}, but "
            f"{shown(left_milli)} of it is on hand. Undo first what used it, or correct the stock with a count."
        )
    value = lot.value(stock.figures)
    stock.shelves[lot.sku].clear_away(lot)
    return value


def _entry_of_the_shelf(original: FactLine, value: Figure[int], lot: Lot) -> Entry:
    """Return the entry by which a lot leaves as a whole."""
    return Entry(ON_HAND, original.expensed_milli - kept_milli(original), value, lot, comes_in=False)


def _entry_of_the_difference(
    original: FactLine, cost: Figure[int], value: Figure[int], stock: Stock
) -> Entry:
    """Return the entry of what was expensed at once, or else of what the lot's cost changed by since."""
    difference = stock.figures.work_out(lambda cost, value: cost - value, (cost, value))
    if original.expensed_milli > 0:
        return Entry("spoilage", -original.expensed_milli, difference, comes_in=False)
    return Entry(LATE_ON_USED, 0, difference, comes_in=False, or_nothing=True)
