"""The benchmark table as Markdown: one line for what is measured, a column for each size of book."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence

from measuring import Row

Lines = list[list[str]]


def summary(rows: Iterable[Row]) -> str:
    """Return two Markdown tables: what is measured on books of several sizes, and the rest.

    Each ratio stands under the number of documents. Growth is how many times the time of the size
    before each size takes; memory is the most that the process held at each size, in MiB, with the
    yardstick's at the largest in brackets.
    """
    listed = list(rows)
    sized = [row for row in listed if row.documents]
    single = [row for row in listed if not row.documents]
    sizes = sorted({row.documents for row in sized})
    by_line: dict[tuple[str, str], list[Row]] = {}
    for row in sized:
        by_line.setdefault((row.what, row.against), []).append(row)
    head = ["what", "against", *(f"{size:,}" for size in sizes), "target", "growth", "memory, MiB"]
    books = [_book_line(group, sizes) for group in by_line.values()]
    others = [[row.what, row.against, _ratio(row), _target([row])] for row in single]
    parts = []
    if books:
        parts.append(_markdown(head, books, left=(0, 1)))
    if others:
        parts.append(_markdown(["what", "against", "ratio", "target"], others, left=(0, 1)))
    return "\n\n".join(parts)


def _book_line(group: Sequence[Row], sizes: Sequence[int]) -> list[str]:
    by_size = {row.documents: row for row in group}
    ratios = [_ratio(by_size[size]) if size in by_size else "" for size in sizes]
    grown = [f"{after.ours / before.ours:.1f}" for before, after in itertools.pairwise(group) if before.ours]
    held = [f"{row.memory_mebibytes:,.0f}" for row in group if row.memory_mebibytes is not None]
    memory = ", ".join(held)
    if group[-1].yardstick_mebibytes is not None:
        memory += f" ({group[-1].yardstick_mebibytes:,.0f})"
    return [group[0].what, group[0].against, *ratios, _target(group), ", ".join(grown), memory]


def _ratio(row: Row) -> str:
    if math.isnan(row.ratio):
        return ""
    return f"{row.ratio:.2f}{' missed' if row.is_missed else ''}"


def _target(group: Sequence[Row]) -> str:
    targets = {row.target for row in group if row.target is not None}
    return ", ".join(f"{target:g}" for target in sorted(targets))


def _markdown(head: Sequence[str], lines: Lines, left: Sequence[int]) -> str:
    rule = [":--" if place in left else "--:" for place in range(len(head))]
    return "\n".join(f"| {' | '.join(line)} |" for line in (head, rule, *lines))
