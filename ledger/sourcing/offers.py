"""Offers as sheets and the book keep them: text by column, read row by row."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from ledger.errors import ValueProblem
from ledger.sourcing.incoterms import buyer_pays, is_of_foreign_trade
from ledger.sourcing.price_breaks import break_warnings
from ledger.sourcing.quote_columns import COLUMNS, OFFER_COLUMNS
from ledger.sourcing.quote_readers import read_breaks

ROW_COLUMNS = ("sku", "style", "colours", "sizes", "prices")


@dataclass(frozen=True)
class OfferRow:
    """One row's prices and what they are for, as text."""

    sku: str = ""
    style: str = ""
    colours: str = ""
    sizes: str = ""
    prices: str = ""


@dataclass(frozen=True)
class Offer:
    """One offer as it is kept: its key, what is filled in of OFFER_COLUMNS, its rows."""

    supplier: str
    offer: str
    head: Mapping[str, str] = field(default_factory=dict)
    rows: tuple[OfferRow, ...] = ()

    @property
    def name(self) -> str:
        """What comparisons call it."""
        return f"{self.supplier}, {self.offer}"

    def text(self, column: str) -> str:
        """Return what is kept in one of OFFER_COLUMNS, an empty text where it is not filled in."""
        return self.head.get(column, "")


@dataclass(frozen=True)
class CellFault:
    """One thing wrong in a row: its column and what."""

    column: str
    what: str


@dataclass(frozen=True)
class ReadRow:
    """What one row of the sheet states, with everything wrong in it."""

    supplier: str
    offer: str
    head: Mapping[str, str]
    row: OfferRow
    faults: tuple[CellFault, ...] = ()


def read_row(cells: Mapping[str, str]) -> ReadRow:
    """Return what one row of the sheet states; ``cells`` maps columns to trimmed text."""
    kept: dict[str, str] = {}
    faults: list[CellFault] = []
    for name, column in COLUMNS.items():
        text = cells.get(name, "").strip()
        if not text:
            continue
        try:
            kept[name] = column.read(text)
        except ValueProblem as problem:
            faults.append(CellFault(name, str(problem)))
    wrong = {fault.column for fault in faults}
    if "supplier" not in kept and "supplier" not in wrong:
        faults.append(CellFault("supplier", "the supplier is empty: say who offers."))
    if bool(cells.get("sku", "").strip()) == bool(cells.get("style", "").strip()):
        faults.append(CellFault("sku", "name either an SKU or a style in each row, not both."))
    if "prices" not in kept and "prices" not in wrong:
        faults.append(CellFault("prices", "there is no price: write at least one, like 1 = 4.10."))
    return ReadRow(
        supplier=kept.get("supplier", ""),
        offer=kept.get("offer") or kept.get("style") or kept.get("sku", ""),
        head={name: kept[name] for name in OFFER_COLUMNS if name in kept},
        row=OfferRow(**{name: kept.get(name, "") for name in ROW_COLUMNS}),
        faults=tuple(faults),
    )


@dataclass(frozen=True)
class RowFault:
    """One thing wrong with the rows of an offer together: the row counted from 0, the column, what."""

    row: int
    column: str
    what: str


@dataclass(frozen=True)
class BuiltOffer:
    """The offer that rows make, and what is wrong with them taken together."""

    offer: Offer
    faults: tuple[RowFault, ...] = ()


def offer_from_rows(rows: Sequence[ReadRow]) -> BuiltOffer:
    """Return the offer of rows with one supplier and offer; its own columns may stand in any of them."""
    head: dict[str, str] = {}
    faults: list[RowFault] = []
    for place, row in enumerate(rows):
        for name, text in row.head.items():
            if head.setdefault(name, text) != text:
                faults.append(
                    RowFault(
                        place,
                        name,
                        f"the offer has {head[name]} as its {name} in a row above: write it once.",
                    )
                )
    for place, row in enumerate(rows):
        if any(_same_goods(row.row, other.row) for other in rows[:place]):
            faults.append(RowFault(place, "prices", "these goods have prices in a row above: keep one row."))
    offer = Offer(rows[0].supplier, rows[0].offer, head, tuple(row.row for row in rows))
    faults += [RowFault(0, name, what) for name, what in _head_faults(head)]
    return BuiltOffer(offer, tuple(faults))


def _same_goods(left: OfferRow, right: OfferRow) -> bool:
    names = ("sku", "style", "colours", "sizes")
    return all(getattr(left, name).casefold() == getattr(right, name).casefold() for name in names)


def _head_faults(head: Mapping[str, str]) -> Iterable[tuple[str, str]]:
    """Return what contradicts itself in an offer's own columns."""
    start, end = head.get("valid_from", ""), head.get("valid_until", "")
    if start and end and end < start:
        yield "valid_until", f"the offer ends on {end}, before it begins on {start}."
    said = head.get("quoted_on", "")
    if said and end and end < said:
        yield "valid_until", f"the offer ends on {end}, before it was quoted on {said}."
    most, least = int(head.get("maximum") or 0), int(head.get("minimum") or 0)
    if most and most < least:
        yield "maximum", f"at most {most} and at least {least} cannot both be ordered."
    if "volumetric" in head and "freight_per_kg" not in head:
        yield "volumetric", "there is no freight_per_kg for it to change."


def offer_warnings(offer: Offer) -> list[str]:
    """Return what looks mistaken in an offer though it may be meant."""
    return [
        f"{offer.name}: {warning}"
        for row in offer.rows
        for warning in break_warnings(read_breaks(row.prices))
    ] + _freight_warnings(offer)


def _freight_warnings(offer: Offer) -> list[str]:
    """Return a warning where freight stands beside terms under which the seller pays it: it counts for nothing."""
    terms = offer.text("terms")
    typed = [name for name in FREIGHT_CELLS if offer.text(name).strip("0. ")]
    if not terms or not typed or buyer_pays(terms, is_foreign=is_of_foreign_trade(terms)).freight:
        return []
    them = "it" if len(typed) == 1 else "them"
    return [
        (
            f"{offer.name}: under {terms} the seller pays the freight, so {' and '.join(typed)} "
            f"count{'s' if len(typed) == 1 else ''} for nothing: clear {them}, or correct terms."
        )
    ]


FREIGHT_CELLS = (
    *("freight_per_order", "freight_per_unit", "freight_per_kg", "freight_per_m3"),
    "freight_minimum",
)
"""Any of these says what freight costs; a 0 says that it costs nothing."""
