"""Items, packs and bills of materials of a little shop, for tests of what a bill uses and what is wrong with it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from ledger.catalogue.boms import Bill, BillLine
from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack


def item(sku: str, kind: str = "ink", unit: str = "mL", **more: object) -> Item:
    """Return an item of the little shop."""
    return Item(sku, sku.title(), kind, "goods", unit, **more)  # type: ignore[arg-type]


def tee(colour: str, code: str, size: str = "M", **more: object) -> Item:
    """Return a blank of the style Drift."""
    return item(
        f"DRIFT-{code}-{size}",
        "blank",
        "each",
        style="Drift",
        colour=colour,
        size=size,
        ladder="adult",
        **more,
    )


BLACK = tee("Black", "BLK", fibre_content="100% cotton")
WHITE = tee("White", "WHT", fibre_content="65% polyester 35% cotton")
ITEMS = {
    each.sku: each
    for each in (
        BLACK,
        WHITE,
        item("INK-W"),
        item("PRE", "chemical", "g", density_mg_per_ml=1050),
        item("FILM", "film", "cm2"),
        item("COVER", "tool", "each"),
        replace(item("CLEANER", "chemical"), tax_class="supplies when bought"),
    )
}
PACKS = {"FILM": [Pack("FILM", "sheet", Fraction(600))]}


def bill(*lines: BillLine, **more: object) -> Bill:
    """Return a bill on the style Drift."""
    fields: dict[str, object] = {
        "code": "FOX",
        "name": "Fox",
        "way": "direct to film",
        "blank": "Drift",
        "finished": "FOX-{colour}-{size}",
    }
    return Bill(**{**fields, **more}, lines=lines)  # type: ignore[arg-type]


def line(sku: str = "INK-W", per_piece: str = "0", per_run: str = "0", **more: object) -> BillLine:
    """Return a line of a bill."""
    return BillLine(sku, Fraction(per_piece), Fraction(per_run), **more)  # type: ignore[arg-type]
