"""What a month comes to: opening stock, what came in, what left, closing stock, cost of goods sold.

Everything here is worked out from account totals per item, never from single legs, and everything
is checked on the way: an item, a kind or a month that does not add up is never reported.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace

from ledger.costing.findings import HELD_ACCOUNTS
from ledger.costing.invariants import COST_OF_GOODS_SOLD_ACCOUNTS, IN_PROCESS, OTHER_ACCOUNTS, STOCK_ACCOUNTS
from ledger.errors import BookDamaged

GOODS = "goods"
SUPPLIES_WHEN_USED = "supplies when used"
SUPPLIES_WHEN_BOUGHT = "supplies when bought"

FINISHED = "finished"
"""The kind of what jobs make: it stands with the goods, whatever class the item was given."""

_ACCOUNTS = {*STOCK_ACCOUNTS, *COST_OF_GOODS_SOLD_ACCOUNTS, *OTHER_ACCOUNTS}

_MEND = "Run blankbook prove to see what is wrong, and restore the latest backup."


@dataclass(frozen=True, slots=True)
class ItemMonth:
    """One item's month as the book keeps it; amounts in minor units of the book's currency.

    ``opening_amount`` and ``closing_amount`` are what was on hand and under way at the end of the
    day before and of the last day; ``under_way_amount`` the part of the closing amount that is
    under way. ``amounts`` are the totals by account, what comes into an account positive.
    ``used_in_jobs`` is what jobs took of the item: the part of 'work in process' on lines which
    use it, the rest being what jobs made of it. ``late_passed_on`` is what of late charges on the
    item went on, through jobs, into other items; it is negative for those that took it.
    """

    sku: str
    kind: str
    tax_class: str
    opening_amount: int
    closing_amount: int
    under_way_amount: int
    amounts: Mapping[str, int]
    used_in_jobs: int = 0
    late_passed_on: int = 0


@dataclass(frozen=True, slots=True)
class CostOfGoodsSold:
    """Where the cost of goods sold went, in minor units; count_differences are losses less gains."""

    pieces_sold: int = 0
    used: int = 0
    samples: int = 0
    donations: int = 0
    spoilage: int = 0
    count_differences: int = 0
    write_downs: int = 0
    late_charges_on_used: int = 0
    supplies_when_bought: int = 0
    supplier_price_differences: int = 0

    @property
    def total(self) -> int:
        """All of it together."""
        return sum([getattr(self, name) for name in OF_WHICH_ACCOUNTS])


OF_WHICH_ACCOUNTS: Mapping[str, str] = {
    "pieces_sold": "pieces sold",
    "used": "used",
    "samples": "samples",
    "donations": "donations",
    "spoilage": "spoilage",
    "count_differences": "count differences",
    "write_downs": "write-downs",
    "late_charges_on_used": "late charges on used stock",
    "supplies_when_bought": "supplies",
    "supplier_price_differences": "supplier price differences",
}
"""Each line of the cost of goods sold and the account it is read from."""


@dataclass(frozen=True, slots=True)
class StatementLines:
    """The lines of a statement, for everything or for one kind or tax class; in minor units.

    Every line is positive in its usual direction. ``opening_stock`` counts opening events, which
    ``opening_entered`` tells apart; ``closing_stock`` counts what is under way. ``used_in_jobs`` and
    ``made_in_jobs`` move cost between kinds, late charges on it too, and are equal over all of them.
    """

    opening_stock: int = 0
    purchases: int = 0
    charges_in: int = 0
    labour: int = 0
    sent_back: int = 0
    own_use: int = 0
    samples: int = 0
    donations: int = 0
    used_in_jobs: int = 0
    made_in_jobs: int = 0
    closing_stock: int = 0
    under_way: int = 0
    supplies_on_hand: int = 0
    cost_of_goods_sold: int = 0
    of_which: CostOfGoodsSold = CostOfGoodsSold()
    opening_entered: int = 0

    @property
    def by_equation(self) -> int:
        """The cost of goods sold as what came in less what is left: the other way to the same sum."""
        came_in = self.opening_stock + self.purchases + self.charges_in + self.labour + self.made_in_jobs
        return came_in - self.used_in_jobs - self.sent_back - self.own_use - self.closing_stock


_AT_THE_END = ("closing_stock", "under_way", "supplies_on_hand")
_NOT_SUMMED = ("opening_stock", "of_which", *_AT_THE_END)
_FLOWS = tuple(each.name for each in fields(StatementLines) if each.name not in _NOT_SUMMED)


@dataclass(frozen=True, slots=True)
class GroupLines:
    """The lines of one kind, or of one tax class."""

    name: str
    lines: StatementLines


@dataclass(frozen=True, slots=True)
class MonthStatement:
    """What a month, or a span of months, comes to.

    ``by_kind`` and ``by_tax_class`` are sorted by name and hold what has any figure at all.
    """

    first_month: str
    last_month: str
    currency: str
    total: StatementLines
    by_kind: tuple[GroupLines, ...]
    by_tax_class: tuple[GroupLines, ...]

    def kind(self, name: str) -> StatementLines:
        """Return the lines of one kind, all zero where nothing is of it."""
        return _of_group(self.by_kind, name)

    def tax_class(self, name: str) -> StatementLines:
        """Return the lines of one tax class, all zero where nothing is of it."""
        return _of_group(self.by_tax_class, name)


def month_statement(month: str, currency: str, items: Iterable[ItemMonth]) -> MonthStatement:
    """Return the statement of one month.

    Args:
        month: YYYY-MM.
        currency: the book's, ISO 4217.
        items: every item with stock at the start or end of the month or a movement in it.

    Raises BookDamaged where an item or the month does not add up, or an account is not known.

    Source: our own rule, see the contributor guide, invariants 3 and 4.
    """
    sums: dict[tuple[str, str], _Sums] = {}
    for item in items:
        _check_item(month, item)
        group = (item.kind, tax_group(item.kind, item.tax_class))
        sums.setdefault(group, _Sums()).add(item)
    kinds: dict[str, list[StatementLines]] = {}
    classes: dict[str, list[StatementLines]] = {}
    for (kind, tax_class), each in sums.items():
        lines = _lines(each, is_supplies=tax_class == SUPPLIES_WHEN_USED)
        kinds.setdefault(kind, []).append(lines)
        classes.setdefault(tax_class, []).append(lines)
    total = _summed([lines for parts in kinds.values() for lines in parts])
    statement = MonthStatement(month, month, currency, total, _summed_groups(kinds), _summed_groups(classes))
    _check(statement)
    return statement


def span_statement(months: Sequence[MonthStatement]) -> MonthStatement:
    """Return one statement of months that follow each other, such as the tax year to date.

    Opening stock is the first month's, closing stock the last month's, all else is added up.

    Args:
        months: at least one statement, in order of time, without a gap.

    Raises BookDamaged where a month does not begin with what the month before ended with.
    """
    joined = months[0]
    for later in months[1:]:
        where = f"{joined.last_month} and {later.first_month}"
        joined = MonthStatement(
            joined.first_month,
            later.last_month,
            later.currency,
            _followed(joined.total, later.total, where),
            _groups_followed(joined.by_kind, later.by_kind, where),
            _groups_followed(joined.by_tax_class, later.by_tax_class, where),
        )
    _check(joined)
    return joined


def tax_group(kind: str, tax_class: str) -> str:
    """Return the class an item is reported in: goods, supplies when used, or supplies when bought.

    What jobs make is goods. A customer's own goods have no cost, and so change no class.
    """
    if kind == FINISHED or tax_class not in (SUPPLIES_WHEN_USED, SUPPLIES_WHEN_BOUGHT):
        return GOODS
    return tax_class


@dataclass(slots=True)
class _Sums:
    """Items of one kind and class added up: a month has hundreds of items and a dozen of these."""

    opening_amount: int = 0
    closing_amount: int = 0
    under_way_amount: int = 0
    used_in_jobs: int = 0
    passed_out: int = 0
    passed_in: int = 0
    amounts: dict[str, int] = field(default_factory=dict)

    def add(self, item: ItemMonth) -> None:
        """Add an item's month."""
        self.opening_amount += item.opening_amount
        self.closing_amount += item.closing_amount
        self.under_way_amount += item.under_way_amount
        self.used_in_jobs += item.used_in_jobs
        self.passed_out += max(item.late_passed_on, 0)
        self.passed_in += max(-item.late_passed_on, 0)
        for account, amount in item.amounts.items():
            self.amounts[account] = self.amounts.get(account, 0) + amount


def _check_item(month: str, item: ItemMonth) -> None:
    """Raise BookDamaged where an account is not known, or the item's movements do not give its closing stock."""
    unknown = item.amounts.keys() - _ACCOUNTS
    if unknown:
        named = ", ".join(f"'{account}'" for account in sorted(unknown))
        raise BookDamaged(f"{item.sku} has amounts on {named} in {month}, which is no account. {_MEND}")
    held = sum([item.amounts.get(account, 0) for account in HELD_ACCOUNTS])
    closing = item.opening_amount - (sum(item.amounts.values()) - held) - item.late_passed_on
    if closing != item.closing_amount:
        raise BookDamaged(
            f"{item.sku} in {month}: opening stock and movements give {closing} (in minor units), but "
            f"{item.closing_amount} is kept as its closing stock. {_MEND}"
        )


def _lines(sums: _Sums, *, is_supplies: bool) -> StatementLines:
    """Return the lines of items added up; ``is_supplies`` for supplies that are deducted when used."""
    amount = defaultdict(int, sums.amounts)
    of_which = CostOfGoodsSold(**{line: amount[account] for line, account in OF_WHICH_ACCOUNTS.items()})
    opening_entered = -amount["opening balance"]
    return StatementLines(
        opening_stock=sums.opening_amount + opening_entered,
        purchases=-amount["purchases"],
        charges_in=-amount["charges"],
        labour=-amount["labour"],
        sent_back=amount["returned to supplier"],
        own_use=amount["own use"],
        samples=of_which.samples,
        donations=of_which.donations,
        used_in_jobs=sums.used_in_jobs + sums.passed_out,
        # Labour comes into the work in process on the product, so it is not in what jobs made.
        made_in_jobs=sums.used_in_jobs - amount[IN_PROCESS] + sums.passed_in,
        closing_stock=sums.closing_amount,
        under_way=sums.under_way_amount,
        supplies_on_hand=sums.closing_amount if is_supplies else 0,
        cost_of_goods_sold=of_which.total,
        of_which=of_which,
        opening_entered=opening_entered,
    )


def _check(statement: MonthStatement) -> None:
    """Raise BookDamaged where the statement does not add up, as a whole or in one of its parts."""
    span = statement.first_month
    if statement.last_month != span:
        span = f"{span} to {statement.last_month}"
    total = statement.total
    if total.used_in_jobs != total.made_in_jobs:
        raise BookDamaged(
            f"{span}: jobs took {total.used_in_jobs} and made {total.made_in_jobs} (in minor units), "
            f"which should be the same. {_MEND}"
        )
    _check_lines(total, span)
    for groups in (statement.by_kind, statement.by_tax_class):
        for group in groups:
            _check_lines(group.lines, f"{group.name} in {span}")
        if sum(group.lines.cost_of_goods_sold for group in groups) != total.cost_of_goods_sold:
            raise BookDamaged(f"{span}: the parts do not add up to the whole. {_MEND}")


def _check_lines(lines: StatementLines, where: str) -> None:
    """Raise BookDamaged where the two ways to the cost of goods sold do not meet."""
    if not lines.by_equation == lines.cost_of_goods_sold == lines.of_which.total:
        raise BookDamaged(
            f"{where}: what came in less what is left is {lines.by_equation} (in minor units), but the "
            f"accounts of the cost of goods sold add up to {lines.of_which.total}. {_MEND}"
        )


def _summed(parts: Sequence[StatementLines]) -> StatementLines:
    """Return lines of different items, of the same span, together."""
    names = ("opening_stock", *_FLOWS, *_AT_THE_END)
    sums = {name: sum([getattr(each, name) for each in parts]) for name in names}
    return StatementLines(**sums, of_which=_of_which_summed([each.of_which for each in parts]))


def _followed(earlier: StatementLines, later: StatementLines, where: str) -> StatementLines:
    """Return lines of the same items, of two spans that follow each other, as those of one span."""
    carried_over = later.opening_stock - later.opening_entered
    if carried_over != earlier.closing_stock:
        raise BookDamaged(
            f"between {where}: {earlier.closing_stock} (in minor units) was left, but {carried_over} was "
            f"there at the start. {_MEND}"
        )
    sums = {name: getattr(earlier, name) + getattr(later, name) for name in _FLOWS}
    return replace(
        later,
        opening_stock=earlier.opening_stock + later.opening_entered,
        of_which=_of_which_summed([earlier.of_which, later.of_which]),
        **sums,
    )


def _of_which_summed(parts: Sequence[CostOfGoodsSold]) -> CostOfGoodsSold:
    return CostOfGoodsSold(
        **{name: sum([getattr(each, name) for each in parts]) for name in OF_WHICH_ACCOUNTS}
    )


def _summed_groups(parts_of: Mapping[str, Sequence[StatementLines]]) -> tuple[GroupLines, ...]:
    return _groups({name: _summed(parts) for name, parts in parts_of.items()})


def _groups(lines_of: Mapping[str, StatementLines]) -> tuple[GroupLines, ...]:
    return tuple(
        GroupLines(name, lines) for name, lines in sorted(lines_of.items()) if lines != StatementLines()
    )


def _groups_followed(
    earlier: Iterable[GroupLines], later: Iterable[GroupLines], where: str
) -> tuple[GroupLines, ...]:
    before = {group.name: group.lines for group in earlier}
    after = {group.name: group.lines for group in later}
    nothing = StatementLines()
    return _groups(
        {
            name: _followed(before.get(name, nothing), after.get(name, nothing), f"{where}, {name}")
            for name in before.keys() | after.keys()
        }
    )


def _of_group(groups: Iterable[GroupLines], name: str) -> StatementLines:
    return next((group.lines for group in groups if group.name == name), StatementLines())
