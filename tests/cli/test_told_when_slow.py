from __future__ import annotations

import io

import pytest

from ledger.cli.waiting import working


class Screen(io.StringIO):
    """Standard error as a terminal."""

    def isatty(self) -> bool:
        """Say that somebody looks at it."""
        return True


def shown(patch: pytest.MonkeyPatch, what: str, part: str = "") -> str:
    """What a terminal shows while something is done, and a part of it where one is told."""
    screen = Screen()
    patch.setenv("TERM", "xterm")
    patch.setenv("COLUMNS", "80")
    # Between a fixture and its test, standard error would be put back.
    patch.setattr("sys.stderr", screen)
    with working(what) as tell:
        if part:
            tell(part)
    return screen.getvalue()


def test_a_terminal_shows_what_is_done(monkeypatch: pytest.MonkeyPatch) -> None:
    """For as long as it takes."""
    assert "Copying the book …" in shown(monkeypatch, "Copying the book")


def test_a_terminal_shows_which_part_is_done(monkeypatch: pytest.MonkeyPatch) -> None:
    """Behind what it is a part of."""
    assert "Copying the book: every lot …" in shown(monkeypatch, "Copying the book", "every lot")


def test_a_name_in_brackets_is_shown_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """A file may be called like a word of markup, or like the end of one that never began."""
    assert "Reading [bold]march[/x].csv …" in shown(monkeypatch, "Reading [bold]march[/x].csv")


def test_what_is_piped_holds_no_word_of_waiting(capsys: pytest.CaptureFixture[str]) -> None:
    """Scripts read standard error, too."""
    with working("Copying the book") as tell:
        tell("every lot")
    assert capsys.readouterr() == ("", "")
