"""What a row of a sales export comes to: the sale's total without tax, what was paid back, what came back."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from ledger.exact.currencies import exponent
from ledger.exact.numbers import show_fraction
from ledger.exact.rounding import round_fraction
from ledger.intake.sales_cells import SalesCells, minus_advice
from ledger.intake.sales_profile import MORE_COLUMNS, SalesProfile

Note = Callable[[str, str, str], None]
"""Notes a problem: the column, what is wrong, what to do."""


_NOT_BELOW_ZERO = (
    *("shipping", "tax", "discount", "fees", "other_fees"),
    *("more_shipping", "more_tax", "more_discount", "more_fees"),
)


@dataclass(frozen=True, slots=True)
class Happening:
    """A sale, refund or return: pieces, and money in units of the row's currency, never negative.

    ``own_row`` says that a refund or return has a row of its own in the file.
    """

    kind: str
    on: datetime.date
    pieces: Fraction | None
    amount: Fraction | None
    shipping: Fraction | None = None
    fees: Fraction | None = None
    own_row: bool = False


@dataclass(frozen=True, slots=True)
class Added:
    """What a row of fees or shipping adds to its order, in units of its currency; below zero it is given back."""

    kind: str
    order: str
    amount: Fraction
    currency: str


class SalesAmounts:
    """The rows' amounts by the profile's habits."""

    def __init__(self, profile: SalesProfile) -> None:
        self._profile = profile

    def of(self, cells: SalesCells, kind: str, currency: str, note: Note) -> list[Happening]:
        """Return what happened in a row; what is wrong is noted, and what it concerns left out."""
        if kind == "sale":
            kind = self._by_signs(cells, note)
        row = _Row(self._profile, cells.together(), currency, note)
        if kind == "sale":
            _note_below_zero(cells, note)
            return row.sale()
        return row.given_back_alone(kind) if kind else []

    def added(self, cells: SalesCells, kind: str, currency: str, note: Note) -> Added | None:
        """Return what a row of fees or shipping adds to its order's sale; None where it says nothing."""
        cells = cells.together()
        row = _Row(self._profile, cells, currency, note)
        own = row.fees() if kind == "fees" else cells.shipping
        sign = 1
        if own is None:
            own = cells.item_total if cells.item_total is not None else cells.unit_price
            sign = -1 if kind == "fees" and self._profile.fee_rows == "minus" else 1
        if not own:
            note("item_total", f"a row of {kind} without an amount.", "Fill it in, or delete the row.")
            return None
        amount = row.whole(sign * own, "item_total")
        return None if amount is None else Added(kind, cells.order, amount, currency)

    def _by_signs(self, cells: SalesCells, note: Note) -> str:
        """Return what a row is that no type tells: minus signs do, where they can; '' where they cannot."""
        pieces = cells.pieces
        if pieces is not None and pieces < 0:
            return "take back"
        name = "unit_price" if cells.item_total is None else "item_total"
        money: Fraction | None = getattr(cells, name)
        if money is None or money >= 0:
            return "sale"
        if pieces and not self._profile.below_zero:
            what = (
                f"the {name.replace('_', ' ')} {show_fraction(money)} is below zero beside "
                f"{show_fraction(pieces)} {'piece' if pieces == 1 else 'pieces'}: nothing says whether the "
                "goods came back."
            )
            advice = 'Say below_zero = "refund" (money only) or "take back" under [refunds] in the profile.'
            note(name, what, advice)
            return ""
        return self._profile.below_zero if pieces else "refund"


def _note_below_zero(cells: SalesCells, note: Note) -> None:
    """Note what a sale has below zero, each column before others are added to it."""
    for name in _NOT_BELOW_ZERO:
        value: Fraction | None = getattr(cells, name)
        if value is not None and value < 0:
            column = f"{name}_1" if name in MORE_COLUMNS else name
            note(column, f"{show_fraction(value)} is below zero on a sale.", minus_advice(name))


@dataclass(frozen=True)
class _Row:
    profile: SalesProfile
    cells: SalesCells
    currency: str
    note: Note

    def sale(self) -> list[Happening]:
        """Return the sale of a row, and the refund or return that stands beside it."""
        cells = self.cells
        pieces = self._sold()
        amount = self._total(pieces) if pieces is not None else None
        if pieces is None or amount is None:
            return []
        sale = Happening("sale", cells.date, pieces, amount, self._money("shipping"), self.fees())
        back = self._beside(pieces, amount)
        return [sale, back] if back is not None else [sale]

    def given_back_alone(self, kind: str) -> list[Happening]:
        """Return the refund or return that a row of its own says, whichever sign it is written with."""
        cells = self.cells
        pieces = abs(cells.pieces) if cells.pieces is not None else None
        if kind == "take back":
            if cells.returned is not None and cells.returned > 0:
                pieces = cells.returned
            if not pieces:
                self.note("pieces", "nothing says how many pieces came back.", "Fill it in.")
                return []
        if cells.refunded:
            amount = self._without_tax(
                abs(cells.refunded), cells.refunded_tax, self.profile.refund_tax, "refunded"
            )
        elif cells.item_total is not None:
            amount = self._back_after_discount(abs(cells.item_total), "item_total")
        elif cells.unit_price is not None:
            total = self._rounded(abs(cells.unit_price) * (pieces or 1))
            amount = self._back_after_discount(total, "unit_price")
        else:
            amount = None
        shipping = self._money("refunded_shipping")
        if shipping is None and cells.shipping:
            shipping = self.whole(abs(cells.shipping), "shipping")
        if kind == "refund" and not amount and not shipping:
            self.note("item_total", "a refund of nothing.", "Fill in what was paid back, or delete the row.")
            return []
        on = cells.refunded_on or cells.date
        quantity = pieces if kind == "take back" else None
        return [
            Happening(kind, on, quantity, amount or None, shipping, self._fees_given_back(), own_row=True)
        ]

    def _back_after_discount(self, total: Fraction, column: str) -> Fraction | None:
        """Return what was paid back of a total that is written before its discount, without tax."""
        off = abs(self.cells.discount or Fraction(0))
        if self.profile.discount != "to take off":
            off = Fraction(0)
        if off > total:
            what = f"the discount {show_fraction(off)} is more than the {show_fraction(total)} paid back."
            self.note("discount", what, "Check the two columns.")
            return None
        return self._without_tax(total - off, self.cells.tax, self.profile.tax, column)

    def _fees_given_back(self) -> Fraction | None:
        """Return the fees that the channel gave back with a refund.

        Where the row writes its money with a minus, fees given back have the other sign than those of a sale.
        """
        cells = self.cells
        fees = self.fees()
        if not fees:
            return None
        money = (cells.item_total, cells.unit_price, cells.refunded, cells.pieces)
        if fees > 0 and any(value is not None and value < 0 for value in money):
            what = f"{show_fraction(fees)} was kept for a refund, which the book has no place for beside it."
            self.note("fees", what, "Leave the cell empty: it is no cost of the goods.")
            return None
        return self.whole(abs(fees), "fees")

    def _sold(self) -> Fraction | None:
        """Return the pieces sold; one where the file has no column for them."""
        if "pieces" not in self.profile.columns:
            return Fraction(1)
        if not self.cells.pieces:
            what = "the pieces are missing." if self.cells.pieces is None else "the pieces are 0."
            self.note("pieces", what, "Say how many were sold, or set such rows aside under [set_aside].")
            return None
        return self.cells.pieces

    def _total(self, pieces: Fraction) -> Fraction | None:
        """Return the item total without tax and after discount, in whole minor units."""
        cells, profile = self.cells, self.profile
        total, column = cells.item_total, "item_total"
        off = cells.discount if profile.discount == "to take off" and cells.discount else Fraction(0)
        if total is None:
            if cells.unit_price is None:
                self.note("item_total", "the item total is missing.", "Fill it in; 0 where nothing was paid.")
                return None
            total, column = self._rounded(cells.unit_price * pieces), "unit_price"
        elif cells.unit_price is not None and not self._foots(total, cells.unit_price * pieces):
            product = f"{show_fraction(pieces)} x {show_fraction(cells.unit_price)}"
            what = f"the item total {show_fraction(total)} is not {product}, nor that less the discount."
            advice = (
                "Correct the row; where the unit price means something else, leave it out of the profile."
            )
            self.note("item_total", what, advice)
            return None
        elif cells.unit_price is not None and not self._is_habit(total, cells.unit_price * pieces):
            return None
        after = total - off
        if after < 0:
            what = f"the discount {show_fraction(off)} is more than the item total {show_fraction(total)}."
            self.note(
                "discount", what, 'If it was taken off already, say discount = "taken off" under [amounts].'
            )
            return None
        return self._without_tax(after, cells.tax, profile.tax, column)

    def _foots(self, total: Fraction, product: Fraction) -> bool:
        """Return whether a total is pieces times price, give or take the discount and half a cent a piece."""
        if total == product:
            return True
        slack = self._slack()
        discount = self.cells.discount or Fraction(0)
        return any(abs(total - each) <= slack for each in (product, product - discount))

    def _is_habit(self, total: Fraction, product: Fraction) -> bool:
        """Return whether pieces times price bear out what the profile says of the discount; else it is noted."""
        habit, off = self.profile.discount, self.cells.discount or Fraction(0)
        slack = self._slack()
        is_before, is_after = abs(total - product) <= slack, abs(total - (product - off)) <= slack
        says_before = habit == "to take off"
        if not off or habit == "in the price" or is_before in (is_after, says_before):
            return True
        side = "before" if is_before else "after"
        other = '"discount to take off"' if is_before else '"discount taken off"'
        what = (
            f"pieces x price is {show_fraction(product)}, so the item total {show_fraction(total)} is {side} the "
            f"discount {show_fraction(off)}; the profile says that it is {habit}."
        )
        step = (
            f"Correct the row. Where the whole file writes it so, say --as {other}, or --as "
            '"discount in the price" where the price is after the discount. In a profile of your own: discount = '
            '"to take off", "taken off" or "in the price" under [amounts].'
        )
        self.note("discount", what, step)
        return False

    def _slack(self) -> Fraction:
        """Return half a cent a piece: what a price per piece may be rounded by."""
        return abs(self.cells.pieces or Fraction(1)) * Fraction(1, 2 * 10 ** exponent(self.currency))

    def _without_tax(self, total: Fraction, tax: Fraction | None, habit: str, column: str) -> Fraction | None:
        if habit == "inside":
            if tax is not None and abs(tax) > total:
                what = f"the tax {show_fraction(abs(tax))} is more than the total {show_fraction(total)}."
                self.note("tax" if column != "refunded" else "refunded_tax", what, "Check the two columns.")
                return None
            total -= abs(tax) if tax is not None else 0
        return self.whole(total, column)

    def _beside(self, sold: Fraction, item_total: Fraction) -> Happening | None:
        """Return the refund or return whose columns stand beside the sale, None where nothing came back."""
        cells = self.cells
        back = sold if cells.returned == -1 else cells.returned or Fraction(0)
        if back > sold:
            what = f"{show_fraction(back)} pieces came back of {show_fraction(sold)} sold."
            self.note("returned", what, "Check the two columns.")
            return None
        money = cells.refunded or Fraction(0)
        amount = self._without_tax(money, cells.refunded_tax, self.profile.refund_tax, "refunded")
        shipping = self._money("refunded_shipping")
        if amount is None or not (amount or shipping or back):
            return None
        if amount > item_total:
            above = amount - item_total
            charged = cells.shipping or Fraction(0)
            if self.profile.refunds_above != "shipping" or shipping is not None or above > charged:
                what = (
                    f"{show_fraction(amount)} was paid back of an item total of {show_fraction(item_total)}."
                )
                advice = (
                    'Where the shipping was paid back too, say --as "refunds above shipping"; it is kept for the '
                    'next exports. In a profile of your own: above_item_total = "shipping" under [refunds], or name the '
                    "column of such shipping refunded_shipping."
                )
                self.note("refunded", what, advice)
                return None
            amount, shipping = item_total, above
        on = self._given_back_on()
        if on is None:
            return None
        kind = "take back" if back else "refund"
        return Happening(kind, on, back or None, amount or None, shipping)

    def _given_back_on(self) -> datetime.date | None:
        cells = self.cells
        if cells.refunded_on is None:
            if self.profile.undated_refunds == "sale date":
                return cells.date
            advice = 'Fill in its date, or say undated = "sale date" under [refunds] in the profile.'
            self.note("refunded_on", "nothing says when the money or the goods went back.", advice)
            return None
        if cells.refunded_on < cells.date:
            what = f"it was paid back on {cells.refunded_on}, before the sale on {cells.date}."
            self.note("refunded_on", what, "Check the two dates.")
            return None
        return cells.refunded_on

    def fees(self) -> Fraction | None:
        """Return the row's fees together, above zero where the channel kept them; None where it has none."""
        values = [
            whole
            for name in ("fees", "other_fees")
            if (value := getattr(self.cells, name)) is not None
            and (whole := self.whole(value, name)) is not None
        ]
        return sum(values, Fraction(0)) if values else None

    def _money(self, column: str) -> Fraction | None:
        value: Fraction | None = getattr(self.cells, column)
        return None if value is None or value < 0 else self.whole(value, column)

    def _rounded(self, value: Fraction) -> Fraction:
        scale = 10 ** exponent(self.currency)
        return Fraction(round_fraction(value * scale), scale)

    def whole(self, value: Fraction, column: str) -> Fraction | None:
        """Return an amount that is whole minor units of its currency; another is noted."""
        places = exponent(self.currency)
        if 10**places % value.denominator == 0:
            return value
        what = (
            f"{show_fraction(value, 12)} has more than {places} decimals, the most that {self.currency} has."
        )
        self.note(column, what, "Round it, and check the decimal sign of the profile.")
        return None
