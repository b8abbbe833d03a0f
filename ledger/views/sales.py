"""What a sales export holds before it is posted: totals by design, what is set aside, what is skipped."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from ledger.exact.currencies import exponent
from ledger.exact.money import show_money
from ledger.exact.numbers import show_fraction
from ledger.exact.rounding import round_fraction
from ledger.intake.sales import DesignTotal, SalesDraft, set_aside_words, totals_by_design
from ledger.views import figures
from ledger.views.tables import Table, paragraphs

MOST_DESIGNS = 20
"""How many designs stand one by one; the others are added up in one row."""


def sales_text(draft: SalesDraft, book_currency: str) -> str:
    """Return what an export holds: a table by design for each currency, then what was set aside."""
    totals = totals_by_design(draft.rows, book_currency)
    currencies = dict.fromkeys(one.currency for one in totals)
    tables = [_table([one for one in totals if one.currency == each], each) for each in currencies]
    aside = []
    if draft.set_aside:
        count = len(draft.set_aside)
        aside = [f"Set aside as no goods, {count:,} {'row' if count == 1 else 'rows'}:"]
        aside += set_aside_words(draft.set_aside)
    return paragraphs([*tables, "\n".join(aside)])


def _table(totals: list[DesignTotal], currency: str) -> str:
    table = Table(
        [
            "design",
            ">pieces",
            f">items {currency}",
            ">shipping",
            ">fees",
            ">paid back",
            ">pieces back",
            ">in all",
        ]
    )
    shown = totals if len(totals) <= MOST_DESIGNS else totals[: MOST_DESIGNS - 1]
    for one in shown:
        table.add(one.design, *_figures(one))
    if len(shown) < len(totals):
        rest = totals[len(shown) :]
        table.add(f"{len(rest):,} others", *_figures(_sum(rest, currency)))
    table.total("total", *_figures(_sum(totals, currency)))
    return table.text()


def _sum(totals: list[DesignTotal], currency: str) -> DesignTotal:
    return DesignTotal(
        "total",
        currency,
        pieces=sum((one.pieces for one in totals), Fraction(0)),
        item_total=sum((one.item_total for one in totals), Fraction(0)),
        shipping=sum((one.shipping for one in totals), Fraction(0)),
        fees=sum((one.fees for one in totals), Fraction(0)),
        refunded=sum((one.refunded for one in totals), Fraction(0)),
        pieces_back=sum((one.pieces_back for one in totals), Fraction(0)),
    )


def _net(one: DesignTotal) -> Fraction:
    return one.item_total + one.shipping - one.fees - one.refunded


def _minor(value: Fraction, currency: str) -> int:
    return round_fraction(value * 10 ** exponent(currency))


def _figures(one: DesignTotal) -> list[str]:
    money = (one.item_total, one.shipping, one.fees, one.refunded)
    shown = [figures.money(_minor(value, one.currency), one.currency) for value in money]
    pieces, back = show_fraction(one.pieces), show_fraction(one.pieces_back)
    return [pieces, *shown, back, figures.money(_minor(_net(one), one.currency), one.currency)]


def sales_as_data(draft: SalesDraft, book_currency: str) -> dict[str, Any]:
    """Return what an export holds as data; ``in_all`` = items + shipping - fees - paid back."""
    totals = totals_by_design(draft.rows, book_currency)
    return {
        "party": draft.party,
        "rows_read": draft.rows_read,
        "rows_skipped": draft.rows_skipped,
        "set_aside": [{"where": one.where, "text": one.text, "rule": one.rule} for one in draft.set_aside],
        "designs": [_as_data(one) for one in totals],
        "totals": [
            _as_data(_sum([one for one in totals if one.currency == each], each))
            for each in dict.fromkeys(one.currency for one in totals)
        ],
    }


def _as_data(one: DesignTotal) -> dict[str, str]:
    def money(value: Fraction) -> str:
        return show_money(_minor(value, one.currency), one.currency)

    return {
        "design": one.design,
        "currency": one.currency,
        "pieces": show_fraction(one.pieces),
        "items": money(one.item_total),
        "shipping": money(one.shipping),
        "fees": money(one.fees),
        "paid_back": money(one.refunded),
        "pieces_back": show_fraction(one.pieces_back),
        "in_all": money(_net(one)),
    }
