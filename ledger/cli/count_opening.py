"""`blankbook count --opening`: the stock a shop already has, written as a sheet and read back."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import typer

from ledger.book import looking
from ledger.book.catalogue_store import find_items, find_kinds
from ledger.catalogue.items import kind_place, read_kind
from ledger.cli.common import reading, say, typed
from ledger.cli.posting_rows import Answers, post_resolved
from ledger.costing.landed import is_stocked
from ledger.errors import Refused, UsageError
from ledger.exact.words import typed_word, with_article
from ledger.intake.opening_count import read_opening_count
from ledger.intake.templates import write_filled
from ledger.views.opening_count import opening_text

TEMPLATE = "opening-count"


def write_opening_sheet(context: typer.Context, path: Path, kind: str) -> None:
    """Write the sheet with a row for every item that is kept in stock, of one kind or all."""
    with reading(context) as connection:
        wanted = read_kind(kind, find_kinds(connection)).name if kind else None
        items = [
            item
            for item in find_items(connection).values()
            if is_stocked(item.tax_class) and wanted in (None, item.kind)
        ]
    items.sort(key=lambda item: kind_place(item.kind))
    rows = [
        {
            "sku": item.sku,
            "name": item.name,
            "kind": item.kind,
            "unit": item.base_unit,
            "tax_class": item.tax_class,
            "style": item.style,
            "colour": item.colour,
            "size": item.size,
            "ladder": item.ladder,
        }
        for item in items
    ]
    write_filled(TEMPLATE, path, rows)
    there = (
        f"{len(rows)} items, and room for new ones"
        if rows
        else "no items yet: write each with its name and kind"
    )
    say(f"Wrote {path}: {there}. Fill in what is there and what it cost, then:")
    say(f"  {typed(context, f'count {typed_word(str(path))} --opening')}")


def count_opening(context: typer.Context, file: str, instead_of: int | None, answers: Answers) -> None:
    """Read a filled-in sheet, show what it comes to, ask, and post it as one opening.

    ``instead_of`` is the opening that it corrects: entered first and undone then, what was used since
    finds the stock it took.
    """
    if not Path(file).exists():
        raise UsageError(
            f"there is no file {file}. Write a sheet to fill in with: blankbook count --opening --sheet opening.xlsx"
        )
    with reading(context) as connection:
        if instead_of is not None:
            _check_opening(connection, instead_of)
        count = read_opening_count(connection, Path(file), instead_of)
    for remark in count.remarks:
        say(remark)
    is_posted = post_resolved(context, count.entries, count.source, answers, text=opening_text)
    if is_posted and instead_of is not None:
        undo = typed(context, f"undo {instead_of}")
        say(
            f'Both openings stand in the book now. Take the old one back: {undo} --why "entered anew, corrected"'
        )


def _check_opening(connection: sqlite3.Connection, number: int) -> None:
    found = looking.document(connection, number)
    if found.event != "opening" or found.undone_by is not None:
        what = "was undone already" if found.event == "opening" else f"is {with_article(found.event)}"
        raise Refused(f"document {number} {what}: --instead-of names an opening that stands in the book.")
