"""What the help writes behind the options of all commands."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from typing import Any

import typer

from ledger.cli.commands import MODULES
from ledger.cli.main import app

ALIKE = ("--date", "--party", "--currency", "--unit", "--yes", "--json")


def options() -> Iterator[tuple[str, str]]:
    """Every option of every command, with the word the help writes behind it."""
    group: Any = typer.main.get_command(app)
    waiting = [group.get_command(None, name) for name in MODULES]
    while waiting:
        command = waiting.pop()
        waiting += getattr(command, "commands", {}).values()
        for parameter in command.params:
            if parameter.param_type_name == "option":
                yield parameter.opts[0], parameter.metavar or ""


def test_an_option_of_one_name_takes_a_thing_of_one_name() -> None:
    """A date is a DATE in whichever command it is typed."""
    words: dict[str, set[str]] = defaultdict(set)
    for name, word in options():
        words[name].add(word)
    assert {name: len(words[name]) for name in ALIKE} == dict.fromkeys(ALIKE, 1)


def test_no_help_shows_the_name_of_a_python_type() -> None:
    """Behind an option stands what is typed there, or nothing where nothing is."""
    odd = [(name, word) for name, word in options() if re.search(r"[<>]|\bstr\b|\bint\b", word)]
    assert odd == []
