"""A failure nobody foresaw: the report says where in the program, and holds nothing of the maker's."""

from __future__ import annotations

import errno
import sqlite3
from pathlib import Path

import pytest

from ledger.cli.unexpected import report_text, report_unexpected, typed_options

BOUGHT = "Odile Marchbank bought FOX-BLK-M for 24.00"


def failure(kind: type[Exception] = ValueError, *arguments: object) -> Exception:
    """Return an error that was raised while another was handled, both with a customer's words in them."""
    customer = BOUGHT
    found = RuntimeError(customer)
    try:
        fail(kind(*(arguments or (customer,))), found)
    except RuntimeError as error:
        return error
    return found


def fail(first: Exception, second: Exception) -> None:
    """Raise the second error from the first."""
    try:
        raise first
    except type(first) as caught:
        raise second from caught


def test_the_report_names_places_and_kinds() -> None:
    """Both errors of the chain stand there, with the functions they came from and the versions."""
    text = report_text(failure(), "sell", ("--party", "--yes"))
    for words in (
        "builtins.RuntimeError",
        "builtins.ValueError",
        "test_unexpected.fail, line ",
        "SQLite ",
    ):
        assert words in text
    assert "command: sell\noptions: --party --yes\n" in text


def test_the_report_holds_no_data() -> None:
    """Neither the message nor a value of a variable is in it, nor where the files lie."""
    text = report_text(failure(), "sell", ())
    assert not [word for word in (*BOUGHT.split(), str(Path(__file__).parent), "24.00") if word in text]


@pytest.mark.parametrize(
    ("kind", "arguments", "code"),
    [
        (OSError, (errno.ENOSPC, BOUGHT, BOUGHT), "builtins.OSError ENOSPC"),
        (sqlite3.OperationalError, (BOUGHT,), "sqlite3.OperationalError"),
    ],
)
def test_the_systems_own_code_is_told(
    kind: type[Exception], arguments: tuple[object, ...], code: str
) -> None:
    """A full disk is told by its code, without the file's name that the system adds."""
    text = report_text(failure(kind, *arguments), "", ())
    assert (code in text, "Odile" in text) == (True, False)


def test_only_known_options_are_named() -> None:
    """A customer's name after an option, or typed like one, does not get in."""
    typed = ["sell", "FOX-M", "--party", "Odile", "--note=for Odile", "--Odile", "--yes"]
    assert typed_options(typed, frozenset({"--party", "--note", "--yes"})) == ("--party", "--note", "--yes")


def test_reports_stand_beside_each_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second failure of the day writes a second file; the line names it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    lines = [report_unexpected(failure(), "sell", ()) for _ in range(2)]
    names = ["blankbook-failure-2026-03-31.txt", "blankbook-failure-2026-03-31-2.txt"]
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(names)
    assert all(name in line and "Odile" not in line for name, line in zip(names, lines, strict=True))


def test_a_wrong_clock_still_gets_a_report(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What keeps the day from being known must not keep the report from being written."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "yesterday")
    report_unexpected(failure(), "sell", ())
    assert [path.name for path in tmp_path.iterdir()] == ["blankbook-failure-undated.txt"]
