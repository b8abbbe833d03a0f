"""The facts that costing works from, and the legs that follow from them.

Both engines read these records; neither changes them. One `FactLine` is one line of one posted
document that touches stock, one `ShareFact` is one receipt line's share of one charge, and one
`UndoFact` says that a document was undone and by which path.
"""

from __future__ import annotations

from dataclasses import dataclass

ON_HAND = "on hand"

LEAVES_TO: dict[str, str] = {
    "sale": "pieces sold",
    "use": "used",
    "spoil": "spoilage",
    "own use": "own use",
    "sample": "samples",
    "donate": "donations",
}
"""The events by which stock leaves, first in, first out, and the account each goes to."""

ARRIVES_FROM: dict[str, str] = {"opening": "opening balance", "receipt": "purchases"}
"""The events by which stock arrives, and the account each comes from."""

CLASS_IN_DAY: dict[str, int] = (
    {"opening": 0, "receipt": 1, "make": 3, "take back": 4}
    | dict.fromkeys(LEAVES_TO, 5)
    | {"send back": 5, "count": 6, "write down": 7}
)
"""The order within a day: opening, receipts, (charges,) jobs, customer returns, what leaves, counts, write-downs.

One exception: a customer return of the same day as its sale stands right after that sale.
"""

COMPONENT, PRODUCT, LABOUR = "component", "product", "labour"
"""The roles of the lines of a job: what it uses, what it makes, and what was paid for work on it."""

SUPPLIES_WHEN_BOUGHT = "supplies when bought"


@dataclass(frozen=True, slots=True)
class FactLine:
    """One line of a posted document that touches stock.

    Quantities are thousandths of the item's base unit, amounts minor units of the book's
    currency. On arrivals ``quantity_milli`` is what was invoiced (good + claimed + normal +
    expensed) and ``amount`` what was invoiced for it, net of discounts, with the claimed part
    in it; charges come as `ShareFact`. On leaving events ``quantity_milli`` is what leaves, and
    ``amount`` the cost of what goes short where no cost is known. On a count ``quantity_milli``
    is what was there, on a write-down ``amount`` is the loss.

    ``role`` is 'item', but 'component', 'product' or 'labour' on a job. A job's product has in
    ``quantity_milli`` its good, normally and abnormally spoiled pieces, the latter two also in
    ``normal_milli`` and ``expensed_milli``; a labour line has the product's SKU and an amount.
    ``ref_document`` and ``ref_line`` name the sale that is taken back, or the receipt or opening
    line that is sent back. ``short_allowed`` lets a line leave more than is there. ``credit`` is
    what the supplier gives for what is sent back; None: the invoice cost.
    """

    document: int
    line: int
    event: str
    effect_date: str
    sku: str
    tax_class: str
    quantity_milli: int
    amount: int = 0
    claimed_milli: int = 0
    claimed_amount: int = 0
    normal_milli: int = 0
    expensed_milli: int = 0
    role: str = "item"
    ref_document: int | None = None
    ref_line: int | None = None
    short_allowed: bool = False
    credit: int | None = None


@dataclass(frozen=True, slots=True)
class ShareFact:
    """One receipt line's share of one charge line, in minor units of the book's currency."""

    document: int
    line: int
    position: int
    receipt_document: int
    receipt_line: int
    amount: int
    path: str
    effect_date: str


@dataclass(frozen=True, slots=True)
class UndoFact:
    """A document was undone: ``path`` 'dropped' takes the pair out of the costing."""

    document: int
    undoes: int
    path: str


@dataclass(frozen=True, slots=True)
class Facts:
    """All the facts of a book, or of a part of it that is complete in itself."""

    lines: tuple[FactLine, ...]
    shares: tuple[ShareFact, ...] = ()
    undos: tuple[UndoFact, ...] = ()


@dataclass(frozen=True, slots=True)
class Leg:
    """One line of a document's double entry.

    ``part`` numbers the legs of one document line from 1. What comes into an account is
    positive, what leaves it negative; a document's amounts add up to zero, and so do its
    quantities per SKU.
    """

    document: int
    line: int
    part: int
    effect_date: str
    account: str
    sku: str
    lot_document: int | None
    lot_line: int | None
    quantity_milli: int
    amount: int
