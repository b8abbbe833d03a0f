"""A label and its value in one cell of an invoice's head: 'Invoice 4711', 'Date: March 21, 2026'."""

from __future__ import annotations

import re
from collections.abc import Iterator

from ledger.errors import ValueProblem
from ledger.exact.currencies import EXPONENTS
from ledger.intake.nearest import fold
from ledger.intake.table import Cell
from ledger.intake.values import DateOrder, read_date

_ORDERS: tuple[DateOrder, ...] = ("day month year", "month day year", "year month day")
_MARKS = "#:.- "
_LONGEST_LABEL = 4
"""How many words a label in front of its value has at most."""
_REFERENCE = re.compile(r"[\w][\w./#+-]*")


def label_key(text: str) -> str:
    """Return a label as profiles compare it: folded, without the colon behind it."""
    return fold(text).rstrip(": ")


def is_date_text(text: str) -> bool:
    """Return whether a whole text is a date, in whatever order.

    >>> is_date_text("March 21, 2026"), is_date_text("20260321-4")
    (True, False)
    """
    if not any(char.isdigit() for char in text):
        return False
    for order in _ORDERS:
        try:
            read_date(Cell(text, ""), order)
        except ValueProblem:
            continue
        return True
    return False


def splits(text: str) -> Iterator[tuple[str, str]]:
    """Yield a text cut into a label and what follows it, the longer label first.

    >>> list(splits("Invoice no. 4711"))
    [('Invoice no.', '4711'), ('Invoice', 'no. 4711')]
    """
    words = text.split()
    for count in range(min(_LONGEST_LABEL, len(words) - 1), 0, -1):
        yield " ".join(words[:count]), " ".join(words[count:])


def behind_blank(label: str, rest: str, name: str) -> str:
    """Return what stands behind a label and a blank as the field's value, empty where it cannot be one.

    Arguments:
        label: the words in front; none of them is a value, or two fields would be one.
        rest: what follows them.
        name: 'reference', 'date' or 'currency'; a party needs a colon or a cell of its own.
    """
    value = rest.lstrip(_MARKS)
    if any(char.isdigit() for char in label):
        return ""
    if name == "date":
        return value if is_date_text(value) else ""
    if name == "currency":
        return value if value.upper() in EXPONENTS else ""
    is_number = _REFERENCE.fullmatch(value) is not None and any(char.isdigit() for char in value)
    is_number = is_number and (value.isdigit() or not is_date_text(value))
    return value if name == "reference" and is_number else ""


def value_behind(text: str, place: str, name: str) -> str:
    """Return the value in a cell that begins with a profile's label, empty where there is none.

    >>> value_behind("Invoice 4711", "invoice", "reference"), value_behind("Date: 2026-03-21", "Date", "date")
    ('4711', '2026-03-21')
    """
    start, colon, rest = text.partition(":")
    if colon and rest.strip() and label_key(start) == label_key(place):
        return rest.strip()
    found = (
        behind_blank(label, rest, name)
        for label, rest in splits(text)
        if label_key(label) == label_key(place)
    )
    return next(filter(None, found), "")
