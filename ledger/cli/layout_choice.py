"""What the command line says about a file's layout, and the profile that comes of it."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from pathlib import Path

from ledger.cli.common import say
from ledger.errors import UsageError
from ledger.exact.currencies import read_currency
from ledger.exact.words import typed_word
from ledger.intake.answers import read_answers
from ledger.intake.profile import Profile
from ledger.intake.proposal import Answers
from ledger.intake.saved_profiles import save_text
from ledger.intake.values import DATE_ORDERS


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
    order_currency: str = ""
    """The order's currency, of a file that goes with an order: it stands where the file names none."""
    needs_date: bool = False
    """Whether the file must tell a date, because no other was given."""

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


@dataclass(frozen=True, slots=True)
class ChosenProfile:
    """The profile to read a file by; what a person took of a proposal is saved once the receipt is posted."""

    profile: Profile
    path: Path | None = None
    """Where it is to be saved; None where it is saved already."""
    text: str = ""
    typed: tuple[str, ...] = ()
    """The corrections that were typed, as --as takes them."""
    date: datetime.date | None = None
    """The file's date, told outright for this file."""
    currency: str = ""
    """The file's currency, told outright for this file."""
    is_dry_run: bool = False
    is_correction: bool = False
    """Whether it was saved before, and something has changed."""

    def settle(self, *, is_posted: bool) -> None:
        """Save a proposal beside the book once the receipt is posted; else say that it was not saved."""
        if self.path is None:
            return
        if not is_posted:
            again = " ".join(f"--as {typed_word(line)}" for line in self.typed)
            said = f" What you corrected, to be typed again: {again}" if again else ""
            what = "What you said of it" if self.is_correction else "How it is read"
            when = (
                "the same without --dry-run posts and saves"
                if self.is_dry_run
                else "that happens once it is posted"
            )
            say(f"{what} was not saved: {when}.{said}")
            return
        try:
            save_text(self.path, self.text)
        except UsageError as problem:
            say(f"It is posted, but how it was read could not be saved: {problem}")
            return
        if self.is_correction:
            say(f"Kept what you said with how files of {self.profile.party} are read: {self.path}")
            return
        say(
            f"Saved how files of {self.profile.party} are read: {self.path}. The next one like it needs no questions."
        )
