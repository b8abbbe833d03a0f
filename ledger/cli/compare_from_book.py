"""The study that `blankbook compare SKU` and `compare STYLE` decide: the book's quotes, history and stock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import typer

from ledger.book.buying import Day, find_goods, find_market
from ledger.book.demand_history import own_history
from ledger.book.shop import read_shop
from ledger.cli.common import book_path, reading, say, today, typed
from ledger.cli.compare_decision import AskedStudy, goods_words
from ledger.cli.compare_options import DecisionWish
from ledger.errors import BookMissing, Refused, UsageError, ValueProblem
from ledger.exact.numbers import show_fraction
from ledger.intake.book_study import BookStudy, book_study
from ledger.intake.paying_rates import PayingRate, PayingRates, read_typed_rates
from ledger.intake.study_file import content_of, study_from
from ledger.intake.study_sources import StudySources, UsedRate, stated_keys
from ledger.sourcing.own_history import OwnHistory
from ledger.sourcing.quote import Quote
from ledger.sourcing.study import Study, StudyOffer


def study_from_book(context: typer.Context, wish: DecisionWish) -> AskedStudy | None:
    """Return the study the book gives; None where it was written and has no demand to decide by yet.

    Raises Refused where nobody offers the goods, or nothing of them ever left the shelf.
    """
    found = _own_study(context, wish)
    own = found.study
    if not own.lead_words:
        raise Refused(_no_offer(context, own))
    if wish.write_study:
        _write(Path(wish.write_study), own.text)
        say(f"Wrote {wish.write_study}.")
    if own.history.is_empty:
        if wish.write_study:
            say(f"None of {own.label} left the shelf yet: fill in [demand] in it, then compare it.")
            return None
        raise Refused(
            f"none of {own.label} left the shelf yet (used, sold, given as a sample), so the book does not say "
            "what will be wanted. Write the study and put in how many you expect: "
            f"{typed(context, f'compare {goods_words(wish)} --write-study study.toml')}"
        )
    content = content_of(own.text, own.label)
    study = study_from(content, own.label, today())
    return AskedStudy(
        own.label,
        content,
        replace(
            study,
            offers=tuple(_with_words(offer, own.lead_words) for offer in study.offers),
            remarks=(*study.remarks, *own.left_out, *own.remarks, _days_apart(study)),
        ),
        own.history,
        own.text,
        found.sources(content),
    )


def _days_apart(study: Study) -> str:
    """Return that the plan tells another day to order by, and why."""
    together = len(study.demand.sizes) > 1
    return (
        f"a day to order by here goes by the rate expected{' of all of them together' if together else ''}; 'plan' "
        f"tells {'each its own' if together else 'another'}, often an earlier one, for it also counts that a rate "
        "seen for a short time is uncertain."
    )


def _with_words(offer: StudyOffer, words: Mapping[str, str]) -> StudyOffer:
    """Return an offer of a study with who says how long it takes by the book."""
    return replace(offer, lead_words=words.get(offer.name) or offer.lead_words)


def history_from_book(context: typer.Context, name: str, colour: str) -> OwnHistory:
    """Return the book's history of an SKU or style that a study names.

    Raises Refused where there is no book to look in, or it has neither.
    """
    try:
        with reading(context) as connection:
            goods = find_goods(connection, name, colour, every_colour=True)
            return own_history(connection, goods.label, goods.items, today())
    except (BookMissing, UsageError) as problem:
        raise Refused(f"'{name}' could not be looked up: {problem}") from problem


@dataclass(frozen=True)
class _Found:
    """A study from the book, with the quotes and rates it was made of."""

    study: BookStudy
    quotes: Mapping[str, Quote]
    rates: Mapping[str, PayingRate]
    book: str

    def sources(self, content: Mapping[str, Any]) -> StudySources:
        """Return where its figures come from."""
        return StudySources(
            label=self.study.label,
            made_from=f"the book {self.book}",
            is_from_book=True,
            stated=stated_keys(content),
            rates=tuple(
                UsedRate(code, show_fraction(rate.rate, 10), rate.source) for code, rate in self.rates.items()
            ),
            quotes=self.quotes,
            history=self.study.history,
        )


def _own_study(context: typer.Context, wish: DecisionWish) -> _Found:
    now = today()
    with reading(context) as connection:
        shop = read_shop(connection)
        try:
            given = read_typed_rates(list(wish.rates), shop.currency)
        except ValueProblem as problem:
            raise UsageError(f"--rate: {problem}") from problem
        rates = PayingRates(connection, shop.currency, now, given, {})
        goods = find_goods(connection, wish.subject, wish.colour, every_colour=True)
        market = find_market(connection, shop, goods, Day(now, now), rates.rate_of)
        found = book_study(connection, shop, market, now)
    words = tuple(
        f"one {code} is taken as {float(rate.rate):.6g} {shop.currency}: {rate.source}."
        for code, rate in rates.used.items()
    )
    return _Found(
        replace(found, remarks=(*found.remarks, *words)),
        {quote.name: quote for quote in market.quotes},
        rates.used,
        book_path(context).name,
    )


def _no_offer(context: typer.Context, own: BookStudy) -> str:
    reasons = "\n".join(f"  - {each}" for each in own.left_out)
    if reasons:
        return f"no offer for {own.label} can be studied:\n{reasons}"
    return (
        f"nobody offers {own.label}: the book has no quote for it. Enter what suppliers offer: "
        f"{typed(context, 'quotes template quotes.xlsx')}"
    )


def _write(path: Path, text: str) -> None:
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except OSError as error:
        raise Refused(f"{path} cannot be written: {error.strerror}.") from error
