"""The invented sample shop's March as plain data: the events sheet and the count at its end.

Every order, customer, price and fee here is invented. The fee stands for what an invented
marketplace keeps: 7% of what the customer pays and 25 cents.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from sample_shop import DOMESTIC, DOMESTIC_REFERENCE

EVENT_COLUMNS = (
    *("date", "event", "sku", "quantity", "unit", "amount", "party", "reference", "applies_to", "kind"),
    *("basis", "tax_paid", "shipping", "fees", "note"),
)
COUNT_COLUMNS = ("sku", "unit", "counted", "note")
MONTH = "2026-03"
COUNT_DAY = dt.date(2026, 3, 31)

REORDER = "TW-26-0311"
CLUB = "Larkhill Climbing Club"
CAFE = "Copper Kettle Cafe"
FAIR = "Larkhill School Fair"

_FEE_PERCENT, _FEE_EACH = Decimal(7), Decimal("0.25")


@dataclass(frozen=True)
class Event:
    """One row of the events sheet, its cells as they are typed."""

    day: int
    event: str
    sku: str = ""
    quantity: str = ""
    unit: str = ""
    amount: str = ""
    party: str = ""
    reference: str = ""
    applies_to: str = ""
    kind: str = ""
    basis: str = ""
    tax_paid: str = ""
    shipping: str = ""
    fees: str = ""
    note: str = ""

    @property
    def date(self) -> dt.date:
        """The day it happened."""
        return dt.date.fromisoformat(f"{MONTH}-{self.day:02d}")

    @property
    def cells(self) -> tuple[str, ...]:
        """The row as it stands in the file."""
        values = {"date": self.date.isoformat(), **vars(self)}
        return tuple(str(values[column]) for column in EVENT_COLUMNS)


def _job(day: int, number: str, sku: str, good: int, **more: str) -> Event:
    return Event(day, "make", sku, str(good), reference=f"J-{number}", **more)


def _online(day: int, order: str, sku: str, pieces: int, amount: str, shipping: str = "4.75") -> Event:
    """Return a sale through the marketplace, which keeps its fee."""
    paid = Decimal(amount) + Decimal(shipping)
    fee = (paid * _FEE_PERCENT / 100 + _FEE_EACH).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)
    more = {"reference": f"SA-{order}", "shipping": shipping, "fees": str(fee)}
    return Event(day, "sell", sku, str(pieces), amount=amount, **more)


def _stall(day: int, sku: str, pieces: int, amount: str) -> Event:
    """Return a sale at the Saturday market, for cash."""
    return Event(day, "sell", sku, str(pieces), amount=amount, reference=f"market {MONTH}-{day:02d}")


def _ordered(day: int, party: str, reference: str, sku: str, pieces: int, amount: str) -> Event:
    """Return a small order, fetched at the shop and paid without a fee."""
    return Event(day, "sell", sku, str(pieces), amount=amount, party=party, reference=reference)


def _bought(day: int, sku: str, pieces: int, amount: str) -> Event:
    more = {"party": DOMESTIC, "reference": REORDER, "tax_paid": "resale"}
    return Event(day, "receive", sku, str(pieces), amount=amount, **more)


EVENTS: tuple[Event, ...] = (
    Event(2, "use", "CLN-FLUSH", "20", note="Weekly flush of the film printer."),
    Event(2, "use", "INK-FLM-WHT", "4", "mL", note="Priming after the weekend."),
    _job(2, "301", "FOX-BLK-L", 11),
    _job(2, "301", "FOX-BLK-L", 1, kind="normal", note="Powder on the edge of the film."),
    _online(3, "1041", "FOX-BLK-L", 1, "24.00"),
    _job(3, "302", "CREST-HNV-M", 7, note="The 35 cents a piece for paid help are in the bill."),
    _job(3, "303", "POND-WHT-M", 6),
    _job(4, "304", "ATLAS-BLK-XL", 6),
    _online(4, "1042", "CREST-HNV-M", 2, "46.00", "6.25"),
    _job(5, "305", "STAR-BLK-S", 4),
    _job(5, "305", "STAR-BLK-S", 1, kind="abnormal", note="The press stood at the wrong temperature."),
    _job(5, "306", "HARBOUR-WHT-M", 6),
    _job(6, "307", "KELP-WHT-L", 3),
    _online(6, "1043", "POND-WHT-M", 1, "22.00"),
    _online(6, "1044", "HARBOUR-WHT-M", 2, "46.00", "6.25"),
    _stall(7, "FOX-BLK-L", 3, "66.00"),
    _stall(7, "ATLAS-BLK-XL", 2, "46.00"),
    _stall(7, "STAR-BLK-S", 1, "28.00"),
    _online(8, "1045", "FOX-WHT-M", 1, "24.00"),
    Event(9, "use", "CLN-FLUSH", "20", note="Weekly flush of the film printer."),
    _job(9, "308", "FOX-BUY-BLK-M", 6, note="The printer was down: transfers bought in."),
    _online(9, "1046", "FOX-BUY-BLK-M", 2, "48.00", "6.25"),
    _bought(10, "WREN-HNV-M", 6, "21.00"),
    _bought(10, "WREN-HNV-L", 12, "42.00"),
    Event(
        10,
        "charge",
        amount="9.80",
        party=DOMESTIC,
        reference=f"{REORDER}-F",
        applies_to=f"{DOMESTIC}/{REORDER}",
        kind="freight",
        basis="quantity",
    ),
    _job(11, "309", "CREST-HNV-L", 20, party=CLUB),
    _ordered(12, CLUB, "LC-12", "CREST-HNV-L", 20, "390.00"),
    _online(12, "1047", "FOX-BUY-BLK-M", 1, "24.00"),
    _job(13, "310", "GATE-NVY-L", 23, amount="18.00", note="Paid help at the press."),
    _job(13, "310", "GATE-NVY-L", 1, kind="normal", note="First print of the screen."),
    _ordered(14, CAFE, "CK-3", "GATE-NVY-L", 12, "240.00"),
    _job(14, "311", "HARE-BLK-L", 8),
    _job(14, "312", "HARE-WHT-M", 6),
    _stall(14, "HARE-BLK-L", 2, "52.00"),
    _stall(14, "GATE-NVY-L", 3, "66.00"),
    _stall(14, "FOX-BLK-L", 2, "44.00"),
    _stall(14, "KELP-WHT-L", 1, "28.00"),
    Event(16, "use", "CLN-FLUSH", "30", note="Flush of both printers."),
    Event(16, "use", "INK-GAR-WHT", "6", "mL", note="Priming: white settles."),
    Event(16, "take_back", "FOX-BLK-L", "1", amount="24.00", reference="SA-1041", note="Wanted an XL."),
    _online(16, "1048", "FOX-BLK-XL", 1, "24.00"),
    Event(17, "refund", "CREST-HNV-M", amount="5.00", reference="SA-1042", note="A loose edge; kept."),
    _ordered(17, CAFE, "CK-4", "WAVES-OWN", 4, "48.00"),
    _online(18, "1049", "HARE-WHT-M", 1, "26.00"),
    _online(18, "1050", "FOX-BLK-L", 1, "24.00"),
    Event(18, "spoil", "WREN-WHT-L", "1", kind="normal", note="Fingerprint of ink."),
    Event(18, "spoil", "FOX-BLK-L", "1", kind="abnormal", note="Scorched while pressing it smooth."),
    Event(19, "own_use", "GATE-NVY-L", "1"),
    Event(19, "sample", "HARE-BLK-L", "1", party=CAFE, note="To see the print before they order."),
    Event(20, "donate", "POND-WHT-M", "2", party=FAIR),
    Event(
        20,
        "send_back",
        "HERON-BRK-L",
        "3",
        party=DOMESTIC,
        applies_to=f"{DOMESTIC}/{DOMESTIC_REFERENCE}",
        note="Crooked seams. The freight is not credited.",
    ),
    _online(20, "1051", "STAR-BLK-S", 1, "28.00"),
    Event(20, "count", "INK-SUB-K", "259.2", "g", note="Weighed, the bottle taken off."),
    _stall(21, "ATLAS-BLK-XL", 1, "23.00"),
    _stall(21, "GATE-NVY-L", 2, "44.00"),
    _stall(21, "HARBOUR-WHT-M", 1, "23.00"),
    _stall(21, "CREST-HNV-M", 2, "44.00"),
    Event(23, "use", "CLN-FLUSH", "20", note="Weekly flush of the film printer."),
    _job(24, "313", "POND-BLK-M", 4),
    _job(24, "314", "STAR-WHT-M", 4),
    _ordered(25, CLUB, "LC-13", "FOX-HNV-XL", 6, "114.00"),
    _online(25, "1052", "KELP-WHT-XL", 1, "28.00"),
    _online(26, "1053", "POND-BLK-M", 1, "22.00"),
    _online(26, "1054", "HARE-BLK-L", 1, "26.00"),
    _job(27, "315", "ATLAS-HNV-M", 4),
    _job(27, "316", "FOX-BLK-L", 6),
    _stall(28, "FOX-BLK-L", 4, "88.00"),
    _stall(28, "STAR-WHT-M", 2, "54.00"),
    _stall(28, "ATLAS-HNV-M", 1, "23.00"),
    _stall(28, "HARE-WHT-M", 2, "52.00"),
    Event(30, "use", "CLN-FLUSH", "30", note="Flush of both printers."),
    Event(30, "use", "PRE-DARK", "25", "g", note="Cleaning the spray gun."),
    Event(30, "write_down", "HERON-BRK-M", amount="14.00", note="Six faded in the window."),
)

COUNTED: tuple[tuple[str, str, str], ...] = (
    ("WREN-BLK-S", "7", ""),
    ("WREN-BLK-M", "62", ""),
    ("WREN-BLK-L", "122", "One is nowhere to be found."),
    ("WREN-BLK-XL", "65", ""),
    ("WREN-WHT-L", "71", ""),
    ("WREN-WHT-XL", "25", "One more than the book says: it lay among the 2XL."),
    ("WREN-HNV-L", "10", ""),
    ("HERON-BRK-L", "7", ""),
    ("TERN-WHT-M", "6", ""),
    ("PAP-INK-LGT-A4", "14", ""),
    ("TRF-FOX", "18", ""),
    ("POW-MED", "930", "Weighed, the bag taken off."),
    ("INK-PLA-WHT", "1105", "Weighed, the can taken off."),
    ("INK-FLM-WHT", "451", "By the scale of the bottle."),
)
"""What was there at the end of the day: SKU, in its base unit, and what was noted beside it."""
