"""`blankbook compare --template`: a buying study to fill in."""

from __future__ import annotations

from pathlib import Path

from ledger.carried import carried
from ledger.cli.common import say
from ledger.errors import UsageError
from ledger.exact.words import typed_word
from ledger.intake.sheet_writing import write_new


def write_template(name: str) -> None:
    """Write the study that comes along under a name, and say what to do with it.

    Raises UsageError where the name does not end in .toml, or the file is there or cannot be written.
    """
    path = Path(name)
    if path.suffix.lower() != ".toml":
        raise UsageError(f"--template: let the name end in .toml, not '{name}'.")
    write_new(path, carried("imports", "study.toml").read_bytes())
    say(f"Wrote {name}. Put your own figures in, then: blankbook compare {typed_word(name)}")
