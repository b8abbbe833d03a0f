"""Workbooks as LibreOffice calculates them anew, for checks from outside."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest
from openpyxl.workbook.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

PROGRAM = shutil.which("soffice") or shutil.which("libreoffice")
MISSING = (
    "LibreOffice is not installed (apt-get install libreoffice-calc-nogui): nothing recalculated the workbook"
)
needs_office = pytest.mark.skipif(PROGRAM is None, reason=MISSING)

ALWAYS_RECALCULATE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse">
<value>0</value></prop></item></oor:items>
"""
"""Without it LibreOffice would show the values that stand beside the formulas."""


@dataclass(frozen=True)
class Books:
    """A workbook with its formulas, and as a program shows it with their values."""

    formulas: Workbook
    shown: Workbook

    def formula_cells(self) -> list[tuple[str, str]]:
        """Return the sheet and place of every formula."""
        return [
            (sheet.title, cell.coordinate)
            for sheet in self.formulas.worksheets
            if isinstance(sheet, Worksheet)
            for row in sheet.iter_rows()
            for cell in row
            if cell.data_type == "f"
        ]

    def named(self, name: str) -> float:
        """Return the value of a named cell."""
        where = str(self.formulas.defined_names[name].attr_text).replace("$", "").replace("'", "")
        sheet, cell = where.split("!")
        return float(self.shown[sheet][cell].value)

    def check(self, what: str) -> float:
        """Return the difference of one tie on the sheet of checks."""
        row = next(
            row for row in self.shown["Checks"].iter_rows(min_col=2, max_col=5) if row[0].value == what
        )
        return float(row[3].value)


def recalculated(content: bytes, folder: Path) -> Workbook:
    """Return a workbook as LibreOffice calculates it, in a profile of its own that trusts no kept value."""
    return recalculated_together({"pack": content}, folder)["pack"]


def recalculated_together(contents: Mapping[str, bytes], folder: Path) -> dict[str, Workbook]:
    """Return workbooks by name as LibreOffice calculates them, all in one start of it; the files are in out/."""
    assert PROGRAM is not None, MISSING
    profile, out = folder / "profile", folder / "out"
    (profile / "user").mkdir(parents=True)
    (profile / "user" / "registrymodifications.xcu").write_text(ALWAYS_RECALCULATE, encoding="utf-8")
    sources = [folder / f"{name}.xlsx" for name in contents]
    for source, content in zip(sources, contents.values(), strict=True):
        source.write_bytes(content)
    subprocess.run(
        [
            PROGRAM,
            f"-env:UserInstallation={profile.as_uri()}",
            *("--headless", "--norestore", "--convert-to", "xlsx", "--outdir", str(out), *map(str, sources)),
        ],
        check=True,
        capture_output=True,
        timeout=180,
        env={**os.environ, "LC_ALL": "C.UTF-8"},
    )
    return {name: openpyxl.load_workbook(out / f"{name}.xlsx", data_only=True) for name in contents}


def different_cells(content: bytes, books: Books) -> list[tuple[str, str, object, object]]:
    """Return every formula whose value in a written file is not what LibreOffice calculates."""
    ours = openpyxl.load_workbook(io.BytesIO(content), data_only=True)
    pairs = (
        (sheet, cell, ours[sheet][cell].value, books.shown[sheet][cell].value)
        for sheet, cell in books.formula_cells()
    )
    return [pair for pair in pairs if not _is_same(pair[2], pair[3])]


def _is_same(ours: object, theirs: object) -> bool:
    """Return whether two values are the same: words exactly, numbers to nine digits."""
    if isinstance(ours, str) or ours is None:
        return ours == theirs
    return bool(theirs == pytest.approx(ours, rel=1e-9, abs=1e-9))
