"""The columns of the quotes sheet, each with its reader: text as typed to text as kept."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from ledger.catalogue.country_names import country_hint
from ledger.catalogue.items import read_customs_class
from ledger.catalogue.parties import read_country
from ledger.catalogue.terms import read_terms
from ledger.errors import ValueProblem
from ledger.exact.currencies import read_currency
from ledger.exact.numbers import read_decimal, show_fraction
from ledger.sourcing.price_breaks import break_faults
from ledger.sourcing.quote import DISCOUNTS, DOMESTIC, MODES, SCOPES, PriceBreak, SizeShare

OWN_ORDERS = "own orders"
"""What stands in lead_days where the shop's own past orders say how long it takes."""

_MOST = 10**9
_PLACES = 9
_LONGEST = 500
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_WHOLE = 100

Reader = Callable[[str], str]


@dataclass(frozen=True)
class Column:
    """One column: what the maker is told, how its text is read, and the table's kind of it."""

    note: str
    read: Reader
    is_of_offer: bool = True


def amount(text: str) -> str:
    """Return an amount of zero or more as plain decimal text, trailing zeros off.

    Raises ValueProblem where it is none, or negative.
    """
    value = read_decimal(text, what="an amount")
    if not 0 <= value <= _MOST:
        raise ValueProblem(f"'{text}' must be zero or more, and not absurdly large.")
    return show_fraction(value, _PLACES)


def percentage(text: str) -> str:
    """Return a percentage from 0 to 1000 as decimal text without its sign.

    >>> percentage("16.5%"), percentage("3")
    ('16.5', '3')

    Raises ValueProblem where it is none, and for a bare number below one: a spreadsheet keeps 15% as 0.15.
    """
    has_sign = text.endswith("%")
    value = read_decimal(text.removesuffix("%").strip(), what="percentage")
    if not has_sign and 0 < value < 1:
        raise ValueProblem(
            f"'{text}' may be {show_fraction(value)} % or {show_fraction(value * _WHOLE)} %: write the per cent sign."
        )
    if not 0 <= value <= 10 * _WHOLE:
        raise ValueProblem(f"'{text}' must be between 0% and 1000%.")
    return show_fraction(value, _PLACES)


def part_of_all(text: str) -> str:
    """Return a percentage from 0 to 100 as decimal text.

    Raises ValueProblem where it is none, or more than everything.
    """
    shown = percentage(text)
    if Fraction(shown) > _WHOLE:
        raise ValueProblem(f"'{text}' is more than 100%.")
    return shown


def bad_part(text: str) -> str:
    """Return a percentage from 0 to below 100 as decimal text.

    Raises ValueProblem where nothing good would be left.
    """
    shown = part_of_all(text)
    if Fraction(shown) == _WHOLE:
        raise ValueProblem("100% bad leaves no good piece.")
    return shown


def count(text: str) -> str:
    """Return a whole number of zero or more as text.

    Raises ValueProblem where it is none.
    """
    try:
        value = read_decimal(text, what="whole number")
    except ValueProblem:
        raise ValueProblem(f"'{text[:40]}' is not a whole number: write digits, like 72.") from None
    if value.denominator != 1 or not 0 <= value <= _MOST:
        raise ValueProblem(f"'{text}' must be a whole number, zero or more.")
    return str(value.numerator)


def positive_count(text: str) -> str:
    """Return a whole number above zero as text.

    Raises ValueProblem where it is none.
    """
    shown = count(text)
    if shown == "0":
        raise ValueProblem("0 is too little here: at least 1, or leave it empty.")
    return shown


def day(text: str) -> str:
    """Return a date like 2026-03-31 as it is.

    Raises ValueProblem where it is none, or lies outside 2000 to 2100.
    """
    if _DATE.fullmatch(text):
        try:
            date = datetime.date.fromisoformat(text)
        except ValueError:
            date = None
        if date is not None and 2000 <= date.year <= 2100:  # noqa: PLR2004
            return text
    raise ValueProblem(f"'{text[:40]}' is not a date: write it like 2026-03-31.")


def words(text: str) -> str:
    """Return free text with single blanks.

    Raises ValueProblem where it is longer than a note may be.
    """
    if len(text) > _LONGEST:
        raise ValueProblem(f"the text has {len(text)} characters: {_LONGEST} at most.")
    return " ".join(text.split())


def listed(text: str) -> str:
    """Return a list with '; ' between its entries.

    Raises ValueProblem where an entry stands twice.
    """
    parts = [" ".join(part.split()) for part in re.split(r"[;,]", words(text)) if part.strip()]
    if len({part.casefold() for part in parts}) < len(parts):
        raise ValueProblem(f"'{text[:60]}' names one of them twice.")
    return "; ".join(parts)


def origin(text: str) -> str:
    """Return DOMESTIC or an ISO 3166 country.

    Raises ValueProblem for an unknown origin.
    """
    if text.casefold() == DOMESTIC:
        return DOMESTIC
    try:
        return read_country(text)
    except ValueProblem as problem:
        raise ValueProblem(f"{problem}{country_hint(text)}") from None


def one_of(*choices: str) -> Reader:
    """Return a reader that takes one of some words, whatever its case, blanks or underscores."""

    def read(text: str) -> str:
        key = text.casefold().replace("_", " ").replace("-", " ").strip()
        for choice in choices:
            if choice.casefold().replace("_", " ") == key:
                return choice
        shown = ", ".join(choice.replace("_", " ") for choice in choices)
        raise ValueProblem(f"'{text[:60]}' is not one of {shown}.")

    return read


def prices(text: str) -> str:
    """Return price breaks as they are kept: 1 = 4.1; 72 = 3.6.

    A single price stands for every quantity.

    Raises ValueProblem with everything wrong: no number, out of order, twice the same start, a price of 0.
    """
    breaks = read_breaks(text)
    faults = break_faults(breaks)
    faults += [
        f"the price from {each.from_quantity} on is 0, and an offer for nothing would always win: leave the row "
        "out until the price is known. A gift is no offer."
        for each in breaks
        if not each.price_minor
    ]
    if faults:
        raise ValueProblem(" ".join(faults))
    return show_breaks(breaks)


def read_breaks(text: str) -> tuple[PriceBreak, ...]:
    """Return the breaks of a cell; prices stay in units of the currency, not in minor ones.

    >>> read_breaks("1 = 4.10; 72 = 3.60")[1].from_quantity
    72

    Raises ValueProblem where a part is no break.
    """
    breaks = []
    for part in filter(None, map(str.strip, text.split(";"))):
        start, sign, price = part.partition("=")
        if not sign:
            start, price = "1", part
        breaks.append(PriceBreak(int(count(start.strip())), Fraction(amount(price.strip()))))
    return tuple(breaks)


def show_breaks(breaks: tuple[PriceBreak, ...]) -> str:
    """Return breaks as a cell holds them."""
    return "; ".join(f"{each.from_quantity} = {show_fraction(each.price_minor, _PLACES)}" for each in breaks)


def prepack(text: str) -> str:
    """Return a prepack as it is kept: S = 1; M = 2.

    Raises ValueProblem where a part is no size with a number, or a size stands twice.
    """
    shares = read_prepack(text)
    sizes = [share.size.casefold() for share in shares]
    if not shares or len(set(sizes)) < len(sizes):
        raise ValueProblem(
            f"'{text[:60]}' is no prepack: write each size once with its pieces, like S = 1; M = 2."
        )
    return "; ".join(f"{share.size} = {share.pieces}" for share in shares)


def read_prepack(text: str) -> tuple[SizeShare, ...]:
    """Return the sizes of a prepack with the pieces of each.

    Raises ValueProblem where a part is no size with a number.
    """
    shares = []
    for part in filter(None, map(str.strip, text.split(";"))):
        size, sign, pieces = part.partition("=")
        if not sign or not size.strip():
            raise ValueProblem(f"'{part[:60]}' is not a size with its pieces: write S = 1.")
        shares.append(SizeShare(size.strip(), int(positive_count(pieces.strip()))))
    return tuple(shares)


def lead_days(text: str) -> str:
    """Return days as decimal text, or OWN_ORDERS.

    Raises ValueProblem where it is neither.
    """
    return OWN_ORDERS if text.casefold() in {OWN_ORDERS, "own"} else amount(text)


def terms(text: str) -> str:
    """Return the code of delivery terms.

    Raises ValueProblem for unknown ones.
    """
    return read_terms(text).code


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
        "inland": Column("The way to the port and export clearance, where it is yours (EXW).", amount),
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
        "order_cost": Column("What placing and handling this order costs you.", amount),
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
