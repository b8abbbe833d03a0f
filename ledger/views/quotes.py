"""Offers and duties as people and scripts see them, and what loading a sheet would change."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any

from ledger.book.quote_store import OfferState
from ledger.catalogue.parties import normal_name
from ledger.exact.currencies import exponent
from ledger.exact.numbers import show_fraction
from ledger.intake.duties_file import DutiesPlan
from ledger.intake.quotes_file import PRICES, ChangedOffer, QuotesPlan
from ledger.sourcing.duties import OLD_AFTER_DAYS, superseded_on
from ledger.sourcing.duty_columns import DutyRow
from ledger.sourcing.offered_quote import Home, currency_of
from ledger.sourcing.offers import Offer, OfferRow
from ledger.sourcing.quote_readers import read_breaks
from ledger.views.tables import Table

PREVIEWED = 20
_EXACT_PLACES = 9
CUSTOMS_CAUTION = (
    "Estimates, not customs or tax advice: class, value, origin and rate are the importer's responsibility; ask a "
    "licensed broker."
)
"""Said once with every output that reckons duty."""


Homes = Mapping[str, Home]
"""What an offer leaves open is taken from, by the supplier's name folded; '' for others."""


def offers_text(offers: Iterable[Offer], homes: Homes, today: datetime.date) -> str:
    """Return the offers as a table, one line for each list of prices."""
    table = Table(["supplier", "offer", "for", "prices", "unit", "terms", "minimum", "stands"])
    for offer in offers:
        for row in offer.rows:
            table.add(
                offer.supplier,
                offer.offer,
                goods_of(row),
                _prices(offer, row, homes),
                offer.text("unit"),
                offer.text("terms"),
                offer.text("minimum"),
                stands(offer, today),
            )
    return table.text()


def _prices(offer: Offer, row: OfferRow, homes: Homes) -> str:
    """Return the prices of a row with at least the decimals of their currency: 1 = 4.10; 72 = 3.60 CNY.

    The currency stands with them where it is not the book's.
    """
    home = homes.get(normal_name(offer.supplier), homes[""])
    currency = currency_of(offer, home)
    places = exponent(currency)
    shown = "; ".join(
        f"{each.from_quantity} = {_at_least(each.price_minor, places)}" for each in read_breaks(row.prices)
    )
    return shown if currency == homes[""].currency else f"{shown} {currency}"


def _at_least(value: Fraction, places: int) -> str:
    """Return an exact amount in full, with at least so many decimals."""
    text = show_fraction(value, _EXACT_PLACES)
    whole, _, rest = text.partition(".")
    return f"{whole}.{rest.ljust(places, '0')}" if places else text


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


def history_text(states: Sequence[OfferState], homes: Homes, today: datetime.date) -> str:
    """Return every state that offers had, the oldest first, and which of them stands."""
    table = Table(["recorded", "supplier", "offer", "for", "prices", "until", "state"])
    for state, later in zip(states, _replaced_on(states), strict=True):
        word = f"replaced {later}" if later else stands(state.offer, today)
        if state.is_withdrawn:
            word = f"withdrawn {state.recorded_at[:10]}"
        for row in state.offer.rows:
            table.add(
                state.recorded_at[:10],
                state.offer.supplier,
                state.offer.offer,
                goods_of(row),
                _prices(state.offer, row, homes),
                state.offer.text("valid_until"),
                word if later or word.startswith(("ended", "from", "withdrawn")) else "stands",
            )
    return table.text()


def _replaced_on(states: Sequence[OfferState]) -> list[str]:
    """Return the day on which each state was replaced by the next of its offer; empty for the latest."""
    days: list[str] = []
    following: dict[str, str] = {}
    for state in reversed(states):
        days.append(following.get(state.offer.name, ""))
        following[state.offer.name] = state.recorded_at[:10]
    return days[::-1]


def history_as_data(states: Sequence[OfferState]) -> list[dict[str, Any]]:
    """Return every state that offers had as scripts take them; ``replaced_on`` is null for the latest."""
    return [
        {
            "recorded_at": state.recorded_at,
            "replaced_on": later or None,
            "withdrawn": state.is_withdrawn,
            **_offer_data(state.offer),
        }
        for state, later in zip(states, _replaced_on(states), strict=True)
    ]


def quotes_plan_text(source: str, plan: QuotesPlan, homes: Homes) -> str:
    """Return what loading the file would do: the counts, the first new rows, and of others what changes."""
    if plan.is_empty:
        return f"{source}: the offers of this file stand in the book as written here. Nothing changes."
    table = Table(["supplier", "offer", "for", "prices", "what"])
    lines = [
        (offer.supplier, offer.offer, goods_of(row), _prices(offer, row, homes), "new")
        for offer in plan.new
        for row in offer.rows
    ]
    lines += [line for change in plan.changed for line in _changes(change, homes)]
    for line in lines[:PREVIEWED]:
        table.add(*line)
    said = [
        f"{source}: {len(plan.new)} new, {len(plan.changed)} changed, {len(plan.unchanged)} unchanged.",
        "",
        table.text(),
    ]
    if len(lines) > PREVIEWED:
        said += ["", f"… and {len(lines) - PREVIEWED} more rows."]
    if plan.new_suppliers:
        said += ["", f"New suppliers: {', '.join(plan.new_suppliers)}."]
    return "\n".join([*said, *([""] if plan.warnings else []), *plan.warnings])


_PlanLine = tuple[str, str, str, str, str]
"""Supplier, offer, goods, prices, and what happens to them."""


def _changes(change: ChangedOffer, homes: Homes) -> Iterator[_PlanLine]:
    """Return what changes of an offer: its own columns, then the rows that differ."""
    before, after = change.before, change.offer
    for column in change.columns:
        if column != PRICES:
            was, now = (each.text(column) or "empty" for each in (before, after))
            yield (after.supplier, after.offer, "", "", f"{column}: {was} to {now}")
    old = {_goods_key(row): row for row in before.rows}
    for row in after.rows:
        was_row = old.pop(_goods_key(row), None)
        shown = _prices(after, row, homes)
        if was_row is None:
            yield (after.supplier, after.offer, goods_of(row), shown, "new row")
        elif was_row.prices != row.prices:
            was = _prices(before, was_row, homes)
            yield (after.supplier, after.offer, goods_of(row), shown, f"prices, were {was}")
    for row in old.values():
        yield (after.supplier, after.offer, goods_of(row), _prices(before, row, homes), "no longer in it")


def _goods_key(row: OfferRow) -> tuple[str, ...]:
    return tuple(text.casefold() for text in (row.sku, row.style, row.colours, row.sizes))


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
    every = list(rows)
    layers = [row.layer() for row in every]
    is_replaced = False
    for row in every:
        later = superseded_on(row.layer(), layers)
        is_replaced = is_replaced or later is not None
        checked = row.checked_on or "no date"
        if row.layer().is_old(today):
            checked += f", over {OLD_AFTER_DAYS} days ago" if row.checked_on else ""
        table.add(
            row.program,
            row.customs_class or "any",
            row.origin or "any",
            f"{row.rate}%",
            row.start,
            row.until if later is None else f"{later.isoformat()}, by a later row",
            f"{row.source} (example)" if row.is_example else row.source,
            checked,
        )
    return f"{table.text()}\n\n{PROGRAMS_ADD}" if is_replaced or len(layers) > 1 else table.text()


PROGRAMS_ADD = (
    "Programs add up. Of one program one row holds on a day: the longest class, then the one that names the origin, "
    "then the one that begins latest."
)
"""How rows of duty go together, said under the list of them."""


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
