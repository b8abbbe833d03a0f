"""A decision and landed prices as pages in a real browser, and that commands which draw nothing load no plotting."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from browser import console_lines, look, needs_chromium, needs_pdf_tools, pdf_words, printed

STUDY = Path(__file__).resolve().parents[2] / "samples" / "wren-study.toml"
NARROW, WIDE = 360, 1280
MEASURED = """
import sys
from ledger.cli.main import run
sys.argv[0] = "blankbook"
try:
    run()
except SystemExit as end:
    assert not end.code, end.code
print("loaded:", "matplotlib" in sys.modules, file=sys.stderr)
"""


def compare(folder: Path, *words: str) -> str:
    """Run `blankbook compare` on the sample study in a process of its own; its last line on stderr."""
    done = subprocess.run(
        [sys.executable, "-c", MEASURED, "compare", str(STUDY), "--futures", "200", *words],
        cwd=folder,
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    return done.stderr.splitlines()[-1]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the sample study."""
    folder = tmp_path_factory.mktemp("decision")
    assert compare(folder, "--report", "wren.html") == "loaded: True"
    return folder / "wren.html"


def test_a_decision_without_pictures_loads_no_plotting(tmp_path: Path) -> None:
    """On the screen and for scripts."""
    assert compare(tmp_path) == "loaded: False"
    assert compare(tmp_path, "--json") == "loaded: False"


@needs_chromium
def test_a_browser_shows_it_without_a_word(page: Path) -> None:
    """Nothing on its console, no request, no script, no id twice, every picture with a name and a description."""
    assert console_lines(page, page.parent) == []
    found = look(page, page.parent, WIDE)
    assert (found.requests, found.scripts, found.repeated_ids) == ([], 0, [])
    assert len(found.picture_names) == 6
    assert all(found.picture_names)
    assert all(len(words) > 20 for words in found.picture_words)
    assert len(set(found.tables)) == len(found.tables)


@needs_chromium
def test_a_telephone_is_wide_enough(page: Path) -> None:
    """Nothing makes the page wider than its window, and pictures keep most of its width."""
    found = look(page, page.parent, NARROW)
    assert found.content_width <= NARROW
    assert all(280 <= width <= NARROW for width in found.picture_widths)


@needs_chromium
@needs_pdf_tools
@pytest.mark.parametrize("paper", ["", "A4"])
def test_all_of_it_prints(page: Path, paper: str) -> None:
    """Every heading and every table's name is on the paper, and the footer."""
    words = " ".join(pdf_words(printed(page, page.parent, paper)).split())
    found = look(page, page.parent, WIDE)
    assert [name for name in found.headings if " ".join(name.split()) not in words] == []
    assert "Made by Blankbook from the study wren-study.toml" in words
