"""The invented print-supply house's invoice, and the items on it that the catalogue gets.

What every way of decorating needs beside the craft-supply house's goods. Every name, price and number
is invented.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from fractions import Fraction

from sample_shop import INCH_CM, SupplyRow, supply

HOUSE = "Marrowick Print Supply"
REFERENCE = "MW-3308"
DATE = dt.date(2026, 2, 24)
RECEIVED = dt.date(2026, 2, 26)
FREIGHT = Decimal("31.40")
SALES_TAX = Decimal("33.41")
"""Six per cent of the rows taxed: what is used up in the shop rather than sold."""

_SAFETY = "https://example.org/safety/"
_SHORT = "2027-01-31"
_LONG = "2027-08-31"
# A US quart of plastisol, kept in grams at 1.44 g per mL.
_QUART_G = 231 * INCH_CM**3 / 4 * Fraction("1.44")
# A litre bought, kept in grams at 1.05 g per mL.
_DARK_PRETREATMENT_G = 1000 * Fraction("1.05")


def _goods(
    code: str, sku: str, words: str, bought: str, content: Fraction | int, keeps: str = ""
) -> SupplyRow:
    """Return a row of what becomes part of a shirt: bought for resale, without sales tax."""
    best_before = dt.date.fromisoformat(keeps) if keeps else None
    return supply(code, sku, words, bought, content, best_before=best_before)


def _used_up(code: str, sku: str, words: str, bought: str, content: int, keeps: str = "") -> SupplyRow:
    """Return a row of what is used up or worn out in the shop: sales tax is paid on it."""
    best_before = dt.date.fromisoformat(keeps) if keeps else None
    return supply(code, sku, words, bought, content, best_before=best_before, tax="yes")


ROWS: tuple[SupplyRow, ...] = (
    _goods("110", "TERN-WHT-M", "Tern polyester tee white M", "12 each 4.60", 1),
    _goods("111", "TERN-WHT-L", "Tern polyester tee white L", "12 each 4.60", 1),
    _goods("112", "TERN-WHT-XL", "Tern polyester tee white XL", "6 each 4.60", 1),
    _goods("201", "INK-FLM-WHT", "Film ink white 500 mL", "1 bottle 42.00", 500, _SHORT),
    _goods("202", "INK-FLM-C", "Film ink cyan 250 mL", "1 bottle 19.50", 250, _SHORT),
    _goods("203", "INK-FLM-M", "Film ink magenta 250 mL", "1 bottle 19.50", 250, _SHORT),
    _goods("204", "INK-FLM-Y", "Film ink yellow 250 mL", "1 bottle 19.50", 250, _SHORT),
    _goods("205", "INK-FLM-K", "Film ink black 250 mL", "1 bottle 19.50", 250, _SHORT),
    _goods("211", "INK-GAR-WHT", "Garment ink white 500 mL", "1 bottle 64.00", 500, _SHORT),
    _goods("212", "INK-GAR-C", "Garment ink cyan 250 mL", "1 bottle 29.00", 250, _SHORT),
    _goods("213", "INK-GAR-M", "Garment ink magenta 250 mL", "1 bottle 29.00", 250, _SHORT),
    _goods("214", "INK-GAR-Y", "Garment ink yellow 250 mL", "1 bottle 29.00", 250, _SHORT),
    _goods("215", "INK-GAR-K", "Garment ink black 250 mL", "1 bottle 29.00", 250, _SHORT),
    _goods(
        "216", "PRE-DARK", "Pretreatment for dark shirts 1 L", "1 bottle 26.00", _DARK_PRETREATMENT_G, _SHORT
    ),
    _used_up("219", "CLN-FLUSH", "Flushing solution 500 mL", "1 bottle 12.50", 500),
    _used_up("301", "PAP-INK-LGT-A4", "Inkjet transfer sheets for light cloth A4, 20", "1 pack 17.90", 20),
    _used_up(
        "302", "PAP-INK-DRK-LTR", "Inkjet transfer sheets for dark cloth Letter, 10", "2 pack 16.50", 10
    ),
    _goods("311", "INK-JET-CLR", "Inkjet ink, three colours 70 mL", "1 bottle 9.20", 70, _LONG),
    _goods("312", "INK-JET-BLK", "Inkjet ink black 70 mL", "1 bottle 9.20", 70, _LONG),
    _used_up("401", "PAP-LAS-A", "Laser transfer A4, part A image sheet, 50", "1 pack 48.00", 50),
    _used_up("402", "PAP-LAS-B", "Laser transfer A4, part B adhesive sheet, 50", "1 pack 62.00", 50),
    _goods("411", "TON-CLR", "Toner set, four colours, 1500 pages", "1 set 189.00", 1500),
    _goods("412", "TON-WHT", "Toner white, 1000 pages", "1 set 124.00", 1000),
    _used_up("419", "DRM-LASER", "Drum, 12000 pages", "1 drum 96.00", 12_000),
    _used_up("501", "EMU-PHOTO", "Photo emulsion 1 L", "1 bottle 28.00", 1000, _SHORT),
    _used_up("502", "POS-A3", "Film for positives A3, 100", "1 pack 45.00", 100),
    _used_up("503", "TAPE-SCR", "Screen tape 50 mm x 50 m", "2 roll 6.50", 5000),
    _used_up("504", "CLN-STENCIL", "Stencil remover 1 L", "1 bottle 15.00", 1000),
    _used_up("505", "SCR-FRAME", "Screen frame 20 x 24 in", "2 each 18.00", 1),
    _used_up("506", "SCR-MESH", "Screen mesh, stretched on", "2 each 9.50", 1),
    _goods("511", "INK-PLA-WHT", "Plastisol white, quart", "1 quart 24.50", _QUART_G),
    _used_up("601", "TAPE-STN", "Transfer tape for stones, 20 sheets", "1 pack 11.00", 20),
    _used_up("602", "STC-STAR", "Stone stencil, star", "1 each 7.50", 1),
    _used_up("701", "PAP-SUB-A3P", "Sublimation paper A3+, 100 sheets", "1 pack 38.00", 100),
    _used_up("702", "PAP-COV-A3", "Cover paper A3, 250 sheets", "1 pack 16.00", 250),
    _used_up("703", "PAP-COV-LRG", "Cover paper 60 x 100 cm, 50 sheets", "1 pack 19.00", 50),
    _used_up("801", "COV-SHEET", "Non-stick cover sheet", "2 each 6.00", 1),
    _used_up("802", "FRM-SHIRT", "Shirt former", "2 each 14.00", 1),
    _goods("901", "TRF-FOX", "Ready transfer, fox at dusk", "24 each 2.40", 1),
)
TAXED = tuple(row.sku for row in ROWS if row.tax == "yes")

_GOODS = "goods"
_USED = "supplies when used"


def _item(sku: str, name: str, kind: str, unit: str, tax_class: str, **more: str) -> dict[str, str]:
    return {"sku": sku, "name": name, "kind": kind, "unit": unit, "tax_class": tax_class, **more}


def _ink(what: str, code: str, name: str, colour: str, pack: str, **more: str) -> dict[str, str]:
    return _item(
        f"INK-{what}-{code}",
        f"{name} {colour}",
        "ink",
        "mL",
        _GOODS,
        colour=colour,
        use_estimated="yes",
        shelf_life_days="365",
        safety_sheet=f"{_SAFETY}{name.lower().replace(' ', '-')}",
        packs=pack,
        **more,
    )


def _inks(what: str, name: str) -> list[dict[str, str]]:
    colours = {"C": "cyan", "M": "magenta", "Y": "yellow", "K": "black"}
    white = _ink(what, "WHT", name, "white", "bottle = 500 mL", note="White settles: shake it, flush it.")
    return [white, *(_ink(what, code, name, colour, "bottle = 250 mL") for code, colour in colours.items())]


def _chemical(sku: str, name: str, unit: str, tax_class: str, sheet: str, **more: str) -> dict[str, str]:
    return _item(
        sku, name, "chemical", unit, tax_class, use_estimated="yes", safety_sheet=_SAFETY + sheet, **more
    )


def _sheets(sku: str, name: str, kind: str, pack: int, **more: str) -> dict[str, str]:
    return _item(sku, name, kind, "sheet", _USED, packs=f"pack = {pack} sheet", **more)


ITEMS: tuple[dict[str, str], ...] = (
    {
        **_item("", "Tern polyester tee", "blank", "each", _GOODS, style="Tern", colours="White=WHT"),
        "sizes": "S-2XL",
        "sku_pattern": "{style}-{colour}-{size}",
        "ladder": "adult",
        "fibre": "100% polyester",
        "weight_g": "145",
    },
    *_inks("FLM", "Film ink"),
    *_inks("GAR", "Garment ink"),
    _chemical(
        "PRE-DARK",
        "Pretreatment for dark shirts",
        "g",
        _USED,
        "pretreatment",
        density_g_per_mL="1.05",
        shelf_life_days="365",
        packs="bottle = 1 L",
        note="Bought by volume, weighed on.",
    ),
    _chemical("CLN-FLUSH", "Flushing solution", "mL", _USED, "flushing-solution", packs="bottle = 500 mL"),
    _sheets("PAP-INK-LGT-A4", "Inkjet transfer sheet for light cloth, A4", "paper", 20),
    _sheets("PAP-INK-DRK-LTR", "Inkjet transfer sheet for dark cloth, Letter", "paper", 10),
    _ink("JET", "CLR", "Inkjet ink", "three colours", "bottle = 70 mL"),
    _ink("JET", "BLK", "Inkjet ink", "black", "bottle = 70 mL"),
    _sheets("PAP-LAS-A", "Laser transfer A4, part A image sheet", "paper", 50),
    _sheets("PAP-LAS-B", "Laser transfer A4, part B adhesive sheet", "paper", 50),
    _item(
        "TON-CLR",
        "Toner set, four colours",
        "toner",
        "sheet",
        _GOODS,
        safety_sheet=f"{_SAFETY}toner",
        packs="set = 1500 sheet",
        note="Kept by the pages it prints.",
    ),
    _item(
        "TON-WHT",
        "Toner white",
        "toner",
        "sheet",
        _GOODS,
        safety_sheet=f"{_SAFETY}toner",
        packs="set = 1000 sheet",
        note="Kept by the pages it prints.",
    ),
    _item(
        "DRM-LASER",
        "Drum of the laser printer",
        "tool",
        "sheet",
        _USED,
        packs="drum = 12000 sheet",
        note="Kept by the pages it prints.",
    ),
    _item(
        "EMU-PHOTO",
        "Photo emulsion",
        "emulsion",
        "mL",
        _USED,
        shelf_life_days="365",
        use_estimated="yes",
        safety_sheet=f"{_SAFETY}photo-emulsion",
        packs="bottle = 1 L",
    ),
    _sheets("POS-A3", "Film for positives A3", "film", 100),
    _item("TAPE-SCR", "Screen tape 50 mm", "tape", "cm", _USED, use_estimated="yes", packs="roll = 50 m"),
    _chemical("CLN-STENCIL", "Stencil remover", "mL", _USED, "stencil-remover", packs="bottle = 1 L"),
    _item("SCR-FRAME", "Screen frame 20 x 24 in", "tool", "each", _USED),
    _item("SCR-MESH", "Screen mesh, stretched on", "tool", "each", _USED),
    _item(
        "INK-PLA-WHT",
        "Plastisol white",
        "ink",
        "g",
        _GOODS,
        density_g_per_mL="1.44",
        use_estimated="yes",
        safety_sheet=f"{_SAFETY}plastisol",
        note="Bought by the quart, weighed on.",
    ),
    _sheets("TAPE-STN", "Transfer tape for stones, sheet", "tape", 20),
    _item("STC-STAR", "Stone stencil, star", "tool", "each", _USED),
    _sheets("PAP-SUB-A3P", "Sublimation paper A3+", "paper", 100, shelf_life_days="540"),
    _sheets("PAP-COV-A3", "Cover paper A3, used once", "paper", 250),
    _sheets("PAP-COV-LRG", "Cover paper 60 x 100 cm, used once", "paper", 50),
    _item("COV-SHEET", "Non-stick cover sheet", "tool", "each", _USED),
    _item("FRM-SHIRT", "Shirt former", "tool", "each", _USED),
    _item("TRF-FOX", "Ready transfer, fox at dusk", "transfer", "each", _GOODS, weight_g="9"),
)
