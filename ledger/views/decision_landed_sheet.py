"""The sheet of landed costs: one table for each offer, every amount a formula over the cells that go in."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from ledger.sourcing.chart_data import CostLine, cost_lines
from ledger.sourcing.decide import Decision
from ledger.sourcing.landed_estimate import CLAIM, DUTY, FREIGHT, GOODS, INLAND, INSURANCE
from ledger.views.decision_charts import CHART_ROWS, Axes, Line, line_chart
from ledger.views.decision_inputs import PricedOffer
from ledger.views.offer_cells import COUNT_FORMAT
from ledger.views.offer_formulas import ALL, BORDER, CLEARING, FEES, GOOD, PRICE, UNIT, row_values
from ledger.views.workbook_cells import UNIT_FORMAT, WHOLE_FORMAT, money_format
from ledger.views.workbook_formulas import column_letter
from ledger.views.workbook_rows import NOTHING_THERE, Put, Rows

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

IN_ALL, IN_ALL_NEAR, GOOD_PIECES, OF_GOODS = (
    "landed_in_all", "landed_in_all_near", "landed_good_pieces", "landed_goods",
)  # fmt: skip
"""Names of the cells that the screen is worked out from: of the order it looks at, and of one near it."""

QUANTITY, WHAT = "quantity", "what"
_STEEP = 2.0
"""The chart leaves out orders whose pieces cost more than so many times the least: the rest would be flat."""

_HEADS: Mapping[str, tuple[str, float]] = {
    QUANTITY: ("quantity", 10),
    PRICE: ("price of one, as offered", 13),
    GOODS: ("goods", 12),
    INLAND: ("way to the port", 13),
    FREIGHT: ("freight", 11),
    INSURANCE: ("insurance", 11),
    BORDER: ("customs value", 12),
    DUTY: ("duty", 11),
    FEES: ("entry fees", 10),
    CLEARING: ("broker, delivery and such", 13),
    CLAIM: ("claim for bad ones", 11),
    ALL: ("in all", 12),
    GOOD: ("good ones", 11),
    UNIT: ("landed, each good one", 12),
    WHAT: ("what changes here", 32),
}
_ALWAYS = (QUANTITY, PRICE, GOODS, ALL, GOOD, UNIT, WHAT)


@dataclass(frozen=True, slots=True)
class ScreenedOrder:
    """The order that the screen looks at, and the one near it that tells what a further piece costs (0: none)."""

    offer: PricedOffer
    quantity: int
    near: int


@dataclass(frozen=True, slots=True)
class Block:
    """One offer's table: its quantities, and in words what changes at them."""

    priced: PricedOffer
    quantities: tuple[int, ...]
    words: Mapping[int, str]


def screened_order(decision: Decision, offers: Sequence[PricedOffer]) -> ScreenedOrder | None:
    """Return the order that the screen looks at; None where there is no screen."""
    held, plan = decision.focus, decision.bulk_plan
    if decision.screen is None or held is None or plan is None:
        return None
    offer = next(each for each in offers if each.offer.name == plan.offer.name)
    return ScreenedOrder(offer, held.quantity, plan.curve.neighbour(held.quantity))


def landed_blocks(
    decision: Decision, offers: Sequence[PricedOffer], screened: ScreenedOrder | None
) -> tuple[Block, ...]:
    """Return the table of each offer that allows an order, at the quantities of its picture.

    Raises ValueProblem where an offer cannot be costed.
    """
    lines: dict[str, CostLine] = {line.offer: line for line in cost_lines(decision)}
    found = []
    for priced in offers:
        line = lines.get(priced.offer.name)
        if line is None:
            continue
        words = {point.quantity: point.what for point in line.points}
        if screened is not None and screened.offer is priced:
            for quantity, said in ((screened.quantity, "the order screened"), (screened.near, "")):
                if quantity:
                    words[quantity] = "; ".join(filter(None, (words.get(quantity, ""), said)))
        found.append(Block(priced, tuple(sorted(words)), words))
    return tuple(found)


def landed_widths(blocks: Sequence[Block]) -> list[float]:
    """Return how wide the sheet's columns are."""
    return [_HEADS[key][1] for key in _keys(blocks)]


def _keys(blocks: Sequence[Block]) -> list[str]:
    """Return the columns: those that any offer has something in."""
    return [
        key for key in _HEADS if key in _ALWAYS or any(key in block.priced.model.formulas for block in blocks)
    ]


def write_landed(
    rows: Rows, decision: Decision, blocks: Sequence[Block], screened: ScreenedOrder | None
) -> None:
    """Write the chart, and below it each offer's table."""
    study = decision.study
    rows.head(
        f"Landed cost by quantity, {study.currency}",
        "Every amount is a formula over the cells of 'What goes in', rounded as a bill would be. The quantities, and what "
        "changes at them, are the program's: a break that you move moves no row.",
        "The chart begins where a good one costs at most twice the least of all: smaller orders, which cost more, stand in "
        "the tables only.",
    )
    top = rows.next_row
    rows.writer.blank(CHART_ROWS)
    keys, lines = _keys(blocks), []
    most = _STEEP * min(
        (_unit(block, quantity) for block in blocks for quantity in block.quantities), default=0.0
    )
    for block in blocks:
        quote = block.priced.offer.quote
        notes = [f"prices in {quote.currency}"] if quote.currency != study.currency else []
        if block.priced.model.is_price_by_program:
            notes.append(
                "the price goes by size and is the program's average for the usual split, no formula"
            )
        rows.part(block.priced.offer.name, *notes)
        rows.headings(*(_HEADS[key][0] for key in keys), words=(len(keys) - 1,))
        first = rows.next_row
        for quantity in block.quantities:
            _write_row(rows, block, keys, quantity, screened)
        at_unit = keys.index(UNIT) + 1
        lines.append(
            Line(block.priced.offer.name, 1, at_unit, first + _hidden(block, most), rows.next_row - 1)
        )
    if lines:
        unit, each = study.unit_words, study.of_one
        axes = Axes(
            f"Landed cost of one by quantity, {study.currency} {each}", f"quantity ordered, {unit}",
            f"{study.currency} {each}", upward_format="#,##0.00",
        )  # fmt: skip
        line_chart(rows.sheet, axes, lines, f"A{top}")


def _unit(block: Block, quantity: int) -> float:
    return block.priced.plan.curve.unit(quantity)


def _hidden(block: Block, most: float) -> int:
    """Return how many of the smallest orders the chart leaves out; none where that would be all or all but one."""
    dear = sum(_unit(block, quantity) > most for quantity in block.quantities)
    return dear if dear < len(block.quantities) - 1 else 0


def _write_row(
    rows: Rows, block: Block, keys: Sequence[str], quantity: int, screened: ScreenedOrder | None
) -> None:
    """Write one quantity: its parts as formulas, each with the program's own figure as its value."""
    plan, model = block.priced.plan, block.priced.model
    values = row_values(plan.offer, quantity, plan.curve.at(quantity))
    row = rows.next_row
    cells = {key: f"{column_letter(at)}{row}" for at, key in enumerate(keys)}
    names = _names(block, quantity, screened)
    puts = []
    for key in keys:
        if key == QUANTITY:
            puts.append(Put(Decimal(quantity), WHOLE_FORMAT))
        elif key == WHAT:
            puts.append(Put(block.words[quantity]))
        elif key in model.formulas:
            formula = model.formulas[key].format_map(cells)
            puts.append(Put(values[key], _shown(key, rows.writer.currency), formula, names.get(key, "")))
        elif key == PRICE:
            puts.append(Put(values[key], UNIT_FORMAT))
        else:
            puts.append(NOTHING_THERE)
    rows.add(*puts)


def _names(block: Block, quantity: int, screened: ScreenedOrder | None) -> dict[str, str]:
    if screened is None or block.priced is not screened.offer:
        return {}
    if quantity == screened.quantity:
        return {ALL: IN_ALL, GOOD: GOOD_PIECES, GOODS: OF_GOODS}
    return {ALL: IN_ALL_NEAR} if quantity == screened.near else {}


def _shown(key: str, currency: str) -> str:
    if key in (PRICE, UNIT):
        return UNIT_FORMAT
    return COUNT_FORMAT if key == GOOD else money_format(currency)
