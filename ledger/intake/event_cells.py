"""Reading one cell of an events sheet by its column, quickly enough for a hundred thousand rows."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from ledger.catalogue.parties import LONGEST_NAME
from ledger.catalogue.units import BASE_UNITS
from ledger.costing.landed import BASES
from ledger.errors import ValueProblem
from ledger.exact.currencies import EXPONENTS, read_currency
from ledger.exact.money import MAX_AMOUNT
from ledger.exact.numbers import show_fraction
from ledger.exact.quantity import MAX_QUANTITY, MILLI
from ledger.intake.events import FREE, TAX_PAID, EventRule, event_name
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.table import Cell
from ledger.intake.values import (
    FIRST_DATE,
    LAST_DATE,
    MAX_DECIMALS,
    DateOrder,
    read_date,
    read_number,
    read_text,
)

Reader = Callable[[Cell, EventRule | None], Any]

_FINEST_IN_A_PACK = 10**6
"""A quantity in packs may be this much finer than one: the book rounds it in the item's base unit."""

_MOST_DECIMALS = max(EXPONENTS.values())
_LOT = re.compile(r"[1-9]\d{0,11}\.[1-9]\d{0,5}\Z", re.ASCII)
_PLAIN = {
    sign: re.compile(rf"(\d{{1,12}})(?:{mark}(\d{{1,6}}))?\Z", re.ASCII)
    for sign, mark in ((False, r"\."), (True, ","))
}
"""The commonest way to write a number, by whether the decimal sign is a comma."""

_BASE_UNITS = frozenset(fold(unit) for unit in BASE_UNITS)


class EventCells:
    """The cells of one file by its habits; a text that stands in many cells is worked out once.

    ``readers`` has for every column but the event what reads its filled cells: called with the cell
    and the row's event's rule (None where the event is unknown), it returns the value in the type that
    `EventRow` has for it, or raises ValueProblem.
    """

    def __init__(self, *, decimal_comma: bool, date_order: DateOrder, book_currency: str) -> None:
        self._decimal_comma = decimal_comma
        self._date_order = date_order
        self._book_currency = book_currency
        self._plain = _PLAIN[decimal_comma]
        self._numbers: dict[str | Decimal, Fraction] = {}
        self._dates: dict[str, datetime.date] = {}
        self._currencies: dict[str, str] = {}
        self.readers: Mapping[str, Reader] = {
            "date": self._date,
            "sku": _text,
            "quantity": self._quantity,
            "unit": _text,
            "amount": self._amount,
            "currency": self._currency,
            "rate": self._rate,
            "party": _name,
            "reference": _name,
            "applies_to": _applies_to,
            "kind": _kind,
            "basis": _basis,
            "lot": _lot,
            "tax_paid": _tax_paid,
            "expires_on": self._date,
            "shipping": self._not_negative,
            "fees": self._not_negative,
            "note": _note,
        }

    def quantity_fault(self, quantity: Fraction, unit: str) -> str:
        """Return what is wrong with a row's quantity in its unit, nothing where it is sound."""
        finest = MILLI if not unit or fold(unit) in _BASE_UNITS else _FINEST_IN_A_PACK
        # Whole numbers compare many times faster than fractions.
        denominator = quantity.denominator
        if finest % denominator:
            step = "a thousandth" if finest == MILLI else "a millionth"
            shown = show_fraction(quantity, MAX_DECIMALS)
            return f"the quantity {shown} is finer than {step}, the smallest step it can have. Round it."
        if quantity.numerator * MILLI > MAX_QUANTITY * denominator:
            return (
                f"the quantity {show_fraction(quantity)} is larger than a book can hold. "
                "Check the unit and the decimal point."
            )
        return ""

    def amount_fault(self, amount: Fraction, currency: str) -> str:
        """Return what is wrong with an amount in its currency, nothing where it is sound."""
        code = currency or self._book_currency
        places = EXPONENTS[code] if code else _MOST_DECIMALS
        scale, denominator = 10**places, amount.denominator
        if scale % denominator:
            shown = show_fraction(amount, MAX_DECIMALS)
            return f"{shown} has more than {places} decimals, the most that {code or 'any currency'} has. Round it."
        if amount.numerator * scale > MAX_AMOUNT * denominator:
            shown = show_fraction(amount, MAX_DECIMALS)
            return f"{shown} is larger than a book can hold. Check for a misplaced decimal point."
        return ""

    def _number(self, cell: Cell) -> Fraction:
        """Return the cell's number, worked out once for each different text or value.

        Only plain text and decimals are kept: True would be taken for 1, and an error is no number.
        """
        value = cell.value
        if type(value) is not str and type(value) is not Decimal:
            return read_number(cell, decimal_comma=self._decimal_comma)
        known = self._numbers.get(value)
        if known is None:
            plain = self._plain.match(value) if type(value) is str else None
            if plain is None:
                known = read_number(cell, decimal_comma=self._decimal_comma)
            elif plain[2] is None:
                known = Fraction(int(plain[1]))
            else:
                known = Fraction(int(plain[1] + plain[2]), 10 ** len(plain[2]))
            self._numbers[value] = known
        return known

    def _date(self, cell: Cell, _rule: EventRule | None) -> datetime.date:
        value = cell.value
        if type(value) is datetime.date and FIRST_DATE <= value <= LAST_DATE:
            return value
        if type(value) is not str:
            return read_date(cell, self._date_order)
        known = self._dates.get(value)
        if known is None:
            known = self._dates[value] = read_date(cell, self._date_order)
        return known

    def _quantity(self, cell: Cell, rule: EventRule | None) -> Fraction:
        value = self._number(cell)
        if value.numerator < 0:
            raise ValueProblem(
                f"the quantity {cell.text} is below zero. Quantities are positive: the event says which way they go."
            )
        if not value.numerator and rule is not None and not rule.zero_quantity:
            raise ValueProblem("the quantity is 0. Say how many, or delete the row.")
        return value

    def _amount(self, cell: Cell, rule: EventRule | None) -> Fraction:
        # Most amounts are numbers that were met before or begin like one.
        if type(cell.value) is str and fold(cell.value) == FREE:
            if rule is not None and not rule.free:
                raise ValueProblem(f"'{FREE}' stands only on opening, receive and sell. Give the amount.")
            return Fraction(0)
        value = self._number(cell)
        if value.numerator < 0:
            raise ValueProblem(
                f"the amount {cell.text} is below zero. Amounts are positive, discounts and credits too: "
                "the event and the kind say which way they go."
            )
        if not value.numerator and rule is not None and not rule.zero_amount:
            way_out = (
                f"Write '{FREE}' where nothing is paid, or leave it empty where it is not known."
                if rule.free
                else "Give the amount, or leave it out."
            )
            raise ValueProblem(f"the amount is 0. {way_out}")
        return value

    def _not_negative(self, cell: Cell, _rule: EventRule | None) -> Fraction:
        value = self._number(cell)
        if value.numerator < 0:
            raise ValueProblem(f"{cell.text} is below zero. Shipping and fees are positive on every event.")
        return value

    def _currency(self, cell: Cell, _rule: EventRule | None) -> str:
        text = read_text(cell)
        known = self._currencies.get(text)
        if known is None:
            known = self._currencies[text] = read_currency(text)
        return known

    def _rate(self, cell: Cell, _rule: EventRule | None) -> str:
        value = self._number(cell)
        if value <= 0:
            raise ValueProblem(
                f"the rate {cell.text} is not above zero. It is one unit of the currency in the book's."
            )
        return show_fraction(value, MAX_DECIMALS)


def _text(cell: Cell, _rule: EventRule | None) -> str:
    value = cell.value
    if type(value) is str:
        return value.strip()
    if isinstance(value, datetime.date):
        raise ValueProblem(
            f"the spreadsheet made the date {cell.text} of what was typed. "
            "Set the cell's format to text and type it again."
        )
    return read_text(cell)


def _name(cell: Cell, rule: EventRule | None) -> str:
    text = _text(cell, rule)
    if len(text) > LONGEST_NAME:
        raise ValueProblem(f"{quoted(text)} has more than {LONGEST_NAME} characters. Shorten it.")
    return text


def _note(cell: Cell, _rule: EventRule | None) -> str:
    return read_text(cell)


def _applies_to(cell: Cell, rule: EventRule | None) -> tuple[str, ...]:
    text = _text(cell, rule)
    parts = [part for part in map(str.strip, text.split(";")) if part]
    if not parts:
        raise ValueProblem(f"{quoted(text)} names nothing. Write receipt numbers or party/reference.")
    if len({fold(part) for part in parts}) < len(parts):
        raise ValueProblem(f"{quoted(text)} names one document twice. Name each once.")
    return tuple(parts)


def _kind(cell: Cell, rule: EventRule | None) -> str:
    text = _text(cell, rule)
    return text if rule is None else _choice(text, rule.kinds)


def _basis(cell: Cell, rule: EventRule | None) -> str:
    return _choice(_text(cell, rule), BASES)


def _tax_paid(cell: Cell, rule: EventRule | None) -> str:
    # A workbook's TRUE is a yes; its FALSE could be resale or none.
    return "yes" if cell.value is True else _choice(_text(cell, rule), TAX_PAID)


def _choice(text: str, choices: tuple[str, ...]) -> str:
    word = event_name(text)
    if word not in choices:
        raise ValueProblem(f"{quoted(text)} is not known here. {did_you_mean(word, choices)}")
    return word


def _lot(cell: Cell, rule: EventRule | None) -> str:
    # A number cell cannot tell line 3 from line 30; the SKU beside it tells the book.
    text = _text(cell, rule)
    if not _LOT.match(text):
        raise ValueProblem(f"{quoted(text)} is no lot. Write its document and line, like 12.3.")
    return text
