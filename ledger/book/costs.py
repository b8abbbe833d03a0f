"""What one piece costs now, and what a job did cost: the figures of the book behind the two questions."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.book import looking
from ledger.book.bill_store import find_catalogue
from ledger.book.replay_start import open_layers
from ledger.book.standing import latest_unit_costs
from ledger.catalogue._words import fold
from ledger.catalogue.boms import (
    Bill,
    Catalogue,
    Component,
    Made,
    base_amount,
    explode,
    finished_items,
    is_for,
    labour,
    with_finished,
)
from ledger.catalogue.items import Item
from ledger.costing.facts import COMPONENT, LABOUR, PRODUCT
from ledger.costing.layers import OpenLayer
from ledger.costing.piece_cost import Need, Run, RunCost, run_cost
from ledger.errors import Refused
from ledger.exact.currencies import exponent
from ledger.exact.quantity import MILLI, to_base
from ledger.exact.rounding import round_fraction

CUSTOMERS = "customer's"
"""The tax class of what is held at no cost."""

COMMON_SIZE = "M"
"""The size a bill is costed for where none was chosen: our own rule."""


@dataclass(frozen=True)
class Costing:
    """The catalogue with what the book has of it: open layers and latest costs, looked up as they are needed."""

    connection: sqlite3.Connection
    catalogue: Catalogue
    items: Mapping[str, Item]
    currency: str
    layers: dict[str, Sequence[OpenLayer]]
    latest: dict[str, Fraction]

    def look_up(self, skus: Collection[str]) -> None:
        """Read layers and latest landed costs of SKUs not read before."""
        new = [sku for sku in skus if sku not in self.layers]
        self.layers.update((sku, tuple(open_layers(self.connection, sku))) for sku in new)
        self.latest.update(latest_costs(self.connection, new, self.items))


@dataclass(frozen=True)
class BillCost:
    """What one piece of a bill on one blank costs in a run of ``cost.pieces``."""

    bill: Bill
    blank: Item | None
    cost: RunCost
    items: Mapping[str, Item]


def costing(connection: sqlite3.Connection, currency: str) -> Costing:
    """Return the catalogue as costing bills takes it."""
    catalogue = find_catalogue(connection)
    return Costing(connection, catalogue, with_finished(catalogue), currency, {}, {})


def latest_costs(
    connection: sqlite3.Connection, skus: Collection[str], items: Mapping[str, Item]
) -> dict[str, Fraction]:
    """Return the latest landed cost of one base unit of each SKU, in minor units.

    What came in for nothing and nothing else, or is the customer's own, costs nothing; a SKU that
    never came in is left out.
    """
    known = latest_unit_costs(connection, skus)
    for sku in skus:
        if sku not in known:
            item = items.get(sku)
            if (item is not None and item.tax_class == CUSTOMERS) or _came_in(connection, sku):
                known[sku] = Fraction(0)
    return known


def _came_in(connection: sqlite3.Connection, sku: str) -> bool:
    query = "SELECT 1 FROM lot WHERE sku = ? AND quantity_received > 0 LIMIT 1"
    return connection.execute(query, (sku,)).fetchone() is not None


def usual_blank(known: Costing, blanks: Sequence[Item]) -> Item | None:
    """Return the blank a bill is costed for where the choice is left open; None where there is none.

    Of the blanks that have a cost, if any: size M, else the first; ``blanks`` are in the order of
    colours and sizes.
    """
    known.look_up([item.sku for item in blanks])
    costed = [item for item in blanks if item.sku in known.latest] or list(blanks)
    common = [item for item in costed if fold(item.size) == fold(COMMON_SIZE)]
    return next(iter([*common, *costed]), None)


def bill_cost(known: Costing, bill: Bill, blank: Item | None, pieces: int) -> BillCost:
    """Return what one piece of a bill costs now, in a run of so many pieces.

    Raises ValueProblem as `ledger.catalogue.boms.explode` does.
    """
    packs = known.catalogue.packs
    components = explode(bill, blank, pieces, known.items, packs)
    known.look_up([component.sku for component in components])
    once = _once(bill, blank, known)
    minor = 10 ** exponent(known.currency)
    run = Run(
        pieces=pieces,
        needs=tuple(
            Need(each.sku, each.quantity_milli, min(once.get(each.sku, 0), each.quantity_milli))
            for each in components
        ),
        blank_sku=blank.sku if blank else "",
        labour_each=Fraction(bill.labour_per_piece) * minor,
        labour_once=Fraction(bill.labour_per_run) * minor,
        job_labour=labour(bill, pieces, known.currency),
        misprint_percent=bill.misprint_percent,
    )
    cost = run_cost(run, known.layers, known.latest, exponent(known.currency))
    return BillCost(bill, blank, cost, {each.sku: known.items[each.sku] for each in components})


def _once(bill: Bill, blank: Item | None, known: Costing) -> dict[str, int]:
    """Return what a run takes of each item however many pieces it has, in thousandths."""
    exact: dict[str, Fraction] = {}
    for line in bill.lines:
        if line.per_run and is_for(line, blank):
            item, packs = known.items[line.sku], known.catalogue.packs.get(line.sku, ())
            amount = base_amount(replace(line, per_piece=Fraction(0)), 1, item, packs)
            exact[line.sku] = exact.get(line.sku, Fraction(0)) + amount
    return {sku: to_base(amount, Fraction(1)) for sku, amount in exact.items()}


@dataclass(frozen=True, slots=True)
class JobRow:
    """One component of a job, or with an empty SKU its labour: what it used, and what the bill says now.

    ``bill_cost`` is the bill's quantity at what the job paid for the item, else at the latest landed
    cost; None where the item never came in.
    """

    sku: str
    base_unit: str
    quantity_milli: int
    bill_milli: int
    cost: int
    bill_cost: int | None

    @property
    def more_milli(self) -> int:
        """How much more the job used than the bill says."""
        return self.quantity_milli - self.bill_milli

    @property
    def more_cost(self) -> int | None:
        """How much more that cost, in minor units."""
        return None if self.bill_cost is None else self.cost - self.bill_cost


@dataclass(frozen=True, slots=True)
class JobCost:
    """What a job used and cost, beside the bill of materials as it is now (None: no bill makes this)."""

    document: looking.DocumentRow
    sku: str
    bill: Bill | None
    blank: Item | None
    pieces_milli: int
    normal_milli: int
    abnormal_milli: int
    rows: tuple[JobRow, ...]

    @property
    def good_milli(self) -> int:
        """The pieces that went on the shelf."""
        return self.pieces_milli - self.normal_milli - self.abnormal_milli

    @property
    def bearing_milli(self) -> int:
        """The pieces that bear the cost: the good and the abnormally spoiled."""
        return self.pieces_milli - self.normal_milli

    @property
    def cost(self) -> int:
        """What the job cost, in minor units."""
        return sum(row.cost for row in self.rows)


def job_cost(known: Costing, number: int) -> JobCost:
    """Return what a job used and cost against the bill as it is now.

    Raises Refused where the document is no job or was undone.
    """
    document = looking.document(known.connection, number)
    if document.event != "make":
        raise Refused(
            f"{document.event} {number} is no job; a job is shown as 'make' and its number. "
            "See: blankbook history"
        )
    if document.undone_by:
        raise Refused(f"make {number} was undone by document {document.undone_by}: it has no cost.")
    sku, pieces, normal, abnormal = known.connection.execute(
        "SELECT sku, quantity_milli, normal_milli, expensed_milli FROM document_line "
        "WHERE document = ? AND role = ?",
        (number, PRODUCT),
    ).fetchone()
    made = finished_items(known.catalogue.bills.values(), known.catalogue.items).get(sku)
    return JobCost(
        document=document,
        sku=sku,
        bill=made.bill if made else None,
        blank=made.blank if made else None,
        pieces_milli=pieces,
        normal_milli=normal,
        abnormal_milli=abnormal,
        rows=tuple(_job_rows(known, number, made, pieces // MILLI)),
    )


JOB_USED = """
SELECT l.sku, l.quantity_milli,
    (SELECT coalesce(sum(g.amount), 0) FROM leg AS g
     WHERE g.document = l.document AND g.line = l.line AND g.account = 'work in process')
FROM document_line AS l WHERE l.document = ? AND l.role = ? ORDER BY l.line
"""
"""What each line of a job put into the work in process: materials with their quantity, labour."""


def _job_rows(known: Costing, number: int, made: Made | None, pieces: int) -> Iterator[JobRow]:
    used: dict[str, list[int]] = {}
    for sku, quantity, cost in known.connection.execute(JOB_USED, (number, COMPONENT)):
        sums = used.setdefault(sku, [0, 0])
        sums[0] += quantity
        sums[1] += cost
    wanted = {each.sku: each.quantity_milli for each in _by_the_bill(known, made, pieces)}
    known.look_up([sku for sku in wanted if sku not in used])
    for sku in dict.fromkeys([*used, *wanted]):
        quantity, cost = used.get(sku, (0, 0))
        each = Fraction(cost * MILLI, quantity) if quantity else known.latest.get(sku)
        by_bill = wanted.get(sku, 0)
        worth = None if each is None else round_fraction(each * by_bill / MILLI)
        yield JobRow(sku, known.items[sku].base_unit, quantity, by_bill, cost, worth)
    paid = sum(row[2] for row in known.connection.execute(JOB_USED, (number, LABOUR)))
    by_bill = labour(made.bill, pieces, known.currency) if made else 0
    if paid or by_bill:
        yield JobRow("", "", 0, 0, paid, by_bill)


def _by_the_bill(known: Costing, made: Made | None, pieces: int) -> list[Component]:
    """Return what the bill says now for so many pieces, nothing where no bill makes this."""
    if made is None or not pieces:
        return []
    return explode(made.bill, made.blank, pieces, known.items, known.catalogue.packs)
