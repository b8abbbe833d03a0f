"""Questions about columns that would be left out, and about a price that no column surely is."""

from __future__ import annotations

import re

from ledger.intake.heading_words import heading_scores, may_be_price, why_not_read
from ledger.intake.nearest import fold, quoted
from ledger.intake.proposal import SURE, Question
from ledger.intake.propose_columns import Columns
from ledger.intake.unread import (
    STILL_TO_COME,
    Unread,
    holds_numbers,
    is_of_words,
    item_question,
    must_be_asked,
    question_about,
)

_OF_THE_ITEM = (
    "sku",
    "code",
    "style",
    "colour",
    "size",
    "variant",
    "description",
    "customs_class",
    "note",
    "fibre",
    "origin",
)
_NAMES = ("code", "style", "colour", "size", "variant", "description")
_SENT = re.compile(r"ship|deliver|suppl|sent|patch|invoiced|geliefert", re.IGNORECASE)
_AMOUNTS = ("unit_price", "line_total")


def unread_questions(columns: Columns) -> list[Question]:
    """Return what must be asked about columns that no decision reads: none is dropped with money or pieces in it."""
    left = [
        _unread(columns, place) for place, each in sorted(columns.taken.items()) if _is_left(columns, place)
    ]
    apart = _tells_lines_apart(columns, left)
    left = [each for each in left if each not in apart]
    items = [*map(item_question, apart)]
    return [*items, *_of_numbers(columns, left)]


def _tells_lines_apart(columns: Columns, left: list[Unread]) -> list[Unread]:
    """Return the columns of words that differ in lines which would otherwise fall into one item."""
    named = [place for name in _NAMES if (place := columns.place_of(name)) is not None]
    if columns.place_of("sku") is not None or not named:
        return []
    return [each for each in left if is_of_words(each) and _differs(columns, each.place, named)]


def _differs(columns: Columns, place: int, named: list[int]) -> bool:
    seen: dict[tuple[str, ...], str] = {}
    for index in _rows(columns):
        row = columns.table.sheet.rows[index]
        name = tuple(fold(row[at].text) if at < len(row) else "" for at in named)
        own = fold(row[place].text) if place < len(row) else ""
        if own and any(name) and seen.setdefault(name, own) != own:
            return True
    return False


def _of_numbers(columns: Columns, left: list[Unread]) -> list[Question]:
    asked = {question.subject for question in columns.questions}
    if all(columns.place_of(name) is None for name in _AMOUNTS) and not asked & {"unit price", "line total"}:
        candidates = [each for each in left if _may_be_money(each)]
        if candidates:
            others = [each for each in left if each not in candidates and must_be_asked(each)]
            return [_price_question(candidates), *map(question_about, others)]
    return [question_about(each) for each in left if must_be_asked(each) and not _is_known(columns, each)]


def left_out(columns: Columns) -> tuple[str, ...]:
    """Return the headings, or places, of the columns that a proposed profile leaves out though they hold something."""
    headings = [each.strip().casefold() for each in columns.table.headings]
    names = []
    for place, each in sorted(columns.taken.items()):
        column = _unread(columns, place)
        is_nothing = bool(column.numbers) and not any(column.numbers) and column.filled == len(column.numbers)
        if each.meaning or not column.filled or (is_nothing and each.confidence < SURE):
            continue
        is_its_own = column.heading and headings.count(column.heading.casefold()) == 1
        names.append(column.heading if is_its_own else f"column {column.letters}")
    return tuple(names)


def _is_left(columns: Columns, place: int) -> bool:
    """Return whether a column is not read, and neither a person nor the sums have settled that."""
    each = columns.taken[place]
    return not each.meaning and each.confidence < SURE and place not in columns.settled


def _unread(columns: Columns, place: int) -> Unread:
    cells = [cell for cell in columns.table.column(place, _rows(columns)) if cell is not None]
    return Unread(place, columns.table.headings[place].strip(), cells, columns.decimal_comma)


def _rows(columns: Columns) -> tuple[int, ...]:
    return columns.table.sample


def _may_be_money(column: Unread) -> bool:
    """Return whether a column of numbers may be a price or an amount, whatever it is called."""
    if not holds_numbers(column):
        return False
    own = max(heading_scores(column.heading).items(), key=lambda each: each[1], default=("", 0))[0]
    return may_be_price(column.heading) or (must_be_asked(column) and own not in ("missing", "damaged"))


def _counts_what_came(columns: Columns) -> bool:
    """Return whether the quantity is headed as what was sent, so that what is still to come is not in it."""
    place = columns.place_of("quantity")
    return place is not None and _SENT.search(columns.table.headings[place]) is not None


def _price_question(candidates: list[Unread]) -> Question:
    names = ", ".join(f"{each.letters} ({quoted(each.heading)})" for each in candidates)
    text = f"No column is surely the price or the amount of a line. Which one is it: {names}?"
    answers = [
        f"{each.letters}={meaning}" for each in candidates[:3] for meaning in ("unit price", "line total")
    ]
    letters = ", ".join(each.letters for each in candidates)
    return Question("unit price", text, (*answers, f"ignore {letters}"))


def _is_known(columns: Columns, column: Unread) -> bool:
    """Return whether a column tells nothing new: the same numbers as one that is read, or a second price."""
    own = max(heading_scores(column.heading).items(), key=lambda each: each[1], default=("", 0))[0]
    place = columns.place_of(own) if own else None
    if own in _OF_THE_ITEM or (place is not None and columns.taken[place].confidence == SURE):
        return True
    if why_not_read(column.heading) == STILL_TO_COME and _counts_what_came(columns):
        return True
    numbers = columns.numbers(column.place)
    same = any(each.meaning and columns.numbers(place) == numbers for place, each in columns.taken.items())
    is_list_price = may_be_price(column.heading) and columns.product is not None
    return (same and any(numbers)) or is_list_price
