"""The reading benchmark still runs; nothing here looks at a clock."""

from __future__ import annotations

from pathlib import Path

from reading_files import bare_openpyxl, rows_of, write_workbook


def test_every_reading_has_its_line(tmp_path: Path) -> None:
    """Reading, its proposal, its lines, a csv and its cells are measured."""
    assert len(rows_of(tmp_path, 30, 30, rounds=1)) == 5


def test_the_workbook_has_the_lines_it_is_named_for(tmp_path: Path) -> None:
    """The yardstick reads the headings and every line."""
    write_workbook(tmp_path / "a.xlsx", 30)
    assert bare_openpyxl(tmp_path / "a.xlsx") == 31
