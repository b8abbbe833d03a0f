"""Who holds something of bad lots and has to be told, and what else became of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.tracing import Ahead, Departure, Held, Lot

HOLDERS = ("sale", "sample", "donate", "own use")
"""Events by which pieces go to somebody, who may have to be told."""


@dataclass(frozen=True, slots=True)
class Holder:
    """Who holds pieces of bad lots: an order's pieces of one item, what was brought back taken off.

    ``inside`` is as in `Departure`.
    """

    document: int
    event: str
    effect_date: str
    party: str
    reference: str
    sku: str
    base_unit: str
    quantity_milli: int
    back_milli: int
    inside: Fraction | None

    @property
    def held_milli(self) -> int:
        """What they still have."""
        return self.quantity_milli - self.back_milli


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """What else became of bad lots, by event and item: used up, spoiled, sent back, missing at a count."""

    event: str
    sku: str
    base_unit: str
    quantity_milli: int
    inside: Fraction | None


@dataclass(frozen=True, slots=True)
class Recall:
    """Who to tell about bad lots, what is still on hand, and what else became of them."""

    seeds: tuple[Lot, ...]
    holders: tuple[Holder, ...]
    on_hand: tuple[Held, ...]
    elsewhere: tuple[Elsewhere, ...]
    under_way: tuple[Held, ...] = ()


def recall(traced: Ahead) -> Recall:
    """Return who holds something of the traced lots, by date and document."""
    orders: dict[tuple[int, str], list[Departure]] = {}
    others: dict[tuple[str, str], list[Departure]] = {}
    for each in traced.departures:
        if each.event in HOLDERS:
            orders.setdefault((each.document, each.sku), []).append(each)
        elif each.makes is None:
            others.setdefault((each.what, each.sku), []).append(each)
    holders = [_holder(own) for own in orders.values()]
    return Recall(
        seeds=traced.seeds,
        holders=tuple(
            sorted(
                (holder for holder in holders if holder.held_milli),
                key=lambda holder: (holder.effect_date, holder.document, holder.sku),
            )
        ),
        on_hand=traced.on_hand,
        elsewhere=tuple(
            Elsewhere(event, sku, own[0].base_unit, sum(each.gone_milli for each in own), _inside(own))
            for (event, sku), own in others.items()
        ),
        under_way=traced.under_way,
    )


def _holder(own: Sequence[Departure]) -> Holder:
    first = own[0]
    return Holder(
        document=first.document,
        event=first.event,
        effect_date=first.effect_date,
        party=first.party,
        reference=first.reference,
        sku=first.sku,
        base_unit=first.base_unit,
        quantity_milli=sum(each.quantity_milli for each in own),
        back_milli=sum(each.back_milli for each in own),
        inside=_inside(own),
    )


def _inside(own: Sequence[Departure]) -> Fraction | None:
    parts = [each.inside for each in own if each.inside is not None]
    return sum(parts, Fraction(0)) if parts else None
