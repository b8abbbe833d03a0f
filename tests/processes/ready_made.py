"""Starts commands out of a process that has imported the program already, so that thousands are affordable.

Each command is a process of its own, running the program's own entry point; only its start-up, which
touches no book, is spared. The starting process is told what to run line by line, in JSON.
"""

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from command_line import Runner


@dataclass
class Started:
    """A command that runs, with files for what it says."""

    stable: Stable
    pid: int
    folder: Path
    code: int | None = None

    def poll(self) -> int | None:
        """Return the exit code of a command that has ended, else None."""
        if self.code is None:
            self.code = self.stable.ask({"poll": self.pid})
        return self.code

    def kill(self) -> None:
        """Kill the command where it stands."""
        if self.poll() is None:
            self.code = self.stable.ask({"kill": self.pid})

    def wait(self) -> tuple[int, str]:
        """Wait for the command's end; return its exit code and all it said."""
        if self.code is None:
            self.code = self.stable.ask({"wait": self.pid})
        assert self.code is not None
        return self.code, (self.folder.parent / "said").read_text(encoding="utf-8", errors="replace")


class Stable:
    """The process that has everything imported."""

    def __init__(self, run: Runner) -> None:
        self.process = subprocess.Popen(
            [sys.executable, __file__],
            env={**run.environment, "PYTHONPATH": os.pathsep.join(sys.path)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            encoding="utf-8",
        )

    def ask(self, question: dict[str, object]) -> int | None:
        """Send one line, return the answer."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        print(json.dumps(question), file=self.process.stdin, flush=True)
        answer: int | None = json.loads(self.process.stdout.readline())
        return answer

    def begin(self, run: Runner, words: tuple[str, ...]) -> Started:
        """Start a command in its folder."""
        arguments = ["blankbook", "--book", str(run.book), *words]
        pid = self.ask({"folder": str(run.folder), "arguments": arguments})
        assert pid is not None
        return Started(self, pid, run.folder)

    def close(self) -> None:
        """End it."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(timeout=30)
        self.process.stdout.close()


def _import_everything() -> None:
    main = importlib.import_module("ledger.cli.main")
    for module in {*main.MODULES.values()}:
        importlib.import_module(f"ledger.cli.{module}")
    for name in ("sqlite_utils", "ledger.book.migrations"):
        importlib.import_module(name)


def _serve() -> None:
    _import_everything()
    for row in sys.stdin:
        question = json.loads(row)
        if "arguments" in question:
            answer: int | None = _fork(question["folder"], question["arguments"])
        elif "kill" in question:
            os.kill(question["kill"], 9)
            answer = _code(os.waitpid(question["kill"], 0)[1])
        else:
            pid = question.get("poll", question.get("wait"))
            ended, status = os.waitpid(pid, os.WNOHANG if "poll" in question else 0)
            answer = _code(status) if ended else None
        print(json.dumps(answer), flush=True)  # noqa: T201  (the answer)


def _code(status: int) -> int:
    return os.waitstatus_to_exitcode(status)


def _fork(folder: str, arguments: list[str]) -> int:
    pid = os.fork()
    if pid:
        return pid
    os.chdir(folder)
    said = os.open("../said", os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_APPEND)
    nothing = os.open(os.devnull, os.O_RDONLY)
    for number, handle in enumerate((nothing, said, said)):
        os.dup2(handle, number)
    sys.argv = arguments
    code = 0
    try:
        importlib.import_module("ledger.cli.main").run()
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 1
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


if __name__ == "__main__":
    _serve()
