"""Print it or buy the transfer: a bill's print without its blank, against a bought-in transfer."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from fractions import Fraction

from ledger.book import costs
from ledger.book.buying import Market
from ledger.book.price_comparison import Comparison, compare
from ledger.catalogue._words import fold, quoted, suggestion
from ledger.catalogue.boms import Bill, blanks_of
from ledger.catalogue.items import Item
from ledger.costing.piece_cost import BLANK
from ledger.errors import Refused
from ledger.sourcing.comparison import Contender
from ledger.sourcing.price_breaks import break_quantities

TRANSFER = "transfer"
MOST_ROWS = 6
_REACH = 10


@dataclass(frozen=True)
class PrintedPart:
    """What one material of the print, or paid labour (an empty SKU), costs for one piece, in minor units.

    None where the item never came in, so that nobody knows its cost.
    """

    sku: str
    per_piece_minor: Fraction | None


@dataclass(frozen=True)
class PrintOrBuyRow:
    """One quantity: the print of a piece, and the cheapest transfer where so many are bought."""

    pieces: int
    print_minor: Fraction
    transfer: Contender | None

    @property
    def saving_minor(self) -> Fraction:
        """How much less the transfer costs a piece; negative: printing is cheaper; 0 without a transfer."""
        return Fraction(0) if self.transfer is None else self.print_minor - self.transfer.unit_cost_minor


@dataclass(frozen=True)
class PrintOrBuy:
    """A bill against a transfer: the materials at the quantity asked for, and both costs by quantity."""

    bill: Bill
    blank: Item | None
    pieces: int
    parts: tuple[PrintedPart, ...]
    rows: tuple[PrintOrBuyRow, ...]

    @property
    def unknown(self) -> tuple[str, ...]:
        """The SKUs whose cost nobody knows: the print is dearer than told by them."""
        return tuple(part.sku for part in self.parts if part.per_piece_minor is None)


def print_or_buy(connection: sqlite3.Connection, market: Market, bill_code: str, pieces: int) -> PrintOrBuy:
    """Return what the print of a bill costs a piece now, at the latest landed costs, beside a transfer.

    Purchases of the past are no offer: the transfer is the cheapest that is offered today, and only where
    nobody offers it what was last paid.

    Raises Refused where the book has no such bill, or the goods are no transfers.
    """
    _check_transfer(market)
    known = costs.costing(connection, market.currency)
    bill = _find_bill(known, bill_code)
    blank = costs.usual_blank(known, blanks_of(bill, known.items)) if bill.blank else None
    wanted = sorted(
        {
            pieces,
            *(
                start
                for quote in market.quotes
                for start in break_quantities(quote)
                if 1 < start <= pieces * _REACH
            ),
        }
    )[:MOST_ROWS]
    rows = []
    for number in sorted({*wanted, pieces}):
        cost = sum(
            (part.per_piece_minor or Fraction(0) for part in _parts(known, bill, blank, number)), Fraction(0)
        )
        rows.append(PrintOrBuyRow(number, cost, _cheapest(compare(market, Fraction(number)))))
    return PrintOrBuy(bill, blank, pieces, _parts(known, bill, blank, pieces), tuple(rows))


def _check_transfer(market: Market) -> None:
    """Raise Refused where what is compared cannot stand in for a print."""
    other = next((item for item in market.goods.items if item.kind != TRANSFER), None)
    if other is not None:
        raise Refused(
            f"{market.goods.label} is of the kind {other.kind}: a print is held against a bought-in transfer only. Leave "
            "--bill out, or name an item of the kind transfer."
        )


def _cheapest(found: Comparison) -> Contender | None:
    return next(iter((*found.offers, *found.paid)), None)


def _parts(known: costs.Costing, bill: Bill, blank: Item | None, pieces: int) -> tuple[PrintedPart, ...]:
    cost = costs.bill_cost(known, bill, blank, pieces).cost
    return tuple(
        PrintedPart(row.sku, None if row.replacement is None else Fraction(row.replacement.run, pieces))
        for row in cost.rows
        if row.part != BLANK
    )


def _find_bill(known: costs.Costing, code: str) -> Bill:
    bills = known.catalogue.bills
    for bill in bills.values():
        if fold(bill.code) == fold(code):
            return bill
    raise Refused(
        f"the book has no bill {quoted(code)}.{suggestion(code, bills)} See what there is with: blankbook boms"
    )
