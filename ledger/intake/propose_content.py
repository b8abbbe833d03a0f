"""A column that says what one of a row's unit holds: read as its content, or asked."""

from __future__ import annotations

from ledger.errors import ValueProblem
from ledger.intake.nearest import quoted
from ledger.intake.pack_content import read_content
from ledger.intake.proposal import SURE, Question
from ledger.intake.propose_columns import Columns
from ledger.intake.shipment_codes import PIECE_UNITS

_MOST_ASKED = 4


def decide_content(columns: Columns) -> None:
    """Check a column headed as contents: what is no content is asked; where nothing is one, the column is left."""
    place = columns.place_of("content")
    if place is None:
        return
    cells = columns.table.column(place, columns.table.sample)
    texts = list(dict.fromkeys(cell.text for cell in cells if cell is not None and not cell.is_empty))
    unknown = [text for text in texts if not _is_content(columns, text)]
    if len(unknown) == len(texts) and columns.taken[place].confidence < SURE:
        del columns.taken[place]
        return
    letters = columns.taken[place].letters
    for text in unknown[:_MOST_ASKED]:
        number = text.split()[0]
        word = f'"{text}"' if "=" in text else text
        contents = (f"{number} each", f"{number} sheets") if number.isdecimal() else ()
        asked = f"Column {letters} says that one holds {quoted(text)}. How much is that? Write it like: pack {word} = 100 sheets."
        answers = (*(f"pack {word} = {content}" for content in contents), f"ignore {letters}")
        columns.questions.append(Question(f"content {text}", asked, answers))


def unit_of_content(columns: Columns, default_unit: str) -> list[Question]:
    """Return the question whether quantities count packs or pieces, where only a column of contents stands there.

    ``default_unit`` is what quantities count in rows without a unit; '' where nothing says.
    """
    place = columns.place_of("content")
    if place is None or default_unit or columns.place_of("unit") is not None:
        return []
    for cell in columns.table.column(place, columns.table.sample):
        text = "" if cell is None else cell.text
        if not text or not _is_content(columns, text):
            continue
        content = read_content(text, columns.answers.packs, decimal_comma=columns.decimal_comma)
        if content.base_unit in PIECE_UNITS and content.factor != 1:
            letters = columns.taken[place].letters
            asked = (
                f"Column {letters} says that one holds {quoted(text)}, and no unit says what the quantities are: "
                f"packs of that, or pieces? For pieces, leave the column out."
            )
            return [Question("unit of the contents", asked, ("unit pack", f"ignore {letters}"))]
    return []


def _is_content(columns: Columns, text: str) -> bool:
    try:
        read_content(text, columns.answers.packs, decimal_comma=columns.decimal_comma)
    except ValueProblem:
        return False
    return True
