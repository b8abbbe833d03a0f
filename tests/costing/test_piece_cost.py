"""What a run costs now, computed from layers and latest costs alone."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.costing.layers import OpenLayer
from ledger.costing.piece_cost import (
    BLANK,
    LABOUR,
    MATERIAL,
    RUN_LABOUR,
    RUN_MATERIAL,
    Costed,
    Fee,
    Need,
    Run,
    RunCost,
    left_at,
    run_cost,
    take_open,
)

TEE = (
    OpenLayer("TEE", 1, 1, 1, quantity=3000, amount=100, used=1000),
    OpenLayer("TEE", 2, 1, 1, quantity=4000, amount=1200),
)
INK = (OpenLayer("INK", 3, 1, 1, quantity=100_000, amount=1300),)
LATEST = {"TEE": Fraction(300), "INK": Fraction(13)}
RUN = Run(pieces=2, needs=(Need("TEE", 2000), Need("INK", 5000, 1000)), blank_sku="TEE")


def costed(run: Run = RUN, latest: dict[str, Fraction] = LATEST) -> RunCost:
    """Return the cost of a run in dollars out of the shelf of these tests."""
    return run_cost(run, {"TEE": TEE, "INK": INK}, latest, exponent=2)


def test_the_oldest_lots_are_used_first() -> None:
    """Two of the three-for-a-dollar lot are left; they are what two pieces take."""
    assert costed().rows[0].fifo == Costed(run=67, piece=3333)


def test_replacement_is_the_latest_landed_cost() -> None:
    """Three dollars each, whatever is on hand."""
    assert costed().rows[0].replacement == Costed(run=600, piece=30000)


def test_a_run_goes_on_into_the_next_lot() -> None:
    """Four pieces: two out of the old lot, two out of the new one at three dollars."""
    run = Run(pieces=4, needs=(Need("TEE", 4000),), blank_sku="TEE")
    assert costed(run).fifo.total == Costed(run=667, piece=16667)


def test_what_is_not_on_hand_costs_the_latest_and_is_told() -> None:
    """Eight pieces: six are there, two more at three dollars."""
    cost = costed(Run(pieces=8, needs=(Need("TEE", 8000),), blank_sku="TEE"))
    assert (cost.fifo.total.run, dict(cost.missing_milli), cost.job_cost) == (
        67 + 1200 + 600,
        {"TEE": 2000},
        None,
    )


def test_a_cost_nobody_knows_is_left_out_and_named() -> None:
    """An item that never came in has no cost; the others are still added up."""
    cost = costed(replace(RUN, needs=(*RUN.needs, Need("FILM", 500))))
    assert (cost.rows[2].fifo, cost.unknown, cost.fifo.total) == (None, ("FILM",), costed().fifo.total)


def test_what_is_on_hand_needs_no_latest_cost() -> None:
    """FIFO is known where the lots are there, though replacement is not."""
    cost = costed(Run(pieces=1, needs=(Need("TEE", 1000),)), latest={})
    assert (cost.fifo.total.run, cost.rows[0].replacement, cost.unknown) == (33, None, ("TEE",))


def test_the_parts_of_a_run_stand_apart() -> None:
    """Blank, material, labour of each piece, then what the run takes once."""
    run = replace(RUN, labour_each=Fraction(35), labour_once=Fraction(650))
    assert [(row.part, row.sku, row.quantity_milli) for row in costed(run).rows] == [
        (BLANK, "TEE", 2000),
        (MATERIAL, "INK", 4000),
        (LABOUR, "", 0),
        (RUN_MATERIAL, "INK", 1000),
        (RUN_LABOUR, "", 0),
    ]


def test_an_item_used_by_the_piece_and_by_the_run_is_split_by_quantity() -> None:
    """Five mL at 13 cents: four for the pieces, one for the run."""
    assert [row.fifo for row in costed().rows[1:]] == [Costed(52, 2600), Costed(13, 650)]


def test_the_misprint_allowance_is_the_misprints_of_a_good_piece() -> None:
    """At 20%, one misprint to four good ones; what the run takes once is not taken again."""
    column = costed(replace(RUN, misprint_percent=Fraction(20))).replacement
    assert column.misprints == Costed(run=163, piece=8150)


def test_the_allowance_is_not_in_the_total() -> None:
    """It only plans; the planned figure is total and allowance."""
    column = costed(replace(RUN, misprint_percent=Fraction(20))).replacement
    assert (column.total, column.planned) == (Costed(665, 33250), Costed(828, 41400))


def test_a_job_is_charged_whole_cents_out_of_each_lot() -> None:
    """0.5 mL at 13 cents is charged 7 cents, not 6.5; the exact cost is told beside it."""
    cost = costed(Run(pieces=1, needs=(Need("INK", 500), Need("TEE", 1000))))
    assert (cost.job_cost, cost.fifo.total.piece) == (7 + 34, 650 + 3333)


def test_the_charge_goes_on_from_what_was_used_before() -> None:
    """The second of three pieces for a dollar costs 34 cents: 67 less 33."""
    assert take_open(TEE, 1000).charged == 34


@pytest.mark.parametrize(("exponent", "piece"), [(0, 3_000_000), (2, 30_000), (3, 3000)])
def test_a_piece_has_four_decimals_in_any_currency(exponent: int, piece: int) -> None:
    """300 minor units are 300 yen, 3 dollars or 0.3 dinars."""
    run = Run(pieces=1, needs=(Need("TEE", 1000),))
    assert run_cost(run, {}, LATEST, exponent).replacement.total.piece == piece


FEES = (Fee("6.5%", percent=Fraction(13, 2)), Fee("0.30", amount=30))


def test_fees_are_taken_off_the_price_one_by_one() -> None:
    """6.5% of 25.00 is 1.625, rounded to 1.63; 0.30 stays."""
    assert left_at(2500, FEES, costed(), 2).fees == (163, 30)


def test_what_is_left_is_price_less_fees_less_cost() -> None:
    """25.00 - 1.93 - 3.325 at replacement."""
    left = left_at(2500, FEES, costed(), 2).replacement
    assert (left.amount, left.percent) == (197_450, Fraction(197_450, 2500))


def test_a_price_of_nothing_has_no_percentage() -> None:
    """What is given away leaves the cost."""
    left = left_at(0, (), costed(), 2).replacement
    assert (left.amount, left.percent) == (-33_250, None)


amounts = st.fractions(min_value=0, max_value=5000, max_denominator=997)


@st.composite
def runs(draw: st.DrawFn) -> tuple[Run, dict[str, list[OpenLayer]], dict[str, Fraction]]:
    """Draw a run, and a shelf that may hold too little for it."""
    skus = [f"SKU-{place}" for place in range(draw(st.integers(1, 5)))]
    needs, shelf = [], {}
    for sku in skus:
        quantity = draw(st.integers(1, 20_000))
        needs.append(Need(sku, quantity, draw(st.integers(0, quantity))))
        shelf[sku] = [
            OpenLayer(sku, place, 1, 1, size, draw(st.integers(0, 10_000)), draw(st.integers(0, size)))
            for place, size in enumerate(draw(st.lists(st.integers(1, 9000), max_size=4)))
        ]
    latest = {sku: draw(amounts) for sku in skus if draw(st.booleans())}
    run = Run(
        pieces=draw(st.integers(1, 500)),
        needs=tuple(needs),
        blank_sku=skus[0],
        labour_each=draw(amounts),
        labour_once=draw(amounts),
        misprint_percent=draw(st.fractions(0, 50, max_denominator=10)),
    )
    return run, shelf, latest


@given(runs())
def test_every_column_foots_exactly(
    drawn: tuple[Run, dict[str, list[OpenLayer]], dict[str, Fraction]],
) -> None:
    """The rows add up to the total, of the run and of a piece, by FIFO and by replacement."""
    cost = run_cost(*drawn, exponent=2)
    for column, costs in (
        (cost.fifo, [row.fifo for row in cost.rows]),
        (cost.replacement, [row.replacement for row in cost.rows]),
    ):
        known = [each for each in costs if each is not None]
        assert sum(known, Costed(0, 0)) == column.total


@given(runs())
def test_no_row_is_off_by_a_whole_unit(
    drawn: tuple[Run, dict[str, list[OpenLayer]], dict[str, Fraction]],
) -> None:
    """Each row is its exact cost, less than one unit away."""
    latest = drawn[2]
    cost = run_cost(*drawn, exponent=2)
    off = [
        row.sku
        for row in cost.rows
        if row.sku
        and row.replacement is not None
        and abs(row.replacement.run - latest[row.sku] * row.quantity_milli / 1000) >= 1
    ]
    assert off == []


@given(runs())
def test_a_run_that_is_on_hand_is_charged_what_it_costs(
    drawn: tuple[Run, dict[str, list[OpenLayer]], dict[str, Fraction]],
) -> None:
    """The charge differs from the exact cost by rounding alone: at most half a cent at either end of a layer."""
    run, shelf, _ = drawn
    for need in run.needs:
        taking = take_open(shelf[need.sku], need.quantity_milli)
        assert abs(taking.charged - taking.exact) <= len(shelf[need.sku])
