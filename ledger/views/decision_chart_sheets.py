"""The sheets of what a decision's simulation found: cost by volume, how it may turn out, what if; with charts."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

from ledger.exact.currencies import exponent
from ledger.sourcing.chart_data import SavingChart, TornadoChart, VolumeChart
from ledger.sourcing.decide import Decision
from ledger.sourcing.sensitivity import CAPITAL, DEMAND, DOMESTIC_PRICE, LANDED, LEAD_TIME, Swing
from ledger.views.decision_answer_sheet import money
from ledger.views.decision_charts import CHART_ROWS, Axes, Bars, Line, column_chart, line_chart, tornado
from ledger.views.offer_cells import CHANCE_FORMAT, COUNT_FORMAT, exact
from ledger.views.workbook_cells import STRONG, UNIT_FORMAT, WHOLE_FORMAT, money_format, zero_format
from ledger.views.workbook_formulas import column_letter
from ledger.views.workbook_rows import NOTHING_THERE, Put, Rows

VOLUME_WIDTH, SPREAD_WIDTH = 17.0, 21.0
WHAT_IF_WIDTHS = (26, 24, 12, 12, 14, 14, 14, 14)
_BY_PROGRAM = (
    "These figures are the program's, out of the simulation: no formula follows the cells of 'What goes in'."
)
_EDGE_PLACES = 6


def volume_widths(chart: VolumeChart) -> list[float]:
    """Return how wide the columns of the sheet of volumes are."""
    return [*[VOLUME_WIDTH] * (2 * len(chart.lines)), 42.0]


def write_volumes(rows: Rows, decision: Decision, chart: VolumeChart) -> None:
    """Write what each alternative costs in all at each monthly volume, with what it saves as formulas."""
    study = decision.study
    currency, unit = study.currency, study.unit_words
    rows.head(
        f"Cost of the alternatives over {study.horizon_months} months by monthly volume, {currency}",
        f"Each volume is taken as known, the orders stay as they are. {_BY_PROGRAM} What an order saves is a formula over "
        "the costs beside it.",
    )
    top = rows.next_row
    rows.writer.blank(CHART_ROWS + 1)
    names = [_line_name(line.name, line.quantity) for line in chart.lines]
    saves = [f"{name} saves" for name in names[1:]]
    rows.headings(f"{unit} a month", *names, *saves, "what it is", words=(2 * len(names),))
    first = rows.next_row
    for at, volume in enumerate(chart.per_month):
        totals = [money(line.totals_minor[at], currency) for line in chart.lines]
        row = rows.next_row
        formulas = [f"B{row}-{column_letter(place)}{row}" for place in range(2, len(names) + 1)]
        rows.add(
            Put(exact(volume), COUNT_FORMAT),
            *(Put(total, money_format(currency)) for total in totals),
            *(
                Put(totals[0] - total, money_format(currency), formula)
                for total, formula in zip(totals[1:], formulas, strict=True)
            ),
            Put(_volume_words(chart, volume)),
        )
    lines = [Line(name, 1, at, first, rows.next_row - 1) for at, name in enumerate(names, 2)]
    axes = Axes(
        f"Cost over {study.horizon_months} months by monthly volume, {currency}", f"{unit} a month", currency
    )
    line_chart(rows.sheet, axes, lines, f"A{top}")


def _line_name(name: str, quantity: int) -> str:
    return f"{name}, {quantity:,}" if quantity else name


def _volume_words(chart: VolumeChart, volume: float) -> str:
    words = ["counted with"] if volume == chart.counted_per_month else []
    if volume == chart.break_even:
        words.append(f"{chart.of} saves about nothing here")
    return "; ".join(words)


def spread_widths(chart: SavingChart) -> list[float]:
    """Return how wide the columns of the sheet of outcomes are."""
    return [28, 12, 12, *[SPREAD_WIDTH] * max(len(chart.spreads), 3)]


def write_outcomes(rows: Rows, decision: Decision, chart: SavingChart) -> None:
    """Write in how many futures each order saves how much, with the chances as formulas over the counts."""
    currency = decision.study.currency
    rows.head(
        f"How it may turn out: what an order saves against buying at home, {currency}",
        f"{chart.futures:,} futures were drawn; each row says in how many of them the saving lies above the first figure and "
        f"up to the second. {_BY_PROGRAM} Sums and chances are formulas over the counts.",
    )
    names = [_line_name(spread.name, spread.quantity) for spread in chart.spreads]
    rows.headings("", "", "", *names)
    at_first = rows.next_row + _SUMMARY_ROWS + CHART_ROWS + 2
    last = at_first + len(chart.edges_minor) - 2
    _write_summary(rows, chart, at_first, last)
    top = rows.next_row + 1
    rows.writer.blank(CHART_ROWS + 1)
    rows.headings("saving", "above", "up to", *names)
    assert rows.next_row == at_first
    scale = 10 ** exponent(currency)
    edges = [exact(round(edge / scale, _EDGE_PLACES)) for edge in chart.edges_minor]
    shown = WHOLE_FORMAT if all(edge == edge.to_integral_value() for edge in edges) else zero_format(currency)
    for at, (low, high) in enumerate(pairwise(edges)):
        counts = (Put(Decimal(spread.counts[at]), WHOLE_FORMAT) for spread in chart.spreads)
        rows.add(Put(f"{_plain(low)} to {_plain(high)}"), Put(low, shown), Put(high, shown), *counts)
    sums = []
    for at, spread in enumerate(chart.spreads, 3):
        letter = column_letter(at)
        sums.append(Put(Decimal(sum(spread.counts)), WHOLE_FORMAT, f"SUM({letter}{at_first}:{letter}{last})"))
    rows.add(Put("all futures"), NOTHING_THERE, NOTHING_THERE, *sums, look=STRONG)
    axes = Axes(f"In how many futures an order saves how much, {currency}", f"saving, {currency}", "futures")
    columns = tuple(range(4, 4 + len(names)))
    column_chart(rows.sheet, axes, Bars(at_first - 1, last, 1, columns), f"A{top}")


_SUMMARY_ROWS = 4


def _write_summary(rows: Rows, chart: SavingChart, first: int, last: int) -> None:
    """Write mean, chance and worst tenth of each order; the chance is counted from the rows below."""
    currency, places = rows.writer.currency, len(chart.spreads)
    chances = []
    for at, spread in enumerate(chart.spreads, 3):
        letter = column_letter(at)
        counts = f"{letter}{first}:{letter}{last}"
        formula = f'SUMIF($B{first}:$B{last},">=0",{counts})/SUM({counts})'
        chances.append(Put(exact(spread.probability_cheaper), CHANCE_FORMAT, formula))
    blank = (NOTHING_THERE, NOTHING_THERE)
    cents = money_format(currency)
    means = [Put(money(spread.mean_minor, currency), cents) for spread in chart.spreads]
    worst = [Put(money(spread.worst_tenth_minor, currency), cents) for spread in chart.spreads]
    rows.add(Put("saves on average"), *blank, *means)
    rows.add(Put("cheaper than home in"), *blank, *chances)
    rows.add(Put("worst tenth saves"), *blank, *worst)
    limit = chart.limit_minor
    told = Put("no limit") if limit is None else Put(money(limit, currency), cents)
    rows.add(Put("your limit for that"), *blank, *[told] * places)


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"


def write_what_if(rows: Rows, decision: Decision, chart: TornadoChart) -> None:
    """Write how the expected saving of an order moves with each assumption alone, with the tornado."""
    currency = decision.study.currency
    cents = money_format(currency)
    rows.head(
        f"What if: the saving of an order of {chart.quantity:,}, {currency}",
        f"One figure is changed at a time, all else as it is. {_BY_PROGRAM} By how much the saving moves is a formula.",
    )
    expected = money(chart.expected_minor, currency)
    rows.add(Put("it is expected to save"), NOTHING_THERE, NOTHING_THERE, NOTHING_THERE, Put(expected, cents))
    top = rows.next_row + 1
    rows.writer.blank(CHART_ROWS + 1)
    rows.headings(
        "if it were", "unit", "low", "high", "saves at low", "saves at high", "moves by", "saves nothing at",
        words=(0, 1),
    )  # fmt: skip
    head = rows.next_row - 1
    for swing in chart.swings:
        row = rows.next_row
        low, high = money(swing.saving_low, currency), money(swing.saving_high, currency)
        flips = NOTHING_THERE if swing.flips_at is None else _value(decision, swing, swing.flips_at)
        rows.add(
            Put(swing.assumption), Put(_unit(decision, swing)), _value(decision, swing, swing.low),
            _value(decision, swing, swing.high), Put(low, cents), Put(high, cents),
            Put(abs(high - low), cents, f"ABS(F{row}-E{row})"), flips,
        )  # fmt: skip
    axes = Axes(
        f"Expected saving of an order of {chart.quantity:,} if one figure were another, {currency}", "",
        f"saving, {currency} (the bars begin at {expected:,})", starts_at_zero=False,
    )  # fmt: skip
    bars = Bars(head, rows.next_row - 1, 1, (5, 6))
    tornado(rows.sheet, axes, bars, expected, f"A{top}")


def _value(decision: Decision, swing: Swing, value: float) -> Put:
    if swing.assumption in {LANDED, DOMESTIC_PRICE}:
        return Put(exact(value / 10 ** exponent(decision.study.currency)), UNIT_FORMAT)
    return Put(exact(value), COUNT_FORMAT if swing.assumption in {DEMAND, LEAD_TIME} else "0.000")


def _unit(decision: Decision, swing: Swing) -> str:
    study = decision.study
    if swing.assumption in {LANDED, DOMESTIC_PRICE}:
        return f"{study.currency} {study.of_one}"
    if swing.assumption == DEMAND:
        return f"{study.unit_words} a month"
    if swing.assumption == LEAD_TIME:
        return "days"
    return "of the landed cost, a year" if swing.assumption == CAPITAL else "of the landed cost"
