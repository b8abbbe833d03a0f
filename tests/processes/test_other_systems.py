"""What other systems do differently, as far as it can be told here: encodings, names of folders, line ends."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from command_line import Runner
from receiving_command import receive

SCREENS = (
    (),
    ("stock",),
    ("lots",),
    ("history",),
    ("months",),
    ("close", "2026-01", "--show"),
    ("show", "1"),
    ("items",),
    ("prove",),
    ("--help",),
)


@pytest.mark.parametrize("encoding", ["cp1252", "cp437"])
def test_a_console_that_lacks_letters_still_shows_every_screen(run: Runner, encoding: str) -> None:
    """What the console cannot show is replaced; nothing fails, and figures are as ever."""
    csv = run.folder / "more.csv"
    csv.write_text("sku,name,kind,unit\nTEE-JP,Żółty 綿 tee 👕,blank,each\n", encoding="utf-8")
    run("items", "load", "more.csv", "--yes")
    run(*receive(), "--yes")
    console = replace(run, variables={"PYTHONIOENCODING": encoding})
    for words in SCREENS:
        done = _bytes(console, *words)
        assert done[0] == 0, (words, done[1])
        assert b"Traceback" not in done[1]


def _bytes(run: Runner, *words: str) -> tuple[int, bytes]:
    """Return exit code and both streams of a command whose output need not be UTF-8."""
    import subprocess  # noqa: PLC0415  (here alone)

    done = subprocess.run(
        run.words(*words), cwd=run.folder, env=run.environment, stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=120, check=False,
    )  # fmt: skip
    return done.returncode, done.stdout


def test_folders_and_files_may_have_blanks_and_any_letters(run: Runner, tmp_path: Path) -> None:
    """A book in such a folder is found, written, copied and read, and the commands told are quoted."""
    assert run.book is not None
    folder = tmp_path / "Käthes Lädchen №1 – 綿"
    folder.mkdir()
    book = folder / "mein buch 綿.blankbook"
    book.write_bytes(run.book.read_bytes())
    (folder / "meine artikel ü.csv").write_text(
        "sku,name,kind,unit\nTEE-NEW,New,blank,each\n", encoding="utf-8"
    )
    here = Runner(folder)
    assert here("items", "load", "meine artikel ü.csv", "--yes").returncode == 0
    assert here("count", "--opening", "--sheet", "anfang ü.xlsx").returncode == 0
    assert (folder / "anfang ü.xlsx").exists()
    assert here("backup", str(folder / "kopie ü.blankbook.copy")).returncode == 0
    assert "'mein buch 綿.blankbook'" in Runner(folder, Path(book.name))().stdout.replace('"', "'")


def test_lines_may_end_as_on_windows(run: Runner) -> None:
    """A csv file and a profile with CRLF, one with a byte order mark, are read as the same rows."""
    rows = "sku,name,kind,unit\r\nTEE-CRLF,Tee,blank,each\r\n"
    (run.folder / "items.csv").write_bytes(b"\xef\xbb\xbf" + rows.encode())
    assert run("items", "load", "items.csv", "--yes").returncode == 0
    profile = run.folder / "plain.toml"
    profile.write_bytes(profile.read_bytes().replace(b"\n", b"\r\n"))
    done = run(*receive(), "--yes")
    assert done.returncode == 0, done.stderr
    opening = "sku,quantity,cost_each\r\nTEE-CRLF,4,2.50\r\n"
    (run.folder / "opening.csv").write_bytes(opening.encode())
    assert run("count", "opening.csv", "--opening", "--yes").returncode == 0
