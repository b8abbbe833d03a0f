"""An events sheet read from csv and workbooks: what is accepted, and every problem at once."""

from __future__ import annotations

import csv
import datetime as dt
import io
from decimal import Decimal
from fractions import Fraction
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.costing.landed import BASES, CHARGE_KINDS
from ledger.errors import InputErrors, Problem
from ledger.exact.numbers import show_fraction
from ledger.intake.events import EVENT_COLUMNS, EVENTS, EventRow, event_name
from ledger.intake.events_file import read_events
from ledger.intake.read_csv import read_csv
from ledger.intake.read_file import read_pasted
from ledger.intake.read_xlsx import read_xlsx
from ledger.intake.table import SourceFile
from ledger.intake.templates import template_bytes

DAY = dt.date(2026, 1, 31)


def csv_file(*lines: str) -> SourceFile:
    """Return the lines as a csv file that was read."""
    return read_csv("events.csv", "\n".join(lines).encode())


def workbook(*rows: list[object], title: str = "Events") -> SourceFile:
    """Return the rows as a workbook that was read."""
    book = openpyxl.Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return read_xlsx("events.xlsx", stream.getvalue())


def one(**cells: str) -> EventRow:
    """Return the one event that a row of these cells is."""
    (row,) = read_events(_row_file(cells))
    return row


def faults(**cells: str) -> tuple[Problem, ...]:
    """Return what is wrong with a row of these cells."""
    return faults_of(_row_file(cells))


def faults_of(file: SourceFile, **habits: Any) -> tuple[Problem, ...]:
    """Return what is wrong with the file."""
    with pytest.raises(InputErrors) as caught:
        read_events(file, **habits)
    return caught.value.problems


def _row_file(cells: dict[str, str]) -> SourceFile:
    filled = {"date": "2026-01-31", "note": ""} | cells
    stream = io.StringIO()
    csv.writer(stream, delimiter=",").writerows([filled.keys(), filled.values()])
    return read_csv("events.csv", stream.getvalue().encode())


SOUND: dict[str, dict[str, str]] = {
    "opening": {"sku": "TEE", "quantity": "3", "amount": "9.30"},
    "receive": {"sku": "TEE", "quantity": "2", "unit": "case", "amount": "410.40", "tax_paid": "resale"},
    "charge": {"amount": "182.40", "kind": "freight", "applies_to": "3"},
    "make": {"sku": "FOX", "quantity": "12"},
    "sell": {"sku": "FOX", "quantity": "1", "amount": "24", "shipping": "4.50", "fees": "0.95"},
    "take_back": {"sku": "FOX", "quantity": "1", "amount": "0"},
    "refund": {"sku": "FOX", "amount": "5"},
    "use": {"sku": "INK", "quantity": "0.125"},
    "spoil": {"sku": "TEE", "quantity": "1", "kind": "abnormal"},
    "own_use": {"sku": "TEE", "quantity": "1"},
    "sample": {"sku": "TEE", "quantity": "1"},
    "donate": {"sku": "TEE", "quantity": "1"},
    "send_back": {"sku": "TEE", "quantity": "1", "lot": "12.3"},
    "count": {"sku": "TEE", "quantity": "0"},
    "write_down": {"sku": "TEE", "amount": "7"},
}


def test_every_event_has_a_sound_row_here() -> None:
    """The examples below leave no event out."""
    assert list(SOUND) == list(EVENTS)


@pytest.mark.parametrize("event", EVENTS)
def test_a_sound_row_is_read(event: str) -> None:
    """A row with what its event needs becomes that event."""
    assert one(event=event, **SOUND[event]).event == event


@pytest.mark.parametrize(("event", "column"), [(e, c) for e in EVENTS for c in sorted(EVENTS[e].needs)])
def test_what_an_event_needs_must_stand(event: str, column: str) -> None:
    """An empty cell that the event needs is a problem of that cell."""
    (fault,) = faults(event=event, **(SOUND[event] | {column: ""}))
    assert (fault.where, column in fault.what) == (f"row 2, column {column}", True)


@pytest.mark.parametrize(
    ("event", "column"), [(e, c) for e in EVENTS for c in EVENT_COLUMNS if c not in EVENTS[e].takes]
)
def test_what_an_event_does_not_have_may_not_stand(event: str, column: str) -> None:
    """A filled cell that does not apply to the event is a problem of that cell."""
    text = {"lot": "1.1", "expires_on": "2026-12-31", "tax_paid": "yes"}.get(column, "1")
    (fault,) = faults(event=event, **(SOUND[event] | {column: text}))
    assert (fault.where, "does not have" in fault.what) == (f"row 2, column {column}", True)


@pytest.mark.parametrize("text", ["take_back", "Take back", "TAKE-BACK", " take  back "])
def test_an_event_may_be_spelled_with_blanks_and_in_any_case(text: str) -> None:
    """The words count, not what stands between them."""
    assert one(event=text, sku="FOX", quantity="1").event == "take_back"


def test_an_unknown_event_names_the_nearest() -> None:
    """A mistyped event is answered with the one that was probably meant."""
    (fault,) = faults(event="recieve", sku="TEE", quantity="1")
    assert "Did you mean 'receive'" in fault.what


def test_a_missing_event_is_named() -> None:
    """A row without an event lists the events there are."""
    (fault,) = faults(event="", sku="TEE")
    assert "the event is missing" in fault.what


@pytest.mark.parametrize(
    ("event", "column", "text", "words"),
    [
        ("sell", "quantity", "-1", "below zero"),
        ("sell", "quantity", "0", "is 0"),
        ("sell", "quantity", "0.0005", "finer than a thousandth"),
        ("receive", "quantity", "0.00000005", "finer than a millionth"),
        ("sell", "quantity", "two", "cannot be read"),
        ("sell", "quantity", "99999999999", "larger than a book"),
        ("count", "quantity", "-1", "below zero"),
        ("sell", "amount", "-5", "below zero"),
        ("sell", "amount", "0", "Write 'free'"),
        ("charge", "amount", "0", "Give the amount"),
        ("charge", "amount", "free", "only on opening"),
        ("write_down", "amount", "1.2345", "more than 3 decimals"),
        ("opening", "amount", "99999999999", "larger than a book"),
        ("sell", "fees", "-0.10", "below zero"),
        ("sell", "shipping", "1.2345", "more than 3 decimals"),
        ("sell", "date", "2101-01-01", "outside 2000 to 2100"),
        ("sell", "date", "soon", "not a date"),
        ("receive", "expires_on", "1999-12-31", "outside 2000 to 2100"),
        ("sell", "currency", "dollars", "not a currency"),
        ("charge", "kind", "frieght", "Did you mean 'freight'"),
        ("charge", "basis", "weigth", "Did you mean 'weight'"),
        ("make", "kind", "bad", "good, normal, abnormal"),
        ("spoil", "kind", "good", "normal"),
        ("receive", "tax_paid", "maybe", "yes, resale, none"),
        ("send_back", "lot", "12", "document and line"),
        ("charge", "applies_to", ";", "names nothing"),
        ("charge", "applies_to", "3; 4; 3", "twice"),
        ("sell", "party", "x" * 201, "more than 200 characters"),
        ("sell", "quantity", "#N/A", "error #N/A"),
        ("sell", "note", "#REF!", "error #REF!"),
    ],
)
def test_a_value_that_cannot_be_is_refused(event: str, column: str, text: str, words: str) -> None:
    """Each wrong value is one problem, in its cell, that says why."""
    (fault,) = faults(event=event, **(SOUND[event] | {column: text}))
    assert (fault.where, words in fault.what) == (f"row 2, column {column}", True), fault.what


@pytest.mark.parametrize(
    ("event", "cells", "column", "words"),
    [
        ("send_back", {"lot": "1.1", "applies_to": "3"}, "lot", "both applies_to and lot"),
        ("send_back", {"lot": ""}, "lot", "neither applies_to nor lot"),
        ("sell", {"rate": "0.14"}, "rate", "without a currency"),
        ("sell", {"rate": "0", "currency": "CNY"}, "rate", "not above zero"),
        ("refund", {"unit": "each"}, "unit", "without a quantity"),
        ("refund", {"amount": ""}, "amount", "needs an amount or shipping"),
        (
            "opening",
            {"amount": "1200.5", "currency": "JPY"},
            "amount",
            "more than 0 decimals, the most that JPY",
        ),
    ],
)
def test_cells_that_do_not_go_together_are_refused(
    event: str, cells: dict[str, str], column: str, words: str
) -> None:
    """What is wrong between two cells is a problem of one of them."""
    (fault,) = faults(event=event, **(SOUND[event] | cells))
    assert (fault.where, words in fault.what) == (f"row 2, column {column}", True), fault


def test_the_books_currency_limits_amounts_without_one() -> None:
    """An amount in the book's currency has at most that currency's decimals."""
    file = csv_file("date,event,sku,amount", "2026-01-31,write_down,TEE,1.234")
    (fault,) = faults_of(file, book_currency="USD")
    assert "more than 2 decimals, the most that USD has" in fault.what


def test_a_quantity_in_packs_may_be_finer() -> None:
    """What is finer than a thousandth of a pack can be a whole number of base units."""
    row = one(event="use", sku="INK", quantity="0.0625", unit="bottle")
    assert row.quantity == Fraction(1, 16)


def test_words_are_given_in_the_sheets_own_spelling() -> None:
    """Kinds and bases may be typed with blanks and capitals."""
    row = one(event="charge", amount="5", kind="Entry fee", basis="Weight", applies_to="3; Fernbank/FB-1")
    assert (row.kind, row.basis, row.applies_to) == ("entry_fee", "weight", ("3", "Fernbank/FB-1"))


def test_made_pieces_are_good_unless_said() -> None:
    """An empty kind on a make row means good pieces."""
    assert one(event="make", sku="FOX", quantity="1").kind == "good"


def test_free_goods_are_received_at_nothing() -> None:
    """The word free is an amount of zero, unlike an empty cell."""
    amounts = [one(event="receive", sku="TEE", quantity="1", amount=text).amount for text in ("free", "")]
    assert amounts == [0, None]


def test_the_files_habits_are_followed() -> None:
    """Decimal commas and the day before the month are read where the caller says so."""
    file = csv_file(
        "date;event;sku;quantity;amount;currency;rate", "31.01.2026;sell;FOX;1;1.234,50;EUR;1,0850"
    )
    (row,) = read_events(file, decimal_comma=True, date_order="day month year")
    assert (row.date, row.amount, row.rate) == (DAY, Fraction(2469, 2), "1.085")


def test_columns_may_stand_in_any_order_below_a_title() -> None:
    """The header row is found by its headings, whatever their order and punctuation."""
    file = csv_file("My January", "Applies to,KIND,amount,Event,Date", "3,freight,12.5,charge,2026-01-31")
    (row,) = read_events(file)
    assert (row.where, row.applies_to, row.amount) == ("row 3", ("3",), Fraction(25, 2))


def test_an_unknown_column_names_the_nearest() -> None:
    """A column that would be left unread stops the file and says what it may have meant."""
    (fault,) = faults_of(csv_file("date,event,sku,quantiti", "2026-01-31,count,TEE,1"))[:1]
    assert "Did you mean 'quantity'" in fault.what


def test_a_column_that_many_rows_need_is_missed_once() -> None:
    """A sheet without a needed column has one problem, not one for each row."""
    file = csv_file("date,event,quantity", *["2026-01-31,sell,1"] * 50)
    (fault,) = faults_of(file)
    assert "the column sku is missing: 50 rows need it; the first is row 2, a sell" in fault.what


def test_a_missing_column_of_a_pasted_table_names_its_lines() -> None:
    """What was pasted has lines, not rows."""
    file = read_pasted("the pasted text", b"date        event  quantity\n2026-03-31  sell   1\n")
    with pytest.raises(InputErrors) as raised:
        read_events(file)
    assert "one row needs it; it is line 2, a sell" in str(raised.value)


def test_a_sheet_without_the_event_column_is_refused() -> None:
    """The columns date and event must be there."""
    (fault, *_) = faults_of(csv_file("date,sku,quantity", "2026-01-31,TEE,1"))
    assert "the column event is missing" in fault.what


def test_an_empty_sheet_is_refused() -> None:
    """Headings alone are no events."""
    assert "no rows" in faults_of(csv_file("date,event,sku"))[0].what


def test_the_blank_template_holds_no_events() -> None:
    """The template's headings are those that are read, and its second sheet is no event."""
    assert "no rows" in faults_of(read_xlsx("events.xlsx", template_bytes("events")))[0].what


def test_all_sheets_with_events_are_read() -> None:
    """Months kept on a sheet each are all read, in their order."""
    book = openpyxl.Workbook()
    for title, sku in (("January", "A"), ("February", "B")):
        sheet = book.create_sheet(title)
        sheet.append(["date", "event", "sku", "quantity"])
        sheet.append([DAY, "count", sku, 1])
    stream = io.BytesIO()
    book.save(stream)
    rows = read_events(read_xlsx("events.xlsx", stream.getvalue()))
    assert [(row.where, row.sku) for row in rows] == [
        ("sheet January, row 2", "A"),
        ("sheet February, row 2", "B"),
    ]


@pytest.mark.parametrize(
    ("value", "column", "words"),
    [
        (True, "quantity", "stands where a number should"),
        (dt.date(2026, 2, 1), "quantity", "the date 2026-02-01 stands where a number"),
        (dt.date(2026, 2, 1), "sku", "made the date 2026-02-01"),
        (46053, "date", "not a date"),
    ],
)
def test_a_workbooks_wrong_type_is_told_with_its_cell(value: object, column: str, words: str) -> None:
    """A workbook's cells have types of their own: the wrong one is refused with its address."""
    cells: dict[str, object] = {"date": DAY, "event": "count", "sku": "TEE", "quantity": 1} | {column: value}
    # A true 1 stands above, so that a true value is not taken for a number met before.
    (fault,) = faults_of(workbook(list(cells), [DAY, "count", "CAP", 1], list(cells.values())))
    assert (fault.where, words in fault.what) == (
        f"sheet Events, cell {'ABCD'[list(cells).index(column)]}3",
        True,
    ), fault


def test_all_problems_come_at_once() -> None:
    """Row 4,000 of 5,000 wrong in three cells, and an early and the last row wrong: five problems, in order."""
    lines = ["date,event,sku,quantity,amount"]
    lines += [f"2026-01-{1 + number % 28:02d},sell,TEE-{number % 7},1,24.50" for number in range(2, 5001)]
    lines[8] = "2026-01-08,sell,,1,24.50"
    lines[3999] = "2026-13-01,sell,TEE,-2,abc"
    lines[4999] = "2026-01-09,sel,TEE,1,24.50"
    assert [fault.where for fault in faults_of(csv_file(*lines))] == [
        "row 9, column sku",
        "row 4000, column date",
        "row 4000, column quantity",
        "row 4000, column amount",
        "row 5000, column event",
    ]


WORDS = st.text("ABCXYZabcz0189 -/.é", min_size=1, max_size=12).map(str.strip).filter(bool)
MONEY = st.integers(1, 10**7).map(lambda cents: Fraction(cents, 100))
DATES = st.dates(dt.date(2000, 1, 1), dt.date(2100, 12, 31))
CURRENCIES = st.sampled_from(["USD", "EUR", "CNY"])
COLUMN_VALUES: dict[str, st.SearchStrategy[Any]] = {
    "sku": WORDS,
    "quantity": st.integers(1, 10**9).map(lambda milli: Fraction(milli, 1000)),
    "unit": WORDS,
    "amount": MONEY,
    "party": WORDS,
    "reference": WORDS,
    "applies_to": st.lists(WORDS, min_size=1, max_size=3, unique_by=str.casefold).map(tuple),
    "basis": st.sampled_from(BASES),
    "lot": st.tuples(st.integers(1, 9999), st.integers(1, 999)).map(lambda pair: f"{pair[0]}.{pair[1]}"),
    "tax_paid": st.sampled_from(["yes", "resale", "none"]),
    "expires_on": DATES,
    "shipping": MONEY,
    "fees": MONEY,
    "currency": CURRENCIES,
    "note": WORDS,
}


@st.composite
def event_rows(draw: st.DrawFn) -> EventRow:
    """An event with everything it needs and some of what it may have."""
    event = draw(st.sampled_from(list(EVENTS)))
    rule = EVENTS[event]
    columns = [
        name for name in COLUMN_VALUES if name in rule.takes and (name in rule.needs or draw(st.booleans()))
    ]
    if event == "refund":
        columns = list(dict.fromkeys([*columns, "amount", "quantity"]))
    if event == "send_back":
        way = draw(st.sampled_from(["lot", "applies_to"]))
        columns = [name for name in columns if name not in {"lot", "applies_to"}] + [way]
    values = {name: draw(COLUMN_VALUES[name]) for name in columns}
    if rule.kinds:
        values["kind"] = draw(st.sampled_from(rule.kinds))
    if "rate" in rule.takes and "currency" in values and draw(st.booleans()):
        values["rate"] = draw(st.sampled_from(["0.137", "1.085", "12"]))
    return EventRow("", draw(DATES), event, **values)


def typed(row: EventRow, column: str) -> str:
    """Return what a maker types for a column of an event."""
    value = getattr(row, column)
    if isinstance(value, tuple):
        return "; ".join(value)
    if isinstance(value, Fraction):
        return show_fraction(value)
    return "" if value is None else str(value)


def stored(row: EventRow, column: str) -> object:
    """Return what a workbook holds for a column of an event: numbers and dates as such."""
    value = getattr(row, column)
    if isinstance(value, Fraction):
        return float(value)
    return value if isinstance(value, dt.date) else typed(row, column) or None


def without_place(rows: tuple[EventRow, ...]) -> list[dict[str, object]]:
    """Return the events' values but for where they stand."""
    return [{name: getattr(row, name) for name in EVENT_COLUMNS} for row in rows]


ORDERS = st.permutations(list(EVENT_COLUMNS))


@settings(max_examples=60, deadline=None)
@given(st.lists(event_rows(), min_size=1, max_size=8), ORDERS)
def test_events_written_as_csv_come_back(rows: list[EventRow], columns: list[str]) -> None:
    """Whatever the order of columns, a csv file gives the events that were written."""
    stream = io.StringIO()
    csv.writer(stream).writerows([columns, *([typed(row, name) for name in columns] for row in rows)])
    file = read_csv("events.csv", stream.getvalue().encode())
    assert without_place(read_events(file)) == without_place(tuple(rows))


@settings(max_examples=30, deadline=None)
@given(st.lists(event_rows(), min_size=1, max_size=6), ORDERS)
def test_events_written_as_a_workbook_come_back(rows: list[EventRow], columns: list[str]) -> None:
    """Binary numbers and dates of a workbook give the same exact events."""
    file = workbook(columns, *([stored(row, name) for name in columns] for row in rows))
    assert without_place(read_events(file)) == without_place(tuple(rows))


@given(st.sampled_from(list(EVENTS)))
def test_an_events_own_name_is_its_name(event: str) -> None:
    """Reading a name twice changes nothing."""
    assert event_name(event) == event


def test_a_number_of_a_workbook_can_be_a_reference() -> None:
    """An invoice number that a spreadsheet took for a number is the text of its digits."""
    file = workbook(
        ["date", "event", "amount", "kind", "applies_to", "reference"], [DAY, "charge", 5, "tax", 12, 2040]
    )
    (row,) = read_events(file)
    assert (row.applies_to, row.reference, row.amount) == (("12",), "2040", Decimal(5))


def test_the_kinds_of_charges_are_those_that_are_spread() -> None:
    """Each kind of charge that costing knows can stand in the sheet."""
    rows = [f"2026-01-31,charge,5,{kind},3" for kind in CHARGE_KINDS]
    read = read_events(csv_file("date,event,amount,kind,applies_to", *rows))
    assert tuple(row.kind for row in read) == CHARGE_KINDS
