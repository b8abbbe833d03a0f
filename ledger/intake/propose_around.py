"""What stands under the lines: totals, discounts and charges, and whether they add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.errors import InputErrors, Problem
from ledger.exact.numbers import show_scaled
from ledger.exact.rounding import round_fraction
from ledger.intake.carton_ranges import cartons_or_none
from ledger.intake.column_values import number_of
from ledger.intake.head_labels import label_key
from ledger.intake.heading_words import label_meaning
from ledger.intake.layout_words import FOOT_LABELS
from ledger.intake.nearest import fold, quoted
from ledger.intake.proposal import SURE, Answers, Decision, Question
from ledger.intake.propose_columns import Columns
from ledger.intake.propose_head import Around
from ledger.intake.propose_table import is_foot_row
from ledger.intake.records import normal_heading
from ledger.intake.shipment_frame import FootLabels
from ledger.intake.table import Cell

_TOTALS = ("lines total", "invoice total")
_CENT = Fraction(1, 100)
MOST_BY_LABEL = 90
"""How sure a label alone can be."""
_LONGEST_LABEL = 40
_IDENTITY = ("sku", "code", "style", "colour", "size", "variant", "description")


@dataclass
class _FootRow:
    """One row under lines: its label, its amount, and the sums of the lines above it."""

    label: str
    where: str
    amount: Fraction
    so_far: Fraction
    since: Fraction
    counted: Fraction = Fraction(0)
    counted_since: Fraction = Fraction(0)
    """The pieces of all lines above, and of those since the last such row."""


def find_foot(columns: Columns, answers: Answers, around: Around) -> None:
    """Tell lines from totals and charges, and find out what each of these is and whether they add up."""
    rows, total = _walk(columns, around)
    _check_told(rows, answers)
    labels = {label_key(row.label): row.label for row in reversed(rows)}
    meanings: dict[str, tuple[str, int]] = {}
    told = {label_key(label): meaning for label, meaning in answers.foot.items()}
    for key, label in labels.items():
        meaning, confidence = label_meaning(label, FOOT_LABELS)
        if not meaning and _is_total(label):
            meaning, confidence = "lines total", 75
        meanings[key] = (told[key], SURE) if key in told else (meaning, min(confidence, MOST_BY_LABEL))
    charges = _signed(rows, {key: meaning for key, (meaning, _) in meanings.items()})
    for key, label in reversed(list(labels.items())):
        own = [row for row in rows if label_key(row.label) == key]
        _decide(columns, around, label, meanings[key], own, (total, total + charges))


def _check_told(rows: Sequence[_FootRow], answers: Answers) -> None:
    """Refuse an answer about a label that no row under the lines has."""
    known = FootLabels({row.label: "there" for row in rows})
    problems = [
        Problem(f"label {quoted(label)}", "no row under the lines is called so.", _labels_there(rows))
        for label in answers.foot
        if not known.meaning(label)
    ]
    if problems:
        raise InputErrors("what you said of the file", problems)


def _labels_there(rows: Sequence[_FootRow]) -> str:
    names = list(dict.fromkeys(quoted(row.label) for row in rows))
    return f"There are: {', '.join(names)}." if names else "No row with an amount stands there."


def _is_total(label: str) -> bool:
    return any(word in ("total", "totals", "subtotal") for word in fold(label).replace("-", "").split()[:2])


def _walk(columns: Columns, around: Around) -> tuple[list[_FootRow], Fraction]:
    """Go through the rows under the headings; return the foot rows and the sum of all lines."""
    table = columns.table
    rows: list[_FootRow] = []
    total = since = count = count_since = Fraction(0)
    headings = {place: normal_heading(text) for place, text in enumerate(table.headings) if text}
    lines = _Lines(columns)
    for index in table.below:
        row = table.sheet.rows[index]
        if all(
            normal_heading(cell.text) == headings.get(place) for place, cell in enumerate(row) if cell.text
        ):
            continue
        amount = lines.amount(row)
        if amount is not None and not is_foot_row(row, is_sparse=False):
            around.line_indexes.append(index)
            total, since = total + amount, since + amount
            came = sum(lines.counts(row), Fraction(0))
            count, count_since = count + came, count_since + came
            continue
        found = _foot_row(columns, row)
        if found is None:
            continue
        label, value = found
        where = table.sheet.row_place(table.sheet.row_numbers[index])
        rows.append(_FootRow(label, where, value, total, since, count, count_since))
        since = count_since = Fraction(0)
    return rows, total


def _at(row: Sequence[Cell], place: int | None) -> Cell | None:
    return row[place] if place is not None and place < len(row) and not row[place].is_empty else None


def _cartons(columns: Columns) -> tuple[int, int | None, bool] | None:
    """Return where the cartons and what one holds stand, and whether the first are numbers of cartons."""
    for name in ("cartons", "carton_numbers"):
        place, per = columns.place_of(name), columns.place_of("per_carton")
        if place is not None and (per is not None or columns.across()):
            return place, per, name == "carton_numbers"
    return None


class _Lines:
    """What rows cost where they are lines; where the columns are is looked up once."""

    def __init__(self, columns: Columns) -> None:
        self._comma = columns.decimal_comma
        self._identity = [place for name in _IDENTITY if (place := columns.place_of(name)) is not None]
        self._across = columns.across()
        self._quantity = columns.place_of("quantity")
        self._cartons = _cartons(columns)
        self._counts: list[int | None] = [*self._across] or [self._quantity]
        self._amount, self._price, self._percent = (
            columns.place_of(name) for name in ("line_total", "unit_price", "discount_percent")
        )
        self._per = {"dozen": 12, "hundred": 100}.get(columns.price_per, 1)

    def amount(self, row: Sequence[Cell]) -> Fraction | None:
        """Return what a line costs, zero where the file has no prices, None where the row is no line."""
        found = self._of_line(row)
        return self._without_quantity(row) if found is None else found

    def _of_line(self, row: Sequence[Cell]) -> Fraction | None:
        if self._identity and not any(_at(row, place) for place in self._identity):
            return None
        there = self.counts(row)
        if not there:
            return None
        amount = self._number(row, self._amount)
        if amount is not None:
            return amount
        price = self._number(row, self._price) or Fraction(0)
        percent = self._number(row, self._percent) or Fraction(0)
        gross = sum(there, Fraction(0)) * price * (100 - percent) / 100 / self._per
        return Fraction(round(gross * 100), 100)

    def counts(self, row: Sequence[Cell]) -> list[Fraction]:
        """Return how many came by one row: its quantity, its sizes, or its cartons x what one holds."""
        numbers = [self._number(row, place) for place in self._counts]
        there = [number for number in numbers if number is not None]
        if self._cartons is None or (there and not self._across):
            return there
        place, per, is_numbers = self._cartons
        cell = _at(row, place)
        cartons = cartons_or_none(cell) if is_numbers else self._number(row, place)
        if cartons is None:
            return []
        if self._across:
            return [number * cartons for number in there]
        held = self._number(row, per)
        return [] if held is None else [cartons * held]

    def _number(self, row: Sequence[Cell], place: int | None) -> Fraction | None:
        cell = _at(row, place)
        return None if cell is None else number_of(cell, decimal_comma=self._comma)

    def _without_quantity(self, row: Sequence[Cell]) -> Fraction | None:
        """Return the amount of a line whose quantity is a word ('twelve') or gone, None of what is no line.

        Such a row names an item and is no label of the foot; what is wrong is told at its cell when it is read.
        """
        named = sum(_at(row, place) is not None for place in self._identity)
        amount, price = self._number(row, self._amount), self._number(row, self._price)
        if self._across or amount is None or not named:
            return None
        if any(_is_foot_text(cell) for cell in row if isinstance(cell.value, str)):
            return None
        # A charge nobody knows names one thing only, and has neither a price nor a quantity.
        if _at(row, self._quantity) is None:
            is_line = named == len(self._identity) > 1 and price is not None
        else:
            is_line = named > 1 or (len(self._identity) == 1 and price is not None)
        return amount if is_line else None


def _is_foot_text(cell: Cell) -> bool:
    return bool(label_meaning(cell.text, FOOT_LABELS)[0]) or _is_total(cell.text)


def _foot_row(columns: Columns, row: Sequence[Cell]) -> tuple[str, Fraction] | None:
    """Return the label and amount of a row that is no line, None where it is text around the table."""
    texts = [
        cell for cell in row if isinstance(cell.value, str) and any(char.isalpha() for char in cell.text)
    ]
    texts = [cell for cell in texts if len(cell.text) <= _LONGEST_LABEL]
    amount = None
    own = columns.place_of("line_total")
    first = [own] if _at(row, own) is not None and own is not None else []
    for place in (*first, *range(len(row) - 1, -1, -1)):
        number = number_of(row[place], decimal_comma=columns.decimal_comma)
        if number is not None and not row[place].text.endswith("%"):
            amount = (place, number)
            break
    if amount is None or not texts:
        return None
    known = [cell for cell in texts if _is_foot_text(cell)]
    read = {place for place, each in columns.taken.items() if each.meaning}
    if not known and amount[0] not in read:
        return None
    return (known or texts)[0].text.rstrip(": "), amount[1]


def _signed(rows: Sequence[_FootRow], meanings: dict[str, str]) -> Fraction:
    """Return what the foot adds to the lines: charges, less discounts."""
    total = Fraction(0)
    for row in rows:
        meaning = meanings[label_key(row.label)]
        if meaning == "discount":
            total -= abs(row.amount)
        elif meaning and meaning not in (*_TOTALS, "ignore"):
            total += row.amount
    return total


def _decide(
    columns: Columns,
    around: Around,
    label: str,
    meaning_and_confidence: tuple[str, int],
    rows: Sequence[_FootRow],
    sums: tuple[Fraction, Fraction],
) -> None:
    """Decide what one label means; ``sums`` are the lines' and the invoice's."""
    meaning, confidence = meaning_and_confidence
    subject = f"row {quoted(label)}"
    shown = ", ".join(_shown(row.amount) for row in rows[:3])
    if not meaning:
        text = f"{rows[0].where}: {quoted(label)} has the amount {shown}. What is it?"
        is_less = any(row.amount < 0 for row in rows)
        first = "discount" if is_less else "other by value"
        if all(_same(row.amount, row.so_far) for row in rows):
            first = "lines total"
        answers = (f'label "{label}" = {first}', f'label "{label}" = ignore')
        around.questions.append(Question(label, text, answers))
        return
    why = "as you said" if confidence == SURE else "by its label"
    if meaning in _TOTALS and confidence < SURE:
        if columns.place_of("unit_price") is None and columns.place_of("line_total") is None:
            if not (around.is_price_open or _is_of_pieces(rows)):
                text = (
                    f"{rows[0].where}: {quoted(label)} has the amount {shown}, which is not the number of pieces, and no "
                    "column holds prices. What is it?"
                )
                around.questions.append(Question(label, text, (f'label "{label}" = ignore',)))
            meaning, confidence, why = "ignore", 85, "a total of pieces: the file has no prices"
        else:
            meaning, confidence, why = _checked(meaning, rows, sums)
    around.foot[label] = meaning
    around.decisions.append(Decision(subject, f"{meaning}: {shown}", min(confidence, SURE), why))


def _is_of_pieces(rows: Sequence[_FootRow]) -> bool:
    """Return whether totals of a file without prices are numbers of pieces, or of nothing."""
    return all(row.amount in (0, row.counted, row.counted_since) for row in rows)


def _checked(meaning: str, rows: Sequence[_FootRow], sums: tuple[Fraction, Fraction]) -> tuple[str, int, str]:
    """Return what totals of one label are, by what they add up to."""
    lines, whole = sums
    if all(_same(row.amount, row.so_far) or _same(row.amount, row.since) for row in rows) and (
        meaning == "lines total" or lines != whole
    ):
        return "lines total", 97, "it is what the lines above add up to"
    if all(_same(row.amount, whole) for row in rows):
        return "invoice total", 97, "it is what lines, discounts and charges add up to"
    if all(_same(row.amount, row.so_far) or _same(row.amount, row.since) for row in rows):
        return "lines total", 95, "it is what the lines above add up to"
    found = _shown(lines if meaning == "lines total" else whole)
    return meaning, 40, f"it does not add up: {found} was expected"


def _same(left: Fraction, right: Fraction) -> bool:
    return abs(left - right) < _CENT


def _shown(amount: Fraction) -> str:
    return show_scaled(round_fraction(amount * 100), 2)
