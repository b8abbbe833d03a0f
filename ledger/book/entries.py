"""Entries: what happened, resolved to items and base units, before it becomes documents."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field

from ledger.book.receiving import ReceiptRequest
from ledger.book.row_sources import RowSource
from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack
from ledger.costing.landed import ChargeWish


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryLine:
    """One line of an entry. Quantities in thousandths of the base unit, amounts in minor units.

    ``amount`` is in the book's currency: what a customer paid, what the opening stock cost, the
    loss of a write-down, labour paid, or the cost of what goes short where the book knows none.
    """

    item: Item
    quantity_milli: int = 0
    role: str = "item"
    amount: int = 0
    amount_foreign: int = 0
    normal_milli: int = 0
    expensed_milli: int = 0
    unit: str = ""
    unit_quantity: str = ""
    short_allowed: bool = False
    credit: int | None = None
    shipping: int | None = None
    fees: int | None = None
    expires_on: datetime.date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One thing that happened. ``event`` is the document's; ``where`` the place it was typed.

    ``source`` tells which row of a sales export it is, where it is one.
    """

    event: str
    on: datetime.date
    lines: tuple[EntryLine, ...]
    where: str
    party: str = ""
    reference: str = ""
    currency: str = ""
    rate: str = "1"
    rate_source: str = ""
    applies_to: tuple[str, ...] = ()
    lot: str = ""
    note: str = ""
    source: RowSource | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiptEntry:
    """Goods that arrived, as rows of an events sheet."""

    request: ReceiptRequest
    where: str

    @property
    def on(self) -> datetime.date:
        """The day they arrived."""
        return self.request.received_on


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeEntry:
    """A bill for receipts named by number or by party and reference."""

    wish: ChargeWish
    on: datetime.date
    applies_to: tuple[str, ...]
    where: str


AnyEntry = Entry | ReceiptEntry | ChargeEntry


@dataclass(frozen=True, slots=True)
class Entries:
    """What a sheet or a command says happened, with the items it brings along."""

    entries: tuple[AnyEntry, ...]
    new_items: tuple[Item, ...] = field(default=())
    remarks: tuple[str, ...] = field(default=())
    new_packs: tuple[Pack, ...] = field(default=())
