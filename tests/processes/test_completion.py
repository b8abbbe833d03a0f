"""What a shell is offered when the maker presses Tab, asked as shells ask."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from command_line import Runner
from receiving_command import receive

AS_INSTALLED = "import sys; sys.argv[0] = 'blankbook'; from ledger.cli.main import run; run()"


def offered(run: Runner, words: str) -> list[str]:
    """Return what is offered for the last of these words, as bash asks for it."""
    asked = {
        "_BLANKBOOK_COMPLETE": "complete_bash",
        "COMP_WORDS": f"blankbook {words}",
        "COMP_CWORD": str(len(words.split()) if not words.endswith(" ") else len(words.split()) + 1),
    }
    done = Installed(run.folder, None, {**run.variables, **asked})()
    assert (done.returncode, done.stderr) == (0, "")
    return [line for line in done.stdout.split("\n") if line]


class Installed(Runner):
    """The command under the name it is installed with: a shell asks for it by that name."""

    def words(self, *words: str) -> list[str]:
        """The whole command line."""
        python, *_ = super().words()
        return [python, "-c", AS_INSTALLED, *words]


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("sto", ["stock"]),
        ("lots TEE-SAND", ["TEE-SAND-L", "TEE-SAND-M"]),
        ("sell TEE-P", ["TEE-PLUM-M"]),
        ("stock --kind b", ["blank"]),
        ("aliases --party Al", ["Alder Yard Blanks"]),
        ("lots TEE-PLUM-L", []),
        ("close 2026-0", ["2026-01"]),
        ("lots %", []),
    ],
)
def test_words_of_the_book_are_offered(run: Runner, words: str, wanted: list[str]) -> None:
    """SKUs, kinds, names and months come from the book in the folder."""
    run(*receive(), "--party", "Alder Yard Blanks", "--yes")
    assert offered(run, words) == wanted


def test_without_a_book_nothing_is_offered_and_nothing_said(run: Runner, tmp_path: Path) -> None:
    """No message lands in the line that is being typed: neither without a book nor with a broken one."""
    empty = tmp_path / "empty"
    empty.mkdir()
    elsewhere = replace(run, folder=empty)
    assert offered(elsewhere, "lots TEE") == []
    (empty / "broken.blankbook").write_bytes(b"no book")
    assert offered(elsewhere, "lots TEE") == []


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_script_for_a_shell_can_be_shown(run: Runner, shell: str) -> None:
    """What is installed into a shell can be read before."""
    done = Installed(run.folder, None, {"_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"})(
        "--show-completion", shell
    )
    assert done.returncode == 0
    assert "_BLANKBOOK_COMPLETE" in done.stdout
