"""When an order enters, and which duty layers end or begin before it does."""

from __future__ import annotations

import datetime
from collections.abc import Iterable

from ledger.errors import ValueProblem
from ledger.sourcing.duties import DutyLayer, layers_for, percent, superseded_on
from ledger.sourcing.expected_days import expected_days
from ledger.sourcing.quote import Entry, Quote


def entry_day(today: datetime.date, quote: Quote) -> datetime.date:
    """Return the day on which goods ordered today are expected to enter; today without a lead time.

    Raises ValueProblem where the lead time is absurdly long.
    Source: our own rule; the entry comes at most a few days before the goods are on the shelf.
    """
    return today + datetime.timedelta(days=round(expected_days(quote.lead_time, quote.closures, today)))


def duty_changes(
    layers: Iterable[DutyLayer], customs_class: str, origin: str, entry: Entry
) -> tuple[str, ...]:
    """Return in words which layers of a class and an origin end or begin between today and the entry.

    Nothing where the entry is not after today, or today is not given.
    """
    if entry.today is None or entry.on <= entry.today:
        return ()
    known = tuple(layers)
    now, then = (_found(known, customs_class, origin, day) for day in (entry.today, entry.on))
    said = [
        f"{row_words(layer)} is no longer charged from {end.isoformat()} on"
        for layer in now
        if layer not in then
        and (end := min(filter(None, (layer.until, superseded_on(layer, known))), default=None)) is not None
        and end <= entry.on
    ]
    said += [
        f"{row_words(layer)} is charged from {layer.start.isoformat()} on"
        for layer in then
        if layer not in now and layer.start is not None and layer.start > entry.today
    ]
    return tuple(said)


def change_warnings(changes: Iterable[str], entry: Entry) -> tuple[str, ...]:
    """Return one warning of all changes of duty before an entry, none where nothing changes."""
    said = list(dict.fromkeys(changes))
    if not said:
        return ()
    warning = (
        f"duty changes before these goods enter: {'; '.join(said)}. It is reckoned for an entry on "
        f"{entry.on.isoformat()}; goods that come sooner or later may pay another."
    )
    return (warning,)


def _found(
    layers: tuple[DutyLayer, ...], customs_class: str, origin: str, day: datetime.date
) -> tuple[DutyLayer, ...]:
    try:
        return layers_for(layers, customs_class, origin, day)
    except ValueProblem:
        return ()


def layer_words(layer: DutyLayer) -> str:
    """Return a layer by its program and rate: general 16.5%."""
    return f"{layer.program or 'duty'} {percent(layer.rate)}"


def row_words(layer: DutyLayer) -> str:
    """Return a layer by its program and rate with what its row is for, so that the row can be found.

    >>> from fractions import Fraction
    >>> row_words(DutyLayer(Fraction("0.1"), program="added", class_prefix="6109", origin="CN"))
    'added 10% (class 6109, origin CN)'
    """
    return f"{layer_words(layer)} (class {layer.class_prefix or 'any'}, origin {layer.origin or 'any'})"
