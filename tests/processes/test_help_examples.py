"""Every example that a command's help shows is run, in a copy of the sample shop after the tour."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import pytest
import typer
from click.testing import Result
from toured_shop import TOLD, copy_of_toured_shop
from typer.testing import CliRunner

from ledger.cli.main import app

TODAY = {"BLANKBOOK_TODAY": "2026-04-02"}
EXAMPLES = re.compile(r"^Examples?:\n((?:  +\S.*\n?)+)", re.MULTILINE)


def documented(command: Any, path: tuple[str, ...] = ()) -> dict[tuple[str, ...], Any]:
    """Return every command with the words that call it, those under others included."""
    found = {path: command} if path else {}
    for name in getattr(command, "commands", None) or ():
        found |= documented(
            command.get_command(None, name) if not path else command.commands[name], (*path, name)
        )
    return found


COMMANDS = documented(typer.main.get_command(app))
TOP = sorted({path[0] for path in COMMANDS})
TOURS = {"tour"}
"""What makes the shop itself: `test_tour.py` runs it."""


def examples_of(command: Any) -> list[list[str]]:
    """Return the examples of a command's help, each as words behind the program's name."""
    block = EXAMPLES.search(command.help or "")
    lines = block[1].splitlines() if block else []
    words = [shlex.split(line) for line in lines]
    assert all(each[0] == "blankbook" for each in words), lines
    return [each[1:] for each in words]


def called(words: list[str]) -> Any:
    """Return the command that an example calls."""
    plain = words[2:] if words[0] == "--book" else words
    return COMMANDS.get(tuple(plain[:2])) or COMMANDS[(plain[0],)]


def without_asking(words: list[str]) -> list[str]:
    """Return an example so that nobody need be asked: what would post is only looked at."""
    options = {name for parameter in called(words).params for name in parameter.opts}
    posts_with = {"compare": "--keep", "plan": "--order"}.get(called(words).name)
    looks_only = posts_with is not None and posts_with not in words
    if looks_only or {"--yes", "--dry-run"} & set(words) or not {"--yes", "--dry-run"} & options:
        return words
    return [*words, "--dry-run" if "--dry-run" in options else "--yes"]


@pytest.mark.parametrize("path", COMMANDS, ids=" ".join)
def test_every_command_shows_an_example(path: tuple[str, ...]) -> None:
    """Help without an example leaves the maker to guess how the words go together."""
    assert examples_of(COMMANDS[path])


@pytest.mark.parametrize("name", [name for name in TOP if name not in TOURS])
def test_every_example_works_in_the_sample_shop(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The examples of a command and of those under it, one after the other in one copy of the shop."""
    shop = copy_of_toured_shop(tmp_path / "shop")
    (tmp_path / "backups").mkdir()
    monkeypatch.chdir(shop)
    monkeypatch.delenv("BLANKBOOK_BOOK", raising=False)
    failed: list[str] = []
    for path, command in COMMANDS.items():
        if path[0] != name:
            continue
        for example in examples_of(command):
            done = _run(shop, example)
            if done.exit_code:
                failed.append(f"{shlex.join(example)}\n{done.exception}\n{done.stderr.strip()}")
    assert not failed, "\n\n".join(failed)


def _run(shop: Path, example: list[str]) -> Result:
    """Run an example in the shop's folder; one that names a book by another name gets the shop's under it."""
    if example[0] == "--book" and example[2] != "start" and not (shop / example[1]).exists():
        (shop / TOLD.book).rename(shop / example[1])
    return CliRunner().invoke(app, without_asking(example), env=TODAY)
