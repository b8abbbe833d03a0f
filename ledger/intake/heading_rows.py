"""Headings that do not stand as one text in one row: written over two rows, or told by their column."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import replace

from ledger.intake.profile import Profile
from ledger.intake.records import MAX_HEADER_DEPTH, normal_heading
from ledger.intake.table import Cell, Sheet, column_place

_PLACE = re.compile(r"column\s+([A-Za-z]{1,3})", re.ASCII)


def placed_at(headings: Sequence[str]) -> int | None:
    """Return the column's place where a profile names it as 'column F', None where it names headings."""
    match = _PLACE.fullmatch(headings[0].strip()) if len(headings) == 1 else None
    return None if match is None else column_place(match[1])


def heading_at(sheet: Sheet, row_index: int, place: int) -> str:
    """Return the text in one column of the header row, empty where the row is shorter."""
    row = sheet.rows[row_index]
    return row[place].text if place < len(row) else ""


def joined(upper: str, lower: str) -> str:
    """Return one heading of the two rows it is written over.

    >>> joined("Unit", "price"), joined("", "Colour")
    ('Unit price', 'Colour')
    """
    return " ".join(part for part in (upper.strip(), lower.strip()) if part)


def with_joined_headings(sheet: Sheet, profile: Profile) -> Sheet:
    """Return the sheet with two rows of headings as one, where the profile says that there are two.

    The lower row gets the joined texts. A column's own lower or upper text stays where that is the
    heading the profile reads: a title such as 'Sizes' often stands above several columns.
    """
    if profile.heading_rows == 1:
        return sheet
    headings = (*profile.sizes_across, *(each for names in profile.columns.values() for each in names))
    accepted = {normal_heading(each) for each in headings}
    best: tuple[int, int, tuple[Cell, ...]] = (0, 0, ())
    for index in range(1, min(len(sheet.rows), MAX_HEADER_DEPTH)):
        if profile.header_row is not None and sheet.row_numbers[index] != profile.header_row:
            continue
        row = joined_row(sheet.rows[index - 1], sheet.rows[index], accepted)
        found = len({normal_heading(cell.text) for cell in row if not cell.is_empty} & accepted)
        if found > best[0]:
            best = (found, index, row)
    _, index, row = best
    if not row:
        return sheet
    return replace(sheet, rows=(*sheet.rows[:index], row, *sheet.rows[index + 1 :]))


def joined_row(upper: Sequence[Cell], lower: Sequence[Cell], accepted: Collection[str]) -> tuple[Cell, ...]:
    """Return the cells of two rows as one row; ``accepted`` are the normalised headings to look out for."""
    cells = []
    for place in range(max(len(upper), len(lower))):
        above = upper[place] if place < len(upper) else None
        below = lower[place] if place < len(lower) else None
        texts = ("" if above is None else above.text, "" if below is None else below.text)
        choices = (joined(*texts), texts[1], texts[0])
        text = next((each for each in choices if each and normal_heading(each) in accepted), choices[0])
        where = below or above
        cells.append(Cell(text or None, "" if where is None else where.where))
    return tuple(cells)
