"""What one piece of a run costs now: out of the lots on hand, and at the latest landed costs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.costing.layers import OpenLayer
from ledger.costing.spreading import spread
from ledger.exact.rounding import divide_round, round_fraction

PIECE_PLACES = 4
"""Decimals of the currency in which a cost per piece is told."""

BLANK, MATERIAL, LABOUR = "blank", "material", "labour"
RUN_MATERIAL, RUN_LABOUR = "material of the run", "labour of the run"
"""The parts of a piece's cost; those of the run are used once, however many pieces it has."""

OF_EACH_PIECE = (BLANK, MATERIAL, LABOUR)
"""The parts that every further piece of a run costs again, a misprint among them."""

_WHOLE = 100


@dataclass(frozen=True, slots=True)
class Need:
    """What a run takes of one item, in thousandths; ``once_milli`` of it whatever the number of pieces."""

    sku: str
    quantity_milli: int
    once_milli: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A run of ``pieces`` whose cost is asked for.

    ``blank_sku`` is which of the needs is the blank. Labour is exact, in minor units: for each piece,
    and once for the run; ``job_labour`` is what a job of this size is charged, rounded once.
    """

    pieces: int
    needs: tuple[Need, ...]
    blank_sku: str = ""
    labour_each: Fraction = Fraction(0)
    labour_once: Fraction = Fraction(0)
    job_labour: int = 0
    misprint_percent: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Costed:
    """A cost: of the whole run in minor units, and of one piece in ten-thousandths of the currency."""

    run: int
    piece: int

    def __add__(self, other: Costed) -> Costed:
        return Costed(self.run + other.run, self.piece + other.piece)


@dataclass(frozen=True, slots=True)
class CostRow:
    """One part of the cost; ``sku`` is empty for labour. A cost nobody can know yet is None."""

    part: str
    sku: str
    quantity_milli: int
    fifo: Costed | None
    replacement: Costed | None


@dataclass(frozen=True, slots=True)
class CostColumn:
    """The sum of one column of rows, and the allowance for misprints, which only plans."""

    total: Costed
    misprints: Costed

    @property
    def planned(self) -> Costed:
        """The total with the allowance."""
        return self.total + self.misprints


@dataclass(frozen=True, slots=True)
class RunCost:
    """What a run costs now, by part.

    ``missing_milli`` is, by SKU, what is not on hand, costed at the latest landed cost; ``unknown`` are
    the SKUs that have no cost yet, left out of the sums; ``job_cost`` is what a job posted now would
    be charged, whole minor units out of every lot, or None where something is not on hand.
    """

    pieces: int
    rows: tuple[CostRow, ...]
    fifo: CostColumn
    replacement: CostColumn
    missing_milli: Mapping[str, int]
    unknown: tuple[str, ...]
    job_cost: int | None


@dataclass(frozen=True, slots=True)
class Taking:
    """What a quantity costs out of the open layers: exactly, as a job is charged, and what is not there."""

    exact: Fraction
    charged: int
    missing_milli: int


def take_open(layers: Iterable[OpenLayer], quantity_milli: int) -> Taking:
    """Return what taking a quantity (thousandths) costs out of layers in FIFO order, without taking it.

    >>> take_open([OpenLayer("INK", 1, 1, 1, quantity=3000, amount=100, used=1000)], 500)
    Taking(exact=Fraction(50, 3), charged=17, missing_milli=0)
    """
    exact, charged, wanted = Fraction(0), 0, quantity_milli
    for layer in layers:
        if not wanted:
            break
        taken = min(wanted, layer.left)
        wanted -= taken
        exact += Fraction(layer.amount * taken, layer.quantity)
        charged += divide_round(layer.amount * (layer.used + taken), layer.quantity) - divide_round(
            layer.amount * layer.used, layer.quantity
        )
    return Taking(exact, charged, wanted)


def run_cost(
    run: Run, shelf: Mapping[str, Sequence[OpenLayer]], latest: Mapping[str, Fraction], exponent: int
) -> RunCost:
    """Return what a run costs now, each column of it footing exactly.

    Args:
        run: what the run takes; at least 1 piece.
        shelf: the open layers of each SKU in FIFO order.
        latest: the latest landed cost of one base unit of each SKU, in minor units; a SKU that has
            none is left out.
        exponent: decimals of the currency's minor unit.

    The exact costs are added up and rounded once; the rows get their parts by largest remainder. The
    misprint allowance is what each piece costs times rate / (1 - rate): the misprints of a good one.

    Source: our own rule.
    """
    takings = {need.sku: take_open(shelf.get(need.sku, ()), need.quantity_milli) for need in run.needs}
    fifo: dict[str, Fraction | None] = {}
    replacement: dict[str, Fraction | None] = {}
    for need in run.needs:
        taking, each = takings[need.sku], latest.get(need.sku)
        replacement[need.sku] = _worth(need.quantity_milli, each)
        rest = _worth(taking.missing_milli, each)
        fifo[need.sku] = None if rest is None else taking.exact + rest
    parts = [*_parts(run)]
    scale = 10 ** (PIECE_PLACES - exponent)
    columns = [_column(run, parts, costs, scale) for costs in (fifo, replacement)]
    missing = {sku: taking.missing_milli for sku, taking in takings.items() if taking.missing_milli}
    charged = sum(taking.charged for taking in takings.values()) + run.job_labour
    return RunCost(
        pieces=run.pieces,
        rows=tuple(
            CostRow(part.name, part.sku, part.quantity_milli, first, second)
            for part, first, second in zip(parts, columns[0][0], columns[1][0], strict=True)
        ),
        fifo=columns[0][1],
        replacement=columns[1][1],
        missing_milli=missing,
        unknown=tuple(sku for sku in takings if fifo[sku] is None or replacement[sku] is None),
        job_cost=None if missing else charged,
    )


@dataclass(frozen=True, slots=True)
class _Part:
    """A row before it has its costs: ``share`` of what its SKU costs, or of ``labour``."""

    name: str
    sku: str
    quantity_milli: int
    share: Fraction = Fraction(1)
    labour: Fraction = Fraction(0)

    def exact(self, costs: Mapping[str, Fraction | None]) -> Fraction | None:
        """Return what the row costs, exactly, in minor units."""
        if not self.sku:
            return self.labour
        cost = costs[self.sku]
        return None if cost is None else cost * self.share


def _worth(quantity_milli: int, each: Fraction | None) -> Fraction | None:
    """Return a quantity at a cost per base unit; nothing costs nothing, whatever its price."""
    if not quantity_milli:
        return Fraction(0)
    return None if each is None else each * quantity_milli / 1000


def _parts(run: Run) -> Iterator[_Part]:
    """Yield the rows: what each piece takes, its labour, then what the run takes once."""
    for need in run.needs:
        each = need.quantity_milli - need.once_milli
        if each:
            name = BLANK if need.sku == run.blank_sku else MATERIAL
            yield _Part(name, need.sku, each, Fraction(each, need.quantity_milli))
    if run.labour_each:
        yield _Part(LABOUR, "", 0, labour=run.labour_each * run.pieces)
    for need in run.needs:
        if need.once_milli:
            share = Fraction(need.once_milli, need.quantity_milli)
            yield _Part(RUN_MATERIAL, need.sku, need.once_milli, share)
    if run.labour_once:
        yield _Part(RUN_LABOUR, "", 0, labour=run.labour_once)


def _column(
    run: Run, parts: Sequence[_Part], costs: Mapping[str, Fraction | None], scale: int
) -> tuple[list[Costed | None], CostColumn]:
    """Return one column: the cost of each row, and their sum with the allowance."""
    exact = [part.exact(costs) for part in parts]
    known = [cost or Fraction(0) for cost in exact]
    per_piece = Fraction(scale, run.pieces)
    whole = _footing(known)
    pieces = _footing([cost * per_piece for cost in known])
    rows = [
        None if cost is None else Costed(in_run, in_piece)
        for cost, in_run, in_piece in zip(exact, whole, pieces, strict=True)
    ]
    again = sum(
        (cost for part, cost in zip(parts, known, strict=True) if part.name in OF_EACH_PIECE), Fraction(0)
    )
    allowance = again * run.misprint_percent / (_WHOLE - run.misprint_percent)
    misprints = Costed(round_fraction(allowance), round_fraction(allowance * per_piece))
    return rows, CostColumn(Costed(sum(whole), sum(pieces)), misprints)


def _footing(exact: Sequence[Fraction]) -> list[int]:
    """Return whole numbers for exact ones that add up to their rounded sum, by largest remainder."""
    total = sum(exact, Fraction(0))
    if not total:
        return [0] * len(exact)
    common = math.lcm(*(value.denominator for value in exact))
    return spread(round_fraction(total), [int(value * common) for value in exact])


@dataclass(frozen=True, slots=True)
class Fee:
    """What selling one piece costs: a percentage of its price, or an amount in minor units.

    ``words`` are what was typed, for showing it again.
    """

    words: str
    percent: Fraction | None = None
    amount: int = 0

    def of(self, price: int) -> int:
        """Return the fee on a price, in minor units, rounded once."""
        return self.amount if self.percent is None else round_fraction(price * self.percent / _WHOLE)


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of a price: in ten-thousandths of the currency, and in percent of the price."""

    amount: int
    percent: Fraction | None


@dataclass(frozen=True, slots=True)
class AtPrice:
    """A price per piece and each fee on it in minor units, and what is left of it.

    The costs are those of a piece by FIFO and by replacement; the planned ones have the allowance for
    misprints in them.
    """

    price: int
    fees: tuple[int, ...]
    fifo: Left
    replacement: Left
    fifo_planned: Left
    replacement_planned: Left


def left_at(price: int, fees: Iterable[Fee], cost: RunCost, exponent: int) -> AtPrice:
    """Return what is left of a price per piece (minor units) after its fees and the cost of the piece."""
    taken = tuple(fee.of(price) for fee in fees)
    scale = 10 ** (PIECE_PLACES - exponent)

    def left(costed: Costed) -> Left:
        amount = (price - sum(taken)) * scale - costed.piece
        return Left(amount, Fraction(amount * _WHOLE, price * scale) if price else None)

    return AtPrice(
        price=price,
        fees=taken,
        fifo=left(cost.fifo.total),
        replacement=left(cost.replacement.total),
        fifo_planned=left(cost.fifo.planned),
        replacement_planned=left(cost.replacement.planned),
    )
