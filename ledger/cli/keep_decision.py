"""`blankbook compare … --keep`: a decision kept in the book, to be looked back at with `blankbook review`."""

from __future__ import annotations

import sqlite3
from dataclasses import asdict
from pathlib import Path

import typer

from ledger.book.buying import find_goods, size_names
from ledger.book.catalogue_store import find_parties
from ledger.book.connect import write_tx
from ledger.book.decision_store import DecisionItem, DecisionSize, KeptDecision, keep, party_of
from ledger.book.shop import read_shop
from ledger.cli.common import agree, now, say, show, typed, writing
from ledger.cli.compare_decision import AskedStudy
from ledger.cli.compare_from_book import history_from_book
from ledger.cli.compare_options import DecisionWish
from ledger.errors import Refused
from ledger.intake.study_file import taken_from_history
from ledger.intake.whole_study import study_text
from ledger.sourcing.decide import Decision
from ledger.sourcing.hindsight import expected_of
from ledger.views.decision import sentence
from ledger.views.decision_sizes import home_by_size
from ledger.views.kept_decision import keep_preview


def keep_decision(
    context: typer.Context, wish: DecisionWish, asked: AskedStudy, decision: Decision, *, json: bool
) -> int | None:
    """Keep a decision where that is agreed to; return its number, None for a dry run.

    Raises Refused where the study counts in another currency than the book, or nobody agrees.
    """
    with writing(context) as connection:
        kept = _prepared(context, connection, wish, asked, decision)
        (say if json else show)(f"\n{keep_preview(kept)}")
        if not agree(
            "Keep this decision?", yes=wish.keep.yes, dry_run=wish.keep.dry_run, refused="nothing was kept"
        ):
            return None
        with write_tx(connection):
            kept = keep(connection, kept)
    say(f"Kept decision {kept.number}. Look back at it: {typed(context, f'review {kept.number}')}")
    return kept.number


def _prepared(
    context: typer.Context,
    connection: sqlite3.Connection,
    wish: DecisionWish,
    asked: AskedStudy,
    decision: Decision,
) -> KeptDecision:
    shop = read_shop(connection)
    if decision.study.currency != shop.currency:
        raise Refused(
            f"the study counts in {decision.study.currency} and the book in {shop.currency}, so what comes could not "
            f"be held against it: let the study count in {shop.currency}."
        )
    parties = list(find_parties(connection))
    expected = expected_of(decision)
    text, from_history = _whole_text(context, asked)
    figures = {name: value for name, value in asdict(expected).items() if name != "offer"}
    return KeptDecision(
        **figures,
        offer=expected.offer,
        kept_at=now(),
        decided_on=decision.study.today.isoformat(),
        subject=Path(wish.subject).name if wish.is_file else wish.subject,
        colour=wish.colour,
        from_book=not wish.is_file,
        from_history=from_history,
        currency=shop.currency,
        unit=decision.study.unit,
        horizon_months=decision.study.horizon_months,
        study=text,
        seed=decision.seed,
        futures=wish.futures,
        verdict=decision.verdict.word,
        sentence=sentence(decision),
        supplier=party_of(expected.offer, parties) if expected.offer else None,
        order_by=decision.order_by.isoformat() if decision.order_by else "",
        home_supplier=party_of(expected.home_offer, parties) if expected.home_offer else None,
        why=wish.keep.why,
        items=_items(connection, wish, asked, decision),
        sizes=_sizes(decision, expected.quantity),
    )


def _whole_text(context: typer.Context, asked: AskedStudy) -> tuple[str, str]:
    """Return the whole study as TOML, and the keys of its demand that the book's history gave."""
    if asked.text:
        return asked.text, ""
    taken = taken_from_history(asked.content, lambda name, colour: history_from_book(context, name, colour))
    demand = {**taken, **asked.content.get("demand", {})}
    return study_text({**asked.content, "demand": demand}), ",".join(sorted(taken))


def _items(
    connection: sqlite3.Connection, wish: DecisionWish, asked: AskedStudy, decision: Decision
) -> tuple[DecisionItem, ...]:
    """Return the items the decision is about, with the study's name of each; none where the book has none.

    Sizes the study does not speak of are none of its goods; where it tells no sizes apart, all of them are.
    """
    name = decision.study.sku if wish.is_file else wish.subject
    colour = str(asked.content.get("colour", "")) if wish.is_file else wish.colour
    if not name:
        return ()
    try:
        goods = find_goods(connection, name, colour, every_colour=True)
    except Refused:
        # A study may be of goods that the book does not have yet.
        return ()
    called = size_names(goods.items)
    sizes = {size.name for size in decision.study.demand.sizes}
    named = tuple(
        DecisionItem(item.sku, called[item.sku]) for item in goods.items if called[item.sku] in sizes
    )
    return named or tuple(DecisionItem(item.sku) for item in goods.items)


def _sizes(decision: Decision, quantity: int) -> tuple[DecisionSize, ...]:
    """Return how many of each size are bought; none where sizes are not told apart, or do not add up."""
    sizes, chosen = decision.study.demand.sizes, decision.verdict.chosen
    pieces = chosen.quantities if chosen.quantity else home_by_size(decision) or ()
    if len(sizes) == 1 or sum(pieces) != quantity:
        return ()
    return tuple(DecisionSize(size.name, each) for size, each in zip(sizes, pieces, strict=True))
