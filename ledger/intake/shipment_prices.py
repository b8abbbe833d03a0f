"""What a row's lines cost: unit price, surcharge and discount, checked against the row's own total."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from ledger.costing.spreading import spread
from ledger.exact.currencies import exponent
from ledger.exact.money import MAX_AMOUNT
from ledger.exact.rounding import round_fraction
from ledger.intake.nearest import quoted
from ledger.intake.row_cells import MAX_UNIT_PRICE, RowCells
from ledger.intake.shipment_codes import Codes, RowWords, UnitMeaning

_PIECES_PER_PRICE = {"piece": 1, "dozen": 12, "hundred": 100}
_NONE = Fraction(0)


@dataclass(frozen=True)
class LineHabits:
    """What holds for every row: the invoice's currency, and what becomes of missing and damaged pieces."""

    currency: str
    missing_as: str = "claimed"
    damaged_as: str = "claimed"
    missing_in: str = "pieces"
    damaged_in: str = "pieces"
    """What numbers of missing and of damaged count, one of LOSS_UNITS."""

    def cents(self, amount: Fraction) -> int:
        """Return an amount in whole minor units, rounded half away from zero."""
        return round_fraction(amount * self._scale)

    def money(self, minor: int) -> Fraction:
        """Return whole minor units as an amount."""
        return Fraction(minor, self._scale)

    @cached_property
    def _scale(self) -> int:
        return int(10 ** exponent(self.currency))


@dataclass(frozen=True)
class Part:
    """One size of a row: what it is, how many, and what a unit holds."""

    words: RowWords
    sku: str
    size: str
    quantity: Fraction
    meaning: UnitMeaning
    factor: Fraction | None
    column: str

    @cached_property
    def pieces(self) -> Fraction | None:
        """The quantity in base units, None where the file does not tell."""
        return None if self.factor is None else self.quantity * self.factor


@dataclass(frozen=True)
class LinePrice:
    """What a line costs, in units of the invoice's currency; ``net`` is in whole minor units."""

    net: Fraction
    unit_price: Fraction | None = None
    discount: Fraction = _NONE
    is_provisional: bool = False


def line_prices(row: RowCells, parts: list[Part], codes: Codes, habits: LineHabits) -> list[LinePrice]:
    """Return what each part costs, the total that the row states checked; problems are noted."""
    price = row.price("unit_price")
    total = row.total("line_total") if price is not None else row.price("line_total")
    if price is not None:
        prices = _by_price(
            row, parts, [_unit_price(row, part, price, codes) for part in parts], total, habits
        )
    else:
        prices = _by_total(row, parts, codes, total, habits)
    for part, found in zip(parts, prices, strict=True):
        _check_net(row, part, found, habits)
    return prices


def _by_price(
    row: RowCells, parts: list[Part], unit_prices: list[Fraction], total: Fraction | None, habits: LineHabits
) -> list[LinePrice]:
    """Return the prices where the file has a price per unit."""
    percent = row.percent("discount_percent", 100) or _NONE
    if len(parts) == 1 and not percent:
        return [_one_price(row, parts[0], unit_prices[0], total, habits)]
    grosses = [price * part.quantity for price, part in zip(unit_prices, parts, strict=True)]
    discounts = [gross * percent / 100 if percent else _NONE for gross in grosses]
    nets = [
        gross - discount if discount else gross for gross, discount in zip(grosses, discounts, strict=True)
    ]
    if total is None:
        shares = [habits.cents(net) for net in nets]
    else:
        stated = habits.cents(total)
        _check_total(row, stated, sum(nets, _NONE), percent, habits)
        shares = _split(stated, nets)
    return [
        LinePrice(habits.money(share), unit_price, discount)
        for share, unit_price, discount in zip(shares, unit_prices, discounts, strict=True)
    ]


def _one_price(
    row: RowCells, part: Part, unit_price: Fraction, total: Fraction | None, habits: LineHabits
) -> LinePrice:
    """Return the price of a row of one part without a discount: most rows, so they take the short way."""
    expected = unit_price * part.quantity
    if total is None:
        return LinePrice(habits.money(habits.cents(expected)), unit_price)
    stated = habits.cents(total)
    _check_total(row, stated, expected, _NONE, habits)
    return LinePrice(habits.money(stated), unit_price)


def _check_total(
    row: RowCells, stated: int, expected: Fraction, percent: Fraction, habits: LineHabits
) -> None:
    """Note a total that is a whole minor unit or more away: 130.625 may be written 130.62 or 130.63."""
    if abs(expected - habits.money(stated)) < habits.money(1):
        return
    less = f" less {shown(percent)}%" if percent else ""
    row.problem(
        "line_total",
        f"the row's total is {shown(habits.money(stated))}, and quantity x price{less} is "
        f"{shown(habits.money(habits.cents(expected)))}.",
        "Correct the quantity, the price or the total; what a price is for stands under [prices] in the profile.",
    )


def _by_total(
    row: RowCells, parts: list[Part], codes: Codes, total: Fraction | None, habits: LineHabits
) -> list[LinePrice]:
    """Return the prices where only the row's total is known, or nothing."""
    if total is None:
        return [LinePrice(_NONE, is_provisional=True) for _ in parts]
    quantity = sum((part.quantity for part in parts), _NONE)
    if quantity <= 0:
        return [LinePrice(_NONE) for _ in parts]
    extras = [_surcharge(row, part, codes) * part.quantity for part in parts] if len(parts) > 1 else [_NONE]
    base = (total - sum(extras, _NONE)) / quantity
    weights = [base * part.quantity + extra for part, extra in zip(parts, extras, strict=True)]
    return [LinePrice(habits.money(share)) for share in _split(habits.cents(total), weights)]


def _check_net(row: RowCells, part: Part, price: LinePrice, habits: LineHabits) -> None:
    if price.unit_price is None and part.quantity > 0 and price.net > MAX_UNIT_PRICE * part.quantity:
        what = f"{shown(price.net)} for {shown(part.quantity)} is more than {MAX_UNIT_PRICE:,} for one."
        step = "Check the decimal point, and decimal_comma under [numbers] in the profile."
        row.problem("line_total", what, step)
    elif habits.cents(price.net) > MAX_AMOUNT:
        column = "line_total" if price.unit_price is None else "unit_price"
        what = f"the line comes to {shown(price.net)}, more than a book can hold."
        row.problem(column, what, "Check the price.")


def _split(cents: int, weights: Sequence[Fraction]) -> list[int]:
    """Return whole cents in proportion to exact weights, adding up; equal parts where all are zero."""
    if len(weights) == 1 or cents == 0:
        return [cents] + [0] * (len(weights) - 1)
    scale = math.lcm(*(weight.denominator for weight in weights))
    whole = [max(0, int(weight * scale)) for weight in weights]
    return spread(cents, whole if any(whole) else [1] * len(whole))


def _unit_price(row: RowCells, part: Part, price: Fraction, codes: Codes) -> Fraction:
    """Return the price per unit of quantity, the size's surcharge in it."""
    per = codes.profile.price_per
    if price == 0:
        return price
    if per != "unit":
        price = price / _PIECES_PER_PRICE[per] * _factor(row, part, f"the price is per {per}")
    price += _surcharge(row, part, codes)
    if price > MAX_UNIT_PRICE:
        row.problem(
            "unit_price",
            f"{shown(price)} for one {part.meaning.unit or 'unit'} is more than {MAX_UNIT_PRICE:,}.",
            "Check the decimal point, and decimal_comma under [numbers] in the profile.",
        )
    return price


def _surcharge(row: RowCells, part: Part, codes: Codes) -> Fraction:
    """Return the size's surcharge per unit of quantity."""
    surcharge = codes.surcharge(part.size)
    return (
        surcharge * _factor(row, part, f"{part.size} has a surcharge per piece") if surcharge else surcharge
    )


def _factor(row: RowCells, part: Part, why: str) -> Fraction:
    if part.factor is None:
        row.problem(
            "unit",
            f"{why}, and nothing says how many pieces one {quoted(part.meaning.unit)} holds.",
            f'Add {part.meaning.unit} = "72 each" (its real content) under [packs] in the profile, '
            f'or say it of an unknown layout: --as "pack {part.meaning.unit} = 72 each".',
        )
        return Fraction(1)
    return part.factor


def shown(value: Fraction) -> str:
    """Return a number as people write it, at most six decimals."""
    return f"{float(value):.6f}".rstrip("0").rstrip(".") if value.denominator != 1 else str(value.numerator)
