"""Real commands killed at random moments: the book is as before or as after, proves whole, and nothing is lost."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from command_line import Runner
from killing import COMMANDS, Command, Executioner, make_templates
from ready_made import Stable

from ledger.book.connect import SCHEMA_VERSION

SEED = int(os.environ.get("BLANKBOOK_KILL_SEED", "20260402"))
IN_CI = 30
AT_LENGTH = int(os.environ.get("BLANKBOOK_KILLS", "540"))


@pytest.fixture(scope="module")
def templates(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The folders the commands start from."""
    return make_templates(tmp_path_factory.mktemp("templates"))


@pytest.fixture(scope="module")
def stable(templates: dict[str, Path]) -> Iterator[Stable]:
    """The process that has the program imported."""
    made = Stable(Runner(templates["open"]))
    yield made
    made.close()


@pytest.fixture
def executioner(
    request: pytest.FixtureRequest, command: Command, templates: dict[str, Path], tmp_path: Path
) -> Iterator[Executioner]:
    """What kills one command; tells at the end what it came to."""
    is_long = request.node.get_closest_marker("endurance") is not None
    ready = request.getfixturevalue("stable") if is_long else None
    made = Executioner(command, templates[command.template], tmp_path / "shop", SCHEMA_VERSION, ready)
    yield made
    tally = made.tally
    print(  # noqa: T201  (figures of the long run)
        f"{command.name}: {tally.kills} kills, {tally.before} before, {tally.after} after, {tally.ended} had "
        f"ended, {tally.touched} left something, {tally.strays} drafts; {len(tally.findings)} findings"
    )


each_command = pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)


def kills_of(command: Command, total: int) -> int:
    """How many of all kills fall on a command."""
    place = COMMANDS.index(command)
    return total // len(COMMANDS) + (place < total % len(COMMANDS))


@each_command
def test_killed_commands_leave_the_book_before_or_after(executioner: Executioner, command: Command) -> None:
    """A few kills of each command, at seeded moments."""
    chance = random.Random(f"{SEED} {command.name}")  # noqa: S311  (moments, no secrets)
    for _ in range(kills_of(command, IN_CI)):
        executioner.kill(chance)
    assert executioner.tally.findings == []


@pytest.mark.endurance
@each_command
def test_killed_commands_at_length(executioner: Executioner, command: Command) -> None:
    """Hundreds of kills, dense where the command writes."""
    chance = random.Random(f"{SEED} at length {command.name}")  # noqa: S311  (moments, no secrets)
    for _ in range(kills_of(command, AT_LENGTH)):
        executioner.kill(chance)
    tally = executioner.tally
    assert tally.findings == []
    # Kills that all come before or after the writing would prove nothing.
    assert (tally.before > 0, tally.touched > 0) == (True, True)
