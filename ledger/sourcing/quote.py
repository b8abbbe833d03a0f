"""A supplier's offer: prices, minima, terms, freight, duties, fees, lead time; and an order under it.

Amounts are in minor units (cents), exact fractions where a price is finer than that. The price, the
freight (unless it names a currency of its own), the insurance and a paid sample are in the quote's
currency; duties, entry fees, broker, bond, terminal, delivery, bank fee and assists are paid at home,
in the book's. Quantities are whole quoted units (pieces, packs, bottles).
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from fractions import Fraction

from ledger.sourcing.duties import DutyLayer
from ledger.sourcing.entry_fees import EntryFees

ALL_UNITS = "all_units"
INCREMENTAL = "incremental"
DISCOUNTS = (ALL_UNITS, INCREMENTAL)

PER_SKU = "sku"
PER_COLOUR = "colour"
PER_STYLE = "style"
PER_ORDER = "order"
SCOPES = (PER_SKU, PER_COLOUR, PER_STYLE, PER_ORDER)

DOMESTIC = "domestic"
"""The origin of an offer that crosses no border."""

GROUND = "ground"
COURIER = "courier"
AIR = "air"
OCEAN = "ocean"
MODES = (GROUND, COURIER, AIR, OCEAN)
NOTHING = Fraction(0)


@dataclass(frozen=True)
class PriceBreak:
    """From ``from_quantity`` quoted units on, one costs ``price_minor``."""

    from_quantity: int
    price_minor: Fraction


@dataclass(frozen=True)
class PriceGroup:
    """The breaks of what it covers: one SKU, or a style in some colours and sizes.

    An empty field covers everything: a group without any covers the whole offer.
    """

    breaks: tuple[PriceBreak, ...]
    sku: str = ""
    style: str = ""
    colours: tuple[str, ...] = ()
    sizes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Freight:
    """What carriage costs; every part that is set is added.

    ``per_kg_minor`` is by actual weight, or by chargeable weight where ``volumetric_cm3_per_kg`` is set
    (courier 5000, air 6000), in steps of ``weight_step_grams``. ``per_revenue_ton_minor`` is for ocean
    freight by weight or measure: the greater of tonnes and cubic metres, at least
    ``minimum_revenue_tons``. The sum is at least ``minimum_minor``, and nothing where the goods come to
    ``free_above_minor`` or more. ``inland_minor`` and ``inland_per_unit_minor`` are for the way to the
    port and export clearance, counted apart and only where the terms leave them with the buyer. An empty
    ``currency`` is the quote's.
    """

    per_order_minor: Fraction = NOTHING
    per_unit_minor: Fraction = NOTHING
    per_kg_minor: Fraction = NOTHING
    volumetric_cm3_per_kg: int | None = None
    weight_step_grams: int | None = None
    per_revenue_ton_minor: Fraction = NOTHING
    minimum_revenue_tons: Fraction = Fraction(1)
    minimum_minor: Fraction = NOTHING
    free_above_minor: Fraction | None = None
    inland_minor: Fraction = NOTHING
    inland_per_unit_minor: Fraction = NOTHING
    mode: str = ""
    currency: str = ""


@dataclass(frozen=True)
class Insurance:
    """Cargo insurance: ``rate`` of goods and freight raised by ``uplift`` (1.1 is usual), or an amount."""

    rate: Fraction = NOTHING
    uplift: Fraction = Fraction(1)
    minimum_minor: Fraction = NOTHING
    per_order_minor: Fraction = NOTHING


@dataclass(frozen=True)
class LeadTime:
    """Days from order to goods on the shelf: mean and spread as stated, or what past orders took.

    ``samples`` are what own orders took where they count, ``too_few`` where they do not; see expected_days.
    """

    mean_days: float = 0.0
    sd_days: float = 0.0
    samples: tuple[int, ...] = ()
    from_own_orders: bool = False
    too_few: tuple[int, ...] = ()


@dataclass(frozen=True)
class Deposit:
    """The fraction (0 to 1) paid in advance, that many days before shipping."""

    fraction: Fraction = NOTHING
    days_before_shipping: int = 0


@dataclass(frozen=True)
class Defects:
    """The fraction of pieces that are bad, and what fraction of their price a claim returns."""

    rate: Fraction = NOTHING
    claim_returns: Fraction = NOTHING


@dataclass(frozen=True)
class LocalCosts:
    """What is paid at home for each order that comes in, in the book's minor units.

    ``bond_minor`` is this order's share of an entry bond, due on formal entries only. ``assist_minor``
    and ``assist_per_unit_minor`` are the value of what the buyer gives the factory free of charge
    (neck labels, hang tags): part of the customs value, and no payment of this order.
    """

    brokerage_minor: int = 0
    bond_minor: int = 0
    terminal_minor: int = 0
    delivery_minor: int = 0
    bank_fee_minor: int = 0
    assist_minor: int = 0
    assist_per_unit_minor: Fraction = NOTHING


@dataclass(frozen=True)
class OrderRules:
    """How much may be ordered, in quoted units; 0 is no limit.

    ``minimum`` holds for the whole order and ``minimum_per_colour`` for each colour in it, both at once.
    ``size_ratio`` is a prepack: sizes with the pieces of each in one pack.
    """

    minimum: int = 1
    minimum_per_colour: int = 0
    multiple: int = 1
    maximum: int = 0
    size_ratio: tuple[SizeShare, ...] = ()


@dataclass(frozen=True)
class SizeShare:
    """How many pieces of a size one prepack holds."""

    size: str
    pieces: int


@dataclass(frozen=True)
class Quote:
    """One offer of one supplier, as it stands.

    Attributes:
        name: what the offer is called in comparisons.
        supplier: who makes it; empty in a study.
        origin: DOMESTIC, or the ISO 3166 country the goods come from.
        currency: of the prices, by ISO 4217.
        prices: the price groups; the first that covers a line holds for it.
        discount: ALL_UNITS or INCREMENTAL.
        break_scope: the quantity a break is looked up by: of the SKU, the colour, the style or the order.
        rules: minimum, multiple, maximum, prepack.
        terms: a code of ``catalogue.terms``; empty where the offer does not say.
        unit_factor: base units in one quoted unit: 1 for a shirt, 100 for a pack of a hundred sheets.
        duty: the offer's own duty layers.
        duty_base: FOB (without international freight and insurance) or CIF.
        included_freight_minor: international freight and insurance that the price includes and the
            invoice states separately, for each order; in the quote's currency.
        entry_fees: the destination's fees, or None for none.
        cost_per_order_minor: the shop's own cost of placing this order, where the offer has its own.
        quantity: the order quantity of a study; 0 leaves it open.
        unquoted: the parts of a landed cost that are the buyer's by the terms and that the offer says
            nothing of, not even 0: what it comes to landed is not known.
        unstated: what may be due at home besides and the offer says nothing of: counted as none, and told.
        is_taken_as_free: whether freight is counted as none only because neither terms nor freight are stated.
    """

    name: str
    supplier: str = ""
    origin: str = DOMESTIC
    currency: str = "USD"
    prices: tuple[PriceGroup, ...] = ()
    discount: str = ALL_UNITS
    break_scope: str = PER_ORDER
    rules: OrderRules = OrderRules()
    terms: str = ""
    unit: str = ""
    unit_factor: Fraction = Fraction(1)
    freight: Freight = Freight()
    insurance: Insurance = Insurance()
    duty: tuple[DutyLayer, ...] = ()
    duty_base: str = "FOB"
    included_freight_minor: Fraction = NOTHING
    entry_fees: EntryFees | None = None
    local: LocalCosts = LocalCosts()
    defects: Defects = Defects()
    sample_minor: Fraction = NOTHING
    lead_time: LeadTime = LeadTime()
    deposit: Deposit = Deposit()
    closures: tuple[str, ...] = ()
    customs_class: str = ""
    valid_from: datetime.date | None = None
    valid_until: datetime.date | None = None
    quoted_on: datetime.date | None = None
    cost_per_order_minor: int | None = None
    quantity: int = 0
    note: str = ""
    unquoted: tuple[str, ...] = ()
    unstated: tuple[str, ...] = ()
    is_taken_as_free: bool = False

    @property
    def is_domestic(self) -> bool:
        """Whether the offer says that it crosses no border."""
        return self.origin == DOMESTIC

    def is_expired(self, on: datetime.date) -> bool:
        """Return whether the offer no longer stands on a day; its last day still does."""
        return self.valid_until is not None and on > self.valid_until


@dataclass(frozen=True)
class OrderLine:
    """Some quoted units of one thing; weight and volume are of one quoted unit, None where not known.

    An empty ``customs_class`` or ``origin`` is the quote's.
    """

    quantity: int
    sku: str = ""
    style: str = ""
    colour: str = ""
    size: str = ""
    weight_grams: Fraction | None = None
    volume_cm3: Fraction | None = None
    customs_class: str = ""
    origin: str = ""


@dataclass(frozen=True)
class OrderQuantities:
    """An order to be costed: its lines, and whether a paid sample goes before it."""

    lines: tuple[OrderLine, ...]
    with_sample: bool = False
    total_units: int = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "total_units", sum(line.quantity for line in self.lines))

    @classmethod
    def of(cls, quantity: int, *, with_sample: bool = False) -> OrderQuantities:
        """Return an order of that many units of whatever the offer is for."""
        return cls((OrderLine(quantity),), with_sample)


@dataclass(frozen=True)
class Entry:
    """The circumstances an order is brought in under.

    Attributes:
        on: the entry date, which picks duties and fees; for a domestic offer the day of purchase.
        currency: the book's, by ISO 4217.
        rate: the book's currency for one unit of the quote's currency; 1 where they are the same.
        freight_rate: the same for the freight's own currency; None where it has none of its own.
        dollar_rate: the same for the US dollar, where US entry fees are due in a book of another currency.
        customs_rate: the rate customs converts at, None for ``rate``.
        destination: the ISO 3166 country the goods come to.
        duty_layers: the book's dated layers, used where the quote has none of its own.
        today: for judging how old a checked rate is; None for no such warning.
    """

    on: datetime.date
    currency: str = "USD"
    rate: Fraction = Fraction(1)
    freight_rate: Fraction | None = None
    dollar_rate: Fraction | None = None
    customs_rate: Fraction | None = None
    destination: str = "US"
    duty_layers: tuple[DutyLayer, ...] = ()
    today: datetime.date | None = None
