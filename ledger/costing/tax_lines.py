"""A month's figures on the lines of a US tax return: Schedule C Part III and Form 1125-A.

The lines follow the policies the owner recorded; nothing here chooses one, and nothing is advice.
Line 42 is the same whether freight stands on line 39 or in line 36, and whether supplies on hand
stand inside lines 35 and 41 or outside.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields

from ledger.costing.month_statement import (
    GOODS,
    SUPPLIES_WHEN_BOUGHT,
    SUPPLIES_WHEN_USED,
    MonthStatement,
    StatementLines,
    span_statement,
)
from ledger.errors import BookDamaged
from ledger.exact.money import grouped_money

COUNTRY_WITH_LINES = "US"

POLICIES_OF_LINES = ("freight", "supplies", "samples")
"""The policies that decide which line of the form a figure stands on."""

YEAR_TO_DATE = "tax year to date"
SINCE_THE_BOOK = "since the book began"


@dataclass(frozen=True, slots=True)
class TaxPolicies:
    """The recorded policies that decide which line a figure stands on.

    ``freight_in_36``: freight and duty on goods stand inside line 36, not on 39.
    ``supplies_inside``: supplies on hand stand inside lines 35 and 41. ``samples_elsewhere``:
    what was given away is deducted elsewhere on the return, and leaves lines 36 and 38 at cost.
    ``not_told`` names the policies of the three that nobody recorded; they are taken as the first.
    """

    freight_in_36: bool = False
    supplies_inside: bool = False
    samples_elsewhere: bool = False
    not_told: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TaxLines:
    """Lines 35 to 42 of Schedule C Part III, in minor units, and the bridge to the book's stock.

    ``supplies_at_start`` and ``supplies_on_hand`` are supplies in stock that lines 35 and 41 leave
    out; ``given_away`` is the cost of samples and donations that line 42 leaves out. So line 41 and
    supplies_on_hand are the closing stock, and line 42 and given_away the cost of goods sold.
    """

    line_35: int
    line_36: int
    line_37: int
    line_38: int
    line_39: int
    line_41: int
    supplies_at_start: int = 0
    supplies_on_hand: int = 0
    given_away: int = 0

    @property
    def line_40(self) -> int:
        """The sum of lines 35 to 39."""
        return self.line_35 + self.line_36 + self.line_37 + self.line_38 + self.line_39

    @property
    def line_42(self) -> int:
        """The cost of goods sold: line 40 less line 41."""
        return self.line_40 - self.line_41

    def by_number(self) -> dict[str, int]:
        """Return the amounts of lines 35 to 42 by their numbers."""
        return {line.number: line.amount for line in schedule_c(self)}


@dataclass(frozen=True, slots=True)
class FormLine:
    """One line of a form: its number, what it says in plain words, and the amount in minor units."""

    number: str
    text: str
    amount: int


@dataclass(frozen=True, slots=True)
class YearToDate:
    """The tax year up to a month: statement and lines, or why they cannot be told.

    ``from_month`` is the tax year's first month. ``missing`` is empty, or says in plain words what
    the owner must tell first; ``statement`` and ``lines`` are None then. ``statement`` covers the
    months that are in the book; ``lines`` the months the owner told, too, which ``told`` has alone
    (None where the book holds the whole year).
    """

    from_month: str
    to_month: str
    statement: MonthStatement | None
    lines: TaxLines | None
    missing: str = ""
    told: TaxLines | None = None

    @property
    def statement_words(self) -> str:
        """What the statement covers: 'tax year to date', or 'since the book began' where that is less."""
        if self.statement is not None and self.statement.first_month > self.from_month:
            return SINCE_THE_BOOK
        return YEAR_TO_DATE


@dataclass(frozen=True, slots=True)
class OpeningCheck:
    """This year's line 35 against last year's line 41, which the form wants equal."""

    line_35: int
    last_line_41: int

    @property
    def agrees(self) -> bool:
        """Whether they are the same."""
        return self.line_35 == self.last_line_41


def tax_policies(recorded: Mapping[str, str]) -> TaxPolicies:
    """Return the policies that decide about lines, from those recorded in the book by name.

    A policy nobody told is taken as the first of its values, and named in ``not_told``.
    """
    return TaxPolicies(
        freight_in_36=recorded.get("freight") == "36",
        supplies_inside=recorded.get("supplies") == "inside",
        samples_elsewhere=recorded.get("samples") == "elsewhere",
        not_told=tuple(name for name in POLICIES_OF_LINES if name not in recorded),
    )


def changed_policies(before: TaxPolicies, after: TaxPolicies) -> tuple[str, ...]:
    """Return the names of the policies by which two months stand on different lines.

    >>> changed_policies(TaxPolicies(), TaxPolicies(supplies_inside=True, not_told=("freight",)))
    ('supplies',)
    """
    flags = ("freight_in_36", "supplies_inside", "samples_elsewhere")
    pairs = zip(POLICIES_OF_LINES, flags, strict=True)
    return tuple(name for name, flag in pairs if getattr(before, flag) != getattr(after, flag))


def policy_words(policies: TaxPolicies) -> str:
    """Return in words by which policies lines are worked out.

    >>> policy_words(TaxPolicies(freight_in_36=True))
    'freight in line 36, supplies on hand outside lines 35 and 41, samples in the cost of goods'
    """
    freight = "freight in line 36" if policies.freight_in_36 else "freight on line 39"
    supplies = "inside" if policies.supplies_inside else "outside"
    samples = "deducted elsewhere" if policies.samples_elsewhere else "in the cost of goods"
    return f"{freight}, supplies on hand {supplies} lines 35 and 41, samples {samples}"


def tax_lines(statement: MonthStatement, policies: TaxPolicies) -> TaxLines:
    """Return the lines of Schedule C Part III for a month or a span of months.

    Args:
        statement: what the month or span comes to.
        policies: as recorded.

    Raises BookDamaged where line 42 is not the cost of goods sold of the statement, less what is
    deducted elsewhere.

    Source: the form's own lines as IRS Publication 334 describes them; Treas. Reg. 1.162-3(a) for
    supplies; which class stands on which line is our own reading, see the contributor guide.
    """
    goods = statement.tax_class(GOODS)
    used = statement.tax_class(SUPPLIES_WHEN_USED)
    bought = statement.tax_class(SUPPLIES_WHEN_BOUGHT)
    in_stock = [goods, used] if policies.supplies_inside else [goods]
    purchases = sum(each.purchases - each.sent_back - each.own_use for each in in_stock)
    charges = sum(each.charges_in for each in in_stock)
    given_away = 0
    if policies.samples_elsewhere:
        purchases -= sum(_given_away(each) for each in in_stock)
        given_away = _given_away(goods) + _given_away(used)
    supplies = bought.by_equation
    if not policies.supplies_inside:
        supplies += _left_the_shelf(used) - (_given_away(used) if policies.samples_elsewhere else 0)
    lines = TaxLines(
        line_35=sum(each.opening_stock for each in in_stock),
        line_36=purchases + (charges if policies.freight_in_36 else 0),
        line_37=goods.labour,
        line_38=supplies,
        line_39=0 if policies.freight_in_36 else charges,
        line_41=sum(each.closing_stock for each in in_stock),
        supplies_at_start=0 if policies.supplies_inside else used.opening_stock,
        supplies_on_hand=0 if policies.supplies_inside else used.closing_stock,
        given_away=given_away,
    )
    if lines.line_42 + given_away != statement.total.cost_of_goods_sold:
        raise BookDamaged(
            f"{statement.first_month}: line 42 comes to {lines.line_42} (in minor units), but the cost of "
            f"goods sold is {statement.total.cost_of_goods_sold}. Run blankbook prove to see what is wrong."
        )
    return lines


def schedule_c(lines: TaxLines) -> tuple[FormLine, ...]:
    """Return lines 35 to 42 of Schedule C Part III (Form 1040) in their order."""
    return (
        FormLine("35", "Inventory at the start", lines.line_35),
        FormLine("36", "Purchases less what was taken for own use", lines.line_36),
        FormLine("37", "Labour paid to others, never your own", lines.line_37),
        FormLine("38", "Materials and supplies", lines.line_38),
        FormLine("39", "Other costs", lines.line_39),
        FormLine("40", "Lines 35 to 39 together", lines.line_40),
        FormLine("41", "Inventory at the end", lines.line_41),
        FormLine("42", "Cost of goods sold", lines.line_42),
    )


def form_1125_a(lines: TaxLines) -> tuple[FormLine, ...]:
    """Return the same figures on the lines of Form 1125-A, which sole proprietors do not file.

    Supplies and other costs share its line 5. What section 263A adds is not worked out: line 4 is zero.
    """
    return (
        FormLine("1", "Inventory at the start", lines.line_35),
        FormLine("2", "Purchases", lines.line_36),
        FormLine("3", "Cost of labour", lines.line_37),
        FormLine("4", "Additional section 263A costs (not worked out here)", 0),
        FormLine("5", "Other costs", lines.line_38 + lines.line_39),
        FormLine("6", "Lines 1 to 5 together", lines.line_40),
        FormLine("7", "Inventory at the end", lines.line_41),
        FormLine("8", "Cost of goods sold", lines.line_42),
    )


def tax_year_of(month: str, tax_year_starts: str) -> str:
    """Return the first month of the tax year that a month lies in, YYYY-MM.

    >>> tax_year_of("2026-03", "01"), tax_year_of("2026-03", "07"), tax_year_of("2026-07", "07")
    ('2026-01', '2025-07', '2026-07')

    Args:
        month: YYYY-MM.
        tax_year_starts: the month every tax year begins with, '01' to '12'.
    """
    year = int(month[:4]) - (month[5:] < tax_year_starts)
    return f"{year:04d}-{tax_year_starts}"


def is_tax_years_last(month: str, tax_year_starts: str) -> bool:
    """Return whether a month is the last of its tax year.

    >>> is_tax_years_last("2026-12", "01"), is_tax_years_last("2026-06", "07"), is_tax_years_last("2026-03", "01")
    (True, True, False)
    """
    return int(month[5:]) % 12 + 1 == int(tax_year_starts)


def year_to_date(
    months: Sequence[MonthStatement],
    policies: TaxPolicies | None,
    *,
    from_month: str,
    first_month: str,
    told: TaxLines | None = None,
) -> YearToDate:
    """Return the tax year to date: line 35 of its first month, line 41 of its last, the rest added up.

    Args:
        months: the statements of the tax year's months that are in the book, in order.
        policies: as recorded; None for a country whose lines are not known, which gives no lines.
        from_month: the tax year's first month, YYYY-MM.
        first_month: the first month the book holds, YYYY-MM.
        told: where the book begins within the tax year, the lines of its months before that, as
            the owner tells them; None where nothing was told. Their line 41 must be the stock
            the book begins with, which is entered as opening stock.
    """
    statement = span_statement(months)
    last_month = statement.last_month
    if policies is None:
        # Nothing can be told for lines that are not known: the year to date is what the book holds of it.
        return YearToDate(from_month, last_month, statement, None)
    if first_month <= from_month:
        return YearToDate(from_month, last_month, statement, tax_lines(statement, policies))
    if told is None:
        missing = (
            f"the tax year began in {from_month}, the book in {first_month}: tell the figures of the months "
            "between, and the year to date can be added up."
        )
        return YearToDate(from_month, last_month, None, None, missing)
    lines = tax_lines(statement, policies)
    if (told.line_41, told.supplies_on_hand) != (lines.line_35, lines.supplies_at_start):
        ends = grouped_money(told.line_41 + told.supplies_on_hand, statement.currency)
        begins = grouped_money(lines.line_35 + lines.supplies_at_start, statement.currency)
        missing = (
            f"the figures told for the months from {from_month} to before {first_month} end with stock of {ends} "
            f"{statement.currency}, but the book begins with {begins}. Correct the figures, or the opening stock."
        )
        return YearToDate(from_month, last_month, None, None, missing)
    return YearToDate(from_month, last_month, statement, _followed(told, lines), told=told)


def opening_check(
    first: TaxLines, last_year: TaxLines | None, told_41: int | None = None
) -> OpeningCheck | None:
    """Return this year's line 35 against last year's line 41, or None where last year's is not known.

    Args:
        first: the lines of this tax year's first month, or of the year to date.
        last_year: the lines of last tax year's last month or of the whole year, where the book
            holds it.
        told_41: last year's line 41 as the owner told it, in minor units, where it does not.
    """
    if last_year is not None:
        return OpeningCheck(first.line_35, last_year.line_41)
    return None if told_41 is None else OpeningCheck(first.line_35, told_41)


def _given_away(lines: StatementLines) -> int:
    return lines.samples + lines.donations


def _left_the_shelf(lines: StatementLines) -> int:
    """Return what left the shelf of supplies, into jobs or otherwise, but for own use."""
    return lines.by_equation + lines.used_in_jobs - lines.made_in_jobs


def _followed(earlier: TaxLines, later: TaxLines) -> TaxLines:
    """Return the lines of two spans that follow each other as those of one."""
    at_start, at_end = ("line_35", "supplies_at_start"), ("line_41", "supplies_on_hand")
    values = {each.name: getattr(earlier, each.name) + getattr(later, each.name) for each in fields(TaxLines)}
    values |= {name: getattr(earlier, name) for name in at_start}
    values |= {name: getattr(later, name) for name in at_end}
    return TaxLines(**values)
