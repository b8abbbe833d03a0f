"""What stands above the lines: the invoice's reference, date, party and currency."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from ledger.errors import InputErrors, Problem
from ledger.intake.column_values import currency_codes, looks_like_date
from ledger.intake.head_labels import MARKS, behind_blank, is_date_text, part_of, splits, with_date_apart
from ledger.intake.heading_words import label_meaning, nearest_word, plain
from ledger.intake.layout_words import HEAD_LABELS
from ledger.intake.nearest import quoted
from ledger.intake.profile import Profile
from ledger.intake.proposal import SURE, Answers, Decision, Question
from ledger.intake.propose_columns import Columns
from ledger.intake.shipment_frame import head_cell
from ledger.intake.table import Cell, column_letters

NO_DATE = "none found"
"""What the date is taken as where the file has none."""

_LONGEST = 80
"""The longest text that is looked at for a label."""
_BY_LABEL = 90
_UNDER_LABEL = 80
_ALONE = 70
_BESIDE_REFERENCE = 1000
"""Added to the rank of a date that stands behind a reference: one with a label of its own comes first."""


@dataclass
class Around:
    """What was found around the lines."""

    head: dict[str, str] = field(default_factory=dict)
    head_values: dict[str, Cell] = field(default_factory=dict)
    foot: dict[str, str] = field(default_factory=dict)
    line_indexes: list[int] = field(default_factory=list)
    decisions: list[Decision] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    is_price_open: bool = False
    """Whether it is asked which column the price is: totals cannot be compared before."""


@dataclass(frozen=True)
class _Found:
    """One field: how good its label is, the label or cell a profile names it by, its value, and why."""

    rank: tuple[int, int]
    place: str
    value: Cell
    confidence: int
    why: str


def find_head(columns: Columns, answers: Answers, around: Around) -> None:
    """Find the reference, date, party and currency above the headings, and say where there is no date."""
    table = columns.table
    count = table.header_index - table.heading_rows + 1
    rows, numbers = table.sheet.rows[:count], table.sheet.row_numbers[:count]
    found: dict[str, _Found] = {}
    for name, each in (*_beside_labels(rows), *_under_labels(rows, numbers)):
        if name not in found or each.rank < found[name].rank:
            found[name] = each
    if "date" not in found and (alone := _date_alone(rows, numbers)) is not None:
        found["date"] = alone
    for name, each in found.items():
        if name not in answers.head:
            around.head[name], around.head_values[name] = each.place, each.value
            around.decisions.append(Decision(name, each.value.text, each.confidence, each.why))
    for name, words in answers.head.items():
        around.head[name], around.head_values[name] = words, _told(columns, name, words)
        around.decisions.append(Decision(name, around.head_values[name].text, SURE, "as you said"))
    if answers.date is not None:
        kept = [each for each in around.decisions if each.subject != "date"]
        around.decisions[:] = [*kept, Decision("date", answers.date.isoformat(), SURE, "as you said")]
        around.head_values.pop("date", None)
    elif "date" not in around.head:
        why = "no date stands above the lines"
        around.decisions.append(Decision("date", NO_DATE, 0, why))


def _told(columns: Columns, name: str, words: str) -> Cell:
    """Return the cell that a person's label or address leads to. Raises InputErrors where there is none."""
    profile = Profile(name="", columns={}, head={name: words})
    cell = head_cell(columns.table.sheet, profile, name, columns.table.header_index)
    if cell is not None:
        return cell
    way_out = {"date": "--date", "reference": "--reference", "party": "--party", "currency": "--currency"}[
        name
    ]
    what = f"{quoted(words)} is neither a label with a value nor a filled cell above the lines."
    advice = f"Write the label as it stands there, or like {name} = cell B2; the {name} itself: {way_out}."
    raise InputErrors("what you said of the file", [Problem(f"{name} = {words}", what, advice)])


def _beside_labels(rows: Sequence[Sequence[Cell]]) -> Iterator[tuple[str, _Found]]:
    """Yield the fields whose label a cell is, or begins with."""
    for index, row in enumerate(rows):
        for place, cell in enumerate(row):
            for label, value in _labelled(row, place, cell):
                name, rank = _name_of(label, value)
                why = f"beside the label {quoted(label)}"
                if name:
                    own = (
                        Cell(part_of(value.text, name), value.place, value.column)
                        if _is_text(value)
                        else value
                    )
                    yield name, _Found((rank, index), label, own, _BY_LABEL, why)
                date = with_date_apart(value.text)[1] if name == "reference" and _is_text(value) else ""
                if date:
                    found = Cell(date, value.place, value.column)
                    yield "date", _Found((rank + _BESIDE_REFERENCE, index), label, found, _UNDER_LABEL, why)


def _labelled(row: Sequence[Cell], place: int, cell: Cell) -> list[tuple[str, Cell]]:
    """Return the labels a cell may be, with their values: behind a colon, behind a blank, or to its right."""
    if not isinstance(cell.value, str) or len(cell.text) > _LONGEST:
        return []
    start, colon, rest = cell.text.partition(":")
    if (
        colon
        and rest.strip()
        and (_meaning(start) or not _meaning(start.split()[0] if start.split() else ""))
    ):
        return [(start.strip(), Cell(rest.strip(), cell.where))]
    for label, behind in splits(cell.text):
        name = _meaning(label)
        value = behind_blank(label, behind, name) if name else ""
        if value and name == "reference":
            # The date behind it is taken apart later.
            return [(label, Cell(behind.lstrip(MARKS), cell.where))]
        if value:
            return [(label, Cell(value, cell.where))]
    right = next((other for other in row[place + 1 :] if not other.is_empty), None)
    return [] if right is None else [(cell.text.rstrip(": "), right)]


def _meaning(label: str) -> str:
    return label_meaning(label, HEAD_LABELS)[0]


def _name_of(label: str, value: Cell) -> tuple[str, int]:
    """Return the field a label names and the place of its word, the better first; '' where it names none."""
    name = _meaning(label)
    if not name or not _can_be(name, value):
        return "", 0
    _, word = nearest_word(plain(label), HEAD_LABELS[name])
    return name, HEAD_LABELS[name].index(word)


def _is_text(cell: Cell) -> bool:
    return isinstance(cell.value, str)


def _can_be(name: str, value: Cell) -> bool:
    if name == "date":
        return looks_like_date(value) or (_is_text(value) and is_date_text(value.text))
    if name == "reference":
        return any(char.isdigit() for char in value.text) and not looks_like_date(value)
    if name == "currency":
        return bool(currency_codes([value.text.upper()]))
    return isinstance(value.value, str) and any(char.isalpha() for char in value.text)


def _under_labels(rows: Sequence[Sequence[Cell]], numbers: Sequence[int]) -> Iterator[tuple[str, _Found]]:
    """Yield the reference and date that stand right under their label, by the address of their cell."""
    for index, row in enumerate(rows[:-1]):
        if numbers[index + 1] - numbers[index] != 1:
            continue
        for place, cell in enumerate(row):
            below = rows[index + 1][place] if place < len(rows[index + 1]) else None
            if below is None or below.is_empty or not isinstance(cell.value, str):
                continue
            name, rank = _name_of(cell.text.rstrip(": "), below)
            if name in ("reference", "date"):
                address = f"cell {column_letters(place)}{numbers[index + 1]}"
                yield name, _Found((rank, index), address, below, _UNDER_LABEL, f"under {quoted(cell.text)}")


def _date_alone(rows: Sequence[Sequence[Cell]], numbers: Sequence[int]) -> _Found | None:
    """Return the only date above the headings, though no label stands beside it; None of several."""
    dates = [
        (cell, f"cell {column_letters(place)}{numbers[index]}")
        for index, row in enumerate(rows)
        for place, cell in enumerate(row)
        if looks_like_date(cell)
    ]
    if len(dates) != 1:
        return None
    cell, address = dates[0]
    return _Found((0, 0), address, cell, _ALONE, "the only date above the lines, without a label")
