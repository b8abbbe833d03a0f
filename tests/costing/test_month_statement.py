"""Month statements: the worked month's figures, the identity for any month, spans, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from month_items import CLEANER, FIN, PAPER, TEE, VIN, WORKED_MONTH, months

from ledger.costing.month_statement import (
    CostOfGoodsSold,
    ItemMonth,
    StatementLines,
    month_statement,
    span_statement,
)
from ledger.errors import BookDamaged

MARCH = month_statement("2026-03", "USD", WORKED_MONTH)


def next_month(month: str, items: tuple[ItemMonth, ...]) -> tuple[ItemMonth, ...]:
    """The month after, in which nothing happens."""
    del month
    return tuple(
        replace(item, opening_amount=item.closing_amount, amounts={}, used_in_jobs=0, late_passed_on=0)
        for item in items
    )


def test_worked_month_in_all() -> None:
    """Every line of the worked month, a regression of our own example."""
    assert MARCH.total == StatementLines(
        opening_stock=19500,
        purchases=32200,
        charges_in=5220,
        labour=1986,
        sent_back=0,
        own_use=320,
        samples=520,
        donations=0,
        used_in_jobs=23714,
        made_in_jobs=23714,
        closing_stock=31724,
        under_way=0,
        supplies_on_hand=1267,
        cost_of_goods_sold=26862,
        of_which=CostOfGoodsSold(
            pieces_sold=22180,
            samples=520,
            spoilage=500,
            count_differences=682,
            late_charges_on_used=1000,
            supplies_when_bought=1980,
        ),
    )


def test_worked_month_by_kind() -> None:
    """Shirts, vinyl, paper, cleaner and finished shirts each add up on their own."""
    assert [group.name for group in MARCH.by_kind] == ["blank", "chemical", "finished", "paper", "vinyl"]
    blank, finished = MARCH.kind("blank"), MARCH.kind("finished")
    assert (blank.opening_stock, blank.purchases, blank.charges_in) == (12000, 25600, 4560)
    assert (blank.used_in_jobs, blank.own_use, blank.closing_stock) == (17795, 320, 22363)
    assert (finished.labour, finished.made_in_jobs, finished.closing_stock) == (1986, 23714, 7500)
    assert finished.cost_of_goods_sold == 22180 + 520 + 500


def test_worked_month_by_tax_class() -> None:
    """Goods, supplies when used and supplies when bought."""
    assert MARCH.tax_class("goods").purchases == 29200
    assert MARCH.tax_class("supplies when used").closing_stock == 1267
    assert MARCH.tax_class("supplies when bought").cost_of_goods_sold == 1980


def test_what_has_no_figure_has_no_lines() -> None:
    """A kind nobody has is all zero, not an error."""
    assert MARCH.kind("stones") == StatementLines()


@given(months())
def test_the_two_ways_to_the_cost_of_goods_sold_meet(items: tuple[ItemMonth, ...]) -> None:
    """Opening and what came in, less what went otherwise and closing, is the sum of the accounts."""
    total = month_statement("2026-03", "USD", items).total
    came_in = total.opening_stock + total.purchases + total.charges_in + total.labour
    by_equation = came_in - total.sent_back - total.own_use - total.closing_stock
    assert by_equation == total.cost_of_goods_sold == total.of_which.total


@given(months())
def test_kinds_and_classes_add_up_to_the_whole(items: tuple[ItemMonth, ...]) -> None:
    """Line by line, whatever the kinds are."""
    statement = month_statement("2026-03", "USD", items)
    for groups in (statement.by_kind, statement.by_tax_class):
        for name in ("opening_stock", "purchases", "used_in_jobs", "closing_stock", "cost_of_goods_sold"):
            whole = getattr(statement.total, name)
            assert sum(getattr(group.lines, name) for group in groups) == whole


@given(months())
def test_a_quiet_month_after_changes_nothing_but_the_span(items: tuple[ItemMonth, ...]) -> None:
    """A span takes opening from its first month, closing from its last, and adds up the rest."""
    first = month_statement("2026-03", "USD", items)
    quiet = month_statement("2026-04", "USD", next_month("2026-04", items))
    span = span_statement([first, quiet])
    assert (span.first_month, span.last_month, span.total) == ("2026-03", "2026-04", first.total)
    assert (span.by_kind, span.by_tax_class) == (first.by_kind, first.by_tax_class)


def test_a_span_adds_up_two_months() -> None:
    """Twice the worked month, the second from the first's closing stock."""
    april = month_statement(
        "2026-04",
        "USD",
        [
            replace(
                item,
                opening_amount=item.closing_amount,
                closing_amount=2 * item.closing_amount - item.opening_amount,
            )
            for item in WORKED_MONTH
        ],
    )
    span = span_statement([MARCH, april]).total
    assert (span.opening_stock, span.purchases, span.cost_of_goods_sold) == (19500, 64400, 53724)
    assert span.closing_stock == 31724 + 31724 - 19500


def test_opening_events_are_opening_stock() -> None:
    """What the shop had on its first day stands in line one, and is told apart."""
    item = ItemMonth("TEE", "blank", "goods", 0, 12000, 0, {"opening balance": -12000, "on hand": 12000})
    total = month_statement("2026-01", "USD", [item]).total
    assert (total.opening_stock, total.opening_entered, total.closing_stock) == (12000, 12000, 12000)


def test_closing_stock_counts_what_is_under_way() -> None:
    """Goods on the water are the shop's, and told apart."""
    item = ItemMonth("TEE", "blank", "goods", 0, 9000, 9000, {"purchases": -9000, "under way": 9000})
    total = month_statement("2026-01", "USD", [item]).total
    assert (total.closing_stock, total.under_way, total.cost_of_goods_sold) == (9000, 9000, 0)


@pytest.mark.parametrize("by", [1, -1])
def test_an_item_that_does_not_add_up_is_named(by: int) -> None:
    """A cent too much or too little in its closing balance is never reported as cost of goods sold."""
    broken = replace(VIN, closing_amount=VIN.closing_amount + by)
    with pytest.raises(BookDamaged, match="VIN in 2026-03"):
        month_statement("2026-03", "USD", [TEE, broken, PAPER, CLEANER, FIN])


def test_jobs_that_make_something_of_nothing_are_found() -> None:
    """What jobs took must be what they made: here a finished shirt's materials are left out."""
    with pytest.raises(BookDamaged, match="jobs took"):
        month_statement("2026-03", "USD", [TEE, VIN, CLEANER, FIN])


def test_an_unknown_account_is_named() -> None:
    """A book of another make is not half reported."""
    broken = replace(CLEANER, amounts={**CLEANER.amounts, "petty cash": 0})
    with pytest.raises(BookDamaged, match="petty cash"):
        month_statement("2026-03", "USD", [broken])


def test_a_span_with_a_gap_is_refused() -> None:
    """The second month must begin with what the first ended with."""
    with pytest.raises(BookDamaged, match="between 2026-03 and 2026-05"):
        span_statement([MARCH, month_statement("2026-05", "USD", WORKED_MONTH)])
