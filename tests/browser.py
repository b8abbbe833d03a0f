"""Opening a report in a headless browser, as a person would: on a desk, on a telephone, on paper."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from dataclasses import dataclass
from html import escape, unescape
from pathlib import Path

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

needs_chromium = pytest.mark.skipif(
    CHROMIUM is None, reason="chromium is not installed: the Debian package of that name has it"
)
needs_pdf_tools = pytest.mark.skipif(
    shutil.which("pdftotext") is None,
    reason="pdftotext is not installed: the Debian package poppler-utils has it",
)

_LOOK = """
addEventListener('load', () => {
  const frame = document.querySelector('iframe'), page = frame.contentDocument;
  const named = (one, how) => (one.getAttribute(how) || '').split(' ').filter(Boolean)
    .map(id => page.getElementById(id)?.textContent ?? '').join(' ');
  const ids = [...page.querySelectorAll('[id]')].map(one => one.id);
  document.getElementById('found').textContent = JSON.stringify({
    content_width: page.documentElement.scrollWidth,
    requests: frame.contentWindow.performance.getEntriesByType('resource').map(one => one.name),
    scripts: page.querySelectorAll('script').length,
    picture_names: [...page.querySelectorAll('svg')].map(one => named(one, 'aria-labelledby')),
    picture_words: [...page.querySelectorAll('svg')].map(one => named(one, 'aria-describedby')),
    picture_widths: [...page.querySelectorAll('svg')].map(one => one.getBoundingClientRect().width),
    repeated_ids: ids.filter((one, place) => ids.indexOf(one) !== place),
    headings: [...page.querySelectorAll('h1, h2')].map(one => one.textContent),
    tables: [...page.querySelectorAll('table')].map(one => one.getAttribute('aria-label') ?? ''),
  });
});
"""


@dataclass(frozen=True)
class Looked:
    """What a browser made of a page in a window of some width, in pixels."""

    content_width: int
    requests: list[str]
    scripts: int
    picture_names: list[str]
    picture_words: list[str]
    picture_widths: list[float]
    repeated_ids: list[str]
    headings: list[str]
    tables: list[str]


def _run(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    assert CHROMIUM is not None
    profile = folder / "browser"
    command = [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={profile}"]
    return subprocess.run([*command, *arguments], capture_output=True, text=True, timeout=120, check=True)


def console_lines(page: Path, folder: Path) -> list[str]:
    """Return what the browser wrote on its console while it opened a page: complaints of any kind."""
    done = _run(folder, "--enable-logging=stderr", "--dump-dom", page.resolve().as_uri())
    return [line for line in done.stderr.splitlines() if "CONSOLE" in line]


def look(page: Path, folder: Path, width: int) -> Looked:
    """Return what a browser made of a page in a window so many pixels wide."""
    around = folder / f"around-{page.stem}-{width}.html"
    around.write_text(
        f'<!doctype html><meta charset="utf-8"><iframe style="border:0;width:{width}px;height:700px" '
        f'srcdoc="{escape(page.read_text(encoding="utf-8"))}"></iframe><pre id="found"></pre>'
        f"<script>{_LOOK}</script>",
        encoding="utf-8",
    )
    done = _run(folder, "--dump-dom", around.resolve().as_uri())
    found = re.search(r'<pre id="found">(.*?)</pre>', done.stdout, re.DOTALL)
    assert found is not None
    assert found[1], "the page did not load"
    return Looked(**json.loads(unescape(found[1])))


def printed(page: Path, folder: Path, paper: str = "") -> Path:
    """Return a page printed to PDF; ``paper`` is 'A4' or another size that style sheets know, '' for Letter."""
    source = page
    if paper:
        source = folder / f"{page.stem}-{paper}.html"
        text = page.read_text(encoding="utf-8")
        source.write_text(
            text.replace("</style>", f"@page {{ size: {paper}; }}</style>", 1), encoding="utf-8"
        )
    pdf = folder / f"{page.stem}-{paper or 'letter'}.pdf"
    _run(folder, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", source.resolve().as_uri())
    return pdf


def pdf_words(pdf: Path) -> str:
    """Return the words of a printed page, as they stand on the paper."""
    done = subprocess.run(
        ["pdftotext", "-layout", str(pdf), "-"],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    return done.stdout
