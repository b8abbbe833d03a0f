"""The second engine: the legs of a history, worked out in the plainest way there is.

`blankbook prove` compares these legs with the book's own. The comparison is worth something only
while the two share no code, so this module and its other parts (all `plain_…` modules) take nothing from the fast engine, nor from the spreading of charges, nor from
the rounding of the exact room: they have their own order and their own rounding. The engine sorts
the whole history, walks through it once, and keeps every lot as a list of layers. At the end of
each month it works out the costs that had to wait for what settled a short, and writes the
month's legs. It remembers nothing between two calls.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from functools import partial

from ledger.costing.facts import ARRIVES_FROM, LEAVES_TO, FactLine, Facts, Leg, ShareFact
from ledger.costing.plain_checks import (
    STRAIGHT_TO_SUPPLIES,
    Number,
    documents_out_of_the_costing,
    is_arrival,
    kept_milli,
    place_in_order,
    place_of_a_late_share,
    refuse_bad_lines,
    refuse_bad_reversals,
    refuse_bad_shares,
)
from ledger.costing.plain_entries import (
    IN_PROCESS,
    NO_AMOUNT,
    ON_HAND,
    SENT_BACK,
    Entry,
    entries_of_a_component,
    entries_of_supplies_when_bought,
    entries_of_takings,
    legs_of_a_share,
    numbered,
)
from ledger.costing.plain_figures import Figure, shown
from ledger.costing.plain_late import add_late_share
from ledger.costing.plain_returns import send_back, take_back
from ledger.costing.plain_reversals import reverse
from ledger.costing.plain_shelf import Issue, Lot, Taking
from ledger.costing.plain_stock import Job, Stock, refuse_a_short
from ledger.costing.plain_under_way import arrive_from_under_way, ship
from ledger.errors import Refused


def plain_legs(facts: Facts) -> list[Leg]:
    """Return the legs that follow from the facts, sorted by document, line and part.

    Args:
        facts: the facts of a book, in any order.

    Raises:
        ValueError: an event or a path is unknown, or a fact contradicts itself or another one.
        NotEnoughStock: more would leave than is there at that place in the order.
        OwnAncestor: what a job made would settle, through later jobs, what that job was short of.
        Refused: more is taken back than was sold, more arrives than is under way, more was counted of
            what has no known cost, or what is reversed is not all there any more.

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
    refuse_bad_reversals(lines, [undo for undo in facts.undos if undo.document not in gone])
    shares = [share for share in facts.shares if share.document not in gone]
    refuse_bad_shares(shares, lines)
    with_receipt = [share for share in shares if share.path != "late"]
    walk = _Walk(lines, with_receipt)
    in_order: list[tuple[tuple[str | int, ...], FactLine | ShareFact]] = [
        *((place_in_order(line, lines), line) for line in listed),
        *((place_of_a_late_share(share), share) for share in shares if share.path == "late"),
    ]
    for _, fact in sorted(in_order, key=lambda placed: placed[0]):
        walk.step(fact)
    walk.end_the_month()
    legs = walk.legs
    for share in with_receipt:
        legs += legs_of_a_share(share, lines[share.receipt_document, share.receipt_line])
    return sorted(legs, key=lambda leg: (leg.document, leg.line, leg.part))


class _Walk:
    """One walk through a history, line by line in costing order."""

    def __init__(self, lines: Mapping[Number, FactLine], with_receipt: Iterable[ShareFact]) -> None:
        self.legs: list[Leg] = []
        charges: dict[Number, int] = defaultdict(int)
        for share in with_receipt:
            charges[share.receipt_document, share.receipt_line] += share.amount
        self._stock = Stock(lines, charges)
        self._figures = self._stock.figures
        self._inputs_of_job: dict[int, list[Issue]] = defaultdict(list)
        self._labour_of_job: dict[int, int] = defaultdict(int)
        self._legs_of_the_month: list[Callable[[], list[Leg]]] = []
        self._steps: Mapping[str, Callable[[FactLine], list[Entry]]] = {
            **dict.fromkeys(ARRIVES_FROM, self._arrive),
            "ship": partial(ship, stock=self._stock),
            "make": self._make_or_work,
            "take back": partial(take_back, stock=self._stock),
            "send back": partial(send_back, stock=self._stock),
            "count": self._count,
            "write down": self._write_down,
            "reversal": partial(reverse, stock=self._stock),
        }

    def step(self, fact: FactLine | ShareFact) -> None:
        """Let one line or late share happen; its legs are written when its month ends."""
        month = fact.effect_date[:7]
        if month != self._stock.month:
            self.end_the_month()
            self._stock.month = month
        self._legs_of_the_month.append(
            add_late_share(fact, self._stock) if isinstance(fact, ShareFact) else self._let_happen(fact)
        )

    def _let_happen(self, line: FactLine) -> Callable[[], list[Leg]]:
        """Let one line happen, and return what gives its legs when the month is over."""
        if line.event in LEAVES_TO or (line.event == "make" and line.role == "component"):
            issue = self._issue(line)
            return lambda: numbered(line, self._entries_of_an_issue(issue))
        entries = self._steps[line.event](line)
        return lambda: numbered(line, entries)

    def end_the_month(self) -> None:
        """Work out the costs that waited for what settles a short, and write the month's legs."""
        self._figures.find_all()
        for legs in self._legs_of_the_month:
            self.legs += legs()
        self._legs_of_the_month = []
        # Nothing settles a short of a month that is over, so nothing asks for its jobs again.
        self._inputs_of_job.clear()
        self._labour_of_job.clear()

    def _arrive(self, line: FactLine) -> list[Entry]:
        """Put the lot of a receipt or opening line on its shelf."""
        if is_arrival(line):
            return arrive_from_under_way(line, self._stock)
        if line.tax_class == STRAIGHT_TO_SUPPLIES:
            return entries_of_supplies_when_bought(line)
        kept, kept_amount = kept_milli(line), line.amount - line.claimed_amount
        entries = [Entry(ARRIVES_FROM[line.event], -line.quantity_milli, Figure(-line.amount))]
        lot = None
        if kept > 0:
            landed = Figure(kept_amount + self._stock.charges[line.document, line.line])
            lot = Lot(line.document, line.line, line.sku, kept, landed, invoice_amount=kept_amount)
            entries.append(Entry(ON_HAND, kept, Figure(kept_amount), lot))
        elif kept_amount != 0:
            raise ValueError(
                f"document {line.document}, line {line.line}: nothing of {line.sku} was kept, "
                "but not all of its amount was claimed."
            )
        if line.claimed_milli > 0:
            entries.append(Entry(SENT_BACK, line.claimed_milli, Figure(line.claimed_amount)))
        if line.normal_milli > 0:
            # The pieces that are kept bear the cost of the ones that were lost in the usual way.
            entries.append(Entry("spoilage", line.normal_milli, NO_AMOUNT))
        return entries + self._stock.shelve(line, lot) if lot else entries

    def _issue(self, line: FactLine) -> Issue:
        """Take what a leaving line or a job's component wants, as far as it is there."""
        shelf = self._stock.shelves[line.sku]
        there_milli = shelf.left_milli
        issue = Issue(line, shelf.take(line.quantity_milli, line))
        missing_milli = line.quantity_milli - min(line.quantity_milli, there_milli)
        if missing_milli > 0:
            if not line.short_allowed:
                refuse_a_short(
                    line, there_milli, "Enter the receipt it came with, or correct the quantity or date."
                )
            cost = shelf.latest_cost(missing_milli)
            if cost is None and line.amount > 0:
                cost = Figure(line.amount)
            if cost is None:
                refuse_a_short(
                    line, there_milli, "No cost of it is known yet: give an amount for what is missing."
                )
            shelf.go_short(issue, missing_milli, cost)
        self._stock.issues[line.document, line.line] = issue
        if line.event == "make":
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
        return [Taking(None, short.open_milli + short.back_milli, short.rest(self._figures), issue.line)]

    def _make_or_work(self, line: FactLine) -> list[Entry]:
        """Let a job's product line or labour line happen."""
        return self._make(line) if line.role == "product" else self._work_on(line)

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
        self._stock.jobs[line.document] = Job(line, total)
        entries = [Entry(IN_PROCESS, 0, total, comes_in=False)]
        kept = kept_milli(line)
        if kept == 0:
            return [*entries, Entry("spoilage", 0, total)]
        lot = Lot(line.document, line.line, line.sku, kept, total)
        entries += [Entry("made", -kept, NO_AMOUNT), Entry(ON_HAND, kept, total, lot)]
        return entries + self._stock.shelve(line, lot)

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

    def _count(self, line: FactLine) -> list[Entry]:
        """Bring what is on hand to what was counted."""
        shelf = self._stock.shelves[line.sku]
        gain_milli = line.quantity_milli - (shelf.left_milli - shelf.short_milli)
        if gain_milli <= 0:
            return entries_of_takings(shelf.take(-gain_milli, line), "count differences")
        cost = shelf.latest_cost(gain_milli)
        if cost is None:
            raise Refused(
                f"{line.sku} on {line.effect_date}: document {line.document}, line {line.line} counts "
                f"{shown(gain_milli)} more than the book has, but no cost of it is known. Enter the "
                "receipt or the opening stock first."
            )
        lot = Lot(line.document, line.line, line.sku, gain_milli, cost)
        entries = [
            Entry("count differences", -gain_milli, cost, comes_in=False),
            Entry(ON_HAND, gain_milli, cost, lot),
        ]
        return entries + self._stock.shelve(line, lot)

    def _write_down(self, line: FactLine) -> list[Entry]:
        """Take a loss of value off what is on hand."""
        entries: list[Entry] = []
        for lot, loss in self._stock.shelves[line.sku].write_down(line.amount):
            entries += [
                Entry(ON_HAND, 0, loss, lot, comes_in=False, or_nothing=True),
                Entry("write-downs", 0, loss, lot, or_nothing=True),
            ]
        return entries
