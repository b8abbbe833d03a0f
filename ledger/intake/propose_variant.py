"""A column that holds colour and size together, as web shops print what was chosen."""

from __future__ import annotations

from ledger.errors import ValueProblem
from ledger.intake.nearest import quoted
from ledger.intake.proposal import SURE, Question
from ledger.intake.propose_columns import Columns
from ledger.intake.variant_words import Variant, split_variant


def decide_variant(columns: Columns) -> None:
    """Check a column that is headed like colour and size in one: its words must be these, or it is asked.

    Sizes alone are the size. What cannot be told apart is left open, never dropped.
    """
    place = columns.place_of("variant")
    if place is None or columns.taken[place].confidence == SURE:
        return
    decided = columns.taken[place]
    variants = _variants(columns, place)
    if columns.across() or None in variants:
        letters = decided.letters
        text = (
            f"Column {letters} ({quoted(decided.heading)}) holds {quoted(decided.example)}: "
            "is that a colour and a size in one, or what is it?"
        )
        meanings = ("colour", "size", "variant", "note")
        answers = (*(f"{letters}={each}" for each in meanings), f"ignore {letters}")
        columns.questions.append(Question(f"column {letters}", text, answers))
        columns.take(place, "", 0, "a colour, a size or both: asked below")
        columns.settled.add(place)
        return
    there = [each for each in variants if each is not None]
    if there and columns.place_of("size") is None and not any(each.colour for each in there):
        columns.take(place, "size", 85, f"{decided.why}, and the values are sizes")
    else:
        columns.take(place, "variant", decided.confidence, f"{decided.why}: a colour and a size in one")


def variant_parts(columns: Columns) -> list[str]:
    """Return which of colour and size a column of both gives to the lines; a person's word is taken for both."""
    place = columns.place_of("variant")
    if place is None:
        return []
    there = [each for each in _variants(columns, place) if each is not None]
    return [name for name in ("colour", "size") if not there or any(getattr(each, name) for each in there)]


def _variants(columns: Columns, place: int) -> list[Variant | None]:
    """Return what every filled cell of a column names, None where it is no colour and size."""
    found: list[Variant | None] = []
    for cell in columns.table.column(place, columns.table.sample):
        if cell is None or cell.is_empty:
            continue
        try:
            found.append(split_variant(cell.text))
        except ValueProblem:
            found.append(None)
    return found
