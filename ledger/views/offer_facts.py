"""What an offer says, in words: prices by quantity, order rules, terms, duty by layer."""

from __future__ import annotations

from collections.abc import Iterable

from ledger.catalogue.terms import COSTS, MAIN_CARRIAGE, TERMS
from ledger.sourcing.duties import DutyLayer, percent
from ledger.sourcing.quote import INCREMENTAL, Entry, PriceGroup, Quote
from ledger.views.offer_way import exact_number, way_facts
from ledger.views.page import Fact, Table


def offer_facts(quote: Quote, given: str, entry: Entry) -> list[Fact]:
    """Return what an offer says of itself; ``given`` says when and by whom it was given, ``entry`` how it comes in."""
    facts = [
        Fact("comes from", origin_text(quote)),
        Fact("prices", "; ".join(prices_text(group, quote) for group in quote.prices), given),
        Fact("how much may be ordered", rules_text(quote)),
        Fact("terms", terms_text(quote)),
        *way_facts(quote, entry),
    ]
    if quote.deposit.fraction:
        paid = f"{percent(quote.deposit.fraction)} of the goods"
        facts.append(Fact("deposit", f"{paid}, {quote.deposit.days_before_shipping} days before shipping"))
    if quote.defects.rate:
        returned = f"a claim returns {percent(quote.defects.claim_returns)} of their price"
        facts.append(Fact("bad pieces", f"{percent(quote.defects.rate)} expected; {returned}"))
    return facts


def origin_text(quote: Quote) -> str:
    """Return where the goods come from."""
    return "at home: crosses no border" if quote.is_domestic else f"abroad: {quote.origin} (country code)"


def given_text(quote: Quote) -> str:
    """Return when a quote of the book was given, by whom, and how long it stands."""
    quoted = f"quoted on {quote.quoted_on.isoformat()}" if quote.quoted_on else "the quote gives no date"
    until = f", stands until {quote.valid_until.isoformat()}" if quote.valid_until else ""
    supplier = f" by {quote.supplier}" if quote.supplier else ""
    note = f"; note: {quote.note}" if quote.note else ""
    return f"{quoted}{supplier}{until}{note}."


def prices_text(group: PriceGroup, quote: Quote) -> str:
    """Return prices by quantity, with the colours and sizes they hold for."""
    steps = "; ".join(
        f"from {each.from_quantity:,}: {exact_number(each.price_minor, quote.currency)}"
        for each in group.breaks
    )
    named = (group.sku or group.style, *group.colours, *group.sizes) if len(quote.prices) > 1 else ()
    only = f"{', '.join(filter(None, named))}: " if any(named) else ""
    way = " (each price for the pieces within its step)" if quote.discount == INCREMENTAL else ""
    return f"{only}{steps} {quote.currency}{way}"


def rules_text(quote: Quote) -> str:
    """Return how much may be ordered."""
    rules = quote.rules
    said = [f"at least {rules.minimum:,}"]
    if rules.minimum_per_colour:
        said.append(f"at least {rules.minimum_per_colour:,} of each colour")
    if rules.multiple > 1:
        said.append(f"in steps of {rules.multiple:,}")
    if rules.maximum:
        said.append(f"at most {rules.maximum:,}")
    if rules.size_ratio:
        said.append("in packs of " + ", ".join(f"{share.size} {share.pieces}" for share in rules.size_ratio))
    if quote.quantity:
        said.append(f"fixed at {quote.quantity:,}")
    return ", ".join(said)


def terms_text(quote: Quote) -> str:
    """Return the terms with what they leave for the buyer to pay."""
    known = TERMS.get(quote.terms)
    if known is None:
        return quote.terms or "not stated"
    named = quote.terms if known.name == quote.terms else f"{quote.terms} ({known.name})"
    shown = (MAIN_CARRIAGE,) if quote.is_domestic else COSTS
    paid = [cost for cost in shown if cost in known.buyer_pays]
    return f"{named}: beyond the price you pay {', '.join(paid) or 'nothing'}"


def duty_table(name: str, entry: Entry, layers: Iterable[DutyLayer]) -> Table | None:
    """Return the duty on an offer's goods by layer, with where and when each was read; None for none."""
    rows = [_duty_row(layer) for layer in layers]
    if not rows:
        return None
    return Table(
        f"Duty on goods from {name}; what holds on {entry.on.isoformat()} adds up",
        ("levied under", "rate", "holds", "read where", "checked on"),
        rows,
        frozenset({1}),
    )


def _duty_row(layer: DutyLayer) -> tuple[str, ...]:
    start = f"from {layer.start.isoformat()}" if layer.start else ""
    until = f"until before {layer.until.isoformat()}" if layer.until else ""
    holds = " ".join(filter(None, (start, until))) or "always"
    program = f"{layer.program or 'not stated'}{' (an example, as you typed it: no fact)' if layer.is_example else ''}"
    checked = layer.checked_on.isoformat() if layer.checked_on else "not stated"
    return (program, percent(layer.rate), holds, layer.source or "not stated", checked)
