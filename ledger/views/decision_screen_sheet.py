"""The sheet of the instant screen: every figure a formula over the cells that go in, the program's own beside it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from ledger.exact.currencies import exponent
from ledger.sourcing.decide import Decision
from ledger.sourcing.offer_plan import OfferPlan, payments
from ledger.sourcing.screen import Screen, ScreenInput, saving
from ledger.views.decision_charts import CHART_ROWS, Axes, Line, line_chart
from ledger.views.decision_inputs import AT_HOME, CARRYING, DEMAND, DEMAND_SHARE, demand_share
from ledger.views.decision_landed_sheet import GOOD_PIECES, IN_ALL, IN_ALL_NEAR, OF_GOODS, ScreenedOrder
from ledger.views.offer_cells import COUNT_FORMAT, PERCENT_FORMAT, exact
from ledger.views.workbook_cells import UNIT_FORMAT, WHOLE_FORMAT, zero_format
from ledger.views.workbook_rows import Put, Rows

WIDTHS = (46, 13, 17, 15, 50)
CANNOT, CAN = "cannot pay at this volume", "can pay"
NONE, NO_END = "none", "no end"

YEARLY, ORDER, FURTHER, EACH, FIXED, EARLY = (
    "demand_per_year", "order_screened", "further_piece", "landed_each", "fixed_for_a_shipment", "paid_early_years",
)  # fmt: skip
CARRIED = "fixed_and_carried"
GAIN, SHELF, ROOT = "gain_per_piece", "shelf_cost", "under_the_root"
VERDICT, PAYS_FROM, PAYS_TO, BEST, BEST_SAVING, NAIVE = (
    "can_it_pay", "pays_from", "pays_to", "best_quantity", "best_saving", "naive_break_even",
)  # fmt: skip
NOTHING_AT_COST, NOTHING_AT_DEMAND, NOTHING_AT_PRICE = (
    "nothing_at_landed", "nothing_at_demand", "nothing_at_price_at_home",
)  # fmt: skip
DRAWN_TO = "drawn_up_to"
STEPS = 24
"""Into how many steps the quantities that are drawn are divided."""

_FINE = "0.0000000"
_NO_SHELF = "0.000000000001"
_SINKS = f"OR({GAIN}<=0,{ROOT}<0)"
_FACTOR = f"(1+{CARRYING}*{EARLY})"
_CARRIED_SHARE = f"{CARRYING}*{CARRIED}/(2*{YEARLY})"


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of the sheet: what, its formula ('' for a figure that is given), its value, how it comes about."""

    what: str
    formula: str
    value: Decimal | str
    unit: str
    how: str
    name: str = ""
    shown: str = UNIT_FORMAT


@dataclass(frozen=True, slots=True)
class Screened:
    """A decision's screen with the order it looks at; money in the study's minor units."""

    decision: Decision
    order: ScreenedOrder
    given: ScreenInput
    found: Screen

    @property
    def currency(self) -> str:
        """The study's currency."""
        return self.decision.study.currency

    @property
    def plan(self) -> OfferPlan:
        """The plan of the offer that is screened."""
        return self.order.offer.plan

    def money(self, minor: float) -> Decimal:
        """Return an amount in currency units."""
        return exact(minor / 10 ** exponent(self.currency))


def screened_of(decision: Decision, order: ScreenedOrder | None) -> Screened | None:
    """Return what the sheet shows; None where the decision has no screen."""
    if decision.screen is None or order is None:
        return None
    return Screened(decision, order, *decision.screen)


def write_screen(rows: Rows, screened: Screened) -> None:
    """Write what goes in, what comes out, the chart of the saving and its table."""
    rows.head(
        "Can one large order pay at all?",
        "The saving of one shipment of Q pieces is B Q - F - A Q x Q: what each piece saves, less what is fixed for the "
        "shipment, less the shelf, which holds more pieces for longer. This is a first look only: it knows neither chance, nor "
        "leftovers, nor how many months the study looks ahead. The answer, on the first sheet, does.",
        "Change a cell of 'What goes in': every figure of the second column follows.",
    )
    heads = ("what", "figure", "unit", "as decided", "how")
    for title, figures in (
        ("What goes in", _given(screened)),
        ("What comes out", _results(screened)),
        ("The best order saves nothing at (all else as it is)", _switches(screened)),
    ):
        rows.part(title)
        rows.headings(*heads, words=(0, 2, 4))
        for each in figures:
            told = Put(each.value, each.shown, is_figure=True)
            rows.add(
                Put(each.what), Put(each.value, each.shown, each.formula, each.name), Put(each.unit),
                told, Put(each.how),
            )  # fmt: skip
    _write_savings(rows, screened)


def _each(screened: Screened) -> str:
    return f"{screened.currency} {screened.decision.study.of_one}"


def _given(screened: Screened) -> Iterator[Figure]:
    given, decision, order = screened.given, screened.decision, screened.order
    unit, each = decision.study.unit_words, _each(screened)
    share = f"*{DEMAND_SHARE}" if demand_share(decision) != 1 else ""
    yield Figure("price at home", AT_HOME, screened.money(given.domestic_cost), each, "from 'What goes in'")
    yield Figure("demand", f"{DEMAND}*12{share}", exact(given.demand_per_year), f"{unit} a year", "D: twelve months", YEARLY, COUNT_FORMAT)  # fmt: skip
    yield Figure("carrying rate", CARRYING, exact(given.carrying_per_year), "a year", "i: from 'What goes in'", shown=PERCENT_FORMAT)  # fmt: skip
    total, near = screened.plan.curve.total, order.near
    quantity = Decimal(order.quantity)
    name = screened.plan.offer.name
    yield Figure("the order that is looked at", "", quantity, unit, f"from {name}", ORDER, WHOLE_FORMAT)  # fmt: skip
    cents = zero_format(screened.currency)
    yield Figure("it costs landed in all", IN_ALL, screened.money(total(order.quantity)), screened.currency, "from 'Landed by quantity'", shown=cents)  # fmt: skip
    if near:
        nearby = f"an order of {near:,} costs landed in all"
        yield Figure(nearby, IN_ALL_NEAR, screened.money(total(near)), screened.currency, "from 'Landed by quantity', at the same price", shown=cents)  # fmt: skip
        slope = (total(order.quantity) - total(near)) / (order.quantity - near)
        yield Figure("a further piece costs", f"({IN_ALL}-{IN_ALL_NEAR})/({ORDER}-{near})", screened.money(slope), each, "the difference of the two, for each piece", FURTHER)  # fmt: skip
    yield from _linear(screened)


def _linear(screened: Screened) -> Iterator[Figure]:
    """Return the landed cost as a part for each piece and a part for the shipment; and how early it is paid."""
    given, order, each = screened.given, screened.order, _each(screened)
    ordering = order.offer.order_cost
    if order.near:
        fits = f"AND({FURTHER}>0,{IN_ALL}-{FURTHER}*{ORDER}>=0)"
        cost = f"IF({fits},{FURTHER}*{ORDER}/{GOOD_PIECES},{IN_ALL}/{GOOD_PIECES})"
        carried = f"IF({fits},{IN_ALL}-{FURTHER}*{ORDER},0)"
    else:
        cost, carried = f"{IN_ALL}/{GOOD_PIECES}", "0"
    fixed = f"{ordering}+{CARRIED}*{_FACTOR}"
    yield Figure("landed cost of a good piece, without what is fixed", cost, screened.money(given.overseas_cost), each, "c", EACH)  # fmt: skip
    cents = zero_format(screened.currency)
    yield Figure("fixed in the landed cost", carried, screened.money(given.carried_fixed), screened.currency, "f: lies on the shelf with the pieces", CARRIED, cents)  # fmt: skip
    yield Figure("fixed for a shipment, ordering included", fixed, screened.money(given.fixed_cost), screened.currency, "F: ordering and f (1 + i t)", FIXED, cents)  # fmt: skip
    prefix, days = order.offer.prefix, len(payments(screened.plan.curve, order.quantity)) - 1
    weighted = f"{prefix}_early_1"
    if days > 1:
        weighted = f"({prefix}_deposit*{prefix}_early_1+(1-{prefix}_deposit)*{prefix}_early_2)"
    early = f"{OF_GOODS}*{weighted}/365/{IN_ALL}"
    yield Figure("paid before it is there, on average", early, exact(given.paid_years), "years", "t: each payment by its days, of the whole landed cost", EARLY)  # fmt: skip


def _results(screened: Screened) -> Iterator[Figure]:
    given, found, each = screened.given, screened.found, _each(screened)
    unit = screened.decision.study.unit_words
    scale = 10 ** exponent(screened.currency)
    gain, shelf = given.gain_per_unit / scale, given.shelf_cost / scale
    yield Figure("a piece saves, before the shelf", f"{AT_HOME}-{EACH}*{_FACTOR}-{_CARRIED_SHARE}", exact(gain), each, "B: price at home - c (1 + i t) - i f / (2 D)", GAIN)  # fmt: skip
    yield Figure("the shelf, for the square of the quantity", f"{CARRYING}*{EACH}/(2*{YEARLY})", exact(shelf), screened.currency, "A: i c / (2 D)", SHELF, _FINE)  # fmt: skip
    root = gain**2 - 4 * shelf * given.fixed_cost / scale
    yield Figure("B x B - 4 A F", f"{GAIN}^2-4*{SHELF}*{FIXED}", exact(root), "", "below nothing no quantity pays", ROOT, _FINE)  # fmt: skip
    yield Figure("can it pay?", f'IF({_SINKS},"{CANNOT}","{CAN}")', CAN if found.can_pay else CANNOT, "", "B above nothing, and B x B at least 4 A F", VERDICT)  # fmt: skip
    window = found.window
    start = exact(window.quantity_from) if window else NONE
    yield Figure("pays from", f'IF({_SINKS},"{NONE}",2*{FIXED}/({GAIN}+SQRT({ROOT})))', start, unit, "(B - √(B x B - 4 A F)) / 2 A", PAYS_FROM, COUNT_FORMAT)  # fmt: skip
    end = NONE if window is None else NO_END if window.quantity_to is None else exact(window.quantity_to)
    endless = f'{SHELF}<={_NO_SHELF}*{GAIN},"{NO_END}"'
    yield Figure("pays up to", f'IF({_SINKS},"{NONE}",IF({endless},({GAIN}+SQRT({ROOT}))/(2*{SHELF})))', end, unit, "(B + √(B x B - 4 A F)) / 2 A", PAYS_TO, COUNT_FORMAT)  # fmt: skip
    nothing = NONE if window is None else NO_END
    best = nothing if found.best_quantity is None else exact(found.best_quantity)
    yield Figure("saves most at", f'IF({_SINKS},"{NONE}",IF({endless},{GAIN}/(2*{SHELF})))', best, unit, "B / 2 A", BEST, COUNT_FORMAT)  # fmt: skip
    most = nothing if found.best_saving is None else screened.money(found.best_saving)
    worth = f"{GAIN}*{BEST}-{FIXED}-{SHELF}*{BEST}^2"
    cents = zero_format(screened.currency)
    yield Figure("and saves there", f"IF(ISNUMBER({BEST}),{worth},{BEST})", most, screened.currency, "B Q - F - A Q x Q", BEST_SAVING, cents)  # fmt: skip
    naive = NONE if found.naive_quantity is None else exact(found.naive_quantity)
    yield Figure("the break-even that forgets the shelf", f'IF({AT_HOME}>{EACH},{FIXED}/({AT_HOME}-{EACH}),"{NONE}")', naive, unit, "F / (price at home - c): for comparison, too small", NAIVE, COUNT_FORMAT)  # fmt: skip


def _switches(screened: Screened) -> Iterator[Figure]:
    points, each = screened.found.switch_points, _each(screened)
    unit, share = screened.decision.study.unit_words, demand_share(screened.decision)
    k = f"{CARRYING}*{FIXED}/(2*{YEARLY})"
    most = f"({AT_HOME}-{_CARRIED_SHARE})"
    cost = f'IF({most}>0,((SQRT({k}+{_FACTOR}*{most})-SQRT({k}))/{_FACTOR})^2,"{NONE}")'
    landed = NONE if points.overseas_cost is None else screened.money(points.overseas_cost)
    yield Figure("landed cost of a good piece, without what is fixed", cost, landed, each, "the c at which B x B = 4 A F", NOTHING_AT_COST)  # fmt: skip
    of_all = f"/{DEMAND_SHARE}" if share != 1 else ""
    margin, shelf = f"({AT_HOME}-{EACH}*{_FACTOR})", f"2*{CARRYING}*{EACH}*{FIXED}"
    root = f"(SQRT({shelf})+SQRT({shelf}+2*{CARRYING}*{CARRIED}*{margin}))/(2*{margin})"
    volume = f'IF({margin}>0,({root})^2/12{of_all},"{NONE}")'
    demand = NONE if points.demand_per_year is None else exact(points.demand_per_year / 12 / share)
    yield Figure("demand", volume, demand, f"{unit} a month", "the D at which B x B = 4 A F, a month", NOTHING_AT_DEMAND, COUNT_FORMAT)  # fmt: skip
    price = f"{EACH}*{_FACTOR}+{_CARRIED_SHARE}+2*SQRT({SHELF}*{FIXED})"
    yield Figure("price at home", price, screened.money(points.domestic_cost), each, "c (1 + i t) + i f / (2 D) + 2 √(A F)", NOTHING_AT_PRICE)  # fmt: skip


def _write_savings(rows: Rows, screened: Screened) -> None:
    """Write the saving by quantity, evenly spread up to a quantity that may be changed, with its chart."""
    unit, currency = screened.decision.study.unit_words, screened.currency
    rows.part("Saving of one shipment by quantity")
    until = _drawn_to(screened)
    rows.add(
        Put("drawn up to (change it to look closer)"),
        Put(Decimal(until), WHOLE_FORMAT, "", DRAWN_TO),
        Put(unit),
    )
    top = rows.next_row + 1
    rows.writer.blank(CHART_ROWS + 1)
    rows.headings("quantity", f"saves, {currency}", words=())
    first = rows.next_row
    for step in range(STEPS + 1):
        quantity = Decimal(until) * step / STEPS
        cell = f"A{rows.next_row}"
        saved = screened.money(saving(screened.given, float(quantity)))
        formula = f"IF({cell}=0,0,{GAIN}*{cell}-{FIXED}-{SHELF}*{cell}^2)"
        at = Put(quantity, WHOLE_FORMAT, f"{DRAWN_TO}*{step}/{STEPS}")
        rows.add(at, Put(saved, zero_format(currency), formula))
    axes = Axes(
        f"Saving of one shipment by quantity, {currency}",
        f"quantity ordered, {unit}",
        currency,
        starts_at_zero=False,
    )
    # At no pieces nothing is paid: the line begins at the first step, where the fixed part already counts.
    line_chart(rows.sheet, axes, [Line("saving", 1, 2, first + 1, rows.next_row - 1)], f"A{top}")


def _drawn_to(screened: Screened) -> int:
    """Return a round quantity somewhat beyond all that is spoken of: the window, the order, the naive break-even."""
    found, order = screened.found, screened.order.quantity
    window = found.window
    spoken = [2.0 * order, 2 * (found.naive_quantity or 0.0) if not window else 0.0]
    if window is not None:
        spoken.append(1.08 * (window.quantity_to or 4 * window.quantity_from))
    wanted = min(max(spoken), _MOST)
    step = 10.0 ** max(math.floor(math.log10(wanted)) - 1, 0)
    # A multiple of the steps keeps the quantities whole where they are large enough.
    return max(STEPS, math.ceil(wanted / step) * round(step))


_MOST = 1e9
