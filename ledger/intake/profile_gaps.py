"""What a file holds that its profile says nothing of: new columns, another currency, a date that is gone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from ledger.errors import InputErrors
from ledger.intake.currency_marks import CurrencyMark, marks_of
from ledger.intake.heading_rows import heading_at, placed_at, with_joined_headings
from ledger.intake.heading_words import label_meaning
from ledger.intake.layout_words import HEAD_LABELS
from ledger.intake.nearest import quoted
from ledger.intake.profile import Profile
from ledger.intake.proposal import Question
from ledger.intake.records import normal_heading
from ledger.intake.shipment_frame import Columns, FootLabels, choose_sheet, find_columns, head_cell
from ledger.intake.table import Cell, Sheet, SourceFile
from ledger.intake.unread import Unread, is_currency_heading, must_be_asked, question_about

DATE_ANSWER = "date = YEAR-MONTH-DAY"
"""How a date is told; as it stands it is none, so that nobody takes an example for theirs."""

_KEPT = 200
"""How many cells of a column are looked at."""
_NOTHING = frozenset(["0", "0.0", "0.00", "0,00", "-", "–", "—", "0%"])
_MONEY = ("unit_price", "line_total")


@dataclass
class Watch:
    """What is noticed row by row while a file is read by its profile."""

    sheet: Sheet
    columns: Columns
    profile: Profile
    _cells: dict[int, list[Cell]] = field(init=False, default_factory=dict)
    _marks: dict[str, CurrencyMark] = field(init=False, default_factory=dict)
    _left: frozenset[int] = field(init=False)
    _headings: tuple[str, ...] = field(init=False)
    _currencies: tuple[int, ...] = field(init=False)
    _money: tuple[int, ...] = field(init=False)
    _read: frozenset[int] = field(init=False)
    _unread: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        joined = with_joined_headings(self.sheet, self.profile)
        index = self.columns.row_index
        self._headings = tuple(heading_at(joined, index, place) for place in range(len(joined.rows[index])))
        named = {normal_heading(each) for each in self.profile.not_read}
        places = {placed_at((each,)) for each in self.profile.not_read}
        self._left = frozenset(
            place
            for place, heading in enumerate(self._headings)
            if place in places or (heading and normal_heading(heading) in named)
        ) | {place for place in places if place is not None}
        self._currencies = tuple(
            place for place, heading in enumerate(self._headings) if is_currency_heading(heading)
        )
        self._money = tuple(self.columns.places[name] for name in _MONEY if name in self.columns.places)
        self._read = frozenset((*self.columns.places.values(), *self._left, *self._currencies))
        self._unread = tuple(place for place in range(len(self._headings)) if place not in self._read)
        for place in self._money:
            self._see(Cell(self._heading(place), self.sheet.row_place(self.sheet.row_numbers[index])))
        self._read_head(index)

    def _read_head(self, above: int) -> None:
        for row in self.sheet.rows[:above]:
            for place, cell in enumerate(row):
                self._see(cell)
                start, colon, rest = cell.text.partition(":")
                is_label = isinstance(cell.value, str) and label_meaning(start, HEAD_LABELS)[0] == "currency"
                right = next((other for other in row[place + 1 :] if not other.is_empty), None)
                value = Cell(rest.strip(), cell.where) if colon and rest.strip() else right
                if is_label and value is not None:
                    self._see(value, is_label_value=True)

    def _heading(self, place: int) -> str:
        return self._headings[place] if place < len(self._headings) else ""

    def _see(self, cell: Cell, *, is_label_value: bool = False) -> None:
        for mark in marks_of(cell, is_label_value=is_label_value):
            self._marks.setdefault(",".join(mark.possible), mark)

    def line(self, row: Sequence[Cell]) -> None:
        """Notice a row that is a line."""
        for place in self._money:
            if place < len(row) and isinstance(row[place].value, str):
                self._see(row[place])
        for place in self._currencies:
            if place < len(row):
                self._see(row[place], is_label_value=True)
        width = len(self._headings)
        for place in (*self._unread, *range(width, len(row))) if len(row) > width else self._unread:
            if place in self._read or place >= len(row) or row[place].is_empty:
                continue
            kept = self._cells.setdefault(place, [])
            if len(kept) < _KEPT and row[place].text not in _NOTHING:
                kept.append(row[place])

    def foot(self, row: Sequence[Cell]) -> None:
        """Notice a row of the foot."""
        for cell in row:
            self._see(cell)

    def new_columns(self) -> list[Question]:
        """Return a question for every column that the profile does not name and that may not be dropped."""
        comma = self.profile.decimal_comma
        found = [
            Unread(place, self._heading(place), cells, comma) for place, cells in sorted(self._cells.items())
        ]
        return [question_about(column) for column in found if must_be_asked(column)]

    def other_currency(self, currency: str) -> list[Question]:
        """Return the question which currency it is, where the file tells another one than ``currency``."""
        other = next((mark for mark in self._marks.values() if currency not in mark.possible), None)
        if other is None:
            return []
        text = (
            f"{other.cell.where}: {quoted(other.cell.text)} stands there, and the prices would be read in {currency}. "
            "In which are they?"
        )
        return [
            Question("currency", text, tuple(f"currency {code}" for code in (*other.possible[:3], currency)))
        ]


def find_gaps(file: SourceFile, profile: Profile, *, currency: str, default_currency: str) -> list[Question]:
    """Return what must be answered before a file is read by a profile that was made for another one.

    Arguments:
        file: the file as a reader hands it on.
        profile: the profile; where it does not fit the file at all, reading tells it.
        currency: the currency that was given for this file, which settles it; '' where none was.
        default_currency: the book's, for a profile without one.
    """
    try:
        sheet = choose_sheet(file, profile)
        columns = find_columns(sheet, profile)
    except InputErrors:
        return []
    watch, labels = Watch(sheet, columns, profile), FootLabels(profile.foot)
    counts = [
        place
        for name, place in columns.places.items()
        if name in ("quantity", "per_carton", "pieces") or name.startswith("size ")
    ]
    for index in range(columns.row_index + 1, len(sheet.rows)):
        row = sheet.rows[index]
        if any(isinstance(cell.value, str) and labels.meaning(cell.text) for cell in row):
            watch.foot(row)
        elif any(place < len(row) and not row[place].is_empty for place in counts):
            watch.line(row)
    questions = watch.new_columns()
    if not currency:
        stated = head_cell(sheet, profile, "currency", columns.row_index)
        told = (stated.text.upper() if stated is not None else "") or profile.currency or default_currency
        questions += watch.other_currency(told)
    return questions


def date_gap(file: SourceFile, profile: Profile) -> list[Question]:
    """Return the question about the date where the profile finds none above the lines of this file."""
    try:
        sheet = choose_sheet(file, profile)
        above = find_columns(sheet, profile).row_index
    except InputErrors:
        return []
    return (
        []
        if head_cell(sheet, profile, "date", above) is not None
        else [no_date(profile.head.get("date", ""))]
    )


def no_date(label: str = "") -> Question:
    """Return the question about a date that a file does not tell; ``label`` is where it stood before."""
    where = f" beside {quoted(label)}" if label else ""
    text = f"No date was found{where} above the lines. On which day did it come?"
    return Question("date", text, (DATE_ANSWER,))
