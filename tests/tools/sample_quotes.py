"""The sample shop's quotes and duties, and what they must give: run ``python tests/tools/sample_quotes.py``.

Everything is invented but the names of duty programs; the rates are examples, as their rows say. The
figures are worked out here with fractions, one step after the other, apart from the program's own code.
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

SAMPLES = Path(__file__).resolve().parents[2] / "samples"

TODAY = "2026-04-02"
ENTRY = "2026-05-20"
YUAN = Fraction("0.1462")
"""Dollars for one yuan, as typed: --rate CNY=0.1462."""

DOMESTIC = "Tarnwick Blank Goods"
CRAFT = "Dunnoway Craft Supply"
OVERSEAS = "Nine Sparrows Knitting Mill"
FAR_PRINT = "Lanternfish Print Materials"

QUOTES: tuple[dict[str, str], ...] = (
    {
        "supplier": DOMESTIC, "style": "Wren", "sizes": "S-XL", "prices": "1 = 4.35; 72 = 3.85; 288 = 3.60",
        "terms": "shipping point", "mode": "ground", "freight_per_order": "14.00", "free_above": "200",
        "lead_days": "4", "lead_spread": "1", "quoted_on": "2026-03-25", "valid_until": "2026-12-31",
    },
    {"supplier": DOMESTIC, "style": "Wren", "sizes": "2XL-3XL", "prices": "1 = 6.10; 36 = 5.55"},
    {
        "supplier": DOMESTIC, "style": "Plover", "prices": "1 = 3.70; 72 = 3.20", "terms": "shipping point",
        "mode": "ground", "freight_per_order": "14.00", "free_above": "200", "lead_days": "4",
        "lead_spread": "1", "quoted_on": "2026-03-25", "valid_until": "2026-12-31",
    },
    {
        "supplier": OVERSEAS, "offer": "knit to order", "style": "Wren", "prices": "300 = 11.20; 600 = 10.40",
        "currency": "CNY", "breaks_by": "style", "minimum": "300", "minimum_per_colour": "100",
        "multiple": "12", "terms": "FOB", "origin": "CN", "mode": "ocean", "freight_per_kg": "9.80",
        "brokerage": "140", "bond": "80", "terminal": "61", "delivery": "92.50", "bank_fee": "35",
        "lead_days": "55", "lead_spread": "12", "deposit": "30%", "deposit_days": "20", "defects": "2%",
        "claim_returns": "50%", "sample": "300", "quoted_on": "2026-03-28",
    },
    {
        "supplier": OVERSEAS, "offer": "knit to order", "style": "Plover", "prices": "300 = 10.80; 600 = 9.90",
    },
    {
        "supplier": CRAFT, "sku": "PAP-SUB-A4", "unit": "pack", "prices": "1 = 14.90; 5 = 13.90; 10 = 12.90",
        "freight_per_order": "8.75", "free_above": "75", "terms": "shipping point", "quoted_on": "2026-03-30",
    },
    {
        "supplier": CRAFT, "sku": "INK-FLM-WHT", "unit": "bottle", "prices": "1 = 46.00; 3 = 42.50",
        "freight_per_order": "8.75", "free_above": "75", "terms": "shipping point", "quoted_on": "2026-03-30",
    },
    {
        "supplier": CRAFT, "sku": "FILM-A3", "unit": "pack", "prices": "1 = 21.50; 10 = 19.80",
        "freight_per_order": "8.75", "free_above": "75", "terms": "shipping point", "quoted_on": "2026-03-30",
    },
    {
        "supplier": FAR_PRINT, "sku": "PAP-SUB-A4", "unit": "500 sheet", "prices": "4 = 52.00; 20 = 44.00",
        "currency": "USD", "minimum": "4", "terms": "DDP", "origin": "CN", "mode": "courier",
        "lead_days": "9", "lead_spread": "2", "quoted_on": "2026-03-30",
    },
    {
        "supplier": FAR_PRINT, "sku": "INK-FLM-WHT", "unit": "1 L", "prices": "6 = 38.00; 24 = 33.00",
        "currency": "USD", "minimum": "6", "terms": "FCA", "origin": "CN", "mode": "air",
        "customs_class": "3215.19", "freight_per_order": "96.00", "brokerage": "65", "lead_days": "12",
        "lead_spread": "3", "quoted_on": "2026-03-30",
    },
    {
        "supplier": FAR_PRINT, "sku": "FILM-A3", "unit": "100 sheet", "prices": "20 = 24.00; 60 = 21.00",
        "currency": "USD", "minimum": "20", "terms": "CIF", "origin": "CN", "mode": "ocean",
        "customs_class": "3920.62", "included_freight": "60.00", "brokerage": "125", "terminal": "61",
        "delivery": "92.50", "lead_days": "50", "lead_spread": "10", "quoted_on": "2026-03-30",
    },
)  # fmt: skip
"""The offers: two styles, paper, ink and film, each from near and from far."""

_SEEN = {"checked_on": "2026-03-20", "example": "yes"}
DUTIES: tuple[dict[str, str], ...] = (
    {"program": "general", "customs_class": "6109.10", "origin": "any", "rate": "16.5%", "source": "customs ruling NY N352158", **_SEEN},
    {"program": "general", "customs_class": "3215.19", "origin": "any", "rate": "1.8%", "source": "tariff schedule", **_SEEN},
    {"program": "general", "customs_class": "3920.62", "origin": "any", "rate": "4.2%", "source": "tariff schedule", **_SEEN},
    {"program": "section 301 list 4A", "customs_class": "6109", "origin": "CN", "rate": "7.5%", "from": "2020-02-14", "source": "tariff schedule, chapter 99", **_SEEN},
    {"program": "section 301 list 3", "customs_class": "32", "origin": "CN", "rate": "25%", "from": "2019-05-10", "source": "tariff schedule, chapter 99", **_SEEN},
    {"program": "section 301 list 3", "customs_class": "39", "origin": "CN", "rate": "25%", "from": "2019-05-10", "source": "tariff schedule, chapter 99", **_SEEN},
    {"program": "section 122", "customs_class": "any", "origin": "any", "rate": "10%", "from": "2026-02-24", "until": "2026-07-24", "source": "tariff schedule, chapter 99", **_SEEN},
)  # fmt: skip
"""Example rows; a shop puts its own in their place."""

QUOTE_COLUMNS = (
    *("supplier", "offer", "sku", "style", "sizes", "prices", "unit", "currency", "breaks_by", "minimum"),
    *("minimum_per_colour", "multiple", "terms", "origin", "customs_class", "quoted_on", "valid_until"),
    *("mode", "freight_per_order", "freight_per_kg", "free_above", "included_freight", "brokerage", "bond"),
    *("terminal", "delivery", "bank_fee", "lead_days", "lead_spread", "deposit", "deposit_days", "defects"),
    *("claim_returns", "sample"),
)
DUTY_COLUMNS = (
    *("program", "customs_class", "origin", "rate", "from", "until", "source", "checked_on", "example"),
)


def cents(value: Fraction) -> int:
    """Return whole cents of an amount in dollars, a half rounded up (nothing here is negative)."""
    return int(value * 100 + Fraction(1, 2))


@dataclass(frozen=True)
class Figure:
    """What one question must give: every part in cents, and the cost of a good base unit."""

    what: str
    quantity: int
    offer: str
    buys: int
    parts: dict[str, int]
    good_units: Fraction

    @property
    def total(self) -> int:
        """The whole order landed, in cents."""
        return sum(self.parts.values())

    def as_data(self) -> dict[str, object]:
        """Return the figure as the file holds it."""
        unit = Fraction(self.total, 100) / self.good_units
        millionths = int(unit * 10**6 + Fraction(1, 2))
        return {
            "what": self.what,
            "quantity": self.quantity,
            "offer": self.offer,
            "buys": self.buys,
            "parts": {
                name: f"{amount // 100}.{amount % 100:02d}"
                if amount >= 0
                else f"-{-amount // 100}.{-amount % 100:02d}"
                for name, amount in self.parts.items()
            },
            "total": f"{self.total // 100}.{self.total % 100:02d}",
            "landed_per_unit": f"{millionths // 10**6}.{millionths % 10**6:06d}",
        }


def shirts_at_home(what: str, style: str, quantity: int, price: str) -> Figure:
    """Return shirts from the domestic wholesaler; from 200 dollars the freight of 14 is free."""
    goods = cents(Fraction(price) * quantity)
    freight = {} if goods >= 200_00 else {"freight": 14_00}
    return Figure(
        what, quantity, f"{DOMESTIC}, {style}", quantity, {"goods": goods, **freight}, Fraction(quantity)
    )


def shirts_from_afar(what: str, wanted: int, buys: int, price_yuan: str, grams: int) -> Figure:
    """Return shirts from the mill, FOB: 34% duty on 20 May 2026, fees of fiscal year 2026, 2% bad."""
    goods = cents(Fraction(price_yuan) * buys * YUAN)
    freight = cents(Fraction("9.80") * buys * grams / 1000 * YUAN)
    duty = cents(Fraction(goods, 100) * (Fraction("0.165") + Fraction("0.075") + Fraction("0.10")))
    is_formal = goods > 2500_00
    formal = min(max(cents(Fraction(goods, 100) * Fraction("0.003464")), 33_58), 651_50)
    claim = cents(Fraction(goods, 100) * Fraction("0.02") * Fraction("0.5"))
    parts = {
        "goods": goods,
        "freight": freight,
        "duty": duty,
        "processing fee": formal if is_formal else 2_69,
        "harbor fee": cents(Fraction(goods, 100) * Fraction("0.00125")),
        "brokerage": 140_00,
        **({"bond": 80_00} if is_formal else {}),
        "terminal": 61_00,
        "delivery": 92_50,
        "bank fee": 35_00,
        "claim for defects": -claim,
    }
    return Figure(what, wanted, f"{OVERSEAS}, knit to order", buys, parts, buys * Fraction("0.98"))


def supplies_at_home(sku: str, wanted: int, packs: int, price: str, content: int) -> Figure:
    """Return supplies from the craft house; from 75 dollars the freight of 8.75 is free."""
    goods = cents(Fraction(price) * packs)
    freight = {} if goods >= 75_00 else {"freight": 8_75}
    return Figure(
        sku,
        wanted,
        f"{CRAFT}, {sku}",
        packs * content,
        {"goods": goods, **freight},
        Fraction(packs * content),
    )


def supplies_from_afar(sku: str, wanted: int, packs: int, price: str, content: int) -> Figure:
    """Return supplies from the far maker: paper DDP, ink FCA by air, film CIF by sea."""
    goods = cents(Fraction(price) * packs)
    parts = {"goods": goods}
    if sku == "INK-FLM-WHT":
        duty = cents(Fraction(goods, 100) * (Fraction("0.018") + Fraction("0.25") + Fraction("0.10")))
        parts |= {"freight": 96_00, "duty": duty, "processing fee": 2_69, "brokerage": 65_00}
    if sku == "FILM-A3":
        # The invoice states 60 dollars of ocean freight: they are not dutiable.
        value = goods - 60_00
        duty = cents(Fraction(value, 100) * (Fraction("0.042") + Fraction("0.25") + Fraction("0.10")))
        parts |= {
            "duty": duty,
            "processing fee": 2_69,
            "harbor fee": cents(Fraction(value, 100) * Fraction("0.00125")),
        }
        parts |= {"brokerage": 125_00, "terminal": 61_00, "delivery": 92_50}
    return Figure(sku, wanted, f"{FAR_PRINT}, {sku}", packs * content, parts, Fraction(packs * content))


def figures() -> list[Figure]:
    """Return what each question must give, offer by offer."""
    return [
        shirts_at_home("WREN-BLK-M", "Wren", 64, "4.35"),
        shirts_at_home("WREN-BLK-M", "Wren", 324, "3.60"),
        shirts_from_afar("WREN-BLK-M", 324, 324, "11.20", 150),
        shirts_from_afar("WREN-BLK-M", 1980, 1980, "10.40", 150),
        shirts_at_home("PLOVER-MOS-L", "Plover", 324, "3.20"),
        shirts_from_afar("PLOVER-MOS-L", 600, 600, "9.90", 180),
        supplies_at_home("PAP-SUB-A4", 400, 4, "14.90", 100),
        supplies_at_home("PAP-SUB-A4", 2000, 20, "12.90", 100),
        supplies_from_afar("PAP-SUB-A4", 2000, 4, "52.00", 500),
        supplies_at_home("INK-FLM-WHT", 6000, 12, "42.50", 500),
        supplies_from_afar("INK-FLM-WHT", 6000, 6, "38.00", 1000),
        supplies_at_home("FILM-A3", 2000, 40, "19.80", 50),
        supplies_from_afar("FILM-A3", 2000, 20, "24.00", 100),
    ]


def write_quotes(folder: Path) -> None:
    """Write the quotes, the duties and the figures into a folder."""
    _write_csv(folder / "quotes.csv", QUOTE_COLUMNS, QUOTES)
    _write_csv(folder / "duties.csv", DUTY_COLUMNS, DUTIES)
    data = {
        "today": TODAY,
        "entry": ENTRY,
        "rates": {"CNY": "0.1462"},
        "figures": [figure.as_data() for figure in figures()],
    }
    text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    (folder / "price-figures.json").write_text(text, encoding="utf-8", newline="\n")


def _write_csv(path: Path, columns: tuple[str, ...], rows: tuple[dict[str, str], ...]) -> None:
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    path.write_text(text.getvalue(), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    write_quotes(SAMPLES)
