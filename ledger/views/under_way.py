"""What is under way, what is expected week by week, what waits to be paid, and how long orders took."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import Any

from ledger.book.under_way import STAGES, Expected, Payment, Took, UnderWay
from ledger.exact.money import show_money
from ledger.exact.quantity import show_quantity
from ledger.sourcing.past_lead_times import DaysSummary, summary
from ledger.views import figures
from ledger.views.orders import payments_text
from ledger.views.tables import Table, paragraphs

SPREAD_WORDS = "Spread is the standard deviation; a single order has none."


def under_way_text(rows: Sequence[UnderWay], currency: str, heading: str) -> str:
    """Return what is under way and the shop's, with its value."""
    if not rows:
        return "Nothing that is the shop's is under way."
    return paragraphs([heading, under_way_table(rows, currency).text()])


def under_way_table(rows: Sequence[UnderWay], currency: str) -> Table:
    """Return what is under way and the shop's as a table."""
    table = Table(
        [
            "SKU",
            "name",
            ">quantity",
            "unit",
            f">value {currency}",
            ">each",
            "order",
            "shipment",
            "party",
            "shipped",
            "expected",
            ">days late",
        ]
    )
    for row in rows:
        table.add(
            row.sku,
            row.name,
            figures.quantity(row.quantity_milli),
            row.base_unit,
            figures.money(row.value, currency),
            figures.per_unit(row.value, row.quantity_milli, currency),
            str(row.order),
            f"{row.shipment}.{row.line}",
            row.party,
            row.shipped_on,
            row.expected_on,
            str(row.days_late) if row.days_late else "",
        )
    whole = figures.money(sum(row.value for row in rows), currency)
    table.total("", "all under way", "", "", whole, "", "", "", "", "", "", "")
    return table


def under_way_as_data(rows: Sequence[UnderWay], currency: str) -> list[dict[str, Any]]:
    """Return what is under way as scripts take it."""
    return [
        {
            "sku": row.sku,
            "kind": row.kind,
            "unit": row.base_unit,
            "quantity": show_quantity(row.quantity_milli),
            "value": show_money(row.value, currency),
            "currency": currency,
            "order": row.order,
            "shipment": row.shipment,
            "party": row.party,
            "shipped_on": row.shipped_on,
            "expected_on": row.expected_on or None,
            "days_late": row.days_late,
        }
        for row in rows
    ]


def expected_text(rows: Sequence[Expected], today: datetime.date) -> str:
    """Return what is still to come, week by week; '' where nothing is."""
    if not rows:
        return ""
    return paragraphs(["Expected, by week:", expected_table(rows, today).text(), _late(rows)])


def expected_table(rows: Sequence[Expected], today: datetime.date) -> Table:
    """Return what is still to come as a table, the earliest week first."""
    this_week = (today - datetime.timedelta(days=today.weekday())).isoformat()
    table = Table(
        ["week of", "expected", "SKU", ">quantity", "unit", "order", "where it is", "party", ">days late"]
    )
    for row in rows:
        week = row.week or "not known"
        table.add(
            f"{week} (this one)" if row.week == this_week else week,
            row.expected_on,
            row.sku,
            figures.quantity(row.quantity_milli),
            row.base_unit,
            str(row.order),
            where_it_is(row),
            row.party,
            str(row.days_late) if row.days_late else "",
        )
    return table


def where_it_is(row: Expected) -> str:
    """Return where goods still to come are: not shipped, under way, under way at the supplier's risk."""
    if row.shipment is None:
        return "not shipped"
    return f"shipment {row.shipment}" + ("" if row.is_the_shops else ", not the shop's yet")


def _late(rows: Sequence[Expected]) -> str:
    late = [row for row in rows if row.days_late]
    if not late:
        return ""
    longest = max(late, key=lambda row: row.days_late)
    orders = ", ".join(map(str, sorted({row.order for row in late})))
    noun = "order" if len({row.order for row in late}) == 1 else "orders"
    return (
        f"Late: {noun} {orders}, the longest by {longest.days_late} days. Ask {longest.party or 'the supplier'}, "
        f"and tell the new day: blankbook order {longest.order} --expect DATE"
    )


def expected_as_data(rows: Sequence[Expected]) -> list[dict[str, Any]]:
    """Return what is still to come as scripts take it."""
    return [
        {
            "week": row.week or None,
            "expected_on": row.expected_on or None,
            "sku": row.sku,
            "unit": row.base_unit,
            "quantity": show_quantity(row.quantity_milli),
            "order": row.order,
            "shipment": row.shipment,
            "party": row.party,
            "is_the_shops": row.is_the_shops,
            "days_late": row.days_late,
        }
        for row in rows
    ]


def outstanding_text(rows: Sequence[Payment], today: datetime.date) -> str:
    """Return payments that were not told to be made; '' where there are none."""
    if not rows:
        return ""
    told = f"Tell what was paid: blankbook order {rows[0].order} --{rows[0].what}-paid {today.isoformat()}"
    return paragraphs(["Deposits and balances outstanding:", payments_text(rows, today), told])


def by_stage(took: Sequence[Took]) -> dict[tuple[str, str], list[Took]]:
    """Return what was taken by supplier and stage, in the order of the stages."""
    parties = sorted({one.party for one in took}, key=str.casefold)
    found = {
        (party, stage): [one for one in took if (one.party, one.stage) == (party, stage)]
        for party in parties
        for stage in STAGES
    }
    return {key: own for key, own in found.items() if own}


def _summaries(took: Sequence[Took]) -> Mapping[tuple[str, str], DaysSummary]:
    return {key: summary([one.days for one in own]) for key, own in by_stage(took).items()}


def lead_times_text(took: Sequence[Took]) -> str:
    """Return how long orders took, by supplier and stage."""
    if not took:
        return "No order was shipped yet, so there are no lead times."
    return paragraphs(
        ["Lead times of the shop's own orders, in days:", lead_times_table(took).text(), SPREAD_WORDS]
    )


def lead_times_table(took: Sequence[Took]) -> Table:
    """Return how long orders took as a table, by supplier and stage."""
    table = Table(["party", "stage", ">count", ">mean days", ">median", ">shortest", ">longest", ">spread"])
    for (party, stage), own in _summaries(took).items():
        table.add(
            party,
            stage,
            str(own.count),
            f"{own.mean:.1f}",
            f"{own.median:.1f}",
            str(own.shortest),
            str(own.longest),
            "" if own.spread is None else f"{own.spread:.1f}",
        )
    return table


def lead_times_as_data(took: Sequence[Took]) -> list[dict[str, Any]]:
    """Return lead times as scripts take them; means and spreads are rounded to a tenth of a day."""
    return [
        {
            "party": party,
            "stage": stage,
            "count": own.count,
            "mean_days": round(own.mean, 1),
            "median_days": own.median,
            "shortest_days": own.shortest,
            "longest_days": own.longest,
            "spread_days": None if own.spread is None else round(own.spread, 1),
            "days": [one.days for one in by_stage(took)[party, stage]],
        }
        for (party, stage), own in _summaries(took).items()
    ]
