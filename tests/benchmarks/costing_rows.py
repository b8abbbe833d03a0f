"""Costing against a bare loop, pandas and DuckDB: an issue for each document, a lot for ten of them."""

from __future__ import annotations

import math
import random
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

HERE = Path(__file__).resolve().parent
if str(HERE) not in sys.path:
    # What is measured in a process of its own finds the modules beside this one.
    sys.path.insert(0, str(HERE))

from benchmark_sizes import Sizes  # noqa: E402
from costing_yardsticks import (  # noqa: E402
    NOT_INSTALLED,
    costs_by_duckdb,
    costs_by_pandas,
    costs_of,
    duckdb_with,
    movement_frame,
)
from measuring import Row, side_by_side, taken_by_code  # noqa: E402
from yardsticks import fill_columns  # noqa: E402

from ledger.costing.replay import Movements, replay  # noqa: E402

LARGE = 1_000_000
"""The target is set for so many issues; fewer are not worth loading numpy for."""

MILLION_TARGET = 2.0

IN_A_PROCESS = """
import sys
from tests.benchmarks.costing_rows import cost_once
cost_once(sys.argv[1], int(sys.argv[2]))
"""


def costing_rows(sizes: Sizes) -> Iterator[Row]:
    """Yield the rows of every size; processor time, for nothing is read.

    Raises RuntimeError where pandas or DuckDB finds another cost for any issue.
    """
    for issues in sizes.alone:
        movements = issues_over_lots(issues, issues // 10)
        seconds = _seconds(movements, sizes.rounds)
        held = {
            name: taken_by_code(IN_A_PROCESS, name, str(issues)).mebibytes for name in ("nothing", *seconds)
        }
        target = MILLION_TARGET if issues >= LARGE else None
        for name, against in (
            ("loop", "a loop that fills the same columns"),
            ("pandas", "pandas: merge_asof, its frame ready"),
            ("pandas whole", "pandas: the same, its frame made of the columns"),
            ("duckdb", "DuckDB: window functions, its table ready"),
            ("duckdb whole", "DuckDB: the same, its table made of the columns"),
        ):
            yield Row(
                "costing, an issue for each document",
                seconds["ours"],
                seconds.get(name, math.nan),
                "s",
                against if name in seconds else f"DuckDB: {NOT_INSTALLED}",
                target if name == "loop" else None,
                issues,
                held["ours"] - held["nothing"],
                held[name] - held["nothing"] if name in seconds else None,
            )


def _seconds(movements: Movements, rounds: int) -> dict[str, float]:
    frame = movement_frame(movements)
    actions: dict[str, Callable[[], object]] = {
        "ours": lambda: replay((), movements),
        "loop": lambda: fill_columns(movements),
        "pandas": lambda: costs_by_pandas(frame),
        "pandas whole": lambda: costs_by_pandas(movement_frame(movements)),
    }
    agreed = {"pandas": costs_by_pandas(frame)}
    try:
        ready = duckdb_with(frame)
    except ImportError:
        pass
    else:
        actions["duckdb"] = lambda: costs_by_duckdb(ready)
        actions["duckdb whole"] = lambda: costs_by_duckdb(duckdb_with(movement_frame(movements)))
        agreed["DuckDB"] = costs_by_duckdb(ready)
    ours = costs_of(replay((), movements).takings)
    for name, costs in agreed.items():
        if costs.tolist() != ours.tolist():
            raise RuntimeError(f"{name} costs the issues at {costs.sum()}, the program at {ours.sum()}")
    return side_by_side(actions, rounds, clock=time.process_time)


def cost_once(name: str, issues: int) -> None:
    """Cost the issues once in one of the ways, for a process whose memory is looked at."""
    movements = issues_over_lots(issues, issues // 10)
    if name == "ours":
        replay((), movements)
    elif name == "loop":
        fill_columns(movements)
    elif name.startswith("pandas"):
        costs_by_pandas(movement_frame(movements))
    elif name.startswith("duckdb"):
        costs_by_duckdb(duckdb_with(movement_frame(movements)))


def issues_over_lots(issues: int, lots: int, skus: int = 500, seed: int = 3) -> Movements:
    """Return movements of lots of two dozen pieces and the issues of one to three that use them up."""
    chance = random.Random(seed)  # noqa: S311  (made-up shops, not secrets)
    movements = Movements()
    names = [f"SKU-{number:03}" for number in range(min(skus, lots))]
    on_hand = dict.fromkeys(names, 0)
    in_stock: list[str] = []

    def put(sku: str, *, arrives: bool, pieces: int, amount: int) -> None:
        movements.document.append(len(movements) + 1)
        movements.line.append(1)
        movements.effect_date.append("2016-01-04")
        movements.sku.append(sku)
        movements.arrives.append(arrives)
        movements.account.append("purchases" if arrives else "pieces sold")
        movements.quantity.append(1000 * pieces)
        movements.amount.append(amount)
        movements.expensed.append(0)

    issued = 0
    for number in range(lots):
        sku = names[number] if number < len(names) else chance.choice(names)
        put(sku, arrives=True, pieces=24, amount=chance.randint(6_000, 18_000))
        if not on_hand[sku]:
            in_stock.append(sku)
        on_hand[sku] += 24
        while issued < issues * (number + 1) // lots:
            place = chance.randrange(len(in_stock))
            sku = in_stock[place]
            pieces = min(chance.randint(1, 3), on_hand[sku])
            put(sku, arrives=False, pieces=pieces, amount=0)
            issued += 1
            on_hand[sku] -= pieces
            if not on_hand[sku]:
                in_stock[place] = in_stock[-1]
                in_stock.pop()
    return movements
