"""The sheet of everything that goes into a decision: each figure a cell, with unit, source and date."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from ledger.views.decision_inputs import DAYS_FORMAT, PricedOffer, Section
from ledger.views.offer_cells import COUNT_FORMAT, PLAIN_FORMAT, Input
from ledger.views.workbook_cells import PART_QUANTITY, WHOLE_FORMAT
from ledger.views.workbook_rows import Put, Rows

WIDTHS = (46, 10, 13, 22, 58, 11)


def write_inputs(rows: Rows, sections: Sequence[Section], offers: Sequence[PricedOffer]) -> None:
    """Write all inputs part by part, and give their cells the names that formulas call them by."""
    rows.head(
        "What goes in",
        "Change a figure here and the formulas of the sheets named in each part follow. The answer, the costs by volume, how "
        "it may turn out and what if are a simulation's: they stay as they are until the study is compared again.",
    )
    priced = {f"Offer: {each.offer.name}": each for each in offers}
    for section in sections:
        rows.part(section.heading, section.note)
        rows.headings(
            "figure", "from quantity", "value", "unit", "where it comes from", "as of", words=(0, 3, 4, 5)
        )
        first = rows.next_row
        for each in section.inputs:
            start = Put(None if each.start is None else Decimal(each.start), WHOLE_FORMAT)
            name = "" if each.start is not None else each.name
            rows.add(
                Put(each.what), start, Put(each.value, _shown(each), "", name, is_figure=True), Put(each.unit),
                Put(each.source), Put(each.as_of),
            )  # fmt: skip
        breaks = sum(each.start is not None and bool(each.name) for each in section.inputs)
        if breaks:
            offer, last = priced[section.heading], first + breaks - 1
            rows.name(f"{offer.prefix}_from", f"$B${first}:$B${last}")
            rows.name(f"{offer.prefix}_price", f"$C${first}:$C${last}")


def _shown(put: Input) -> str:
    """Return how a value is shown: no decimal point after a whole number."""
    if put.shown not in (PLAIN_FORMAT, DAYS_FORMAT) or isinstance(put.value, str):
        return put.shown
    if put.value == put.value.to_integral_value():
        return WHOLE_FORMAT
    return PART_QUANTITY if put.shown == PLAIN_FORMAT else COUNT_FORMAT
