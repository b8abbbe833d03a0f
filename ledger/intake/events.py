"""One row of an events sheet, and what each event needs and takes."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from ledger.book.row_sources import RowSource
from ledger.costing.landed import CHARGE_KINDS

EVENT_COLUMNS: Mapping[str, str] = MappingProxyType(
    {
        "date": "The day it happened, like 2026-01-31.",
        "event": "What happened: opening, receive, charge, make, sell, take_back, refund, use, spoil, own_use, "
        "sample, donate, send_back, count or write_down.",
        "sku": "The item's code in the book. Empty on a charge.",
        "quantity": "How many, in the unit beside it. On a count: what is there at the end of that day. Empty on "
        "a charge and a write_down.",
        "unit": "each, dozen, case, roll … Empty: what the item is counted in.",
        "amount": "The row's total. receive: net of its discount, 'free' where nothing is paid, empty where the "
        "price is not known yet. sell: without sales tax. make: labour paid to others. write_down: the loss.",
        "currency": "The amount's currency, like USD or CNY. Empty: the book's.",
        "rate": "One unit of that currency in the book's. Empty: the reference rate of the day.",
        "party": "The supplier, carrier or customer. A name not yet known is added.",
        "reference": "The invoice's, bill's, order's or job's own number.",
        "applies_to": "On a charge or a send_back: receipt numbers or party/reference, with ; between. On a "
        "take_back: the sale's number.",
        "kind": "charge: freight, insurance, duty, entry_fee, brokerage, terminal, delivery, bank_fee, tax, "
        "discount, goods or other. make: good, normal or abnormal (empty: good). spoil: normal or abnormal.",
        "basis": "What a charge is spread by: value, quantity, weight or volume. Empty: value.",
        "lot": "On a send_back: the lot that goes back, like 12.3.",
        "tax_paid": "On a receive, sales tax: yes (paid), resale (bought for resale, none paid) or none.",
        "expires_on": "On a receive or an opening: best before, like 2026-12-31.",
        "shipping": "On a sale or what is given back of it: the shipping charged to the customer.",
        "fees": "On a sale or what is given back of it: what the marketplace or the payment service kept.",
        "note": "Anything else.",
    }
)
"""The columns of the events sheet in order, each with what the maker is told about it."""

MAKE_KINDS = ("good", "normal", "abnormal")
"""What the pieces of a make row are: good, spoiled as is normal, spoiled beyond the normal."""
SPOIL_KINDS = ("normal", "abnormal")
TAX_PAID = ("yes", "resale", "none")

FREE = "free"
"""What an amount says where nothing is paid: a plain 0 may be a forgotten price."""


@dataclass(frozen=True, slots=True)
class EventRow:
    """One row of an events sheet, before the book is asked about its items, units and parties.

    ``where`` is the row as the maker sees it ("sheet Events, row 12"). ``quantity`` is in ``unit``,
    an empty unit being the item's base unit. ``amount``, ``shipping`` and ``fees`` are in units of
    ``currency`` (empty: the book's) and never negative; None where nothing stands. ``rate`` is
    decimal text, empty where none is given. ``kind`` is never empty on a charge, a make or a spoil;
    ``basis`` and ``tax_paid`` are empty where nothing is said. ``source`` tells which row of a sales
    export it is, so that the row is known when it comes again.
    """

    where: str
    date: datetime.date
    event: str
    sku: str = ""
    quantity: Fraction | None = None
    unit: str = ""
    amount: Fraction | None = None
    currency: str = ""
    rate: str = ""
    party: str = ""
    reference: str = ""
    applies_to: tuple[str, ...] = ()
    kind: str = ""
    basis: str = ""
    lot: str = ""
    tax_paid: str = ""
    expires_on: datetime.date | None = None
    shipping: Fraction | None = None
    fees: Fraction | None = None
    note: str = ""
    source: RowSource | None = None


@dataclass(frozen=True)
class EventRule:
    """What a row of one event must have, and what may stand in it.

    ``needs`` and ``takes`` are columns; ``takes`` includes those needed. ``kinds`` are the words of
    its kind column, ``default_kind`` the one an empty cell means. ``zero_quantity`` and
    ``zero_amount`` say whether a plain 0 is meant, ``free`` whether the word 'free' is an amount.
    """

    needs: frozenset[str]
    takes: frozenset[str]
    kinds: tuple[str, ...] = ()
    default_kind: str = ""
    zero_quantity: bool = False
    zero_amount: bool = False
    free: bool = False


ALWAYS_TAKEN = frozenset({"date", "event", "currency", "party", "reference", "note"})
"""What may stand in any row; a currency filled down a whole column harms nobody."""


def _rule(needs: str, may_have: str = "", **more: object) -> EventRule:
    needed = frozenset(needs.split())
    return EventRule(needed, needed | frozenset(may_have.split()) | ALWAYS_TAKEN, **more)  # type: ignore[arg-type]


_LEAVES = _rule("sku quantity", "unit amount rate")
"""The amount of what leaves is the cost of what goes short, where the book knows none."""

EVENTS: Mapping[str, EventRule] = MappingProxyType(
    {
        "opening": _rule("sku quantity amount", "unit rate expires_on", free=True),
        "receive": _rule("sku quantity", "unit amount rate tax_paid expires_on", free=True),
        "charge": _rule("amount kind applies_to", "rate basis", kinds=CHARGE_KINDS),
        "make": _rule("sku quantity", "unit amount rate kind", kinds=MAKE_KINDS, default_kind="good"),
        "sell": _rule("sku quantity", "unit amount rate shipping fees", free=True),
        "take_back": _rule("sku quantity", "unit amount rate shipping fees applies_to", zero_amount=True),
        "refund": _rule("sku", "quantity unit amount rate shipping fees"),
        "use": _LEAVES,
        "spoil": _rule(
            "sku quantity", "unit amount rate kind", kinds=SPOIL_KINDS, default_kind=SPOIL_KINDS[0]
        ),
        "own_use": _LEAVES,
        "sample": _LEAVES,
        "donate": _LEAVES,
        "send_back": _rule("sku quantity", "unit amount rate applies_to lot", zero_amount=True),
        "count": _rule("sku quantity", "unit", zero_quantity=True),
        "write_down": _rule("sku amount", "rate"),
    }
)
"""The events of the sheet, each with its rule."""


def event_name(text: str) -> str:
    """Return an event as the sheet writes it: lower case, with an underscore between its words.

    >>> event_name(" Take back "), event_name("own-use")
    ('take_back', 'own_use')
    """
    return "_".join(text.casefold().replace("-", " ").replace("_", " ").split())
