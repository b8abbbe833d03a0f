"""A caller that closed the command's streams, or gave it a full disk to write to, is told in words or not at all."""

from __future__ import annotations

import os
import shlex
import subprocess
from pathlib import Path

import pytest
from command_line import TODAY, Runner
from receiving_command import documents, receive

FULL = Path("/dev/full")

pytestmark = pytest.mark.skipif(os.name != "posix", reason="streams are closed by a POSIX shell")


def _in_shell(run: Runner, words: list[str], streams: str) -> subprocess.CompletedProcess[str]:
    line = f"exec {shlex.join(run.words(*words))} {streams}"
    variables = {**os.environ, "BLANKBOOK_TODAY": TODAY, **run.variables}
    return subprocess.run(
        ["/bin/sh", "-c", line], cwd=run.folder, env=variables, capture_output=True, text=True, check=False
    )


def _failures(run: Runner) -> list[Path]:
    return list(run.folder.glob("blankbook-failure*"))


def test_nobody_is_asked_where_standard_input_is_closed(run: Runner) -> None:
    """A timer that closes what is read from gets the refusal that an empty one gets."""
    done = _in_shell(run, receive(), "<&-")
    assert (done.returncode, "Add --yes to post" in done.stderr, _failures(run)) == (1, True, [])


def test_a_receipt_is_posted_where_all_streams_are_closed(run: Runner) -> None:
    """What needs no answer is done, whether or not anybody looks."""
    done = _in_shell(run, [*receive(), "--yes"], "<&- >&- 2>&-")
    assert (done.returncode, len(documents(run)), _failures(run)) == (0, 1, [])


@pytest.mark.skipif(not FULL.exists(), reason="there is no device that is always full")
def test_data_that_cannot_be_written_is_told(run: Runner) -> None:
    """A script whose disk is full hears that, and where to look for what was posted."""
    done = _in_shell(run, [*receive(), "--yes", "--json"], f"> {FULL}")
    assert "could not be written: No space left on device" in done.stderr
    assert (done.returncode, "blankbook history" in done.stderr, _failures(run)) == (1, True, [])
