"""`blankbook compare` in a process of its own: exit codes and messages."""

from __future__ import annotations

import json
from pathlib import Path

from command_line import ROOT, Runner


def test_the_carried_study_is_decided(tmp_path: Path) -> None:
    """One JSON document on stdout, nothing on stderr, without a book."""
    done = Runner(tmp_path)("compare", str(ROOT / "imports" / "study.toml"), "--futures", "200", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["verdict"]


def test_a_wrong_study_is_refused_in_words(tmp_path: Path) -> None:
    """Exit code 1, every problem, no traceback."""
    (tmp_path / "study.toml").write_text('currency = "USD"\nhorzon_months = 3\n[demand]\nper_month = -1\n')
    done = Runner(tmp_path)("compare", "study.toml")
    assert (done.returncode, done.stdout) == (1, "")
    assert "Did you mean 'horizon_months'?" in done.stderr
    assert "'-1' is below 0" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_missing_study_is_bad_usage(tmp_path: Path) -> None:
    """Exit code 2, and the path is named."""
    done = Runner(tmp_path)("compare", "nowhere.toml")
    assert done.returncode == 2
    assert "nowhere.toml" in done.stderr


def test_two_processes_print_the_same_digits(tmp_path: Path) -> None:
    """Nothing but the seed decides."""
    words = ("compare", str(ROOT / "imports" / "study.toml"), "--futures", "300", "--seed", "9")
    assert Runner(tmp_path)(*words).stdout == Runner(tmp_path)(*words).stdout
