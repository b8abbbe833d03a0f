"""Reports of the shop's state in a real browser: nothing fetched, nothing said on its console, no page too wide."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
from browser import Looked, console_lines, look, needs_chromium, needs_pdf_tools, pdf_words, printed
from pack_shop import hard_shop

from ledger.exact.currencies import exponent

pytestmark = needs_chromium

NARROW, WIDE = 360, 1280
"""A telephone and a desk, in pixels."""


@dataclass(frozen=True)
class Report:
    """A page and where a browser may work on it."""

    page: Path
    folder: Path

    def at(self, width: int) -> Looked:
        """What a browser makes of it in a window that wide."""
        return _looked(self.page, self.folder, width)


_looked = cache(look)
"""A browser takes a second to start, and a page does not change."""


@pytest.fixture(scope="module", params=["stock", "close"])
def report(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Report:
    """The page of the stock, and of a month, of a shop with all that makes pages long."""
    folder = tmp_path_factory.mktemp("reports")
    page = folder / f"{request.param}.html"
    words = {"stock": ("stock",), "close": ("close", "2026-02", "--show")}[request.param]
    hard_shop()(*words, "--report", str(page))
    return Report(page, folder)


def test_a_browser_has_nothing_to_say(report: Report) -> None:
    """No error and no complaint on the console: nothing was blocked, because nothing was tried."""
    assert console_lines(report.page, report.folder) == []


def test_a_page_fetches_and_runs_nothing(report: Report) -> None:
    """No request but for the page itself, and no script."""
    found = report.at(WIDE)
    assert (found.requests, found.scripts, found.repeated_ids) == ([], 0, [])


def test_pictures_have_names_and_descriptions(report: Report) -> None:
    """Who does not see them is told what they are and what they show."""
    found = report.at(WIDE)
    assert found.picture_names
    assert all(found.picture_names)
    assert all(
        len(words) > len(name) for name, words in zip(found.picture_names, found.picture_words, strict=True)
    )


def test_tables_have_names_of_their_own(report: Report) -> None:
    """Every table is named, and no two the same."""
    names = report.at(WIDE).tables
    assert all(names)
    assert len(set(names)) == len(names)


def test_a_telephone_needs_no_sideways_scrolling(report: Report) -> None:
    """The page is as wide as its window; a wide table scrolls in a box of its own, a picture shrinks."""
    found = report.at(NARROW)
    assert found.content_width <= NARROW
    assert all(width <= NARROW for width in found.picture_widths)


@needs_pdf_tools
@pytest.mark.parametrize("paper", ["", "A4"])
def test_all_of_it_is_on_paper(report: Report, paper: str) -> None:
    """Every heading and every table's name is printed, on Letter and on A4."""
    words = " ".join(pdf_words(printed(report.page, report.folder, paper)).split())
    found = report.at(WIDE)
    missing = [text for text in (*found.headings, *found.tables) if " ".join(text.split()) not in words]
    assert missing == []


@needs_pdf_tools
def test_no_figure_is_cut_off_at_the_edge(report: Report) -> None:
    """The last column of the widest table is on the paper: the whole stock stands there in full."""
    words = pdf_words(printed(report.page, report.folder))
    cents = 10 ** exponent("USD")
    month = "2026-02" if report.page.stem == "close" else "2026-03"
    whole = hard_shop().report(month).statement.total.closing_stock
    assert f"{whole // cents:,}.{whole % cents:02d}" in words
