"""The real command: in processes of its own for the tests that need it, else from its entry point in this one."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from ledger.cli.main import run as entry_point

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


@dataclass(frozen=True)
class RunnerHere(Runner):
    """Runs the command in this process: for tests of what it says and posts, not of how it starts."""

    def __call__(self, *words: str, typed: str | None = None) -> subprocess.CompletedProcess[str]:
        """Run the command to its end, through the entry point of its script."""
        out, err = io.StringIO(), io.StringIO()
        code = self._run(words, typed or "", out, err)
        return subprocess.CompletedProcess(self.words(*words), code, out.getvalue(), err.getvalue())

    def printed(self, *words: str) -> str:
        """Run the command; return what it prints on both streams, in the order of a terminal."""
        both = io.StringIO()
        self._run(words, "", both, both)
        return both.getvalue()

    def _run(self, words: Sequence[str], typed: str, out: io.StringIO, err: io.StringIO) -> int:
        with (
            pytest.MonkeyPatch.context() as patch,
            contextlib.chdir(self.folder),
            contextlib.redirect_stdout(out),
            contextlib.redirect_stderr(err),
        ):
            patch.delenv("BLANKBOOK_BOOK", raising=False)
            for name, value in {"BLANKBOOK_TODAY": TODAY, **self.variables}.items():
                patch.setenv(name, value)
            # What is printed names the program as it is started elsewhere in the tests: python -m ledger.
            patch.setattr(sys.modules["__main__"], "__package__", "ledger")
            patch.setattr(sys, "argv", [str(ROOT / "ledger" / "__main__.py"), *self.words(*words)[3:]])
            patch.setattr(sys, "stdin", io.StringIO(typed))
            try:
                entry_point()
            except SystemExit as end:
                return end.code if isinstance(end.code, int) else int(end.code is not None)
        return 0


def started(
    folder: Path, *, currency: str = "USD", skus: Sequence[str] = ("TEE",), runner: type[Runner] = Runner
) -> Runner:
    """Return the command with a new book that knows some items, all made by the command itself."""
    run = runner(folder, folder / "shop.blankbook")
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
