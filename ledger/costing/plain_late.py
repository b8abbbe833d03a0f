"""Late charges in the plain engine: a share that comes after its receipt's month was closed.

Its amount goes where the receipt line's goods are at that place in the order, measured by
quantity: into the lots that still hold them, as they were bought or in what was made of them,
and to what was used up of them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from graphlib import CycleError, TopologicalSorter
from math import lcm

from ledger.costing.facts import FactLine, Leg, ShareFact
from ledger.costing.plain_checks import STRAIGHT_TO_SUPPLIES, reference
from ledger.costing.plain_entries import LATE_ON_USED, ON_HAND, UNDER_WAY
from ledger.costing.plain_figures import Figure, spread
from ledger.costing.plain_shelf import Lot, Taking
from ledger.costing.plain_stock import Stock
from ledger.errors import OwnAncestor

PARTS_OF_A_SHARE = 1_000_000
"""The legs of the share at position p of a charge line have numbers from p times this on."""


@dataclass
class _Whereabouts:
    """Where the goods of a lot are, in thousandths: they add up to what the lot received."""

    lots: dict[Lot, Fraction]
    own_use_milli: Fraction
    rest_milli: Fraction


@dataclass(frozen=True)
class _Piece:
    """One leg of a share before it has its document, line and date; an amount of zero has none."""

    part: int
    account: str
    sku: str
    lot: Lot | None
    amount: Figure[int]


def add_late_share(share: ShareFact, stock: Stock) -> Callable[[], list[Leg]]:
    """Let a late share act on the stock, and return what gives its legs once all figures are known.

    Raises:
        OwnAncestor: what was made of the goods settled what its own job was short of.
    """
    receipt_line = stock.lines[share.receipt_document, share.receipt_line]
    if share.amount == 0:
        return list
    first_part = PARTS_OF_A_SHARE * share.position + 1
    pieces = [_Piece(first_part, share.account, receipt_line.sku, None, Figure(-share.amount))]
    if receipt_line.tax_class == STRAIGHT_TO_SUPPLIES:
        pieces.append(_Piece(first_part + 1, "supplies", receipt_line.sku, None, Figure(share.amount)))
    else:
        lot = stock.lot_of(receipt_line)
        assert lot is not None
        pieces += _pieces_of_the_goods(share.amount, lot, first_part + 1, stock)
    return lambda: [_leg(share, piece) for piece in pieces if piece.amount.value() != 0]


def _leg(share: ShareFact, piece: _Piece) -> Leg:
    """Return a piece of a share as a leg."""
    return Leg(
        document=share.document,
        line=share.line,
        part=piece.part,
        effect_date=share.effect_date,
        account=piece.account,
        sku=piece.sku,
        lot_document=piece.lot.document if piece.lot else None,
        lot_line=piece.lot.line if piece.lot else None,
        quantity_milli=0,
        amount=piece.amount.value(),
    )


def _pieces_of_the_goods(amount: int, lot: Lot, first_part: int, stock: Stock) -> list[_Piece]:
    """Return what of a share comes to each place where the lot's goods are, and give it to the lots."""
    goods = _whereabouts(lot, stock)
    others = sorted(goods.lots.keys() - {lot}, key=lambda other: (other.document, other.line))
    recipients: list[tuple[Lot | str, Fraction]] = [
        *((holder, goods.lots[holder]) for holder in (lot, *others)),
        ("own use", goods.own_use_milli),
        (LATE_ON_USED, goods.rest_milli),
    ]
    recipients = [(recipient, milli) for recipient, milli in recipients if milli > 0]
    pieces: list[_Piece] = []
    amounts = _spread_over_fractions(amount, [milli for _, milli in recipients])
    for place, ((recipient, _), its_amount) in enumerate(zip(recipients, amounts, strict=True)):
        part = first_part + 2 * place
        if its_amount == 0:
            continue
        if isinstance(recipient, Lot):
            pieces += _pieces_of_a_lot(recipient, its_amount, part, stock)
        else:
            pieces.append(_Piece(part, recipient, lot.sku, lot, Figure(its_amount)))
    for piece in pieces:
        if piece.lot is not None and piece.lot is not lot and piece.account in {ON_HAND, UNDER_WAY}:
            piece.lot.landed = _sum(piece.lot.landed, piece.amount, stock)
    lot.landed = _sum(lot.landed, Figure(amount), stock)
    return pieces


def _pieces_of_a_lot(lot: Lot, amount: int, part: int, stock: Stock) -> list[_Piece]:
    """Return what comes to a lot, at most all that its goods cost where it is taken off; the rest is used."""
    figures = stock.figures
    account = UNDER_WAY if stock.under_way.get((lot.document, lot.line)) is lot else ON_HAND
    if amount > 0:
        borne = Figure(amount)
    else:
        borne = figures.work_out(lambda value: max(amount, -value), (lot.value(figures),))
    excess = figures.work_out(lambda borne: amount - borne, (borne,))
    # Where the lot's cost is not known yet it may turn out to be nothing. Its layers then start anew
    # with nothing, which costs what going on with layers of which nothing is left to cost would.
    if borne.found != 0:
        lot.start_anew(borne, figures)
    return [
        _Piece(part, account, lot.sku, lot, borne),
        _Piece(part + 1, LATE_ON_USED, lot.sku, lot, excess),
    ]


def _sum(landed: Figure[int], more: Figure[int], stock: Stock) -> Figure[int]:
    return stock.figures.work_out(lambda cost, change: cost + change, (landed, more))


def _spread_over_fractions(amount: int, weights: list[Fraction]) -> list[int]:
    """Return the parts of an amount by weights that need not be whole."""
    scale = lcm(*(weight.denominator for weight in weights))
    return spread(amount, [int(weight * scale) for weight in weights])


def _whereabouts(first: Lot, stock: Stock) -> _Whereabouts:
    """Return where the goods of a lot are, followed through all that was made of them."""
    went: dict[Lot, list[tuple[Lot, int]]] = {}
    to_follow = [first]
    while to_follow:
        lot = to_follow.pop()
        if lot not in went:
            went[lot] = list(_lots_it_went_into(lot, stock))
            to_follow += [made for made, _ in went[lot]]
    order = TopologicalSorter({lot: [made for made, _ in into] for lot, into in went.items()})
    found: dict[Lot, _Whereabouts] = {}
    try:
        for lot in order.static_order():
            found[lot] = _whereabouts_from(lot, went[lot], found)
    except CycleError:
        raise OwnAncestor(
            f"{first.sku}: a charge comes late to lot {first.document}.{first.line}, but what was made of it "
            "settled what its own job was short of, so that its goods go in a circle. Enter the receipt of "
            "what was short, or correct the dates of the jobs."
        ) from None
    return found[first]


def _whereabouts_from(lot: Lot, into: list[tuple[Lot, int]], found: dict[Lot, _Whereabouts]) -> _Whereabouts:
    """Return where the goods of a lot are, once that is known of all that was made of them."""
    left_milli = lot.left_milli()
    own_use_milli = sum(taking.out_milli() for taking in lot.takings if taking.by.event == "own use")
    lots: dict[Lot, Fraction] = defaultdict(Fraction, {lot: Fraction(left_milli)})
    goods = _Whereabouts(lots, Fraction(own_use_milli), Fraction(0))
    for made, milli in into:
        share_of_it = Fraction(milli, made.received_milli)
        for holder, held_milli in found[made].lots.items():
            goods.lots[holder] += share_of_it * held_milli
        goods.own_use_milli += share_of_it * found[made].own_use_milli
    held_milli = sum(goods.lots.values(), Fraction(0))
    goods.rest_milli = lot.received_milli - held_milli - goods.own_use_milli
    assert goods.rest_milli >= 0
    return goods


def _lots_it_went_into(lot: Lot, stock: Stock) -> Iterator[tuple[Lot, int]]:
    """Yield the lots that goods of a lot went into, with how much of it did, in thousandths."""
    for taking in lot.takings:
        line_of_lot = _line_it_went_to(lot, taking, stock)
        made = stock.lot_of(line_of_lot) if line_of_lot else None
        # The good pieces of an arrival bear what was paid for the claimed ones too.
        if made is not None and taking.out_milli() > 0:
            yield made, taking.out_milli()


def _line_it_went_to(lot: Lot, taking: Taking, stock: Stock) -> FactLine | None:
    """Return the line that put on the shelf what became of a taking; None where it made no stock."""
    by = taking.by
    if by.role == "component":
        return stock.jobs[by.document].product
    if by.event == "receipt" and reference(by) == (lot.document, lot.line):
        return by
    return None
