"""The invented sample shop's papers as plain data: what its three suppliers wrote on them.

Every name, style, price and number here is invented. Rates of duty and entry fees are examples
of rows a shop would enter with dates and a source, not advice: the importer asks a broker.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

SHOP = "Sorrel Attic Shirts"
FIRST_MONTH = "2026-01"
LAST_DAY = dt.date(2026, 3, 31)
"""The day the figures speak of: 'what expires within 30 days' counts from here."""

DOMESTIC = "Tarnwick Blank Goods"
OVERSEAS = "Nine Sparrows Knitting Mill"
CONSUMABLES = "Dunnoway Craft Supply"
BROKER = "Harrowgull Customs Brokers"
CARRIER = "Palewater Forwarding"

INCH_CM = Fraction("2.54")
YARD_CM = Fraction("91.44")


@dataclass(frozen=True)
class BlankRow:
    """One row of the domestic invoice; ``price`` is per piece before the size's surcharge."""

    style: str
    description: str
    colour: str
    size: str
    unit: str
    quantity: int
    price: Decimal
    discount_percent: int = 0
    short: int = 0
    damaged: int = 0


COLOUR_CODES = {"White": "WHT", "Black": "BLK", "Heather Navy": "HNV", "Brick Red": "BRK"}
SURCHARGES = {"2XL": Decimal("1.35"), "3XL": Decimal("1.85")}
CASE_PIECES = 72
LARGE_CASE_PIECES = 36
YOUTH_SIZES = {"YXS": "XS", "YS": "S", "YM": "M", "YL": "L", "YXL": "XL"}
STYLE_WEIGHT_MG = {"Wren": 150_000, "Heron": 205_000, "Finch": 105_000}

_DESCRIPTIONS = {
    "Wren": "Wren midweight tee",
    "Heron": "Heron heavyweight tee",
    "Finch": "Finch youth tee",
}
# Style, colour, price a piece, and the sizes: 24 is pieces, 1c is a case.
_BLANKS = (
    ("Wren", "White", "2.85", "S 12, M 1c, L 1c, XL 24, 2XL 12, 3XL 6"),
    ("Wren", "Black", "3.15", "S 12, M 1c, L 2c, XL 1c, 2XL 1c, 3XL 6"),
    ("Wren", "Heather Navy", "3.35", "M 18, L 18, XL 12"),
    ("Heron", "Black", "4.65", "M 24, L 1c, XL 24, 2XL 8, 3XL 5"),
    ("Heron", "Brick Red", "4.65", "M 10, L 10, XL 10"),
    ("Finch", "White", "2.80", "YS 10, YM 12, YL 12"),
    ("Finch", "Heather Navy", "2.95", "YM 8, YL 8"),
)
_CASE_DISCOUNT_PERCENT = 4
_SHORT_ROW = ("Wren", "Black", "L")


def blank_rows() -> tuple[BlankRow, ...]:
    """Return the domestic invoice's rows in the order they stand on the paper."""
    rows = []
    for style, colour, price, sizes in _BLANKS:
        for size, amount in (part.split() for part in sizes.split(", ")):
            in_cases = amount.endswith("c")
            is_short = (style, colour, size) == _SHORT_ROW
            rows.append(
                BlankRow(
                    style=style,
                    description=_DESCRIPTIONS[style],
                    colour=colour,
                    size=size,
                    unit="CS" if in_cases else "EA",
                    quantity=int(amount.removesuffix("c")),
                    price=Decimal(price),
                    discount_percent=_CASE_DISCOUNT_PERCENT if in_cases else 0,
                    short=2 if is_short else 0,
                    damaged=1 if is_short else 0,
                )
            )
    return tuple(rows)


DOMESTIC_REFERENCE = "TW-26-0117"
DOMESTIC_DATE = dt.date(2026, 1, 12)
DOMESTIC_RECEIVED = dt.date(2026, 1, 14)
DOMESTIC_DISCOUNT = Decimal("45.00")
DOMESTIC_FREIGHT = Decimal("64.80")


@dataclass(frozen=True)
class PackingRow:
    """One row of the overseas packing list, sizes across; ``price`` in yuan per piece."""

    colour: str
    cartons: str
    pieces: dict[str, int]
    piece_kg: Decimal
    price: Decimal
    short: int = 0

    @property
    def total_pieces(self) -> int:
        """Pieces of all sizes."""
        return sum(self.pieces.values())

    @property
    def net_kg(self) -> Decimal:
        """Net weight of the whole row, as printed."""
        return self.total_pieces * self.piece_kg


PACKING_SIZES = ("S", "M", "L", "XL", "2XL")
PACKING_STYLE = "NS-07"
PACKING_COLOURS = {"Paper White": "WHT", "Ink Black": "BLK", "Night Navy": "NVY", "Moss": "MOS"}


def _regular(colour: str, cartons: str, pieces: str, price: str) -> PackingRow:
    by_size = dict(zip(PACKING_SIZES, map(int, pieces.split()), strict=False))
    return PackingRow(colour, cartons, by_size, Decimal("0.18"), Decimal(price))


def _large(colour: str, carton: str, pieces: int, price: str, short: int = 0) -> PackingRow:
    return PackingRow(colour, carton, {"2XL": pieces}, Decimal("0.21"), Decimal(price), short)


PACKING_ROWS = (
    _regular("Paper White", "1-3", "24 48 54 36", "14.80"),
    _regular("Ink Black", "4-6", "24 54 60 42", "15.60"),
    _regular("Night Navy", "7-9", "18 42 48 30", "15.60"),
    _regular("Moss", "10-11", "18 36 36 24", "15.95"),
    _large("Paper White", "12", 24, "16.90"),
    _large("Ink Black", "13", 36, "17.70", short=2),
    _large("Night Navy", "14", 24, "17.70"),
    _large("Moss", "15", 18, "18.05"),
)
OVERSEAS_REFERENCE = "NS 2026-0041"
OVERSEAS_DATE = dt.date(2026, 2, 3)
OVERSEAS_RECEIVED = dt.date(2026, 3, 12)
OVERSEAS_RATE = "0.1462"
"""Dollars per yuan on the day the goods were loaded, typed as the bank charged it."""

ORDER_REFERENCE = "SA 2026-1"
ORDERED = dt.date(2026, 1, 20)
SHIPPED = dt.date(2026, 2, 24)
ON_BOARD = dt.date(2026, 2, 26)
"""From this day on the goods are the shop's: FOB, the risk passes on board."""


@dataclass(frozen=True)
class SampleCharge:
    """A charge as its words say it; ``percent`` is of the lines' value.

    One that is ``of_all_sent`` goes by the weight of all pieces, those missing at arrival among them.
    """

    kind: str
    basis: str
    amount: Decimal | None = None
    percent: Decimal | None = None
    minimum: Decimal | None = None
    maximum: Decimal | None = None
    only: tuple[str, ...] = ()
    of_all_sent: bool = False

    @property
    def words(self) -> str:
        """The charge as it is typed after --charge."""
        size = f"{self.percent}%" if self.percent is not None else f"{self.amount}"
        limits = f" min {self.minimum} max {self.maximum}" if self.minimum is not None else ""
        return f"{self.kind} {size}{limits} by {self.basis}"


INSURANCE = SampleCharge("insurance", "value", amount=Decimal("8.40"), of_all_sent=True)
"""Taken out when the goods are handed to the carrier."""
FREIGHT = SampleCharge("freight", "weight", amount=Decimal("236.00"), of_all_sent=True)
"""Billed when the month the goods were loaded in is closed, and they are still under way."""
FREIGHT_REFERENCE = "PF-208"
FREIGHT_DATE = dt.date(2026, 3, 5)
# The duty is an example: 16.5% general rate of cotton T-shirts, 7.5% and 10% added for goods of
# China entered in March 2026. The entry fee has its minimum of that fiscal year; the second one is
# the harbor fee on ocean cargo.
ARRIVAL_CHARGES = (
    SampleCharge("duty", "value", percent=Decimal(34)),
    SampleCharge(
        "entry_fee",
        "value",
        percent=Decimal("0.3464"),
        minimum=Decimal("33.58"),
        maximum=Decimal("651.50"),
    ),
    SampleCharge("entry_fee", "value", percent=Decimal("0.125")),
    SampleCharge("terminal", "weight", amount=Decimal("61.00")),
    SampleCharge("delivery", "quantity", amount=Decimal("92.50")),
)
BROKER_CHARGE = SampleCharge("brokerage", "value", amount=Decimal("125.00"))
BROKER_REFERENCE = "HG-5530"
BROKER_DATE = dt.date(2026, 3, 20)


@dataclass(frozen=True)
class SupplyRow:
    """One row of the consumables invoice; ``per_unit`` is base units in one of ``unit``."""

    code: str
    sku: str
    description: str
    quantity: int
    unit: str
    per_unit: Fraction
    price: Decimal
    discount_percent: int = 0
    best_before: dt.date | None = None
    tax: str = "resale"
    is_stocked: bool = True


CONSUMABLES_REFERENCE = "84417"
CONSUMABLES_DATE = dt.date(2026, 2, 18)
CONSUMABLES_RECEIVED = dt.date(2026, 2, 20)
CONSUMABLES_FREIGHT = Decimal("18.75")
SALES_TAX = Decimal("10.42")
"""Six per cent of the rows taxed: what is used up in the shop rather than sold."""
TAXED = ("PAP-SUB-A4", "FILM-33", "FILM-A3", "TAPE-HEAT", "CLN-SCREEN")

_ROLL_CM2 = Fraction("11.8") * INCH_CM * 5 * YARD_CM
_SHEET_CM2 = (12 * INCH_CM) ** 2
_FILM_CM2 = Fraction("33.02") * 10_000
_INK_ML = Fraction(127)
_QUART_ML = 231 * INCH_CM**3 / 4
# A litre bought, kept in grams at 1.02 g per mL.
_PRETREATMENT_G = Fraction(1000) * Fraction("1.02")


def _day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def supply(
    code: str, sku: str, description: str, bought: str, per_unit: Fraction | int, **more: object
) -> SupplyRow:
    """Return a row; ``bought`` is the quantity, the unit and the price: '2 roll 27.50'."""
    quantity, unit, price = bought.split()
    return SupplyRow(code, sku, description, int(quantity), unit, Fraction(per_unit), Decimal(price), **more)  # type: ignore[arg-type]


SUPPLY_ROWS = (
    supply("2101", "VIN-BLK", "Garment vinyl matt black 12 in x 5 yd", "2 roll 27.50", _ROLL_CM2),
    supply("2102", "VIN-WHT", "Garment vinyl matt white 12 in x 5 yd", "1 roll 27.50", _ROLL_CM2),
    supply("2140", "VIN-GLD", "Glitter vinyl gold 12 in x 12 in", "10 sheet 2.35", _SHEET_CM2),
    supply("2201", "PAP-SUB-A4", "Sublimation paper A4, 100 sheets", "2 pack 14.90", 100, tax="yes"),
    supply(
        "2301",
        "INK-SUB-C",
        "Sublimation ink cyan 127 mL",
        "1 bottle 16.40",
        _INK_ML,
        best_before=_day("2027-05-31"),
    ),
    supply(
        "2302",
        "INK-SUB-M",
        "Sublimation ink magenta 127 mL, short dated",
        "1 bottle 16.40",
        _INK_ML,
        discount_percent=15,
        best_before=_day("2026-04-18"),
    ),
    supply(
        "2303",
        "INK-SUB-Y",
        "Sublimation ink yellow 127 mL",
        "1 bottle 16.40",
        _INK_ML,
        best_before=_day("2027-05-31"),
    ),
    supply(
        "2304",
        "INK-SUB-K",
        "Sublimation ink black 127 mL",
        "2 bottle 16.40",
        _INK_ML,
        best_before=_day("2027-08-31"),
    ),
    supply("2401", "FILM-33", "Transfer film 33.02 cm x 100 m", "1 roll 88.00", _FILM_CM2, tax="yes"),
    supply("2402", "FILM-A3", "Transfer film A3, 50 sheets", "1 pack 21.50", 50, tax="yes"),
    supply(
        "2410",
        "POW-MED",
        "Transfer powder medium 1 kg",
        "1 bag 23.75",
        1000,
        best_before=_day("2026-04-27"),
    ),
    supply("2501", "STN-10-CRY", "Hotfix stones size 10 crystal, ten gross", "2 TG 9.80", 1440),
    supply("2502", "STN-16-JET", "Hotfix stones size 16 jet, ten gross", "1 TG 12.60", 1440),
    supply("2601", "TAPE-HEAT", "Heat tape 10 mm x 33 m", "3 roll 3.95", 3300, tax="yes"),
    supply("2701", "TRF-SUNFLOWER", "Ready transfer sunflower", "40 each 0.85", 1),
    supply("2702", "TRF-WAVES", "Ready transfer three waves", "25 each 1.10", 1),
    supply(
        "2801",
        "PRE-LIGHT",
        "Pretreatment for light shirts 1 L",
        "1 bottle 28.40",
        _PRETREATMENT_G,
        best_before=_day("2026-09-30"),
    ),
    supply(
        "2901",
        "CLN-SCREEN",
        "Screen cleaner, quart",
        "2 bottle 11.25",
        _QUART_ML,
        tax="yes",
        is_stocked=False,
    ),
)
