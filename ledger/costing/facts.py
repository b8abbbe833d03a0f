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
    {"opening": 0, "ship": 1, "receipt": 1, "make": 3, "take back": 4, "reversal": 4}
    | dict.fromkeys(LEAVES_TO, 5)
    | {"send back": 5, "count": 6, "write down": 7}
)
"""The order within a day: opening, shipments and receipts, late charges, jobs, customer returns, what leaves,
counts, write-downs.

Two exceptions: a customer return of the same day as its sale stands right after that sale, and the
reversal of something that came in is something that leaves.
"""

LATE_CLASS = 2
"""The class of a late charge: after all that came in that day."""

WITH_RECEIPT, LATE = "with receipt", "late"
"""The paths of a charge's share: it belongs to what its receipt cost, or it came when that month was closed."""

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
    ``ref_document`` and ``ref_line`` name the sale that is taken back, the receipt or opening line
    that is sent back, the shipment's line that arrives, or the line that is reversed. An arrival's
    cost comes from its shipment, so its ``amount`` is zero. A reversal repeats the figures of the
    line it reverses, and ``undone_event`` is that line's event. ``short_allowed`` lets a line leave more than is there. ``credit`` is
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
    undone_event: str = ""

    @property
    def is_arrival(self) -> bool:
        """Whether the line brings in goods that were the shop's since they were shipped."""
        return self.event == "receipt" and self.ref_document is not None


@dataclass(frozen=True, slots=True)
class ShareFact:
    """One receipt or shipment line's share of one charge line, in minor units of the book's currency.

    ``path`` is 'with receipt', or 'late' where the line's month was closed when the bill came.
    """

    document: int
    line: int
    position: int
    receipt_document: int
    receipt_line: int
    amount: int
    path: str
    effect_date: str
    account: str = "charges"
    """Where it comes from: 'purchases' where a bill gives the price of what was received without one."""


@dataclass(frozen=True, slots=True)
class UndoFact:
    """A document was undone.

    ``path`` 'dropped' takes the pair out of the costing. With 'credit' and 'reversal' both stay: the
    undoing document brings late shares, or lines of the event 'reversal', of its own.
    """

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
