"""Corrections of a profile that is there already: what a person says of a file goes into it."""

from __future__ import annotations

from dataclasses import replace
from typing import cast

from ledger.errors import InputErrors, Problem
from ledger.intake.head_labels import label_key
from ledger.intake.heading_rows import heading_at, with_joined_headings
from ledger.intake.nearest import fold, quoted
from ledger.intake.profile import Profile, profile_of_text
from ledger.intake.proposal import IGNORED, Answers
from ledger.intake.records import normal_heading
from ledger.intake.shipment_frame import choose_sheet, find_columns, head_cell
from ledger.intake.table import SourceFile, column_letters, column_place
from ledger.intake.values import DateOrder
from ledger.intake.write_profile import profile_text

_SIZE = "size "


def corrected_profile(profile: Profile, answers: Answers, file: SourceFile) -> Profile:
    """Return the profile with what a person said of a file that it reads.

    Arguments:
        profile: how the layout is read so far.
        answers: what was said; letters of columns are those of the file.
        file: the file, whose headings the letters lead to.

    Raises InputErrors where a column, label or cell is not in the file, or where the profile could no longer
    be read: without a quantity, say.
    """
    changed = replace(
        profile,
        currency=answers.currency or profile.currency,
        sheet=answers.sheet or profile.sheet,
        header_row=profile.header_row if answers.header_row is None else answers.header_row,
        decimal_comma=profile.decimal_comma if answers.decimal_comma is None else answers.decimal_comma,
        date_order=cast("DateOrder", answers.date_order or profile.date_order),
        price_per=answers.price_per or profile.price_per,
        losses_in=answers.losses_in or profile.losses_in,
        default_unit=answers.default_unit or profile.default_unit,
        units_by_item=_over(profile.units_by_item, answers.units),
        packs=_over(profile.packs, answers.packs),
        sku_pattern=answers.sku_pattern or profile.sku_pattern,
        head={**profile.head, **answers.head},
        foot=_foot(profile, answers),
    )
    if answers.columns:
        changed = _with_columns(changed, answers, file)
    _check_head(changed, answers, file)
    _check_foot(answers, file)
    source = profile.source or "as corrected"
    return replace(profile_of_text(profile_text(changed), source), source=profile.source)


def _over(own: object, said: object) -> dict[str, str]:
    """Return one table of words over another, the same word of both once."""
    before, after = cast("dict[str, str]", own), cast("dict[str, str]", said)
    keys = {fold(key) for key in after}
    return {**{key: value for key, value in before.items() if fold(key) not in keys}, **after}


def _foot(profile: Profile, answers: Answers) -> dict[str, str]:
    keys = {label_key(label) for label in answers.foot}
    kept = {label: meaning for label, meaning in profile.foot.items() if label_key(label) not in keys}
    return {**kept, **answers.foot}


def _with_columns(profile: Profile, answers: Answers, file: SourceFile) -> Profile:
    """Return the profile with columns told by their letters in this file."""
    columns = dict(profile.columns)
    sizes, left = list(profile.sizes_across), list(profile.not_read)
    headings = _headings(profile, file)
    for letters, meaning in answers.columns.items():
        place = column_place(letters)
        if place >= len(headings):
            what = f"the table has no column {letters}."
            last = column_letters(max(0, len(headings) - 1))
            raise InputErrors(
                "what you said of the file",
                [Problem(f"column {letters}", what, f"Its columns are A to {last}.")],
            )
        heading = headings[place].strip()
        is_its_own = (
            heading and [normal_heading(each) for each in headings].count(normal_heading(heading)) == 1
        )
        name = heading if is_its_own else f"column {letters}"
        columns = _without(columns, (name, f"column {letters}"))
        sizes = [size for size in sizes if normal_heading(size) != normal_heading(name)]
        left = [each for each in left if normal_heading(each) != normal_heading(name)]
        if meaning == IGNORED:
            left.append(name)
        elif meaning.startswith(_SIZE):
            sizes.append(meaning.removeprefix(_SIZE))
        else:
            columns[meaning] = (name,)
    return replace(profile, columns=columns, sizes_across=tuple(sizes), not_read=tuple(left))


def _without(columns: dict[str, tuple[str, ...]], names: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    """Return the columns without these headings; what has no other heading is gone."""
    gone = {normal_heading(name) for name in names}
    kept = {
        name: tuple(each for each in headings if normal_heading(each) not in gone)
        for name, headings in columns.items()
    }
    return {name: headings for name, headings in kept.items() if headings}


def _headings(profile: Profile, file: SourceFile) -> list[str]:
    """Return the texts of the heading row that the profile finds in the file, empty columns behind it included."""
    sheet = choose_sheet(file, profile)
    index = find_columns(sheet, profile).row_index
    joined = with_joined_headings(sheet, profile)
    width = max(len(row) for row in joined.rows[index:])
    return [heading_at(joined, index, place) for place in range(width)]


def _check_head(profile: Profile, answers: Answers, file: SourceFile) -> None:
    """Refuse a label or cell of the head that is not there."""
    if not answers.head:
        return
    sheet = choose_sheet(file, profile)
    above = find_columns(sheet, profile).row_index
    problems = [
        Problem(
            f"{name} = {words}",
            f"{quoted(words)} is neither a label with a value nor a filled cell above the lines.",
            f"Write the label as it stands there, or like {name} = cell B2.",
        )
        for name, words in answers.head.items()
        if head_cell(sheet, profile, name, above) is None
    ]
    if problems:
        raise InputErrors("what you said of the file", problems)


def _check_foot(answers: Answers, file: SourceFile) -> None:
    """Refuse a label that stands nowhere in the file."""
    if not answers.foot:
        return
    texts = {label_key(cell.text) for sheet in file.sheets for row in sheet.rows for cell in row}
    problems = [
        Problem(
            f"label {quoted(label)}", "no cell of the file holds this label.", "Write it as it stands there."
        )
        for label in answers.foot
        if label_key(label) not in texts
    ]
    if problems:
        raise InputErrors("what you said of the file", problems)
