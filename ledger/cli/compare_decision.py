"""The buying decision for `blankbook compare`: from a study's file, or from the book's quotes and history."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import typer

from ledger.book.buying import Day, Goods, find_goods, find_market
from ledger.book.demand_history import own_history
from ledger.book.shop import read_shop
from ledger.cli.common import reading, say, show, show_json, today, typed
from ledger.cli.compare_options import DecisionWish
from ledger.errors import BookMissing, InputErrors, Refused, UsageError, ValueProblem
from ledger.intake.book_study import BookStudy, book_study
from ledger.intake.paying_rates import PayingRates, read_typed_rates
from ledger.intake.study_differences import differences, with_difference
from ledger.intake.study_file import HistoryOf, content_of, read_content, study_from
from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.own_history import OwnHistory
from ledger.sourcing.study import Study
from ledger.views import decision as view
from ledger.views import moved_answers as moved_view
from ledger.views import own_study as own_view

MOST_DIFFERENCES = 12
"""More figures that differ are not taken one by one: each costs a decision of its own."""


@dataclass(frozen=True)
class Asked:
    """A study that is asked about: its tables as they stand, what they mean, and what the book said."""

    name: str
    content: Mapping[str, Any]
    study: Study
    own: BookStudy | None = None


def answer_where_to_buy(context: typer.Context, wish: DecisionWish, *, json: bool) -> None:
    """Print the decision; write the study and say what moved the answer where that was asked for.

    Raises Refused where the book has no offer or no history to decide from, StudyErrors naming what is
    wrong in a study.
    """
    _check(wish)
    if wish.is_file:
        path = Path(wish.subject)
        content = read_content(path)
        asked = Asked(path.name, content, study_from(content, path.name, today(), _history_of(context)))
    else:
        found = _from_book(context, wish)
        if found is None:
            return
        asked = found
    decision = decide(asked.study, wish.futures, wish.seed)
    moved = _moved(context, wish, asked, decision) if wish.against else None
    if json:
        data = view.decision_as_data(decision)
        if asked.own is not None:
            data |= own_view.own_study_as_data(asked.own.history)
        if moved is not None:
            data["against"] = moved_view.moved_as_data(moved)
        show_json(data)
        return
    show(view.decision_text(decision))
    if asked.own is not None:
        show(f"\n{own_view.own_study_text(asked.own.history)}")
        say(f"Change any of it: {typed(context, f'compare {_words(wish)} --write-study study.toml')}")
    if moved is not None:
        show(f"\n{moved_view.moved_text(moved)}")
    if wish.explain:
        from ledger.views.decision_formulas import explain_text  # noqa: PLC0415  (only where it is asked for)

        show(f"\n{explain_text(decision)}")


def _words(wish: DecisionWish) -> str:
    import shlex  # noqa: PLC0415  (only for this sentence)

    colour = f" --colour {shlex.quote(wish.colour)}" if wish.colour else ""
    return f"{shlex.quote(wish.subject)}{colour}"


def _check(wish: DecisionWish) -> None:
    for option, name in (("--write-study", wish.write_study), ("--against", wish.against)):
        if name and Path(name).suffix.lower() != ".toml":
            raise UsageError(f"{option}: let the name end in .toml, not '{name}'.")
    if wish.write_study and wish.is_file:
        raise UsageError(
            "--write-study writes what the book gives: name an SKU or a style instead of a file."
        )
    if wish.write_study and Path(wish.write_study).exists():
        raise Refused(f"{wish.write_study} is there already and may hold your changes: name another file.")


def _from_book(context: typer.Context, wish: DecisionWish) -> Asked | None:
    """Return the study the book gives; None where it was written and has no demand to decide by yet."""
    own, currency_words = _own_study(context, wish)
    if wish.write_study:
        _write(Path(wish.write_study), own.text)
        say(f"Wrote {wish.write_study}.")
    if not own.offers:
        raise Refused(_no_offer(context, own))
    if own.history.is_empty:
        if wish.write_study:
            say(f"None of {own.label} left the shelf yet: fill in [demand] in it, then compare it.")
            return None
        raise Refused(
            f"none of {own.label} left the shelf yet (used, sold, given as a sample), so the book does not say "
            "what will be wanted. Write the study and put in how many you expect: "
            f"{typed(context, f'compare {_words(wish)} --write-study study.toml')}"
        )
    content = content_of(own.text, own.label)
    study = study_from(content, own.label, today())
    remarks = (*study.remarks, *own.remarks, *currency_words)
    return Asked(own.label, content, replace(study, remarks=remarks), own)


def _own_study(context: typer.Context, wish: DecisionWish) -> tuple[BookStudy, tuple[str, ...]]:
    now = today()
    with reading(context) as connection:
        shop = read_shop(connection)
        try:
            given = read_typed_rates(list(wish.rates), shop.currency)
        except ValueProblem as problem:
            raise UsageError(f"--rate: {problem}") from problem
        rates = PayingRates(connection, shop.currency, now, given, {})
        goods = find_goods(connection, wish.subject, wish.colour)
        market = find_market(connection, shop, goods, Day(now, now), rates.rate_of)
        found = book_study(connection, shop, market, now)
    words = tuple(
        f"one {code} is taken as {float(rate.rate):.6g} {shop.currency}: {rate.source}."
        for code, rate in rates.used.items()
    )
    return found, words


def _no_offer(context: typer.Context, own: BookStudy) -> str:
    out = "\n".join(f"  - {each}" for each in own.remarks)
    if out:
        return f"no offer for {own.label} can be studied:\n{out}"
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


def _history_of(context: typer.Context) -> HistoryOf:
    """Return what looks up the book's history of an SKU or style that a study names."""

    def found(name: str) -> OwnHistory:
        try:
            with reading(context) as connection:
                goods: Goods = find_goods(connection, name)
                return own_history(connection, goods.label, goods.items, _day())
        except (BookMissing, UsageError) as problem:
            raise Refused(f"'{name}' could not be looked up: {problem}") from problem

    return found


def _day() -> datetime.date:
    return today()


def _moved(
    context: typer.Context, wish: DecisionWish, asked: Asked, decision: Decision
) -> moved_view.MovedAnswer:
    """Return the other study's answer, and what each figure that differs makes of it alone."""
    path = Path(wish.against)
    before = read_content(path)
    history_of = _history_of(context)
    first = decide(study_from(before, path.name, today(), history_of), wish.futures, wish.seed)
    every = differences(before, asked.content)
    steps = []
    for difference in every[:MOST_DIFFERENCES]:
        changed = with_difference(before, asked.content, difference)
        try:
            study = study_from(changed, path.name, today(), history_of)
            alone = decide(study, wish.futures, wish.seed)
        except (ValueProblem, InputErrors):
            # Some figures only make sense together: an offer's currency without its rate, for one.
            steps.append(moved_view.Step(difference, None))
            continue
        steps.append(moved_view.Step(difference, alone))
    return moved_view.MovedAnswer(path.name, asked.name, first, decision, tuple(steps), len(every))
