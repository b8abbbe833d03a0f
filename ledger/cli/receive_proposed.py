"""Reading a file that no profile was named for: the saved one of its party, or one proposed and confirmed."""

from __future__ import annotations

import shlex
import sqlite3
from dataclasses import dataclass, replace
from pathlib import Path

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


@dataclass(frozen=True, slots=True)
class ChosenProfile:
    """The profile to read a file by; what a person took of a proposal is saved once the receipt is posted."""

    profile: Profile
    path: Path | None = None
    """Where it is to be saved; None where it is saved already."""
    text: str = ""
    typed: tuple[str, ...] = ()
    """The corrections that were typed, as --as takes them."""

    def settle(self, *, is_posted: bool) -> None:
        """Save a proposal beside the book once the receipt is posted; else say that it was not saved."""
        if self.path is None:
            return
        if not is_posted:
            again = " ".join(f"--as {shlex.quote(line)}" for line in self.typed)
            said = f" What you corrected, to be typed again: {again}" if again else ""
            say(f"How it is read was not saved: that happens once the receipt is posted.{said}")
            return
        try:
            save_text(self.path, self.text)
        except UsageError as problem:
            say(f"The receipt is posted, but how it was read could not be saved: {problem}")
            return
        say(
            f"Saved how files of {self.profile.party} are read: {self.path}. The next one needs no questions."
        )


def profile_for(
    context: typer.Context, connection: sqlite3.Connection, source: SourceFile, options: ProposedOptions
) -> ChosenProfile | None:
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
            return ChosenProfile(saved)
    look = _Look(source, catalogue_words(connection, options.party), options.answers(), options)
    proposal = look.proposal()
    named = proposal.decision("party")
    if not options.party and named is not None:
        options = replace(options, party=named.taken_as)
        if not options.propose and (saved := saved_profile(book, options.party)) is not None:
            say(f"Reading {source.name} as saved for {saved.party}: {profile_path(book, saved.party)}")
            return ChosenProfile(saved)
        look = replace(look, words=catalogue_words(connection, options.party), options=options)
        proposal = look.proposal()
    if options.propose:
        look.only_show(proposal)
        return None
    return _agreed(book, look, proposal)


def _saved(book: Path, source: SourceFile, party: str) -> Profile | None:
    """Return the saved profile of the party, or where none is named the only one that fits the file."""
    if party:
        return saved_profile(book, party)
    fitting = fitting_profiles(book, source)
    if len(fitting) > 1:
        names = ", ".join(profile.party or profile.name for profile in fitting)
        raise UsageError(f"the saved profiles of {names} all fit {source.name}: name one with --party.")
    return fitting[0] if fitting and fitting[0].party else None


@dataclass(frozen=True, slots=True)
class _Look:
    """A file that is being looked at: what the book calls things, and what a person said of it so far."""

    source: SourceFile
    words: CatalogueWords
    answers: Answers
    options: ProposedOptions
    typed: tuple[str, ...] = ()

    def proposal(self) -> Proposal:
        """Return how the file would be read, by all that was said."""
        return propose_profile(self.source, self.words, party=self.options.party, answers=self.answers)

    def sample(self, proposal: Proposal) -> ShipmentDraft | InputErrors:
        """Return the first lines as they would be read, or what is wrong with them."""
        try:
            return sample_draft(self.source, proposal, self.words, currency=proposal.profile.currency)
        except InputErrors as errors:
            return errors

    def show(self, proposal: Proposal) -> None:
        """Print the proposal."""
        text = proposals.proposal_text(self.source.name, proposal, self.sample(proposal))
        (say if self.options.json else show)(text)

    def only_show(self, proposal: Proposal) -> None:
        """Print the proposal, and write it where that was asked for."""
        self.show(proposal)
        if self.options.json:
            show_json(proposals.as_data(proposal, self.sample(proposal)))
        if not self.options.save:
            say("Nothing was posted or saved: this was only the proposal.")
            return
        path = Path(self.options.save)
        if path.exists():
            raise UsageError(f"{path} exists already. Choose another name.")
        save_text(path, proposal_text(proposal))
        still = " Answer what is open in it first." if proposal.questions else ""
        say(f"Wrote {path}.{still} Then: blankbook receive {shlex.quote(self.source.name)} --profile {path}")


def _agreed(book: Path, look: _Look, proposal: Proposal) -> ChosenProfile:
    """Return the proposal as a person takes it, to be saved beside the book."""
    options, party = look.options, look.options.party
    if is_asking() and not (options.yes or options.accept):
        party = party or typer.prompt("Whose layout is this? The supplier's name", err=True).strip()
        look, proposal = _corrected(replace(look, options=replace(options, party=party)), proposal)
    else:
        look.show(proposal)
        _refuse_open(proposal)
    profile = replace(proposal.profile, party=party)
    if options.dry_run and not party:
        return ChosenProfile(profile)
    if not (options.accept or options.dry_run or is_asking()):
        raise Refused(
            "nothing was posted: the proposal above is not confirmed. Take and save it with --accept, correct "
            f'it with --as "{FORMS[0]}", or write it down to edit: --propose --save FILE.'
        )
    if not party:
        raise Refused(
            "nothing was posted: the proposal is saved under the supplier's name. Add --party NAME."
        )
    text = proposal_text(replace(proposal, profile=profile))
    return ChosenProfile(profile, profile_path(book, party), text, look.typed)


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


def _corrected(look: _Look, proposal: Proposal) -> tuple[_Look, Proposal]:
    """Show the proposal and take corrections, line by line, until Enter takes it."""
    look.show(proposal)
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
                return look, proposal
            say("Still open:\n" + "\n".join(f"  - {question}" for question in proposal.questions))
            continue
        try:
            told = replace(look, answers=read_answer(line, look.answers), typed=(*look.typed, line))
            proposal = told.proposal()
        except (ValueProblem, InputErrors) as problem:
            say(str(problem))
            continue
        look = told
        look.show(proposal)


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
