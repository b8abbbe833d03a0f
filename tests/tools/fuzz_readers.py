"""Readers and parsers fed by atheris, which follows what an input makes the program do: not part of the tests.

In an environment with atheris installed beside the program:

    python -m tests.tools.fuzz_readers words -max_total_time=120
    python -m tests.tools.fuzz_readers csv -max_total_time=120 CORPUS_FOLDER

The targets are `words` (every parser of typed words, one after the other), `csv`, `pasted`, `events` (read and
posted on trial), `shipment` (proposed and read) and `toml` (profiles and studies).
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(HERE), str(HERE / "fuzzing")]

try:
    import atheris
except ImportError:  # it is installed by hand, where somebody wants to use it
    atheris = None


def readers() -> dict[str, Callable[[bytes], None]]:
    """Return what reads the bytes, by the name on the command line; imported so that atheris can look in."""
    from file_targets import FILE_TARGETS  # noqa: PLC0415
    from watching import Figures, watch  # noqa: PLC0415
    from word_targets import WORD_TARGETS  # noqa: PLC0415

    figures = Figures()
    files = {target.name: target for target in FILE_TARGETS}

    def words(content: bytes) -> None:
        if not content:
            return
        text = content[1:].decode("utf-8", "ignore")
        watch(WORD_TARGETS[content[0] % len(WORD_TARGETS)], text, figures)

    def toml(content: bytes) -> None:
        for name in ("profile", "sales profile", "study"):
            watch(files[name], content, figures)

    def of(name: str) -> Callable[[bytes], None]:
        return lambda content: watch(files[name], content, figures)

    several = {
        name: of(name) for name in ("events", "shipment", "pasted", "sales", "items", "quotes", "workbook")
    }
    return {"words": words, "toml": toml, "csv": of("count"), **several}


def main() -> int:
    """Feed the reader that the command line names until the time is over or something is found."""
    if atheris is None:
        print("atheris is not installed here: pip install atheris")  # noqa: T201
        return 2
    with atheris.instrument_imports(include=["ledger"]):
        found = readers()
    name = sys.argv.pop(1) if len(sys.argv) > 1 else ""
    if name not in found:
        print(f"name a target: {', '.join(found)}")  # noqa: T201
        return 2
    atheris.Setup(sys.argv, found[name])
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main())
