"""The buying decision for `blankbook compare`: from a study's file, or from the book's quotes and history.

What only the one or the other needs is imported where it is needed: a study's file has no use for the book.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from ledger.cli.common import say, show, show_json, today, typed
from ledger.cli.compare_files import check_files, write_decision_files
from ledger.cli.compare_options import NO_FILES, DecisionWish
from ledger.cli.waiting import working
from ledger.errors import Refused, UsageError
from ledger.exact.words import typed_word
from ledger.intake.study_file import HistoryOf, read_content, study_from
from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.own_history import OwnHistory
from ledger.sourcing.study import Study
from ledger.views import decision as view

if TYPE_CHECKING:
    from ledger.intake.study_sources import StudySources
    from ledger.views.moved_answers import MovedAnswer


@dataclass(frozen=True)
class AskedStudy:
    """A study that is asked about: its tables as they stand, what they mean, the history of one from the book."""

    name: str
    content: Mapping[str, Any]
    study: Study
    history: OwnHistory | None = None
    text: str = ""
    sources: StudySources | None = None


def answer_where_to_buy(context: typer.Context, wish: DecisionWish, *, json: bool) -> None:
    """Print the decision; write the study and say what moved the answer where that was asked for.

    Raises Refused where the book has no offer or no history to decide from, StudyErrors naming what is
    wrong in a study.
    """
    _check(wish)
    check_files(wish.files)
    asked = _asked(context, wish)
    if asked is None:
        return
    with working("Working it out"):
        decision = decide(asked.study, wish.futures, wish.seed)
    moved = _moved(context, wish, asked, decision) if wish.against else None
    if json:
        data = _as_data(asked, decision, moved)
        if wish.keep.is_wanted:
            data["kept"] = _keep(context, wish, asked, decision, json=True)
        show_json(data)
        _write_files(wish, asked, decision)
        return
    show(view.decision_text(decision))
    if asked.history is not None:
        from ledger.views.own_study import own_study_text  # noqa: PLC0415  (only for a study from the book)

        show(f"\n{own_study_text(asked.history)}")
        if not wish.write_study:
            say(
                f"Change any of it: {typed(context, f'compare {goods_words(wish)} --write-study study.toml')}"
            )
    if moved is not None:
        from ledger.views.moved_answers import moved_text  # noqa: PLC0415  (only where it is asked for)

        show(f"\n{moved_text(moved)}")
    if wish.explain:
        from ledger.views.decision_formulas import explain_text  # noqa: PLC0415  (only where it is asked for)

        show(f"\n{explain_text(decision)}")
    _write_files(wish, asked, decision)
    if wish.keep.is_wanted:
        _keep(context, wish, asked, decision, json=False)


def _write_files(wish: DecisionWish, asked: AskedStudy, decision: Decision) -> None:
    if wish.files == NO_FILES:
        return
    from ledger.intake.study_sources import sources_of_file  # noqa: PLC0415  (only where it is asked for)

    sources = asked.sources or sources_of_file(asked.name, asked.content, asked.study)
    write_decision_files(wish.files, decision, sources)


def _keep(
    context: typer.Context, wish: DecisionWish, asked: AskedStudy, decision: Decision, *, json: bool
) -> int | None:
    """Keep the decision where that is agreed to; its number, None for a dry run."""
    from ledger.cli.keep_decision import keep_decision  # noqa: PLC0415  (only where it is asked for)

    return keep_decision(context, wish, asked, decision, json=json)


def goods_words(wish: DecisionWish) -> str:
    """Return the goods as they would be typed."""
    colour = f" --colour {typed_word(wish.colour)}" if wish.colour else ""
    return f"{typed_word(wish.subject)}{colour}"


def _as_data(asked: AskedStudy, decision: Decision, moved: MovedAnswer | None) -> dict[str, Any]:
    from ledger.views.decision_data import decision_as_data  # noqa: PLC0415  (only for scripts)

    data = decision_as_data(decision)
    if asked.history is not None:
        from ledger.views.own_study import own_study_as_data  # noqa: PLC0415  (only for a study from the book)

        data |= own_study_as_data(asked.history)
    if moved is not None:
        from ledger.views.moved_answers import moved_as_data  # noqa: PLC0415  (only where it is asked for)

        data["against"] = moved_as_data(moved)
    return data


def _check(wish: DecisionWish) -> None:
    if wish.keep.typed and not wish.keep.is_wanted:
        raise UsageError(f"{' and '.join(wish.keep.typed)} goes with --keep: add it, or leave the other out.")
    for option, name in (("--write-study", wish.write_study), ("--against", wish.against)):
        if name and Path(name).suffix.lower() != ".toml":
            raise UsageError(f"{option}: let the name end in .toml, not '{name}'.")
    if wish.write_study and wish.is_file:
        raise UsageError(
            "--write-study writes what the book gives: name an SKU or a style instead of a file."
        )
    if wish.write_study and Path(wish.write_study).exists():
        raise Refused(f"{wish.write_study} is there already and may hold your changes: name another file.")


def _asked(context: typer.Context, wish: DecisionWish) -> AskedStudy | None:
    if not wish.is_file:
        from ledger.cli.compare_from_book import study_from_book  # noqa: PLC0415  (slow to import)

        return study_from_book(context, wish)
    path = Path(wish.subject)
    content = read_content(path)
    return AskedStudy(path.name, content, study_from(content, path.name, today(), _history_of(context)))


def _history_of(context: typer.Context) -> HistoryOf:
    """Return what looks up the book's history of an SKU or style that a study names."""

    def found(name: str, colour: str) -> OwnHistory:
        from ledger.cli.compare_from_book import history_from_book  # noqa: PLC0415  (slow to import)

        return history_from_book(context, name, colour)

    return found


def _moved(context: typer.Context, wish: DecisionWish, asked: AskedStudy, decision: Decision) -> MovedAnswer:
    """Return the other study's answer, and what each figure that differs makes of it alone."""
    from ledger.cli.moved_steps import steps_between  # noqa: PLC0415  (as above)
    from ledger.views.moved_answers import MovedAnswer  # noqa: PLC0415  (as above)

    path = Path(wish.against)
    before, history_of = read_content(path), _history_of(context)
    first = decide(study_from(before, path.name, today(), history_of), wish.futures, wish.seed)

    def decided(content: Mapping[str, Any]) -> Decision:
        study = study_from(content, path.name, today(), history_of)
        return decide(study, wish.futures, wish.seed, looks_ahead=False)

    steps, count = steps_between(before, asked.content, decided)
    return MovedAnswer(path.name, asked.name, first, decision, steps, count)
