"""What the workbooks to fill in hold: their columns, lists to choose from, and what their maker is told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from ledger.catalogue.bom_sheet import BOM_COLUMNS
from ledger.catalogue.boms import WAYS
from ledger.catalogue.item_sheet import ITEM_COLUMNS
from ledger.catalogue.items import KINDS, TAX_CLASSES
from ledger.catalogue.parties import ROLES
from ledger.catalogue.sizes import LADDERS
from ledger.catalogue.terms import INCOTERMS
from ledger.catalogue.units import BASE_UNITS
from ledger.costing.landed import BASES, CHARGE_KINDS
from ledger.intake.duty_examples import DUTY_EXAMPLES
from ledger.intake.events import EVENT_COLUMNS, EVENTS, MAKE_KINDS, TAX_PAID
from ledger.intake.opening_columns import COST_IS, HOW_TO_OPEN, OPENING_COLUMNS
from ledger.intake.sheet_writing import DropDown
from ledger.intake.shipment import LOSSES
from ledger.sourcing.duty_columns import DATE_COLUMNS as DUTY_DATE_COLUMNS
from ledger.sourcing.duty_columns import DUTY_COLUMNS
from ledger.sourcing.quote import MODES, SCOPES
from ledger.sourcing.quote_columns import DATE_COLUMNS as QUOTE_DATE_COLUMNS
from ledger.sourcing.quote_columns import QUOTE_COLUMNS

SUPPLIER_COLUMNS: Mapping[str, str] = MappingProxyType(
    {
        "name": "The supplier's name as you want to see it.",
        "role": "supplier, customer, carrier, broker or other. Empty: supplier.",
        "country": "Two letters by ISO 3166, like US, CN or BD.",
        "currency": "The currency they bill in, by ISO 4217: USD, EUR, CNY.",
        "terms": "How they deliver and when they are paid, in your own words.",
        "note": "Anything else: an account number, who to call.",
    }
)
"""The columns of the suppliers sheet in order, each with what the maker is told about it."""

SHIPMENT_HEAD: Mapping[str, str] = MappingProxyType(
    {
        "Supplier": "Who sent the goods.",
        "Reference": "The invoice's number. The same number twice is noticed.",
        "Date": "The invoice's date, like 2026-01-31.",
        "Currency": "The invoice's currency, like USD or CNY. Empty: the book's.",
    }
)
"""What stands above the lines of the shipment sheet."""

SHIPMENT_COLUMNS: Mapping[str, str] = MappingProxyType(
    {
        "sku": "The item's code in the book.",
        "quantity": "How many came by the invoice, in the unit beside it, missing and damaged ones included.",
        "unit": "each, dozen, case, roll, mL … Empty only where pieces or sheets are counted.",
        "amount": "What the row costs after its discount, in the invoice's currency. 'free' where nothing is "
        "paid; empty where the price is not known yet.",
        "missing": "Pieces that did not come (pieces, not packs).",
        "damaged": "Pieces that came unusable (pieces, not packs).",
        "treat as": "What becomes of missing and damaged pieces: claimed (a credit is expected), normal (the "
        "good ones bear it) or expense. Empty: claimed.",
        "expires on": "Best before, like 2026-12-31.",
        "tax paid": "Sales tax: yes (paid), resale (bought for resale, none paid) or none.",
        "charge": "Freight, duty and the like, one in a cell, in any row: freight 182.40 by weight.",
        "note": "Anything else.",
    }
)
"""The columns of the shipment sheet in order, each with what the maker is told about it."""

SHIPMENT_HEADING_ROW = len(SHIPMENT_HEAD) + 2


@dataclass(frozen=True)
class Template:
    """One blank workbook: its fill-in sheet, and what its 'How to' sheet says."""

    title: str
    columns: Mapping[str, str]
    widths: Mapping[str, float]
    lists: Mapping[str, DropDown]
    how_to: tuple[str, ...]
    head: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    text_columns: tuple[str, ...] = ()
    date_columns: tuple[str, ...] = ()
    examples: tuple[tuple[str, ...], ...] = ()

    @property
    def heading_row(self) -> int:
        """The row of the headings: the first, or below the head and a blank row."""
        return len(self.head) + 2 if self.head else 1


_ITEMS = Template(
    title="Items",
    columns=ITEM_COLUMNS,
    widths={"sku": 24, "name": 32, "note": 32, "packs": 32, "fibre": 24, "colours": 32, "safety_sheet": 24},
    lists={
        # A shop may add kinds and ladders of its own, so those two lists only suggest.
        "kind": DropDown(tuple(KINDS), is_strict=False),
        "unit": DropDown(BASE_UNITS),
        "tax_class": DropDown(TAX_CLASSES),
        "ladder": DropDown(tuple(ladder.name for ladder in LADDERS), is_strict=False),
        "use_estimated": DropDown(("yes", "no")),
    },
    text_columns=("sku", "style", "size", "sizes", "customs_class"),
    how_to=(
        (
            "One row is one item, or a whole style: with sizes (S-3XL) and colours (Heather Navy=HNV; Black=BLK) "
            "every size in every colour becomes an item."
        ),
        "Load the sheet with: blankbook items load FILE. Loading it again amends what changed.",
        "Kind, tax class and unit stay as they are once an item has been used.",
        "Keep the safety data sheet with inks, powders and chemicals, and store them by their label.",
        (
            "Fibre content and origin stay with the garment's label. The customs class is the importer's "
            "responsibility: check it, or ask a licensed broker."
        ),
    ),
)
_BOMS = Template(
    title="Bills",
    columns=BOM_COLUMNS,
    widths={"name": 28, "way": 24, "finished": 24, "sku": 24, "colours": 24, "note": 32},
    lists={
        # Commas part the entries of a list; the sheet is read with and without them.
        "way": DropDown(tuple(way.replace(",", "") for way in WAYS)),
        "unit": DropDown((*BASE_UNITS, "in2", "m", "kg", "oz"), is_strict=False),
        "light_only": DropDown(("yes", "no")),
    },
    # Percentages too: as a number, a spreadsheet keeps 15% as 0.15.
    text_columns=("bill", "blank", "finished", "sku", "waste", "misprints", "least_polyester"),
    how_to=(
        (
            "One row is one thing a bill uses beside the blank. The bill's own columns (name to finished, and the "
            "ones from misprints on) need to stand only in its first row."
        ),
        "One bill serves all colours and sizes of its blank: FOX-{colour}-{size} makes FOX-BLK-M of a black M.",
        "Look at it first: blankbook boms load FILE --dry-run. Loading it again replaces the bills that changed.",
        (
            "Every piece, spoiled or not, uses the bill; the misprint rate only plans. What is washed out on days "
            "without prints is an event of its own, not waste of a bill."
        ),
        (
            "A reused tool (cover sheet, screen, stencil) has a number of uses. Keep a drum or toner by the pages "
            "it prints: unit sheet, pack drum = 12000 sheet."
        ),
        "Presses and fresh prints burn; curing and pressing fumes, and powder dust, need air and a mask.",
        "Weigh and measure your own use: the amounts others write vary widely.",
    ),
)
_SUPPLIERS = Template(
    title="Suppliers",
    columns=SUPPLIER_COLUMNS,
    widths={"name": 32, "terms": 40, "note": 40},
    lists={"role": DropDown(ROLES)},
    text_columns=("name", "country", "currency"),
    how_to=(
        "One row is one supplier, carrier or broker. Load the sheet with: blankbook suppliers load FILE.",
        "A name the book does not know is also added when goods are received from it.",
    ),
)
_SHIPMENT = Template(
    title="Shipment",
    columns=SHIPMENT_COLUMNS,
    widths={"sku": 24, "charge": 36, "note": 36},
    lists={
        "unit": DropDown(("each", "sheet", "dozen", "case", "pack", "roll", "bottle"), is_strict=False),
        "treat as": DropDown(LOSSES),
        "tax paid": DropDown(("yes", "resale", "none")),
    },
    head=SHIPMENT_HEAD,
    text_columns=("sku",),
    date_columns=("expires on",),
    how_to=(
        "Fill in the four fields at the top, then one row for every line of the invoice.",
        "Look at it first: blankbook receive FILE --profile fill-in-shipment --dry-run",
        (
            "Charges are words: freight 182.40 by weight; duty 14.9% by value; entry_fee 0.3464% min 33.58 max "
            "651.50; duty 12.40 on TEE-*; freight 900 CNY by volume; discount 20. One in a cell."
        ),
        (
            "They are spread by value, quantity, weight or volume; by value where nothing is said. An amount "
            "without a currency is in the book's."
        ),
        (
            "Customs figures are for your records. Class, value, origin and rate are the importer's "
            "responsibility; ask a licensed broker."
        ),
        "Cartons above 15 kg: lift with help.",
    ),
)
_EVENTS = Template(
    title="Events",
    columns=EVENT_COLUMNS,
    widths={"sku": 24, "party": 24, "reference": 18, "applies_to": 24, "note": 36},
    lists={
        "event": DropDown(tuple(EVENTS)),
        "kind": DropDown((*CHARGE_KINDS, *MAKE_KINDS)),
        "basis": DropDown(BASES),
        "tax_paid": DropDown(TAX_PAID),
    },
    # A lot as a number would lose the difference between 12.3 and 12.30.
    text_columns=("sku", "currency", "party", "reference", "applies_to", "lot"),
    date_columns=("date", "expires_on"),
    how_to=(
        "One row is one thing that happened. Leave a cell empty where it does not apply to the event.",
        "Look at it first: blankbook post FILE --dry-run. The sheet is judged as a whole, in the order of dates.",
        "All amounts and quantities are positive, discounts too: the event says which way they go.",
        "Rows of receive with one date, party and reference are one receipt; without a reference each row is one.",
        "Rows of make with one date, reference and SKU are one job: good pieces, and misprints as normal or abnormal.",
        "A sheet that was posted is refused when it comes again, so a new one needs only the new rows.",
    ),
)
_QUOTES = Template(
    title="Quotes",
    columns=QUOTE_COLUMNS,
    widths={"supplier": 28, "offer": 20, "sku": 20, "style": 16, "colours": 24, "prices": 36, "note": 36},
    lists={
        "discount": DropDown(("all units", "incremental")),
        "breaks_by": DropDown(SCOPES),
        "terms": DropDown((*INCOTERMS, "shipping point", "destination"), is_strict=False),
        "mode": DropDown(MODES),
        "duty_base": DropDown(("FOB", "CIF")),
    },
    # Percentages and prices too: as a number, a spreadsheet keeps 3% as 0.03.
    text_columns=(
        *("supplier", "offer", "sku", "style", "colours", "sizes", "prices", "prepack", "customs_class"),
        *("insurance", "insured_value", "deposit", "defects", "claim_returns", "closures"),
    ),
    date_columns=QUOTE_DATE_COLUMNS,
    how_to=(
        (
            "One row is one list of prices: for an item, or for a style in some colours and sizes. Rows with one "
            "supplier and offer are one offer; its other columns need to stand only in one of them."
        ),
        "Load the sheet with: blankbook quotes load FILE. Loading it again amends what changed; the old is kept.",
        "Then compare: blankbook compare --prices SKU-or-STYLE --quantity 144",
        (
            "What comes from abroad needs its duty rates first: blankbook duties template FILE. Entry fees of the "
            "United States come from the program's table, by the day of entry."
        ),
        (
            "Estimates, not customs or tax advice: class, value, origin and rate are the importer's "
            "responsibility; ask a licensed broker."
        ),
    ),
)
_DUTIES = Template(
    title="Duties",
    columns=DUTY_COLUMNS,
    widths={"program": 24, "source": 40, "note": 40},
    lists={"example": DropDown(("yes", "no"))},
    text_columns=("program", "customs_class", "rate"),
    date_columns=DUTY_DATE_COLUMNS,
    how_to=(
        (
            "One row is one rate for a customs class, or for all classes that begin so, from a first to a last day "
            "of entry. The rates of different programs add up; within one, the longest class holds."
        ),
        "Load the sheet with: blankbook duties load FILE. A class without any row is unknown, never free.",
        (
            "The sheet Examples shows the layout. Its rows are no facts to rely on: rates change several times a "
            "year. Write the source and the day you read it beside each of yours."
        ),
        (
            "Estimates, not customs advice: class, value, origin and rate are the importer's responsibility; ask a "
            "licensed broker."
        ),
    ),
    examples=DUTY_EXAMPLES,
)
_OPENING_COUNT = Template(
    title="Opening count",
    columns=OPENING_COLUMNS,
    widths={"sku": 24, "name": 32, "packs": 24, "note": 36},
    lists={
        **{name: _ITEMS.lists[name] for name in ("kind", "unit", "tax_class", "ladder")},
        "counted_in": DropDown(("each", "sheet", "dozen", "case", "pack", "roll", "bottle"), is_strict=False),
        "cost_is": DropDown(COST_IS),
    },
    text_columns=("sku", "style", "size"),
    date_columns=("expires_on",),
    how_to=HOW_TO_OPEN,
)
TEMPLATES: Mapping[str, Template] = MappingProxyType(
    {
        "items": _ITEMS,
        "boms": _BOMS,
        "suppliers": _SUPPLIERS,
        "quotes": _QUOTES,
        "duties": _DUTIES,
        "shipment": _SHIPMENT,
        "events": _EVENTS,
        "opening-count": _OPENING_COUNT,
    }
)
"""The blank workbooks by their names."""
