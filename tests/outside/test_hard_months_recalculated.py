"""Packs of hard months, worked out again by LibreOffice, and a wrong pack that must show itself.

Goods under way over a month's end, a price told later, taken back and told anew, late bills, a reversal, and the
year of them. Source: LibreOffice's own arithmetic on the files as they are handed over; the data is invented.
"""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache
from pathlib import Path

import openpyxl
import pytest
from office_books import Books, different_cells, needs_office, recalculated
from pack_shop import hard_shop, pack_of

from ledger.views.pack import Pack, Table, whole
from ledger.views.pack_checks import checks
from ledger.views.workbook import pack_bytes

BOOKED_WRONG = "purchases and what was bought"


@cache
def hard_pack(month: str, whole_year: bool) -> Pack:  # noqa: FBT001  (a key of the cache)
    """A month's pack of the hard shop, or the pack of its year."""
    return pack_of(hard_shop(), month, whole_year=whole_year)


def wrong_pack() -> Pack:
    """February with its first purchase 5.00 too dear, as a fault of the program could write it."""
    pack = hard_pack("2026-02", False)  # noqa: FBT003
    table = pack.table("purchases")
    places = [table.place(key) for key in ("amount", "landed_cost")]
    first = [whole(cell) + 500 if at in places else cell for at, cell in enumerate(table.rows[0])]
    wrong = replace(table, rows=[first, *table.rows[1:]])
    sheets = tuple(wrong if sheet is table else sheet for sheet in pack.sheets)
    tables = {one.key: one for one in (*sheets, pack.stock_by_month) if isinstance(one, Table)}
    return replace(pack, sheets=sheets, checks=tuple(checks(tables, pack.figures())))


def in_office(pack: Pack, folder: Path) -> tuple[bytes, Books]:
    """Return a pack's workbook, and what LibreOffice calculates of it."""
    content = pack_bytes(pack)
    return content, Books(openpyxl.load_workbook(io.BytesIO(content)), recalculated(content, folder))


@needs_office
@pytest.mark.parametrize(("month", "whole_year"), [("2026-01", False), ("2026-02", False), ("2026-02", True)])
def test_every_formula_of_a_hard_month_gives_the_programs_figure(
    month: str,
    whole_year: bool,  # noqa: FBT001
    tmp_path: Path,
) -> None:
    """And every check is zero, by LibreOffice as by the program."""
    pack = hard_pack(month, whole_year)
    content, books = in_office(pack, tmp_path)
    assert different_cells(content, books) == []
    assert {books.check(check.what) for check in pack.checks} == {0}


@needs_office
def test_a_wrong_pack_shows_its_difference_before_anything_is_calculated(tmp_path: Path) -> None:
    """What stands beside the formulas is what LibreOffice comes to, 5.00 of difference among it."""
    content, books = in_office(wrong_pack(), tmp_path)
    assert different_cells(content, books) == []
    assert books.check(BOOKED_WRONG) == pytest.approx(-5)
    kept = openpyxl.load_workbook(io.BytesIO(content), data_only=True)
    rows = kept["Checks"].iter_rows(min_col=2, max_col=5)
    assert [row[3].value for row in rows if row[0].value == BOOKED_WRONG] == [-5]


def test_a_wrong_pack_says_so_in_words() -> None:
    """With both figures, so that whoever writes it can be warned; the right one says nothing."""
    (said,) = wrong_pack().disagreements()
    assert said == "Purchases: purchases and what was bought do not agree: 50.00 and 55.00."
    assert hard_pack("2026-02", False).disagreements() == ()  # noqa: FBT003
