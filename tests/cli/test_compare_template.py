"""`blankbook compare --template`: a study to fill in, and nothing else."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from ledger.carried import carried
from ledger.cli.main import app
from ledger.errors import InputErrors, UsageError


def compare(*words: str) -> str:
    """What the command says."""
    done = CliRunner().invoke(
        app, ["compare", *words], env={"BLANKBOOK_TODAY": "2026-11-24"}, catch_exceptions=False
    )
    assert done.exit_code == 0, done.output
    return done.stdout + done.stderr


def test_the_template_is_the_study_that_comes_along(tmp_path: Path) -> None:
    """Byte for byte, and it is decided as it stands."""
    path = tmp_path / "my study.toml"
    assert f'blankbook compare "{path}"' in compare("--template", str(path))
    assert path.read_bytes() == carried("imports", "study.toml").read_bytes()
    assert json.loads(compare(str(path), "--futures", "20", "--json"))["verdict"]


def test_no_file_is_written_over(tmp_path: Path) -> None:
    """A study that is there stays as it is."""
    path = tmp_path / "study.toml"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="is there already"):
        compare("--template", str(path))
    assert path.read_text(encoding="utf-8") == "mine"


def test_the_name_ends_in_toml(tmp_path: Path) -> None:
    """Else compare would take it for goods of the book."""
    with pytest.raises(UsageError, match=r"let the name end in \.toml"):
        compare("--template", str(tmp_path / "study.txt"))
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("words", "left_out"),
    [
        (["WREN"], "WREN"),
        (["--json"], "--json"),
        (["--prices", "WREN"], "--prices"),
        (["WREN", "--report", "r.html"], "WREN and --report"),
    ],
)
def test_nothing_else_is_done_beside_it(tmp_path: Path, words: list[str], left_out: str) -> None:
    """What was typed besides is named, and no file is written."""
    with pytest.raises(UsageError, match=f"leave {left_out} out"):
        compare("--template", str(tmp_path / "study.toml"), *words)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(("name", "other"), [("mine.toml", "study.toml"), ("study.toml", "new-study.toml")])
def test_a_study_that_is_no_toml_is_told_how_to_begin(tmp_path: Path, name: str, other: str) -> None:
    """With the command that writes a whole one, under a name that is free."""
    path = tmp_path / name
    path.write_text("x = = 1", encoding="utf-8")
    with pytest.raises(InputErrors, match=f"blankbook compare --template {other}") as caught:
        compare(str(path))
    assert str(caught.value).startswith(f"{name}: 1 problem")


def test_a_study_that_contradicts_itself_is_named(tmp_path: Path) -> None:
    """Also where what is wrong shows only when it is decided."""
    path = tmp_path / "two.toml"
    path.write_text(
        '[demand]\nper_month = 5\n[[offer]]\nname = "Tern"\nbreaks = [{price = "4"}]\nlead_time = {mean_days = 0}\n'
        '[[offer]]\nname = "Tern"\nbreaks = [{price = "4"}]\nlead_time = {mean_days = 0}\n',
        encoding="utf-8",
    )
    with pytest.raises(InputErrors, match=r"^two\.toml: 1 problem"):
        compare(str(path))


def test_the_help_says_so() -> None:
    """The option and an example of it."""
    done = CliRunner().invoke(app, ["compare", "--help"], env={"COLUMNS": "120", "NO_COLOR": "1"})
    assert "blankbook compare --template study.toml" in done.output
