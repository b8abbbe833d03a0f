"""What must hold in every book: pure checks over facts and legs, each giving what it found wrong.

`blankbook prove` runs them over a whole book. Every check goes through its input once, or sorts
it once, so the time it takes grows with the number of legs. The numbers of the invariants are
those of the contributor guide.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ledger.costing.facts import Leg
from ledger.costing.findings import HELD_ACCOUNTS, PARTS_OF_A_SHARE, Finding, Sum, place, units
from ledger.costing.lot_checks import lot_findings, negative_stock_findings
from ledger.exact.quantity import show_quantity

__all__ = [
    "COST_OF_GOODS_SOLD_ACCOUNTS",
    "MADE_IN_JOBS",
    "MOST_DIFFERENCES",
    "OTHER_ACCOUNTS",
    "PASSED_ON",
    "STOCK_ACCOUNTS",
    "USED_IN_JOBS",
    "Finding",
    "Movement",
    "RollForward",
    "cost_of_goods_sold_findings",
    "document_findings",
    "engine_findings",
    "lot_findings",
    "negative_stock_findings",
    "roll_forward",
    "roll_forward_findings",
    "rows_by_group",
    "total_row",
]

MOST_DIFFERENCES = 20
"""How many differences between two engines are told one by one before they are only counted."""

IN_PROCESS = "work in process"

STOCK_ACCOUNTS = (*HELD_ACCOUNTS, IN_PROCESS)
"""The accounts that hold what the shop owns."""

COST_OF_GOODS_SOLD_ACCOUNTS = (
    "pieces sold",
    "used",
    "supplies",
    "spoilage",
    "count differences",
    "samples",
    "donations",
    "write-downs",
    "supplier price differences",
    "late charges on used stock",
)
"""The accounts whose balances add up to the cost of goods sold."""

OTHER_ACCOUNTS = (
    "opening balance",
    "purchases",
    "charges",
    "labour",
    "made",
    "returned to supplier",
    "own use",
)
"""The accounts that stand on the other side of that equation: what came in, and what left unsold.

'made' takes quantities only: what a job made costs what was in process.
"""

USED_IN_JOBS = "used in jobs"
MADE_IN_JOBS = "made in jobs"
"""The rows of a roll-forward for what jobs took and made; over all SKUs their amounts cancel out."""

PASSED_ON = "late charges passed on"
"""The row for what late charges on one SKU brought to what was made of it; over all SKUs it cancels out."""


@dataclass(frozen=True, slots=True)
class Movement:
    """What one account gave to stock (positive) or took from it (negative) in a span of dates.

    ``account`` is 'used in jobs' or 'made in jobs' for what went through work in process, and 'late
    charges passed on' for what late charges brought from one SKU to another.
    """

    account: str
    quantity_milli: int
    amount: int


@dataclass(frozen=True, slots=True)
class RollForward:
    """Stock at the start of a span of dates, what moved by account, and stock at its end.

    Stock is what is on hand and under way. ``name`` is the SKU, or the group the row sums up.
    ``closing_…`` is opening plus movements: it is not read off the legs of stock, which
    `roll_forward_findings` does to check it.
    """

    name: str
    opening_quantity_milli: int
    opening_amount: int
    movements: tuple[Movement, ...]
    closing_quantity_milli: int
    closing_amount: int


def document_findings(legs: Iterable[Leg]) -> list[Finding]:
    """Return a finding of invariant 1 for each document that does not balance.

    A document's amounts add up to zero, and so do its quantities of each SKU; what went into
    work in process came out of it.
    """
    amounts: dict[int, int] = defaultdict(int)
    in_process: dict[int, int] = defaultdict(int)
    quantities: dict[tuple[int, str], int] = defaultdict(int)
    for leg in legs:
        amounts[leg.document] += leg.amount
        quantities[leg.document, leg.sku] += leg.quantity_milli
        if leg.account == IN_PROCESS:
            in_process[leg.document] += leg.amount
    findings = [
        Finding(1, f"amounts add up to {units(amount)}, not to zero", f"document {document}")
        for document, amount in sorted(amounts.items())
        if amount != 0
    ]
    findings += [
        Finding(
            1, f"quantities of {sku} add up to {show_quantity(milli)}, not to zero", f"document {document}"
        )
        for (document, sku), milli in sorted(quantities.items())
        if milli != 0
    ]
    findings += [
        Finding(1, f"{units(amount)} stayed in work in process", f"document {document}")
        for document, amount in sorted(in_process.items())
        if amount != 0
    ]
    return findings


def roll_forward(legs: Iterable[Leg], from_date: str, to_date: str) -> list[RollForward]:
    """Return, per SKU, stock at the start, what moved by account, and stock at the end.

    Stock is what is on hand and under way, so an arrival moves nothing but what was lost. Movements
    are read off the legs outside stock, closing is opening plus movements. SKUs that
    first move after ``to_date`` have no row; movements that add up to nothing are left out. What
    a job took is 'used in jobs'; what it made is 'made in jobs', less what was paid for work on
    it, which is 'labour'. What a late charge brings to another SKU is 'late charges passed on' of both.

    Args:
        legs: all the legs of the book, also those before the span.
        from_date: the first day of the span, ISO 8601.
        to_date: the last day of the span, ISO 8601, in it.
    """
    listed = list(legs)
    in_process_lines = {(leg.document, leg.line) for leg in listed if leg.account == IN_PROCESS}
    using_lines = {(leg.document, leg.line) for leg in listed if leg.account == "used"}
    used_in_jobs = in_process_lines & using_lines
    charged_sku = _skus_charged_late(listed)
    opening: dict[str, Sum] = defaultdict(Sum)
    moved: dict[str, dict[str, Sum]] = defaultdict(lambda: defaultdict(Sum))
    for leg in listed:
        if leg.effect_date > to_date:
            continue
        charged = charged_sku.get((leg.document, leg.line, leg.part // PARTS_OF_A_SHARE), leg.sku)
        if charged != leg.sku and leg.effect_date >= from_date:
            moved[leg.sku][PASSED_ON].add(0, leg.amount)
            moved[charged][PASSED_ON].add(0, -leg.amount)
        opening_sum = opening[leg.sku]
        if leg.effect_date < from_date:
            if leg.account in HELD_ACCOUNTS:
                opening_sum.add(leg.quantity_milli, leg.amount)
        elif leg.account not in HELD_ACCOUNTS:
            row = leg.account
            if (leg.document, leg.line) in used_in_jobs:
                row = USED_IN_JOBS
            elif leg.account in {"made", IN_PROCESS}:
                row = MADE_IN_JOBS
            moved[leg.sku][row].add(-leg.quantity_milli, -leg.amount)
    return _rows(opening, moved)


def _skus_charged_late(legs: Iterable[Leg]) -> dict[tuple[int, int, int], str]:
    """Return the SKU that each late share of a charge is of, which is that of its first leg."""
    return {
        (leg.document, leg.line, leg.part // PARTS_OF_A_SHARE): leg.sku
        for leg in legs
        if leg.part > PARTS_OF_A_SHARE and leg.part % PARTS_OF_A_SHARE == 1
    }


def rows_by_group(rows: Iterable[RollForward], group_of: Mapping[str, str]) -> list[RollForward]:
    """Return the rows summed up by the group each name belongs to.

    Args:
        rows: rows of `roll_forward`.
        group_of: the group of each name, such as the kind of each SKU.
    """
    opening: dict[str, Sum] = defaultdict(Sum)
    moved: dict[str, dict[str, Sum]] = defaultdict(lambda: defaultdict(Sum))
    for row in rows:
        group = group_of[row.name]
        opening[group].add(row.opening_quantity_milli, row.opening_amount)
        for movement in row.movements:
            moved[group][movement.account].add(movement.quantity_milli, movement.amount)
    return _rows(opening, moved)


def total_row(rows: Iterable[RollForward]) -> RollForward:
    """Return one row named 'total' that sums up the rows; all zero where there are none."""
    listed = list(rows)
    summed = rows_by_group(listed, {row.name: "total" for row in listed})
    return summed[0] if summed else RollForward("total", 0, 0, (), 0, 0)


def _rows(opening: Mapping[str, Sum], moved: Mapping[str, Mapping[str, Sum]]) -> list[RollForward]:
    """Return a row for each name with an opening, its closing worked out from opening and movements."""
    rows = []
    for name, start in sorted(opening.items()):
        movements = tuple(
            Movement(account, each.quantity_milli, each.amount)
            for account, each in sorted(moved.get(name, {}).items())
            if each.quantity_milli or each.amount
        )
        closing_quantity_milli = start.quantity_milli + sum(each.quantity_milli for each in movements)
        closing_amount = start.amount + sum(each.amount for each in movements)
        row = RollForward(
            name, start.quantity_milli, start.amount, movements, closing_quantity_milli, closing_amount
        )
        rows.append(row)
    return rows


def roll_forward_findings(legs: Iterable[Leg], from_date: str, to_date: str) -> list[Finding]:
    """Return the findings of invariant 3: rows whose closing is not what the legs of stock add up to.

    Args:
        legs: all the legs of the book.
        from_date: the first day of the span, ISO 8601.
        to_date: the last day of the span, ISO 8601, in it.
    """
    listed = list(legs)
    in_stock: dict[str, Sum] = defaultdict(Sum)
    for leg in listed:
        if leg.account in HELD_ACCOUNTS and leg.effect_date <= to_date:
            in_stock[leg.sku].add(leg.quantity_milli, leg.amount)
    findings = []
    for row in roll_forward(listed, from_date, to_date):
        held = in_stock[row.name]
        where = f"{row.name} from {from_date} to {to_date}"
        if row.closing_quantity_milli != held.quantity_milli:
            what = (
                f"opening and movements give {show_quantity(row.closing_quantity_milli)}, "
                f"but {show_quantity(held.quantity_milli)} in stock"
            )
            findings.append(Finding(3, what, where))
        if row.closing_amount != held.amount:
            what = (
                f"opening and movements give {units(row.closing_amount)}, but {units(held.amount)} in stock"
            )
            findings.append(Finding(3, what, where))
    return findings


def cost_of_goods_sold_findings(legs: Iterable[Leg], from_date: str, to_date: str) -> list[Finding]:
    """Return the findings of invariant 4: the two ways to the cost of goods sold do not meet.

    Opening stock, opening events, purchases, charges and labour, less what was sent back, own use
    and closing stock, is what the accounts of the cost of goods sold add up to.

    Args:
        legs: all the legs of the book.
        from_date: the first day of the span, ISO 8601.
        to_date: the last day of the span, ISO 8601, in it.
    """
    came_in = opening_stock = closing_stock = accounts_amount = 0
    unknown: Counter[str] = Counter()
    for leg in legs:
        if leg.effect_date > to_date:
            continue
        if leg.account in STOCK_ACCOUNTS:
            closing_stock += leg.amount
            opening_stock += leg.amount if leg.effect_date < from_date else 0
        elif leg.account not in COST_OF_GOODS_SOLD_ACCOUNTS and leg.account not in OTHER_ACCOUNTS:
            unknown[leg.account] += 1
        elif leg.effect_date >= from_date:
            if leg.account in OTHER_ACCOUNTS:
                came_in -= leg.amount
            else:
                accounts_amount += leg.amount
    findings = [
        Finding(4, f"movements on an account that is not known: {count}", f"account '{account}'")
        for account, count in sorted(unknown.items())
    ]
    equation_amount = opening_stock + came_in - closing_stock
    if equation_amount != accounts_amount:
        what = (
            f"opening + came in - closing is {units(equation_amount)}, "
            f"but the accounts of the cost of goods sold add up to {units(accounts_amount)}"
        )
        findings.append(Finding(4, what, f"from {from_date} to {to_date}"))
    return findings


def engine_findings(book_legs: Iterable[Leg], plain_legs: Iterable[Leg]) -> list[Finding]:
    """Return the findings of invariant 7: where the book's legs and the plain engine's differ.

    The first twenty are told one by one, in order of document, line and part; one more finding
    counts the rest. The order of the legs in the two lists does not matter.

    Args:
        book_legs: the legs of the book, as the fast engine made them.
        plain_legs: the legs the plain engine makes of the same facts.
    """
    book = sorted(book_legs, key=_leg_number)
    plain = sorted(plain_legs, key=_leg_number)
    findings: list[Finding] = []
    differences = book_at = plain_at = 0
    while book_at < len(book) or plain_at < len(plain):
        book_leg = book[book_at] if book_at < len(book) else None
        plain_leg = plain[plain_at] if plain_at < len(plain) else None
        if book_leg is not None and plain_leg is not None and _leg_number(book_leg) != _leg_number(plain_leg):
            # Only the one that comes first is looked at; the other list has no such leg.
            if _leg_number(book_leg) < _leg_number(plain_leg):
                plain_leg = None
            else:
                book_leg = None
        book_at += book_leg is not None
        plain_at += plain_leg is not None
        if book_leg != plain_leg:
            differences += 1
            if differences <= MOST_DIFFERENCES:
                findings.append(_difference(book_leg, plain_leg))
    if differences > MOST_DIFFERENCES:
        what = f"{differences - MOST_DIFFERENCES} more movements differ between the two engines"
        findings.append(Finding(7, what, "the whole book"))
    return findings


def _difference(book_leg: Leg | None, plain_leg: Leg | None) -> Finding:
    """Return the finding that tells how two legs of the same number differ, or which one is missing."""
    if plain_leg is None:
        assert book_leg is not None
        return Finding(7, f"only the book has this movement: {_told(book_leg)}", place(book_leg))
    if book_leg is None:
        return Finding(7, f"only the second engine has this movement: {_told(plain_leg)}", place(plain_leg))
    what = f"the book has {_told(book_leg)}; the second engine has {_told(plain_leg)}"
    return Finding(7, what, place(book_leg))


def _leg_number(leg: Leg) -> tuple[int, int, int]:
    """Return the number that a leg has in the book."""
    return leg.document, leg.line, leg.part


def _told(leg: Leg) -> str:
    """Return a leg in words."""
    lot = "no lot" if leg.lot_document is None else f"lot {leg.lot_document}.{leg.lot_line}"
    return (
        f"{leg.account}, {leg.sku}, {lot}, quantity {show_quantity(leg.quantity_milli)}, "
        f"amount {units(leg.amount)} on {leg.effect_date}"
    )
