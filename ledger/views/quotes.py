"""Offers and duties as people and scripts see them, and what loading a sheet would change."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ledger.book.quote_store import OfferState
from ledger.intake.duties_file import DutiesPlan
from ledger.intake.quotes_file import QuotesPlan
from ledger.sourcing.duties import OLD_AFTER_DAYS
from ledger.sourcing.duty_columns import DutyRow
from ledger.sourcing.offers import Offer, OfferRow
from ledger.views.tables import Table

PREVIEWED = 20
CUSTOMS_CAUTION = (
    "Estimates, not customs or tax advice: class, value, origin and rate are the importer's responsibility; ask a "
    "licensed broker."
)
"""Said once with every output that reckons duty."""


def offers_text(offers: Iterable[Offer], today: datetime.date) -> str:
    """Return the offers as a table, one line for each list of prices."""
    table = Table(["supplier", "offer", "for", "prices", "unit", "terms", "minimum", "stands"])
    for offer in offers:
        for row in offer.rows:
            table.add(
                offer.supplier,
                offer.offer,
                goods_of(row),
                " ".join(filter(None, (row.prices, offer.text("currency")))),
                offer.text("unit"),
                offer.text("terms"),
                offer.text("minimum"),
                stands(offer, today),
            )
    return table.text()


def goods_of(row: OfferRow) -> str:
    """Return what a row has prices for, in words."""
    return " ".join(filter(None, (row.sku or row.style, row.colours, row.sizes)))


def stands(offer: Offer, today: datetime.date) -> str:
    """Return whether and how long an offer stands, in words."""
    first, last = offer.text("valid_from"), offer.text("valid_until")
    if last and last < today.isoformat():
        return f"ended {last}"
    if first and first > today.isoformat():
        return f"from {first}"
    return f"until {last}" if last else ""


def offers_as_data(offers: Iterable[Offer]) -> list[dict[str, Any]]:
    """Return the offers as scripts take them: the columns of the sheet that are filled in, and the rows."""
    return [_offer_data(offer) for offer in offers]


def _offer_data(offer: Offer) -> dict[str, Any]:
    return {
        "supplier": offer.supplier,
        "offer": offer.offer,
        **dict(offer.head),
        "prices": [
            {
                "sku": row.sku,
                "style": row.style,
                "colours": row.colours,
                "sizes": row.sizes,
                "breaks": [_break(part) for part in row.prices.split(";")],
            }
            for row in offer.rows
        ],
    }


def _break(part: str) -> dict[str, Any]:
    start, _, price = part.partition("=")
    return {"from": int(start), "price": price.strip()}


def history_text(states: Sequence[OfferState]) -> str:
    """Return every state that offers had, the oldest first."""
    table = Table(["recorded", "supplier", "offer", "for", "prices", "until"])
    for state in states:
        for row in state.offer.rows:
            table.add(
                state.recorded_at[:10],
                state.offer.supplier,
                state.offer.offer,
                goods_of(row),
                row.prices,
                state.offer.text("valid_until"),
            )
    return table.text()


def history_as_data(states: Sequence[OfferState]) -> list[dict[str, Any]]:
    """Return every state that offers had as scripts take them."""
    return [{"recorded_at": state.recorded_at, **_offer_data(state.offer)} for state in states]


def quotes_plan_text(source: str, plan: QuotesPlan) -> str:
    """Return what loading the file would do: the counts, and the first offers."""
    if plan.is_empty:
        return f"{source}: the offers of this file stand in the book as written here. Nothing changes."
    table = Table(["supplier", "offer", "for", "prices", "what"])
    changes = {change.offer.name: change.columns for change in plan.changed}
    rows = [(offer, row) for offer in plan.loaded for row in offer.rows]
    for offer, row in rows[:PREVIEWED]:
        what = f"changed: {', '.join(changes[offer.name])}" if offer.name in changes else "new"
        table.add(offer.supplier, offer.offer, goods_of(row), row.prices, what)
    lines = [
        f"{source}: {len(plan.new)} new, {len(plan.changed)} changed, {len(plan.unchanged)} unchanged.",
        "",
        table.text(),
    ]
    if len(rows) > PREVIEWED:
        lines += ["", f"… and {len(rows) - PREVIEWED} more rows."]
    if plan.new_suppliers:
        lines += ["", f"New suppliers: {', '.join(plan.new_suppliers)}."]
    return "\n".join([*lines, *([""] if plan.warnings else []), *plan.warnings])


def quotes_plan_as_data(source: str, plan: QuotesPlan, *, posted: bool) -> dict[str, Any]:
    """Return what loading the file did, or would do, as scripts take it."""
    return {
        "file": source,
        "new": [_key(offer) for offer in plan.new],
        "changed": [{**_key(change.offer), "columns": list(change.columns)} for change in plan.changed],
        "unchanged": len(plan.unchanged),
        "new_suppliers": list(plan.new_suppliers),
        "warnings": list(plan.warnings),
        "posted": posted,
    }


def _key(offer: Offer) -> dict[str, str]:
    return {"supplier": offer.supplier, "offer": offer.offer}


def duties_text(rows: Iterable[DutyRow], today: datetime.date) -> str:
    """Return the duty layers as a table, one line each."""
    table = Table(["program", "class", "origin", ">rate", "from", "until", "source", "checked"])
    for row in rows:
        checked = row.checked_on or "no date"
        if row.layer().is_old(today):
            checked += f", over {OLD_AFTER_DAYS} days ago" if row.checked_on else ""
        table.add(
            row.program,
            row.customs_class or "any",
            row.origin or "any",
            f"{row.rate}%",
            row.start,
            row.until,
            f"{row.source} (example)" if row.is_example else row.source,
            checked,
        )
    return table.text()


def duty_as_data(row: DutyRow) -> dict[str, Any]:
    """Return one layer as scripts take it; rate in percent, empty dates null."""
    return {
        "program": row.program,
        "customs_class": row.customs_class,
        "origin": row.origin,
        "rate_percent": row.rate,
        "from": row.start or None,
        "until": row.until or None,
        "source": row.source,
        "checked_on": row.checked_on or None,
        "example": row.is_example,
        "note": row.note,
    }


def duties_plan_text(source: str, plan: DutiesPlan) -> str:
    """Return what loading the file would do: the counts, and the layers."""
    if plan.is_empty:
        return f"{source}: the layers of this file stand in the book as written here. Nothing changes."
    lines = [
        f"{source}: {len(plan.new)} new, {len(plan.changed)} changed, {len(plan.unchanged)} unchanged.",
        "",
    ]
    named: Mapping[str, Sequence[DutyRow]] = {"new": plan.new, "changed": plan.changed}
    shown = [f"  {what}: {row.in_words}" for what, rows in named.items() for row in rows]
    lines += shown[:PREVIEWED]
    return "\n".join(
        lines if len(shown) <= PREVIEWED else [*lines, f"  … and {len(shown) - PREVIEWED} more."]
    )


def duties_plan_as_data(source: str, plan: DutiesPlan, *, posted: bool) -> dict[str, Any]:
    """Return what loading the file did, or would do, as scripts take it."""
    return {
        "file": source,
        "new": [duty_as_data(row) for row in plan.new],
        "changed": [duty_as_data(row) for row in plan.changed],
        "unchanged": len(plan.unchanged),
        "posted": posted,
    }
