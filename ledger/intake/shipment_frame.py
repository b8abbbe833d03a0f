"""What stands around the lines of an invoice: its sheet, its headings, its head and its foot."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property

from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.intake.charge_words import ChargeWords, read_charge
from ledger.intake.head_labels import group_key, label_key, loose_key, part_of, value_behind
from ledger.intake.heading_rows import heading_at, placed_at, with_joined_headings
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.profile import Profile
from ledger.intake.records import Header, find_header, normal_heading
from ledger.intake.shipment_codes import looks_like_a_size
from ledger.intake.table import Cell, Record, Sheet, SourceFile, column_letters
from ledger.intake.values import read_number

COSTLY = ("discount_percent", "missing", "damaged", "duty", "duty_percent", "charge")
"""Columns whose absence changes what a piece costs, so it is said."""

_LONGEST_LABEL = 60
_CELL = re.compile(r"cell\s+([A-Z]{1,3})([1-9]\d{0,6})", re.IGNORECASE)


def choose_sheet(file: SourceFile, profile: Profile) -> Sheet:
    """Return the sheet the profile names, by its name or its number, else the first visible one.

    Raises InputErrors naming the sheets there are.
    """
    if not file.sheets:
        raise InputErrors(
            file.name, [Problem("", "the file holds no table.", "Check that it is the right file.")]
        )
    first = file.sheets[0]
    if not profile.sheet or not first.has_addresses:
        return first
    for sheet in file.sheets:
        if fold(sheet.name) == fold(profile.sheet):
            return sheet
    if profile.sheet.isdecimal() and 1 <= int(profile.sheet) <= len(file.sheets):
        return file.sheets[int(profile.sheet) - 1]
    names = [sheet.name for sheet in file.sheets]
    what = f"there is no visible sheet {quoted(profile.sheet)}, which the profile {profile.name} reads."
    raise InputErrors(file.name, [Problem("", what, did_you_mean(profile.sheet, names))])


@dataclass(frozen=True)
class Columns:
    """Where the headings are, and which column of the sheet holds what."""

    row_index: int
    places: Mapping[str, int]
    headings: Mapping[str, str]

    def record(self, sheet: Sheet, index: int) -> Record:
        """Return one row of the sheet with its cells by what their columns are."""
        row, number = sheet.rows[index], sheet.row_numbers[index]
        if sheet.has_addresses and self._rightmost < len(row):
            cells = {name: row[place] for name, place in self.places.items()}
            return Record(number, sheet.row_place(number), cells)
        cells = {}
        for name, place in self.places.items():
            if sheet.has_addresses and place < len(row):
                cells[name] = row[place]
                continue
            value = row[place].value if place < len(row) else None
            cells[name] = Cell(value, sheet.cell_place(number, place, self.headings[name]))
        return Record(number, sheet.row_place(number), cells)

    @cached_property
    def _rightmost(self) -> int:
        return max(self.places.values(), default=0)

    def is_repeated_heading(self, record: Record) -> bool:
        """Return whether the row is the headings once more, as on every page of a long list."""
        return all(
            normal_heading(record.text(name)) == normal_heading(heading)
            for name, heading in self.headings.items()
        )


def find_columns(sheet: Sheet, profile: Profile) -> Columns:
    """Return the sheet's columns.

    Raises InputErrors with every column that is missing or stands there twice, with no price column
    where the profile names one, and with a size that stands across and is not in the profile.
    """
    sheet = with_joined_headings(sheet, profile)
    placed = {
        name: place for name in profile.columns if (place := placed_at(profile.columns[name])) is not None
    }
    by_heading = {name: headings for name, headings in profile.columns.items() if name not in placed}
    wanted = {headings[0]: headings for headings in by_heading.values()}
    wanted |= {size: (size,) for size in profile.sizes_across}
    meaning = {headings[0]: name for name, headings in by_heading.items()}
    meaning |= {size: f"size {size}" for size in profile.sizes_across}
    counts = ("quantity",) if "quantity" in profile.columns else ("cartons", "carton_numbers", "per_carton")
    needed = [name for name in (*profile.sku_parts(), *counts) if name in by_heading]
    required = [profile.columns[name][0] for name in needed]
    header = find_header(sheet, wanted, required, header_row=profile.header_row)
    columns = Columns(
        header.row_index,
        {meaning[key]: place for key, place in header.columns.items()} | placed,
        {meaning[key]: heading for key, heading in header.headings.items()}
        | {name: heading_at(sheet, header.row_index, place) for name, place in placed.items()},
    )
    problems = _without_price(sheet, profile, columns) + _without_sizes(sheet, profile, columns, header)
    if problems:
        raise InputErrors(sheet.name, problems)
    return columns


def _without_price(sheet: Sheet, profile: Profile, columns: Columns) -> list[Problem]:
    named = [name for name in ("unit_price", "line_total") if name in profile.columns]
    if not named or any(name in columns.places for name in named):
        return []
    headings = ", ".join(heading for name in named for heading in profile.columns[name])
    where = sheet.row_place(sheet.row_numbers[columns.row_index])
    found = ", ".join(cell.text for cell in sheet.rows[columns.row_index] if not cell.is_empty)
    return [
        Problem(where, f"no column holds the price. Found: {found}.", f"Head it with one of: {headings}.")
    ]


def _without_sizes(sheet: Sheet, profile: Profile, columns: Columns, header: Header) -> list[Problem]:
    if not profile.sizes_across:
        return []
    row, number = sheet.rows[columns.row_index], sheet.row_numbers[columns.row_index]
    if not any(f"size {size}" in columns.places for size in profile.sizes_across):
        what = f"none of the sizes {', '.join(profile.sizes_across)} stands across."
        return [Problem(sheet.row_place(number), what, "Name the sizes of this file under [sizes_across].")]
    taken = {*header.columns.values(), *columns.places.values()}
    return [
        Problem(
            sheet.cell_place(number, place, cell.text),
            f"the column {quoted(cell.text)} looks like a size that the profile does not read.",
            "Add it to sizes under [sizes_across], or its pieces would be lost.",
        )
        for place, cell in enumerate(row)
        if place not in taken and not cell.is_empty and looks_like_a_size(cell.text)
    ]


def absent_columns(profile: Profile, columns: Columns) -> list[str]:
    """Return a remark for columns that the profile reads, that matter for the cost and that are not there."""
    absent = [
        profile.columns[name][0] for name in COSTLY if name in profile.columns and name not in columns.places
    ]
    return [f"no column {', '.join(absent)}: taken as none"] if absent else []


def head_cell(sheet: Sheet, profile: Profile, name: str, above: int) -> Cell | None:
    """Return the cell of the head that holds a field, None where there is none or it is empty.

    ``above`` is the place of the heading row: labels are looked for in the rows above it.
    """
    place = profile.head.get(name, "")
    if not place:
        return None
    address = _CELL.fullmatch(place)
    if address is not None:
        return _cell_at(sheet, address[1].upper(), int(address[2]))
    labels = {label_key(other) for other in profile.head.values()}
    for row in sheet.rows[:above]:
        for index, cell in enumerate(row):
            if label_key(cell.text) == label_key(place):
                right = next((other for other in row[index + 1 :] if not other.is_empty), None)
                # An empty field may be followed by the next label in the same row.
                if right is None or label_key(right.text) in labels:
                    return None
                is_text = isinstance(right.value, str)
                return Cell(part_of(right.text, name), right.place, right.column) if is_text else right
            behind = value_behind(cell.text, place, name) if isinstance(cell.value, str) else ""
            if behind:
                return Cell(behind, cell.where)
    return None


def _cell_at(sheet: Sheet, letters: str, number: int) -> Cell | None:
    for row, row_number in zip(sheet.rows, sheet.row_numbers, strict=True):
        if row_number == number:
            found = next((cell for place, cell in enumerate(row) if column_letters(place) == letters), None)
            return None if found is None or found.is_empty else found
    return None


class FootLabels:
    """What the labels of a profile's foot mean, found again where rates, numbers or the group have changed.

    'Rabatt 2%' is 'Rabatt 3%' of the next invoice, and 'Subtotal HARE' its 'Subtotal WREN'. A label that
    two meanings share without its numbers counts only as it stands.
    """

    def __init__(self, foot: Mapping[str, str]) -> None:
        self._exact = {label_key(label): meaning for label, meaning in foot.items()}
        self._loose = _agreeing((loose_key(label), meaning) for label, meaning in foot.items())
        # Of a group's total alone: 'Total freight' must not become what 'Total due' is.
        self._groups = {
            group_key(loose_key(label)) for label, meaning in foot.items() if meaning == "lines total"
        } - {""}
        words = {key.split()[0].replace("-", "") for key in (*self._loose, *self._groups)}
        # Every cell of the file comes here, and hardly one holds the first word of a label.
        self._hint = re.compile("|".join(map(re.escape, sorted(words))) or r"(?!)")

    def meaning(self, text: str) -> str:
        """Return what a text means as a label of the foot, empty where it is none."""
        found = self._exact.get(label_key(text))
        if found is not None:
            return found
        plain = text.casefold().replace("-", "").replace("sub total", "subtotal")
        if len(text) > _LONGEST_LABEL or self._hint.search(plain) is None:
            return ""
        loose = loose_key(text)
        is_group = group_key(loose) in self._groups
        return self._loose.get(loose) or ("lines total" if is_group else "")


def _agreeing(pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Return keys with their meaning, without the empty one and those of several meanings."""
    found: dict[str, set[str]] = {}
    for key, meaning in pairs:
        if key:
            found.setdefault(key, set()).add(meaning)
    return {key: meanings.pop() for key, meanings in found.items() if len(meanings) == 1}


@dataclass
class Foot:
    """What the rows under the table say, gathered row by row; ``amounts`` is the column of the lines' totals."""

    profile: Profile
    currency: str
    problems: list[Problem]
    amounts: int | None = None
    discount: Fraction = Fraction(0)
    charges: list[ChargeWords] = field(default_factory=list)
    lines_totals: list[tuple[Cell, Fraction, Fraction]] = field(default_factory=list)
    invoice_totals: list[tuple[Cell, Fraction]] = field(default_factory=list)
    _labels: FootLabels = field(init=False)

    def __post_init__(self) -> None:
        self._labels = FootLabels(self.profile.foot)

    def label(self, row: Iterable[Cell]) -> Cell | None:
        """Return the cell of the row that holds a label of the foot, or None."""
        if not self.profile.foot:
            return None
        return next(
            (cell for cell in row if isinstance(cell.value, str) and self._labels.meaning(cell.text)), None
        )

    def take(self, row: tuple[Cell, ...], label: Cell, lines_so_far: Fraction) -> None:
        """Note what a foot row says; ``lines_so_far`` is the sum of the lines above it."""
        meaning = self._labels.meaning(label.text)
        if meaning == "ignore":
            return
        found = self._amount(row, label)
        if found is None:
            return
        cell, amount = found
        if meaning == "lines total":
            self.lines_totals.append((cell, amount, lines_so_far))
        elif meaning == "invoice total":
            self.invoice_totals.append((cell, amount))
        elif meaning == "discount":
            # Some invoices print what is taken off with a minus, some without.
            self.discount += abs(amount)
        elif amount:
            self._charge(meaning, cell, amount)

    def _amount(self, row: tuple[Cell, ...], label: Cell) -> tuple[Cell, Fraction] | None:
        # The column of the lines' amounts first: weights and volumes are added up to its right.
        own = row[self.amounts] if self.amounts is not None and self.amounts < len(row) else None
        first = [own] if own is not None and not own.is_empty else []
        for cell in (*first, *reversed(row)):
            if cell.is_empty or cell is label:
                continue
            if cell.is_error:
                break
            try:
                return cell, read_number(cell, decimal_comma=self.profile.decimal_comma)
            except ValueProblem:
                continue
        what = f"the row {quoted(label.text)} holds no amount."
        self.problems.append(
            Problem(label.where, what, "Type the amount, or call the label 'ignore' under [foot].")
        )
        return None

    def _charge(self, meaning: str, cell: Cell, amount: Fraction) -> None:
        if amount < 0:
            what = f"{cell.text} is below zero."
            self.problems.append(
                Problem(cell.where, what, "What lowers the cost is a discount: name it so under [foot].")
            )
            return
        try:
            charge = read_charge(meaning, cell.where, amount=amount, currency=self.currency)
        except ValueProblem as problem:
            self.problems.append(Problem(cell.where, str(problem)))
            return
        self.charges.append(charge)

    @property
    def charged(self) -> Fraction:
        """What the foot's charges add to the lines, discounts among them taken off."""
        return sum(
            ((-1 if charge.lowers_cost else 1) * (charge.amount or Fraction(0)) for charge in self.charges),
            Fraction(0),
        )
