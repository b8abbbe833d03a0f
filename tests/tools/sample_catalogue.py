"""The sample shop's catalogue and suppliers, as rows of the sheets that load them.

The style Heron is left out on purpose: the domestic invoice brings it as new.
"""

from __future__ import annotations

import sample_print
import sample_shop as shop

ITEM_COLUMNS = (
    *("sku", "name", "kind", "unit", "tax_class", "style", "colour", "size", "sizes", "colours"),
    *("sku_pattern", "ladder", "fibre", "weight_g", "volume_mL", "density_g_per_mL", "customs_class"),
    *("origin", "shelf_life_days", "use_estimated", "safety_sheet", "packs", "note"),
)
SUPPLIER_COLUMNS = ("name", "role", "country", "currency", "terms", "note")

_SAFETY = "https://example.org/safety/"
_PATTERN = "{style}-{colour}-{size}"
_DOMESTIC_COLOURS = "White=WHT; Black=BLK; Heather Navy=HNV"
_OVERSEAS_COLOURS = "White=WHT; Black=BLK; Navy=NVY; Moss=MOS"
_CASES = "case = 72 each; dozen = 12 each"
_ROLL = "roll = 11.8 in x 5 yd (sold as 12 in x 5 yd)"
_FIBRE = "100% cotton"


def _row(**cells: str) -> tuple[str, ...]:
    unknown = set(cells) - set(ITEM_COLUMNS)
    assert not unknown, unknown
    return tuple(cells.get(column, "") for column in ITEM_COLUMNS)


def _style(style: str, name: str, colours: str, sizes: str, weight_g: str, **more: str) -> tuple[str, ...]:
    return _row(
        name=name,
        kind="blank",
        unit="each",
        tax_class="goods",
        style=style,
        colours=colours,
        sizes=sizes,
        sku_pattern=_PATTERN,
        weight_g=weight_g,
        fibre=_FIBRE,
        customs_class="6109.10",
        **more,
    )


def _ink(code: str, colour: str) -> tuple[str, ...]:
    return _row(
        sku=f"INK-SUB-{code}",
        name=f"Sublimation ink {colour}",
        kind="ink",
        unit="mL",
        tax_class="goods",
        colour=colour,
        density_g_per_mL="1.08",
        weight_g="1.08",
        shelf_life_days="730",
        use_estimated="yes",
        safety_sheet=f"{_SAFETY}sublimation-ink",
        packs="bottle = 127 mL",
        note="Keep the safety data sheet with the bottle.",
    )


def _vinyl(code: str, name: str, pack: str) -> tuple[str, ...]:
    return _row(
        sku=f"VIN-{code}",
        name=name,
        kind="vinyl",
        unit="cm2",
        tax_class="goods",
        weight_g="0.02",
        shelf_life_days="540",
        packs=pack,
    )


def _transfer(code: str, name: str) -> tuple[str, ...]:
    return _row(sku=f"TRF-{code}", name=name, kind="transfer", unit="each", tax_class="goods", weight_g="6")


def _stones(code: str, name: str, weight_g: str) -> tuple[str, ...]:
    return _row(
        sku=f"STN-{code}",
        name=name,
        kind="stones",
        unit="each",
        tax_class="goods",
        weight_g=weight_g,
        packs="ten gross = 1440 each",
        note="Product-safety rules apply on children's clothing.",
    )


ITEM_ROWS = (
    _style("Wren", "Wren midweight tee", _DOMESTIC_COLOURS, "S-3XL", "150", ladder="adult", packs=_CASES),
    _style(
        "Finch",
        "Finch youth tee",
        "White=WHT; Heather Navy=HNV",
        "XS-XL",
        "105",
        ladder="youth",
        packs=_CASES,
        note="A children's size: product-safety rules apply.",
    ),
    _style(
        "Plover",
        "Plover tee",
        _OVERSEAS_COLOURS,
        "S-2XL",
        "180",
        ladder="adult",
        origin="CN",
        note="Class and origin as the maker states them; ask a broker.",
    ),
    _vinyl("BLK", "Garment vinyl, matt black", f"{_ROLL}; sheet = 11.8 in x 12 in (sold as 12 in x 12 in)"),
    _vinyl("WHT", "Garment vinyl, matt white", f"{_ROLL}; sheet = 11.8 in x 12 in (sold as 12 in x 12 in)"),
    _vinyl("GLD", "Glitter vinyl, gold", "sheet = 12 in x 12 in"),
    _row(
        sku="PAP-SUB-A4",
        name="Sublimation paper A4",
        kind="paper",
        unit="sheet",
        tax_class="supplies when used",
        weight_g="6.2",
        shelf_life_days="540",
        packs="pack = 100 sheet",
    ),
    _ink("C", "cyan"),
    _ink("M", "magenta"),
    _ink("Y", "yellow"),
    _ink("K", "black"),
    _row(
        sku="FILM-33",
        name="Transfer film, 33 cm roll",
        kind="film",
        unit="cm2",
        tax_class="supplies when used",
        weight_g="0.01",
        packs="roll = 33.02 cm x 100 m",
    ),
    _row(
        sku="FILM-A3",
        name="Transfer film A3",
        kind="film",
        unit="sheet",
        tax_class="supplies when used",
        weight_g="13",
        packs="pack = 50 sheet",
    ),
    _row(
        sku="POW-MED",
        name="Transfer powder, medium",
        kind="powder",
        unit="g",
        tax_class="goods",
        weight_g="1",
        shelf_life_days="365",
        use_estimated="yes",
        safety_sheet=f"{_SAFETY}transfer-powder",
        packs="bag = 1 kg",
        note="Dust: air and a mask.",
    ),
    _stones("10-CRY", "Hotfix stones size 10, crystal", "0.02"),
    _stones("16-JET", "Hotfix stones size 16, jet", "0.05"),
    _row(
        sku="TAPE-HEAT",
        name="Heat tape 10 mm",
        kind="tape",
        unit="cm",
        tax_class="supplies when used",
        weight_g="0.01",
        use_estimated="yes",
        packs="roll = 33 m",
    ),
    _transfer("SUNFLOWER", "Ready transfer, sunflower"),
    _transfer("WAVES", "Ready transfer, three waves"),
    _row(
        sku="PRE-LIGHT",
        name="Pretreatment for light shirts",
        kind="chemical",
        unit="g",
        tax_class="goods",
        weight_g="1",
        density_g_per_mL="1.02",
        shelf_life_days="365",
        use_estimated="yes",
        safety_sheet=f"{_SAFETY}pretreatment",
        packs="bottle = 1 L",
        note="Bought by volume, weighed on.",
    ),
    _row(
        sku="CLN-SCREEN",
        name="Screen cleaner",
        kind="chemical",
        unit="mL",
        tax_class="supplies when bought",
        weight_g="0.9",
        safety_sheet=f"{_SAFETY}screen-cleaner",
        packs="bottle = 1 quart",
        note="Deducted when bought: neither counted nor used in jobs.",
    ),
    *(_row(**cells) for cells in sample_print.ITEMS),
)

SUPPLIER_ROWS = (
    (
        shop.DOMESTIC,
        "supplier",
        "US",
        "USD",
        "prepaid, freight billed",
        "Invented. Blanks by the case and single.",
    ),
    (shop.OVERSEAS, "supplier", "CN", "CNY", "FOB", "Invented. T-shirts to order, 20 to 35 days."),
    (shop.CONSUMABLES, "supplier", "US", "USD", "prepaid", "Invented. Vinyl, paper, ink, film, stones."),
    (sample_print.HOUSE, "supplier", "US", "USD", "prepaid", "Invented. Inks, sheets, screens, tools."),
    (shop.BROKER, "broker", "US", "USD", "30 days", "Invented. Clears ocean shipments."),
    (shop.CARRIER, "carrier", "US", "USD", "on arrival", "Invented. Ocean freight by weight."),
)

_CELLS = [dict(zip(ITEM_COLUMNS, row, strict=True)) for row in ITEM_ROWS]
_BY_SKU = {cells["sku"]: cells for cells in _CELLS if cells["sku"]}


def kind_of(sku: str) -> str:
    """Return the kind of a SKU; the codes made of style, colour and size are blanks."""
    return _BY_SKU[sku]["kind"] if sku in _BY_SKU else "blank"


def base_unit_of(sku: str) -> str:
    """Return the base unit of a SKU; blanks are counted in pieces."""
    return _BY_SKU[sku]["unit"] if sku in _BY_SKU else "each"


def tax_class_of(sku: str) -> str:
    """Return the tax class of a SKU; blanks and finished pieces are goods."""
    return _BY_SKU[sku]["tax_class"] if sku in _BY_SKU else "goods"
