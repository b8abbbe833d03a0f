"""The benchmark of pages still runs, and its pictures are those of the pages; nothing here looks at a clock."""

from __future__ import annotations

from pathlib import Path

from report_pages import month_html, month_pictures, rows_of, stock_html, stock_picture
from writing_packs import make_month


def test_the_yardstick_draws_as_many_pictures(tmp_path: Path) -> None:
    """A page with more pictures than its yardstick would be held to too little."""
    path = tmp_path / "month.blankbook"
    make_month(path, 80, 24)
    assert stock_html(path).count("<svg") == stock_picture(path).count("<svg") == 1
    assert month_html(path).count("<svg") == len(month_pictures(path)) == 2


def test_every_page_has_its_line(tmp_path: Path) -> None:
    """The page of the stock, and of a month."""
    assert [row.what for row in rows_of(tmp_path, 80, 24, 1)] == [
        "page of the stock: 80 documents, 24 items",
        "page of the month: 80 documents, 24 items",
    ]
