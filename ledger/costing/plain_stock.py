"""What the plain engine knows at its place in the order: all shelves, what is under way, what was taken.

The parts of the engine (`plain`, `plain_returns`, `plain_under_way`, `plain_late`,
`plain_reversals`) work on one `Stock`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NoReturn

from ledger.costing.facts import FactLine
from ledger.costing.plain_checks import Number
from ledger.costing.plain_entries import Entry, entries_of_takings
from ledger.costing.plain_figures import Figure, Figures, rounded, shown
from ledger.costing.plain_shelf import Issue, Lot, Shelf, Taking
from ledger.errors import NotEnoughStock


@dataclass(frozen=True)
class Job:
    """The line of what a job made, and what the job cost."""

    product: FactLine
    cost: Figure[int]


class Stock:
    """All that is on hand, under way or short, and who took what, at one place in the order.

    ``lines`` are all the lines of the history and ``charges`` what came to each with its receipt.
    """

    def __init__(self, lines: Mapping[Number, FactLine], charges: Mapping[Number, int]) -> None:
        self.lines = lines
        self.charges = charges
        self.figures = Figures()
        self.month = ""
        self.shelves: dict[str, Shelf] = defaultdict(lambda: Shelf(self.figures))
        self.under_way: dict[Number, Lot] = {}
        self.issues: dict[Number, Issue] = {}
        self.jobs: dict[int, Job] = {}

    def lot_of(self, line: FactLine) -> Lot | None:
        """Return the lot that a line made, on the shelf or under way; None where it made none."""
        number = (line.document, line.line)
        if line.event == "ship":
            return self.under_way.get(number)
        return self.shelves[line.sku].lot(*number)

    def shelve(self, line: FactLine, lot: Lot) -> list[Entry]:
        """Put a new lot on its shelf: its ruined pieces leave first, then it settles what was short."""
        shelf = self.shelves[line.sku]
        shelf.arrive(lot, sets_the_cost=line.event != "count")
        ruined = shelf.take_from(lot, line.expensed_milli, line)
        shelf.settle_shorts(lot, self.month)
        return entries_of_takings(ruined, "spoilage")

    def put_back(self, taking: Taking, milli: int) -> Figure[int]:
        """Put some of what a line took in front of its lot, and return what it is worth."""
        assert taking.lot is not None
        whole_milli, out_milli = taking.quantity_milli, taking.out_milli()
        taking.back_milli += milli
        worth = self.figures.work_out(
            lambda amount: (
                rounded(amount * out_milli, whole_milli) - rounded(amount * (out_milli - milli), whole_milli)
            ),
            (taking.amount,),
        )
        self.shelves[taking.lot.sku].put_back(taking.lot, milli, worth)
        return worth

    def put_back_short(self, issue: Issue, milli: int) -> Figure[int]:
        """Make a line's short smaller by what it gives back of it, and return what that is worth."""
        assert issue.short is not None
        self.shelves[issue.line.sku].short_milli -= milli
        return issue.short.bring_back(milli, self.figures)


def refuse_a_short(line: FactLine, on_hand_milli: int, what_next: str) -> NoReturn:
    """Raise NotEnoughStock: the line wants more than is on hand."""
    missing_milli = line.quantity_milli - on_hand_milli
    raise NotEnoughStock(
        f"{line.sku} on {line.effect_date}: document {line.document}, line {line.line} "
        f"({line.event}) takes {shown(line.quantity_milli)}, on hand {shown(on_hand_milli)}, "
        f"missing {shown(missing_milli)}. {what_next}"
    )
