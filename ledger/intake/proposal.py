"""A proposed profile: what each column is taken as, why, and what has to be asked."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from types import MappingProxyType

from ledger.catalogue.packs import Pack, unit_factor
from ledger.errors import ValueProblem
from ledger.intake.profile import Profile
from ledger.intake.table import Sheet, column_letters

SURE = 100
"""The confidence of what a person said; everything else is below it."""

IGNORED = "ignore"
"""What a person calls a column that is not to be read."""


@dataclass(frozen=True)
class KnownItem:
    """What an item of the book is counted in: its base unit and its packs."""

    sku: str
    base_unit: str
    packs: tuple[Pack, ...] = ()
    density_g_per_ml: Fraction | None = None

    def content(self, word: str) -> Fraction | None:
        """Return how many base units one of a unit or of the item's own packs is, None where it is neither."""
        try:
            return unit_factor(word, self.base_unit, self.packs, self.density_g_per_ml)
        except ValueProblem:
            return None


@dataclass(frozen=True)
class CatalogueWords:
    """What the book already calls things, folded for comparing; all empty for a new book."""

    skus: frozenset[str] = frozenset()
    styles: frozenset[str] = frozenset()
    colours: frozenset[str] = frozenset()
    sizes: frozenset[str] = frozenset()
    codes: frozenset[str] = frozenset()
    """The supplier's own codes that the book knows."""
    packs: frozenset[str] = frozenset()
    items: Mapping[str, KnownItem] = field(default_factory=lambda: MappingProxyType({}))
    """The items by their folded SKU, and by the supplier's own folded codes that the book knows."""
    currency: str = ""
    currency_of: str = "the book's own"
    """Whose currency that is: the book's own, or the order's that a file goes with."""


@dataclass(frozen=True)
class Answers:
    """What a person said about a file, in lines like ``F=unit price``; it comes before every proposal.

    ``columns`` maps letters to what the column is, IGNORED among it; ``foot`` a label to its meaning;
    ``packs`` the file's unit word to what it holds; ``units`` an item, as the file or the book calls it,
    to what its quantities count where a row names no unit, and ``default_unit`` the same for all others.
    """

    columns: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    foot: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    head: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    packs: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    units: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    default_unit: str = ""
    date_order: str = ""
    decimal_comma: bool | None = None
    currency: str = ""
    price_per: str = ""
    losses_in: str = ""
    header_row: int | None = None
    sheet: str = ""
    sku_pattern: str = ""
    date: datetime.date | None = None
    """The file's own date, told outright: it is of this file and no habit."""

    @property
    def of_layout(self) -> bool:
        """Whether anything was said that a profile keeps."""
        return replace(self, date=None) != Answers()


@dataclass(frozen=True)
class ColumnDecision:
    """What one column is taken as: a column of profiles, 'size M', or '' where it is not read.

    ``confidence`` runs from 0 to 100; ``example`` is a value of the column as it stands in the file.
    """

    place: int
    heading: str
    meaning: str
    confidence: int
    why: str
    example: str = ""

    @property
    def letters(self) -> str:
        """The column's letters, as the person names it."""
        return column_letters(self.place)


@dataclass(frozen=True)
class Decision:
    """Something else that was decided: the currency, the decimal sign, a label of the foot."""

    subject: str
    taken_as: str
    confidence: int
    why: str


@dataclass(frozen=True)
class Question:
    """What the file does not tell. ``answers`` are the lines that would answer it."""

    subject: str
    text: str
    answers: tuple[str, ...] = ()

    def __str__(self) -> str:
        """The question with its possible answers."""
        return f"{self.text} Answer: {' or '.join(self.answers)}" if self.answers else self.text


@dataclass(frozen=True)
class Proposal:
    """A profile for a file nobody prepared for, with every decision and every open question.

    ``header_index`` and ``line_indexes`` are places in the sheet's rows: the headings, and the rows
    taken for lines.
    """

    profile: Profile
    sheet: Sheet
    header_index: int
    line_indexes: tuple[int, ...]
    columns: tuple[ColumnDecision, ...]
    decisions: tuple[Decision, ...]
    questions: tuple[Question, ...] = ()

    def meaning(self, letters: str) -> str:
        """Return what the column with these letters is taken as."""
        return next((each.meaning for each in self.columns if each.letters == letters.upper()), "")

    def decision(self, subject: str) -> Decision | None:
        """Return what was decided about a subject, None where nothing was."""
        return next((each for each in self.decisions if each.subject == subject), None)

    def asks(self, subject: str) -> bool:
        """Return whether a question about the subject is open."""
        return any(each.subject == subject for each in self.questions)
