"""`blankbook start` at a terminal: few questions, each with a sensible answer for Enter alone."""

from __future__ import annotations

import os
import select
import sqlite3
import sys
import time
from pathlib import Path

import pytest
from command_line import Runner

pty = pytest.importorskip("pty", reason="this system has no pseudo-terminals")
pytestmark = pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")

LONGEST_SECONDS = 60
NAME, CURRENCY, MONTH, COUNTRY, PREPARER, START = (
    "Shop name",
    "Currency",
    "First month",
    "Country",
    "Do you want to say now what your preparer has chosen?",
    "Start this book?",
)


def answered(folder: Path, *answers: tuple[str, str]) -> tuple[int, str]:
    """Answer each question (how it begins, the answer) as it is asked; return exit code and the screen."""
    run = Runner(folder, variables={"COLUMNS": "140", "LINES": "40"})
    child, terminal = pty.fork()
    if child == 0:
        os.chdir(folder)
        os.execve(sys.executable, run.words("start"), run.environment)  # noqa: S606
    told, waiting, place = "", list(answers), 0
    until = time.monotonic() + LONGEST_SECONDS
    while time.monotonic() < until:
        if not select.select([terminal], [], [], 1)[0]:
            continue
        try:
            part = os.read(terminal, 65536)
        except OSError:
            break
        if not part:
            break
        told += part.decode()
        if waiting and waiting[0][0] in told[place:] and told.rstrip(" ").endswith(":"):
            place = len(told)
            os.write(terminal, f"{waiting.pop(0)[1]}\n".encode())
    os.close(terminal)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    assert not waiting, f"never asked: {waiting}\n{told}"
    return code, told.replace("\r\n", "\n")


def shop_of(path: Path) -> tuple[object, ...]:
    """Return what a book says of its shop."""
    connection = sqlite3.connect(path)
    row: tuple[object, ...] = connection.execute(
        "SELECT name, currency, first_month, country, tax_year_starts FROM shop"
    ).fetchone()
    connection.close()
    return row


def test_enter_six_times_gives_a_book(tmp_path: Path) -> None:
    """Nothing but Enter: this month, dollars, no policy told, and the book is there."""
    enters = [(question, "") for question in (NAME, CURRENCY, MONTH, COUNTRY, PREPARER, START)]
    code, told = answered(tmp_path, *enters)
    assert code == 0, told
    assert shop_of(tmp_path / "shop.blankbook") == ("My shop", "USD", "2026-03", "US", "01")
    connection = sqlite3.connect(tmp_path / "shop.blankbook")
    assert connection.execute("SELECT count(*) FROM policy").fetchone() == (0,)
    connection.close()


def test_who_knows_the_policies_is_asked_for_each(tmp_path: Path) -> None:
    """A yes asks for the tax year and every policy, with what it decides."""
    questions = [
        *((NAME, "Attic"), (CURRENCY, ""), (MONTH, "2026-01"), (COUNTRY, ""), (PREPARER, "y")),
        *(("tax year begins", ""), ("accounting (", "cash"), ("inventory (", ""), ("freight (", "36")),
        *(("supplies (", ""), ("samples (", ""), ("bank fees (", ""), ("counts (", ""), ("reversals (", "")),
        (START, ""),
    ]
    code, told = answered(tmp_path, *questions)
    assert code == 0, told
    connection = sqlite3.connect(tmp_path / "shop.blankbook")
    kept = dict(connection.execute("SELECT name, value FROM policy").fetchall())
    connection.close()
    assert kept == {"accounting": "cash", "freight": "36"}


def test_a_shop_elsewhere_is_asked_for_its_country_and_tax_year(tmp_path: Path) -> None:
    """A book in another currency has no country for Enter alone, and its tax year may begin in any month."""
    code, told = answered(
        tmp_path,
        *((NAME, ""), (CURRENCY, "GBP"), (MONTH, ""), (COUNTRY, "GB"), (PREPARER, "")),
        *(("tax year begins", "4"), (START, "")),
    )
    assert code == 0, told
    assert shop_of(tmp_path / "shop.blankbook") == ("My shop", "GBP", "2026-03", "GB", "04")


def test_a_no_at_the_end_leaves_no_file(tmp_path: Path) -> None:
    """What was answered is forgotten."""
    enters = [(question, "") for question in (NAME, CURRENCY, MONTH, COUNTRY, PREPARER)]
    code, _ = answered(tmp_path, *enters, (START, "n"))
    assert (code, list(tmp_path.iterdir())) == (1, [])
