"""The look of all pictures: apart in grey, the same bytes every time, SVG that is safe to stand in a page."""

from __future__ import annotations

import re
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pytest

from ledger.errors import UsageError
from ledger.views.pictures import (
    LOOKS,
    drawn,
    grid,
    legend_below,
    money_axis,
    picture_bytes,
    save,
    stretched_axis,
    svg_text,
    upright_line,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def lightness(ink: str) -> float:
    """Return L* of an ink. Source: CIE 1976, from memory; sRGB by IEC 61966-2-1, from memory."""
    parts = [int(ink[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    light = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return 116 * light ** (1 / 3) - 16 if light > 0.008856 else 903.3 * light


def example(figure: Figure) -> None:
    """Draw a little of everything."""
    axes = figure.add_subplot()
    for look in LOOKS:
        axes.plot(
            [1, 20, 400], [1, 2, 3], color=look.ink, marker=look.mark, linestyle=look.line, label=look.mark
        )
    axes.bar([1, 2], [3, 2], facecolor="white", edgecolor=LOOKS[1].ink, hatch=LOOKS[1].hatch)
    money_axis(axes.yaxis, "USD", "a piece")
    axes.set_xscale("log")
    stretched_axis(axes.xaxis, "pieces")
    grid(axes, "y")
    upright_line(axes, 30, "here", is_strong=True)
    legend_below(figure, axes, 2)


def test_inks_are_apart_without_their_colour() -> None:
    """In grey each is lighter than the one before by enough to be seen, and dark enough on white."""
    light = [lightness(look.ink) for look in LOOKS]
    assert all(after - before >= 13 for before, after in pairwise(light))
    assert max(light) < 70


def test_ink_is_never_the_only_difference() -> None:
    """Each has a mark, a line and a hatch of its own."""
    for kind in ("mark", "line", "hatch"):
        assert len({getattr(look, kind) for look in LOOKS}) == len(LOOKS)


@pytest.mark.parametrize("ending", [".png", ".svg"])
def test_the_same_picture_is_the_same_file(ending: str) -> None:
    """No clock, no chance and no version leaves a trace."""
    assert picture_bytes(drawn(example, 3), ending) == picture_bytes(drawn(example, 3), ending)


def test_settings_of_the_reader_change_nothing() -> None:
    """What the library was told elsewhere is not looked at, and is there again afterwards."""
    import matplotlib as mpl  # noqa: PLC0415  (only here)

    before = picture_bytes(drawn(example, 3), ".svg")
    with mpl.rc_context({"font.size": 30, "axes.facecolor": "black"}):
        assert picture_bytes(drawn(example, 3), ".svg") == before
        assert mpl.rcParams["font.size"] == 30


def test_a_picture_of_a_page_stands_by_itself() -> None:
    """No script, no style of its own for the page, no address; every reference is to an id within."""
    text = svg_text(drawn(example, 3), "A title", "What it shows.")
    for wrong in ("<script", "<style", "http", "<!--", "<!DOCTYPE", "xlink", "<image", "onload"):
        assert wrong not in text
    ids = re.findall(r'\sid="([^"]*)"', text)
    assert len(set(ids)) == len(ids)
    assert set(re.findall(r'(?:url\(#|href="#)([^")]+)', text)) <= set(ids)
    ElementTree.fromstring(text)  # noqa: S314 - made just above


def test_a_picture_of_a_page_has_a_name_and_a_description() -> None:
    """Both are words, whatever they hold, and the picture points at them."""
    text = svg_text(drawn(example, 3), "A <b> & title", "It's </desc> shown.")
    root = ElementTree.fromstring(text)  # noqa: S314 - made just above
    title, description = root[0], root[1]
    assert (title.tag, title.text, description.tag, description.text) == (
        "title", "A <b> & title", "desc", "It's </desc> shown.",
    )  # fmt: skip
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == title.get("id")
    assert root.get("aria-describedby") == description.get("id")


def test_two_pictures_of_a_page_share_no_id() -> None:
    """Each begins its ids with a mark of its own, drawn from what it holds."""
    first, second = (
        set(re.findall(r'\sid="([^"]*)"', svg_text(drawn(example, 3), title, ""))) for title in ("one", "two")
    )
    assert not first & second


def test_words_of_a_picture_stay_words() -> None:
    """Labels can be read and searched for; they are no outlines."""
    text = svg_text(drawn(example, 3), "t", "d")
    for words in ("USD a piece", "pieces", "here"):
        assert f">{words}</text>" in text


def test_figures_of_axes_are_told_as_people_write_them() -> None:
    """Thousands are parted, a minus is a minus, halves keep their place, nothing is negative zero."""

    def draw(figure: Figure) -> None:
        money_axis(figure.add_subplot().yaxis, "USD")

    formatter = drawn(draw, 2).axes[0].yaxis.get_major_formatter()
    told = [formatter(value, 0) for value in (1200.0, -40.0, 0.5, 0.25, -1e-12)]
    assert told == ["1,200", "\N{MINUS SIGN}40", "0.5", "0.25", "0"]


def test_a_picture_is_never_written_over_another(tmp_path: Path) -> None:
    """The file that is there stays as it is."""
    path = tmp_path / "picture.png"
    save(drawn(example, 2), path)
    kept = path.read_bytes()
    with pytest.raises(UsageError, match="there already"):
        save(drawn(example, 3), path)
    assert path.read_bytes() == kept


def test_importing_the_views_imports_no_plotting_library() -> None:
    """Only drawing does."""
    code = (
        "import sys\n"
        "import ledger.views.pictures, ledger.views.decision_pictures, ledger.views.decision_report\n"
        "import ledger.views.price_page, ledger.views.pictures_prices, ledger.views.lead_times_picture\n"
        "print([name for name in ('matplotlib', 'numpy') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
