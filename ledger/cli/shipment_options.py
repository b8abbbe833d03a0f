"""Options that receiving, ordering and shipping share: charges, lines, losses, rates."""

from __future__ import annotations

import contextlib
import datetime
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from ledger.book.arriving import RateUsed
from ledger.book.catalogue_store import find_items, find_packs
from ledger.book.order_charges import Wishes
from ledger.catalogue._words import suggestion
from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack
from ledger.cli.common import say
from ledger.costing.landed import ChargeWish
from ledger.errors import BlankbookError, InputErrors, Problem, UsageError, ValueProblem
from ledger.intake.charge_words import ChargeWords, read_charge
from ledger.intake.foreign_rate import UsedRate, used_rate
from ledger.intake.order_lines import LineWords, base_milli
from ledger.intake.resolve import charge_wish
from ledger.intake.shipment import LOSSES

TAX_PAID = ("yes", "resale", "none")


def read_charges(texts: Sequence[str]) -> tuple[ChargeWords, ...]:
    """Return charges typed as words. Raises InputErrors with everything wrong in them."""
    words, problems = [], []
    for number, text in enumerate(texts, 1):
        where = f"--charge {number}"
        try:
            words.append(replace(read_charge(text), where=where))
        except ValueProblem as problem:
            problems.append(Problem(where, str(problem)))
    if problems:
        raise InputErrors("the charges", problems)
    return tuple(words)


def read_treatment(text: str) -> str:
    """Return what becomes of missing or damaged pieces. Raises UsageError for an unknown word."""
    word = text.strip().casefold()
    if word not in LOSSES:
        raise UsageError(f"'{text}': missing and damaged pieces are {', '.join(LOSSES)}.")
    return word


def read_tax_paid(text: str) -> str:
    """Return what was told of sales tax, empty for nothing. Raises UsageError for an unknown word."""
    word = text.strip().casefold()
    if word and word not in TAX_PAID:
        raise UsageError(f"'{text}': --tax-paid is {', '.join(TAX_PAID)}.")
    return word


@contextlib.contextmanager
def gathered(source: str) -> Iterator[list[Problem]]:
    """Hand the block a list for what it finds wrong; raise that at its end, with what the block raises itself.

    What is wrong with one line is said together with what is wrong with the others.
    """
    problems: list[Problem] = []
    try:
        yield problems
    except InputErrors as errors:
        if not problems:
            raise
        raise InputErrors(source, [*problems, *errors.problems]) from errors
    except BlankbookError as error:
        if not problems:
            raise
        raise InputErrors(source, [*problems, Problem("", str(error))]) from error
    if problems:
        raise InputErrors(source, problems)


def read_words(
    texts: Sequence[str], option: str, read: Callable[[str, str], LineWords], problems: list[Problem]
) -> tuple[LineWords, ...]:
    """Return lines typed as words; what is wrong with the others is added to ``problems``."""
    lines = []
    for number, text in enumerate(texts, 1):
        where = f"{option} {number}" if len(texts) > 1 else option
        try:
            lines.append(read(text, where))
        except ValueProblem as problem:
            problems.append(Problem(where, str(problem)))
    return tuple(lines)


@dataclass
class Rates:
    """The rates a document is converted at, each looked up once and said where it is the reference's.

    ``typed`` is the rate of the document's ``currency``; charges in others take the reference's.
    """

    book_currency: str
    currency: str
    typed: str
    on: datetime.date
    found: dict[str, UsedRate] = field(default_factory=dict)

    def used(self, currency: str) -> UsedRate:
        """Return a currency's rate. Raises RateUnknown or ValueProblem."""
        if currency not in self.found:
            typed = self.typed if currency == self.currency else ""
            self.found[currency] = used_rate(currency, self.book_currency, typed, self.on)
            if self.found[currency].remark:
                say(self.found[currency].remark)
        return self.found[currency]

    def of(self, currency: str) -> RateUsed:
        """Return a currency's rate as documents keep it."""
        used = self.used(currency)
        return RateUsed(used.text, used.source)

    def wishes(self, words: Sequence[ChargeWords]) -> Wishes:
        """Return what makes charges of words, once the lines are known."""

        def of_lines(skus: Sequence[str]) -> Sequence[ChargeWish]:
            problems: list[Problem] = []
            found = []
            for one in words:
                currency = one.currency or self.book_currency
                wish = charge_wish(one, skus, self.book_currency, (currency, self.used(currency)), problems)
                if wish is not None:
                    found.append(wish)
            if problems:
                raise InputErrors("the charges", problems)
            return found

        return of_lines


@dataclass(frozen=True)
class Amounts:
    """Items and packs by which typed lines are measured; SKUs are found whatever their capitals."""

    items: Mapping[str, Item]
    packs: Mapping[str, Sequence[Pack]]

    def spelled(self, line: LineWords) -> LineWords:
        """Return a line with its SKU as the book spells it, unchanged where the book has none of it."""
        if line.sku in self.items:
            return line
        own = {sku.casefold(): sku for sku in self.items}
        return replace(line, sku=own.get(line.sku.casefold(), line.sku))

    def settle(self, lines: Sequence[LineWords], problems: list[Problem]) -> list[tuple[LineWords, int]]:
        """Return each line with its SKU as the book spells it, and its thousandths of the base unit.

        Unknown SKUs and units are added to ``problems``.
        """
        found = []
        for own in map(self.spelled, lines):
            if own.sku not in self.items:
                known = suggestion(own.sku, list(self.items))
                problems.append(
                    Problem(own.where, f"the book has no item {own.sku}.{known}", "See: blankbook items")
                )
                continue
            try:
                found.append((own, base_milli(own, self.items, self.packs)))
            except ValueProblem as problem:
                # What is lost may end in a word that says what becomes of it, where a unit stands else.
                way_out = f"What becomes of lost pieces is {', '.join(LOSSES)}." if own.treatment else ""
                problems.append(Problem(own.where, str(problem), way_out))
        return found


def amounts_of(connection: sqlite3.Connection) -> Amounts:
    """Return the book's items and packs."""
    return Amounts(find_items(connection), find_packs(connection))
