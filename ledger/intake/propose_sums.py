"""What the numbers of a table say about its columns: quantity x price = amount, sizes add up to pieces."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import permutations

Numbers = Sequence[Fraction | None]

PER = {1: "unit", 12: "dozen", 100: "hundred"}
"""What a price can be for, by the pieces it buys."""

HALF = Fraction(1, 2)
_CENT = Fraction(6, 1000)
"""Half a cent and a little: amounts are rounded to cents."""
_MOST_COLUMNS = 10
_FEWEST_ROWS = 2


@dataclass(frozen=True)
class Product:
    """Three columns whose values multiply: in ``agree`` of ``rows`` rows quantity x price / per = amount."""

    quantity: int
    price: int
    amount: int
    per: int
    agree: int
    rows: int

    @property
    def rate(self) -> Fraction:
        """The share of the rows that agree."""
        return Fraction(self.agree, self.rows) if self.rows else Fraction(0)


def product_of(
    quantity: Numbers, price: Numbers, amount: Numbers, discount: Numbers | None = None
) -> tuple[int, int, int]:
    """Return what a price is for (1, 12 or 100 pieces), in how many rows that agrees, and of how many.

    ``discount`` is in percent, none where a cell is empty. Rows with a quantity of one, which any
    price would fit, do not count.
    """
    best = (1, 0, 0)
    for per in PER:
        agree = rows = 0
        for place, (count, each, total) in enumerate(zip(quantity, price, amount, strict=True)):
            if count is None or each is None or total is None or count in (0, 1) or each in (0, 1):
                continue
            rows += 1
            percent = (discount[place] or Fraction(0)) if discount else Fraction(0)
            agree += _is_near(count * each / per, total, percent)
        if agree > best[1] or best[2] == 0:
            best = (per, agree, rows)
    return best


def _is_near(gross: Fraction, total: Fraction, percent: Fraction) -> bool:
    return any(
        abs(gross * (100 - each) / 100 - total) <= _CENT for each in {percent, percent * 100, Fraction(0)}
    )


def find_products(
    numbers: Mapping[int, Numbers], discount: Numbers | None = None, fixed: Mapping[str, int] | None = None
) -> list[Product]:
    """Return every three columns of which at least half the rows multiply, the best first.

    Arguments:
        numbers: the columns that hold numbers, by their place.
        discount: the column of the discount in percent, where there is one.
        fixed: what a person said: 'quantity', 'unit_price' or 'line_total' to a place.
    """
    told = fixed or {}
    places = list(numbers)[:_MOST_COLUMNS]
    found = []
    for quantity, price, amount in permutations(places, 3):
        chosen = {"quantity": quantity, "unit_price": price, "line_total": amount}
        if any(chosen[name] != place for name, place in told.items() if name in chosen):
            continue
        per, agree, rows = product_of(numbers[quantity], numbers[price], numbers[amount], discount)
        product = Product(quantity, price, amount, per, agree, rows)
        # The same product read the other way round is told apart by whole quantities.
        if rows >= _FEWEST_ROWS and product.rate >= HALF and _are_whole(numbers[quantity]):
            found.append(product)
    return sorted(found, key=lambda each: (-each.rate, each.per, each.quantity, each.price))


def _are_whole(numbers: Numbers) -> bool:
    there = [number for number in numbers if number is not None]
    return bool(there) and all(number.denominator == 1 and number >= 0 for number in there)


def row_sums(columns: Sequence[Numbers]) -> list[Fraction | None]:
    """Return each row's sum over the columns, None where none of them holds a number."""
    sums: list[Fraction | None] = []
    for row in zip(*columns, strict=True):
        there = [number for number in row if number is not None]
        sums.append(sum(there, Fraction(0)) if there else None)
    return sums


def agreement(left: Numbers, right: Numbers) -> Fraction:
    """Return the share of rows in which two columns hold the same number, of those where both hold one."""
    pairs = [(a, b) for a, b in zip(left, right, strict=True) if a is not None and b is not None]
    return Fraction(sum(a == b for a, b in pairs), len(pairs)) if pairs else Fraction(0)
