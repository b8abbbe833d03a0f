"""Whatever is given to a reader or a parser, it is read or refused in words that are fit to be shown.

A long run gives more than a hundred thousand inputs: ``pytest -m endurance tests/fuzzing -s``.
"""

# ruff: noqa: S311  (inputs are drawn anew from a seed, not kept secret)
from __future__ import annotations

import os
from pathlib import Path
from random import Random

import pytest
from file_targets import FILE_TARGETS
from fuzz_book import Target, book, own_folder
from hypothesis import given, settings
from hypothesis import strategies as st
from watching import Fault, Figures, fault_of, peak_mebibytes, watch
from word_targets import WORD_TARGETS

TARGETS = (*WORD_TARGETS, *FILE_TARGETS)
MOST_SECONDS = 60.0
MOST_MORE_MEBIBYTES = 300.0
MANY = 100_000
FAULTS_TOLD = 20
WORDS = 25
FILES = 5
RANDOM = st.randoms(note_method_calls=False, use_true_random=False)


def named(target: Target) -> str:
    """The name a test has for a target."""
    return target.name


@pytest.mark.parametrize("target", WORD_TARGETS, ids=named)
@settings(max_examples=WORDS, database=None)
@given(random=RANDOM)
def test_words_are_read_or_refused(target: Target, random: Random) -> None:
    """A parser of words raises nothing but refusals, whose text a terminal can show."""
    watch(target, target.make(random), Figures())


@pytest.mark.parametrize("target", FILE_TARGETS, ids=named)
@settings(max_examples=FILES, database=None)
@given(seed=st.integers(0, 2**32))
def test_files_are_read_or_refused(target: Target, seed: int) -> None:
    """A reader of files, and what follows it up to posting, raises nothing but refusals."""
    watch(target, target.make(Random(seed)), Figures())


def test_nothing_but_the_named_file_is_touched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Paths inside of workbooks and texts make no file, and change none, where the program runs."""
    monkeypatch.chdir(tmp_path)
    inner = tmp_path / "inner"
    inner.mkdir()
    (inner / "kept.txt").write_text("kept", encoding="utf-8")
    monkeypatch.chdir(inner)
    for target in FILE_TARGETS:
        for seed in range(3):
            watch(target, target.make(Random(seed)), Figures())
    assert sorted(path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*")) == [
        "inner",
        "inner/kept.txt",
    ]
    assert {path.name for path in own_folder().iterdir()} <= {"file.toml", "sheet.csv", "sheet.xlsx"}


def test_the_book_of_these_tests_stays_as_it_is() -> None:
    """What is tried on the book is rolled back, so that no input meets what another left."""
    before = list(book().iterdump())
    for target in FILE_TARGETS:
        watch(target, target.make(Random(7)), Figures())
    assert list(book().iterdump()) == before


@pytest.mark.parametrize("bad", ["", "a\x1b[31m", "a\u202eb", "x" * 5000, "a\x00", "a\x85b"])
def test_a_bad_message_would_be_found(bad: str) -> None:
    """The judge of messages knows what must not be in one."""
    assert fault_of(bad)


def test_a_traceback_would_be_found() -> None:
    """An error that is no refusal is a fault."""
    with pytest.raises(Fault, match="made to fail: ZeroDivisionError"):
        watch(Target("made to fail", lambda _: "", lambda _: 1 // 0, 1), "", Figures())


@pytest.mark.endurance
def test_a_hundred_thousand_inputs() -> None:
    """More than 100,000 inputs, in less than a minute and 300 MB more each; the figures are printed."""
    begin = int(os.environ.get("FUZZING_SEED", "1"))
    figures, faults = Figures(), dict[str, str]()
    base = peak_mebibytes()
    for target in TARGETS:
        for seed in range(begin, begin + target.share):
            try:
                watch(target, target.make(Random(seed)), figures)
            except Fault as fault:
                cause = fault.__cause__
                faults.setdefault(
                    f"{target.name} {type(cause).__name__}", f"seed {seed}: {str(fault)[:1500]}"
                )
        print(f"{target.name}: {figures}", flush=True)  # noqa: T201
    assert figures.inputs >= MANY
    assert list(faults.values())[:FAULTS_TOLD] == []
    assert figures.slowest < MOST_SECONDS
    assert peak_mebibytes() - base < MOST_MORE_MEBIBYTES
