"""The comparison of landed prices as scripts take it."""

from __future__ import annotations

from typing import Any

from ledger.exact.money import show_money
from ledger.exact.numbers import show_fraction
from ledger.exact.rounding import round_fraction
from ledger.sourcing.comparison import Contender, waterfall
from ledger.views.lead_words import days_data
from ledger.views.price_ranking import why_text
from ledger.views.price_report import PriceReport, by_size, days_of, days_told, script_cost
from ledger.views.prices import cautions


def report_as_data(report: PriceReport) -> dict[str, Any]:
    """Return the report as scripts take it."""
    goods = report.comparison.market.goods
    return {
        "what": goods.label,
        "skus": list(goods.skus),
        "unit": report.unit,
        "quantity": show_fraction(report.comparison.wanted, 3),
        "quantity_from": report.wanted_from,
        "currency": report.currency,
        "entry_date": report.entry.isoformat() if report.entry else None,
        "contenders": [_contender_data(each, report) for each in report.comparison.contenders],
        "why": why_text(report),
        "whole_packs": [
            {
                "pack": each.pack,
                "packs": each.packs,
                "quantity": show_fraction(each.quantity, 3),
                "total": show_money(each.total_minor, report.currency),
                "landed_per_unit": script_cost(each.unit_cost_minor, report.currency),
            }
            for each in report.rounded
        ],
        "left_out": [{"name": each.name, "reason": each.reason} for each in report.comparison.left_out],
        "rates": {
            code: {"rate": show_fraction(rate.rate, 10), "source": rate.source}
            for code, rate in report.rates.items()
        },
        "caution": cautions(report) or None,
    }


def _entry_date(each: Contender, report: PriceReport) -> str | None:
    """Return the day of entry that duty and fees are reckoned for; None within one country."""
    if each.estimate is None or not each.estimate.customs_value_minor:
        return None
    return report.comparison.market.entries[each.name].on.isoformat()


def _contender_data(each: Contender, report: PriceReport) -> dict[str, Any]:
    currency = report.currency
    estimate, quote, buying, told = each.estimate, each.quote, each.buying, days_told(each, report)
    return {
        "name": each.name,
        "kind": each.what,
        "standing": each.standing if quote else None,
        "not_quoted": list(quote.unquoted) if quote else [],
        "sizes_missing": list(each.missing),
        "by_size": by_size(each),
        "entry_date": _entry_date(each, report),
        "date": each.date or None,
        "document": each.document,
        "quantity": show_fraction(each.quantity, 3),
        "price_per_unit": script_cost(each.price_minor, currency),
        "landed_per_unit": script_cost(each.unit_cost_minor, currency),
        "total": show_money(each.total_minor, currency),
        "good_quantity": show_fraction(each.good_quantity, 3),
        "total_for_wanted": show_money(round_fraction(each.cost_of(report.comparison.wanted)), currency),
        "terms": quote.terms if quote else None,
        "lead_time_days": days_data(days_of(each, report)),
        "lead_time_from": told.source if told and told.words else None,
        "own_lead_times_days": [*quote.lead_time.samples, *quote.lead_time.too_few] if quote else [],
        "origin": quote.origin if quote else None,
        "more_than_wanted": buying.extra if buying else None,
        "parts": [
            {"name": part.name, "amount": show_money(part.amount_minor, currency), "how": part.how}
            for part in (estimate.parts if estimate else ())
        ],
        "steps": [
            {"name": step.name, "amount": script_cost(step.amount_minor, currency)}
            for step in (waterfall(quote, estimate) if quote and estimate else ())
        ],
        "duties": [
            {
                "customs_class": line.customs_class,
                "origin": line.origin,
                "program": line.program,
                "rate_percent": show_fraction(line.rate * 100),
                "value": show_money(line.value_minor, currency),
                "amount": show_money(line.amount_minor, currency),
            }
            for line in (estimate.duties if estimate else ())
        ],
        "formal_entry": estimate.is_formal if estimate else None,
        "better_buys": [
            {
                "wanted_from": better.wanted_from,
                "buy": better.quantity,
                "total": show_money(better.total_minor, currency),
            }
            for better in report.better.get(each.name, ())
        ],
        "curve": [
            {
                "quantity": point.quantity,
                "landed_per_unit": script_cost(point.unit_cost_minor, currency),
                "total": show_money(point.estimate.total_minor, currency),
                "what": point.what,
            }
            for point in report.curves.get(each.name, ())
        ],
        "remarks": list(each.remarks),
    }
