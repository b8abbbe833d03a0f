"""How every picture looks: inks, marks, lines and hatches, axes, and the files and inline SVG they become.

Whatever tells two things apart by ink also tells them apart by mark, line or hatch, so that a picture
reads in black and white. matplotlib is imported where a picture is drawn and nowhere else.
"""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ledger.intake.sheet_writing import write_new

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.figure import Figure, SubFigure

WIDTH_INCHES = 4.4
"""How wide a picture of a page is: narrow, so that its words can still be read on a telephone."""

FONT_POINTS = 10
"""The size of words in a picture that says nothing else."""

SMALL_POINTS = 9
"""The size of words beside what they are about."""

GREY, PALE = "0.45", "0.86"
"""What is not one of several: helping lines and words in grey, areas behind them in pale grey."""

CLEAR: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "pad": 0.8}
"""Behind words that may stand on a line: the line is broken there, so that they can be read."""

ENDINGS = (".png", ".svg")
"""What a picture's file can end in."""

PNG_DOTS_PER_INCH = 160


@dataclass(frozen=True)
class Look:
    """How one of several things is drawn: its ink, its mark, its line and the hatch of its areas."""

    ink: str
    mark: str
    line: str
    hatch: str


LOOKS = (
    Look("#10263f", "o", "-", ""),
    Look("#8a3a14", "s", "--", "///"),
    Look("#2b8a7e", "^", "-.", "..."),
    Look("#d3941a", "D", ":", "xxx"),
)
"""The first four things of a picture; more are not told apart. Their lightness lies at least 14 apart (CIE L*)."""

_SETTINGS = {
    "font.size": FONT_POINTS,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": "0.3",
    "axes.titlesize": FONT_POINTS + 1,
    "axes.titlelocation": "left",
    "axes.labelcolor": "0.1",
    "axes.axisbelow": True,
    "xtick.color": "0.3",
    "xtick.labelcolor": "0.1",
    "ytick.color": "0.3",
    "ytick.labelcolor": "0.1",
    "grid.color": "0.88",
    "grid.linewidth": 0.7,
    "legend.frameon": False,
    "hatch.linewidth": 0.6,
    # A supplier's name with two dollar signs is a name, no formula.
    "text.parse_math": False,
    # Names inside an SVG are drawn from this instead of from chance.
    "svg.hashsalt": "blankbook",
    "savefig.dpi": PNG_DOTS_PER_INCH,
}

_UNCROWDED = 100
"""An axis from one to so many times that has room for figures between the powers of ten."""

_NO_STAMP: dict[str, dict[str, Any]] = {
    "svg": {"Date": None, "Creator": None, "Format": None, "Type": None},
    "png": {"Software": None},
}

_BEFORE_SVG = re.compile(r"\A.*?(?=<svg\b)", re.DOTALL)
_ROOT = re.compile(r"<svg\b[^>]*>")
_STYLE = re.compile(r"<defs>\s*<style[^>]*>.*?</style>\s*</defs>\s*", re.DOTALL)
_COMMENT = re.compile(r"<!--.*?-->\s*", re.DOTALL)
_SIZE = re.compile(r'\b(width|height|viewBox)="([^"]*)"')
_REFERENCE = re.compile(r'url\(#([^)]+)\)|\b(xlink:)?href="#([^"]+)"')
_ID = re.compile(r'\sid="([^"]*)"')
_TAG = re.compile(r"<[^>]+>")
_PLACES = re.compile(r'\s(?:d|x|y|points|transform)="[^"]*"')
_LONG = re.compile(r"-?\d+\.\d{3,}")


def drawn(draw: Callable[[Figure], None], height_inches: float, width_inches: float = WIDTH_INCHES) -> Figure:
    """Return a figure in this look, after ``draw`` has put its axes into it.

    Args:
        draw: makes the axes and draws on them; margins are found when the figure is written.
        height_inches: above zero.
        width_inches: above zero; wider than ``WIDTH_INCHES`` only for what is not for a page.
    """
    from matplotlib.figure import Figure  # noqa: PLC0415 - slow to import

    with _settings():
        figure = Figure(figsize=(width_inches, height_inches), layout="constrained")
        draw(figure)
    return figure


def picture_bytes(figure: Figure, ending: str) -> bytes:
    """Return a picture's file: the same bytes for the same picture, whenever it is drawn.

    Args:
        figure: what is drawn.
        ending: '.png' or '.svg'.
    """
    kind = ending.removeprefix(".")
    written = io.BytesIO()
    with _settings():
        figure.savefig(written, format=kind, metadata=_NO_STAMP[kind])
    if kind == "svg":
        return _steady(written.getvalue().decode("utf-8"), "p").encode("utf-8")
    return written.getvalue()


def save(figure: Figure, path: Path) -> None:
    """Write a picture as PNG or SVG, by the ending of the file's name.

    Raises UsageError where the file is there already or cannot be written.
    """
    write_new(path, picture_bytes(figure, path.suffix.lower()))


def svg_text(figure: Figure, title: str, description: str) -> str:
    """Return a picture as SVG to stand inside a page: with a name, without scripts or anything from outside.

    Its words stay words, and every id in it begins with a mark of its own, so that many stand on one page.

    Args:
        figure: what is drawn.
        title: its accessible name, in a few words.
        description: what it shows, in a sentence or two, for those who do not see it.
    """
    written = io.StringIO()
    with _settings({"svg.fonttype": "none"}):
        figure.savefig(written, format="svg", metadata=_NO_STAMP["svg"])
    text = written.getvalue()
    root = _ROOT.search(text)
    assert root is not None
    inside = _COMMENT.sub("", _STYLE.sub("", _BEFORE_SVG.sub("", text)[len(root[0]) :]))
    inside = _steady(inside.replace(" xlink:href=", " href="), "")
    mark = "p" + hashlib.sha256(f"{title}\n{description}\n{inside}".encode()).hexdigest()[:10]
    size = " ".join(f'{name}="{value}"' for name, value in _SIZE.findall(root[0]))
    head = (
        f'<svg {size} role="img" aria-labelledby="{mark}-title" aria-describedby="{mark}-desc" '
        'stroke-linejoin="round" stroke-linecap="butt">'
        f'<title id="{mark}-title">{escape(title)}</title><desc id="{mark}-desc">{escape(description)}</desc>'
    )
    return head + _steady(inside, mark).strip()


def _steady(text: str, mark: str) -> str:
    """Return an SVG that does not change with the last digits that a layout comes to.

    Ids are numbered in the order they occur and begin with the mark, each stands once, and references
    follow; places are told to a hundredth of a point. Words are left alone.
    """
    numbers: dict[str, int] = {}
    seen: set[str] = set()

    def number(name: str) -> str:
        return f"{mark}-{numbers.setdefault(name, len(numbers) + 1)}"

    def renamed(found: re.Match[str]) -> str:
        if found[1] in seen:
            return ""
        seen.add(found[1])
        return f' id="{number(found[1])}"'

    def followed(found: re.Match[str]) -> str:
        return f"url(#{number(found[1])})" if found[1] else f'{found[2] or ""}href="#{number(found[3])}"'

    def tag(found: re.Match[str]) -> str:
        plain = _REFERENCE.sub(followed, _ID.sub(renamed, found[0]))
        return _PLACES.sub(lambda places: _LONG.sub(_rounded, places[0]), plain)

    return _TAG.sub(tag, text)


def _rounded(found: re.Match[str]) -> str:
    text = f"{float(found[0]):.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _settings(more: dict[str, Any] | None = None) -> AbstractContextManager[None]:
    import matplotlib as mpl  # noqa: PLC0415 - slow to import

    # What the reader's own settings of the library say does not count.
    every: Any = {**mpl.rcParamsDefault, **_SETTINGS, **(more or {})}
    return mpl.rc_context(every)


def money_axis(axis: Axis, currency: str, unit: str = "") -> None:
    """Label an axis of money in whole major units: 'USD' or 'USD a piece', with figures like 1,200 or −40."""
    axis.set_label_text(f"{currency} {unit}".rstrip())
    axis.set_major_formatter(_figure)


def number_axis(axis: Axis, label: str) -> None:
    """Label an axis of plain numbers; ``label`` says what they are and their unit."""
    axis.set_label_text(label)
    axis.set_major_formatter(_figure)


def stretched_axis(axis: Axis, label: str) -> None:
    """Make an axis of counts logarithmic; what is on it is drawn already.

    Figures stand at 1, 2 and 5 times each power of ten; where that would crowd them, at each power.
    """
    from matplotlib.ticker import LogLocator, NullLocator  # noqa: PLC0415 - slow to import

    number_axis(axis, label)
    low, high = axis.axes.get_xlim()
    axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0) if high <= _UNCROWDED * low else (1.0,)))
    axis.set_minor_locator(NullLocator())


def _figure(value: float, _place: float | None = None) -> str:
    """Return a figure of an axis as people read it: 1,200, 0.5, −40."""
    text = f"{value:,.0f}" if abs(value - round(value)) < 1e-9 else f"{value:,.2f}".rstrip("0")  # noqa: PLR2004
    return "0" if text == "-0" else text.replace("-", "\N{MINUS SIGN}")


def grid(axes: Axes, along: str) -> None:
    """Draw faint helping lines at the figures of one axis, 'x' or 'y'."""
    axes.grid(axis="x" if along == "x" else "y")


def upright_line(
    axes: Axes,
    place: float,
    words: str = "",
    *,
    is_strong: bool = False,
    is_dotted: bool = False,
    is_left: bool = False,
) -> None:
    """Draw an upright line across the axes, with words at its upper end, to the right of it or to the left."""
    axes.axvline(
        place,
        color="0.1" if is_strong else GREY,
        linewidth=1.2 if is_strong else 0.9,
        linestyle=":" if is_dotted else "-",
        zorder=2.5,
    )
    if words:
        axes.annotate(
            words,
            (place, 1),
            xycoords=("data", "axes fraction"),
            xytext=(-4 if is_left else 4, -1),
            textcoords="offset points",
            ha="right" if is_left else "left",
            va="top",
            fontsize=SMALL_POINTS,
            color="0.1",
            bbox=CLEAR,
        )


def legend_below(figure: Figure | SubFigure, axes: Axes, columns: int, names: Sequence[str] = ()) -> None:
    """Put the names of what is drawn below the axes, where they cover nothing."""
    handles, labels = axes.get_legend_handles_labels()
    if handles:
        figure.legend(
            handles,
            list(names) or labels,
            loc="outside lower center",
            ncols=columns,
            fontsize=SMALL_POINTS,
        )
