"""The columns of the duties sheet: dated layers of duty as text, and the layer that a row means."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from ledger.catalogue.parties import read_country
from ledger.errors import ValueProblem
from ledger.exact.numbers import show_fraction
from ledger.sourcing.duties import DutyLayer
from ledger.sourcing.offers import CellFault
from ledger.sourcing.quote_readers import Reader, day, percentage, words

ANY_WORDS = frozenset({"any", "all", "*"})
_PREFIX = re.compile(r"\d{2}(?:\d{2})?(?:\.?\d{2}){0,3}", re.ASCII)
_WHOLE = 100


def _prefix(text: str) -> str:
    """Return a customs class or its beginning: 61, 6109, 6109.10; 'any' is every class."""
    if text.casefold() in ANY_WORDS:
        return ""
    if not _PREFIX.fullmatch(text):
        raise ValueProblem(
            f"'{text[:40]}' is not a customs class or its beginning: write digits, like 6109.10, or any."
        )
    return text


def _origin(text: str) -> str:
    return "" if text.casefold() in ANY_WORDS else read_country(text)


def _rate(text: str) -> str:
    return "0" if text.casefold() == "free" else percentage(text)


def _yes(text: str) -> str:
    if text.casefold() in {"yes", "y", "true", "1"}:
        return "yes"
    if text.casefold() in {"no", "n", "false", "0"}:
        return ""
    raise ValueProblem(f"'{text[:40]}' is neither yes nor no.")


_READERS: Mapping[str, tuple[str, Reader]] = MappingProxyType(
    {
        "program": (
            "In your words: general, surcharge. Programs add up; of one, the longest class, then origin, then latest row holds.",
            words,
        ),
        "customs_class": ("The class, or how it begins: 6109.10, 61; any for all.", _prefix),
        "origin": ("Two letters by ISO 3166, or any. Empty: any.", _origin),
        "rate": (
            "In percent of the customs value: 16.5%. A free class is 0 or free: no row is unknown.",
            _rate,
        ),
        "from": (
            "The first entry date it holds for; from then on it replaces an older row. Empty: always.",
            day,
        ),
        "until": ("The first entry date it no longer holds for. Empty: it stands.", day),
        "source": ("Where you read it.", words),
        "checked_on": ("When you read it. Past 60 days you are reminded.", day),
        "example": ("yes: a row that only shows the layout.", _yes),
        "note": ("Anything else.", words),
    }
)

DUTY_COLUMNS: Mapping[str, str] = MappingProxyType({name: note for name, (note, _) in _READERS.items()})
"""The columns of the duties sheet in order, each with what the maker is told about it."""

REQUIRED_COLUMNS = ("program", "customs_class", "rate")
DATE_COLUMNS = ("from", "until", "checked_on")
PERCENT_COLUMNS = ("rate",)

_ALIASES = {
    "class": "customs_class",
    "customs class prefix": "customs_class",
    "country": "origin",
    "start": "from",
    "to": "until",
    "checked": "checked_on",
    "notes": "note",
}
_BY_HEADING = {name.replace("_", " "): name for name in DUTY_COLUMNS} | _ALIASES


def read_duty_heading(text: str) -> str | None:
    """Return the column that a heading names, or None where it names none."""
    return _BY_HEADING.get(" ".join(text.casefold().replace("_", " ").split()))


@dataclass(frozen=True)
class DutyRow:
    """One layer as it is kept: text by column; program, class, origin and start are its key."""

    program: str
    customs_class: str = ""
    origin: str = ""
    rate: str = "0"
    start: str = ""
    until: str = ""
    source: str = ""
    checked_on: str = ""
    is_example: bool = False
    note: str = ""

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What tells it from other layers."""
        return (self.program.casefold(), self.customs_class.replace(".", ""), self.origin, self.start)

    def layer(self) -> DutyLayer:
        """Return the layer as estimates take it."""
        return DutyLayer(
            rate=Fraction(self.rate) / _WHOLE,
            start=_date(self.start),
            until=_date(self.until),
            program=self.program,
            class_prefix=self.customs_class,
            origin=self.origin,
            source=self.source,
            checked_on=_date(self.checked_on),
            is_example=self.is_example,
        )

    @property
    def in_words(self) -> str:
        """Return what it says in one line."""
        goods = self.customs_class or "any class"
        return (
            f"{self.program}, {goods}, {self.origin or 'any origin'}: {show_fraction(Fraction(self.rate))}%"
        )


@dataclass(frozen=True)
class ReadDuty:
    """What one row of the sheet states, with everything wrong in it."""

    row: DutyRow
    faults: tuple[CellFault, ...] = ()


def read_duty_row(cells: Mapping[str, str]) -> ReadDuty:
    """Return what one row of the duties sheet states; ``cells`` maps columns to trimmed text."""
    kept: dict[str, str] = {}
    faults: list[CellFault] = []
    for name, (_, read) in _READERS.items():
        text = cells.get(name, "").strip()
        if not text:
            if name in REQUIRED_COLUMNS:
                faults.append(CellFault(name, f"the {name.replace('_', ' ')} is empty. {DUTY_COLUMNS[name]}"))
            continue
        try:
            kept[name] = read(text)
        except ValueProblem as problem:
            faults.append(CellFault(name, str(problem)))
    start, until = kept.get("from", ""), kept.get("until", "")
    if start and until and until < start:
        faults.append(CellFault("until", f"it ends on {until}, before it begins on {start}."))
    row = DutyRow(
        program=kept.get("program", ""),
        customs_class=kept.get("customs_class", ""),
        origin=kept.get("origin", ""),
        rate=kept.get("rate", "0"),
        start=start,
        until=until,
        source=kept.get("source", ""),
        checked_on=kept.get("checked_on", ""),
        is_example=kept.get("example") == "yes",
        note=kept.get("note", ""),
    )
    return ReadDuty(row, tuple(faults))


def _date(text: str) -> datetime.date | None:
    return datetime.date.fromisoformat(text) if text else None
