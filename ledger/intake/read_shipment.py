"""Reading an invoice or packing list by its profile."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.exact.currencies import read_currency
from ledger.exact.money import grouped_money
from ledger.intake.charge_words import ChargeWords, read_charge
from ledger.intake.group_rows import GroupRows
from ledger.intake.head_labels import label_key
from ledger.intake.heading_words import loss_unit
from ledger.intake.nearest import fold, quoted
from ledger.intake.profile import Profile, counts_cartons
from ledger.intake.profile_gaps import Watch
from ledger.intake.proposal import Question
from ledger.intake.row_cells import RowCells
from ledger.intake.shipment import LOSSES, ShipmentDraft, ShipmentLine
from ledger.intake.shipment_codes import Codes, KnownFactor
from ledger.intake.shipment_frame import Columns, Foot, absent_columns, choose_sheet, find_columns, head_cell
from ledger.intake.shipment_lines import lines_of_row
from ledger.intake.shipment_prices import LineHabits
from ledger.intake.table import Cell, Record, Sheet, SourceFile
from ledger.intake.values import read_date

_TOTALS = ("total", "totals", "subtotal", "subtotals")
_NAME_IT = "Where the row is a total or a charge, name its label under [foot] in the profile."
_NUMBERS = ("quantity", "pieces", "unit_price", "line_total")


@dataclass(frozen=True)
class ShipmentOptions:
    """What the caller says, and what becomes of missing and damaged pieces where the file does not say.

    ``default_currency`` is the book's, for a file and a profile that name none; ``known_factor`` asks
    the catalogue how many base units a SKU's unit or pack holds.
    """

    missing_as: str = "claimed"
    damaged_as: str = "claimed"
    default_currency: str = ""
    known_factor: KnownFactor | None = None


def read_shipment(
    file: SourceFile,
    profile: Profile,
    *,
    party: str = "",
    reference: str = "",
    invoice_date: datetime.date | None = None,
    currency: str = "",
    options: ShipmentOptions | None = None,
) -> ShipmentDraft:
    """Return the shipment a file holds.

    What the caller says comes before what the file's head says, and that before the profile.

    Raises InputErrors with everything wrong in the file: columns that are missing, and in each row the
    quantity, price, total, date or word that cannot be; totals of the foot that do not add up; no lines.
    """
    chosen = options or ShipmentOptions()
    for treatment in (chosen.missing_as, chosen.damaged_as):
        if treatment not in LOSSES:
            raise ValueProblem(f"{quoted(treatment)} is not known: use {', '.join(LOSSES)}.")
    sheet = choose_sheet(file, profile)
    problems: list[Problem] = []
    columns = _columns(sheet, profile, problems)
    head = _Head(sheet, profile, len(sheet.rows) if columns is None else columns.row_index, problems)
    told_currency = currency or head.currency() or profile.currency or chosen.default_currency
    if not told_currency:
        problems.append(Problem("", "no currency is given.", "Give it with --currency, or in the profile."))
    told_date = invoice_date or head.date()
    is_currency_told = bool(currency)
    told_reference = reference or head.text("reference")
    if columns is None:
        raise InputErrors(file.name, problems)
    counted = [
        loss_unit(columns.headings.get(name, "")) or profile.losses_in or "pieces"
        for name in ("missing", "damaged")
    ]
    habits = LineHabits(told_currency or "USD", chosen.missing_as, chosen.damaged_as, *counted)
    watch = Watch(sheet, columns, profile)
    reading = _Reading(sheet, columns, Codes(profile, chosen.known_factor), habits, problems, watch)
    reading.read()
    if not problems:
        currencies = [] if is_currency_told else watch.other_currency(told_currency)
        problems += [_unsaid(question, profile) for question in (*watch.new_columns(), *currencies)]
    if problems:
        raise InputErrors(file.name, problems)
    others = [each.name for each in file.sheets if each is not sheet]
    only = [f"only the sheet {sheet.name} was read, not {', '.join(others)}"] if others else []
    return ShipmentDraft(
        source_name=file.name,
        content_sha256=file.content_sha256,
        party=party or head.text("party") or profile.party,
        reference=told_reference,
        invoice_date=told_date,
        currency=told_currency,
        lines=tuple(reading.lines),
        invoice_discount=reading.foot.discount,
        charges=(*reading.charges, *reading.foot.charges),
        remarks=(
            *file.remarks,
            *only,
            *absent_columns(profile, columns),
            *_no_reference(sheet.rows[: columns.row_index], profile, told_reference),
            *reading.remarks,
        ),
    )


def _no_reference(above: Sequence[Sequence[Cell]], profile: Profile, told: str) -> list[str]:
    """Return a remark where the label of the invoice's number is gone from what stands above the lines."""
    place = profile.head.get("reference", "")
    starts = [label_key(cell.text)[: len(place)] for row in above for cell in row]
    if told or not place or not starts or label_key(place) in starts:
        return []
    remark = (
        f"No number of the invoice was found beside {quoted(place)}: give it with --reference, or the same "
    )
    return [f"{remark}invoice may come in twice."]


def _unsaid(question: Question, profile: Profile) -> Problem:
    """Return what the profile says nothing of as a problem; a saved one can be told with --as."""
    if question.subject == "currency":
        return Problem("", question.text, "Give it with --currency.")
    name = f"the profile {profile.source}" if profile.source else "the profile"
    step = f"Name its heading in {name} under [columns] as what it is, or under [not_read]."
    return Problem("", question.text, step)


def _columns(sheet: Sheet, profile: Profile, problems: list[Problem]) -> Columns | None:
    try:
        return find_columns(sheet, profile)
    except InputErrors as errors:
        problems += errors.problems
        return None


@dataclass(frozen=True)
class _Head:
    """The fields above the table, read where the profile says they stand."""

    sheet: Sheet
    profile: Profile
    above: int
    problems: list[Problem]

    def text(self, name: str) -> str:
        cell = head_cell(self.sheet, self.profile, name, self.above)
        return "" if cell is None else cell.text

    def date(self) -> datetime.date | None:
        cell = head_cell(self.sheet, self.profile, "date", self.above)
        try:
            return None if cell is None else read_date(cell, self.profile.date_order)
        except ValueProblem as problem:
            self._note(cell, problem)
            return None

    def currency(self) -> str:
        cell = head_cell(self.sheet, self.profile, "currency", self.above)
        try:
            return "" if cell is None else read_currency(cell.text)
        except ValueProblem as problem:
            self._note(cell, problem)
            return ""

    def _note(self, cell: Cell | None, problem: ValueProblem) -> None:
        self.problems.append(Problem("" if cell is None else cell.where, str(problem)))


@dataclass
class _Reading:
    """The rows under the headings, read one by one."""

    sheet: Sheet
    columns: Columns
    codes: Codes
    habits: LineHabits
    problems: list[Problem]
    watch: Watch
    lines: list[ShipmentLine] = field(default_factory=list)
    charges: list[ChargeWords] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    foot: Foot = field(init=False)
    _identity: tuple[str, ...] = field(init=False)
    _counted: tuple[str, ...] = field(init=False)
    _group: GroupRows = field(init=False)
    _total: Fraction = Fraction(0)
    _in_foot: bool = False

    def __post_init__(self) -> None:
        profile = self.codes.profile
        amounts = self.columns.places.get("line_total")
        self.foot = Foot(profile, self.habits.currency, self.problems, amounts)
        self._identity = tuple(
            name for name in (*profile.sku_parts(), "variant") if name in self.columns.places
        )
        self._group = GroupRows(self._identity)
        by_cartons = ("per_carton",) if counts_cartons(profile.columns) and not profile.sizes_across else ()
        self._counted = ("quantity", *by_cartons, *(f"size {size}" for size in profile.sizes_across))

    def read(self) -> None:
        """Read every row, then check the totals where the rows are sound."""
        before = len(self.problems)
        for index in range(self.columns.row_index + 1, len(self.sheet.rows)):
            self._row(index)
        self.remarks += self._group.remarks()
        if not self.lines and len(self.problems) == before:
            where = f"sheet {self.sheet.name}" if self.sheet.has_addresses else ""
            self.problems.append(Problem(where, "there are no lines under the headings.", "Check the sheet."))
        if len(self.problems) == before:
            self._check_totals()

    def _row(self, index: int) -> None:
        record = self.columns.record(self.sheet, index)
        label = self.foot.label(self.sheet.rows[index])
        if label is not None and not self.lines and not self._has_number(index):
            # A second line of headings: 'total' under 'Line' is no foot.
            return
        if label is not None and self._is_foot(record, label):
            self._in_foot = True
            self._group.end()
            self.foot.take(self.sheet.rows[index], label, self._total)
            self.watch.foot(self.sheet.rows[index])
            return
        if self.columns.is_repeated_heading(record):
            return
        self._read_charge(record)
        if self._quantities(record):
            record = self._group.filled(record)
        is_line = self._is_line(record)
        self._group.named(record)
        if is_line:
            self.watch.line(self.sheet.rows[index])
            row = RowCells(record, self.codes.profile, self.problems)
            for line in lines_of_row(row, self.codes, self.habits):
                self.lines.append(line)
                self._total += line.net

    def _has_number(self, index: int) -> bool:
        """Whether a row holds any number at all, as every line and every foot does."""
        return any(char.isdigit() for cell in self.sheet.rows[index] for char in cell.text)

    def _filled(self, record: Record, names: tuple[str, ...]) -> list[str]:
        return [name for name in names if record.text(name)]

    def _is_foot(self, record: Record, label: Cell) -> bool:
        """Return whether a row with a label's word is of the foot, not a line described so."""
        there = self._identity
        if any(record.cells[name] is label or record.text(name) == label.text for name in there):
            return True
        return len(self._filled(record, there)) < len(there) or not self._quantities(record)

    def _quantities(self, record: Record) -> list[str]:
        return self._filled(record, self._counted)

    def _is_line(self, record: Record) -> bool:
        """Return whether a row is a line; what is neither line nor text around it is noted."""
        identity = self._identity
        named = self._filled(record, identity)
        numbers = [*self._quantities(record), *self._filled(record, _NUMBERS[1:])]
        if not named and not numbers:
            return False
        if not numbers:
            return self._text_only(record, named, identity)
        if self._is_unnamed_total(record, identity):
            return False
        if self._quantities(record) and (named or not self._in_foot):
            return True
        if self.codes.profile.sizes_across and named and not record.text("line_total").strip("-0., "):
            self.remarks.append(f"{record.where}: nothing of {quoted(record.text(named[0]))} is in the file")
            return False
        shown = next((record.text(name) for name in record if record.text(name)), "")
        missing = "no quantity" if named else "no item"
        self.problems.append(
            Problem(
                record.where,
                f"the row {quoted(shown)} has an amount and {missing}.",
                f"Complete it, or: {_NAME_IT}",
            )
        )
        return False

    def _is_unnamed_total(self, record: Record, identity: tuple[str, ...]) -> bool:
        """Return whether a row is called a total, which would otherwise become an item of that name."""
        for name in identity:
            if "total" not in record.text(name).casefold():
                continue
            words = fold(record.text(name)).replace("-", "").split()
            if words and any(word.rstrip(":") in _TOTALS for word in words[:2]):
                what = f"{quoted(record.text(name))} looks like a total, not an item."
                self.problems.append(Problem(record.place(name), what, _NAME_IT))
                return True
        return False

    def _text_only(self, record: Record, named: list[str], identity: tuple[str, ...]) -> bool:
        """Return whether a row that names an item and holds no number is a line all the same."""
        if self._in_foot:
            return False
        if len(identity) > 1 and len(named) < len(identity):
            shown = record.text(named[0])
            self.remarks.append(
                f"{record.where}: {quoted(shown)} has no quantity and was taken for a heading"
            )
            return False
        # With sizes across an item of which nothing came is a row with empty cells.
        return not self.codes.profile.sizes_across

    def _read_charge(self, record: Record) -> None:
        cell = record.cells.get("charge")
        if cell is None or cell.is_empty:
            return
        try:
            self.charges.append(read_charge(cell.text, cell.where))
        except ValueProblem as problem:
            self.problems.append(Problem(cell.where, str(problem)))

    def _check_totals(self) -> None:
        """Note every total of the foot that the lines do not come to."""
        habits, foot = self.habits, self.foot
        provisional = any(line.provisional for line in self.lines)
        checks: list[tuple[Cell, Fraction, tuple[Fraction, ...], str]] = []
        before = Fraction(0)
        for cell, stated, so_far in foot.lines_totals:
            checks.append((cell, stated, (so_far, so_far - before), "the lines above add up to"))
            before = so_far
        whole = self._total - foot.discount + foot.charged
        for cell, stated in foot.invoice_totals:
            checks.append((cell, stated, (whole,), "lines less discount plus charges come to"))
        for cell, stated, sums, words in checks:
            if habits.cents(stated) in [habits.cents(each) for each in sums]:
                continue
            computed = grouped_money(habits.cents(sums[0]), habits.currency)
            text = f"{cell.text} stands there, and {words} {computed}"
            if provisional:
                self.remarks.append(f"{cell.where}: {text}; lines without a price count as nothing")
                continue
            step = "Look for a line that is missing or stands twice, or a charge not named under [foot]."
            self.problems.append(Problem(cell.where, f"{text}.", step))
        if foot.discount > self._total:
            self.problems.append(
                Problem("", "the invoice's discount is more than its lines.", "Check the foot.")
            )
