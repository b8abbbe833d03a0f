"""The ties of a pack: every figure that can be reached by two ways, with both of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ledger.costing.month_statement import OF_WHICH_ACCOUNTS
from ledger.views.pack import Check, Kind, LastOf, Named, Ref, SumWhere, Table, Terms, TotalOf, worth
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
    """Yield every tie of a pack with both its values, each worked out from its own cells.

    Args:
        tables: the tables by key.
        figures: what the named cells hold, in minor units.
    """
    ties = [*_statement(figures), *_quantities(), *_documents(), *_journal()]
    if "tax_line_42" in figures:
        what = "line 42, with what is deducted elsewhere, and cost of goods sold"
        both = (Named("tax_line_42"), Named("given_away_elsewhere"))
        ties.append(_Tie("tax_lines", what, Terms(both), Terms((Named("cost_of_goods_sold"),))))
    for tie in ties:
        one, other = worth(tie.one, tables, figures), worth(tie.other, tables, figures)
        yield Check(tie.sheet, tie.what, tie.one, tie.other, one, other, tie.kind)


@dataclass(frozen=True, slots=True)
class _Tie:
    """A check before its two ways are worked out."""

    sheet: str
    what: str
    one: Terms
    other: Terms
    kind: Kind = Kind.MONEY


def _same(sheet: str, what: str, one: Ref, other: Ref) -> _Tie:
    """Return the tie of a figure with some other one."""
    return _Tie(sheet, what, Terms((one,)), Terms((other,)))


def _statement(figures: Mapping[str, int]) -> Iterator[_Tie]:
    """Yield the ties of the statement and the tables of stock."""
    what = "cost of goods sold by what came in and by account"
    yield _same("summary", what, Named("cost_of_goods_sold"), Named("cost_by_account"))
    if "year_cost_of_goods_sold" in figures:
        one, other = Named("year_cost_of_goods_sold"), Named("year_cost_by_account")
        yield _same("summary", "the same for the year to date", one, other)
    by_kind, by_sku = (TotalOf(table, "closing_stock") for table in (BY_KIND, BY_SKU))
    yield _same(BY_KIND, "closing stock by kind and by SKU", by_kind, by_sku)
    used, made = (TotalOf(BY_SKU, column) for column in ("used_in_jobs", "made_in_jobs"))
    yield _same(BY_SKU, "what jobs used and what they made", used, made)
    closing = Named("closing_stock")
    yield _same("lots", "closing stock and the lots", closing, TotalOf("lots", "value_on_hand"))
    last = LastOf("stock_by_month", ALL_KINDS)
    yield _same("stock_by_month", "closing stock and the last month of the chart", closing, last)


_OF_DOCUMENTS = (
    ("purchases", "purchases and what was bought", "purchases", "amount"),
    ("charges", "charges and their bills", "charges_in", "amount"),
    ("jobs", "labour and the jobs", "labour", "labour"),
    ("sales", "pieces sold and the sales", "pieces_sold", "cost"),
    ("counts", "count differences and the counts", "count_differences", "amount"),
)
"""Table, words, the named figure, and the column that adds up to it."""


def _documents() -> Iterator[_Tie]:
    """Yield the ties of the statement's lines with the documents behind them."""
    for table, what, name, column in _OF_DOCUMENTS:
        yield _same(table, what, Named(name), TotalOf(table, column))
    for name, account in NOT_SOLD_LINES.items():
        where = SumWhere("not_sold", "amount", "what", account)
        yield _same("not_sold", f"{account} and its documents", Named(name), where)
    given = Terms(tuple(Named(name) for name in ("own_use", "samples", "donations")))
    what = "own use, samples and donations, and their list"
    yield _Tie("given_away", what, given, Terms((TotalOf("given_away", "amount"),)))


def _quantities() -> Iterator[_Tie]:
    """Yield the ties of quantities; the sums run over all units, and mean nothing but that they agree."""
    closing = Terms((TotalOf("quantity_by_sku", "closing_stock"),))
    lots = Terms((TotalOf("lots", "quantity_on_hand"),))
    what = "closing quantities and the lots, all units together"
    yield _Tie("quantity_by_sku", what, closing, lots, Kind.QUANTITY)


def _journal() -> Iterator[_Tie]:
    debit, credit = (TotalOf("journal", column) for column in ("debit", "credit"))
    yield _same("journal", "debits and credits", debit, credit)
    held = ("on hand", "under way")
    debits = tuple(SumWhere("journal", "debit", "account", account) for account in held)
    credits_ = tuple(SumWhere("journal", "credit", "account", account) for account in held)
    what = "stock in the journal and closing stock"
    yield _Tie("journal", what, Terms(debits, credits_), Terms((Named("closing_stock"),)))
