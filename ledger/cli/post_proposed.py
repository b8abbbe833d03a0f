"""A sales export that no profile was named for: the saved one of its channel, or one proposed and taken."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

import typer

from ledger.cli.common import book_path, is_asking, say, show, show_json
from ledger.cli.posting_rows import Answers
from ledger.errors import InputErrors, Refused, UsageError, ValueProblem
from ledger.exact.words import typed_word
from ledger.intake.propose_sales import PARTY_ANSWER, SalesProposal, propose_sales
from ledger.intake.read_sales import SalesOptions, read_sales
from ledger.intake.sales import SalesDraft
from ledger.intake.sales_amended import amended_profile
from ledger.intake.sales_answers import SALES_FORMS, SalesAnswers, read_sales_answer, read_sales_answers
from ledger.intake.sales_items import SalesItems
from ledger.intake.sales_orders import BookOrders
from ledger.intake.sales_profile import SalesProfile, load_sales_profile
from ledger.intake.saved_profiles import profile_path, save_text
from ledger.intake.table import SourceFile
from ledger.views.proposals import sales_proposal_as_data, sales_proposal_text

PREFIX = "sales-"
SAMPLED = 500
"""How many rows are read to show how an export would be read."""

STOP = ("stop", "quit", "exit")

SalesAs = Annotated[
    list[str] | None,
    typer.Option(
        "--as",
        help='Correct how an unknown export is read: "F=fees", \'type "Order" = sale\'. Repeat as needed.',
    ),
]


@dataclass(frozen=True, slots=True)
class SalesProposalWish:
    """What the command line says about an export without a named profile."""

    party: str = ""
    corrections: tuple[str, ...] = ()
    accept: bool = False
    propose: bool = False
    save: str = ""
    currency: str = ""
    """What the amounts of this file are in; '' where the file, its profile or the book says it."""


@dataclass(frozen=True, slots=True)
class ChosenProfile:
    """The profile to read an export by, its channel, and where it is saved once the export is posted.

    ``save_to`` is None where it is saved already or is not to be.
    """

    profile: SalesProfile
    party: str = ""
    save_to: Path | None = None
    text: str = ""
    accepted: bool = False
    """Whether it was taken with --accept."""

    def keep(self) -> None:
        """Save the profile, where it is new or something new was said."""
        if self.save_to is not None:
            save_text(self.save_to, self.text)
            say(
                f"Saved how {self.party}'s exports are read: {self.save_to}. The next one needs no questions."
            )

    def say_not_kept(self) -> None:
        """Say that the profile was not saved, as nothing was posted."""
        if self.save_to is not None:
            way = "post it without --dry-run" if self.accepted else "take it with --accept, without --dry-run"
            say(f"How it is read was not saved: this was a dry run. To keep it, {way}.")


@dataclass(frozen=True, slots=True)
class Export:
    """A file that is to be proposed for, as it was typed, with the book's currency and what the book can sell."""

    file: SourceFile
    typed: str
    currency: str
    items: SalesItems
    orders: BookOrders | None = None


def sales_profile_path(context: typer.Context, party: str) -> Path:
    """Return the file beside the book that holds how a channel's exports are read, there or not."""
    if not party:
        raise UsageError("name the shop or marketplace the sales come from: --party NAME.")
    path = profile_path(book_path(context), party)
    return path.with_name(PREFIX + path.name)


def sales_profile_for(
    context: typer.Context, export: Export, wish: SalesProposalWish, answers: Answers
) -> ChosenProfile | None:
    """Return the profile to read an export by; None where the proposal was only to be shown.

    Raises Refused where a question is open, or the proposal was not taken and nobody can be asked.
    """
    if wish.party and not wish.propose:
        saved = sales_profile_path(context, wish.party)
        if saved.is_file():
            say(f"Reading {export.file.name} as saved for {wish.party}: {saved}")
            if wish.corrections:
                said = read_sales_answers(wish.corrections)
                profile, text = amended_profile(saved, export.file, said)
                return ChosenProfile(profile, wish.party, saved, text, accepted=True)
            return ChosenProfile(load_sales_profile(saved), wish.party)
    said = read_sales_answers(wish.corrections)
    proposal = _proposed(export, wish, said)
    if wish.propose:
        _show(export, proposal, wish, answers)
        if answers.json:
            show_json(sales_proposal_as_data(proposal, _sample(export, proposal, wish)))
        _keep_for_editing(export, proposal, wish)
        return None
    return _taken(context, export, (proposal, said), wish, answers)


def _proposed(export: Export, wish: SalesProposalWish, said: SalesAnswers) -> SalesProposal:
    if wish.currency and not said.currency:
        said = replace(said, currency=wish.currency)
    return propose_sales(export.file, party=wish.party, currency=export.currency, answers=said)


def _show(export: Export, proposal: SalesProposal, wish: SalesProposalWish, answers: Answers) -> None:
    text = sales_proposal_text(export.file.name, proposal, _sample(export, proposal, wish))
    (say if answers.json else show)(text)


def _sample(export: Export, proposal: SalesProposal, wish: SalesProposalWish) -> SalesDraft | InputErrors:
    """Return the export as the proposal would read it, or what stands in the way.

    Where it is only shown, all of it; else its beginning, as the whole of it is read next.
    """
    file = export.file
    if not wish.propose:
        sheets = (
            replace(each, rows=each.rows[:SAMPLED], row_numbers=each.row_numbers[:SAMPLED])
            for each in file.sheets
        )
        file = replace(file, sheets=tuple(sheets))
    try:
        options = SalesOptions(
            wish.party or "the channel", export.currency, export.items, orders=export.orders, is_sample=True
        )
        return read_sales(file, proposal.to_profile(), options)
    except InputErrors as errors:
        return errors


def _keep_for_editing(export: Export, proposal: SalesProposal, wish: SalesProposalWish) -> None:
    if not wish.save:
        say("Nothing was posted or saved: this was only the proposal.")
        return
    path = Path(wish.save)
    if path.exists():
        raise UsageError(f"{path} exists already. Choose another name.")
    save_text(path, proposal.to_toml())
    still = " Answer what is open in it first." if proposal.questions else ""
    party = typed_word(wish.party) if wish.party else "NAME"
    say(
        f"Wrote {path}.{still} Then: blankbook post {typed_word(export.typed)} --profile {typed_word(str(path))} --party {party}"
    )


def _taken(
    context: typer.Context,
    export: Export,
    proposed: tuple[SalesProposal, SalesAnswers],
    wish: SalesProposalWish,
    answers: Answers,
) -> ChosenProfile:
    """Return the proposal as it was taken; it is saved when the export is posted."""
    proposal, said = proposed
    if is_asking() and not (answers.yes or wish.accept):
        if not wish.party:
            party = typer.prompt("Which shop or marketplace is it from?", err=True).strip()
            wish = replace(wish, party=party)
            saved = sales_profile_path(context, party)
            if saved.is_file():
                say(f"Reading {export.file.name} as saved for {party}: {saved}")
                return ChosenProfile(load_sales_profile(saved), party)
        proposal = _corrected(export, said, wish, answers)
    else:
        _show(export, proposal, wish, answers)
        _refuse_open(export, proposal)
        if not (wish.accept or answers.dry_run):
            raise Refused(
                "nothing was posted: the proposal above is not confirmed. Take and save it with --accept, correct "
                f'it with --as "{SALES_FORMS[0]}", or write it down to edit: --propose --save FILE.'
            )
    path = sales_profile_path(context, wish.party)
    return ChosenProfile(proposal.to_profile(), wish.party, path, proposal.to_toml(), accepted=wish.accept)


def _refuse_open(export: Export, proposal: SalesProposal) -> None:
    if not proposal.questions:
        return
    count = len(proposal.questions)
    lines = [f"nothing was posted: {count} {'question is' if count == 1 else 'questions are'} open."]
    lines += [f"  - {question.text} Add {_options_of(question.answers)}" for question in proposal.questions]
    lines.append(
        f"Or answer them in the profile: blankbook post {typed_word(export.typed)} --propose --save sales.toml, "
        "then edit it."
    )
    raise Refused("\n".join(lines))


def _options_of(answers: tuple[str, ...]) -> str:
    """Return the options that give these answers."""
    return " or ".join(
        answer if answer == PARTY_ANSWER else f"--as {typed_word(answer)}" for answer in answers
    )


def _corrected(
    export: Export, said: SalesAnswers, wish: SalesProposalWish, answers: Answers
) -> SalesProposal:
    """Show the proposal and take corrections, line by line, until Enter takes it."""
    proposal = _proposed(export, wish, said)
    _show(export, proposal, wish, answers)
    while True:
        line = typer.prompt(
            f"Enter to take it, or correct it ({', '.join(SALES_FORMS[:4])})",
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
            said = read_sales_answer(line, said)
            proposal = _proposed(export, wish, said)
        except (ValueProblem, InputErrors) as problem:
            say(str(problem))
            continue
        _show(export, proposal, wish, answers)
