"""The ties of a pack: every figure that can be reached by two ways, with both of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ledger.costing.month_statement import OF_WHICH_ACCOUNTS
from ledger.views.pack import Check, Kind, LastOf, Named, Ref, SumWhere, Table, Terms, TotalOf
from ledger.views.pack_stock import ALL_KINDS, BY_KIND, BY_SKU

NOT_SOLD_LINES: Mapping[str, str] = {
    "own_use": "own use",
    "sent_back": "returned to supplier",
    **{
        name: account
        for name, account in OF_WHICH_ACCOUNTS.items()
        if name not in {"pieces_sold", "count_differences"}
    },
}
"""The lines of the statement that the sheet of what was not sold shows document by document."""


def checks(tables: Mapping[str, Table], figures: Mapping[str, int]) -> Iterator[Check]:
    """Yield every tie of a pack; ``figures`` are the named figures of its forms.

    Args:
        tables: the tables by key.
        figures: what the named cells hold, in minor units.
    """
    yield from _statement(tables, figures)
    yield from _quantities(tables)
    yield from _documents(figures)
    yield from _journal(tables, tables[BY_SKU].total("closing_stock"))
    if "tax_line_42" in figures:
        both = Terms((Named("tax_line_42"), Named("given_away_elsewhere")))
        cost = figures["cost_of_goods_sold"]
        what = "line 42, with what is deducted elsewhere, and cost of goods sold"
        yield Check("tax_lines", what, both, Terms((Named("cost_of_goods_sold"),)), cost)


def _same(figures: Mapping[str, int], sheet: str, what: str, name: str, other: Ref) -> Check:
    """Return the check that a named figure is some other one."""
    return Check(sheet, what, Terms((Named(name),)), Terms((other,)), figures[name])


def _statement(tables: Mapping[str, Table], figures: Mapping[str, int]) -> Iterator[Check]:
    """Yield the ties of the statement and the tables of stock."""
    what = "cost of goods sold by what came in and by account"
    yield _same(figures, "summary", what, "cost_of_goods_sold", Named("cost_by_account"))
    if "year_cost_of_goods_sold" in figures:
        what, other = "the same for the year to date", Named("year_cost_by_account")
        yield _same(figures, "summary", what, "year_cost_of_goods_sold", other)
    closing = [Terms((TotalOf(table, "closing_stock"),)) for table in (BY_KIND, BY_SKU)]
    value = tables[BY_SKU].total("closing_stock")
    yield Check(BY_KIND, "closing stock by kind and by SKU", closing[0], closing[1], value)
    jobs = [Terms((TotalOf(BY_SKU, column),)) for column in ("used_in_jobs", "made_in_jobs")]
    value = tables[BY_SKU].total("used_in_jobs")
    yield Check(BY_SKU, "what jobs used and what they made", jobs[0], jobs[1], value)
    lots = TotalOf("lots", "value_on_hand")
    yield _same(figures, "lots", "closing stock and the lots", "closing_stock", lots)
    last = LastOf("stock_by_month", ALL_KINDS)
    what = "closing stock and the last month of the chart"
    yield _same(figures, "stock_by_month", what, "closing_stock", last)


_OF_DOCUMENTS = (
    ("purchases", "purchases and the receipts", "purchases", "amount"),
    ("charges", "charges and their bills", "charges_in", "amount"),
    ("jobs", "labour and the jobs", "labour", "labour"),
    ("sales", "pieces sold and the sales", "pieces_sold", "cost"),
    ("counts", "count differences and the counts", "count_differences", "amount"),
)
"""Table, words, the named figure, and the column that adds up to it."""


def _documents(figures: Mapping[str, int]) -> Iterator[Check]:
    """Yield the ties of the statement's lines with the documents behind them."""
    for table, what, name, column in _OF_DOCUMENTS:
        yield _same(figures, table, what, name, TotalOf(table, column))
    for name, account in NOT_SOLD_LINES.items():
        where = SumWhere("not_sold", "amount", "what", account)
        yield _same(figures, "not_sold", f"{account} and its documents", name, where)
    given = ("own_use", "samples", "donations")
    yield Check(
        "given_away",
        "own use, samples and donations, and their list",
        Terms(tuple(Named(name) for name in given)),
        Terms((TotalOf("given_away", "amount"),)),
        sum(figures[name] for name in given),
    )


def _quantities(tables: Mapping[str, Table]) -> Iterator[Check]:
    """Yield the ties of quantities; the sums run over all units, and mean nothing but that they agree."""
    quantity = tables["quantity_by_sku"].total("closing_stock")
    closing = Terms((TotalOf("quantity_by_sku", "closing_stock"),))
    lots = Terms((TotalOf("lots", "quantity_on_hand"),))
    what = "closing quantities and the lots, all units together"
    yield Check("quantity_by_sku", what, closing, lots, quantity, Kind.QUANTITY)


def _journal(tables: Mapping[str, Table], closing: int) -> Iterator[Check]:
    debit = TotalOf("journal", "debit")
    total = tables["journal"].total("debit")
    yield Check(
        "journal", "debits and credits", Terms((debit,)), Terms((TotalOf("journal", "credit"),)), total
    )
    held = ("on hand", "under way")
    debits = tuple(SumWhere("journal", "debit", "account", account) for account in held)
    credits_ = tuple(SumWhere("journal", "credit", "account", account) for account in held)
    what = "stock in the journal and closing stock"
    yield Check("journal", what, Terms(debits, credits_), Terms((Named("closing_stock"),)), closing)
