"""Lines of orders, shipments and arrivals typed as words: ``TEE-BLK-M 2 case at 129.60``."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack, unit_factor
from ledger.errors import ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.money import check_amount
from ledger.exact.numbers import read_decimal, show_fraction
from ledger.exact.quantity import to_base
from ledger.exact.rounding import round_fraction
from ledger.intake.nearest import quoted
from ledger.intake.shipment import LOSSES, ShipmentLine

LINE_EXAMPLE = "TEE-BLK-M 72 at 2.20"
LOSS_EXAMPLE = "TEE-BLK-M 2 claimed"
_PRICED = re.compile(r"\A(?P<head>.+?)\s+(?P<word>at|for)\s+(?P<price>\S+)\Z", re.IGNORECASE | re.DOTALL)
_LONGEST = 200


@dataclass(frozen=True, slots=True)
class LineWords:
    """A line as it was typed.

    ``price`` is for one of the unit, ``amount`` for the whole line, in units of the currency; both None
    where none was given. ``treatment`` is one of LOSSES, or empty.
    """

    where: str
    sku: str
    quantity: Fraction
    unit: str = ""
    price: Fraction | None = None
    amount: Fraction | None = None
    treatment: str = ""

    @property
    def net(self) -> Fraction | None:
        """What the line costs, exactly, in units of the currency."""
        if self.amount is not None:
            return self.amount
        return None if self.price is None else self.price * self.quantity


def read_line(text: str, where: str) -> LineWords:
    """Return the line that words like ``TEE-BLK-M 2 case at 129.60`` name.

    The words are: the SKU, a quantity, perhaps a unit or pack, then ``at`` a price for one of the unit or
    ``for`` an amount of the whole line; without either no price.

    >>> read_line("TEE-BLK-M 2 case at 129.60", "--line 1").net
    Fraction(1296, 5)

    Raises ValueProblem saying what is wrong and how it is written.
    """
    if len(text) > _LONGEST:
        raise ValueProblem(f"a line of {len(text)} characters is too long: write it like {LINE_EXAMPLE}.")
    priced = _PRICED.match(text.strip())
    head = priced["head"] if priced else text
    sku, quantity, rest = _head(head, text, LINE_EXAMPLE)
    price = amount = None
    if priced:
        number = _number(priced["price"], text, "price")
        if number < 0:
            raise ValueProblem(f"{quoted(text)}: the price {priced['price']} is below zero.")
        price, amount = (number, None) if priced["word"].casefold() == "at" else (None, number)
    return LineWords(where, sku, quantity, rest, price, amount)


def read_loss(text: str, where: str, default: str) -> LineWords:
    """Return the missing or damaged pieces that words like ``TEE-BLK-M 2 claimed`` name.

    Without a last word they are treated as ``default``. Raises ValueProblem as `read_line`.
    """
    sku, quantity, rest = _head(text, text, LOSS_EXAMPLE)
    words = rest.split()
    treatment = default
    if words and words[-1].casefold() in LOSSES:
        treatment = words.pop().casefold()
    elif words and words[-1].casefold() == "expensed":
        words.pop()
        treatment = "expense"
    return LineWords(where, sku, quantity, " ".join(words), treatment=treatment)


def _head(head: str, text: str, example: str) -> tuple[str, Fraction, str]:
    words = head.split()
    if len(words) < 2:  # noqa: PLR2004  (a SKU and a quantity)
        raise ValueProblem(f"{quoted(text)} is no line: write the SKU and a quantity, like {example}.")
    quantity = _number(words[1], text, "quantity")
    if quantity <= 0:
        raise ValueProblem(f"{quoted(text)}: the quantity {words[1]} is not above zero.")
    return words[0], quantity, " ".join(words[2:])


def _number(word: str, text: str, what: str) -> Fraction:
    try:
        return read_decimal(word, what=what)
    except ValueProblem as problem:
        raise ValueProblem(f"{quoted(text)}: {problem} Write it like {LINE_EXAMPLE}.") from problem


def drafted(words: Sequence[LineWords], currency: str) -> tuple[ShipmentLine, ...]:
    """Return typed lines as a file's would be read, priced in a currency, rounded once per line."""
    places = 10 ** exponent(currency)
    lines = []
    for one in words:
        net = one.net
        lines.append(
            ShipmentLine(
                where=one.where,
                sku=one.sku,
                quantity=one.quantity,
                unit=one.unit,
                net=Fraction(0) if net is None else Fraction(round_fraction(net * places), places),
                unit_price=one.price,
                provisional=net is None,
            )
        )
    return tuple(lines)


def base_milli(words: LineWords, items: Mapping[str, Item], packs: Mapping[str, Sequence[Pack]]) -> int:
    """Return a typed quantity in thousandths of the item's base unit.

    Raises ValueProblem where the unit is neither a pack of the item nor a unit that fits, or nothing is left.
    """
    item = items[words.sku]
    factor = unit_factor(words.unit, item.base_unit, packs.get(item.sku, ()), item.density_g_per_ml)
    milli = to_base(words.quantity, factor)
    if milli <= 0:
        raise ValueProblem(
            f"{item.sku}: {show_fraction(words.quantity)} comes to nothing in {item.base_unit}."
        )
    return milli


def minor_amount(words: LineWords, currency: str) -> int | None:
    """Return what a typed line costs in minor units of a currency, rounded once; None without a price."""
    net = words.net
    return None if net is None else check_amount(round_fraction(net * 10 ** exponent(currency)))
