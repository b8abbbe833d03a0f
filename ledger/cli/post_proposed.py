"""A sales export that no profile was named for: the saved one of its channel, or one proposed and taken."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from pathlib import Path

import typer

from ledger.cli.common import book_path, is_asking, say, show
from ledger.cli.posting_rows import Answers
from ledger.errors import InputErrors, Refused, UsageError
from ledger.intake.propose_sales import SalesProposal, propose_sales
from ledger.intake.read_sales import SalesOptions, read_sales
from ledger.intake.sales import SalesDraft
from ledger.intake.saved_profiles import profile_path, save_text
from ledger.intake.table import SourceFile
from ledger.views.proposals import sales_proposal_text

PREFIX = "sales-"


@dataclass(frozen=True, slots=True)
class SalesProposalWish:
    """What the command line says about an export without a named profile."""

    party: str = ""
    accept: bool = False
    propose: bool = False
    save: str = ""


def sales_profile_path(context: typer.Context, party: str) -> Path:
    """Return the file beside the book that holds how a channel's exports are read, there or not."""
    if not party:
        raise UsageError("name the shop or marketplace the sales come from: --party NAME.")
    path = profile_path(book_path(context), party)
    return path.with_name(PREFIX + path.name)


def sales_profile_for(
    context: typer.Context, file: SourceFile, wish: SalesProposalWish, currency: str, answers: Answers
) -> str | None:
    """Return the path of the profile to read an export by; None where the proposal was only to be shown.

    Raises Refused where a question is open, or the proposal was not taken and nobody can be asked.
    """
    if wish.party and not wish.propose:
        saved = sales_profile_path(context, wish.party)
        if saved.is_file():
            say(f"Reading {file.name} as saved for {wish.party}: {saved}")
            return str(saved)
    proposal = propose_sales(file, party=wish.party, currency=currency)
    text = sales_proposal_text(file.name, proposal, _sample(file, proposal, wish.party, currency))
    (say if answers.json else show)(text)
    if wish.propose:
        _keep_for_editing(file, proposal, wish)
        return None
    return _taken(context, file, proposal, wish, answers)


def _sample(file: SourceFile, proposal: SalesProposal, party: str, currency: str) -> SalesDraft | InputErrors:
    """Return the export as the proposal would read it, or what stands in the way."""
    try:
        options = SalesOptions(party=party or "the channel", book_currency=currency)
        return read_sales(file, proposal.to_profile(), options)
    except InputErrors as errors:
        return errors


def _keep_for_editing(file: SourceFile, proposal: SalesProposal, wish: SalesProposalWish) -> None:
    if not wish.save:
        say("Nothing was posted or saved: this was only the proposal.")
        return
    path = Path(wish.save)
    if path.exists():
        raise UsageError(f"{path} exists already. Choose another name.")
    save_text(path, proposal.to_toml())
    still = " Answer what is open in it first." if proposal.questions else ""
    say(f"Wrote {path}.{still} Then: blankbook post {shlex.quote(file.name)} --profile {path} --party NAME")


def _taken(
    context: typer.Context,
    file: SourceFile,
    proposal: SalesProposal,
    wish: SalesProposalWish,
    answers: Answers,
) -> str:
    """Return where the proposal was saved once somebody took it."""
    if proposal.questions:
        lines = [f"nothing was posted: {len(proposal.questions)} open."]
        lines += [f"  - {question.text}" for question in proposal.questions]
        name = shlex.quote(file.name)
        lines.append(
            f"Answer them in the profile: blankbook post {name} --propose --save sales.toml, then edit it."
        )
        raise Refused("\n".join(lines))
    asking = is_asking() and not (answers.yes or wish.accept)
    party = wish.party
    if asking:
        party = party or typer.prompt("Which shop or marketplace is it from?", err=True).strip()
        if not typer.confirm("Is it read right? Save it for this channel", err=True, default=True):
            raise Refused("nothing was posted or saved.")
    elif not wish.accept:
        raise Refused(
            "nothing was posted: the proposal above is not confirmed. Take and save it with --accept, or write "
            "it down to edit: --propose --save FILE."
        )
    path = sales_profile_path(context, party)
    if answers.dry_run:
        raise Refused(
            "nothing was posted or saved: this was a dry run. The rows above are how it would be read."
        )
    save_text(path, proposal.to_toml())
    say(f"Saved how {party}'s exports are read: {path}. The next one needs no questions.")
    return str(path)
