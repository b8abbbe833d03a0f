"""Timings of the buying decision: `python -m tests.benchmarks.buying_decision [--tiny]`.

Prints ratios to yardsticks timed in turn with it; nothing is asserted.
"""

from __future__ import annotations

import argparse
import datetime
import sys
import time
import tracemalloc
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

HERE = Path(__file__).resolve().parent
for place in (HERE, HERE.parents[1]):
    # Run as a file or as a module, from a checkout that need not be installed.
    if str(place) not in sys.path:
        sys.path.insert(0, str(place))

import numpy as np  # noqa: E402
from bare_simulation import BareShape, bare  # noqa: E402
from measuring import Row, side_by_side, table  # noqa: E402

from ledger.intake.study_file import content_of, study_from  # noqa: E402
from ledger.sourcing.decide import decide  # noqa: E402
from ledger.sourcing.demand import stated_demand, with_sizes  # noqa: E402
from ledger.sourcing.economic_quantity import Ordering, best_under_breaks, economic_quantity  # noqa: E402
from ledger.sourcing.futures import Futures  # noqa: E402
from ledger.sourcing.quote import ALL_UNITS, PriceBreak  # noqa: E402
from ledger.sourcing.reorder import poisson_reorder_policy  # noqa: E402
from ledger.sourcing.simulate import CashPlan, Order, outcomes, unit_curves  # noqa: E402
from ledger.sourcing.study import Study  # noqa: E402

MEBIBYTE = 2**20


@dataclass(frozen=True)
class Scale:
    """How large everything is, and how many rounds are timed."""

    large: BareShape
    usual: BareShape
    rounds: int = 3
    repeats: int = 300


FULL = Scale(BareShape(), BareShape(futures=2_000, weeks=52))
TINY = Scale(BareShape(futures=40, weeks=12), BareShape(futures=30, weeks=12), rounds=1, repeats=2)


def simulate(shape: BareShape, seed: int = 1) -> int:
    """Do what a decision does with its futures: curves of all offers, outcomes of two orders."""
    shares = {f"size {number}": 1.0 for number in range(shape.sizes)}
    demand = with_sizes(stated_demand(60.0), shares)
    futures = Futures(demand, shape.weeks, shape.futures, seed)
    arrivals = [np.full(shape.futures, week, dtype=np.int64) for week in shape.arrivals]
    curves = unit_curves(futures, arrivals)
    cash = CashPlan((100.0, 900.0), (arrivals[0] * 0, arrivals[0]), 3.5)
    used = 0
    for quantity in (20, 25):
        order = Order(np.full(shape.sizes, quantity), 0.0, arrivals[0])
        used += int(outcomes(futures, order, cash).used.sum())
    return used + len(curves)


def made_study(shape: BareShape) -> Study:
    """A study with a domestic offer and one from afar for each arrival of the shape."""
    sizes = "".join(f"s{number} = 1, " for number in range(shape.sizes)).removesuffix(", ")
    offers = "".join(
        OFFER.format(number=number, price=1.60 + number / 20, days=7 * week)
        for number, week in enumerate(shape.arrivals)
    )
    text = STUDY.format(months=max(1, round(shape.weeks * 12 / 52)), sizes=sizes) + offers
    return study_from(content_of(text, "made"), "made", datetime.date(2026, 11, 24))


STUDY = """
currency = "USD"
horizon_months = {months}
[demand]
per_month = 60.0
sizes = {{{sizes}}}
[money]
capital_per_year = 0.12
cost_per_order = "8"
salvage_fraction = 0.3
[[offer]]
name = "home"
breaks = [{{from = 1, price = "4.10"}}, {{from = 72, price = "3.60"}}]
lead_time = {{mean_days = 4, sd_days = 1}}
"""
OFFER = """
[[offer]]
name = "mill {number}"
origin = "VN"
breaks = [{{from = 1, price = {price}}}, {{from = 500, price = 1.50}}]
multiple = 12
terms = "FOB"
freight = {{per_order = "180", per_unit = "0.10"}}
duty = [{{rate = "0.165", checked = 2026-11-24}}]
lead_time = {{mean_days = {days}, sd_days = 9}}
"""


def rows(scale: Scale) -> Iterator[Row]:
    """Yield every row of the table."""
    for name, shape in (("large", scale.large), ("usual", scale.usual)):
        seconds = side_by_side(
            {
                "ours": lambda shape=shape: simulate(shape),
                "decision": lambda shape=shape: decide(made_study(shape), shape.futures, 1),
                "yardstick": lambda shape=shape: bare(shape),
            },
            scale.rounds,
            clock=time.process_time,
        )
        size = f"{shape.futures} x {shape.weeks} x {shape.sizes} x {len(shape.arrivals)}"
        against = "the bare numpy arithmetic"
        yield Row(f"{name} simulation: {size}", seconds["ours"], seconds["yardstick"], "s", against, 2)
        yield Row(
            f"{name} decision, whole: {size}", seconds["decision"], seconds["yardstick"], "s", against, 2
        )
    yield Row(
        f"peak of arrays: {scale.large.futures} futures",
        peak(scale.large),
        peak(scale.usual),
        "MiB",
        f"the same of {scale.usual.futures} futures x {scale.usual.weeks} weeks",
    )
    yield from closed_forms(scale)


def peak(shape: BareShape) -> float:
    """Return the most memory that Python and numpy held while simulating, in MiB."""
    tracemalloc.start()
    simulate(shape)
    held = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return held / MEBIBYTE


def closed_forms(scale: Scale) -> Iterator[Row]:
    """Yield the closed forms against stockpyl, where it is installed."""
    try:
        from stockpyl import eoq, rq  # noqa: PLC0415 - slow, and not always there
    except ImportError:
        return
    steps = [
        PriceBreak(0, Fraction(75, 100)),
        PriceBreak(400, Fraction(72, 100)),
        PriceBreak(800, Fraction(68, 100)),
    ]
    prices = [float(step.price_minor) for step in steps]
    pairs: dict[str, tuple[Callable[[], object], Callable[[], object]]] = {
        "economic quantity": (
            lambda: economic_quantity(Ordering(1_300, 8, 0, 0.225)),
            lambda: eoq.economic_order_quantity(8, 0.225, 1_300),
        ),
        "all-units discounts": (
            lambda: best_under_breaks(Ordering(1_300, 8, 0.3), steps, ALL_UNITS),
            lambda: eoq.economic_order_quantity_with_all_units_discounts(
                8, 0.3, 1_300, [0, 400, 800], prices
            ),
        ),
        "Poisson reorder policy": (
            lambda: poisson_reorder_policy(20, 150, 100, 1.5, 2),
            lambda: rq.r_q_poisson_exact(20, 150, 100, 1.5, 2),
        ),
    }
    for name, (ours, theirs) in pairs.items():
        repeats = scale.repeats if "policy" not in name else max(1, scale.repeats // 10)
        seconds = side_by_side(
            {
                "ours": lambda ours=ours, repeats=repeats: [ours() for _ in range(repeats)],
                "yardstick": lambda theirs=theirs, repeats=repeats: [theirs() for _ in range(repeats)],
            },
            scale.rounds,
        )
        yield Row(f"{name}, {repeats} times", seconds["ours"], seconds["yardstick"], "s", "stockpyl")


def main(arguments: list[str] | None = None) -> None:
    """Run everything and print the table."""
    parser = argparse.ArgumentParser(description="Timings of the buying decision as ratios.")
    parser.add_argument("--tiny", action="store_true", help="a few futures: does everything still run?")
    told = parser.parse_args(arguments)
    sys.stdout.write(table(list(rows(TINY if told.tiny else FULL))) + "\n")


if __name__ == "__main__":
    main()
