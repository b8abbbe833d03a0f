"""The sample shop's bills of materials, one for each way of decorating, and what they must give.

The amounts are starting values to be weighed and measured by each shop; every design is invented.
What a job uses is worked out here with fractions, apart from the program.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from sample_costs import whole
from sample_shop import INCH_CM

BILL_COLUMNS = (
    *("bill", "name", "way", "blank", "finished", "sku", "per_piece", "per_run", "unit", "waste", "uses"),
    *("colours", "misprints", "labour_per_piece", "labour_per_run", "least_polyester", "light_only", "note"),
)
IN_BASE = {"": Fraction(1), "in2": INCH_CM**2, "m": Fraction(100)}
"""Base units in one of the units that the bills use beside the base units themselves."""

_DARK = "Black; Heather Navy"
_DARK_PLOVER = "Black; Navy; Moss"


@dataclass(frozen=True)
class SampleLine:
    """One thing a bill uses; amounts as they are typed."""

    sku: str
    per_piece: str = ""
    per_run: str = ""
    unit: str = ""
    waste: str = ""
    uses: str = ""
    colours: str = ""
    note: str = ""

    def amount(self, pieces: int) -> Fraction:
        """What a job of so many pieces consumes, in base units."""
        plain = Fraction(self.per_piece or 0) * pieces + Fraction(self.per_run or 0)
        wasted = plain * (100 + Fraction(self.waste or 0)) / 100
        return wasted * IN_BASE[self.unit] / Fraction(self.uses or 1)


@dataclass(frozen=True)
class SampleBill:
    """One bill, the blank the figures speak of, and its colour; ``more`` are further columns."""

    code: str
    name: str
    way: str
    style: str
    finished: str
    shown: str
    colour: str
    lines: tuple[SampleLine, ...]
    more: Mapping[str, str] = field(default_factory=dict)


def _inks(what: str, *amounts: str, waste: str = "5") -> tuple[SampleLine, ...]:
    """Return the lines of cyan, magenta, yellow and black, in mL a piece."""
    return tuple(
        SampleLine(f"INK-{what}-{code}", amount, waste=waste)
        for code, amount in zip("CMYK", amounts, strict=True)
    )


_COVER = SampleLine("COV-SHEET", "1", uses="50", note="One sheet lasts about fifty presses.")

BILLS: tuple[SampleBill, ...] = (
    SampleBill(
        "FOX",
        "Fox at dusk",
        "direct to film",
        "Wren",
        "FOX-{colour}-{size}",
        "WREN-BLK-M",
        "Black",
        (
            SampleLine("FILM-33", "660", waste="5", note="20 x 30 cm and a margin; 500 cm2 of it inked."),
            SampleLine("INK-FLM-WHT", "1.5", waste="5"),
            *_inks("FLM", "0.25", "0.25", "0.2", "0.2"),
            SampleLine("POW-MED", "2.2", note="Dust: air and a mask."),
            SampleLine("CLN-FLUSH", "0.1", note="Flushing between prints; more on idle days, as a use."),
        ),
        {"misprints": "3"},
    ),
    SampleBill(
        "HARE",
        "Leaping hare",
        "direct to garment",
        "Plover",
        "HARE-{colour}-{size}",
        "PLOVER-BLK-L",
        "Black",
        (
            SampleLine("PRE-LIGHT", "15", colours="White"),
            SampleLine("PRE-DARK", "20", colours=_DARK_PLOVER),
            SampleLine("INK-GAR-WHT", "3.1", waste="5", colours=_DARK_PLOVER),
            *_inks("GAR", "0.25", "0.25", "0.2", "0.2"),
            SampleLine("CLN-FLUSH", "0.2"),
        ),
        {"misprints": "3"},
    ),
    SampleBill(
        "CREST",
        "Town crest in two colours",
        "heat transfer vinyl",
        "Wren",
        "CREST-{colour}-{size}",
        "WREN-HNV-L",
        "Heather Navy",
        (
            SampleLine("VIN-WHT", "66", unit="in2", waste="15", note="Weeding and offcuts."),
            SampleLine("VIN-GLD", "140", waste="20", note="Weeding and offcuts."),
            SampleLine("TAPE-HEAT", "10"),
            SampleLine("COV-SHEET", "2", uses="50", note="Two presses, one for each colour."),
        ),
        {"misprints": "2", "labour_per_piece": "0.35"},
    ),
    SampleBill(
        "POND",
        "Pond life",
        "inkjet transfer",
        "Wren",
        "POND-{colour}-{size}",
        "WREN-WHT-L",
        "White",
        (
            SampleLine("PAP-INK-LGT-A4", "1", colours="White"),
            SampleLine("PAP-INK-DRK-LTR", "1", colours=_DARK),
            SampleLine("INK-JET-CLR", "1"),
            SampleLine("INK-JET-BLK", "0.4"),
            _COVER,
        ),
        {"misprints": "3"},
    ),
    SampleBill(
        "ATLAS",
        "Night map",
        "laser transfer",
        "Wren",
        "ATLAS-{colour}-{size}",
        "WREN-BLK-L",
        "Black",
        (
            SampleLine("PAP-LAS-A", "1"),
            SampleLine("PAP-LAS-B", "1"),
            SampleLine("TON-CLR", "1"),
            SampleLine("TON-WHT", "1", colours=_DARK),
            SampleLine("DRM-LASER", "1", note="The drum's share of a page."),
            _COVER,
        ),
        {"misprints": "3"},
    ),
    SampleBill(
        "GATE",
        "Garden gate, white on dark",
        "screen print",
        "Plover",
        "GATE-{colour}-{size}",
        "PLOVER-NVY-L",
        "Navy",
        (
            SampleLine("INK-PLA-WHT", "10", waste="5"),
            SampleLine("EMU-PHOTO", per_run="45"),
            SampleLine("POS-A3", per_run="1"),
            SampleLine("TAPE-SCR", per_run="1.5", unit="m"),
            SampleLine("CLN-STENCIL", per_run="60"),
            SampleLine("SCR-FRAME", per_run="1", uses="100"),
            SampleLine("SCR-MESH", per_run="1", uses="20"),
        ),
        {"misprints": "5"},
    ),
    SampleBill(
        "STAR",
        "Star of stones",
        "stones",
        "Wren",
        "STAR-{colour}-{size}",
        "WREN-BLK-XL",
        "Black",
        (
            SampleLine("STN-10-CRY", "180", waste="4"),
            SampleLine("STN-16-JET", "24", waste="4"),
            SampleLine("TAPE-STN", "1"),
            SampleLine("STC-STAR", "1", uses="100"),
            _COVER,
        ),
        {"misprints": "2"},
    ),
    SampleBill(
        "HARBOUR",
        "Harbour, a front panel",
        "sublimation, one panel",
        "Tern",
        "HARBOUR-{colour}-{size}",
        "TERN-WHT-M",
        "White",
        (
            SampleLine("PAP-SUB-A4", "1"),
            *_inks("SUB", "0.22", "0.22", "0.22", "0.2", waste=""),
            SampleLine("TAPE-HEAT", "20"),
            SampleLine("PAP-COV-A3", "1"),
        ),
        {"misprints": "3", "least_polyester": "65", "light_only": "yes"},
    ),
    SampleBill(
        "KELP",
        "Kelp all over",
        "sublimation, all over",
        "Tern",
        "KELP-{colour}-{size}",
        "TERN-WHT-L",
        "White",
        (
            SampleLine("PAP-SUB-A3P", "8", note="Four tiles a side."),
            *_inks("SUB", "5", "4.5", "4.5", "3.5", waste=""),
            SampleLine("TAPE-HEAT", "0.8", unit="m"),
            SampleLine("PAP-COV-LRG", "2"),
            SampleLine("FRM-SHIRT", "1", uses="200"),
        ),
        {"misprints": "5", "least_polyester": "65", "light_only": "yes"},
    ),
    SampleBill(
        "FOX-BUY",
        "Fox at dusk, transfer bought in",
        "bought-in transfer",
        "Wren",
        "FOX-BUY-{colour}-{size}",
        "WREN-BLK-M",
        "Black",
        (SampleLine("TRF-FOX", "1"), _COVER),
        {"misprints": "2"},
    ),
    SampleBill(
        "WAVES-OWN",
        "Three waves on the customer's own garment",
        "bought-in transfer",
        "",
        "WAVES-OWN",
        "",
        "",
        (SampleLine("TRF-WAVES", "1"), _COVER),
    ),
)


def bill_rows() -> list[tuple[str, ...]]:
    """Return the rows of bills.csv: a bill's own columns stand in its first row."""
    rows = []
    for bill in BILLS:
        for place, line in enumerate(bill.lines):
            cells = {"bill": bill.code, **vars(line)}
            if place == 0:
                cells |= {"name": bill.name, "way": bill.way, "blank": bill.style, "finished": bill.finished}
                cells |= bill.more
            rows.append(tuple(cells.get(column, "") for column in BILL_COLUMNS))
    return rows


def used_by(bill: SampleBill, pieces: int, blank: str = "", colour: str = "") -> dict[str, int]:
    """Return what a job consumes, in thousandths of base units; without a blank, on the shown one."""
    blank, colour = blank or bill.shown, colour or bill.colour
    amounts = {blank: Fraction(pieces)} if blank else {}
    for line in bill.lines:
        if not line.colours or colour in line.colours.split("; "):
            amounts[line.sku] = amounts.get(line.sku, Fraction(0)) + line.amount(pieces)
    return {sku: whole(amount * 1000) for sku, amount in amounts.items()}
