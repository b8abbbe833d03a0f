"""Reading an events sheet from a csv file or a workbook, with every problem of it at once."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.intake.event_cells import EventCells
from ledger.intake.events import EVENT_COLUMNS, EVENTS, EventRow, EventRule, event_name
from ledger.intake.nearest import did_you_mean, nearest, quoted
from ledger.intake.records import MAX_HEADER_DEPTH, Header, find_header, normal_heading
from ledger.intake.table import Cell, Sheet, SourceFile, refusal
from ledger.intake.values import DateOrder

_REQUIRED = ("date", "event")
_MONEY = ("amount", "shipping", "fees")
_WANTED: Mapping[str, tuple[str, ...]] = dict.fromkeys(EVENT_COLUMNS, ())
_BY_HEADING = {normal_heading(column): column for column in EVENT_COLUMNS}

_INSTEAD = {
    ("charge", "sku"): "A charge is spread over whole receipts: name them in applies_to.",
    ("charge", "quantity"): "A charge has an amount only.",
    ("write_down", "quantity"): "A write_down lowers the value of what is there: give the loss as amount.",
    ("count", "amount"): "A count says how many are there; its value follows.",
    ("charge", "lot"): "Name the receipts in applies_to.",
}
"""What to do instead where a cell does not apply."""


def read_events(
    file: SourceFile,
    *,
    decimal_comma: bool = False,
    date_order: DateOrder = "year month day",
    book_currency: str = "",
) -> tuple[EventRow, ...]:
    """Return the rows of an events sheet in the order of the file.

    Arguments:
        file: what was read of the csv file or the workbook; of a workbook, every sheet with the
            headings date and event is read.
        decimal_comma: whether text numbers are written 4,10 for four and a tenth.
        date_order: how text dates are written; dates that begin with the year need none.
        book_currency: the currency of amounts beside which none stands, where it is known: they may
            not have more decimals than it has.

    Raises InputErrors with every problem of the file: unknown columns, unknown events and words,
    missing values, values that do not apply, quantities and amounts that cannot be.
    """
    cells = EventCells(decimal_comma=decimal_comma, date_order=date_order, book_currency=book_currency)
    rows: list[EventRow] = []
    problems: list[Problem] = []
    for sheet in _event_sheets(file):
        try:
            header = find_header(sheet, _WANTED, _REQUIRED)
        except InputErrors as error:
            problems += error.problems
            problems += _unknown_columns(sheet, _widest_row(sheet), frozenset())
            continue
        problems += _unknown_columns(sheet, header.row_index, set(header.columns.values()))
        rows += _SheetReader(sheet, header, cells, problems).rows()
    if problems:
        raise InputErrors(file.name, problems)
    if not rows:
        raise refusal(
            file.name,
            "there are no rows under the headings.",
            "Fill in a row for each event, save the file and try again.",
        )
    return tuple(rows)


def _event_sheets(file: SourceFile) -> list[Sheet]:
    """Return the sheets with an event column, else the one with the most headings of an events sheet."""
    if not file.sheets:
        raise refusal(file.name, "there is no visible sheet in it.", "Show the sheet, save and try again.")

    def headings(sheet: Sheet) -> set[str]:
        return _headings(sheet.rows[_widest_row(sheet)]) if sheet.rows else set()

    # A title or a list of words may hold one of the headings; a header row has two at least.
    chosen = [sheet for sheet in file.sheets if "event" in (found := headings(sheet)) and len(found) > 1]
    return chosen or [max(file.sheets, key=lambda sheet: len(headings(sheet)))]


def _headings(row: tuple[Cell, ...]) -> set[str]:
    return {_BY_HEADING[key] for cell in row if (key := normal_heading(cell.text)) in _BY_HEADING}


def _widest_row(sheet: Sheet) -> int:
    """Return the index of the row with the most headings, the first of several."""
    depth = min(len(sheet.rows), MAX_HEADER_DEPTH)
    return max(range(depth), key=lambda index: len(_headings(sheet.rows[index])), default=0)


def _unknown_columns(sheet: Sheet, row_index: int, known: Collection[int]) -> list[Problem]:
    if not sheet.rows:
        return []
    row = sheet.rows[row_index]
    there = _headings(row)
    if not there:
        return []
    missing = [column for column in EVENT_COLUMNS if column not in there]
    problems = []
    for place, cell in enumerate(row):
        if cell.is_empty or place in known or normal_heading(cell.text) in _BY_HEADING:
            continue
        near = nearest(cell.text, missing) or nearest(cell.text.replace(" ", "_"), missing)
        hint = f"Did you mean {quoted(near[0])}?" if near else f"Its columns are: {', '.join(EVENT_COLUMNS)}."
        problems.append(
            Problem(
                cell.where,
                f"the events sheet has no column {quoted(cell.text)}. {hint}",
                "Rename the column or delete it.",
            )
        )
    return problems


@dataclass(frozen=True)
class _Missing:
    """A column that a sheet does not have and its rows need."""

    first_row: int
    event: str
    rows: int


class _SheetReader:
    """One sheet's rows, read while every problem in them is collected."""

    def __init__(self, sheet: Sheet, header: Header, cells: EventCells, problems: list[Problem]) -> None:
        self._sheet = sheet
        self._header = header
        self._cells = cells
        self._problems = problems
        width = max(header.columns.values()) + 1
        names: list[str | None] = [None] * width
        for name, place in header.columns.items():
            names[place] = name
        self._names = tuple(names)
        self._events: dict[str, tuple[str, EventRule]] = {}
        self._missing: dict[str, _Missing] = {}

    def rows(self) -> list[EventRow]:
        """Return the rows without a problem; the others' problems are noted."""
        found = []
        sheet, names = self._sheet, self._names
        start = self._header.row_index + 1
        for row, number in zip(sheet.rows[start:], sheet.row_numbers[start:], strict=True):
            filled = {
                name: cell
                for name, cell in zip(names, row, strict=False)
                if name is not None and cell.value is not None
            }
            if filled:
                read = self._row(number, filled)
                if read is not None:
                    found.append(read)
        for column, missing in self._missing.items():
            self._problems.append(self._missing_column(column, missing))
        return found

    def _row(self, number: int, filled: dict[str, Cell]) -> EventRow | None:
        """Return one row, None where anything in it is wrong."""
        before = len(self._problems)
        named = self._event(number, filled)
        rule = named[1] if named else None
        values: dict[str, Any] = {}
        readers = self._cells.readers
        for column, cell in filled.items():
            if column == "event" or (rule is not None and column not in rule.takes):
                continue
            try:
                values[column] = readers[column](cell, rule)
            except ValueProblem as problem:
                self._note(number, column, f"{problem}")
        if named is None:
            return None
        event, rule = named
        absent = "date" not in filled or not rule.needs <= filled.keys()
        if absent:
            self._note_absent(number, event, filled)
        if not filled.keys() <= rule.takes:
            self._note_unfit(number, event, filled)
        self._check_together(number, event, filled, values)
        if absent or len(self._problems) > before:
            return None
        if rule.default_kind and "kind" not in values:
            values["kind"] = rule.default_kind
        return EventRow(where=self._sheet.row_place(number), event=event, **values)

    def _event(self, number: int, filled: dict[str, Cell]) -> tuple[str, EventRule] | None:
        cell = filled.get("event")
        typed = None if cell is None else cell.value
        if type(typed) is str and typed in self._events:
            return self._events[typed]
        text = "" if cell is None else cell.text
        name = event_name(text)
        if name in EVENTS:
            known = (name, EVENTS[name])
            if type(typed) is str:
                self._events[typed] = known
            return known
        if cell is None:
            self._note(number, "event", "the event is missing.", f"Write one of: {', '.join(EVENTS)}.")
        else:
            self._note(number, "event", f"{quoted(text)} is no event. {did_you_mean(name, EVENTS)}")
        return None

    def _note_absent(self, number: int, event: str, filled: dict[str, Cell]) -> None:
        """Note what the row needs and lacks; a column the sheet does not have is noted once."""
        for column in EVENT_COLUMNS:
            if column in filled or (column != "date" and column not in EVENTS[event].needs):
                continue
            if column in self._header.columns:
                kinds = EVENTS[event].kinds if column == "kind" else ()
                next_step = f"Write one of: {', '.join(kinds)}." if kinds else "Fill it in."
                self._note(number, column, f"a {event} row needs the column {column}.", next_step)
            else:
                before = self._missing.get(column, _Missing(number, event, 0))
                self._missing[column] = _Missing(before.first_row, before.event, before.rows + 1)

    def _note_unfit(self, number: int, event: str, filled: dict[str, Cell]) -> None:
        for column, cell in filled.items():
            if column not in EVENTS[event].takes:
                what = (
                    f"{quoted(cell.text)} stands in the column {column}, which a {event} row does not have."
                )
                instead = _INSTEAD.get((event, column), "")
                self._note(number, column, what, f"{instead} Leave the cell empty.".lstrip())

    def _check_together(
        self, number: int, event: str, filled: dict[str, Cell], values: dict[str, Any]
    ) -> None:
        """Note what is wrong between the columns of a row."""
        if "quantity" in values:
            if fault := self._cells.quantity_fault(values["quantity"], values.get("unit", "")):
                self._note(number, "quantity", fault)
        elif "unit" in filled and "quantity" not in filled and event == "refund":
            self._note(number, "unit", "a unit stands without a quantity.", "Fill in both or neither.")
        if "currency" in values or "currency" not in filled:
            # Where the currency cannot be read, nobody knows its decimals.
            currency = values.get("currency", "")
            for column in _MONEY:
                if column in values and (fault := self._cells.amount_fault(values[column], currency)):
                    self._note(number, column, fault)
        if "rate" in values and "currency" not in filled:
            self._note(number, "rate", "a rate stands without a currency.", "Say which currency it converts.")
        if event == "send_back" and ("lot" in filled) == ("applies_to" in filled):
            column = "lot" if "lot" in self._header.columns else "applies_to"
            what = "both applies_to and lot are" if "lot" in filled else "neither applies_to nor lot is"
            next_step = "Say what goes back: a receipt in applies_to, or a lot like 12.3, one of the two."
            self._note(number, column, f"{what} filled in.", next_step)
        if event == "refund" and "amount" not in filled and "shipping" not in filled:
            self._note(
                number, "amount", "a refund row needs an amount or shipping.", "Fill in what was paid back."
            )

    def _note(self, number: int, column: str, what: str, next_step: str = "") -> None:
        place = self._header.columns.get(column)
        where = (
            self._sheet.row_place(number)
            if place is None
            else self._sheet.cell_place(number, place, self._header.headings[column])
        )
        self._problems.append(Problem(where, what, next_step))

    def _missing_column(self, column: str, missing: _Missing) -> Problem:
        rows = f"{missing.rows} rows need it" if missing.rows > 1 else "one row needs it"
        first = "the first is" if missing.rows > 1 else "it is"
        where = f"{self._sheet.row_word} {missing.first_row}"
        return Problem(
            self._sheet.row_place(self._header.row_number),
            f"the column {column} is missing: {rows}; {first} {where}, a {missing.event}.",
            f"Head a column {column} and fill it in.",
        )
