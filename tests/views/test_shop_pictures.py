"""Pictures of the shop's state draw the figures of their data: read back from what was drawn."""

from __future__ import annotations

from fractions import Fraction

import pytest
from matplotlib.patches import Rectangle

from ledger.book.stock_by_month import KindValues, StockByMonth
from ledger.book.unit_costs import CameIn, UnitCosts, WentOut
from ledger.costing.month_statement import StatementLines
from ledger.exact.months import months_between
from ledger.views.pictures import LOOKS, picture_bytes, svg_text
from ledger.views.shop_pictures import (
    MOST_MONTHS,
    OTHER_KINDS,
    Band,
    StockValueChart,
    came_to_chart,
    came_to_figure,
    stock_value_chart,
    stock_value_figure,
    unit_cost_chart,
    unit_cost_figure,
)

MONTHS = ("2026-01", "2026-02", "2026-03")


def stock(count: int, months: tuple[str, ...] = MONTHS) -> StockByMonth:
    """As many kinds as asked for, each worth less than the one before, and more each month."""
    kinds = [
        KindValues(f"kind {number}", tuple((100 - number) * 100 + place for place in range(len(months))))
        for number in range(count)
    ]
    return StockByMonth("USD", months, tuple(kinds), (0,) * len(months))


def patches(figure: object, gid: str) -> list[Rectangle]:
    """The bars of a figure's only axes that belong to its data."""
    (axes,) = figure.axes  # type: ignore[attr-defined]
    return [patch for patch in axes.patches if isinstance(patch, Rectangle) and patch.get_gid() == gid]


def test_bands_are_the_kinds_worth_most_and_all_others() -> None:
    """However many kinds there are, their sums are the closing stock of each month."""
    chart = stock_value_chart(stock(9))
    assert [band.name for band in chart.bands] == ["kind 0", "kind 1", "kind 2", "kind 3", OTHER_KINDS]
    assert chart.totals_minor == stock(9).totals_minor


def test_few_kinds_stand_by_themselves() -> None:
    """Nothing is called other where there is nothing else."""
    assert [band.name for band in stock_value_chart(stock(4)).bands] == [
        f"kind {number}" for number in range(4)
    ]


def test_only_the_last_months_are_shown() -> None:
    """Ten years of bars would be no picture."""
    months = tuple(months_between("2017-01", "2026-12"))
    chart = stock_value_chart(stock(2, months))
    assert chart.months == months[-MOST_MONTHS:]
    assert chart.totals_minor == stock(2, months).totals_minor[-MOST_MONTHS:]


def test_bars_are_as_high_as_the_stock() -> None:
    """Each band begins where the one below it ends; heights are amounts in the currency."""
    chart = stock_value_chart(stock(6))
    bars = patches(stock_value_figure(chart), "band")
    drawn = [(round(bar.get_y() * 100), round(bar.get_height() * 100)) for bar in bars]
    reached = [0] * len(MONTHS)
    expected = []
    for band in chart.bands:
        for place, amount in enumerate(band.amounts_minor):
            expected.append((reached[place], amount))
            reached[place] += amount
    assert drawn == expected


def test_what_is_below_zero_hangs_below_the_line() -> None:
    """A kind that was used before it was entered takes nothing from the bars of the others."""
    chart = StockValueChart(
        "USD", ("2026-01",), (Band("blank", (5000,)), Band("ink", (-300,)), Band("film", (200,)))
    )
    bars = patches(stock_value_figure(chart), "band")
    assert [(round(bar.get_y() * 100), round(bar.get_height() * 100)) for bar in bars] == [
        (0, 5000),
        (0, -300),
        (5000, 200),
    ]


def test_bands_are_told_apart_without_colour() -> None:
    """No two neighbours have the same hatch and the same ink."""
    bars = patches(stock_value_figure(stock_value_chart(stock(6))), "band")[:: len(MONTHS)]
    looks = [(bar.get_hatch() or "", bar.get_facecolor()) for bar in bars]
    assert len(set(looks)) == len(looks)
    assert [hatch for hatch, _ in looks[: len(LOOKS)]] == [look.hatch for look in LOOKS]


def test_a_month_that_is_not_over_says_so() -> None:
    """Its name below the axis tells it."""
    figure = stock_value_figure(stock_value_chart(stock(1), is_last_so_far=True))
    names = [label.get_text() for label in figure.axes[0].get_xticklabels()]
    assert names == ["2026-01", "2026-02", "2026-03\nso far"]


LINES = StatementLines(
    opening_stock=10_000,
    purchases=5_000,
    charges_in=700,
    sent_back=200,
    closing_stock=12_000,
    cost_of_goods_sold=3_500,
)


def test_steps_come_to_the_cost_of_goods_sold() -> None:
    """What is nothing is left out, what takes away is below zero."""
    chart = came_to_chart(LINES, "USD")
    assert [step.name for step in chart.steps] == [
        *("opening stock", "purchases", "freight, duty, fees", "sent back", "closing stock"),
    ]
    assert sum(step.amount_minor for step in chart.steps) == chart.result.amount_minor == 3_500


def test_each_step_begins_where_the_one_above_ended() -> None:
    """The last bar starts from zero: it is what remains."""
    bars = patches(came_to_figure(came_to_chart(LINES, "USD")), "step")
    assert [(round(bar.get_x() * 100), round(bar.get_width() * 100)) for bar in bars] == [
        (0, 10_000),
        (10_000, 5_000),
        (15_000, 700),
        (15_700, -200),
        (15_500, -12_000),
        (0, 3_500),
    ]


def test_a_month_of_nothing_is_a_picture_too() -> None:
    """No step, and a result of zero: nothing is divided by it."""
    chart = came_to_chart(StatementLines(), "USD")
    assert picture_bytes(came_to_figure(chart), ".png").startswith(b"\x89PNG")


def costs(cents: int, unit: str = "each", milli: int = 1000) -> UnitCosts:
    """An item of which one lot came and a part left."""
    return UnitCosts(
        "TEE",
        "Tee <plain>",
        unit,
        "USD",
        (CameIn("2026-01-05", "1.1", "receipt", "Mill", milli, cents),),
        (WentOut("2026-02-05", 2, "sale", milli, cents),),
    )


def test_points_are_what_a_piece_cost() -> None:
    """One mark for each lot and each time something left, at its cost in the currency; the axis starts at zero."""
    axes = unit_cost_figure(unit_cost_chart(costs(350))).axes[0]
    came, left = axes.get_lines()
    assert [list(came.get_ydata()), list(left.get_ydata())] == [[3.5], [3.5]]
    assert axes.get_ylim()[0] == 0
    assert axes.get_ylabel() == "USD each"


@pytest.mark.parametrize(
    ("cents", "milli", "per_units", "words"),
    [
        (350, 1000, 1, "a sheet"),
        (30, 30_000, 100, "for 100 sheets"),
        (30, 1_000_000, 1000, "for 1,000 sheets"),
    ],
)
def test_what_costs_next_to_nothing_is_drawn_for_more(
    cents: int, milli: int, per_units: int, words: str
) -> None:
    """A square centimetre of vinyl has a cost, and an axis of zeros would hide it."""
    chart = unit_cost_chart(costs(cents, "sheet", milli))
    assert (chart.per_units, chart.unit_words) == (per_units, words)
    assert chart.came_in[0].cost_minor == Fraction(cents * 1000, milli) * per_units


def test_a_picture_is_the_same_file_every_time() -> None:
    """Nothing of the day or of chance is in it, and a name is only words."""
    figures = [unit_cost_figure(unit_cost_chart(costs(350))) for _ in range(2)]
    assert picture_bytes(figures[0], ".svg") == picture_bytes(figures[1], ".svg")
    assert "Tee &lt;plain&gt;" in svg_text(figures[0], "Costs", "What a piece cost.")
