"""Reading a file that no profile was named for: the saved one of its party, or one proposed and confirmed."""

from __future__ import annotations

import shlex
import sqlite3
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

import typer

from ledger.book.alias_store import change_aliases, find_aliases
from ledger.book.catalogue_store import ensure_party, find_items, find_ladders
from ledger.book.connect import write_tx
from ledger.cli.common import book_path, is_asking, now, say, show, show_json
from ledger.errors import InputErrors, Refused, UsageError, ValueProblem
from ledger.exact.currencies import read_currency
from ledger.intake.aliases import Matcher, Unknown
from ledger.intake.answers import FORMS, read_answer, read_answers
from ledger.intake.profile import DATE_ORDERS, Profile
from ledger.intake.proposal import Answers, CatalogueWords, Proposal
from ledger.intake.propose import NEW_BLANK, propose_profile, sample_draft
from ledger.intake.records import normal_heading
from ledger.intake.saved_profiles import (
    catalogue_words,
    fitting_profiles,
    profile_path,
    save_text,
    saved_profile,
)
from ledger.intake.shipment import ShipmentDraft
from ledger.intake.table import SourceFile
from ledger.intake.write_profile import proposal_text
from ledger.views import proposals

As = Annotated[
    list[str] | None,
    typer.Option("--as", help='Correct how an unknown layout is read: "F=unit price". Repeat as needed.'),
]
Order = Annotated[str, typer.Option("--date-order", help='Of an unknown layout: "day month year".')]
Comma = Annotated[
    bool | None,
    typer.Option("--decimal-comma/--decimal-point", help="Of an unknown layout: 4,10 or 4.10."),
]
Accept = Annotated[
    bool, typer.Option("--accept", help="Take a proposal without open questions, and save it.")
]
Propose = Annotated[bool, typer.Option("--propose", help="Only show how the file would be read.")]
Save = Annotated[
    str, typer.Option("--save", metavar="FILE", help="With --propose: write the profile there, to edit it.")
]

FEWEST_OF_THE_FILL_IN = 5
STOP = ("stop", "quit", "exit")


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposedOptions:
    """What the command line says about a file without a named profile."""

    party: str = ""
    corrections: tuple[str, ...] = ()
    date_order: str = ""
    decimal_comma: bool | None = None
    currency: str = ""
    accept: bool = False
    propose: bool = False
    save: str = ""
    yes: bool = False
    dry_run: bool = False
    json: bool = False

    @property
    def has_any(self) -> bool:
        """Whether anything was said that only a proposal can use."""
        return bool(
            self.corrections
            or self.date_order
            or self.decimal_comma is not None
            or self.accept
            or self.propose
            or self.save
        )

    def answers(self) -> Answers:
        """Return what the options answer. Raises InputErrors or UsageError for what is not understood."""
        answers = read_answers(self.corrections)
        if self.date_order:
            order = " ".join(self.date_order.casefold().replace("-", " ").split())
            if order not in DATE_ORDERS:
                raise UsageError(f"'{self.date_order}': --date-order is {', '.join(DATE_ORDERS)}.")
            answers = replace(answers, date_order=order)
        if self.decimal_comma is not None:
            answers = replace(answers, decimal_comma=self.decimal_comma)
        return replace(answers, currency=read_currency(self.currency)) if self.currency else answers


def is_fill_in(source: SourceFile, fill_in: Profile) -> bool:
    """Return whether a file is the fill-in sheet: its row of headings, perhaps with some gone, is there."""
    if not source.sheets:
        return True
    wanted = {normal_heading(heading) for headings in fill_in.columns.values() for heading in headings}
    return any(
        len(wanted & {normal_heading(cell.text) for cell in row}) >= FEWEST_OF_THE_FILL_IN
        for sheet in source.sheets
        for row, number in zip(sheet.rows, sheet.row_numbers, strict=True)
        if number == fill_in.header_row
    )


def with_new_blanks(profile: Profile) -> Profile:
    """Return the profile with new items taken as blanks, where it has sizes and does not say what they are."""
    has_sizes = bool(profile.sizes_across) or "size" in profile.columns
    if profile.new_item.get("kind") or not has_sizes:
        return profile
    return replace(profile, new_item={**NEW_BLANK, **profile.new_item})


def profile_for(
    context: typer.Context, connection: sqlite3.Connection, source: SourceFile, options: ProposedOptions
) -> Profile | None:
    """Return the profile to read a file by; None where the proposal was only to be shown.

    Raises Refused where a question is open, or the proposal was not accepted, and nobody can be asked.
    """
    book = book_path(context)
    if not options.propose:
        saved = _saved(book, source, options.party)
        if saved is not None:
            if options.has_any:
                raise UsageError(
                    f"{saved.source} is saved for {saved.party or 'this layout'} and would be read as it stands. "
                    f"Change it there, or propose another beside it: --propose --save FILE."
                )
            say(f"Reading {source.name} as saved for {saved.party}: {profile_path(book, saved.party)}")
            return saved
    words = catalogue_words(connection, options.party)
    answers = options.answers()
    proposal = propose_profile(source, words, party=options.party, answers=answers)
    named = proposal.decision("party")
    if not options.party and named is not None:
        options = replace(options, party=named.taken_as)
        if not options.propose and (saved := saved_profile(book, options.party)) is not None:
            say(f"Reading {source.name} as saved for {saved.party}: {profile_path(book, saved.party)}")
            return saved
        words = catalogue_words(connection, options.party)
        proposal = propose_profile(source, words, party=options.party, answers=answers)
    if options.propose:
        _only_show(source, proposal, options)
        return None
    return _agreed(book, source, proposal, words, answers, options)


def _saved(book: Path, source: SourceFile, party: str) -> Profile | None:
    """Return the saved profile of the party, or where none is named the only one that fits the file."""
    if party:
        return saved_profile(book, party)
    fitting = fitting_profiles(book, source)
    if len(fitting) > 1:
        names = ", ".join(profile.party or profile.name for profile in fitting)
        raise UsageError(f"the saved profiles of {names} all fit {source.name}: name one with --party.")
    return fitting[0] if fitting and fitting[0].party else None


def _sample(source: SourceFile, proposal: Proposal, currency: str) -> ShipmentDraft | InputErrors:
    try:
        return sample_draft(source, proposal, currency=currency)
    except InputErrors as errors:
        return errors


def _show(source: SourceFile, proposal: Proposal, options: ProposedOptions) -> None:
    sample = _sample(source, proposal, proposal.profile.currency)
    (say if options.json else show)(proposals.proposal_text(source.name, proposal, sample))


def _only_show(source: SourceFile, proposal: Proposal, options: ProposedOptions) -> None:
    _show(source, proposal, options)
    if options.json:
        show_json(proposals.as_data(proposal, _sample(source, proposal, proposal.profile.currency)))
    if options.save:
        path = Path(options.save)
        if path.exists():
            raise UsageError(f"{path} exists already. Choose another name.")
        save_text(path, proposal_text(proposal))
        still = " Answer what is open in it first." if proposal.questions else ""
        say(f"Wrote {path}.{still} Then: blankbook receive {shlex.quote(source.name)} --profile {path}")
    else:
        say("Nothing was posted or saved: this was only the proposal.")


def _agreed(
    book: Path,
    source: SourceFile,
    proposal: Proposal,
    words: CatalogueWords,
    answers: Answers,
    options: ProposedOptions,
) -> Profile:
    """Return the proposal as a person takes it, saved beside the book."""
    party = options.party
    if is_asking() and not (options.yes or options.accept):
        party = party or typer.prompt("Whose layout is this? The supplier's name", err=True).strip()
        proposal = _corrected(source, proposal, words, answers, replace(options, party=party))
    else:
        _show(source, proposal, options)
        _refuse_open(proposal)
    profile = replace(proposal.profile, party=party)
    if options.dry_run and not options.accept:
        say("The proposal was not saved: this was a dry run. Take it with --accept.")
        return profile
    if not (options.accept or is_asking()):
        raise Refused(
            "nothing was posted: the proposal above is not confirmed. Take and save it with --accept, correct "
            f'it with --as "{FORMS[0]}", or write it down to edit: --propose --save FILE.'
        )
    if not party:
        raise Refused(
            "nothing was posted: the proposal is saved under the supplier's name. Add --party NAME."
        )
    path = profile_path(book, party)
    save_text(path, proposal_text(replace(proposal, profile=profile)))
    say(f"Saved how files of {party} are read: {path}. The next one needs no questions.")
    return profile


def _refuse_open(proposal: Proposal) -> None:
    if not proposal.questions:
        return
    count = len(proposal.questions)
    lines = [f"nothing was posted: {count} {'question is' if count == 1 else 'questions are'} open."]
    lines += [f"  - {question.text} Add {_options_of(question.answers)}" for question in proposal.questions]
    raise Refused("\n".join(lines))


def _options_of(answers: tuple[str, ...]) -> str:
    """Return the options that give these answers."""
    options = []
    for answer in answers:
        if answer.startswith("date order "):
            options.append(f"--date-order {shlex.quote(answer.removeprefix('date order '))}")
        elif answer in ("decimal comma", "decimal point"):
            options.append(f"--{answer.replace(' ', '-')}")
        elif answer.startswith("currency "):
            options.append(f"--{answer}")
        else:
            options.append(f"--as {shlex.quote(answer)}")
    return " or ".join(options)


def _corrected(
    source: SourceFile,
    proposal: Proposal,
    words: CatalogueWords,
    answers: Answers,
    options: ProposedOptions,
) -> Proposal:
    """Show the proposal and take corrections, line by line, until Enter takes it."""
    _show(source, proposal, options)
    while True:
        line = typer.prompt(
            f"Enter to take it, or correct it ({', '.join(FORMS[:4])})",
            default="",
            show_default=False,
            err=True,
        ).strip()
        if line.casefold() in STOP:
            raise Refused("nothing was posted or saved.")
        if not line:
            if not proposal.questions:
                return proposal
            say("Still open:\n" + "\n".join(f"  - {question}" for question in proposal.questions))
            continue
        try:
            answers = read_answer(line, answers)
            proposal = propose_profile(source, words, party=options.party, answers=answers)
        except (ValueProblem, InputErrors) as problem:
            say(str(problem))
            continue
        _show(source, proposal, options)


@dataclass(frozen=True)
class AskItem:
    """Asks which item a name means, and teaches the answer to the book unless it is a dry run."""

    connection: sqlite3.Connection
    teach: bool

    def __call__(self, unknown: Unknown) -> str:
        """Return the SKU, empty where the person leaves it open."""
        items = find_items(self.connection)
        say(f"{unknown.where}: what is {unknown.party or 'the supplier'}'s '{unknown.word}'?")
        for number, guess in enumerate(unknown.guesses, 1):
            say(f"  {number}  {guess.sku}  {guess.name} ({guess.confidence}%)")
        while True:
            answer = typer.prompt(
                "A number, a SKU, or Enter to leave it", default="", show_default=False, err=True
            )
            answer = str(answer).strip()
            if answer.isdecimal() and 1 <= int(answer) <= len(unknown.guesses):
                answer = unknown.guesses[int(answer) - 1].sku
            if not answer or answer in items:
                break
            say(f"The book has no item {answer}.")
        if answer and self.teach and unknown.party:
            self._teach(unknown, answer)
        return answer

    def _teach(self, unknown: Unknown, sku: str) -> None:
        with write_tx(self.connection):
            party = ensure_party(self.connection, unknown.party)
            known = find_aliases(self.connection, party)
            matcher = Matcher(find_items(self.connection), known, find_ladders(self.connection))
            change_aliases(self.connection, matcher.learned(party, unknown.word, sku), now())
        say(f"Learned: {party}'s '{unknown.word}' is {sku}. See: blankbook aliases")
