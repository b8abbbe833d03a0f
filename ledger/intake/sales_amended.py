"""A saved sales profile with what somebody says of a new export of its channel: new columns, new words."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ledger.intake.proposal import IGNORED
from ledger.intake.records import MAX_HEADER_DEPTH, normal_heading
from ledger.intake.sales_answers import SalesAnswers
from ledger.intake.sales_profile import (
    IGNORE,
    MORE_COLUMNS,
    SalesProfile,
    load_sales_profile,
    read_sales_profile,
)
from ledger.intake.sales_toml import toml_text
from ledger.intake.table import Cell, SourceFile, column_letters, column_place, refusal


def amended_profile(path: Path, file: SourceFile, said: SalesAnswers) -> tuple[SalesProfile, str]:
    """Return a saved profile with what was said, and its text to be kept; comments at its top stay.

    ``file`` is the export whose columns the answers name by their letters.
    Raises InputErrors where the profile cannot be read, a column is not there, or what was said does not fit.
    """
    profile = load_sales_profile(path)
    text = path.read_text(encoding="utf-8-sig")
    tables = _with_answers(tomllib.loads(text), _header(file, profile), said)
    head = []
    for line in text.splitlines():
        if not line.startswith("#"):
            break
        head.append(f"{line}\n")
    return read_sales_profile(tables, path.name), "".join(head) + toml_text(tables)


def _header(file: SourceFile, profile: SalesProfile) -> tuple[Cell, ...]:
    """Return the row with the most of the profile's headings."""
    wanted = {normal_heading(text) for texts in profile.columns.values() for text in texts}
    rows = [row for sheet in file.sheets for row in sheet.rows[:MAX_HEADER_DEPTH]]
    return max(rows, key=lambda row: len({normal_heading(cell.text) for cell in row} & wanted), default=())


def _with_answers(tables: Mapping[str, Any], header: tuple[Cell, ...], said: SalesAnswers) -> dict[str, Any]:
    made: dict[str, Any] = copy.deepcopy(dict(tables))
    columns = made.setdefault("columns", {})
    there = {normal_heading(cell.text) for cell in header if not cell.is_empty}
    for letters, meaning in said.columns.items():
        heading = _heading(header, letters, meaning)
        for name in [*columns]:
            before = _texts(columns[name])
            left = [text for text in before if normal_heading(text) != normal_heading(heading)]
            if left:
                columns[name] = left
            elif before:
                del columns[name]
        if meaning == IGNORED:
            columns[IGNORE] = [*_texts(columns.get(IGNORE, [])), heading]
        else:
            before = _texts(columns.get(meaning, []))
            if meaning not in MORE_COLUMNS:
                # The name that an earlier export used is still known; another column of this one is not meant.
                before = [text for text in before if normal_heading(text) not in there]
            columns[meaning] = [*before, heading]
    for (table, key), value in said.settings.items():
        made.setdefault(table, {})[key] = value
    if said.currency:
        made["currency"] = said.currency
    if said.types:
        made.setdefault("types", {}).update(said.types)
    _with_habits(made, said)
    return made


def _with_habits(made: dict[str, Any], said: SalesAnswers) -> None:
    amounts = made.get("amounts", {})
    minus = [*dict.fromkeys((*amounts.get("minus", []), *said.minus))]
    per_order = [name for name in amounts.get("per_order", []) if said.per_order.get(name, True)]
    per_order += [name for name, once in said.per_order.items() if once and name not in per_order]
    per_row = [name for name in amounts.get("per_row", []) if not said.per_order.get(name, False)]
    per_row += [name for name, once in said.per_order.items() if not once and name not in per_row]
    for key, value in (("minus", minus), ("per_order", per_order), ("per_row", per_row)):
        if value or key in amounts:
            made.setdefault("amounts", {})[key] = value
    if said.set_aside:
        words = made.setdefault("set_aside", {})
        words["words"] = [*dict.fromkeys((*words.get("words", []), *said.set_aside))]


def _heading(header: tuple[Cell, ...], letters: str, meaning: str) -> str:
    place = column_place(letters)
    text = header[place].text if place < len(header) else ""
    if text or meaning == IGNORED:
        return text or f"column {letters}"
    there = ", ".join(
        f"{column_letters(at)} {cell.text}" for at, cell in enumerate(header) if not cell.is_empty
    )
    what = f"the file has no headed column {letters}. It has: {there}."
    raise refusal("what you said of the file", what, "Name the column by its letters.")


def _texts(value: Any) -> list[str]:
    """Return the headings that a profile gives for a column: one or several."""
    return [value] if isinstance(value, str) else list(value)
