"""Which offer goods were bought under: the one told with the order, else the one that fits it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.buying import order_line
from ledger.book.purchases import order_of_receipt
from ledger.book.quote_store import OfferState, find_offers
from ledger.catalogue._words import quoted, suggestion
from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack
from ledger.catalogue.parties import normal_name
from ledger.errors import Refused, ValueProblem
from ledger.exact.quantity import MILLI
from ledger.sourcing.offer_fit import Fit, Placed, fit_of
from ledger.sourcing.offered_quote import Home, quote_of
from ledger.sourcing.offered_unit import offered_pack
from ledger.sourcing.price_breaks import covers
from ledger.sourcing.quote import OrderQuantities, Quote


@dataclass(frozen=True, slots=True)
class BoughtLine:
    """Goods of one line that was ordered: thousandths of the base unit, minor units of the order's currency."""

    sku: str
    quantity_milli: int
    amount_foreign: int


@dataclass(frozen=True, slots=True)
class Bought:
    """Goods bought together of one supplier, and the day it was decided; ``offer`` is None where none was told."""

    party: str
    decided_on: str
    currency: str
    terms: str
    offer: str | None
    lines: tuple[BoughtLine, ...]


@dataclass(frozen=True, slots=True)
class Catalogue:
    """What the book knows of goods and of how suppliers usually sell."""

    items: Mapping[str, Item]
    packs: Mapping[str, Sequence[Pack]]
    homes: Mapping[str, Home]

    def quote(self, state: OfferState) -> Quote:
        """Return an offer's state as a quote."""
        return quote_of(state.offer, self.homes.get(normal_name(state.offer.supplier), self.homes[""]))


@dataclass(frozen=True, slots=True)
class PlacedOrder:
    """An order that goods came of; ``ordered_on`` is ISO 8601, ``offer`` is None where none was told."""

    number: int
    ordered_on: str
    currency: str
    terms: str
    offer: str | None
    lines: tuple[BoughtLine, ...]


def order_behind(connection: sqlite3.Connection, receipt: int) -> PlacedOrder | None:
    """Return the order that a receipt's goods came of; None where there was none."""
    order = order_of_receipt(connection, receipt)
    if order is None:
        return None
    currency, terms = connection.execute(
        "SELECT d.currency, t.terms FROM document AS d "
        "JOIN order_terms AS t ON t.document = d.number WHERE d.number = ?",
        (order.number,),
    ).fetchone()
    lines = connection.execute(
        "SELECT sku, quantity_milli, amount_foreign FROM document_line WHERE document = ? ORDER BY line",
        (order.number,),
    )
    return PlacedOrder(
        number=order.number,
        ordered_on=order.ordered_on,
        currency=currency,
        terms=terms,
        offer=told_offer(connection, order.number),
        lines=tuple(BoughtLine(*row) for row in lines),
    )


def tell_offer(connection: sqlite3.Connection, order: int, offer: str) -> None:
    """Record, inside the caller's transaction, which offer a new order was placed under."""
    connection.execute("INSERT INTO order_offer (document, offer) VALUES (?, ?)", (order, offer))


def told_offer(connection: sqlite3.Connection, order: int) -> str | None:
    """Return the offer that an order was placed under as it was told, None where nothing was."""
    row = connection.execute("SELECT offer FROM order_offer WHERE document = ?", (order,)).fetchone()
    return None if row is None else str(row[0])


def offer_named(connection: sqlite3.Connection, party: str, name: str) -> str:
    """Return what the book calls a supplier's offer, '' for one without a name of its own.

    ``name`` is the offer's, or the one that comparisons show it by, with its supplier.
    Raises Refused where the supplier has no offer of that name, with those that there are.
    """
    own = [one for one in find_offers(connection).values() if normal_name(one.supplier) == normal_name(party)]
    for one in own:
        if normal_name(name) in {normal_name(one.offer), normal_name(one.name)}:
            return one.offer
    names = [one.offer or one.name for one in own]
    there = f"It has {', '.join(names)}." if own else "It has none: blankbook quotes load FILE."
    raise Refused(
        f"{party} has no offer {quoted(name)}.{suggestion(name, names)} {there} Nothing was posted."
    )


def offers_by_sku(
    states: Iterable[OfferState], bought: Bought, catalogue: Catalogue
) -> dict[str, OfferState]:
    """Return the offer that each SKU was bought under; without those that no offer of that day could cover.

    An offer that was told has all of them. Else an offer is measured by all the lines that it covers
    together, and each line goes to the one nearest to them, the latest of those that are equally near.
    """
    standing = _standing(states, bought)
    skus = dict.fromkeys(line.sku for line in bought.lines)
    if bought.offer is not None:
        told = [state for state in standing if _is_told(state, bought)]
        return dict.fromkeys(skus, told[0]) if told else {}
    best: dict[str, tuple[Fit, OfferState]] = {}
    for state in standing:
        quote = catalogue.quote(state)
        covered = [line for line in bought.lines if _covers(quote, catalogue.items[line.sku])]
        fit = _fit(quote, bought, covered, catalogue) if covered else None
        if fit is None:
            continue
        for line in covered:
            if line.sku not in best or fit < best[line.sku][0]:
                best[line.sku] = (fit, state)
    return {sku: best[sku][1] for sku in skus if sku in best}


def _standing(states: Iterable[OfferState], bought: Bought) -> list[OfferState]:
    """Return the supplier's offers as they stood on the day, the latest quoted first."""
    found: dict[str, OfferState] = {}
    for state in states:
        if normal_name(state.offer.supplier) != normal_name(bought.party):
            continue
        name = normal_name(state.offer.offer)
        if state.is_withdrawn:
            # One that was told is known to have stood, whatever became of it that day.
            if state.recorded_at[:10] <= bought.decided_on and not _is_told(state, bought):
                found.pop(name, None)
        elif quoted_day(state) <= bought.decided_on or (_is_told(state, bought) and name not in found):
            found[name] = state
    return sorted(found.values(), key=quoted_day, reverse=True)


def _is_told(state: OfferState, bought: Bought) -> bool:
    return bought.offer is not None and normal_name(state.offer.offer) == normal_name(bought.offer)


def quoted_day(state: OfferState) -> str:
    """Return the day from which a state of an offer counts: quoted, else valid from, else recorded."""
    offer = state.offer
    return offer.text("quoted_on") or offer.text("valid_from") or state.recorded_at[:10]


def _covers(quote: Quote, item: Item) -> bool:
    wanted = order_line(quote, item, 1)
    return any(covers(group, wanted) for group in quote.prices)


def _fit(quote: Quote, bought: Bought, lines: Sequence[BoughtLine], catalogue: Catalogue) -> Fit | None:
    """Return how far an offer is from lines that it covers; None where it could not be ordered so."""
    first = catalogue.items[lines[0].sku]
    try:
        factor = offered_pack(quote.unit, first, catalogue.packs.get(first.sku, ())).factor
        quantities = [Fraction(line.quantity_milli, MILLI) / factor for line in lines]
        if any(quantity.denominator != 1 for quantity in quantities):
            return None
        order = OrderQuantities(
            tuple(
                order_line(quote, catalogue.items[line.sku], int(quantity))
                for line, quantity in zip(lines, quantities, strict=True)
            )
        )
        amount = sum(line.amount_foreign for line in lines)
        return fit_of(quote, Placed(order, amount, bought.currency, bought.terms, bought.decided_on))
    except ValueProblem:
        return None
