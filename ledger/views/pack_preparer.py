"""The pack's lists for whoever prepares the return: gifts, what came in untaxed, late bills, write-downs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ledger.book.month_tables import KnownItem
from ledger.book.preparer_lists import (
    GivenAway,
    LateBill,
    WriteDownCandidate,
    donation_words,
    write_down_words,
)
from ledger.book.untaxed_use import UntaxedUse
from ledger.views.pack import Adds, Column, Kind, Table

MONEY, QUANTITY, DATE = Kind.MONEY, Kind.QUANTITY, Kind.DATE


def given_away(rows: Sequence[GivenAway], names: Mapping[int, str], country: str) -> Table:
    """Return what the owner took and what was given away, with the parts that did not come in this tax year.

    ``names`` are the documents as people write them, by number.
    """
    columns = (
        Column("date", "date", DATE),
        Column("document", "document"),
        Column("what", "what"),
        Column("sku", "SKU"),
        Column("name", "name"),
        Column("unit", "unit"),
        Column("quantity", "quantity", QUANTITY),
        Column("amount", "cost", MONEY, is_summed=True),
        Column("from_last_year", "of it from before this tax year", MONEY, is_summed=True),
        Column("from_opening", "of it entered as opening stock", MONEY, is_summed=True, is_optional=True),
        Column("party", "to whom", is_optional=True),
        Column("note", "note", is_optional=True),
    )
    listed = [
        (
            *(row.effect_date, names[row.document], row.account, row.sku, row.name, row.base_unit),
            *(row.quantity_milli, row.amount, row.from_last_year, row.from_opening, row.party, row.note),
        )
        for row in rows
    ]
    note = f"At cost. {donation_words(country) or 'For your preparer.'}"
    if any(row.from_opening for row in rows):
        note += " When stock came in that was entered as opening stock within the tax year, the book does not know."
    return Table("given_away", "Own use and gifts", note, columns, listed, keys=2)


def bought_without_tax(
    rows: Iterable[UntaxedUse], names: Mapping[int, str], items: Mapping[str, KnownItem]
) -> Table:
    """Return what came in without sales tax and was used, given away or lost; what was lost stands apart."""
    columns = (
        Column("date", "date", DATE),
        Column("document", "document"),
        Column("what", "what"),
        Column("sku", "SKU"),
        Column("name", "name"),
        Column("in_sku", "part of", is_optional=True),
        Column("lot", "lot"),
        Column("sales_tax", "came in"),
        Column("unit", "unit"),
        Column("quantity", "quantity", QUANTITY),
        Column("used", "cost, used or given away", MONEY, is_summed=True),
        Column("lost", "cost, lost", MONEY, is_summed=True),
    )
    listed = [
        (
            *(row.effect_date, names[row.document], row.how, row.sku, items[row.sku].name, row.in_sku),
            *(f"{row.lot_document}.{row.lot_line}", _CAME_IN[row.tax_paid], items[row.sku].base_unit),
            *(row.quantity_milli, 0 if row.is_loss else row.amount, row.amount if row.is_loss else 0),
        )
        for row in rows
    ]
    note = (
        "Materials at cost, without the labour in them. No tax is worked out: whether any is due on which of them, "
        "and on what was lost, is for your state or country and your preparer."
    )
    return Table("bought_without_tax", "Used without sales tax", note, columns, listed, keys=2)


_CAME_IN = {"resale": "for resale", "none": "no sales tax"}


def late_bills(rows: Iterable[LateBill], names: Mapping[int, str]) -> Table:
    """Return the bills that came after their goods' month was closed, and where each went."""
    columns = (
        Column("date", "effect", DATE),
        Column("document", "document"),
        Column("party", "from"),
        Column("reference", "reference"),
        Column("receipts", "on receipts"),
        Column("on_stock", "to stock", MONEY, is_summed=True),
        Column("used_up", "to what was used up", MONEY, is_summed=True),
        Column("own_use", "to own use", MONEY, is_summed=True),
        Column("amount", "bill", MONEY, is_summed=True, formula=Adds(("on_stock", "used_up", "own_use"))),
        Column("for_last_year", "goods of last tax year"),
    )
    listed = [
        (
            *(
                row.effect_date,
                names[row.document],
                row.party,
                row.reference,
                ", ".join(map(str, row.receipts)),
            ),
            *(row.on_stock, row.used_up, row.own_use, row.amount, "yes" if row.for_last_year else "no"),
        )
        for row in rows
    ]
    note = "Bills on goods of months closed before. Where the goods came in last year, ask your preparer."
    return Table("late_bills", "Late bills", note, columns, listed, keys=2)


def write_downs(rows: Iterable[WriteDownCandidate], country: str) -> Table:
    """Return stock that may be worth less than it cost."""
    columns = (
        Column("sku", "SKU"),
        Column("name", "name"),
        Column("unit", "unit"),
        Column("reason", "why"),
        Column("since", "since"),
        Column("quantity", "quantity", QUANTITY),
        Column("amount", "cost", MONEY),
        Column("net_price", "sells for, less fees", MONEY),
        Column("loss", "less by", MONEY),
    )
    listed = [
        (
            *(row.sku, row.name, row.base_unit, row.reason, row.since),
            *(row.quantity_milli, row.amount, row.net_price, row.loss or None),
        )
        for row in rows
    ]
    note = f"Nothing is written down here. An item may stand here for several reasons. {write_down_words(country)}"
    return Table("write_downs_to_consider", "Write-downs to consider", note, columns, listed)
