"""What a row's quantity counts: a unit, a pack of the file's or of the item's own; asked where nobody knows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.catalogue.units import find_unit
from ledger.exact.numbers import show_fraction
from ledger.intake.heading_words import likeness
from ledger.intake.nearest import fold, quoted
from ledger.intake.pack_content import stated_content
from ledger.intake.proposal import Answers, CatalogueWords, KnownItem, Question
from ledger.intake.propose_columns import Columns
from ledger.intake.shipment_codes import PIECE_UNITS
from ledger.intake.table import Cell

MOST_ASKED = 8
"""How many units are asked about at once: the rest follows with the next look."""
_MOST_PACKS = 3
_NAMES = ("sku", "code", "style", "description")


@dataclass(frozen=True)
class _Row:
    """One line as far as its unit goes: the item where the book knows it, and the word in the unit's column."""

    where: str
    names: tuple[str, ...]
    item: KnownItem | None
    word: str
    quantity: str
    content: str = ""


def unit_questions(
    columns: Columns, told: Answers, known: CatalogueWords, *, default_unit: str
) -> list[Question]:
    """Return a question for every unit whose content neither the file nor the book tells.

    Arguments:
        columns: what the columns were taken as.
        told: what a person said.
        known: the book's items with their packs.
        default_unit: what quantities count in rows without a unit; '' where nothing says.
    """
    questions: dict[str, Question] = {}
    for row in _rows(columns, known):
        # What one holds stands in the row itself.
        if row.content or (_told_unit(row, told) and (not row.word or _says_nothing(row))):
            continue
        word = row.word or default_unit
        question = _of_word(row, word, told, known, columns) if word else _unsaid(row)
        if question is not None:
            questions.setdefault(question.subject, question)
    return list(questions.values())[:MOST_ASKED]


def row_contents(columns: Columns) -> list[Fraction | None]:
    """Return for every sampled line how many base units its unit holds, None where that is not known."""
    told = columns.answers
    packs = {fold(word): content for word, content in told.packs.items()}
    return [
        _content(row, packs.get(fold(row.word)) or row.word or _told_unit(row, told) or told.default_unit)
        for row in _rows(columns, columns.words)
    ]


def counts_packs(columns: Columns, default_unit: str) -> list[bool]:
    """Return for every sampled line whether its quantity counts something of several pieces, or of unknown many."""
    told = columns.answers
    packs = {fold(word): content for word, content in told.packs.items()}
    found = []
    for row in _rows(columns, columns.words):
        word = packs.get(fold(row.word)) or row.word or _told_unit(row, told) or default_unit
        is_counted = row.item is None or row.item.base_unit in PIECE_UNITS
        found.append(bool(word) and is_counted and _content(row, word) != 1)
    pieces, quantity = columns.place_of("pieces"), columns.place_of("quantity")
    if pieces is None or quantity is None:
        return found
    pairs = zip(columns.numbers(pieces), columns.numbers(quantity), found, strict=True)
    return [is_pack or (None not in (a, b) and a != b) for a, b, is_pack in pairs]


def _told_unit(row: _Row, told: Answers) -> str:
    by_item = {fold(name): unit for name, unit in told.units.items()}
    return next((by_item[fold(name)] for name in row.names if fold(name) in by_item), "")


def _content(row: _Row, word: str) -> Fraction | None:
    """Return how many base units a word or a content such as '72 each' is, None where it is not known."""
    if word and row.item is not None and (content := row.item.content(word)) is not None:
        return content
    unit = find_unit(word)
    if unit is not None:
        return unit.factor
    stated = stated_content(word)
    return None if stated is None else stated.factor


def _rows(columns: Columns, known: CatalogueWords) -> list[_Row]:
    table = columns.table
    places = [place for name in _NAMES if (place := columns.place_of(name)) is not None]
    unit, quantity = columns.place_of("unit"), columns.place_of("quantity")
    rows = []
    for index in table.sample:
        cells = table.sheet.rows[index]
        names = tuple(text for place in places if (text := _text(cells, place)))
        item = next((known.items[fold(name)] for name in names if fold(name) in known.items), None)
        where = table.sheet.row_place(table.sheet.row_numbers[index])
        names = names if item is None else (*names, item.sku)
        counted = (_text(cells, unit), _text(cells, quantity), _text(cells, columns.place_of("content")))
        rows.append(_Row(where, names, item, *counted))
    return rows


def _text(cells: Sequence[Cell], place: int | None) -> str:
    return cells[place].text if place is not None and place < len(cells) else ""


def _says_nothing(row: _Row) -> bool:
    """Return whether a row's unit is 'each' or the like, of an item that is measured, not counted."""
    unit = find_unit(row.word)
    return (
        unit is not None and unit.name == "each" and row.item is not None and row.item.content("each") is None
    )


def _of_word(row: _Row, word: str, told: Answers, known: CatalogueWords, columns: Columns) -> Question | None:
    """Return the question about a unit word, None where the file, a person or the book tells."""
    is_told = fold(word) in {fold(each) for each in told.packs} or (
        word[:1].isdigit() and word == told.default_unit
    )
    if is_told or columns.place_of("pieces") is not None:
        return None
    if row.item is None:
        if find_unit(word) is not None or _names_a_pack(word, known):
            return None
        text = (
            f"How much does one {quoted(word)} hold? Write its content, as in: pack {word} = HOW-MANY each."
        )
        return Question(f"unit {word}", text)
    if row.item.content(word) is not None:
        return None
    if find_unit(word) is not None:
        # Litres of what is kept in pieces: what is wrong is told of the row when it is read.
        return _unsaid(row) if _says_nothing(row) else None
    return _unknown_pack(row, row.item, word)


def _unknown_pack(row: _Row, item: KnownItem, word: str) -> Question:
    names = sorted((pack.name for pack in item.packs), key=lambda name: -likeness(fold(word), fold(name)))
    contents = [*names[:_MOST_PACKS], *(["each"] if item.base_unit == "each" else [])]
    content = stated_content(word)
    if content is not None and content.base_unit == item.base_unit:
        contents = [word, *names[:_MOST_PACKS]]
    another = f" Another content: pack {word} = HOW-MANY {item.base_unit}."
    text = f"{row.where}: how much does one {quoted(word)} of {item.sku} hold?{_packs(item)}{another}"
    return Question(f"unit {word}", text, tuple(f"pack {word} = {content}" for content in contents))


def _unsaid(row: _Row) -> Question | None:
    """Return the question what was counted, where an item is measured and the row's unit does not tell."""
    item = row.item
    if item is None or item.base_unit in PIECE_UNITS or not row.quantity:
        return None
    name = row.names[0]
    key = f'"{name}"' if "=" in name else name
    # Its own packs alone: a content somebody else's item has would be wrong, and so is one millilitre.
    words = [pack.name for pack in item.packs[:_MOST_PACKS]]
    said = f"{quoted(row.word)} does not say" if row.word else "no unit says"
    text = f"{row.where}: {item.sku} is kept in {item.base_unit}, and {said} what {row.quantity} of it are."
    answers = tuple(f"unit of {key} = {word}" for word in words)
    another = "" if answers else f" Write its content, as in: unit of {key} = HOW-MANY {item.base_unit}."
    return Question(f"unit of {name}", f"{text}{_packs(item)}{another}", answers)


def _packs(item: KnownItem) -> str:
    names = ", ".join(
        f"{pack.name} ({show_fraction(pack.factor, 2)} {item.base_unit})" for pack in item.packs
    )
    return f" Its packs: {names}." if names else ""


def _names_a_pack(word: str, known: CatalogueWords) -> bool:
    """Return whether any item of the book has a pack of this name, in singular or plural."""
    folded = fold(word)
    return any(key in known.packs for key in (folded, folded.removesuffix("s"), folded.removesuffix("es")))
