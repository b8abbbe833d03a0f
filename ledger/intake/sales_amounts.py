"""What a row of a sales export comes to: the sale's total without tax, what was paid back, what came back."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from ledger.exact.currencies import exponent
from ledger.exact.numbers import show_fraction
from ledger.exact.rounding import round_fraction
from ledger.intake.sales_cells import SalesCells
from ledger.intake.sales_profile import SalesProfile

Note = Callable[[str, str, str], None]
"""Notes a problem: the column, what is wrong, what to do."""


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


class SalesAmounts:
    """The rows' amounts by the profile's habits."""

    def __init__(self, profile: SalesProfile) -> None:
        self._profile = profile

    def of(self, cells: SalesCells, kind: str, currency: str, note: Note) -> list[Happening]:
        """Return what happened in a row; what is wrong is noted, and what it concerns left out."""
        if kind == "sale":
            # Without a type column, minus signs tell.
            pieces, total = cells.pieces, cells.item_total
            if pieces is not None and pieces < 0:
                kind = "take back"
            elif total is not None and total < 0:
                if pieces:
                    what = f"the item total {show_fraction(total)} is below zero beside {show_fraction(pieces)} pieces."
                    note(
                        "item_total",
                        what,
                        "Refunds need a type column with [types] in the profile, or no pieces.",
                    )
                    return []
                kind = "refund"
        row = _Row(self._profile, cells, currency, note)
        if kind == "sale":
            return row.sale()
        return row.given_back_alone(kind)


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
        for name in ("shipping", "tax"):
            value: Fraction | None = getattr(cells, name)
            if value is not None and value < 0:
                self.note(name, f"{show_fraction(value)} is below zero on a sale.", self._minus(name))
        if pieces is None or amount is None:
            return []
        sale = Happening("sale", cells.date, pieces, amount, self._money("shipping"), self._fees())
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
        if cells.refunded is not None:
            amount = self._without_tax(
                abs(cells.refunded), cells.refunded_tax, self.profile.refund_tax, "refunded"
            )
        elif cells.item_total is not None:
            amount = self._without_tax(abs(cells.item_total), cells.tax, self.profile.tax, "item_total")
        else:
            priced = cells.unit_price is not None and pieces
            amount = (
                self._rounded(cells.unit_price * pieces) if priced and cells.unit_price and pieces else None
            )
        shipping = self._money("refunded_shipping")
        if shipping is None and cells.shipping:
            shipping = self._whole(abs(cells.shipping), "shipping")
        if kind == "refund" and not amount and not shipping:
            self.note("item_total", "a refund of nothing.", "Fill in what was paid back, or delete the row.")
            return []
        on = cells.refunded_on or cells.date
        quantity = pieces if kind == "take back" else None
        return [Happening(kind, on, quantity, amount or None, shipping, own_row=True)]

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
        pieces = abs(self.cells.pieces or Fraction(1))
        slack = pieces * Fraction(1, 2 * 10 ** exponent(self.currency))
        discount = self.cells.discount or Fraction(0)
        return any(abs(total - each) <= slack for each in (product, product - discount))

    def _without_tax(self, total: Fraction, tax: Fraction | None, habit: str, column: str) -> Fraction | None:
        if habit == "inside":
            if tax is not None and abs(tax) > total:
                what = f"the tax {show_fraction(abs(tax))} is more than the total {show_fraction(total)}."
                self.note("tax" if column != "refunded" else "refunded_tax", what, "Check the two columns.")
                return None
            total -= abs(tax) if tax is not None else 0
        return self._whole(total, column)

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
                    "Where shipping is in it, name refunded_shipping under [columns] or say "
                    'above_item_total = "shipping" under [refunds].'
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

    def _fees(self) -> Fraction | None:
        fees, others = self._money("fees"), self._money("other_fees")
        return None if fees is None and others is None else (fees or Fraction(0)) + (others or Fraction(0))

    def _money(self, column: str) -> Fraction | None:
        value: Fraction | None = getattr(self.cells, column)
        return None if value is None or value < 0 else self._whole(value, column)

    def _rounded(self, value: Fraction) -> Fraction:
        scale = 10 ** exponent(self.currency)
        return Fraction(round_fraction(value * scale), scale)

    def _whole(self, value: Fraction, column: str) -> Fraction | None:
        """Return an amount that is whole minor units of its currency; another is noted."""
        places = exponent(self.currency)
        if (value * 10**places).denominator == 1:
            return value
        what = (
            f"{show_fraction(value, 12)} has more than {places} decimals, the most that {self.currency} has."
        )
        self.note(column, what, "Round it, and check the decimal sign of the profile.")
        return None

    def _minus(self, column: str) -> str:
        if column not in ("shipping", "tax"):
            return "Check it."
        return f'Where the file writes them so, say minus = ["{column}"] under [amounts] in the profile.'
