"""Where a study's figures come from: its file, the book's quotes, reference rates, or nobody at all."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ledger.errors import RateUnknown
from ledger.exact.numbers import show_fraction
from ledger.intake.reference_rates import reference_rate
from ledger.sourcing.own_history import OwnHistory
from ledger.sourcing.quote import Quote
from ledger.sourcing.study import Study, StudyOffer


@dataclass(frozen=True)
class UsedRate:
    """A rate that was reckoned with: how much of the study's currency one of another is, and its source."""

    currency: str
    rate_text: str
    source: str


@dataclass(frozen=True)
class StudySources:
    """Where the figures of one study come from.

    Attributes:
        label: what is decided on.
        made_from: the file or the book, in words.
        is_from_book: whether the book's quotes and history are the study.
        stated: the keys of [money] and [limits], and of the head, that the study states.
        rates: every rate of another currency.
        quotes: the book's own quotes by the name of their offer, with the day they were given.
        history: what the book's own records say, None where the study says it.
    """

    label: str
    made_from: str
    is_from_book: bool = False
    stated: frozenset[str] = frozenset()
    rates: tuple[UsedRate, ...] = ()
    quotes: Mapping[str, Quote] = field(default_factory=dict)
    history: OwnHistory | None = None


def sources_of_file(name: str, content: Mapping[str, Any], study: Study) -> StudySources:
    """Return where the figures of a study's file come from: most from the file itself."""
    offers = content.get("offer", [])
    rates = [
        _rate_of(offer, table, study)
        for offer, table in zip(study.offers, offers, strict=False)
        if offer.quote.currency != study.currency
    ]
    return StudySources(
        label=name.removesuffix(".toml"),
        made_from=f"the study {name}",
        stated=stated_keys(content),
        rates=tuple(dict.fromkeys(rates)),
    )


def stated_keys(content: Mapping[str, Any]) -> frozenset[str]:
    """Return the places of a study that it states itself: 'horizon_months', '[money] capital_per_year'."""
    found = {key for key, value in content.items() if not isinstance(value, (dict, list))}
    for table in ("money", "limits"):
        found |= {f"[{table}] {key}" for key in content.get(table, {})}
    return frozenset(found)


def _rate_of(offer: StudyOffer, table: Mapping[str, Any], study: Study) -> UsedRate:
    """Return the rate of an offer's currency, as stated or as the reference rates of the day have it."""
    source = "as the study states it; it gives no date"
    if "exchange_rate" not in table:
        source = _reference_words(offer.quote.currency, study.currency, study.today)
    return UsedRate(offer.quote.currency, show_fraction(offer.entry.rate, 10), source)


def _reference_words(currency: str, own: str, on: datetime.date) -> str:
    try:
        found = reference_rate(currency, own, on)
    except RateUnknown:
        return "not known"
    return f"{found.source_name} of {found.rate_date.isoformat()}"
