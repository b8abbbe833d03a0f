"""One system call of a real command made to fail, or to be its last, with strace."""

from __future__ import annotations

import collections
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

from command_line import Runner
from killing import Executioner

CALLS = ("pwrite64", "fsync", "fdatasync", "ftruncate", "unlink", "link", "rename")
"""The calls by which SQLite and our own code change the disk."""

_CALL = re.compile(r"^(?:\d+ +)?(\w+)\(")


def can_trace() -> bool:
    """Whether strace is there and may trace."""
    if shutil.which("strace") is None:
        return False
    return subprocess.run(["strace", "-qq", "-o", "/dev/null", "true"], check=False).returncode == 0


@dataclass(frozen=True)
class Fault:
    """The call that fails, the how-manieth of its kind, and how: an error's name or a signal's."""

    call: str
    place: int
    how: str

    @property
    def rule(self) -> str:
        """The fault as strace is told it."""
        kind = "signal" if self.how.startswith("SIG") else "error"
        return f"inject={self.call}:{kind}={self.how}:when={self.place}"


def traced(run: Runner, words: tuple[str, ...], *options: str, log: Path) -> subprocess.CompletedProcess[str]:
    """Run the command under strace."""
    command = ["strace", "-f", "--seccomp-bpf", "-qq", "-o", str(log), *options, *run.words(*words)]
    # Python's own cache of compiled modules is no part of it.
    environment = {**run.environment, "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(
        command,
        cwd=run.folder,
        env=environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )


def faults_of(executioner: Executioner, log: Path) -> list[Fault]:
    """Return every fault a command can meet: each of its calls failing in each way, or being its last."""
    run = executioner.fresh()
    done = traced(run, executioner.command.words, "-e", f"trace={','.join(CALLS)}", log=log)
    assert done.returncode == 0, done.stderr
    found = (_CALL.match(row) for row in log.read_text(encoding="utf-8").splitlines())
    counts = collections.Counter(each[1] for each in found if each)
    assert counts["pwrite64"] > 0
    return [
        Fault(call, place, how)
        for call, count in sorted(counts.items())
        for place in range(1, count + 1)
        for how in (("ENOSPC", "EIO", "SIGKILL") if call == "pwrite64" else ("EIO", "SIGKILL"))
    ]


def suffer(executioner: Executioner, fault: Fault, log: Path) -> list[str]:
    """Run the command with a fault; return what is wrong with what it said and with what it left."""
    run = executioner.fresh()
    done = traced(run, executioner.command.words, "-e", f"trace={fault.call}", "-e", fault.rule, log=log)
    told = done.stdout + done.stderr
    found = executioner.faults(told)
    if "Traceback" in told or "blankbook-report" in told:
        found.append(f"a failure nobody foresaw was told: {done.stderr}")
    said = executioner.command.said in told
    if fault.how != "SIGKILL" and said != (done.returncode == 0):
        found.append(f"exit code {done.returncode}, and it said: {told[-300:]}")
    if "othing was" in done.stderr and executioner.was_changed:
        found.append(f"it said that nothing was done, and it was: {done.stderr}")
    return [f"{executioner.command.name}, {fault.rule}: {one}" for one in found]
