"""The pack as a folder of csv files: the tables of the workbook, one file each, for other programs.

Money is decimal text at the currency's exponent, quantities are decimal text without trailing
zeros, dates are ISO 8601. Text that a spreadsheet would take for a formula has an apostrophe in
front, which Blankbook takes off again when it reads a file.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

from ledger.errors import UsageError
from ledger.exact.currencies import exponent
from ledger.exact.money import show_money
from ledger.exact.numbers import show_scaled
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import round_fraction
from ledger.views.pack import Form, Kind, Pack, Table, Value
from ledger.views.pack_notes import DRAFT_WORDS

UNIT_PLACES_BEYOND = 4
"""How many decimals a cost per unit has beyond the currency's own."""

DRAFT_FILE = "DRAFT.txt"
"""The file that says that the month of the others is not closed."""

_DANGEROUS = ("=", "+", "-", "@", "\t", "\r")
_PLAIN_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?", re.ASCII)


def safe_text(text: str) -> str:
    """Return text that no spreadsheet takes for a formula: an apostrophe stands before what could be one.

    >>> safe_text("=1+1"), safe_text("-12.50"), safe_text("WREN-BLK-M")
    ("'=1+1", '-12.50', 'WREN-BLK-M')

    Source: common practice, no source.
    """
    if text.startswith(_DANGEROUS) and not _PLAIN_NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def cell_text(value: Value, kind: Kind, currency: str) -> str:
    """Return a cell of a csv file; nothing is empty text."""
    if value is None:
        return ""
    if isinstance(value, Fraction):
        places = exponent(currency) + UNIT_PLACES_BEYOND
        return show_scaled(round_fraction(value * 10**places), places)
    if isinstance(value, str):
        return safe_text(value)
    return show_money(value, currency) if kind is Kind.MONEY else show_quantity(value)


def table_rows(table: Table, currency: str) -> list[list[str]]:
    """Return a table's rows as csv text."""
    kinds = [column.kind for column in table.columns]
    return [
        [cell_text(value, kind, currency) for value, kind in zip(row, kinds, strict=True)]
        for row in table.rows
    ]


def form_rows(form: Form, currency: str) -> list[list[str]]:
    """Return a form's figures as csv text: the name, the label, and a figure under each heading."""
    rows = []
    for row in form.rows:
        if row.figures:
            named = next((figure.name for figure in row.figures if figure is not None), "")
            figures = ["" if each is None else show_money(each.value, currency) for each in row.figures]
            rows.append([named, safe_text(row.label.strip()), *figures])
    return rows


def write_csv_bundle(folder: Path, pack: Pack, *, replace: bool = False) -> tuple[Path, ...]:
    """Write the pack's tables into a folder, one csv file each; return the files.

    The folder of a month that is not closed says so in a file of its own, which goes with the draft.

    The files are written into a folder beside it first, so that it never holds half a pack.

    Args:
        folder: a new folder, or one that is empty.
        pack: as `read_pack` returns it.
        replace: whether csv files of the same names may go; other files are left alone.

    Raises UsageError where the folder holds something and may not, or cannot be written.
    """
    contents = {
        f"{sheet.key}.csv": _csv_bytes(*_heads_and_rows(sheet, pack.currency))
        for sheet in (*pack.sheets, pack.stock_by_month)
    }
    if pack.is_draft:
        said = f"DRAFT: {pack.shop}, {pack.span_words}\r\n{DRAFT_WORDS}\r\n"
        contents[DRAFT_FILE] = said.encode("utf-8-sig")
    refuse_folder(folder, replace=replace)
    draft = folder.with_name(f".{folder.name}.{os.getpid()}.new")
    try:
        draft.mkdir()
        for name, content in contents.items():
            (draft / name).write_bytes(content)
        if folder.exists():
            for name in contents:
                (draft / name).replace(folder / name)
            if not pack.is_draft:
                _remove_draft_note(folder)
        else:
            draft.rename(folder)
    except OSError as error:
        raise UsageError(f"{folder} cannot be written: {error.strerror}. Name another place.") from None
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    return tuple(folder / name for name in contents)


def _remove_draft_note(folder: Path) -> None:
    """Take away what an earlier draft left in the folder; another file of that name stays."""
    note = folder / DRAFT_FILE
    if note.is_file() and DRAFT_WORDS in note.read_text(encoding="utf-8-sig", errors="replace"):
        note.unlink()


def refuse_folder(folder: Path, *, replace: bool) -> None:
    """Raise UsageError where csv files cannot be written into a folder: ask it before long work."""
    if folder.exists() and not folder.is_dir():
        raise UsageError(f"{folder} is a file, not a folder. Name a new folder.")
    if not folder.parent.is_dir():
        raise UsageError(f"the folder {folder.parent} does not exist. Make it first, or name another place.")
    if folder.is_dir() and any(folder.iterdir()) and not replace:
        raise UsageError(
            f"{folder} is not empty and was left as it is. Name a new folder, or add --replace to replace its "
            "csv files."
        )


def _heads_and_rows(sheet: Table | Form, currency: str) -> tuple[list[str], list[list[str]]]:
    if isinstance(sheet, Table):
        heads = [safe_text(column.key) for column in sheet.columns]
        return heads, table_rows(sheet, currency)
    return ["name", "line", *sheet.headings], form_rows(sheet, currency)


def _csv_bytes(heads: Sequence[str], rows: list[list[str]]) -> bytes:
    """Return a csv file in UTF-8 with the mark by which spreadsheets know it."""
    import pandas as pd  # noqa: PLC0415 - slow to import

    frame = pd.DataFrame(rows, columns=list(heads), dtype=str)
    text: str = frame.to_csv(index=False, lineterminator="\r\n")
    return text.encode("utf-8-sig")
