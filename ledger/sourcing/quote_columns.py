"""The columns of the quotes sheet: what the maker is told about each, and its reader."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from ledger.catalogue.items import read_customs_class
from ledger.exact.currencies import read_currency
from ledger.sourcing.quote import DISCOUNTS, MODES, SCOPES
from ledger.sourcing.quote_readers import (
    OWN_ORDERS,
    Reader,
    amount,
    bad_part,
    count,
    day,
    lead_days,
    listed,
    one_of,
    origin,
    part_of_all,
    percentage,
    positive_count,
    prepack,
    prices,
    terms,
    words,
)


@dataclass(frozen=True)
class Column:
    """One column: what the maker is told, how its text is read, and the table's kind of it."""

    note: str
    read: Reader
    is_of_offer: bool = True


COLUMNS: Mapping[str, Column] = MappingProxyType(
    {
        "supplier": Column(
            "Who offers. A new name becomes a supplier of the book.", words, is_of_offer=False
        ),
        "offer": Column(
            "What tells this offer from the supplier's others; its rows are one offer. Empty: the style or SKU.",
            words,
            is_of_offer=False,
        ),
        "sku": Column("What the prices are for: one item …", words, is_of_offer=False),
        "style": Column(
            "… or a whole style, all sizes and colours but those told apart.", words, is_of_offer=False
        ),
        "colours": Column("Only for these colours, with ; between. Empty: all.", listed, is_of_offer=False),
        "sizes": Column("Only for these sizes: S-XL, or 2XL; 3XL. Empty: all.", listed, is_of_offer=False),
        "prices": Column(
            "Price of one unit from each quantity on, without freight: 1 = 4.10; 72 = 3.60. Or one price.",
            prices,
            is_of_offer=False,
        ),
        "unit": Column(
            "What prices and quantities count: a pack of the item, a unit, or a content: 500 sheet. Empty: its own unit.",
            words,
        ),
        "currency": Column("The prices' currency, by ISO 4217. Empty: the book's.", read_currency),
        "discount": Column(
            "all units (a break lowers every piece) or incremental (only what goes beyond it: 72 = 3.60 is from the 73rd "
            "piece on). Empty: all units.",
            one_of(*DISCOUNTS),
        ),
        "breaks_by": Column(
            "What a break counts: sku, colour, style or order. Empty: order.", one_of(*SCOPES)
        ),
        "minimum": Column("The least that can be ordered.", count),
        "minimum_per_colour": Column("The least of each colour in an order, besides that.", count),
        "multiple": Column("Orders go by this many: 72 for full cases.", positive_count),
        "maximum": Column("The most that can be ordered.", count),
        "prepack": Column("A fixed mix of sizes: S = 1; M = 2; L = 2.", prepack),
        "terms": Column("Incoterms 2020 (FOB, CIF, DDP …), or shipping point, destination.", terms),
        "origin": Column("domestic, or the country the goods come from: CN. Empty: the supplier's.", origin),
        "customs_class": Column("Where it is not the item's own.", read_customs_class),
        "quoted_on": Column("The day of the offer, like 2026-03-31.", day),
        "valid_from": Column("The first day it stands.", day),
        "valid_until": Column("The last day it stands.", day),
        "mode": Column("How it travels: ground, courier, air or ocean.", one_of(*MODES)),
        "freight_per_order": Column(
            "Freight, each part that is filled in is added. Empty: not quoted; 0: none.", amount
        ),
        "freight_per_unit": Column("Freight for one quoted unit.", amount),
        "freight_per_kg": Column("Freight for a kilogram; the items need a weight.", amount),
        "volumetric": Column(
            "By chargeable weight: cm3 to a kilogram, courier 5000, air 6000.", positive_count
        ),
        "weight_step": Column("Weight is charged in steps of so many kg: 0.5.", amount),
        "freight_per_m3": Column("Ocean: for a cubic metre or a tonne, whichever is more.", amount),
        "least_m3": Column("The least that is charged, in the same. Empty: 1.", amount),
        "freight_minimum": Column("Freight comes to at least this.", amount),
        "free_above": Column("Freight is free where the goods come to this.", amount),
        "inland": Column(
            "The way to the port and export clearance, where it is yours (EXW), in freight_currency; the insured value "
            "is without it.",
            amount,
        ),
        "freight_currency": Column("Where freight is billed in another currency.", read_currency),
        "insurance": Column("Cargo insurance in percent of goods and freight.", part_of_all),
        "insured_value": Column("Of how much of that, in percent: 110. Empty: 100.", percentage),
        "insurance_minimum": Column("The least premium.", amount),
        "duty_base": Column(
            "FOB (US: without international freight) or CIF. Empty: FOB.", one_of("FOB", "CIF")
        ),
        "included_freight": Column(
            "International freight inside the price that the invoice states apart, for an order.", amount
        ),
        "brokerage": Column(
            "Paid at home for each entry, in the book's currency, like the next six.", amount
        ),
        "bond": Column("This entry's share of the bond; formal entries only.", amount),
        "terminal": Column("Terminal and port charges.", amount),
        "delivery": Column("From the port or terminal to your door.", amount),
        "bank_fee": Column("For the payment.", amount),
        "assists": Column("What you give the factory for an order (labels): customs values it.", amount),
        "assists_per_unit": Column("The same for one quoted unit.", amount),
        "lead_days": Column(f"Days from order to shelf, or '{OWN_ORDERS}'.", lead_days),
        "lead_spread": Column("Their spread (standard deviation) in days.", amount),
        "deposit": Column("Paid in advance, in percent.", part_of_all),
        "deposit_days": Column("How many days before shipping.", count),
        "defects": Column("Bad pieces in percent.", bad_part),
        "claim_returns": Column("How much of a bad piece's price a claim returns, in percent.", part_of_all),
        "sample": Column("A paid sample, once before the first order.", amount),
        "closures": Column(
            "When they are closed: a country's holidays (CN), or 2027-01-25 to 2027-02-22.", listed
        ),
        "order_cost": Column(
            "What placing and handling this order costs you: the decision and the plan count it, compare --prices does "
            "not.",
            amount,
        ),
        "note": Column("Anything else.", words),
    }
)
"""The columns of the quotes sheet in order."""

QUOTE_COLUMNS: Mapping[str, str] = MappingProxyType({name: column.note for name, column in COLUMNS.items()})
"""The columns with what the maker is told about each, as the blank sheet has them."""

OFFER_COLUMNS = tuple(name for name, column in COLUMNS.items() if column.is_of_offer)
"""The columns that say something of the whole offer, not of one row."""

DATE_COLUMNS = ("quoted_on", "valid_from", "valid_until")
PERCENT_COLUMNS = ("insurance", "insured_value", "deposit", "defects", "claim_returns")

_ALIASES = {
    "party": "supplier",
    "item": "sku",
    "colour": "colours",
    "color": "colours",
    "colors": "colours",
    "size": "sizes",
    "price": "prices",
    "breaks": "prices",
    "moq": "minimum",
    "minimum order": "minimum",
    "moq per colour": "minimum_per_colour",
    "size ratio": "prepack",
    "incoterms": "terms",
    "country": "origin",
    "expires on": "valid_until",
    "freight": "freight_per_order",
    "broker": "brokerage",
    "lead time": "lead_days",
    "defect rate": "defects",
    "notes": "note",
}
_BY_HEADING = {name.replace("_", " "): name for name in COLUMNS} | _ALIASES


def read_quote_heading(text: str) -> str | None:
    """Return the column that a heading names, or None where it names none.

    >>> read_quote_heading("Freight per kg"), read_quote_heading("MOQ"), read_quote_heading("x")
    ('freight_per_kg', 'minimum', None)
    """
    return _BY_HEADING.get(" ".join(text.casefold().replace("_", " ").split()))
