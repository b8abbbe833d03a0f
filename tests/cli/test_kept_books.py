"""Books that were kept when another took their place are no second book of the folder."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from small_shop import new_book
from typer.testing import CliRunner

from ledger.cli.main import app


@pytest.mark.parametrize(
    "kept",
    ["shop.before-version-4.blankbook", "shop.before-version-4.2.blankbook", "shop.before-restore.blankbook"],
)
def test_a_kept_book_is_not_taken_for_another_one(
    kept: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without --book the one book is used, and the kept one can be put back by its name."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    monkeypatch.delenv("BLANKBOOK_BOOK", raising=False)
    shutil.copy(new_book(tmp_path / "shop.blankbook"), kept)
    run = CliRunner()
    listed = run.invoke(app, ["items"])
    assert listed.exit_code == 0, listed.output
    put_back = run.invoke(app, ["restore", kept, "--yes"])
    assert put_back.exit_code == 0, put_back.output


def test_two_books_of_ones_own_are_asked_about(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody can know which is meant."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("BLANKBOOK_BOOK", raising=False)
    for name in ("shop.blankbook", "other.blankbook"):
        new_book(tmp_path / name)
    asked = CliRunner().invoke(app, ["items"])
    assert "several books" in str(asked.exception)
