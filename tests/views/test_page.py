"""A report to keep is one well-formed file: words stay words, nothing is fetched, no file is lost to it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_reader import read_page

from ledger.errors import UsageError
from ledger.views import tables
from ledger.views.page import (
    Block,
    Caution,
    Fact,
    Facts,
    Page,
    Picture,
    Point,
    Points,
    Section,
    Table,
    Text,
    from_table,
    page_html,
    with_texts,
    write_page,
)

NASTY = "</td><script>alert(1)</script> \"'& \u202e\x00"
SHOWN = "</td><script>alert(1)</script> \"'&"


def every_block(words: str) -> list[Block]:
    """One block of each sort, with the same words wherever words can stand."""
    return [
        Text(words),
        Caution(words),
        Points([words, Point(words, words)]),
        Facts([Fact(words, words, words)]),
        Table(words, [words, words], [[words, words]], frozenset({1}), [[words, words]], words),
        Picture("<svg></svg>", words),
    ]


def test_words_are_never_markup() -> None:
    """A name that looks like an element is shown as it was typed, wherever it stands."""
    html = page_html(Page(NASTY, NASTY, [Section(NASTY, every_block(NASTY))], NASTY, NASTY))
    page = read_page(html)
    assert page.unclosed == []
    assert "script" not in page.texts
    (table,) = page.tables
    assert [cell.strip() for cell in (*table.heads, *table.rows[0], *table.totals[0])] == [SHOWN] * 6
    for tag in ("title", "h1", "h2", "li", "dt", "figcaption", "footer"):
        assert SHOWN in page.texts[tag][0], tag


def test_every_word_of_a_page_can_be_respelled() -> None:
    """Commands that name the book do so wherever words can stand; a picture stays as it was drawn."""
    page = Page("see", "see", [Section("see", every_block("see"))], "see", "see")
    wanted = Page("seen", "seen", [Section("seen", every_block("seen"))], "seen", "seen")
    assert page_html(with_texts(page, lambda text: f"{text}n")) == page_html(wanted)


@given(st.text(max_size=40))
def test_any_words_give_a_whole_page(words: str) -> None:
    """Whatever the book holds, elements close where they open and the file can be written in UTF-8."""
    html = page_html(Page(words, words, [Section(words, every_block(words))], words, words))
    html.encode("utf-8")
    page = read_page(html)
    assert page.unclosed == []
    assert {tag for tag, _ in page.elements} <= {
        *(
            "html",
            "head",
            "meta",
            "title",
            "style",
            "body",
            "main",
            "header",
            "footer",
            "section",
            "h1",
            "h2",
        ),
        *("p", "br", "ul", "li", "code", "dl", "div", "dt", "dd", "span", "figure", "svg", "figcaption"),
        *("table", "thead", "tbody", "tfoot", "tr", "th", "td"),
    }


def test_a_page_may_fetch_and_run_nothing() -> None:
    """The policy forbids all but its own style, and no element names anything outside."""
    page = read_page(page_html(Page("T", "L", [Section("S", every_block("words"))])))
    policies = [
        attributes["content"]
        for tag, attributes in page.elements
        if tag == "meta" and attributes.get("http-equiv") == "Content-Security-Policy"
    ]
    assert len(policies) == 1
    assert policies[0] is not None
    assert policies[0].startswith("default-src 'none'; style-src 'unsafe-inline'; img-src data:")
    named = {name for _, attributes in page.elements for name in attributes}
    assert not named & {"src", "href", "srcset", "action", "background"}
    assert not {name for name in named if name.startswith("on")}


def test_a_page_says_what_it_is_in_which_order() -> None:
    """Title, main sentence, what holds for all of it, sections, and at the end what it was made from."""
    html = page_html(
        Page("The title", "The lead.", [Section("First", [Text("a\n\nb")])], "A draft.", "Made.")
    )
    places = [html.index(words) for words in ("<h1>The title", "The lead.", "A draft.", "<h2>First", "Made.")]
    assert places == sorted(places)
    assert html.startswith('<!doctype html>\n<html lang="en">')
    assert "<p>a</p>\n<p>b</p>" in html


def test_a_section_without_blocks_is_left_out() -> None:
    """A heading with nothing below it tells nothing."""
    assert read_page(page_html(Page("T", "L", [Section("Empty", [])]))).texts.get("h2") is None


def test_a_table_of_the_screen_keeps_its_cells() -> None:
    """Headings lose the mark of figures, which become a column to the right."""
    screen = tables.Table(["what", ">USD"])
    screen.add("tee", "3.10")
    screen.total("all", "3.10")
    (table,) = read_page(page_html(Page("T", "L", [Section("S", [from_table("Money", screen)])]))).tables
    assert (table.name, table.heads, table.rows, table.totals) == (
        "Money",
        ["what", "USD"],
        [["tee", "3.10"]],
        [["all", "3.10"]],
    )


def test_figures_stand_to_the_right_and_rows_are_named() -> None:
    """The class of figures is on their column alone; the first cell names its row."""
    html = page_html(Page("T", "L", [Section("S", [Table("C", ["a", "b"], [["x", "1"]], frozenset({1}))])]))
    assert '<th scope="row" class="whole">x</th><td class="figure">1</td>' in html


def test_a_page_is_never_written_over_a_file(tmp_path: Path) -> None:
    """What is there stays as it is, unless it was said that it may go."""
    path = tmp_path / "report.html"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="is there already and was left as it is"):
        write_page(path, Page("T", "L"))
    assert path.read_text(encoding="utf-8") == "mine"
    write_page(path, Page("T", "L"), replace=True)
    assert read_page(path).texts["h1"] == ["T"]


@pytest.mark.parametrize(
    ("name", "why"), [("report.txt", "ends in .html"), ("no/report.html", "does not exist")]
)
def test_a_page_wants_a_place_it_can_have(tmp_path: Path, name: str, why: str) -> None:
    """Another ending or a folder that is not there is said before anything is drawn."""
    with pytest.raises(UsageError, match=why):
        write_page(tmp_path / name, Page("T", "L"))
    assert list(tmp_path.iterdir()) == []


def test_a_table_too_wide_for_a_phone_carries_its_heads_in_its_cells() -> None:
    """Turned, each figure stands beside the head of its column; a small table stays as it is."""
    wide = Table(
        "All",
        ["who", "price each", "landed each", "quoted", "terms"],
        [["A mill by the river", "1.00", "2.00", "2026-03-01", "FOB at Rellan"]],
    )
    html = page_html(Page("x", "y", [Section("z", [wide])]))
    assert 'data-head="landed each">2.00</td>' in html
    assert "@media screen" in html
    small = page_html(Page("x", "y", [Section("z", [Table("All", ["a", "b"], [["one", "2"]])])]))
    assert "data-head=" not in small
