"""Reading the cells of one row of a sales export, each checked by pydantic, its findings in makers' words."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated, Any, Literal

from ledger.catalogue.parties import LONGEST_NAME
from ledger.errors import Problem, ValueProblem
from ledger.exact.currencies import read_currency
from ledger.intake.nearest import fold, quoted
from ledger.intake.sales_profile import MINUS_COLUMNS, MONEY_COLUMNS, MORE_COLUMNS, SalesProfile
from ledger.intake.table import Cell, Record
from ledger.intake.values import DateOrder, read_date, read_number, read_text

if TYPE_CHECKING:
    from pydantic import BaseModel, BeforeValidator

MAX_PIECES = 1_000_000
MAX_MONEY = 10**12
LONGEST_TITLE = 500

_TEXTS = ("line", "type", "sku", "title", "variant", "party")
_DATES = ("date", "refunded_on")
_TWO_WAYS = re.compile(r"(\d{1,2})[-/. ]+(\d{1,2})[-/. ]+(\d{2,4})(?!\d)", re.ASCII)
_YES, _NO = ("yes", "y", "true"), ("no", "n", "false")


@dataclass(frozen=True, slots=True)
class SalesCells:
    """One row as the file says it; None and empty texts where nothing stands.

    Amounts are in units of the row's currency. ``returned`` is -1 for a plain yes: all of the pieces.
    """

    date: datetime.date
    order: str
    line: str = ""
    type: str = ""
    sku: str = ""
    title: str = ""
    variant: str = ""
    pieces: Fraction | None = None
    unit_price: Fraction | None = None
    item_total: Fraction | None = None
    tax: Fraction | None = None
    discount: Fraction | None = None
    shipping: Fraction | None = None
    fees: Fraction | None = None
    other_fees: Fraction | None = None
    refunded: Fraction | None = None
    refunded_tax: Fraction | None = None
    refunded_shipping: Fraction | None = None
    refunded_on: datetime.date | None = None
    returned: Fraction | None = None
    party: str = ""
    currency: str = ""
    more_shipping: Fraction | None = None
    more_fees: Fraction | None = None
    more_discount: Fraction | None = None
    more_tax: Fraction | None = None
    more_refunded: Fraction | None = None

    def together(self) -> SalesCells:
        """Return the row with what further columns add to their first one."""
        changed: dict[str, Any] = {}
        for name, base in MORE_COLUMNS.items():
            more: Fraction | None = getattr(self, name)
            if more is not None:
                changed |= {base: (getattr(self, base) or Fraction(0)) + more, name: None}
        return replace(self, **changed) if changed else self

    @property
    def is_given_back(self) -> bool:
        """Whether a minus says that the row is no sale."""
        money = self.unit_price if self.item_total is None else self.item_total
        return (self.pieces or 0) < 0 or (money or 0) < 0


class SalesCellReader:
    """The rows of one file by its profile's habits; problems are collected until `finish`.

    pydantic is imported here, not at the top of the module: a reading command does without it.
    """

    def __init__(self, profile: SalesProfile, problems: list[Problem]) -> None:
        from pydantic import ValidationError  # noqa: PLC0415  (slow to import)

        self._profile = profile
        self._problems = problems
        self._failed = ValidationError
        self._model = _row_model(profile)
        self._names = tuple(name for name in _NAMES if name in self._model.model_fields)
        self._more = {name: more_names(profile, name) for name in MORE_COLUMNS if name in profile.columns}
        self._ambiguous: list[Cell] = []
        self._telling: dict[str, str] = {}

    def read(self, record: Record) -> SalesCells | None:
        """Return the row, None where a cell of it cannot be read."""
        filled = {name: cell for name, cell in record.cells.items() if not cell.is_empty}
        for name in _DATES:
            if name in filled and self._profile.date_order is None:
                self._learn(filled[name])
        try:
            row = self._model.model_validate(filled)
        except self._failed as error:
            for one in error.errors(include_url=False, include_input=False):
                self._note(record, str(one["loc"][0]), one["type"], one.get("ctx", {}), one["msg"])
            return None
        read = row.__dict__
        values = {name: read[name] for name in self._names}
        for name, parts in self._more.items():
            found = [value for part in parts if (value := read[part]) is not None]
            values[name] = sum(found, Fraction(0)) if found else None
        return SalesCells(**values)

    def finish(self) -> None:
        """Note what concerns the whole file: dates that can be read in two ways, once."""
        if not self._ambiguous:
            return
        first = self._ambiguous[0]
        rest = len(self._ambiguous) - 1
        others = f", and {rest:,} more like it" if rest else ""
        orders = " or ".join(f'"{order}"' for order in ("day month year", "month day year"))
        seen = "".join(f" Its {text} fits {order}." for order, text in self._telling.items())
        what = f"{quoted(first.text)} can be read in two ways{others}: the profile does not say the order."
        self._problems.append(
            Problem(first.where, what, f"Write date_order = {orders} under [numbers] in the profile.{seen}")
        )

    def _learn(self, cell: Cell) -> None:
        """Keep a date that can only be read in one way: it hints at the file's order."""
        if order := order_told(cell):
            self._telling.setdefault(order, cell.text)

    def _note(self, record: Record, column: str, kind: str, context: Mapping[str, Any], words: str) -> None:
        cell = record.cells.get(column)
        if kind == "ambiguous_date" and cell is not None:
            self._ambiguous.append(cell)
            return
        what, next_step = _translated(kind, column, "" if cell is None else cell.text, context, words)
        self._problems.append(Problem(record.place(column), what, next_step))


_MONTHS_IN_YEAR = 12
_NUMBERED = re.compile(r"_\d+\Z")
_NAMES = tuple(one.name for one in fields(SalesCells))


def minus_advice(name: str) -> str:
    """Return how it is said that a file writes a column with a minus."""
    said = name.replace("_", " ")
    return f'Where the file writes them so, say --as "minus {said}", or minus = ["{name}"] under [amounts] in the profile.'


def _translated(kind: str, column: str, text: str, context: Mapping[str, Any], words: str) -> tuple[str, str]:
    """Return pydantic's finding in a maker's words: what is wrong, and what to do."""
    if kind == "unreadable":
        return str(context["why"]), ""
    if kind == "missing":
        return f"the {column.replace('_', ' ')} is missing.", "Fill it in, or delete the row."
    if kind in ("string_too_long", "too_long"):
        return f"{quoted(text)} has more than {context['max_length']} characters.", "Check the column."
    if kind in ("greater_than_equal", "less_than_equal"):
        limit = int(context.get("ge", context.get("le", 0)))
        side = "below" if kind == "greater_than_equal" else "above"
        name = _NUMBERED.sub("", column)
        if limit == 0 and name in MINUS_COLUMNS:
            return f"{text} is {side} zero.", minus_advice(name)
        return f"{text} is {side} {limit:,}.", "Check the decimal sign, and the column."
    return f"{quoted(text)} cannot stand here: {words}.", "Mend it, or delete the row."


class _Readers:
    """What reads each column's cells by the profile's habits."""

    def __init__(self, profile: SalesProfile) -> None:
        self._profile = profile

    def number(self, cell: Cell) -> Fraction:
        return read_number(cell, decimal_comma=self._profile.decimal_comma)

    def minus(self, cell: Cell) -> Fraction:
        return -self.number(cell)

    def pieces(self, cell: Cell) -> Fraction:
        return _whole(self.number(cell), cell)

    def returned(self, cell: Cell) -> Fraction:
        return _returned(cell, self.pieces)

    def day(self, cell: Cell) -> datetime.date:
        return _day(cell, self._profile.date_order)


def _currency(cell: Cell) -> str:
    return read_currency(read_text(cell))


def _row_model(profile: SalesProfile) -> type[BaseModel]:
    """Return the pydantic model of a row, its readers bound to the profile's habits."""
    from pydantic import ConfigDict, Field, create_model  # noqa: PLC0415

    readers = _Readers(profile)
    day = _checked(readers.day)
    text = _checked(read_text)
    model: dict[str, Any] = {
        "date": (Annotated[datetime.date, day], ...),
        "order": (Annotated[str, Field(max_length=LONGEST_NAME), text], ...),
        "refunded_on": (Annotated[datetime.date, day], None),
        "pieces": (Annotated[Fraction, _checked(readers.pieces, -MAX_PIECES, MAX_PIECES)], None),
        "returned": (Annotated[Fraction, _checked(readers.returned, -1, MAX_PIECES)], None),
        "currency": (Annotated[str, _checked(_currency)], ""),
    }
    for name in _TEXTS:
        longest = LONGEST_TITLE if name in ("title", "variant") else LONGEST_NAME
        model[name] = (Annotated[str, Field(max_length=longest), text], "")
    for name in MONEY_COLUMNS:
        # A row of a refund may write its money with the other sign; whether it is one is judged later.
        least = -MAX_MONEY if name in _EITHER_SIGN else 0
        reader = _checked(readers.minus if name in profile.minus else readers.number, least, MAX_MONEY)
        for each in more_names(profile, name) if name in MORE_COLUMNS else (name,):
            model[each] = (Annotated[Fraction, reader], None)
    made: type[BaseModel] = create_model(
        "SalesRow", __config__=ConfigDict(arbitrary_types_allowed=True), **model
    )
    return made


def _checked(
    reader: Callable[[Cell], Any], least: int | None = None, most: int | None = None
) -> BeforeValidator:
    """Return a reader as pydantic calls it: what it refuses becomes a finding of pydantic's.

    ``least`` and ``most`` bound a number. They are judged here, once for each different value.
    """
    from pydantic import BeforeValidator  # noqa: PLC0415
    from pydantic_core import PydanticCustomError  # noqa: PLC0415

    known: dict[tuple[type, object], Any] = {}

    def read(cell: Cell) -> Any:
        # A year of sales has few different days, prices and titles: each is worked out once. The type is
        # part of what is kept, as a cell that says TRUE is not one that says 1.
        key = (type(cell.value), cell.value)
        if key in known:
            return known[key]
        try:
            value = reader(cell)
        except _TwoWays as problem:
            raise PydanticCustomError("ambiguous_date", "two ways") from problem
        except ValueProblem as problem:
            raise PydanticCustomError("unreadable", "{why}", {"why": str(problem)}) from problem
        if least is not None and value < least:
            raise PydanticCustomError("greater_than_equal", "below {ge}", {"ge": least})
        if most is not None and value > most:
            raise PydanticCustomError("less_than_equal", "above {le}", {"le": most})
        known[key] = value
        return value

    return BeforeValidator(read)


_EITHER_SIGN = (
    *("unit_price", "item_total", "tax", "discount", "shipping", "fees", "other_fees"),
    *("more_tax", "more_discount", "more_shipping", "more_fees"),
)


def is_money(name: str) -> bool:
    """Return whether a column of a row holds money, those called more_fees_1 among them."""
    return _NUMBERED.sub("", name) in MONEY_COLUMNS


def more_names(profile: SalesProfile, name: str) -> tuple[str, ...]:
    """Return what each heading of one of MORE_COLUMNS is called in a row: more_fees_1, more_fees_2."""
    return tuple(f"{name}_{number}" for number in range(1, len(profile.columns.get(name, ())) + 1))


class _TwoWays(ValueProblem):
    """A date whose order the profile does not say."""


def reads_in_two_ways(cell: Cell) -> bool:
    """Return whether a cell is a date like 03/04/2026, whose order only a person can tell."""
    match = _TWO_WAYS.match(cell.text) if isinstance(cell.value, str) else None
    if match is None:
        return False
    first, second = int(match[1]), int(match[2])
    short_year = len(match[3]) < 4  # noqa: PLR2004
    return short_year or (max(first, second) <= _MONTHS_IN_YEAR and first != second)


def order_told(cell: Cell) -> DateOrder | Literal[""]:
    """Return the order of day and month that a date like 14/05/2026 alone tells, '' where it tells none."""
    match = _TWO_WAYS.match(cell.text) if isinstance(cell.value, str) else None
    if match is None or len(match[3]) < 4:  # noqa: PLR2004
        return ""
    first, second = int(match[1]) > _MONTHS_IN_YEAR, int(match[2]) > _MONTHS_IN_YEAR
    if first == second:
        return ""
    return "day month year" if first else "month day year"


def _day(cell: Cell, order: DateOrder | None) -> datetime.date:
    """Return a date; without an order only one that can be read in one way.

    Raises ValueProblem, and _TwoWays for 03/04/2026 where the order is not said.
    """
    if order is not None:
        return read_date(cell, order)
    if reads_in_two_ways(cell):
        raise _TwoWays(cell.text)
    match = _TWO_WAYS.match(cell.text) if isinstance(cell.value, str) else None
    if match is None:
        return read_date(cell, "year month day" if cell.text[:4].isdigit() else "month day year")
    return read_date(cell, "day month year" if int(match[1]) > _MONTHS_IN_YEAR else "month day year")


def _whole(value: Fraction, cell: Cell) -> Fraction:
    if value.denominator != 1:
        raise ValueProblem(f"{cell.text} is not a whole number of pieces. Check the column.")
    return value


def _returned(cell: Cell, pieces: Callable[[Cell], Fraction]) -> Fraction:
    """Return how many pieces came back; -1 for a yes."""
    word = fold(read_text(cell))
    if word in _YES or word in _NO:
        return Fraction(-1 if word in _YES else 0)
    value = pieces(cell)
    if value < 0:
        raise ValueProblem(f"{cell.text} is below zero. Write how many pieces came back, or yes or no.")
    return value


def rows_named(places: Iterable[str], most: int = 3) -> str:
    """Return places in few words: 'row 3, row 9 and 4 more'."""
    known = list(places)
    rest = len(known) - most
    return ", ".join(known[:most]) + (f" and {rest:,} more" if rest > 0 else "")
