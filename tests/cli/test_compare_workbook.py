"""`blankbook compare STUDY --workbook FILE`: written beside the answer, never over a file, only as .xlsx."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import openpyxl
import pytest
from click.testing import Result
from decision_books import CERTAIN
from typer.testing import CliRunner

from ledger.cli.main import app

STUDY = CERTAIN.format(per_year=600, capital="0.2", afar="2.2", fixed="100", home="3.75")


def compare(folder: Path, *words: str) -> Result:
    """What the command does with a study in a folder."""
    study = folder / "study.toml"
    study.write_text(STUDY, encoding="utf-8")
    return CliRunner().invoke(app, ["compare", str(study), *words], env={"BLANKBOOK_TODAY": "2026-04-02"})


@pytest.mark.parametrize("how", [(), ("--json",)])
def test_the_workbook_is_written_beside_the_answer(how: tuple[str, ...], tmp_path: Path) -> None:
    """Where the answer is for people and where it is for scripts."""
    path = tmp_path / "w.xlsx"
    done = compare(tmp_path, "--workbook", str(path), *how)
    assert done.exit_code == 0, done.output
    assert f"Wrote {path}." in done.output
    book = openpyxl.load_workbook(path)
    assert book.sheetnames[0] == "Answer"
    assert "price_at_home" in book.defined_names


def test_lines_of_its_charts_go_straight(tmp_path: Path) -> None:
    """Every line of every chart says so itself: a program's own choice would be to round them off."""
    path = tmp_path / "w.xlsx"
    assert compare(tmp_path, "--workbook", str(path)).exit_code == 0
    with zipfile.ZipFile(path) as parts:
        charts = [
            parts.read(name).decode() for name in parts.namelist() if name.startswith("xl/charts/chart")
        ]
    lines = [
        line for text in charts if "<scatterChart>" in text for line in re.findall(r"<ser>.*?</ser>", text)
    ]
    assert lines
    assert all(re.search(r'<smooth val="0"\s*/>', line) for line in lines)
    assert not any("<lineChart>" in text for text in charts)


def test_only_as_a_workbook(tmp_path: Path) -> None:
    """Another ending is refused before anything is worked out."""
    done = compare(tmp_path, "--workbook", str(tmp_path / "w.csv"))
    assert done.exit_code != 0
    assert "let the name end in .xlsx" in str(done.exception)
    assert not (tmp_path / "w.csv").exists()


def test_never_over_a_file(tmp_path: Path) -> None:
    """What is there stays as it was."""
    path = tmp_path / "w.xlsx"
    path.write_text("mine", encoding="utf-8")
    done = compare(tmp_path, "--workbook", str(path))
    assert "is there already" in str(done.exception)
    assert path.read_text(encoding="utf-8") == "mine"
