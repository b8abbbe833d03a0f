"""Which figures of two studies differ, and one study with a single figure of the other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from ledger.errors import ValueProblem
from ledger.exact.numbers import read_decimal
from ledger.intake.study_demand import RATE_KEYS

_RATES = (*RATE_KEYS, "days_out_of_stock", "days_outside", "sd_per_month")
_TABLES = ("demand", "money", "limits")
_SHOWN = 40
ABSENT = "not given"


@dataclass(frozen=True)
class Difference:
    """One figure, or figures that only mean something together, that two studies give differently.

    Attributes:
        place: where it stands, as in '[money] capital_per_year'.
        table: the table; empty at the top. For an offer its name.
        keys: the keys; empty where the offer as a whole is only in one of them.
        before: what the one says, in words.
        after: what the other says.
    """

    place: str
    table: str
    keys: tuple[str, ...]
    before: str
    after: str
    is_offer: bool = False


def differences(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[Difference, ...]:
    """Return what two studies give differently, in the order of a study; names of offers tell them apart.

    0.1, 0.10 and "0.10" are the same figure.
    """
    found = _of_table("", "", _without(before), _without(after))
    for name in _TABLES:
        one, two = _table(before, name), _table(after, name)
        if name == "demand":
            found += _of_group(f"[{name}]", name, _RATES, one, two)
            one = {key: value for key, value in one.items() if key not in _RATES}
            two = {key: value for key, value in two.items() if key not in _RATES}
        found += _of_table(f"[{name}] ", name, one, two)
    return (*found, *_of_offers(_offers(before), _offers(after)))


def with_difference(
    before: Mapping[str, Any], after: Mapping[str, Any], difference: Difference
) -> dict[str, Any]:
    """Return the first study's tables with one difference taken from the second."""
    if not difference.is_offer:
        if not difference.table:
            return _taken(before, after, difference.keys)
        name = difference.table
        return {**before, name: _taken(_table(before, name), _table(after, name), difference.keys)}
    one, two = _offers(before), _offers(after)
    name = difference.table
    if difference.keys:
        changed = {**one, name: _taken(one[name], two[name], difference.keys)}
    elif name in two:
        changed = {**one, name: two[name]}
    else:
        changed = {key: offer for key, offer in one.items() if key != name}
    return {**before, "offer": list(changed.values())}


def _taken(before: Mapping[str, Any], after: Mapping[str, Any], keys: Sequence[str]) -> dict[str, Any]:
    kept = {key: value for key, value in before.items() if key not in keys}
    return {**kept, **{key: after[key] for key in keys if key in after}}


def _without(content: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in content.items() if key not in {*_TABLES, "offer"}}


def _table(content: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = content.get(name, {})
    return found if isinstance(found, dict) else {}


def _offers(content: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    return {str(each.get("name", "")): each for each in content.get("offer", ())}


def _of_table(
    head: str, table: str, before: Mapping[str, Any], after: Mapping[str, Any], *, is_offer: bool = False
) -> list[Difference]:
    keys = dict.fromkeys((*before, *after))
    return [
        Difference(f"{head}{key}", table, (key,), _words(before.get(key)), _words(after.get(key)), is_offer)
        for key in keys
        if _plain(before.get(key)) != _plain(after.get(key))
    ]


def _of_group(
    place: str, table: str, keys: Sequence[str], before: Mapping[str, Any], after: Mapping[str, Any]
) -> list[Difference]:
    one, two = ({key: each[key] for key in keys if key in each} for each in (before, after))
    if _plain(one) == _plain(two):
        return []
    changed = [key for key in keys if _plain(one.get(key)) != _plain(two.get(key))]

    def said(values: Mapping[str, Any]) -> str:
        return _cut(", ".join(f"{key} {_said(values[key])}" for key in changed if key in values)) or ABSENT

    if len(changed) == 1:
        only = changed[0]
        return [
            Difference(f"{place} {only}", table, tuple(keys), _words(one.get(only)), _words(two.get(only)))
        ]
    return [Difference(place, table, tuple(keys), said(one), said(two))]


def _of_offers(
    before: Mapping[str, Mapping[str, Any]], after: Mapping[str, Mapping[str, Any]]
) -> list[Difference]:
    found = []
    for name in dict.fromkeys((*before, *after)):
        if name in before and name in after:
            found += _of_table(f"{name}: ", name, before[name], after[name], is_offer=True)
        else:
            there = ("there", ABSENT) if name in before else (ABSENT, "there")
            found.append(Difference(f"the offer {name}", name, (), *there, is_offer=True))
    return found


def _plain(value: Any) -> Any:
    """Return a value for comparing: numbers exactly, whether they stand in quotes or not."""
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_plain(each) for each in value]
    if isinstance(value, str | int | Decimal) and not isinstance(value, bool):
        try:
            return Fraction(read_decimal(value))
        except ValueProblem:
            return value
    return value


def _words(value: Any) -> str:
    """Return a value as it would be read aloud, cut where it would flood a line."""
    if value is None:
        return ABSENT
    return _cut(_said(value))


def _cut(text: str) -> str:
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"


def _said(value: Any) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{key} {_said(each)}" for key, each in value.items())
    if isinstance(value, list):
        return (
            "; ".join(_said(each) for each in value)
            if any(isinstance(each, dict) for each in value)
            else " ".join(map(_said, value))
        )
    return str(value)
