"""What stands behind a month: its documents add up to every figure of its statement."""

from __future__ import annotations

from contextlib import closing

import pytest
from month_shop import MonthShop
from pack_shop import hard_shop, worked_shop

from ledger.book.connect import open_reading
from ledger.book.month_behind import FROM_ACCOUNTS, OF_ACCOUNTS, read_month_behind, source_documents
from ledger.book.month_report import read_statement
from ledger.book.shop import read_shop
from ledger.costing.month_statement import OF_WHICH_ACCOUNTS


@pytest.mark.parametrize(
    ("shop", "month"), [(worked_shop, "2026-03"), (hard_shop, "2026-01"), (hard_shop, "2026-02")]
)
def test_documents_add_up_to_every_figure(shop: object, month: str) -> None:
    """Purchases, charges, what was sent back, every line of where the cost went: to the cent."""
    made = shop()  # type: ignore[operator]
    assert isinstance(made, MonthShop)
    with closing(open_reading(made.book)) as connection:
        total = read_statement(connection, month).total
        documents = source_documents(connection, month)
    assert documents
    for figure in FROM_ACCOUNTS:
        own = sum(one.amount_minor for one in documents if one.figure == figure)
        assert (figure, own) == (
            figure,
            getattr(total.of_which if figure in OF_WHICH_ACCOUNTS else total, figure),
        )


def test_a_document_says_what_it_was() -> None:
    """The freight bill of the worked month: its number, day, kind and amount."""
    with closing(open_reading(worked_shop().book)) as connection:
        documents = source_documents(connection, "2026-03")
    charges = [one for one in documents if one.figure == "charges_in"]
    assert [(one.event, one.charge_kind, one.effect_date, one.amount_minor) for one in charges] == [
        ("charge", "freight", "2026-03-03", 2220),
        ("charge", "freight", "2026-03-10", 1000),
    ]


def test_documents_start_from_what_moved() -> None:
    """Legs are looked up by item and date: a month costs what it holds."""
    with closing(open_reading(worked_shop().book)) as connection:
        values = ("2026-03", "2026-03-01", "2026-03-31")
        plan = " ".join(
            str(row[3]) for row in connection.execute(f"EXPLAIN QUERY PLAN {OF_ACCOUNTS}", values)
        )
    assert "SEARCH l USING COVERING INDEX leg_sku (sku=? AND effect_date>? AND effect_date<?)" in plan
    assert "SCAN l" not in plan


def test_policies_and_stock_stand_beside_them() -> None:
    """As recorded at the start of the worked shop, and its stock up to the month."""
    with closing(open_reading(worked_shop().book)) as connection:
        behind = read_month_behind(connection, read_shop(connection), "2026-03")
        closing_stock = read_statement(connection, "2026-03").total.closing_stock
    assert (behind.policies["freight"], behind.policies["supplies"], behind.rates) == ("39", "outside", ())
    assert behind.by_month.months == ("2026-03",)
    assert behind.by_month.totals_minor == (closing_stock,)
