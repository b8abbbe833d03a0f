"""What must hold of every input, and the figures of a run."""

from __future__ import annotations

import resource
import time
import unicodedata
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from fuzz_book import Target

from ledger.errors import LONGEST_LINE, BlankbookError

_NEVER_SHOWN = {"Cc", "Cs", "Zl", "Zp"}
_TURNS = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_KIBIBYTES_IN_A_MEBIBYTE = 1024


@dataclass
class Figures:
    """Counts of a run; seconds of the processor, which a busy machine does not lengthen, and mebibytes."""

    inputs: int = 0
    accepted: int = 0
    refused: int = 0
    slowest: float = 0.0
    slowest_of: str = ""
    most_more_mebibytes: float = 0.0
    kinds: Counter[str] = field(default_factory=Counter)

    def __str__(self) -> str:
        """One line for people."""
        return (
            f"{self.inputs:,} inputs, {self.accepted:,} accepted, {self.refused:,} refused; slowest {self.slowest:.2f} s "
            f"({self.slowest_of}); peak memory {peak_mebibytes():.0f} MiB, at most {self.most_more_mebibytes:.0f} MiB "
            "more by one input"
        )


class Fault(AssertionError):
    """An input did what none may do."""


def watch(target: Target, given: Any, figures: Figures) -> None:
    """Give an input to a target; raise Fault for anything but acceptance or a refusal in words."""
    before, begun = peak_mebibytes(), time.process_time()
    figures.inputs += 1
    try:
        target.read(given)
        figures.accepted += 1
    except BlankbookError as error:
        figures.refused += 1
        figures.kinds[type(error).__name__] += 1
        fault = fault_of(str(error))
        if fault:
            raise Fault(f"{target.name}: {fault}: {str(error)[:3000]!r} for {str(given)[:500]!r}") from None
    except Exception as error:
        raise Fault(f"{target.name}: {type(error).__name__}: {error} for {str(given)[:2000]!r}") from error
    seconds = time.process_time() - begun
    if seconds > figures.slowest:
        figures.slowest, figures.slowest_of = seconds, target.name
    figures.most_more_mebibytes = max(figures.most_more_mebibytes, peak_mebibytes() - before)


def fault_of(message: str) -> str:
    r"""Return what is wrong with a message: it is to be printed as it is, each line of a bounded length.

    >>> fault_of("row 1: no number."), fault_of("a\x1b[2J")
    ('', "holds '\\x1b'")
    """
    if not message.strip():
        return "says nothing"
    for line in message.split("\n"):
        if len(line) > LONGEST_LINE + 1:
            return f"has a line of {len(line)} characters"
        odd = next(
            (char for char in line if unicodedata.category(char) in _NEVER_SHOWN or char in _TURNS), ""
        )
        if odd:
            return f"holds {odd!r}"
    return ""


def peak_mebibytes() -> float:
    """Return the most memory this process has had so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / _KIBIBYTES_IN_A_MEBIBYTE
