"""Reading a file as saved for its supplier: what is new in it is asked, and what is said of it is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import typer

from ledger.cli.common import is_asking, say
from ledger.cli.layout_choice import ChosenProfile, ProposedOptions
from ledger.cli.open_questions import refuse_open
from ledger.errors import InputErrors, Refused, ValueProblem
from ledger.intake.answers import read_answer
from ledger.intake.correct_profile import corrected_profile
from ledger.intake.profile import Profile
from ledger.intake.profile_gaps import date_gap, find_gaps
from ledger.intake.proposal import Answers, Question
from ledger.intake.saved_profiles import profile_path
from ledger.intake.shipment_frame import choose_sheet, find_columns
from ledger.intake.table import SourceFile
from ledger.intake.write_profile import profile_text

_HEAD = ("How this layout is read. Proposed by Blankbook and corrected since; every line may be changed.",)


def read_as_saved(
    book: Path, saved: Profile, source: SourceFile, options: ProposedOptions, currency: str
) -> ChosenProfile | None:
    """Return the saved profile, with what was said of this file in it; None where the file is laid out otherwise.

    ``currency`` is the book's. Raises Refused where something new is open and nobody can be asked.
    """
    path = profile_path(book, saved.party)
    misfit = _misfit(source, saved)
    if misfit:
        say(
            f"{source.name} is not laid out as files of {saved.party} were so far ({path}): {misfit} It is looked at "
            "afresh; once it is posted, how it is read takes the place of the saved layout. To keep both: "
            "blankbook receive … --propose --save FILE writes a profile, --profile FILE names it. Correct "
            'it with --as "…".'
        )
        return None
    say(f"Reading {source.name} as saved for {saved.party}: {path}")
    # --currency is of this one file; in a line of --as it is of the layout.
    answers = replace(options, currency="").answers()
    told = replace(options, currency=options.currency or answers.currency)
    profile, answers = _asked(saved, answers, source, told, currency)
    chosen = ChosenProfile(profile, date=answers.date, currency=options.currency or answers.currency)
    if not answers.of_layout:
        return chosen
    return replace(
        chosen,
        path=path,
        text=profile_text(profile, head=_HEAD),
        is_correction=True,
        is_dry_run=options.dry_run,
    )


def with_words_of(answers: Answers, saved: Profile | None) -> Answers:
    """Return the answers with what a saved profile knows of units and packs; what was said comes first."""
    if saved is None:
        return answers
    packs: Mapping[str, str] = {**saved.packs, **answers.packs}
    return replace(answers, packs=packs, units={**saved.units_by_item, **answers.units})


def _misfit(source: SourceFile, saved: Profile) -> str:
    """Return why the saved profile does not fit the file's columns, empty where it does."""
    try:
        find_columns(choose_sheet(source, saved), saved)
    except InputErrors as errors:
        return str(errors.problems[0]) if errors.problems else str(errors)
    return ""


def _open(
    profile: Profile, answers: Answers, source: SourceFile, options: ProposedOptions, currency: str
) -> list[Question]:
    told = options.currency or answers.currency
    questions = find_gaps(source, profile, currency=told, default_currency=currency)
    if options.needs_date and answers.date is None:
        questions += date_gap(source, profile)
    return questions


def _asked(
    saved: Profile, answers: Answers, source: SourceFile, options: ProposedOptions, currency: str
) -> tuple[Profile, Answers]:
    """Return the profile with all answers in it, asked for where somebody is there."""
    profile = corrected_profile(saved, answers, source) if answers.of_layout else saved
    questions = _open(profile, answers, source, options, currency)
    if not is_asking() or options.yes:
        refuse_open(questions)
    while questions:
        say("To be answered:\n" + "\n".join(f"  - {question}" for question in questions))
        line = str(typer.prompt("Your answer, or stop", default="", show_default=False, err=True)).strip()
        if line.casefold() in ("stop", "quit", "exit"):
            raise Refused("nothing was posted or saved.")
        if not line:
            continue
        try:
            told = read_answer(line, answers)
            changed = corrected_profile(saved, told, source) if told.of_layout else saved
        except (ValueProblem, InputErrors) as problem:
            say(str(problem))
            continue
        profile, answers = changed, told
        questions = _open(profile, answers, source, options, currency)
    return profile, answers
