"""The sample bills: what they use is what the figures say, and their costs lie in the trade's bands.

A band is the trade's range of what one piece uses, times the sample shop's landed unit costs; blanks,
sheets and transfers that are used whole have no range. Each range says where it is from.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from ledger.catalogue.bom_sheet import read_way
from ledger.catalogue.boms import WAYS, Bill, Catalogue, bill_warnings, blanks_of, explode
from ledger.exact.quantity import show_quantity
from ledger.intake.boms_file import read_bills_file
from ledger.intake.items_file import read_items_file

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "samples"
FIGURES: dict[str, Any] = json.loads((SAMPLES / "figures.json").read_text("utf-8"))

COMMON = "common practice, no source"
MEMORY = "from memory"
TRADE_PRESS = "seen in trade press"
DERIVED = "derived from sheet sizes and the trade press's ink per area; our own sum"
WHOLE = "used whole, no range"

MM_PER_INCH = Fraction("25.4")


@dataclass(frozen=True)
class Range:
    """What one piece uses, from least to most, of the SKUs together; in base units, with its source."""

    skus: str
    least: Fraction
    most: Fraction
    source: str


def of(skus: str, least: str, most: str, source: str) -> Range:
    """Return a range; ``skus`` share it, as the inks of a print do."""
    return Range(skus, Fraction(least), Fraction(most), source)


def whole(sku: str, count: str = "1") -> Range:
    """Return what is used whole: a blank, a sheet, a transfer."""
    return of(sku, count, count, WHOLE)


def tool(sku: str, most_uses: int, least_uses: int) -> Range:
    """Return a reused tool's part of a piece, by the uses it may last."""
    return Range(sku, Fraction(1, most_uses), Fraction(1, least_uses), COMMON)


def vinyl(sku: str, width_mm: str, height_mm: str) -> Range:
    """Return vinyl for a design: the box around it plus 6 to 12 mm a side, 10 to 30% lost."""
    sides = Fraction(width_mm), Fraction(height_mm)
    small, large = ((sides[0] + 2 * edge) * (sides[1] + 2 * edge) / 100 for edge in (6, 12))
    return Range(sku, small * Fraction(11, 10), large * Fraction(13, 10), MEMORY)


COVER = tool("COV-SHEET", 200, 25)
INKED_M2 = Fraction("0.05")
"""The fox: 500 cm2 of its 20 x 30 cm are inked."""
FLM_WHITE, FLM_COLOURS = "INK-FLM-WHT", "INK-FLM-C INK-FLM-M INK-FLM-Y INK-FLM-K"
GAR_COLOURS = "INK-GAR-C INK-GAR-M INK-GAR-Y INK-GAR-K"
SUB_COLOURS = "INK-SUB-C INK-SUB-M INK-SUB-Y INK-SUB-K"

BANDS: dict[str, tuple[Range, ...]] = {
    # Ink 40-60 mL a square metre of inked area, about six tenths of it white; powder 30-60 g.
    "FOX": (
        whole("WREN-BLK-M"),
        of("FILM-33", "600", "792", MEMORY),
        Range(FLM_WHITE, 40 * INKED_M2 * Fraction(6, 10), 60 * INKED_M2 * Fraction(6, 10), MEMORY),
        Range(FLM_COLOURS, 40 * INKED_M2 * Fraction(4, 10), 60 * INKED_M2 * Fraction(4, 10), MEMORY),
        Range("POW-MED", 30 * INKED_M2, 60 * INKED_M2, MEMORY),
        # Cleaning and priming take 2-10% of the ink.
        Range("CLN-FLUSH", 40 * INKED_M2 * Fraction(2, 100), 60 * INKED_M2 * Fraction(10, 100), MEMORY),
    ),
    "HARE": (
        whole("PLOVER-BLK-L"),
        of("PRE-DARK", "12", "40", TRADE_PRESS),
        of("INK-GAR-WHT", "2.7", "3.6", TRADE_PRESS),
        # About 0.9 mL of colour; up to a tenth more for cleaning and priming (from memory).
        of(GAR_COLOURS, "0.9", "0.99", TRADE_PRESS),
        of("CLN-FLUSH", "0.072", "0.459", MEMORY),
    ),
    # The white part is 8.5 x 6.5 in, the gold one 10 x 10 cm.
    "CREST": (
        whole("WREN-HNV-L"),
        vinyl("VIN-WHT", str(Fraction("8.5") * MM_PER_INCH), str(Fraction("6.5") * MM_PER_INCH)),
        vinyl("VIN-GLD", "100", "100"),
        # The carrier is sticky: tape is optional.
        of("TAPE-HEAT", "0", "30", MEMORY),
        Range("COV-SHEET", Fraction(2, 200), Fraction(2, 25), COMMON),
    ),
    "POND": (
        whole("WREN-WHT-L"),
        whole("PAP-INK-LGT-A4"),
        of("INK-JET-CLR INK-JET-BLK", "1", "2", MEMORY),
        COVER,
    ),
    "ATLAS": (
        whole("WREN-BLK-L"),
        whole("PAP-LAS-A"),
        whole("PAP-LAS-B"),
        whole("TON-CLR"),
        whole("TON-WHT"),
        whole("DRM-LASER"),
        COVER,
    ),
    # One piece bears the whole run.
    "GATE": (
        whole("PLOVER-NVY-L"),
        of("INK-PLA-WHT", "8", "20", MEMORY),
        of("EMU-PHOTO", "30", "60", MEMORY),
        whole("POS-A3"),
        of("TAPE-SCR", "100", "250", COMMON),
        of("CLN-STENCIL", "30", "100", COMMON),
        tool("SCR-FRAME", 300, 50),
        tool("SCR-MESH", 50, 10),
    ),
    # The count plus 3-5% lost.
    "STAR": (
        whole("WREN-BLK-XL"),
        of("STN-10-CRY", "185.4", "189", MEMORY),
        of("STN-16-JET", "24.72", "25.2", MEMORY),
        whole("TAPE-STN"),
        tool("STC-STAR", 200, 50),
        COVER,
    ),
    "HARBOUR": (
        whole("TERN-WHT-M"),
        whole("PAP-SUB-A4"),
        of(SUB_COLOURS, "0.67", "1.01", TRADE_PRESS),
        of("TAPE-HEAT", "10", "30", MEMORY),
        whole("PAP-COV-A3"),
    ),
    # 1.2-1.6 m2 a shirt are 7.6 to 10.1 sheets of 329 x 483 mm; tiles are whole.
    "KELP": (
        whole("TERN-WHT-L"),
        of("PAP-SUB-A3P", "7.55", "10.07", DERIVED),
        of(SUB_COLOURS, "13", "26", DERIVED),
        of("TAPE-HEAT", "50", "100", MEMORY),
        whole("PAP-COV-LRG", "2"),
        tool("FRM-SHIRT", 500, 100),
    ),
    "FOX-BUY": (whole("WREN-BLK-M"), whole("TRF-FOX"), COVER),
    "WAVES-OWN": (whole("TRF-WAVES"), COVER),
}
"""For each bill, what the trade says one piece uses."""


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    """The sample shop's items, packs and bills, as the program reads them."""
    items = read_items_file(SAMPLES / "items.csv")
    bills = read_bills_file(SAMPLES / "bills.csv")
    assert bills.problems == ()
    packs: dict[str, list[Any]] = {}
    for pack in items.packs:
        packs.setdefault(pack.sku, []).append(pack)
    return Catalogue(
        {item.sku: item for item in items.items}, packs, {bill.code: bill for bill in bills.bills}
    )


def unit_costs() -> dict[str, Fraction]:
    """Return the landed cost of one base unit of every SKU, in dollars."""
    return {
        line["sku"]: Fraction(line["landed_cost"]) / Fraction(line["quantity_received"])
        for receipt in FIGURES["receipts"]
        for line in receipt["lines"]
    }


def one_piece(code: str) -> dict[str, Any]:
    """Return the figures of a bill for one piece."""
    return next(each for each in FIGURES["bills"] if each["bill"] == code and each["pieces"] == 1)


def cost(code: str) -> Fraction:
    """Return what one piece costs at the lots' landed unit costs, in dollars."""
    each = unit_costs()
    parts = one_piece(code)["components"]
    return sum((Fraction(part["quantity"]) * each[part["sku"]] for part in parts), Fraction(0))


def band(code: str) -> tuple[Fraction, Fraction]:
    """Return the least and the most that one piece costs by the trade's ranges, in dollars."""
    each = unit_costs()
    least = most = Fraction(0)
    for found in BANDS[code]:
        prices = [each[sku] for sku in found.skus.split()]
        least += found.least * min(prices)
        most += found.most * max(prices)
    return least, most


@pytest.mark.parametrize("code", BANDS)
def test_the_cost_of_one_piece_lies_in_the_trades_band(code: str) -> None:
    """The ranges times the sample prices hold what the sample bill costs."""
    least, most = band(code)
    assert least <= cost(code) <= most


@pytest.mark.parametrize("code", BANDS)
def test_what_one_piece_uses_lies_in_the_trades_ranges(code: str) -> None:
    """Not only the cost: each material's amount, its waste allowance aside, is within its range."""
    used = {part["sku"]: Fraction(part["quantity"]) for part in one_piece(code)["components"]}
    # A bill's waste allowance of 5% for cleaning and priming comes on top of the trade's amounts.
    outside = [
        found.skus
        for found in BANDS[code]
        if not found.least <= sum(used[sku] for sku in found.skus.split()) <= found.most * Fraction(105, 100)
    ]
    assert outside == []


@pytest.mark.parametrize("code", BANDS)
def test_the_ranges_name_every_material_of_the_bill(code: str) -> None:
    """No material of a bill is left out of its band, and none is in it that the bill does not use."""
    named = {sku for found in BANDS[code] for sku in found.skus.split()}
    assert named == {part["sku"] for part in one_piece(code)["components"]}


def test_every_way_of_decorating_has_a_sample_bill(catalogue: Catalogue) -> None:
    """The ten ways, and one bill more on the customer's own garment."""
    assert {read_way(bill.way) for bill in catalogue.bills.values()} == set(WAYS)


@pytest.mark.parametrize("figure", FIGURES["bills"], ids=lambda each: f"{each['bill']}-{each['pieces']}")
def test_the_program_uses_what_the_figures_say(figure: dict[str, Any], catalogue: Catalogue) -> None:
    """Exploded for one piece and for twelve, to the thousandth."""
    bill = catalogue.bills[figure["bill"]]
    blank = catalogue.items[figure["blank"]] if figure["blank"] else None
    found = explode(bill, blank, figure["pieces"], catalogue.items, catalogue.packs)
    assert [(part.sku, show_quantity(part.quantity_milli)) for part in found] == [
        (part["sku"], part["quantity"]) for part in figure["components"]
    ]


@pytest.mark.parametrize("code", BANDS)
def test_the_figures_cost_is_the_components_at_landed_cost(code: str) -> None:
    """The cost of one piece, rounded to the cent."""
    assert abs(cost(code) - Fraction(one_piece(code)["cost"])) <= Fraction("0.005")


def test_the_sample_bills_suit_their_blanks(catalogue: Catalogue) -> None:
    """None sublimates on cotton or on dark cloth."""
    warned = [
        (bill.code, blank.sku)
        for bill in catalogue.bills.values()
        for blank in blanks_of(bill, catalogue.items)
        if bill_warnings(bill, blank)
    ]
    assert warned == []


def test_printing_the_fox_is_cheaper_than_buying_it_in() -> None:
    """The two bills of one design can be compared; labour, wear and misprints are not in it."""
    assert Decimal(one_piece("FOX")["cost"]) < Decimal(one_piece("FOX-BUY")["cost"])


def test_customers_garments_cost_nothing(catalogue: Catalogue) -> None:
    """The bill on the customer's own garment has no blank among what it uses."""
    bill: Bill = catalogue.bills["WAVES-OWN"]
    kinds = {catalogue.items[part.sku].kind for part in explode(bill, None, 1, catalogue.items)}
    assert "blank" not in kinds
