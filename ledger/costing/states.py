"""What stands before a run of the fast engine, and what follows from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ledger.costing.facts import ShareFact
from ledger.costing.late import Move
from ledger.costing.layers import OpenLayer
from ledger.costing.legs import LegColumns
from ledger.costing.shelf import LotId, LotKey, Taken


@dataclass(frozen=True, slots=True)
class KnownLot:
    """A lot from before the replay; its open layers come separately.

    A lot under way has no place in the order of use yet: its key begins with the day it was shipped.
    ``landed`` is None where the lot was reversed, so that it is no latest known cost.
    """

    sku: str
    key: LotKey
    received: int
    invoice_cost: int
    landed: int | None
    is_under_way: bool = False


@dataclass(frozen=True, slots=True)
class MadeLot:
    """A lot that the facts made: by a receipt, a shipment, an opening line, a job or a count."""

    document: int
    line: int
    sku: str
    effect_date: str
    day_class: int
    quantity_received: int
    invoice_cost: int
    charges: int
    is_under_way: bool = False


@dataclass(frozen=True, slots=True)
class Start:
    """What stood before the first fact.

    ``layers`` are in FIFO order within each SKU. ``sold`` holds the portions of earlier lines that
    come back now; ``short`` what is short from closed months, per SKU; ``job_costs`` what a
    job's components cost that are not among the facts; ``reversed_jobs`` what earlier jobs cost whose
    product is reversed now. ``past`` is what left the lots that late charges follow, ``made`` the
    finished lots of the jobs among it.
    """

    layers: Sequence[OpenLayer] = ()
    lots: Sequence[KnownLot] = ()
    sold: Mapping[LotId, Taken] = field(default_factory=dict)
    short: Mapping[str, int] = field(default_factory=dict)
    job_costs: Mapping[int, int] = field(default_factory=dict)
    reversed_jobs: Mapping[int, int] = field(default_factory=dict)
    past: Sequence[Move] = ()
    made: Mapping[int, LotId] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class OutstandingShort:
    """A line that used stock before it was entered, and how much is still unsettled."""

    document: int
    line: int
    sku: str
    effect_date: str
    quantity: int


@dataclass(frozen=True, slots=True)
class LateCost:
    """What a late share adds to what a lot cost landed, in minor units."""

    share: ShareFact
    lot: LotId
    sku: str
    amount: int


@dataclass(frozen=True, slots=True)
class Walked:
    """What follows from the facts."""

    legs: LegColumns
    lots: list[MadeLot]
    open_layers: list[OpenLayer]
    shorts: list[OutstandingShort]
    late_costs: list[LateCost]
