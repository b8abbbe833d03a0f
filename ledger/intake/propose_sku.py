"""Deciding what tells one item of a file from another, and so what its SKU is made of."""

from __future__ import annotations

from ledger.intake.proposal import SURE, Answers, Decision, Question
from ledger.intake.propose_columns import Columns
from ledger.intake.propose_variant import variant_parts

_CERTAIN = 97
"""From this confidence a column of codes stays one: the book knows what stands in it."""


def decide_sku(columns: Columns, told: Answers) -> tuple[str, Decision, list[Question]]:
    """Return the pattern that makes a SKU of a row, why, and what is missing for it."""
    if told.sku_pattern:
        return told.sku_pattern, Decision("SKU", told.sku_pattern, SURE, "as you said"), []
    if columns.place_of("sku") is not None:
        return "", Decision("SKU", "as it stands", 97, "the column holds SKUs of the book"), []
    _code_as_style(columns)
    _description_as_code(columns)
    parts, confidence, why = _parts(columns)
    if parts:
        pattern = "-".join(f"{{{name}}}" for name in parts)
        return pattern, Decision("SKU", pattern, confidence, why), []
    letters = [each.letters for each in columns.taken.values() if not each.meaning][:4] or ["A"]
    question = Question("item", "No column names the item.", tuple(f"{letter}=code" for letter in letters))
    return "", Decision("SKU", "not known", 0, "no column names the item"), [question]


def _parts(columns: Columns) -> tuple[list[str], int, str]:
    """Return the columns a SKU is made of, with the confidence and the reason; none where nothing tells."""
    across = bool(columns.across())
    own = variant_parts(columns)
    there = [
        name for name in ("style", "colour", "size") if name in own or columns.place_of(name) is not None
    ]
    if across:
        there = [*there, "size"]
    code = columns.place_of("code")
    if "style" in there and len(there) > 1:
        return there, 85, "these columns tell one item from another"
    if code is not None:
        others = [name for name in there if name != "style"] if across or _repeats(columns, code) else []
        return ["code", *others], 85, "looked up by the supplier's own name of it"
    return there, 60, "nothing else names the item"


def _description_as_code(columns: Columns) -> None:
    """Take the description for the supplier's name of an item where nothing else names it."""
    description = columns.place_of("description")
    if description is None or any(columns.place_of(name) is not None for name in ("code", "style")):
        return
    why = f"{columns.taken[description].why}; nothing else names the item: it is the supplier's name of it"
    columns.take(description, "code", 80, why)


def _repeats(columns: Columns, place: int) -> bool:
    """Return whether the same value stands in several lines, or once for the lines below that have none."""
    facts = columns.facts[place]
    others = [columns.place_of(name) for name in ("colour", "size", "variant")]
    lines = max((columns.facts[other].filled for other in others if other is not None), default=0)
    return facts.distinct < max(facts.filled, lines)


def _code_as_style(columns: Columns) -> None:
    """Take a code that stands for several sizes or colours for the style it is."""
    code = columns.place_of("code")
    if code is None or columns.place_of("style") is not None or columns.taken[code].confidence >= _CERTAIN:
        return
    has_parts = columns.place_of("colour") is not None or columns.place_of("size") is not None
    has_parts = has_parts or columns.place_of("variant") is not None
    if columns.across() or (has_parts and _repeats(columns, code)):
        columns.take(code, "style", 85, f"{columns.taken[code].why}; one stands for several colours or sizes")
