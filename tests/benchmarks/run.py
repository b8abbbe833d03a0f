"""All benchmarks with one command: `python -m tests.benchmarks.run [--documents 10000 100000 1000000] [--quick]`.

Prints one table of ratios. Seconds depend on the machine and on what else it does; a ratio to a
yardstick timed in turn with it hardly does. Nothing is asserted.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

HERE = Path(__file__).resolve().parent
for place in (HERE, HERE.parent, HERE.parents[1]):
    # Run as a file or as a module, from a checkout that need not be installed.
    if str(place) not in sys.path:
        sys.path.insert(0, str(place))

import buying_decision  # noqa: E402
import drawing_reports  # noqa: E402
from benchmark_sizes import QUICK, TINY, Sizes  # noqa: E402
from book_rows import Books  # noqa: E402
from costing_rows import costing_rows  # noqa: E402
from invoice_rows import invoice_rows  # noqa: E402
from measuring import Row, table  # noqa: E402
from summary_table import summary  # noqa: E402

PAGE_FUTURES, TINY_FUTURES = 2_000, 60
LEGS_PER_DOCUMENT = 4


def every_row(folder: Path, sizes: Sizes) -> Iterator[Row]:
    """Yield every row of the table; what is being done is told on stderr."""
    yield from Books(folder, sizes, _tell).rows()
    _tell("measuring costing")
    yield from costing_rows(sizes)
    _tell("measuring invoices")
    yield from invoice_rows(folder, sizes)
    _tell("measuring decisions")
    yield from buying_decision.rows(buying_decision.FULL if sizes.whole_decisions else buying_decision.TINY)
    yield from drawing_reports.rows(PAGE_FUTURES if sizes.whole_decisions else TINY_FUTURES, sizes.rounds)


def _tell(text: str) -> None:
    print(text, file=sys.stderr, flush=True)  # noqa: T201


def _told(row: Row) -> Row:
    _tell(f"  {row.what} {row.documents or ''}: {row.ratio:.2f}")
    return row


def main(arguments: list[str] | None = None) -> None:
    """Run everything and print the table."""
    parser = argparse.ArgumentParser(description="Timings as ratios to committed yardsticks.")
    parser.add_argument("--documents", type=int, nargs="+", help="how many the books have, ascending")
    parser.add_argument("--legs", type=int, help="the big book in legs; a document has about four")
    parser.add_argument("--quick", action="store_true", help="no book of a million documents")
    parser.add_argument("--tiny", action="store_true", help="a few documents: does everything still run?")
    parser.add_argument("--books", type=Path, help="a folder to keep the books in for the next run")
    parser.add_argument("--markdown", action="store_true", help="print also the table as Markdown, by size")
    told = parser.parse_args(arguments)
    sizes = TINY if told.tiny else QUICK if told.quick else Sizes()
    if told.legs:
        sizes = replace(sizes, documents=(*sizes.documents[:-1], told.legs // LEGS_PER_DOCUMENT))
    if told.documents:
        sizes = replace(sizes, documents=tuple(sorted(told.documents)))
    with tempfile.TemporaryDirectory() as temporary:
        folder = told.books or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        rows = [_told(row) for row in every_row(folder, sizes)]
    print(table(rows))  # noqa: T201
    if told.markdown:
        print(f"\n{summary(rows)}")  # noqa: T201


if __name__ == "__main__":
    main()
