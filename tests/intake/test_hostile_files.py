"""Files made to hurt are refused, or read, without filling the memory; nothing here looks at a clock."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "benchmarks"))

from hostile_files import outcome
from hostile_makers import CASES, LARGE, Hostile

from ledger.errors import InputErrors
from ledger.intake import inspect_xlsx, read_csv, read_file, scan_sheet, text_lines

SMALL = 0.01
"""The size at which the files are made here: a hundredth."""

FULL_SIZE = ("a csv line of 96 MB", "90 million blank csv rows", "400,000 styles", "200,000 merged areas")
"""Made quickly, and refused at their full size."""

MOST_MEBIBYTES = 300
MOST_MEBIBYTES_25_MB = 200


@pytest.fixture
def small_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    """Limits a hundredth as large, as the files are."""
    for module, names in (
        (
            inspect_xlsx,
            ("MAX_UNPACKED_BYTES", "MAX_TEXTS_BYTES", "MAX_OTHER_PART_BYTES", "MAX_OTHER_ELEMENTS"),
        ),
        (inspect_xlsx, ("MAX_TEXT_ELEMENTS",)),
        (scan_sheet, ("MAX_WORKBOOK_CELLS", "MAX_ROW_BYTES", "MAX_MERGED")),
        (read_csv, ("MAX_CELLS", "MAX_FILE_BYTES")),
        (text_lines, ("MAX_LINE_CHARACTERS", "MAX_LINES")),
    ):
        for name in names:
            monkeypatch.setattr(module, name, getattr(module, name) // 100)
    monkeypatch.setattr(inspect_xlsx, "MAX_OTHER_PART_BYTES", 80_000)
    monkeypatch.setattr(inspect_xlsx, "MAX_OTHER_ELEMENTS", 2_000)


def made(case: Hostile, folder: Path, factor: float) -> Path:
    """Return the case's file."""
    path = folder / case.file
    case.make(path, factor)
    return path


@pytest.mark.usefixtures("small_limits")
@pytest.mark.parametrize("case", [case for case in CASES if case.refusal], ids=lambda case: case.name)
def test_a_hostile_file_is_refused_in_plain_words(case: Hostile, tmp_path: Path) -> None:
    """The message says what is wrong with the file as a whole."""
    with pytest.raises(InputErrors, match=case.refusal):
        read_file.read_file(made(case, tmp_path, SMALL))


@pytest.mark.parametrize("case", [case for case in CASES if not case.refusal], ids=lambda case: case.name)
def test_what_only_looks_hostile_is_read(case: Hostile, tmp_path: Path) -> None:
    """Blank and formatted rows hold nothing, and macros are left alone."""
    assert all(len(row) <= 2 for row in read_file.read_file(made(case, tmp_path, SMALL)).sheets[0].rows)


@pytest.mark.parametrize(
    "case", [case for case in CASES if case.name in FULL_SIZE], ids=lambda case: case.name
)
def test_refusing_takes_little_memory(case: Hostile, tmp_path: Path) -> None:
    """A file at its full size never fills the memory."""
    assert outcome(case, tmp_path).mebibytes < MOST_MEBIBYTES


def test_a_sound_text_of_25_mb_takes_little_memory(tmp_path: Path) -> None:
    """The rows are kept as texts, and cells are made when they are asked for."""
    found = outcome(LARGE[0], tmp_path)
    assert (found.said, found.mebibytes < MOST_MEBIBYTES_25_MB) == ("read, 195001 rows", True)


def test_a_format_in_the_last_column_widens_nothing(tmp_path: Path) -> None:
    """A row padded to 16,384 cells would take most of a minute to read 200,000 times."""
    path = tmp_path / "a.xlsx"
    next(case for case in CASES if "last column" in case.name).make(path, SMALL)
    assert {len(row) for row in read_file.read_file(path).sheets[0].rows} == {1}
