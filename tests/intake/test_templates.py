from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest
from freezegun import freeze_time
from openpyxl.workbook import Workbook

from ledger.carried import carried
from ledger.catalogue.item_sheet import ITEM_COLUMNS, read_item_header
from ledger.errors import UsageError
from ledger.intake.profile import find_profile, load_profile
from ledger.intake.read_file import read_file
from ledger.intake.read_shipment import read_shipment
from ledger.intake.sheet_writing import put_text
from ledger.intake.template_sheets import SHIPMENT_HEADING_ROW, TEMPLATES
from ledger.intake.templates import template_bytes, write_filled, write_template


def content_of(path: Path) -> dict[str, Any]:
    """Return what a maker sees of a workbook: cells, notes, lists, frozen panes."""
    workbook = openpyxl.load_workbook(path)
    return {
        sheet.title: {
            "cells": [(c.coordinate, c.value, c.data_type) for row in sheet.iter_rows() for c in row],
            "notes": [(c.coordinate, c.comment.text) for row in sheet.iter_rows() for c in row if c.comment],
            "lists": [
                (str(each.sqref), each.formula1, each.errorStyle)
                for each in sheet.data_validations.dataValidation
            ],
            "frozen": sheet.freeze_panes,
            "title rows": sheet.print_title_rows,
            "widths": {name: each.width for name, each in sheet.column_dimensions.items()},
        }
        for sheet in workbook.worksheets
    }


@pytest.mark.parametrize("kind", TEMPLATES)
def test_the_carried_workbook_is_what_the_program_writes(kind: str, tmp_path: Path) -> None:
    """The blank workbooks that come along are the ones `template` writes today."""
    path = tmp_path / f"{kind}.xlsx"
    write_template(kind, path)
    assert content_of(path) == content_of(carried("imports", f"{kind}.xlsx"))


@pytest.mark.parametrize("kind", TEMPLATES)
def test_a_template_is_the_same_bytes_every_time(kind: str) -> None:
    """No clock leaves a trace in a blank workbook."""
    with freeze_time("2031-05-06 07:08:09"):
        later = template_bytes(kind)
    assert template_bytes(kind) == later


@pytest.mark.parametrize("kind", TEMPLATES)
def test_a_template_holds_no_formula(kind: str, tmp_path: Path) -> None:
    """Every cell that is filled holds text."""
    path = tmp_path / "blank.xlsx"
    write_template(kind, path)
    sheets = content_of(path).values()
    assert {kind for sheet in sheets for _, value, kind in sheet["cells"] if value is not None} == {"s"}


def test_the_fill_in_sheet_stands_before_how_to(tmp_path: Path) -> None:
    """The sheet to fill in is the first one a reader meets."""
    path = tmp_path / "blank.xlsx"
    write_template("items", path)
    assert list(content_of(path)) == ["Items", "How to"]


def test_every_heading_has_a_note(tmp_path: Path) -> None:
    """What to type stands in a note on every heading."""
    path = tmp_path / "blank.xlsx"
    write_template("items", path)
    assert len(content_of(path)["Items"]["notes"]) == len(ITEM_COLUMNS)


def test_the_items_headings_are_those_the_catalogue_reads(tmp_path: Path) -> None:
    """Each heading of the items workbook names a column of the items sheet."""
    path = tmp_path / "blank.xlsx"
    write_template("items", path)
    headings = [cell.text for cell in read_file(path).sheets[0].rows[0]]
    assert [read_item_header(heading) for heading in headings] == list(ITEM_COLUMNS)


def test_a_template_never_overwrites(tmp_path: Path) -> None:
    """A file that is there stays as it is."""
    path = tmp_path / "mine.xlsx"
    path.write_text("mine")
    with pytest.raises(UsageError, match="is there already"):
        write_template("items", path)
    assert path.read_text() == "mine"


def test_a_name_that_would_not_be_read_again_is_refused(tmp_path: Path) -> None:
    """A workbook under the name of a csv file is refused by what reads it, so it is not written."""
    path = tmp_path / "sheet.csv"
    with pytest.raises(UsageError, match=r"end in \.xlsx, not"):
        write_template("events", path)
    with pytest.raises(UsageError, match=r"end in \.xlsx, not"):
        write_filled("opening-count", path, [{"sku": "TEE"}])
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_template_names_the_nearest(tmp_path: Path) -> None:
    """A mistyped template is answered with the one that was probably meant."""
    with pytest.raises(UsageError, match="Did you mean 'suppliers'"):
        write_template("supplier", tmp_path / "x.xlsx")


def test_a_template_in_a_missing_folder_is_told_in_words(tmp_path: Path) -> None:
    """A place that cannot be written is a problem, not a traceback."""
    with pytest.raises(UsageError, match="cannot be written"):
        write_template("items", tmp_path / "none" / "x.xlsx")


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "plain", "0012"])
def test_text_stays_text_in_a_workbook(text: str, tmp_path: Path) -> None:
    """What begins like a formula comes back as the text it was."""
    workbook = Workbook()
    put_text(workbook.active["A1"], text)
    workbook.save(tmp_path / "x.xlsx")
    cell = openpyxl.load_workbook(tmp_path / "x.xlsx").active["A1"]
    assert (cell.value, cell.data_type) == (text, "s")


def test_control_characters_are_left_out_of_a_workbook() -> None:
    """Characters no workbook can hold do not stop the writing."""
    cell = Workbook().active["A1"]
    put_text(cell, "a\x00b\x1fc")
    assert cell.value == "abc"


def filled_in(path: Path, head: list[str], rows: list[list[object]]) -> Path:
    """Return the shipment workbook at ``path``, filled in as a maker would."""
    write_template("shipment", path)
    workbook = openpyxl.load_workbook(path)
    sheet = workbook.worksheets[0]
    for row, value in enumerate(head, start=1):
        sheet.cell(row, 2).value = value
    for row, values in enumerate(rows, start=SHIPMENT_HEADING_ROW + 1):
        for column, value in enumerate(values, start=1):
            sheet.cell(row, column).value = value
    workbook.save(path)
    return path


def test_a_filled_in_shipment_is_read_by_its_carried_profile(tmp_path: Path) -> None:
    """The fill-in sheet and its profile belong together, head, lines and charges."""
    path = filled_in(
        tmp_path / "mine.xlsx",
        ["Fernbank Blanks", "FB-204", "2026-01-12", "USD"],
        [
            [
                "TEE-BLK-M",
                2,
                "case",
                410.40,
                1,
                2,
                "normal",
                None,
                "resale",
                "freight 182.40 by weight",
                "wet carton",
            ],
            [
                "VINYL-RED",
                1,
                "roll",
                None,
                None,
                None,
                None,
                "2027-06-30",
                "yes",
                "duty 14.9% by value",
                None,
            ],
            [None, None, None, None, None, None, None, None, None, "discount 20", None],
        ],
    )
    draft = read_shipment(read_file(path), load_profile(find_profile("fill-in-shipment")))
    first, second = draft.lines
    assert (draft.party, draft.reference, str(draft.invoice_date), draft.currency) == (
        "Fernbank Blanks",
        "FB-204",
        "2026-01-12",
        "USD",
    )
    assert (first.sku, first.quantity, first.unit, str(first.net), first.missing_as) == (
        "TEE-BLK-M",
        2,
        "case",
        "2052/5",
        "normal",
    )
    assert (second.provisional, str(second.expires_on), second.tax_paid) == (True, "2027-06-30", "yes")
    assert [str(charge) for charge in draft.charges] == [
        "freight 182.4 by weight",
        "duty 14.9% by value",
        "discount 20 by value",
    ]


def test_a_fill_in_sheet_left_blank_has_no_lines(tmp_path: Path) -> None:
    """A blank sheet is told apart from a shipment of nothing."""
    path = filled_in(tmp_path / "mine.xlsx", ["", "", "", "USD"], [])
    with pytest.raises(Exception, match="there are no lines"):
        read_shipment(read_file(path), load_profile(find_profile("fill-in-shipment")))
