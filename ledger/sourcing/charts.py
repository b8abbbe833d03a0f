"""All chart data of one decision, from one pass of its futures each."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.sourcing.chart_data import (
    CostLine,
    SavingChart,
    TornadoChart,
    VolumeChart,
    cost_lines,
    drawn_again,
    saving_chart,
    tornado_chart,
    volume_chart,
)
from ledger.sourcing.chart_paths import CashChart, StockChart, cash_chart, stock_chart
from ledger.sourcing.decide import Decision


@dataclass(frozen=True)
class DecisionCharts:
    """What the pictures of a decision show; None or empty where a decision has nothing to show there."""

    cost: tuple[CostLine, ...] = ()
    volume: VolumeChart | None = None
    saving: SavingChart | None = None
    cash: CashChart | None = None
    stock: StockChart | None = None
    tornado: TornadoChart | None = None


def charts_of(decision: Decision) -> DecisionCharts:
    """Return the chart data of a decision; the futures it was made on are drawn again from its seed."""
    if decision.futures == 0:
        return DecisionCharts()
    futures = drawn_again(decision)
    return DecisionCharts(
        cost_lines(decision),
        volume_chart(decision, futures),
        saving_chart(decision),
        cash_chart(decision, futures),
        stock_chart(decision, futures),
        tornado_chart(decision),
    )
