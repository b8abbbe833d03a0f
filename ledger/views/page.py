"""A report to keep: one HTML file that holds everything it shows, reads without scripts and prints.

Our own look: one column of text, figures in tables of hairlines, words before figures.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields, is_dataclass
from html import escape
from pathlib import Path
from typing import Any, TypeAlias

from ledger.errors import UsageError
from ledger.views import tables
from ledger.views.page_style import STYLE
from ledger.views.whole_file import refuse_existing, write_whole

PAGE_SUFFIX = ".html"

Respelled: TypeAlias = Callable[[str], str]
"""Returns a text with its commands as they can be typed: they name the book where the maker named it."""

_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; form-action 'none'; base-uri 'none'"
"""What a browser may do with the page: show it, and nothing else, whatever stands in it."""


@dataclass(frozen=True, slots=True)
class Text:
    """One or more paragraphs; a blank line parts them."""

    text: str


@dataclass(frozen=True, slots=True)
class Caution:
    """What the reader must not take the page for; each stands once on a page."""

    text: str


@dataclass(frozen=True, slots=True)
class Point:
    """One point of a list, and what to type about it, '' for nothing."""

    text: str
    command: str = ""


@dataclass(frozen=True, slots=True)
class Points:
    """A list of points."""

    points: Sequence[Point | str]


@dataclass(frozen=True, slots=True)
class Fact:
    """A named value and where it comes from, with its date; '' where that is plain."""

    name: str
    value: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Facts:
    """Named values, one below the other."""

    facts: Sequence[Fact]


@dataclass(frozen=True, slots=True)
class Table:
    """A table.

    Args:
        caption: what the table shows, with the unit of its figures.
        heads: one for each column, the first for what the rows are.
        rows: cells as text, as many as there are heads.
        right_aligned: places of the columns of figures, from 0.
        totals: rows below a line.
        note: what is said below it; '' for nothing.
    """

    caption: str
    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    right_aligned: frozenset[int] = frozenset()
    totals: Sequence[Sequence[str]] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as inline SVG with a title and a description of its own, and what stands below it."""

    svg: str
    caption: str


Block = Text | Caution | Points | Facts | Table | Picture


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands below it; without blocks it is left out."""

    heading: str
    blocks: Sequence[Block]


@dataclass(frozen=True, slots=True)
class Page:
    """A whole page.

    Args:
        title: what the page is about.
        lead: the main thing in one sentence.
        sections: in the order of reading.
        state: what the reader must know of all of it, as that the month is a draft; '' for nothing.
        foot: what it was made from and when.
    """

    title: str
    lead: str
    sections: Sequence[Section] = field(default_factory=tuple)
    state: str = ""
    foot: str = ""


def from_table(caption: str, table: tables.Table, note: str = "") -> Table:
    """Return a table of the screen as one of the page, with the same cells."""
    return Table(
        caption,
        [head.removeprefix(">") for head in table.headings],
        table.rows,
        frozenset(place for place, head in enumerate(table.headings) if head.startswith(">")),
        table.totals,
        note,
    )


def page_html(page: Page) -> str:
    """Return the page as one HTML document; whatever the book's words hold, they are only words."""
    parts = [
        "<!doctype html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="color-scheme" content="light">',
        f"<title>{_words(page.title)}</title>",
        f"<style>\n{STYLE}</style>",
        "</head>",
        "<body>",
        "<main>",
        "<header>",
        f"<h1>{_words(page.title)}</h1>",
        f'<p class="lead">{_words(page.lead)}</p>',
        *([f'<p class="state">{_words(page.state)}</p>'] if page.state else []),
        "</header>",
        *(_section(section) for section in page.sections if section.blocks),
        "</main>",
        *([f"<footer><p>{_words(page.foot)}</p></footer>"] if page.foot else []),
        "</body>",
        "</html>",
    ]
    return "\n".join(parts) + "\n"


def refuse_page(path: Path, *, replace: bool = False) -> None:
    """Raise UsageError where no page can be written there: ask it before long work."""
    if path.suffix.lower() != PAGE_SUFFIX:
        raise UsageError(f"'{path}': the name of a report ends in {PAGE_SUFFIX}.")
    if path.is_file() and not replace:
        raise UsageError(f"{path} is there already and was left as it is: name another file.")
    refuse_existing(path, replace=replace)


def write_page(path: Path, page: Page, *, replace: bool = False, respelled: Respelled | None = None) -> None:
    """Write the page whole or not at all.

    Args:
        path: the file; it ends in .html.
        page: the page.
        replace: whether a file of that name may go.
        respelled: what commands on it are typed like; None for as they stand.

    Raises UsageError where the file is there and may not go, or cannot be written.
    """
    refuse_page(path, replace=replace)
    shown = page if respelled is None else with_texts(page, respelled)
    write_whole(path, page_html(shown).encode("utf-8"), replace=replace)


def with_texts(page: Page, respelled: Respelled) -> Page:
    """Return a page with every text on it respelled, but for what stands inside pictures."""
    return dataclasses.replace(page, **_fields(page, respelled))


def _respelled(part: Any, respelled: Respelled) -> Any:
    if isinstance(part, str):
        return respelled(part)
    if isinstance(part, Picture):
        return Picture(part.svg, respelled(part.caption))
    if isinstance(part, list | tuple):
        return tuple(_respelled(each, respelled) for each in part)
    if is_dataclass(part) and not isinstance(part, type):
        return dataclasses.replace(part, **_fields(part, respelled))
    return part


def _fields(part: Any, respelled: Respelled) -> dict[str, Any]:
    return {each.name: _respelled(getattr(part, each.name), respelled) for each in fields(part)}


def _section(section: Section) -> str:
    blocks = "\n".join(_block(block) for block in section.blocks)
    return f"<section>\n<h2>{_words(section.heading)}</h2>\n{blocks}\n</section>"


def _block(block: Block) -> str:
    match block:
        case Text():
            return _paragraphs(block.text)
        case Caution():
            return f'<p class="caution" role="note">{_words(block.text)}</p>'
        case Points():
            return _points(block)
        case Facts():
            return _facts(block)
        case Table():
            return _table(block)
        case Picture():
            return (
                f'<figure>\n<div class="picture">{block.svg}</div>\n'
                f"<figcaption>{_words(block.caption)}</figcaption>\n</figure>"
            )


def _paragraphs(text: str) -> str:
    paragraphs = [part for part in text.split("\n\n") if part.strip()]
    return "\n".join(
        f"<p>{'<br>'.join(_words(line) for line in part.split(chr(10)))}</p>" for part in paragraphs
    )


def _points(block: Points) -> str:
    lines = ["<ul>"]
    for point in block.points:
        one = Point(point) if isinstance(point, str) else point
        command = f"<br><code>{_words(one.command)}</code>" if one.command else ""
        lines.append(f"<li>{_words(one.text)}{command}</li>")
    return "\n".join([*lines, "</ul>"])


_KEPT_FACTS = 6
"""Up to how many facts are printed on one sheet."""


def _facts(block: Facts) -> str:
    is_short = len(block.facts) <= _KEPT_FACTS
    lines = ['<dl class="short">' if is_short else "<dl>"]
    for fact in block.facts:
        source = f'<span class="source">{_words(fact.source)}</span>' if fact.source else ""
        lines.append(f"<div><dt>{_words(fact.name)}</dt><dd>{_words(fact.value)}{source}</dd></div>")
    return "\n".join([*lines, "</dl>"])


_KEPT_TOGETHER = 16
"""Up to how many rows a table is printed on one sheet."""

_ONE_LINE = 26
"""Up to how many characters the name of a row is never broken: a code stays whole."""

_SHORT_CELL = 12
"""Up to how many characters any other cell is not broken: a date stays whole."""


_LETTER_REM = 0.47
"""How wide a letter of a table is on average, in rem."""

_GAP_REM = 1.0
"""The room between two columns, in rem."""

_TURNED = (("narrow", 21.5), ("middling", 28.0), ("broad", 40.0), ("wide", 56.0))
"""From what width on, in rem, a table is turned on a screen that is too narrow for it, and what it is called."""


_BROAD_REM = 68.0
"""From what width on a table does not fit on any usual screen and scrolls."""


def _width_rem(table: Table) -> float:
    """Return about how wide a table is, in rem."""
    width = sum(
        max(
            (
                max(map(len, head.split()), default=0),
                *(_unbroken(row[place], most) for row in (*table.rows, *table.totals)),
            )
        )
        for place, head in enumerate(table.heads)
        for most in (10**6 if place in table.right_aligned else _ONE_LINE if place == 0 else _SHORT_CELL,)
    )
    return width * _LETTER_REM + (len(table.heads) - 1) * _GAP_REM


def _turns(width_rem: float) -> str:
    """Return for how narrow a screen a table is turned, each row a small list of its own; '' for none."""
    return next((name for name, least in reversed(_TURNED) if width_rem > least), "")


def _unbroken(text: str, most: int) -> int:
    """Return how many letters of a cell stand on one line; ``most`` is how many of them are never broken."""
    return len(text) if len(text) <= most else min(len(text), max([_PROSE_LETTERS, *map(len, text.split())]))


_PROSE_LETTERS = 15
"""How many letters wide a cell of words is at least, where it has as many."""


def _table(table: Table) -> str:
    """Return a table in a box of its own, which scrolls where the page is narrower than the table."""
    right = [place in table.right_aligned for place in range(len(table.heads))]
    heads = "".join(
        f'<th scope="col"{_class(is_right=is_right)}>{_words(head)}</th>'
        for head, is_right in zip(table.heads, right, strict=True)
    )
    caption = _words(table.caption)
    is_short = len(table.rows) + len(table.totals) <= _KEPT_TOGETHER
    turns = _turns(_width_rem(table))
    named = table.heads if turns else ()
    lines = [
        f'<div class="{" ".join(filter(None, ("table", "short" if is_short else "", turns)))}">',
        f'<p class="caption" aria-hidden="true">{caption}</p>',
        f'<div class="box" role="region" tabindex="0" aria-label="{caption}">',
        f'<table aria-label="{caption}">',
        f"<thead>\n<tr>{heads}</tr>\n</thead>",
        "<tbody>",
        *(_row(row, right, named) for row in table.rows),
        "</tbody>",
    ]
    if table.totals:
        lines += ["<tfoot>", *(_row(row, right, named) for row in table.totals), "</tfoot>"]
    lines += ["</table>", "</div>"]
    if _width_rem(table) > _BROAD_REM:
        lines.append('<p class="sideways" aria-hidden="true">scrolls sideways</p>')
    if table.note:
        lines.append(f'<p class="note">{_words(table.note)}</p>')
    return "\n".join([*lines, "</div>"])


def _row(row: Sequence[str], right: Sequence[bool], named: Sequence[str]) -> str:
    """Return a row; ``named`` are the heads that its cells carry for where the row is turned, empty for none."""
    cells = []
    for place, (cell, is_right) in enumerate(zip(row, right, strict=True)):
        tag, scope = ("th", ' scope="row"') if place == 0 and cell else ("td", "")
        is_whole = len(cell) <= (_SHORT_CELL if place else _ONE_LINE)
        head = f' data-head="{_words(named[place])}"' if place and named and named[place] else ""
        shape = _class(is_right=is_right, is_whole=is_whole)
        cells.append(f"<{tag}{scope}{shape}{head}>{_words(cell)}</{tag}>")
    return f"<tr>{''.join(cells)}</tr>"


def _class(*, is_right: bool, is_whole: bool = False) -> str:
    if is_right:
        return ' class="figure"'
    return ' class="whole"' if is_whole else ""


def _words(text: str) -> str:
    """Return a text as HTML shows it: nothing of it is markup, and no control character turns it about."""
    return escape("".join(char if char.isprintable() else " " for char in text), quote=True)
