"""The words a month's pack is made of: tables and forms of plain data, and how figures hang together.

Every cell has its value, worked out by the program. Beside it may stand how a workbook gets the
same value by a formula: whoever receives it can follow every sum, and change a figure to see what
moves. Money is whole minor units, quantities are whole thousandths, dates are ISO 8601 text.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from typing import TypeAlias

from ledger.exact.currencies import exponent
from ledger.exact.money import grouped_money
from ledger.exact.quantity import MILLI, show_quantity

Value: TypeAlias = str | int | Fraction | None
"""Text or a date, whole minor units or thousandths, an exact cost per unit, or nothing."""


class Kind(Enum):
    """What a column holds; prose is text in sentences, which takes a wide column and several lines."""

    TEXT = "text"
    PROSE = "prose"
    DATE = "date"
    MONEY = "money"
    QUANTITY = "quantity"
    PER_UNIT = "per unit"


@dataclass(frozen=True, slots=True)
class Adds:
    """A cell that is some columns of its row less others."""

    plus: tuple[str, ...]
    minus: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Divides:
    """A cell that is one column of its row by another; empty where the other is zero."""

    amount: str
    quantity: str


@dataclass(frozen=True, slots=True)
class Gathers:
    """A cell that adds up another table's column of the same key, over the rows of its own group."""

    table: str
    group: str


Formula: TypeAlias = Adds | Divides | Gathers


@dataclass(frozen=True, slots=True)
class Column:
    """One column. ``is_summed`` gives it a total; an ``is_optional`` one is left out where all of it is zero.

    ``key`` names it in csv files and in formulas, ``heading`` on paper.
    """

    key: str
    heading: str
    kind: Kind = Kind.TEXT
    is_summed: bool = False
    is_optional: bool = False
    formula: Formula | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under columns. ``keys`` says how many columns on the left name a row."""

    key: str
    title: str
    note: str
    columns: tuple[Column, ...]
    rows: Sequence[Sequence[Value]]
    keys: int = 1

    def place(self, key: str) -> int:
        """Return where a column stands, from 0; raises KeyError where there is none of that key."""
        for place, column in enumerate(self.columns):
            if column.key == key:
                return place
        raise KeyError(key)

    def total(self, key: str) -> int:
        """Return what a column of money or quantities adds up to."""
        place = self.place(key)
        return sum(whole(row[place]) for row in self.rows)

    def shown(self) -> Table:
        """Return the table without the optional columns in which there is nothing but zeros."""
        kept = [
            place
            for place, column in enumerate(self.columns)
            if not column.is_optional or any(row[place] for row in self.rows)
        ]
        if len(kept) == len(self.columns):
            return self
        columns = tuple(self.columns[place] for place in kept)
        rows = [tuple(row[place] for place in kept) for row in self.rows]
        return Table(self.key, self.title, self.note, columns, rows, self.keys)


def whole(value: Value) -> int:
    """Return a cell of money or a quantity as the whole number it is, nothing as zero."""
    if value is None:
        return 0
    assert isinstance(value, int)
    return value


@dataclass(frozen=True, slots=True)
class Named:
    """A figure of a form, by its name."""

    name: str


@dataclass(frozen=True, slots=True)
class TotalOf:
    """The total of a table's column."""

    table: str
    column: str


@dataclass(frozen=True, slots=True)
class SumWhere:
    """The sum of a table's column over the rows that have some text in another column."""

    table: str
    column: str
    where: str
    equals: str


@dataclass(frozen=True, slots=True)
class LastOf:
    """A table's column in its last row."""

    table: str
    column: str


Ref: TypeAlias = Named | TotalOf | SumWhere | LastOf


@dataclass(frozen=True, slots=True)
class Terms:
    """Some figures less others."""

    plus: tuple[Ref, ...]
    minus: tuple[Ref, ...] = ()


@dataclass(frozen=True, slots=True)
class Figure:
    """One amount of a form, in minor units; without ``terms`` it is told, not worked out.

    A ``name`` makes it a named cell that other figures and checks can speak of.
    """

    value: int
    terms: Terms | None = None
    name: str = ""


@dataclass(frozen=True, slots=True)
class FormRow:
    """A row of a form: what it says, its figures, and a remark. A row without figures is a heading.

    ``is_result`` sets it off from the rows above, which it sums up.
    """

    label: str
    figures: tuple[Figure | None, ...] = ()
    remark: str = ""
    is_result: bool = False


@dataclass(frozen=True, slots=True)
class Form:
    """Amounts in a fixed order under a few headings, as on a statement."""

    key: str
    title: str
    note: str
    headings: tuple[str, ...]
    rows: tuple[FormRow, ...]


@dataclass(frozen=True, slots=True)
class Check:
    """Two ways to the same figure, in minor units or, for quantities, in thousandths.

    ``sheet`` is the key of the table or form it is about. ``value`` is what the one way comes to and
    ``other_value`` what the other does, each worked out by itself.
    """

    sheet: str
    what: str
    one: Terms
    other: Terms
    value: int
    other_value: int
    kind: Kind = Kind.MONEY

    @property
    def difference(self) -> int:
        """What the one way comes to more than the other: zero where the pack agrees."""
        return self.value - self.other_value

    def shown(self, value: int, currency: str) -> str:
        """Return one of its values as people read it."""
        return grouped_money(value, currency) if self.kind is Kind.MONEY else show_quantity(value)


@dataclass(frozen=True, slots=True)
class Pack:
    """A month, or a span of months, as it is handed to whoever prepares the taxes.

    ``cautions`` stand on the first sheet, the tax lines and the notes. ``is_draft`` says that a
    month of it is still open. ``charts`` are two tables: stock value by month and kind, and where
    the cost went.
    """

    shop: str
    country: str
    currency: str
    span_words: str
    is_draft: bool
    cautions: tuple[str, ...]
    sheets: tuple[Table | Form, ...]
    checks: tuple[Check, ...]
    stock_by_month: Table
    where_cost_went: Form

    def table(self, key: str) -> Table:
        """Return the table of a key; raises KeyError where there is none."""
        for sheet in self.sheets:
            if isinstance(sheet, Table) and sheet.key == key:
                return sheet
        raise KeyError(key)

    def form(self, key: str) -> Form:
        """Return the form of a key; raises KeyError where there is none."""
        for sheet in self.sheets:
            if isinstance(sheet, Form) and sheet.key == key:
                return sheet
        raise KeyError(key)

    def disagreements(self) -> tuple[str, ...]:
        """Return, in words, the checks whose two ways do not meet; empty for a pack that may be handed on."""
        titles = {sheet.key: sheet.title for sheet in (*self.sheets, self.stock_by_month)}
        return tuple(
            f"{titles[check.sheet]}: {check.what} do not agree: {check.shown(check.value, self.currency)} and "
            f"{check.shown(check.other_value, self.currency)}."
            for check in self.checks
            if check.difference
        )

    def figures(self) -> Mapping[str, int]:
        """Return the named figures of all forms, in minor units."""
        return named_figures((*self.sheets, self.where_cost_went))


def named_figures(sheets: Iterable[Table | Form]) -> dict[str, int]:
    """Return the named figures of the forms among some sheets, in minor units."""
    return {
        figure.name: figure.value
        for form in sheets
        if isinstance(form, Form)
        for row in form.rows
        for figure in row.figures
        if figure is not None and figure.name
    }


def worth(terms: Terms, tables: Mapping[str, Table], figures: Mapping[str, int]) -> int:
    """Return what terms come to by tables and named figures, in minor units or thousandths.

    Args:
        terms: what to add up.
        tables: the tables they speak of, by key.
        figures: the named figures they speak of, in minor units.

    Raises KeyError where a table, a column or a name is not there.
    """
    plus = sum(_worth(ref, tables, figures) for ref in terms.plus)
    return plus - sum(_worth(ref, tables, figures) for ref in terms.minus)


def _worth(ref: Ref, tables: Mapping[str, Table], figures: Mapping[str, int]) -> int:
    if isinstance(ref, Named):
        return figures[ref.name]
    table = tables[ref.table]
    if isinstance(ref, TotalOf):
        return table.total(ref.column)
    place = table.place(ref.column)
    if isinstance(ref, LastOf):
        return whole(table.rows[-1][place]) if table.rows else 0
    where = table.place(ref.where)
    return sum(whole(row[place]) for row in table.rows if row[where] == ref.equals)


def per_unit(amount: int, quantity_milli: int, currency: str) -> Fraction | None:
    """Return an exact cost per base unit in the currency's major units, None at zero quantity."""
    if quantity_milli == 0:
        return None
    return Fraction(amount * MILLI, quantity_milli * 10 ** exponent(currency))
