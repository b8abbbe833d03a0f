"""A report read back as a reader finds it: its headings, tables and words, nothing of how it looks."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

_VOID = {"meta", "br", "link", "img", "input", "hr"}


@dataclass
class ReadTable:
    """A table of a page: its name, heads, rows and rows below the line."""

    name: str
    heads: list[str] = field(default_factory=list)
    rows: list[list[str]] = field(default_factory=list)
    totals: list[list[str]] = field(default_factory=list)

    def column(self, head: str) -> list[str]:
        """The cells of a column, without those below the line."""
        place = self.heads.index(head)
        return [row[place] for row in self.rows]


@dataclass
class ReadPage:
    """A page: the texts of its elements by their names, its tables, and the attributes of every element."""

    texts: dict[str, list[str]] = field(default_factory=dict)
    tables: list[ReadTable] = field(default_factory=list)
    elements: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    unclosed: list[str] = field(default_factory=list)

    def table(self, beginning: str) -> ReadTable:
        """The only table whose name begins so."""
        (found,) = (table for table in self.tables if table.name.startswith(beginning))
        return found

    @property
    def words(self) -> str:
        """All of its words."""
        return " ".join(self.texts[""])


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.page = ReadPage(texts={"": []})
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.page.elements.append((tag, dict(attrs)))
        if tag in _VOID:
            return
        self.open.append(tag)
        self.page.texts.setdefault(tag, []).append("")
        if tag == "table":
            self.page.tables.append(ReadTable(dict(attrs).get("aria-label") or ""))
        elif tag == "tr" and "tbody" in self.open:
            self.page.tables[-1].rows.append([])
        elif tag == "tr" and "tfoot" in self.open:
            self.page.tables[-1].totals.append([])
        elif tag in ("td", "th"):
            self._cells().append("")

    def _cells(self) -> list[str]:
        table = self.page.tables[-1]
        if "thead" in self.open:
            return table.heads
        return (table.rows if "tbody" in self.open else table.totals)[-1]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.page.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"{tag} is closed and was not opened"
        assert self.open.pop() == tag, f"{tag} is closed in another element"

    def handle_data(self, data: str) -> None:
        self.page.texts[""].append(data)
        for tag in set(self.open):
            self.page.texts[tag][-1] += data
        if "table" in self.open and self.open[-1] in ("td", "th"):
            self._cells()[-1] += data


def read_page(source: Path | str) -> ReadPage:
    """Return a page, of a file or of its text; every element must be closed where it was opened."""
    reader = _Reader()
    reader.feed(source.read_text(encoding="utf-8") if isinstance(source, Path) else source)
    reader.close()
    reader.page.unclosed = reader.open
    return reader.page
