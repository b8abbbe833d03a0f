"""Bars are drawn for somebody at a terminal, in signs that it shows, and for nobody else."""

from __future__ import annotations

import os
import sys
from dataclasses import replace

import pytest
from command_line import Runner
from receiving_command import receive

pty = pytest.importorskip("pty", reason="this system has no pseudo-terminals")


def at_a_terminal(run: Runner, *words: str, encoding: str = "utf-8", columns: int = 140) -> str:
    """Return what a command prints on a terminal of that many columns."""
    variables = {"PYTHONIOENCODING": encoding, "COLUMNS": str(columns), "LINES": "40"}
    environment = replace(run, variables=variables).environment
    child, terminal = pty.fork()
    if child == 0:
        os.chdir(run.folder)
        os.execve(sys.executable, run.words(*words), environment)  # noqa: S606
    told = b""
    while True:
        try:
            part = os.read(terminal, 65536)
        except OSError:
            break
        if not part:
            break
        told += part
    os.close(terminal)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0, told
    return told.decode(encoding).replace("\r\n", "\n")


@pytest.fixture
def stocked(run: Runner) -> Runner:
    """The command with something in its book."""
    run(*receive(), "--yes")
    return run


@pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")
def test_a_terminal_sees_bars_beside_the_same_figures(stocked: Runner) -> None:
    """Each month has its bar, and without the bars every line is as it is piped."""
    seen, piped = at_a_terminal(stocked, "months"), stocked("months").stdout
    months = [line for line in seen.splitlines() if line.startswith("2026-")]
    assert any("█" in line for line in months)
    assert [line.split("█")[0].rstrip(" ▏▎▍▌▋▊▉") for line in months] == [
        line for line in piped.splitlines() if line.startswith("2026-")
    ]


@pytest.mark.parametrize("words", [("months",), ("stock",), ("margin",)])
def test_what_is_piped_is_plain(stocked: Runner, words: tuple[str, ...]) -> None:
    """A script, a file or a pager gets figures and words."""
    assert not set(stocked(*words).stdout) & set("█▏▎▍▌▋▊▉░#")


@pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")
def test_a_terminal_without_blocks_gets_plain_signs(stocked: Runner) -> None:
    """An encoding of ASCII alone is drawn for with ASCII alone."""
    seen = at_a_terminal(stocked, "months", encoding="ascii")
    assert "######" in seen


@pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")
def test_a_narrow_terminal_has_no_bars(stocked: Runner) -> None:
    """Where the table already fills the line, bars would only break it."""
    assert "█" not in at_a_terminal(stocked, "months", columns=72)
