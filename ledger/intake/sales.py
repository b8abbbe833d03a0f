"""A sales export as it was read: sales, refunds and returns, and what was left out of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from ledger.errors import UsageError
from ledger.intake.events import EventRow
from ledger.intake.sales_profile import BESIDE


@dataclass(frozen=True, slots=True)
class SetAsideRow:
    """A row that is no goods: its place, what it says, and the rule of the profile that fits."""

    where: str
    text: str
    rule: str


@dataclass(frozen=True, slots=True)
class SalesDraft:
    """What a sales export holds.

    ``rows`` are sells, refunds (money only) and take_backs (goods came back) in the order of the file,
    with the order's number as reference. ``rows_read`` counts the file's rows of goods, ``rows_skipped``
    those of them that were in the book before or twice in the file.
    """

    source_name: str
    party: str
    rows: tuple[EventRow, ...]
    set_aside: tuple[SetAsideRow, ...] = ()
    remarks: tuple[str, ...] = ()
    rows_read: int = 0
    rows_skipped: int = 0
    names: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """What the file calls our items, with the SKUs of ours that its rows were."""

    def without(self, known: Sequence[EventRow], remarks: Sequence[str]) -> SalesDraft:
        """Return the draft without rows that the book has; ``remarks`` are added to it."""
        gone = {row.source.key for row in known if row.source}
        left = tuple(row for row in self.rows if row.source is None or row.source.key not in gone)
        skipped = len({row.where for row in known} - {row.where for row in left})
        return replace(
            self, rows=left, remarks=(*self.remarks, *remarks), rows_skipped=self.rows_skipped + skipped
        )


def with_rate(draft: SalesDraft, rate: str, book_currency: str) -> SalesDraft:
    """Return the draft with a rate on its rows of another currency than the book's.

    ``rate`` is decimal text, one unit of that currency in the book's; '' leaves the draft as it is.
    Raises UsageError where no row has another currency, or several have different ones.
    """
    if not rate:
        return draft
    others = sorted({row.currency for row in draft.rows} - {"", book_currency})
    if len(others) != 1:
        named = f"there are {' and '.join(others)}" if others else f"all of it is in {book_currency}"
        raise UsageError(f"--rate is for one currency beside the book's, and in this file {named}.")
    rows = tuple(replace(row, rate=rate) if row.currency in others else row for row in draft.rows)
    return replace(draft, rows=rows)


@dataclass(frozen=True, slots=True)
class DesignTotal:
    """What one design sold and gave back, in pieces and in units of its currency."""

    design: str
    currency: str
    pieces: Fraction = Fraction(0)
    item_total: Fraction = Fraction(0)
    shipping: Fraction = Fraction(0)
    fees: Fraction = Fraction(0)
    refunded: Fraction = Fraction(0)
    pieces_back: Fraction = Fraction(0)

    def plus(self, row: EventRow) -> DesignTotal:
        """Return the total with a row added; shipping given back lowers shipping."""
        sold = row.event == "sell"
        sign = 1 if sold else -1
        money, pieces = row.amount or Fraction(0), row.quantity or Fraction(0)
        return replace(
            self,
            pieces=self.pieces + (pieces if sold else 0),
            item_total=self.item_total + (money if sold else 0),
            shipping=self.shipping + sign * (row.shipping or 0),
            fees=self.fees + sign * (row.fees or 0),
            refunded=self.refunded + (0 if sold else money),
            pieces_back=self.pieces_back + (pieces if row.event == "take_back" else 0),
        )


def design_of(row: EventRow) -> str:
    """Return the design a row is of: its title in the export, else our SKU."""
    return row.note.partition(BESIDE)[0] or row.sku


def totals_by_design(rows: Sequence[EventRow], book_currency: str) -> tuple[DesignTotal, ...]:
    """Return what each design sold, the most sold first; designs in two currencies stand twice."""
    totals: dict[tuple[str, str], DesignTotal] = {}
    for row in rows:
        key = (design_of(row), row.currency or book_currency)
        totals[key] = totals.get(key, DesignTotal(*key)).plus(row)
    return tuple(sorted(totals.values(), key=lambda one: (one.currency, -one.item_total, one.design)))


def set_aside_words(rows: Sequence[SetAsideRow], most: int = 5) -> list[str]:
    """Return what was set aside, by rule with a few of the rows, one line each."""
    lines = []
    for rule, count in Counter(row.rule for row in rows).most_common():
        own = [row for row in rows if row.rule == rule]
        shown = "; ".join(f"{row.where}: {row.text}" for row in own[:most])
        more = f"; and {count - most:,} more" if count > most else ""
        lines.append(f"  {count:,} by '{rule}': {shown}{more}")
    return lines
