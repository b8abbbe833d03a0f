"""A study's tables written as TOML whole, and the same with what really came put in."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from ledger.exact.numbers import show_fraction
from ledger.intake.study_demand import RATE_KEYS
from ledger.intake.study_history import history_table
from ledger.intake.write_profile import key_text, toml_value
from ledger.sourcing.expected_days import ENOUGH_ORDERS
from ledger.sourcing.own_history import OwnHistory, days_outside, days_without_stock

_PLACES = 8
_DAYS = ("days_out_of_stock", "days_outside")
_BY_MONTH = (*_DAYS, "sd_per_month")


def study_text(content: Mapping[str, Any]) -> str:
    r"""Return a study's tables as TOML: figures first, then its tables, then its offers.

    >>> print(study_text({"currency": "USD", "demand": {"sizes": {"M": 1}}, "offer": [{"name": "a"}]}))
    currency = "USD"
    <BLANKLINE>
    [demand]
    sizes = {M = 1}
    <BLANKLINE>
    [[offer]]
    name = "a"
    <BLANKLINE>
    """
    plain = {key: value for key, value in content.items() if not isinstance(value, dict) and key != "offer"}
    lines = [f"{key_text(key)} = {_value(value)}" for key, value in plain.items()]
    for key, table in content.items():
        if isinstance(table, dict):
            lines += ["", f"[{key_text(key)}]", *_entries(table)]
    for offer in content.get("offer", ()):
        lines += ["", "[[offer]]", *_entries(offer)]
    return "\n".join(lines) + "\n"


def _entries(table: Mapping[str, Any]) -> list[str]:
    return [f"{key_text(key)} = {_value(value)}" for key, value in table.items()]


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key_text(key)} = {_value(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return toml_value(value)


@dataclass(frozen=True)
class Came:
    """What really came of a study's goods and of one of its offers.

    Attributes:
        history: what was wanted since, None where that says too little.
        offer: the name of the offer that was bought from; empty where nothing came.
        price_factor: what its prices must be taken times for its landed cost to be what it was; None for none.
        took_days: the days from order to arrival of each order.
    """

    history: OwnHistory | None = None
    offer: str = ""
    price_factor: Fraction | None = None
    took_days: tuple[int, ...] = ()


def with_what_came(content: Mapping[str, Any], came: Came) -> dict[str, Any]:
    """Return a study's tables with demand, prices and lead time as they turned out to be, the stock as it was.

    Months of demand come after those of its own history, or in the place of what was only stated.
    Fewer than three orders move the mean of the lead time and leave its spread.
    """
    changed = dict(content)
    if came.history is not None:
        changed["demand"] = _demand(dict(content.get("demand", {})), came.history)
    offers = [dict(each) for each in content.get("offer", ())]
    for offer in offers:
        if offer.get("name") != came.offer:
            continue
        if came.price_factor is not None:
            _times(offer, came.price_factor)
        if came.took_days:
            offer["lead_time"] = _lead(dict(offer.get("lead_time", {})), came.took_days)
    if offers:
        changed["offer"] = offers
    return changed


def _demand(demand: dict[str, Any], history: OwnHistory) -> dict[str, Any]:
    """Return a [demand] with the months since: after those of its own history, in the place of a guess."""
    kept = {key: value for key, value in demand.items() if key not in (*RATE_KEYS, *_BY_MONTH)}
    since = history_table(history) if not history.is_empty else _nothing_wanted(history)
    earlier = list(demand.get("history", ()))
    taken: dict[str, Any] = {"history": [*earlier, *since["history"]]}
    for key in _DAYS:
        days = [
            *_each_month(demand.get(key, 0), len(earlier)),
            *_each_month(since.get(key, 0), len(since["history"])),
        ]
        if any(days):
            taken[key] = days
    return {**taken, **kept}


def _nothing_wanted(history: OwnHistory) -> dict[str, Any]:
    """Return months in which nothing was wanted: they count as they are, and their sizes say nothing."""
    found = history_table(history)
    outside = days_outside(history)
    out = [
        max(Fraction(0), all_in - none_of)
        for all_in, none_of in zip(days_without_stock(history), outside, strict=True)
    ]
    tenths = {"days_out_of_stock": out, "days_outside": outside}
    days = {key: [Decimal(show_fraction(each, 1)) for each in values] for key, values in tenths.items()}
    return {**found, "history": [0] * len(history.months), **days}


def _each_month(value: Any, months: int) -> list[Any]:
    """Return one figure for each month, where one may stand for all of them."""
    return list(value) if isinstance(value, list) else [value] * months


def _times(offer: dict[str, Any], factor: Fraction) -> None:
    if "breaks" in offer:
        offer["breaks"] = _breaks(offer["breaks"], factor)
    if "prices" in offer:
        offer["prices"] = [
            {**row, "breaks": _breaks(row.get("breaks", []), factor)} for row in offer["prices"]
        ]


def _breaks(breaks: list[dict[str, Any]], factor: Fraction) -> list[dict[str, Any]]:
    return [
        {**row, "price": show_fraction(Fraction(str(row["price"])) * factor, _PLACES)}
        if "price" in row
        else row
        for row in breaks
    ]


def _lead(lead: dict[str, Any], took_days: tuple[int, ...]) -> dict[str, Any]:
    if len(took_days) >= ENOUGH_ORDERS:
        return {"samples": list(took_days)}
    mean = show_fraction(Fraction(sum(took_days), len(took_days)), 1)
    rest = {key: value for key, value in lead.items() if key not in ("samples", "working_days", "mean_days")}
    return {"mean_days": Decimal(mean), **rest}
