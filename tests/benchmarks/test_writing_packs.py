"""The benchmark of a month's pack still runs, on a whole book; nothing here looks at a clock."""

from __future__ import annotations

from pathlib import Path

from writing_packs import MONTH, cells_of, make_month, pack_and_workbook, rows_of, write_cells

from ledger.book.connect import open_reading
from ledger.book.proving import prove


def test_the_month_is_whole(tmp_path: Path) -> None:
    """Moved into one month, the documents still prove, and all of them lie in it."""
    path = tmp_path / "month.blankbook"
    make_month(path, 80, 24)
    connection = open_reading(path)
    assert prove(connection).findings == ()
    assert connection.execute("SELECT DISTINCT substr(effect_date, 1, 7) FROM leg").fetchall() == [(MONTH,)]
    connection.close()


def test_the_yardstick_writes_the_same_cells(tmp_path: Path) -> None:
    """Every text, figure and formula of the workbook is in the one that is merely written."""
    path = tmp_path / "month.blankbook"
    make_month(path, 80, 24)
    cells = cells_of(pack_and_workbook(path))
    again = cells_of(write_cells(cells))
    filled = [[[row for row in rows if any(row)] for _, rows in both] for both in (cells, again)]
    assert sum(map(len, filled[0])) == sum(map(len, filled[1])) > 80


def test_every_measure_has_its_line(tmp_path: Path) -> None:
    """The pack alone, and the pack with its workbook."""
    assert [row.what for row in rows_of(tmp_path, 80, 24, 1)] == [
        "pack read: 80 documents",
        "pack and workbook: 80 documents",
    ]
