"""What a shipment's file says, read but not yet matched with the book."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from types import MappingProxyType

from ledger.intake.charge_words import ChargeWords

LOSSES = ("claimed", "normal", "expense")
"""What becomes of pieces that are missing or damaged: a credit is expected, the good pieces bear it,
or it is an expense at once."""


@dataclass(frozen=True)
class ShipmentLine:
    """One line of a shipment; amounts are in units of the draft's currency, exact.

    ``quantity`` counts ``unit`` (empty: the item's base unit). ``pack_factor`` is how many base units
    one unit holds, where the file or its profile says so; ``pack_base_unit`` is the base unit it counts
    in ('' where the file only names pieces) and ``pack_content`` the content as written ('72 each').
    ``is_content_of_row`` says that the row itself states it, so that an item's pack must hold the same.
    Without it the catalogue's packs and units tell. ``net`` is what the line costs after its own
    discount, in whole minor units of the currency; ``unit_price`` is per unit of quantity with the
    size's surcharge, before discount, None where the file gives only a total or nothing.
    ``missing`` and ``damaged`` count pieces, of what is measured the line's own unit; ``missing_as`` and ``damaged_as`` are of LOSSES.
    ``duty`` is in the book's currency; ``weight_kg`` and ``volume_m3`` are of the whole line.
    ``provisional`` marks a line without a price. ``new_item`` is a row for the items sheet, for a SKU the
    book does not know.
    """

    where: str
    sku: str
    quantity: Fraction
    unit: str
    net: Fraction
    code: str = ""
    style: str = ""
    colour: str = ""
    size: str = ""
    description: str = ""
    pack_factor: Fraction | None = None
    pack_base_unit: str = ""
    pack_content: str = ""
    is_content_of_row: bool = False
    unit_price: Fraction | None = None
    discount: Fraction = Fraction(0)
    missing: Fraction = Fraction(0)
    damaged: Fraction = Fraction(0)
    missing_as: str = "claimed"
    damaged_as: str = "claimed"
    duty: Fraction | None = None
    duty_percent: Fraction | None = None
    weight_kg: Fraction | None = None
    volume_m3: Fraction | None = None
    expires_on: datetime.date | None = None
    tax_paid: str = ""
    provisional: bool = False
    note: str = ""
    new_item: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True)
class ShipmentDraft:
    """A whole shipment as its file says it.

    ``invoice_discount`` is positive, in units of ``currency``. ``invoice_date`` is None and
    ``reference`` and ``party`` are empty where neither the file nor the caller says them.
    ``remarks`` are for the maker: what was skipped, what was taken for granted.
    """

    source_name: str
    content_sha256: str
    party: str
    reference: str
    invoice_date: datetime.date | None
    currency: str
    lines: tuple[ShipmentLine, ...]
    invoice_discount: Fraction = Fraction(0)
    charges: tuple[ChargeWords, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def lines_total(self) -> Fraction:
        """What the lines cost together, before the invoice's discount."""
        return sum((line.net for line in self.lines), Fraction(0))
