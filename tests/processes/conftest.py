"""A book for tests of the real command, made once by the command, and the command with a copy of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_line import Runner, started
from receiving_command import PROFILE


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Runner:
    """A book with a few items, made once by the command itself."""
    folder = tmp_path_factory.mktemp("template")
    return started(folder, skus=("TEE-SAND-M", "TEE-SAND-L", "TEE-PLUM-M"))


@pytest.fixture
def run(template: Runner, tmp_path: Path) -> Runner:
    """The command in a folder of its own, with a book of its own and a profile."""
    assert template.book is not None
    book = tmp_path / "shop.blankbook"
    book.write_bytes(template.book.read_bytes())
    (tmp_path / "plain.toml").write_text(PROFILE, encoding="utf-8")
    return Runner(tmp_path, book)
