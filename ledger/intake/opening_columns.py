"""The opening count sheet: its columns, and what its 'How to' sheet says."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from ledger.catalogue.item_sheet import ITEM_COLUMNS, read_item_header
from ledger.intake.nearest import fold

PAID, GUESS = "paid", "guess"
COST_IS = (PAID, GUESS)
"""What a cost is: read off a bill, or guessed."""

_OF_NEW_ITEMS = ("name", "kind", "unit", "tax_class", "style", "colour", "size", "ladder", "packs")

OPENING_COLUMNS: Mapping[str, str] = MappingProxyType(
    {
        "sku": "The item's code. One that the book does not know comes in as a new item: say its name and kind.",
        **{name: ITEM_COLUMNS[name] for name in _OF_NEW_ITEMS},
        "quantity": "How many there are. Empty or 0: there is none, and the row is left out.",
        "counted_in": "What the quantity is counted in: each, dozen, mL, or a pack of the item like case. "
        "Empty: the item's unit.",
        "cost_each": "What one of those cost with its freight, in the book's currency: of a case where cases "
        "are counted.",
        "cost_in_all": "What the whole row cost, instead of cost_each. 'free' where nothing was paid.",
        "cost_is": "paid (a bill says so) or guess. Empty: paid.",
        "expires_on": "Best before, like 2026-12-31.",
        "note": "Anything else: where the bill is, how it was guessed.",
    }
)
"""The columns of the opening count in order, each with what the maker is told about it."""

EXPANDING = frozenset({"sizes", "colours", "sku_pattern"})
"""Columns of the items sheet that stand for many items at once: here each item has its own quantity."""

ALL_COLUMNS = (
    *OPENING_COLUMNS,
    *(name for name in ITEM_COLUMNS if name not in {*OPENING_COLUMNS, *EXPANDING}),
)
"""What the sheet may have: beside its own columns the others of the items sheet, for new items."""

ITEM_CELLS = tuple(name for name in ALL_COLUMNS if name in ITEM_COLUMNS and name != "note")
"""The columns that say what a new item is; the note is the row's."""

_MORE_HEADINGS = {
    "qty": "quantity",
    "counted": "quantity",
    "unit cost": "cost_each",
    "cost per unit": "cost_each",
    "total cost": "cost_in_all",
    "cost in total": "cost_in_all",
    "expires": "expires_on",
    "best before": "expires_on",
}
_BY_HEADING = {name.replace("_", " "): name for name in OPENING_COLUMNS} | _MORE_HEADINGS


def read_opening_heading(text: str) -> str | None:
    """Return the opening count's column that a heading names, or None where it names none.

    >>> read_opening_heading("Cost each"), read_opening_heading("Color"), read_opening_heading("sizes")
    ('cost_each', 'colour', None)
    """
    own = _BY_HEADING.get(fold(text.replace("_", " ")))
    if own is not None:
        return own
    of_items = read_item_header(text)
    return None if of_items in EXPANDING else of_items


HOW_TO_OPEN = (
    (
        "Count what the shop has on the first day of its first month: one row is one item, or one purchase of it "
        "where several cost or expire differently. It comes in as opening stock, which is not a purchase."
    ),
    "Look at it first: blankbook count FILE --opening --dry-run. All of it is posted or nothing.",
    "Of items the book has, only the quantity, the cost and what stands behind them are read.",
    (
        "Take costs from bills where you can, freight in. Where you cannot, write your guess and choose guess: it "
        "stays marked in lots, at the close and in the month's pack. A guess is a record, not an answer: ask "
        "whoever prepares your taxes which cost may stand."
    ),
    "Supplies that are deducted when they are bought do not belong here: their cost was deducted already.",
    (
        "To correct it while the month is open, enter the corrected sheet and undo the old one: blankbook count "
        'FILE --opening --instead-of NUMBER, then blankbook undo NUMBER --why "the bill was found".'
    ),
)
