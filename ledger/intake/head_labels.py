"""A label and its value in one cell of an invoice's head: 'Invoice 4711', 'Date: March 21, 2026'."""

from __future__ import annotations

import re
from collections.abc import Iterator

from ledger.errors import ValueProblem
from ledger.exact.currencies import EXPONENTS
from ledger.intake.nearest import fold
from ledger.intake.table import Cell
from ledger.intake.values import DATE_ORDERS, read_date

MARKS = "#:.- "
_LONGEST_LABEL = 4
"""How many words a label in front of its value has at most."""
_CODE = re.compile(r"\b[A-Z]{3}\b")
_NUMBERS = re.compile(r"[-+]?\d[\d.,]* ?%?|%")
_SIGNS = re.compile(r"[$€£¥@:;,()\[\]/*]+|(?<!\w)[.-]+|[.-]+(?!\w)")
_GROUP_TOTALS = ("total", "totals", "subtotal", "subtotals", "zwischensumme", "summe", "gesamt")
_JOINTS = re.compile(
    r"(?:[\s,;/|(]|\b(?:of|dated|date|from|on|issued|vom|du|de|del|fecha|datum|invoice date|date of issue))[\s:,]*\Z",
    re.IGNORECASE,
)
_MOST_DATE_WORDS = 6
_REFERENCE = re.compile(r"[\w][\w./#+-]*")


def label_key(text: str) -> str:
    """Return a label as profiles compare it: folded, without the colon behind it."""
    return fold(text).rstrip(": ")


def loose_key(label: str) -> str:
    """Return a label of the foot without what changes from one invoice to the next: rates, numbers, currencies.

    >>> loose_key("Less trade discount 5%:"), loose_key("Total due  USD"), loose_key("Rabatt 2,5 %")
    ('less trade discount', 'total due', 'rabatt')
    """
    kept = _CODE.sub(lambda match: " " if match[0] in EXPONENTS else match[0], label)
    kept = _NUMBERS.sub(" ", kept)
    return fold(_SIGNS.sub(" ", kept))


def group_key(label: str) -> str:
    """Return the word of a group's total that more words follow: '' where the label is no such total.

    >>> group_key("Subtotal HARE"), group_key("Sub-total Rook hoodie"), group_key("Subtotal"), group_key("Total due")
    ('subtotal', 'subtotal', '', 'total')
    """
    words = fold(label.replace("-", "")).replace("sub total", "subtotal").rstrip(": ").split()
    return words[0].rstrip(":") if len(words) > 1 and words[0].rstrip(":") in _GROUP_TOTALS else ""


def is_date_text(text: str) -> bool:
    """Return whether a whole text is a date, in whatever order.

    >>> is_date_text("March 21, 2026"), is_date_text("20260321-4")
    (True, False)
    """
    if not any(char.isdigit() for char in text):
        return False
    for order in DATE_ORDERS:
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


def with_date_apart(value: str) -> tuple[str, str]:
    """Return a reference and the date behind it; the date is empty where none stands there.

    >>> with_date_apart("OB-7731 of 9 April 2026"), with_date_apart("OB-7731, dated 2026-04-09")
    (('OB-7731', '9 April 2026'), ('OB-7731', '2026-04-09'))
    >>> with_date_apart("OB-7731"), with_date_apart("2026-04-09")
    (('OB-7731', ''), ('2026-04-09', ''))
    """
    words = value.split()
    for count in range(min(_MOST_DATE_WORDS, len(words) - 1), 0, -1):
        date, before = " ".join(words[-count:]).rstrip(")."), " ".join(words[:-count])
        if not is_date_text(date):
            continue
        while before and before != (shorter := _JOINTS.sub("", before)):
            before = shorter.rstrip(" ,;/|(-")
        return (before, date) if before else (value, "")
    return value, ""


def behind_blank(label: str, rest: str, name: str) -> str:
    """Return what stands behind a label and a blank as the field's value, empty where it cannot be one.

    Arguments:
        label: the words in front; none of them is a value, or two fields would be one.
        rest: what follows them.
        name: 'reference', 'date' or 'currency'; a party needs a colon or a cell of its own.
    """
    value = rest.lstrip(MARKS)
    if any(char.isdigit() for char in label):
        return ""
    if name == "date":
        return value if is_date_text(value) else with_date_apart(value)[1]
    if name == "currency":
        return value if value.upper() in EXPONENTS else ""
    value, _ = with_date_apart(value)
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
        return part_of(rest.strip(), name)
    found = (
        behind_blank(label, rest, name)
        for label, rest in splits(text)
        if label_key(label) == label_key(place)
    )
    return next(filter(None, found), "")


def part_of(value: str, name: str) -> str:
    """Return of a value that holds a number and a date the part that a field is: 'A-7 of 9 April 2026'.

    A date's text stays whole where it is none: what is wrong with it is told when it is read.
    """
    if name not in ("reference", "date"):
        return value
    reference, date = with_date_apart(value)
    return reference if name == "reference" else date or value
