"""The second engine: the legs of a history, worked out in the plainest way there is.

`blankbook prove` compares these legs with the book's own. The comparison is worth something only
while the two share no code, so this module and its helpers (`plain_checks`, `plain_shelf`,
`plain_figures`, `plain_entries`) take nothing from the fast engine, nor from the spreading of charges, nor from
the rounding of the exact room: they have their own order and their own rounding. The engine sorts
the whole history, walks through it once, and keeps every lot as a list of layers. At the end of
each month it works out the costs that had to wait for what settled a short, and writes the
month's legs. It remembers nothing between two calls.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from typing import NoReturn

from ledger.costing.facts import ARRIVES_FROM, LEAVES_TO, FactLine, Facts, Leg, ShareFact
from ledger.costing.plain_checks import (
    STRAIGHT_TO_SUPPLIES,
    Number,
    documents_out_of_the_costing,
    kept_milli,
    place_in_order,
    reference,
    refuse_bad_lines,
    refuse_bad_shares,
)
from ledger.costing.plain_entries import (
    IN_PROCESS,
    NO_AMOUNT,
    ON_HAND,
    Entry,
    entries_of_a_component,
    entries_of_supplies_when_bought,
    entries_of_takings,
    entries_of_what_came_back,
    legs_of_a_share,
    numbered,
)
from ledger.costing.plain_figures import Figure, Figures, rounded, shown, spread
from ledger.costing.plain_shelf import Issue, Lot, Shelf, Taking
from ledger.errors import NotEnoughStock, Refused


def plain_legs(facts: Facts) -> list[Leg]:
    """Return the legs that follow from the facts, sorted by document, line and part.

    Args:
        facts: the facts of a book, in any order.

    Raises:
        ValueError: an event or a path is unknown, or a fact contradicts itself or another one.
        NotEnoughStock: more would leave than is there at that place in the order.
        OwnAncestor: what a job made would settle, through later jobs, what that job was short of.
        Refused: more is taken back than was sold, or more was counted of what has no known cost.

    Source: our own rules, written down in the contributor guide.

    >>> facts = Facts((
    ...     FactLine(1, 1, "receipt", "2026-01-05", "shirt", "goods", 3000, 1000),
    ...     FactLine(2, 1, "sale", "2026-01-06", "shirt", "goods", 2000),
    ... ))
    >>> [(leg.account, leg.quantity_milli, leg.amount) for leg in plain_legs(facts)]
    [('purchases', -3000, -1000), ('on hand', 3000, 1000), ('on hand', -2000, -667), ('pieces sold', 2000, 667)]
    """
    gone = documents_out_of_the_costing(facts.undos)
    listed = [line for line in facts.lines if line.document not in gone]
    lines = {(line.document, line.line): line for line in listed}
    if len(lines) < len(listed):
        raise ValueError("two lines have the same document and line number.")
    refuse_bad_lines(lines)
    shares = [share for share in facts.shares if share.document not in gone]
    refuse_bad_shares(shares, lines)
    walk = _Walk(shares)
    for line in sorted(listed, key=lambda line: place_in_order(line, lines)):
        walk.step(line)
    walk.end_the_month()
    legs = walk.legs
    for share in shares:
        legs += legs_of_a_share(share, lines[share.receipt_document, share.receipt_line])
    return sorted(legs, key=lambda leg: (leg.document, leg.line, leg.part))


class _Walk:
    """One walk through a history, line by line in costing order."""

    def __init__(self, shares: list[ShareFact]) -> None:
        self.legs: list[Leg] = []
        self._figures = Figures()
        self._shelves: dict[str, Shelf] = defaultdict(lambda: Shelf(self._figures))
        self._charges: dict[Number, int] = defaultdict(int)
        for share in shares:
            self._charges[share.receipt_document, share.receipt_line] += share.amount
        self._sales: dict[Number, Issue] = {}
        self._inputs_of_job: dict[int, list[Issue]] = defaultdict(list)
        self._labour_of_job: dict[int, int] = defaultdict(int)
        self._month = ""
        self._month_lines: list[tuple[FactLine, Callable[[], list[Entry]]]] = []
        self._steps: Mapping[str, Callable[[FactLine], list[Entry]]] = {
            **dict.fromkeys(ARRIVES_FROM, self._arrive),
            "take back": self._take_back,
            "send back": self._send_back,
            "count": self._count,
            "write down": self._write_down,
        }

    def step(self, line: FactLine) -> None:
        """Let one line happen; its legs are written when its month ends."""
        month = line.effect_date[:7]
        if month != self._month:
            self.end_the_month()
            self._month = month
        if line.event in LEAVES_TO or line.role == "component":
            issue = self._issue(line)
            self._month_lines.append((line, lambda: self._entries_of_an_issue(issue)))
            return
        if line.event == "make":
            entries = self._make(line) if line.role == "product" else self._work_on(line)
        else:
            entries = self._steps[line.event](line)
        self._month_lines.append((line, lambda: entries))

    def end_the_month(self) -> None:
        """Work out the costs that waited for what settles a short, and write the month's legs."""
        self._figures.find_all()
        for line, entries in self._month_lines:
            self.legs += numbered(line, entries())
        self._month_lines = []
        # Nothing settles a short of a month that is over, so nothing asks for its jobs again.
        self._inputs_of_job.clear()
        self._labour_of_job.clear()

    def _arrive(self, line: FactLine) -> list[Entry]:
        """Put the lot of a receipt or opening line on its shelf."""
        if line.tax_class == STRAIGHT_TO_SUPPLIES:
            return entries_of_supplies_when_bought(line)
        kept, kept_amount = kept_milli(line), line.amount - line.claimed_amount
        entries = [Entry(ARRIVES_FROM[line.event], -line.quantity_milli, Figure(-line.amount))]
        lot = None
        if kept > 0:
            landed = Figure(kept_amount + self._charges[line.document, line.line])
            lot = Lot(line.document, line.line, kept, landed, invoice_amount=kept_amount)
            entries.append(Entry(ON_HAND, kept, Figure(kept_amount), lot))
        elif kept_amount != 0:
            raise ValueError(
                f"document {line.document}, line {line.line}: nothing of {line.sku} was kept, "
                "but not all of its amount was claimed."
            )
        if line.claimed_milli > 0:
            entries.append(Entry("returned to supplier", line.claimed_milli, Figure(line.claimed_amount)))
        if line.normal_milli > 0:
            # The pieces that are kept bear the cost of the ones that were lost in the usual way.
            entries.append(Entry("spoilage", line.normal_milli, NO_AMOUNT))
        return entries + self._shelve(line, lot) if lot else entries

    def _shelve(self, line: FactLine, lot: Lot) -> list[Entry]:
        """Put a new lot on its shelf: its ruined pieces leave first, then it settles what was short."""
        shelf = self._shelves[line.sku]
        shelf.arrive(lot, sets_the_cost=line.event != "count")
        ruined = shelf.take_from(lot, line.expensed_milli)
        shelf.settle_shorts(lot, self._month)
        return entries_of_takings(ruined, "spoilage")

    def _issue(self, line: FactLine) -> Issue:
        """Take what a leaving line or a job's component wants, as far as it is there."""
        shelf = self._shelves[line.sku]
        there_milli = shelf.left_milli
        issue = Issue(line, shelf.take(line.quantity_milli))
        missing_milli = line.quantity_milli - min(line.quantity_milli, there_milli)
        if missing_milli > 0:
            if not line.short_allowed:
                _refuse_a_short(
                    line, there_milli, "Enter the receipt it came with, or correct the quantity or date."
                )
            cost = shelf.latest_cost(missing_milli)
            if cost is None and line.amount > 0:
                cost = Figure(line.amount)
            if cost is None:
                _refuse_a_short(
                    line, there_milli, "No cost of it is known yet: give an amount for what is missing."
                )
            shelf.go_short(issue, missing_milli, cost)
        if line.event == "sale":
            self._sales[line.document, line.line] = issue
        elif line.event == "make":
            self._inputs_of_job[line.document].append(issue)
        return issue

    def _entries_of_an_issue(self, issue: Issue) -> list[Entry]:
        """Return the entries of what a line took, once nothing more can settle its short."""
        takings = issue.takings + self._rest_without_a_lot(issue)
        if issue.line.event == "make":
            return [entry for taking in takings for entry in entries_of_a_component(taking)]
        return entries_of_takings(takings, LEAVES_TO[issue.line.event])

    def _rest_without_a_lot(self, issue: Issue) -> list[Taking]:
        """Return what of a line's short was never settled, as one taking without a lot; or nothing."""
        short = issue.short
        if short is None or short.open_milli + short.back_milli == 0:
            return []
        return [Taking(None, short.open_milli + short.back_milli, short.rest(self._figures))]

    def _work_on(self, line: FactLine) -> list[Entry]:
        """Add what was paid for work to its job."""
        self._labour_of_job[line.document] += line.amount
        if line.amount == 0:
            return []
        return [
            Entry("labour", 0, Figure(-line.amount)),
            Entry(IN_PROCESS, 0, Figure(line.amount)),
        ]

    def _make(self, line: FactLine) -> list[Entry]:
        """Put the lot that a job made on its shelf, at what the job used and what its work cost."""
        total = self._cost_of_job(line)
        entries = [Entry(IN_PROCESS, 0, total, comes_in=False)]
        kept = kept_milli(line)
        if kept == 0:
            return [*entries, Entry("spoilage", 0, total)]
        lot = Lot(line.document, line.line, kept, total)
        entries += [Entry("made", -kept, NO_AMOUNT), Entry(ON_HAND, kept, total, lot)]
        return entries + self._shelve(line, lot)

    def _cost_of_job(self, line: FactLine) -> Figure[int]:
        """Return what a job cost; it waits while something that the job used is short."""
        inputs = self._inputs_of_job[line.document]
        labour = self._labour_of_job[line.document]
        waits = any(issue.short is not None and issue.short.open_milli > 0 for issue in inputs)
        if not waits:
            costs = [taking.amount for taking in self._takings_of_job(inputs)]
            return self._figures.work_out(lambda *amounts: labour + sum(amounts), costs)
        return self._figures.work_out_later(
            lambda *amounts: labour + sum(amounts),
            lambda: [taking.amount for taking in self._takings_of_job(inputs)],
            f"job {line.document} of {line.sku}",
        )

    def _takings_of_job(self, inputs: list[Issue]) -> list[Taking]:
        """Return all that a job took, with what of it was never settled."""
        return [taking for issue in inputs for taking in issue.takings + self._rest_without_a_lot(issue)]

    def _take_back(self, line: FactLine) -> list[Entry]:
        """Put what a customer brings back into the lots it came from, what left last first."""
        shelf = self._shelves[line.sku]
        sale = self._sales.get(reference(line))
        _refuse_to_take_back_too_much(line, sale)
        assert sale is not None
        entries: list[Entry] = []
        wanted_milli = line.quantity_milli
        if sale.short is not None and sale.short.open_milli > 0:
            milli = min(wanted_milli, sale.short.open_milli)
            shelf.short_milli -= milli
            wanted_milli -= milli
            entries += entries_of_what_came_back(milli, sale.short.bring_back(milli, self._figures), None)
        for taking in reversed(sale.takings):
            milli = min(wanted_milli, taking.quantity_milli - taking.back_milli)
            if milli > 0:
                assert taking.lot is not None
                worth = self._worth_of_what_came_back(taking, milli)
                shelf.put_back(taking.lot, milli, worth)
                wanted_milli -= milli
                entries += entries_of_what_came_back(milli, worth, taking.lot)
        return entries

    def _worth_of_what_came_back(self, taking: Taking, milli: int) -> Figure[int]:
        """Return the worth of some of what a line took, and note that it came back."""
        whole_milli, out_milli = taking.quantity_milli, taking.quantity_milli - taking.back_milli
        taking.back_milli += milli
        return self._figures.work_out(
            lambda amount: (
                rounded(amount * out_milli, whole_milli) - rounded(amount * (out_milli - milli), whole_milli)
            ),
            (taking.amount,),
        )

    def _send_back(self, line: FactLine) -> list[Entry]:
        """Send back to the supplier what is left of the lot it came in, the rest from the oldest."""
        shelf = self._shelves[line.sku]
        there_milli = shelf.left_milli
        if there_milli < line.quantity_milli:
            _refuse_a_short(line, there_milli, "Correct the quantity or date.")
        own_lot = shelf.lot(line.ref_document, line.ref_line)
        takings = shelf.take_from(own_lot, line.quantity_milli) if own_lot else []
        takings += shelf.take(line.quantity_milli - sum(taking.quantity_milli for taking in takings))
        entries: list[Entry] = []
        for taking, credit in zip(takings, _credits(line, takings), strict=True):
            difference = self._figures.work_out(lambda cost, given: cost - given, (taking.amount, credit))
            entries += [
                Entry(ON_HAND, -taking.quantity_milli, taking.amount, taking.lot, comes_in=False),
                Entry("returned to supplier", taking.quantity_milli, credit, taking.lot),
                Entry("supplier price differences", 0, difference, taking.lot, or_nothing=True),
            ]
        return entries

    def _count(self, line: FactLine) -> list[Entry]:
        """Bring what is on hand to what was counted."""
        shelf = self._shelves[line.sku]
        gain_milli = line.quantity_milli - (shelf.left_milli - shelf.short_milli)
        if gain_milli <= 0:
            return entries_of_takings(shelf.take(-gain_milli), "count differences")
        cost = shelf.latest_cost(gain_milli)
        if cost is None:
            raise Refused(
                f"{line.sku} on {line.effect_date}: document {line.document}, line {line.line} counts "
                f"{shown(gain_milli)} more than the book has, but no cost of it is known. Enter the "
                "receipt or the opening stock first."
            )
        lot = Lot(line.document, line.line, gain_milli, cost)
        entries = [
            Entry("count differences", -gain_milli, cost, comes_in=False),
            Entry(ON_HAND, gain_milli, cost, lot),
        ]
        return entries + self._shelve(line, lot)

    def _write_down(self, line: FactLine) -> list[Entry]:
        """Take a loss of value off what is on hand."""
        entries: list[Entry] = []
        for lot, loss in self._shelves[line.sku].write_down(line.amount):
            entries += [
                Entry(ON_HAND, 0, loss, lot, comes_in=False, or_nothing=True),
                Entry("write-downs", 0, loss, lot, or_nothing=True),
            ]
        return entries


def _credits(line: FactLine, takings: list[Taking]) -> list[Figure[int]]:
    """Return what the supplier gives for each taking: its invoice cost where nothing else is said."""
    if line.credit is not None:
        parts = spread(line.credit, [taking.quantity_milli for taking in takings])
        return [Figure(part) for part in parts]
    credits_given: list[Figure[int]] = []
    for taking in takings:
        lot = taking.lot
        if lot is None or lot.invoice_amount is None:
            credits_given.append(taking.amount)
        else:
            invoice_cost = rounded(lot.invoice_amount * taking.quantity_milli, lot.received_milli)
            credits_given.append(Figure(invoice_cost))
    return credits_given


def _refuse_a_short(line: FactLine, on_hand_milli: int, what_next: str) -> NoReturn:
    """Raise NotEnoughStock: the line wants more than is on hand."""
    missing_milli = line.quantity_milli - on_hand_milli
    raise NotEnoughStock(
        f"{line.sku} on {line.effect_date}: document {line.document}, line {line.line} "
        f"({line.event}) takes {shown(line.quantity_milli)}, on hand {shown(on_hand_milli)}, "
        f"missing {shown(missing_milli)}. {what_next}"
    )


def _refuse_to_take_back_too_much(line: FactLine, sale: Issue | None) -> None:
    """Raise Refused where less is still out of a sale than is taken back."""
    out_milli = 0
    if sale is not None:
        out_milli = sum(taking.quantity_milli - taking.back_milli for taking in sale.takings)
        out_milli += sale.short.open_milli if sale.short else 0
    if line.quantity_milli > out_milli:
        raise Refused(
            f"{line.sku} on {line.effect_date}: document {line.document}, line {line.line} takes back "
            f"{shown(line.quantity_milli)}, but of sale {line.ref_document}, line {line.ref_line} only "
            f"{shown(out_milli)} is still out. Correct the quantity, the date or the sale."
        )
