"""Duty as a stack of dated layers: which rates apply to a class and an origin on an entry date.

An estimate, not customs advice: class, value, origin and rate are the importer's responsibility.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.errors import ValueProblem
from ledger.exact.numbers import show_fraction

OLD_AFTER_DAYS = 60
"""A rate that was checked longer ago is warned about."""

ANY = ""
"""The class prefix or origin of a layer that holds for all."""


@dataclass(frozen=True)
class DutyLayer:
    """One rate that adds to the others, from ``start`` until the day before ``until``.

    Attributes:
        rate: the fraction of the customs value: 0.165 is 16.5%.
        start: the first entry date; None for always.
        until: the first entry date on which it no longer holds; None while it stands.
        program: what it is levied under, in words (general, surcharge); empty where that is not said.
        class_prefix: digits of the customs class it holds for, with or without dots; ANY for all.
        origin: ISO 3166 country; ANY for all.
        source: where the rate was read.
        checked_on: when; None where that is not said.
        is_example: whether it came with the program to show the layout, and is no fact.
    """

    rate: Fraction
    start: datetime.date | None = None
    until: datetime.date | None = None
    program: str = ""
    class_prefix: str = ANY
    origin: str = ANY
    source: str = ""
    checked_on: datetime.date | None = None
    is_example: bool = False

    def holds_for(self, customs_class: str, origin: str, on: datetime.date) -> bool:
        """Return whether the layer applies to a class and an origin entered on a date.

        >>> layer = DutyLayer(Fraction("0.165"), class_prefix="6109.10")
        >>> layer.holds_for("6109100012", "CN", datetime.date(2026, 3, 15))
        True
        """
        if self.origin and self.origin != origin:
            return False
        if not digits(customs_class).startswith(digits(self.class_prefix)):
            return False
        return (self.start is None or self.start <= on) and (self.until is None or on < self.until)

    def is_old(self, today: datetime.date) -> bool:
        """Return whether the rate was checked more than 60 days before, or the day is not known."""
        return self.checked_on is None or (today - self.checked_on).days > OLD_AFTER_DAYS


def digits(customs_class: str) -> str:
    """Return a class or prefix without its dots, so that 6109.10 and 610910 are one."""
    return customs_class.replace(".", "").replace(" ", "")


def layers_for(
    layers: Iterable[DutyLayer], customs_class: str, origin: str, on: datetime.date
) -> tuple[DutyLayer, ...]:
    """Return the layers that apply to a class and origin on an entry date, in the order given.

    Within one program one layer holds: the one with the longest class prefix, of equally long ones the
    one that names the origin, of these the one that began latest. 'general 6109.10' stands in for
    'general 61', and 'general 17%' from May on for an older 'general 16.5%', while a surcharge adds to
    either. A layer without a program always adds. Where layers are kept by class, one that holds for
    all classes (a surcharge) does not say what the class itself pays.

    Raises ValueProblem where none applies: a missing row is unknown, never free.
    Source: our own rule for choosing within a program; layers add up as in chapter 99 of the US tariff.
    """
    known = tuple(layers)
    wanted = [layer for layer in known if layer.holds_for(customs_class, origin, on)]
    is_by_class = any(layer.class_prefix for layer in known)
    if not wanted or (is_by_class and not any(layer.class_prefix for layer in wanted)):
        raise ValueProblem(_unknown_words(wanted, customs_class, origin, on))
    best: dict[str, tuple[int, bool, datetime.date]] = {}
    for layer in wanted:
        name = layer.program.casefold()
        best[name] = max(best.get(name, _reach(layer)), _reach(layer))
    return tuple(
        layer for layer in wanted if not layer.program or _reach(layer) == best[layer.program.casefold()]
    )


def _unknown_words(wanted: Iterable[DutyLayer], customs_class: str, origin: str, on: datetime.date) -> str:
    """Return in words that nobody knows what a class pays, and which layers of all classes hold though."""
    goods = f"class {customs_class}" if customs_class else "goods without a customs class"
    named = ", ".join(f"{layer.program or 'duty'} {percent(layer.rate)}" for layer in wanted)
    where = f"{goods} from {origin} entered on {on.isoformat()}"
    said = (
        f"of {where} only what holds for every class is known ({named}), not what the class itself pays"
        if named
        else f"no duty layer holds for {where}"
    )
    return (
        f"{said}: unknown is not free. Ask a licensed broker and load the rate with its source ('duties load'); a "
        "free class is a row with rate 0."
    )


def silent_programs(
    layers: Iterable[DutyLayer], customs_class: str, origin: str, on: datetime.date
) -> tuple[str, ...]:
    """Return the programs that have rows of other classes for an origin and a day, but none of this class.

    Nobody can tell whether such a program spares the class or its row was forgotten.
    """
    known = [layer for layer in layers if layer.program]
    holding = {layer.program.casefold() for layer in known if layer.holds_for(customs_class, origin, on)}
    others = {
        layer.program.casefold(): layer.program
        for layer in known
        if layer.holds_for(layer.class_prefix, origin, on)
    }
    return tuple(name for key, name in others.items() if key not in holding)


def dated_layers(layers: Iterable[DutyLayer], customs_class: str, origin: str) -> tuple[DutyLayer, ...]:
    """Return the layers of one class and origin, each with the days on which it holds, for these goods alone.

    On every day they add up to what ``layers_for`` finds; a day of which nothing is known has none. A
    layer that another stands in for meanwhile comes in two.

    Source: our own rule.
    """
    known = tuple(layers)
    marks = {day for layer in known for day in (layer.start, layer.until) if day is not None}
    days = [datetime.date.min, *sorted(marks)]
    holding: dict[int, list[tuple[int, int]]] = {}
    for place, day in enumerate(days):
        try:
            found = layers_for(known, customs_class, origin, day)
        except ValueProblem:
            continue
        for number in (number for number, layer in enumerate(known) if any(layer is each for each in found)):
            spans = holding.setdefault(number, [])
            if spans and spans[-1][1] == place:
                spans[-1] = (spans[-1][0], place + 1)
            else:
                spans.append((place, place + 1))
    return tuple(
        replace(
            known[number],
            class_prefix=ANY,
            origin=ANY,
            start=days[first] if first else None,
            until=days[end] if end < len(days) else None,
        )
        for number in sorted(holding)
        for first, end in holding[number]
    )


def percent(rate: Fraction) -> str:
    """Return a fraction as per cent in words.

    >>> percent(Fraction("0.003464"))
    '0.3464%'
    """
    return f"{show_fraction(rate * 100)}%"


def superseded_on(layer: DutyLayer, layers: Iterable[DutyLayer]) -> datetime.date | None:
    """Return the first day on which a later layer of the same program, class and origin replaces one.

    None where no other begins while it holds.
    """
    days = [
        each.start
        for each in layers
        if each.program
        and each.start is not None
        and _of_same_goods(each, layer)
        and (layer.start is None or layer.start < each.start)
        and (layer.until is None or each.start < layer.until)
    ]
    return min(days, default=None)


def _of_same_goods(left: DutyLayer, right: DutyLayer) -> bool:
    return (left.program.casefold(), digits(left.class_prefix), left.origin) == (
        right.program.casefold(),
        digits(right.class_prefix),
        right.origin,
    )


def _reach(layer: DutyLayer) -> tuple[int, bool, datetime.date]:
    return len(digits(layer.class_prefix)), bool(layer.origin), layer.start or datetime.date.min
