"""The disk fails under a real command, at any of its calls: words, and the book as before or as after."""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest
from disk_faults import Fault, can_trace, faults_of, suffer
from killing import COMMANDS, Command, Executioner, make_templates

from ledger.book.connect import SCHEMA_VERSION

SAMPLE = 4
"""Faults of each of two commands in CI."""

ALL_OF = os.environ.get("BLANKBOOK_FAULTS_OF", "receive").split()
"""Commands that meet every fault there is in the long run."""

PAGES = 20
"""Faults of writing pages that the others meet there."""

needs_strace = pytest.mark.skipif(
    not can_trace(), reason="strace is not there or may not trace; a full small disk stands in for it"
)
each_command = pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)


@pytest.fixture(scope="module")
def templates(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The folders the commands start from."""
    return make_templates(tmp_path_factory.mktemp("templates"))


@pytest.fixture
def executioner(command: Command, templates: dict[str, Path], tmp_path: Path) -> Executioner:
    """What runs one command in a folder of its own."""
    return Executioner(command, templates[command.template], tmp_path / "shop", SCHEMA_VERSION)


@needs_strace
@pytest.mark.parametrize("command", [COMMANDS[0], COMMANDS[6]], ids=lambda command: command.name)
def test_some_calls_that_fail(executioner: Executioner, tmp_path: Path) -> None:
    """A sample of the faults of a posting and of a backup."""
    faults = faults_of(executioner, tmp_path / "log")
    chance = random.Random(f"20260402 {executioner.command.name}")  # noqa: S311  (moments, no secrets)
    found = [
        one for fault in chance.sample(faults, SAMPLE) for one in suffer(executioner, fault, tmp_path / "log")
    ]
    assert found == []


@pytest.mark.endurance
@needs_strace
@each_command
def test_every_call_that_fails(executioner: Executioner, tmp_path: Path) -> None:
    """All calls of a posting, each failing in each way and each being its last; of the others a large sample."""
    faults = faults_of(executioner, tmp_path / "log")
    name = executioner.command.name
    chosen = faults if name in ALL_OF else _chosen(faults, name)
    found = [one for fault in chosen for one in suffer(executioner, fault, tmp_path / "log")]
    tally = executioner.tally
    print(  # noqa: T201  (figures of the long run)
        f"{name}: {len(chosen)} of {len(faults)} faults, {tally.before} before, {tally.after} after; "
        f"{len(found)} findings"
    )
    assert found == []


def _chosen(faults: list[Fault], name: str) -> list[Fault]:
    """Return every fault of the calls that are few, and a sample of those that write pages."""
    few = [fault for fault in faults if fault.call != "pwrite64"]
    pages = [fault for fault in faults if fault.call == "pwrite64"]
    chance = random.Random(f"20260402 {name}")  # noqa: S311  (moments, no secrets)
    return few + chance.sample(pages, min(PAGES, len(pages)))
