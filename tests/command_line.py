"""The real command in processes of its own, for the tests that need it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
TODAY = "2026-03-31"


@dataclass(frozen=True)
class Runner:
    """Runs the command in a folder, with a book and a date that were chosen."""

    folder: Path
    book: Path | None = None
    variables: dict[str, str] = field(default_factory=dict)

    @property
    def environment(self) -> dict[str, str]:
        """The variables a process gets."""
        values = {
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "BLANKBOOK_TODAY": TODAY,
            "PYTHONIOENCODING": "utf-8",
        }
        values.pop("BLANKBOOK_BOOK", None)
        return values | self.variables

    def words(self, *words: str) -> list[str]:
        """The whole command line."""
        named = [] if self.book is None else ["--book", str(self.book)]
        return [sys.executable, "-m", "ledger", *named, *words]

    def __call__(self, *words: str, typed: str | None = None) -> subprocess.CompletedProcess[str]:
        """Run the command to its end."""
        return subprocess.run(
            self.words(*words),
            cwd=self.folder,
            env=self.environment,
            input="" if typed is None else typed,
            capture_output=True,
            encoding="utf-8",
            timeout=120,
            check=False,
        )

    def begin(self, *words: str) -> subprocess.Popen[str]:
        """Start the command and do not wait for it."""
        return subprocess.Popen(
            self.words(*words),
            cwd=self.folder,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
        )


def started(folder: Path, *, currency: str = "USD", skus: Sequence[str] = ("TEE",)) -> Runner:
    """Return the command with a new book that knows some items, all made by the command itself."""
    run = Runner(folder, folder / "shop.blankbook")
    done = run(
        *("start", "--name", "Test shop", "--currency", currency, "--country", "US"),
        *("--first-month", "2026-01", "--yes"),
    )
    assert done.returncode == 0, done.stderr
    items = folder / "items-of-the-test.csv"
    rows = [f"{sku},Tee {sku},blank,each" for sku in skus]
    items.write_text("\n".join(["sku,name,kind,unit", *rows, ""]), encoding="utf-8")
    done = run("items", "load", str(items), "--yes")
    assert done.returncode == 0, done.stderr
    return run
