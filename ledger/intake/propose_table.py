"""Finding the table in a sheet nobody prepared for: its headings, and which rows are lines."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from ledger.errors import InputErrors, Problem
from ledger.intake.column_values import MOST_SAMPLED, is_size
from ledger.intake.heading_rows import joined
from ledger.intake.heading_words import heading_scores, label_meaning, why_not_read
from ledger.intake.layout_words import FOOT_LABELS
from ledger.intake.nearest import quoted
from ledger.intake.proposal import Answers, CatalogueWords, Decision, Question
from ledger.intake.records import MAX_HEADER_DEPTH
from ledger.intake.table import Cell, Sheet, SourceFile

ENOUGH = 2.0
"""The least that the headings of a row must come to: two that are known, or four that look like sizes."""

_SIZE_WORTH = 0.6
_NUMBER_WORTH = -0.6
_TOTAL_WORDS = frozenset(
    ["total", "totals", "subtotal", "subtotals", "gesamt", "gesamtbetrag", "zwischensumme", "summe"]
)
_TOTAL = re.compile("total|gesamt|summe", re.IGNORECASE)
"""What each of these words holds."""
_SPARSE = 0.6
_BELOW = 5


@dataclass(frozen=True)
class FoundTable:
    """Where the table is: its sheet, its headings by column, and the rows under them.

    ``sample`` holds the places of the first rows that look like lines, ``below`` those of all rows
    under the headings.
    """

    sheet: Sheet
    header_index: int
    heading_rows: int
    headings: tuple[str, ...]
    sample: tuple[int, ...]
    below: range
    decisions: tuple[Decision, ...] = ()
    questions: tuple[Question, ...] = ()

    def column(self, place: int, rows: Sequence[int]) -> list[Cell | None]:
        """Return one column's cells in the given rows, None where a row is shorter."""
        return [row[place] if place < len(row := self.sheet.rows[index]) else None for index in rows]


def find_table(file: SourceFile, answers: Answers, words: CatalogueWords) -> FoundTable | None:
    """Return the table of the file: of the sheet a person named, else of the one with the best headings.

    None where no sheet has a row of headings with numbers under it. Raises InputErrors where the sheet that
    was named is not there.
    """
    named = [sheet for sheet in file.sheets if sheet.name.casefold() == answers.sheet.casefold()]
    if answers.sheet and not named:
        names = ", ".join(quoted(sheet.name) for sheet in file.sheets) or "none"
        what = f"the file has no visible sheet {quoted(answers.sheet)}."
        raise InputErrors("what you said of the file", [Problem("sheet", what, f"There are: {names}.")])
    found = [(_best_header(sheet, answers, words), sheet) for sheet in named or file.sheets]
    there = [(header, sheet) for header, sheet in found if header is not None]
    if not there:
        return None
    header, sheet = max(there, key=lambda each: each[0].score)
    return _table(sheet, header, [each for _, each in there], answers)


@dataclass(frozen=True)
class _Header:
    score: float
    index: int
    rows: int
    headings: tuple[str, ...]


def _best_header(sheet: Sheet, answers: Answers, words: CatalogueWords) -> _Header | None:
    best: _Header | None = None
    for index in range(min(len(sheet.rows), MAX_HEADER_DEPTH)):
        is_told = answers.header_row is not None
        if is_told and sheet.row_numbers[index] != answers.header_row:
            continue
        for header in _headers_at(sheet, index, words):
            is_good = is_told or (header.score >= ENOUGH and _numbers_follow(sheet, index))
            if is_good and (best is None or header.score > best.score):
                best = header
    return best


def _headers_at(sheet: Sheet, index: int, words: CatalogueWords) -> list[_Header]:
    """Return the row as headings of its own, and with the row above it where together they say more."""
    row = sheet.rows[index]
    single = tuple(cell.text for cell in row)
    headers = [_Header(_worth(row, single, words), index, 1, single)]
    if index and sheet.row_numbers[index] - sheet.row_numbers[index - 1] == 1 and not _has_numbers(row):
        above = sheet.rows[index - 1]
        if not _has_numbers(above):
            both = _both(above, row, words)
            # Half a heading more than either row alone, or a title above would be joined to everything.
            alone = max(headers[0].score, _worth(above, tuple(cell.text for cell in above), words))
            worth = _worth((), both, words)
            if worth >= alone + 0.5:
                headers.append(_Header(worth, index, 2, both))
    return headers


def _both(above: Sequence[Cell], row: Sequence[Cell], words: CatalogueWords) -> tuple[str, ...]:
    texts = []
    for place in range(max(len(above), len(row))):
        upper = above[place].text if place < len(above) else ""
        lower = row[place].text if place < len(row) else ""
        choices = [joined(upper, lower), lower, upper]
        known = [each for each in choices if each and _text_worth(each, words) >= _SIZE_WORTH]
        texts.append(known[0] if known else choices[0])
    return tuple(texts)


def _worth(row: Sequence[Cell], headings: Sequence[str], words: CatalogueWords) -> float:
    numbers = sum(isinstance(cell.value, Decimal) for cell in row)
    return sum(_text_worth(text, words) for text in headings) + _NUMBER_WORTH * numbers


def _text_worth(text: str, words: CatalogueWords) -> float:
    if not text or text.replace(".", "").replace(",", "").isdigit():
        return 0.0
    if is_size(text, words):
        return _SIZE_WORTH
    score = max(heading_scores(text).values(), default=0)
    return max(score / 100, 0.8 if why_not_read(text) else 0.0)


def _has_numbers(row: Sequence[Cell]) -> bool:
    return any(isinstance(cell.value, Decimal) or cell.text.replace(".", "").isdigit() for cell in row)


def _numbers_follow(sheet: Sheet, index: int) -> bool:
    below = sheet.rows[index + 1 : index + 1 + _BELOW]
    return any(any(char.isdigit() for char in cell.text) for row in below for cell in row)


def _table(sheet: Sheet, header: _Header, sheets: Sequence[Sheet], answers: Answers) -> FoundTable:
    below = range(header.index + 1, len(sheet.rows))
    width = max((len(sheet.rows[index]) for index in below), default=0)
    headings = (*header.headings, *[""] * max(0, width - len(header.headings)))
    number = sheet.row_numbers[header.index]
    where = (
        f"row {number}" if header.rows == 1 else f"rows {sheet.row_numbers[header.index - 1]} and {number}"
    )
    decisions = [
        Decision("headings", where, min(99, 60 + round(header.score * 8)), "the most known headings")
    ]
    if answers.header_row is not None:
        decisions = [Decision("headings", where, 100, "as you said")]
    questions = []
    if len(sheets) > 1 and not answers.sheet:
        names = [quoted(each.name) for each in sheets]
        text = f"The sheets {', '.join(names)} each hold a table. Which one is the shipment?"
        questions.append(Question("sheet", text, tuple(f"sheet {each.name}" for each in sheets)))
    return FoundTable(
        sheet=sheet,
        header_index=header.index,
        heading_rows=header.rows,
        headings=headings,
        sample=_sample(sheet, header, below),
        below=below,
        decisions=tuple(decisions),
        questions=tuple(questions),
    )


def _sample(sheet: Sheet, header: _Header, below: range) -> tuple[int, ...]:
    """Return the first rows that look like lines: filled like the others, and no total or charge."""
    first = [sum(not cell.is_empty for cell in sheet.rows[index]) for index in below[:50]]
    # The fullest row, not the usual one: a short invoice has more totals and charges than lines.
    usual = max(first, default=0)
    sample: list[int] = []
    for index in below:
        row = sheet.rows[index]
        filled = sum(not cell.is_empty for cell in row)
        if filled <= 1 or is_foot_row(row, is_sparse=filled < usual * _SPARSE):
            continue
        if tuple(cell.text for cell in row) == header.headings[: len(row)]:
            continue
        sample.append(index)
        if len(sample) == MOST_SAMPLED:
            break
    return tuple(sample)


def is_foot_row(row: Sequence[Cell], *, is_sparse: bool) -> bool:
    """Return whether a row is a total, or where few of its cells are filled, a charge or discount."""
    for cell in row:
        if not isinstance(cell.value, str):
            continue
        if is_sparse and label_meaning(cell.text, FOOT_LABELS)[0]:
            return True
        if _begins_with_total(cell.text):
            return True
    return False


def _begins_with_total(text: str) -> bool:
    """Return whether a text is a group's total, such as 'Total black'; 'Total 40' may be an item."""
    # Every row of the file comes here, and hardly one holds such a word.
    if _TOTAL.search(text) is None or any(char.isdigit() for char in text):
        return False
    words = text.casefold().replace("-", "").replace(":", "").split()
    return any(word in _TOTAL_WORDS for word in words[:2])
