"""Proposing a profile for a sales export nobody prepared for; what the file does not tell is asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from ledger.errors import InputErrors
from ledger.intake.column_values import looks_like_date, number_of
from ledger.intake.heading_words import nearest_word
from ledger.intake.nearest import did_you_mean, fold
from ledger.intake.proposal import IGNORED, SURE, ColumnDecision, Decision, Question
from ledger.intake.propose_sales_habits import SalesHabits
from ledger.intake.propose_sales_money import proposed_currency, unread_questions
from ledger.intake.records import MAX_HEADER_DEPTH, error_problem
from ledger.intake.sales_answers import SalesAnswers
from ledger.intake.sales_headings import HEADINGS, plain_heading
from ledger.intake.sales_profile import (
    IGNORE,
    MONEY_COLUMNS,
    MORE_COLUMNS,
    SalesProfile,
    read_sales_profile,
)
from ledger.intake.sales_table import LOOKED_AT, SalesQuestion, SalesTable
from ledger.intake.sales_toml import toml_text
from ledger.intake.sales_words import NEAR, is_status_heading
from ledger.intake.table import Cell, Sheet, SourceFile, column_letters, column_place, refusal

_ENOUGH = 3
_STATUS_BEHIND = 15
"""How much less a column that says how far an order is counts as a type than one that is headed so."""

_MOSTLY = Fraction(4, 5)
_NOTHING: Mapping[int, str] = MappingProxyType({})
PARTY_ANSWER = "--party NAME"
_BY_VALUES = 80
_MOST_DATES = 50
_PRICES = ("item_total", "unit_price")
_DATES = ("date", "refunded_on")
_NUMBERS = ("pieces", *MONEY_COLUMNS)


@dataclass(frozen=True)
class SalesProposal:
    """A sales profile for an unknown layout, as TOML tables, with every decision and open question."""

    tables: Mapping[str, Any]
    sheet: Sheet
    header_index: int
    columns: tuple[ColumnDecision, ...]
    decisions: tuple[Decision, ...]
    questions: tuple[Question, ...] = ()

    def to_profile(self) -> SalesProfile:
        """Return the proposed profile. Raises InputErrors with what a person has to say first."""
        return read_sales_profile(self.tables, "proposal")

    def to_toml(self) -> str:
        """Return the profile as the text of a file to keep; open questions stand in it as comments."""
        asked = []
        for question in self.questions:
            in_file = question.in_file if isinstance(question, SalesQuestion) else ""
            asked.append(f"# To be answered: {question.text}" + (f" Write {in_file}." if in_file else ""))
        return "".join(f"{line}\n" for line in asked) + toml_text(self.tables)

    def asks(self, subject: str) -> bool:
        """Return whether a question about the subject is open."""
        return any(each.subject == subject for each in self.questions)


def propose_sales(
    file: SourceFile, *, party: str = "", currency: str = "", answers: SalesAnswers | None = None
) -> SalesProposal:
    """Return a proposed profile for a sales export, from its headings and its first rows.

    ``party`` is the channel's name, ``currency`` the book's, for a file that tells none; ``answers`` what a
    person said of the file, which comes before everything else.
    Raises InputErrors where no sheet has a row of headings of a sales export, or an answer names a column
    that is not there.
    """
    said = answers or SalesAnswers()
    sheets, only_row = _chosen_sheets(file, said), said.setting("file", "header_row", 0)
    best = max(
        (
            (len(found), -index, sheet)
            for sheet in sheets
            for index, found in _headings(sheet)
            if not only_row or sheet.row_numbers[index] == only_row
        ),
        key=lambda each: each[:2],
        default=None,
    )
    if best is None or (best[0] < _ENOUGH and not said.columns):
        what = "no row of headings of a sales export: a date, an order, what was sold, its total."
        advice = (
            'Say what its columns are: --as "A=date" --as "B=order" --as "C=title" --as "D=item total" and so on '
            "(--propose shows how it would be read), or write a profile: begin with a copy of "
            "sales-one-row-per-item.toml."
        )
        raise refusal(file.name, what, advice)
    return _Proposing(best[2], -best[1], (party, currency, file.name), said).proposal()


def _chosen_sheets(file: SourceFile, answers: SalesAnswers) -> tuple[Sheet, ...]:
    wanted = answers.setting("file", "sheet")
    if not wanted:
        return file.sheets
    found = tuple(sheet for sheet in file.sheets if fold(sheet.name) == fold(wanted))
    if not found:
        names = [sheet.name for sheet in file.sheets]
        raise refusal(file.name, f"there is no sheet '{wanted}'.", did_you_mean(wanted, names))
    return found


def _headings(sheet: Sheet) -> list[tuple[int, dict[int, str]]]:
    """Return the rows that may be headings, with what each column comes nearest to."""
    depth = min(len(sheet.rows), MAX_HEADER_DEPTH)
    return [
        (index, {place: name for place, (name, _) in _meanings(sheet.rows[index]).items()})
        for index in range(depth)
    ]


def _meanings(row: Sequence[Cell], said: Mapping[int, str] = _NOTHING) -> dict[int, tuple[str, int]]:
    """Return what the columns of a row are by their headings, each meaning once, the nearest first.

    Columns and meanings of which somebody said something are left out.
    """
    scored = [
        (score - (_STATUS_BEHIND if name == "type" and is_status_heading(cell.text) else 0), -place, name)
        for place, cell in enumerate(row)
        if isinstance(cell.value, str) and (text := plain_heading(cell.text))
        for name, words in HEADINGS.items()
        if place not in said and name not in said.values()
        if (score := nearest_word(text, words)[0]) >= NEAR
    ]
    found: dict[int, tuple[str, int]] = {}
    for score, minus_place, name in sorted(scored, reverse=True):
        if -minus_place not in found and all(name != other for other, _ in found.values()):
            found[-minus_place] = (name, score)
    return found


class _Proposing:
    """One sheet's proposal under way."""

    def __init__(
        self, sheet: Sheet, header_index: int, known: tuple[str, str, str], said: SalesAnswers
    ) -> None:
        self.sheet, self.header_index, self.said = sheet, header_index, said
        self.header = sheet.rows[header_index]
        rows = tuple(sheet.rows[header_index + 1 : header_index + 1 + LOOKED_AT])
        self.table = SalesTable(rows, {}, decimal_comma=False, sheet=sheet)
        self.columns: list[ColumnDecision] = []
        self.questions: list[Question] = []
        self.party, self.currency, self.file_name = known
        self._dated: list[int] | None = None

    def proposal(self) -> SalesProposal:
        """Return the proposal."""
        self._check_letters()
        self._decide_columns()
        self._refuse_errors()
        places, said = self.table.places, self.said
        if said.types and "type" not in places:
            what = "you said what its types mean, and no column is the type."
            raise refusal("what you said of the file", what, 'Say which column it is: "B=type".')
        habits = SalesHabits(
            self.table, said, {name: self.header[place].text for name, place in places.items()}
        )
        tables: dict[str, Any] = {"kind": "sales"}
        if self.party:
            tables["party"] = self.party
        currency = self._currency(habits)
        if currency:
            tables["currency"] = currency
        numbers = habits.numbers()
        told: dict[str, dict[str, Any]] = {
            "file": {key: value for (table, key), value in said.settings.items() if table == "file"},
            "numbers": numbers,
            "columns": self._headings(),
            "amounts": habits.amounts(),
            "refunds": habits.refunds(),
            "types": habits.types(),
        }
        told["amounts"] |= habits.fee_rows()
        words = habits.no_goods()
        told["set_aside"] = {"words": words} if words else {}
        tables |= {name: table for name, table in told.items() if table}
        self.questions = habits.questions
        self._ask_what_is_missing()
        ignored = self._headings().get(IGNORE, ())
        self.questions += unread_questions(
            self.table, self.header, ignored, currency or self.currency, self.questions
        )
        return SalesProposal(
            tables=tables,
            sheet=self.sheet,
            header_index=self.header_index,
            columns=tuple(self.columns),
            decisions=tuple(habits.decisions),
            questions=tuple(self.questions),
        )

    def decided(self) -> set[str]:
        """Return what the columns are taken as, without looking any further."""
        self._decide_columns()
        return set(self.table.places)

    def _check_letters(self) -> None:
        filled = [place for place, cell in enumerate(self.header) if not cell.is_empty]
        width = max(map(len, (self.header, *self.table.rows)))
        for letters, meaning in self.said.columns.items():
            is_there = (
                column_place(letters) < width if meaning == IGNORED else column_place(letters) in filled
            )
            if not is_there:
                there = ", ".join(f"{column_letters(place)} {self.header[place].text}" for place in filled)
                what = f"the file has no headed column {letters}. It has: {there}."
                raise refusal("what you said of the file", what, "Name the column by its letters.")

    def _decide_columns(self) -> None:
        said = {column_place(letters): meaning for letters, meaning in self.said.columns.items()}
        taken = {meaning for meaning in said.values() if meaning != IGNORED}
        found = _meanings(self.header, said)
        comma = self.said.setting("numbers", "decimal_comma", None)
        if comma is None:
            comma = self._has_decimal_comma(found | {place: (name, SURE) for place, name in said.items()})
        self.table = replace(self.table, decimal_comma=comma)
        places: dict[str, int] = {}
        more: dict[str, tuple[int, ...]] = {}
        for place, cell in enumerate(self.header):
            if cell.is_empty:
                continue
            values = self.table.cells(place)
            name, score, why = self._taken(place, found, values)
            if place in said:
                name, score, why = said[place].replace(IGNORED, ""), SURE, "you said so"
            elif name in taken:
                name, score, why = "", 0, "another column is that"
            if name in MORE_COLUMNS:
                more[name] = (*more.get(name, ()), place)
            elif name:
                places[name] = place
            example = values[0].text if values else ""
            sure = score if place in said else min(score, 99)
            self.columns.append(ColumnDecision(place, cell.text, name, sure, why, example))
        self.table = replace(self.table, places=places, more=more)

    def _headings(self) -> dict[str, Any]:
        """Return the [columns] of the profile."""
        found: dict[str, Any] = {name: self.header[place].text for name, place in self.table.places.items()}
        found |= {
            name: [self.header[place].text for place in places] for name, places in self.table.more.items()
        }
        ignored = []
        for letters, meaning in self.said.columns.items():
            if meaning == IGNORED:
                place = column_place(letters)
                text = self.header[place].text if place < len(self.header) else ""
                ignored.append(text or f"column {letters}")
        return {**found, IGNORE: ignored} if ignored else found

    def _refuse_errors(self) -> None:
        """Refuse errors such as #REF! in columns that are read or headed as one, each at its cell."""
        near = _meanings(self.header)
        said = {column_place(letters): meaning for letters, meaning in self.said.columns.items()}
        read = {
            *self.table.places.values(),
            *near,
            *(place for each in self.table.more.values() for place in each),
        }
        read -= {place for place, meaning in said.items() if meaning == IGNORED}
        problems = [
            error_problem(cell, self.sheet.cell_place(number, place, self.header[place].text))
            for row, number in zip(
                self.table.rows, self.sheet.row_numbers[self.header_index + 1 :], strict=False
            )
            for place in sorted(read)
            if place < len(row) and (cell := row[place]).is_error
        ]
        if problems:
            raise InputErrors(self.file_name, problems)

    def _currency(self, habits: SalesHabits) -> str:
        """Return the currency of the profile; empty where a column says it, or it is asked."""
        if self.said.currency:
            return self.said.currency
        found = proposed_currency(self.table, self.header, self.currency)
        habits.decisions += [found.decision] if found.decision is not None else []
        habits.questions += [found.question] if found.question is not None else []
        return found.code

    def _taken(
        self, place: int, found: Mapping[int, tuple[str, int]], values: Sequence[Cell]
    ) -> tuple[str, int, str]:
        """Return what a column is by its heading and values, how sure that is, and why."""
        name, score = found.get(place, ("", 0))
        if place == self._only_dates(found):
            return "date", _BY_VALUES, "the only column of dates"
        if not name:
            return "", 0, "no heading of sales is near"
        why = f"the heading is near '{name.replace('_', ' ')}'"
        fault = self._unfit(name, values)
        return ("", 0, f"{why}, but {fault}") if fault else (name, score, why)

    def _only_dates(self, found: Mapping[int, tuple[str, int]]) -> int | None:
        """Return the only column that holds dates, where no heading says which one does."""
        if any(name == "date" for name, _ in found.values()) or "date" in self.said.columns.values():
            return None
        if self._dated is None:
            places = [
                place for place, cell in enumerate(self.header) if not cell.is_empty and place not in found
            ]
            self._dated = [
                place
                for place in places
                if (values := self.table.cells(place)[:_MOST_DATES]) and all(map(looks_like_date, values))
            ]
        return self._dated[0] if len(self._dated) == 1 else None

    def _unfit(self, name: str, values: Sequence[Cell]) -> str:
        """Return why a column's values cannot be what its heading says, '' where they can."""
        if name in _DATES and sum(map(looks_like_date, values)) < _MOSTLY * len(values):
            return "it holds no dates"
        if (
            name == "type"
            and values
            and all(number_of(cell, decimal_comma=False) is not None for cell in values)
        ):
            return "it holds numbers"
        if name in _NUMBERS:
            sound = [cell for cell in values if not cell.is_error]
            numbers = sum(
                number_of(cell, decimal_comma=self.table.decimal_comma) is not None for cell in sound
            )
            if numbers < _MOSTLY * len(sound):
                return "it holds no numbers"
        return ""

    def _has_decimal_comma(self, found: Mapping[int, tuple[str, int]]) -> bool:
        texts = [
            cell
            for place, (name, _) in found.items()
            if name in _NUMBERS
            for cell in self.table.cells(place)
            if isinstance(cell.value, str)
        ]
        read = {
            sign: sum(number_of(cell, decimal_comma=sign) is not None for cell in texts)
            for sign in (False, True)
        }
        return read[True] > read[False]

    def _ask_what_is_missing(self) -> None:
        places = self.table.places
        headings = [(place, cell.text) for place, cell in enumerate(self.header) if not cell.is_empty]
        there = ", ".join(f"{column_letters(place)} {text}" for place, text in headings)
        free = [place for place, _ in headings if place not in places.values()]

        def ask(name: str, text: str) -> None:
            fit = [
                place for place in free if not self._unfit(name.replace(" ", "_"), self.table.cells(place))
            ]
            answer = f"{column_letters((fit or free or [0])[0])}={name}"
            self.questions.append(Question(name, f"{text} There are: {there}.", (answer,)))

        for name in ("date", "order"):
            if name not in places:
                ask(name, f"Which column holds the {name}?")
        if "sku" not in places and "title" not in places:
            ask("sku", "Which column says what was sold?")
        if "item_total" not in places and not {"unit_price", "pieces"} <= set(places):
            ask("item total", "Which column holds the item total?")
        self._ask_of_net()
        if not self.party:
            self.questions.append(Question("party", "Which shop or marketplace is it from?", (PARTY_ANSWER,)))

    def _ask_of_net(self) -> None:
        """Ask what a column 'Net' is: without sales tax, or paid out after fees; only a price could tell."""
        place = self.table.places.get("item_total")
        if place is None or "unit_price" in self.table.places or column_letters(place) in self.said.columns:
            return
        heading = self.header[place].text
        if fold(heading).startswith("net"):
            text = "is it the item total without sales tax, or what is paid out after fees and with shipping?"
            letters = column_letters(place)
            answers = (f"{letters}=item total", f"ignore {letters}")
            self.questions.append(Question("item total", f"The column '{heading}': {text}", answers))


def is_sales_export(file: SourceFile) -> bool:
    """Return whether a file looks like a sales export: headings of an order, a date, and a total or price."""
    for sheet in file.sheets:
        for index, found in _headings(sheet):
            if {"date", "order"} <= (there := set(found.values())) and not there.isdisjoint(_PRICES):
                columns = _Proposing(sheet, index, ("", "", file.name), SalesAnswers()).decided()
                if {"date", "order"} <= columns and not columns.isdisjoint(_PRICES):
                    return True
    return False
