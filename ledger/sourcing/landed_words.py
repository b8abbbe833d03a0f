"""What is said beside a landed estimate: how a figure came about, and what to look at before trusting it."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from ledger.exact.currencies import exponent
from ledger.exact.money import grouped_money
from ledger.exact.rounding import round_fraction
from ledger.exact.words import with_article
from ledger.sourcing.duties import OLD_AFTER_DAYS, DutyLayer, layers_for, silent_programs
from ledger.sourcing.landed_changes import layer_words
from ledger.sourcing.quote import Entry, OrderQuantities, Quote


def goods_words(quote: Quote, order: OrderQuantities, goods: Fraction) -> str:
    """Return the average price in the quote's currency, in words."""
    average = goods / order.total_units
    unit = "" if quote.unit == "each" else quote.unit
    scale = exponent(quote.currency)
    whole = average.denominator == 1
    shown = (
        grouped_money(int(average), quote.currency)
        if whole
        else f"{float(average / 10**scale):.{scale + 2}f}"
    )
    by = "" if not unit else f" per {unit}" if unit[:1].isdigit() else f" {with_article(unit)}"
    return f"{units_words(order.total_units, quote.unit)} at {shown} {quote.currency}{by}"


def units_words(count: int, unit: str) -> str:
    """Return so many of a unit, which may be a content of its own: 4 x 500 sheet; pieces stay bare.

    >>> units_words(25, "dozen"), units_words(4, "500 sheet"), units_words(72, "each")
    ('25 dozen', '4 x 500 sheet', '72')
    """
    if unit in {"", "each"}:
        return str(count)
    return f"{count} x {unit}" if unit[:1].isdigit() else f"{count} {unit}"


def insurance_words(quote: Quote, factor: Fraction, insurance_minor: int) -> str:
    """Return in words that a premium is the least one; nothing where it is the rate.

    ``factor`` brings the quote's minor units to the book's.
    """
    least = quote.insurance.minimum_minor
    fixed = quote.insurance.per_order_minor
    is_least = least and insurance_minor == round_fraction((least + fixed) * factor)
    return "the least premium" if is_least else ""


def quote_warnings(quote: Quote, entry: Entry) -> list[str]:
    """Return what the offer leaves unsaid or no longer says."""
    warnings = []
    today = entry.today
    if today is not None and quote.is_expired(today) and quote.valid_until is not None:
        warnings.append(f"the offer ended on {quote.valid_until.isoformat()}: ask for a new one.")
    if not quote.is_domestic and quote.origin != entry.destination and not quote.terms:
        warnings.append("the offer states no delivery terms: everything it lists is counted as the buyer's.")
    return warnings


def unstated_warnings(quote: Quote) -> tuple[str, ...]:
    """Return what may still be due at home and the offer says nothing of."""
    if not quote.unstated:
        return ()
    parts = " and ".join(quote.unstated)
    said = f"{parts} at home {'is' if len(quote.unstated) == 1 else 'are'} yours"
    return (f"under {quote.terms} {said}, and none was stated: counted as none, ask.",)


def rate_warnings(layers: list[DutyLayer], entry: Entry) -> tuple[str, ...]:
    """Return warnings that name the layers that are examples, or were checked too long ago."""
    warnings = []
    examples = [layer_words(layer) for layer in layers if layer.is_example]
    if examples:
        warnings.append(
            f"example rates, no facts to rely on: {', '.join(examples)}. Put your own rows in their place."
        )
    old = [layer for layer in layers if entry.today is not None and layer.is_old(entry.today)]
    if old:
        shown = [
            f"{layer_words(layer)} ({layer.checked_on.isoformat() if layer.checked_on else 'no date'})"
            for layer in old
        ]
        warnings.append(
            f"rates checked over {OLD_AFTER_DAYS} days ago, look them up again: {', '.join(shown)}."
        )
    return tuple(warnings)


GENERAL = "general"
"""What the program is usually called that every class has a rate of."""


def lone_program_words(
    layers: Iterable[DutyLayer], customs_class: str, origin: str, entry: Entry
) -> list[str]:
    """Return a question where all that holds for a class is one program's row for its origin alone.

    Such a row is mostly added to a rate for all origins, which then was forgotten. Nothing where the program is
    called general, or ``gap_words`` misses that one already.
    """
    known = tuple(layers)
    found = layers_for(known, customs_class, origin, entry.on)
    programs = {layer.program.casefold() for layer in found}
    silent = {name.casefold() for name in silent_programs(known, customs_class, origin, entry.on)}
    is_added = len(programs) == 1 and any(layer.origin for layer in found)
    if not is_added or programs & {"", GENERAL} or GENERAL in silent:
        return []
    goods = f"class {customs_class}" if customs_class else "goods without a customs class"
    said = (
        f"only the program '{found[0].program}' is known for {goods} from {origin}: is there no general rate? Load its "
        "row, or one with rate 0 where the class is free."
    )
    return [said]


def gap_words(layers: Iterable[DutyLayer], customs_class: str, origin: str, entry: Entry) -> list[str]:
    """Return a warning for each program that has rows of other classes but none of this one."""
    goods = f"class {customs_class}" if customs_class else "goods without a customs class"
    return [
        f"the program '{program}' has rows for other classes and none for {goods} from {origin}: nothing is counted "
        "of it. Load its row, or one with rate 0 where the class is free."
        for program in silent_programs(layers, customs_class, origin, entry.on)
    ]
