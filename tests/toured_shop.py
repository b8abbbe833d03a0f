"""The sample shop as the tour leaves it, made once in this process: whoever changes it works on a copy."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from typer.testing import CliRunner

from ledger.cli.main import app
from ledger.cli.tour import STEPS_FILE, Tour, read_tour

SAMPLES = Path(__file__).resolve().parents[1] / "samples"
TOLD: Tour = read_tour(SAMPLES / STEPS_FILE)


@dataclass(frozen=True)
class SampleShop:
    """The sample shop's folder, and the command around its book in this process."""

    folder: Path

    @property
    def book(self) -> Path:
        """The shop's book."""
        return self.folder / TOLD.book

    def __call__(self, *words: str, today: str = TOLD.as_of) -> str:
        """Run the command and return what it prints."""
        files = {path.name for path in self.folder.iterdir()}
        typed = [str(self.folder / word) if word in files else word for word in words]
        result = CliRunner().invoke(app, ["--book", str(self.book), *typed], env={"BLANKBOOK_TODAY": today})
        assert result.exit_code == 0, f"{words}: {result.exception} {result.output}"
        return result.stdout


@cache
def toured_shop() -> SampleShop:
    """The shop after every step of the tour; `tests/processes/test_tour.py` makes the tour itself."""
    home = Path(tempfile.mkdtemp(prefix="toured-"))
    atexit.register(shutil.rmtree, home, ignore_errors=True)
    shop = SampleShop(home / "samples")
    shutil.copytree(SAMPLES, shop.folder, ignore=shutil.ignore_patterns("__pycache__", "pictures"))
    for step in TOLD.steps:
        shop(*step.command)
    return shop


def copy_of_toured_shop(folder: Path) -> Path:
    """Copy the shop after the tour to a new folder; return that folder."""
    shutil.copytree(toured_shop().folder, folder)
    return folder
