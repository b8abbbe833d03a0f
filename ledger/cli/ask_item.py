"""Asking which item a supplier's name means, and teaching the book the answer."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

import typer

from ledger.book.alias_store import change_aliases, find_aliases
from ledger.book.catalogue_store import ensure_party, find_items, find_ladders
from ledger.book.connect import write_tx
from ledger.cli.common import now, say
from ledger.intake.aliases import Matcher, Unknown


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
                "A number, an SKU, or Enter to leave it", default="", show_default=False, err=True
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
