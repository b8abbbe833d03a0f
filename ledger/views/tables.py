"""Plain aligned tables: data first, text second."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from rich.cells import cell_len

GAP = "  "


@dataclass(slots=True)
class Table:
    """Rows of text under headings. Headings that begin with '>' are for columns of figures."""

    headings: Sequence[str]
    rows: list[Sequence[str]] = field(default_factory=list)
    totals: list[Sequence[str]] = field(default_factory=list)

    def add(self, *cells: str) -> None:
        """Append a row."""
        self.rows.append(cells)

    def total(self, *cells: str) -> None:
        """Append a row below the line."""
        self.totals.append(cells)

    def text(self) -> str:
        """Return the table as lines, figures to the right, without trailing blanks."""
        right = [heading.startswith(">") for heading in self.headings]
        head = [heading.removeprefix(">") for heading in self.headings]
        body = [[_one_line(cell) for cell in row] for row in self.rows]
        foot = [[_one_line(cell) for cell in row] for row in self.totals]
        widths = [max(cell_len(row[place]) for row in [head, *body, *foot]) for place in range(len(head))]
        rule = GAP.join("-" * width for width in widths)
        lines = [_line(head, widths, right), rule, *(_line(row, widths, right) for row in body)]
        if foot:
            lines += [rule, *(_line(row, widths, right) for row in foot)]
        return "\n".join(lines)


def _one_line(cell: str) -> str:
    """Return a cell without line breaks and control characters, which would break the table."""
    return "".join(char if char.isprintable() else " " for char in cell)


def _line(cells: Sequence[str], widths: Sequence[int], right: Sequence[bool]) -> str:
    parts = []
    for cell, width, to_the_right in zip(cells, widths, right, strict=True):
        blanks = " " * (width - cell_len(cell))
        parts.append(blanks + cell if to_the_right else cell + blanks)
    return GAP.join(parts).rstrip()


def paragraphs(parts: Iterable[str]) -> str:
    """Return non-empty parts with a blank line between."""
    return "\n\n".join(part for part in parts if part)
