"""Every file of the corpus is read right, or refused with its place and the way out."""

from __future__ import annotations

import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import by_office
import by_openpyxl
import by_pandas
import by_xlsxwriter
import pytest
import python_calamine
from corpus_cases import Case, values
from office import needs_office

from ledger.errors import InputErrors
from ledger.intake.read_file import read_file
from ledger.intake.table import CellValue

CASES = {case.name: case for case in (*by_openpyxl.CASES, *by_xlsxwriter.CASES, *by_pandas.CASES)}
EVERY = [
    *(pytest.param(name, id=name) for name in CASES),
    *(pytest.param(name, id=name, marks=needs_office) for name in by_office.EXPECTED),
]
KNOWN = {**CASES, **by_office.EXPECTED}
READABLE = [param for param in EVERY if KNOWN[str(param.id)].rows is not None]
REFUSED = [param for param in EVERY if KNOWN[str(param.id)].rows is None]
PLAIN = [
    param
    for param in READABLE
    if KNOWN[str(param.id)].is_plain and KNOWN[str(param.id)].file.startswith("a.xls")
]
"""What a second reader must find the same values in."""


@pytest.fixture(scope="session")
def office_cases(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Case]:
    """The cases that LibreOffice wrote."""
    return by_office.cases(by_office.write_all(tmp_path_factory.mktemp("office")))


@pytest.fixture
def case(request: pytest.FixtureRequest) -> Case:
    """The case named by the test's parameter."""
    name: str = request.param
    return CASES.get(name) or request.getfixturevalue("office_cases")[name]


@pytest.fixture
def path(case: Case, tmp_path: Path) -> Path:
    """The case's file."""
    made = tmp_path / case.file
    case.make(made)
    return made


def test_the_corpus_holds_at_least_forty_files_of_four_writers() -> None:
    """No one writer's habits pass for the format."""
    counts = [len(module.CASES) for module in (by_openpyxl, by_xlsxwriter, by_pandas)]
    assert (sum(counts) >= 40, min(counts) >= 10, len(by_office.EXPECTED) >= 10) == (True, True, True)


@pytest.mark.parametrize("case", READABLE, indirect=True)
def test_it_is_read_right(case: Case, path: Path) -> None:
    """The values and, where they matter, the row numbers are those that were written."""
    sheet = read_file(path).sheets[0]
    numbers = None if case.numbers is None else sheet.row_numbers
    assert (values(sheet), numbers) == (case.rows, case.numbers)


@pytest.mark.parametrize("case", READABLE, indirect=True)
def test_what_the_maker_must_know_is_said_and_nothing_else(case: Case, path: Path) -> None:
    """What was skipped, filled or guessed is in the remarks; a plain file has none."""
    remarks = read_file(path).remarks
    assert any(case.remark in remark for remark in remarks) if case.remark else remarks == ()


@pytest.mark.parametrize("case", REFUSED, indirect=True)
def test_it_is_refused_with_the_place_and_the_way_out(case: Case, path: Path) -> None:
    """The message says what is wrong, where, and what to do next."""
    with pytest.raises(InputErrors) as caught:
        read_file(path)
    problem = caught.value.problems[0]
    assert (case.refusal in problem.what, problem.where, problem.next_step != "") == (True, case.where, True)


@pytest.mark.parametrize("case", PLAIN, indirect=True)
def test_a_second_reader_agrees_on_the_values(path: Path) -> None:
    """python-calamine, which shares no code, finds the same values in the same cells."""
    workbook = python_calamine.CalamineWorkbook.from_path(str(path))
    sheet = read_file(path).sheets[0]
    other = workbook.get_sheet_by_name(sheet.name).to_python(skip_empty_area=False)
    differing = [
        (cell.where, cell.value, other[number - 1][column])
        for row, number in zip(sheet.rows, sheet.row_numbers, strict=True)
        for column, cell in enumerate(row)
        if not cell.is_error and not agree(cell.value, other[number - 1][column])
    ]
    assert differing == []


def agree(ours: CellValue, theirs: Any) -> bool:
    """Return whether two readers found the same value."""
    if ours is None:
        return theirs == ""
    if isinstance(ours, Decimal):
        return Decimal(format(float(theirs), ".15g")) == ours
    if isinstance(ours, datetime.date):
        return (theirs.date() if isinstance(theirs, datetime.datetime) else theirs) == ours
    return bool(ours == theirs)
