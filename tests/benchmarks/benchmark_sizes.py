"""How large everything is that is measured."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Sizes:
    """How large everything is, and how many rounds are timed.

    ``documents`` are the sizes of the books, ascending; growth is held against the first.
    ``each_alone`` says that what has a yardstick of its own at every size is measured at every size, not only at
    the first. ``proved_documents`` is the largest book that is proved, which takes minutes for a million documents.
    """

    documents: tuple[int, ...] = (10_000, 100_000, 1_000_000)
    skus: int = 500
    posted_documents: int = 5_000
    invoice_lines: int = 5_000
    csv_lines: int = 100_000
    months: int = 120
    starts: int = 15
    rounds: int = 3
    proved_documents: int = 1_000_000
    whole_decisions: bool = True
    each_alone: bool = True

    @property
    def alone(self) -> tuple[int, ...]:
        """The sizes at which is measured what is not held against another size."""
        return self.documents if self.each_alone else self.documents[:1]


QUICK = Sizes(documents=(10_000, 50_000), starts=11, proved_documents=10_000)
TINY = Sizes(
    documents=(40, 80),
    skus=24,
    posted_documents=20,
    invoice_lines=12,
    csv_lines=40,
    months=14,
    starts=1,
    rounds=1,
    proved_documents=80,
    whole_decisions=False,
    each_alone=False,
)
