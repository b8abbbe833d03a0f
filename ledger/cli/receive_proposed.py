"""Reading a file that no profile was named for: the saved one of its party, or one proposed and confirmed."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, replace
from pathlib import Path

import typer

from ledger.book.shop import read_shop
from ledger.cli.common import book_path, is_asking, say, show, show_json
from ledger.cli.layout_choice import ChosenProfile, ProposedOptions
from ledger.cli.open_questions import refuse_open
from ledger.cli.saved_layout import read_as_saved, with_words_of
from ledger.errors import InputErrors, Refused, UsageError, ValueProblem
from ledger.exact.words import typed_word
from ledger.intake.answers import FORMS, read_answer
from ledger.intake.profile import Profile
from ledger.intake.profile_gaps import no_date
from ledger.intake.proposal import Answers, CatalogueWords, Proposal
from ledger.intake.propose import NEW_BLANK, propose_profile, sample_draft
from ledger.intake.propose_head import NO_DATE
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
    has_sizes = bool(profile.sizes_across) or not {"size", "variant"}.isdisjoint(profile.columns)
    if profile.new_item.get("kind") or not has_sizes:
        return profile
    return replace(profile, new_item={**NEW_BLANK, **profile.new_item})


def profile_for(
    context: typer.Context, connection: sqlite3.Connection, source: SourceFile, options: ProposedOptions
) -> ChosenProfile | None:
    """Return the profile to read a file by; None where the proposal was only to be shown.

    Raises Refused where a question is open, or the proposal was not accepted, and nobody can be asked.
    """
    book, currency = book_path(context), options.order_currency or read_shop(connection).currency
    answers = options.answers()
    if not options.propose:
        saved = _saved(book, source, options.party)
        if (
            saved is not None
            and (chosen := read_as_saved(book, saved, source, options, currency)) is not None
        ):
            return chosen
        answers = with_words_of(answers, saved)
    look = _Look(source, _words(connection, options), answers, options)
    proposal = look.proposal()
    named = proposal.decision("party")
    if not options.party and named is not None:
        options = replace(options, party=named.taken_as)
        say(f"The supplier is {options.party}, as the file says. Another one: --party NAME.")
        if not options.propose and (saved := saved_profile(book, options.party)) is not None:
            if (chosen := read_as_saved(book, saved, source, options, currency)) is not None:
                return chosen
            answers = with_words_of(answers, saved)
        look = replace(look, words=_words(connection, options), options=options, answers=answers)
        proposal = look.proposal()
    if options.propose:
        look.only_show(proposal)
        return None
    return _agreed(book, look, proposal, is_party_read=named is not None)


def _words(connection: sqlite3.Connection, options: ProposedOptions) -> CatalogueWords:
    """Return what the book calls things; the currency is the order's, of a file that goes with one."""
    words = catalogue_words(connection, options.party)
    if not options.order_currency:
        return words
    return replace(words, currency=options.order_currency, currency_of="the order's")


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
        proposal = propose_profile(self.source, self.words, party=self.options.party, answers=self.answers)
        date = proposal.decision("date")
        if self.options.needs_date and date is not None and date.taken_as == NO_DATE:
            return replace(proposal, questions=(*proposal.questions, no_date()))
        return proposal

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
        say(
            f"Wrote {path}.{still} Then: blankbook receive {typed_word(self.source.name)} --profile {typed_word(str(path))}"
        )


def _agreed(book: Path, look: _Look, proposal: Proposal, *, is_party_read: bool) -> ChosenProfile:
    """Return the proposal as a person takes it, to be saved beside the book."""
    options, party = look.options, look.options.party
    if is_asking() and not (options.yes or options.accept):
        if not party or is_party_read:
            question = "Whose layout is this? The supplier's name"
            party = str(typer.prompt(question, default=party or None, err=True)).strip()
            saved = saved_profile(book, party)
            own = (
                None
                if saved is None
                else read_as_saved(book, saved, look.source, options, look.words.currency)
            )
            if own is not None:
                return own
        look, proposal = _corrected(replace(look, options=replace(options, party=party)), proposal)
    else:
        look.show(proposal)
        refuse_open(proposal.questions)
    profile = replace(proposal.profile, party=party)
    told = ChosenProfile(profile, date=look.answers.date, currency=look.answers.currency)
    if options.dry_run and not party:
        return told
    if not (options.accept or options.dry_run or is_asking()):
        raise Refused(
            "nothing was posted: the proposal above is not confirmed. Take and save it with --accept, correct "
            f'it with --as "{FORMS[0]}", or write it down to edit (blankbook receive with --propose --save FILE) and '
            "name it with --profile."
        )
    if not party:
        raise Refused(
            "nothing was posted: the proposal is saved under the supplier's name. Add --party NAME."
        )
    text = proposal_text(replace(proposal, profile=profile))
    return replace(
        told, path=profile_path(book, party), text=text, typed=look.typed, is_dry_run=options.dry_run
    )


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
