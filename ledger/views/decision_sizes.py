"""How many of each size and colour: from afar, at home, and what is there now."""

from __future__ import annotations

from ledger.sourcing.colours import split_with_minimum
from ledger.sourcing.decide import Decision
from ledger.sourcing.offer_plan import OfferPlan
from ledger.sourcing.size_quantities import split_by_share, split_for_cover
from ledger.sourcing.verdict import BASE_AND_TOP_UP, BULK
from ledger.views.decision_figures import shown_alternatives
from ledger.views.tables import Table

MOST_SIZES_ACROSS = 8
"""More sizes or colours stand below each other."""

AT_HOME, TOP_UP, THERE = "an order at home", "top up, about", "there now"


def sizes_text(decision: Decision) -> str:
    """Return the pieces of each size as the screen shows them."""
    table = sizes_table(decision)
    return "" if table is None else table.text()


def sizes_table(decision: Decision) -> Table | None:
    """Return the pieces of each size: sizes across, or down where there are many; None for one size alone."""
    sizes = decision.study.demand.sizes
    columns = pieces_by_size(decision)
    if len(sizes) == 1 or not columns:
        return None
    columns[THERE] = tuple(size.on_hand for size in sizes)
    if not any(columns[THERE]) and len(sizes) <= MOST_SIZES_ACROSS:
        del columns[THERE]
    if len(sizes) <= MOST_SIZES_ACROSS:
        grid = Table([decision.study.unit_words, *(f">{size.name}" for size in sizes), ">all"])
        for name, pieces in columns.items():
            grid.add(name, *(f"{each:,}" for each in pieces), f"{sum(pieces):,}")
        return grid
    grid = Table([decision.study.unit_words, *(f">{name}" for name in columns)])
    for place, size in enumerate(sizes):
        grid.add(size.name, *(f"{pieces[place]:,}" for pieces in columns.values()))
    grid.total("all", *(f"{sum(pieces):,}" for pieces in columns.values()))
    return grid


def pieces_by_size(decision: Decision) -> dict[str, tuple[int, ...]]:
    """Return by name how many of each size: the orders from afar, then what is bought at home."""
    found = {
        name: held.quantities
        for name, held in shown_alternatives(decision).items()
        if held is not decision.alternatives[0]
    }
    topped, at_home = top_up_by_size(decision), home_by_size(decision)
    if topped is not None:
        found[TOP_UP] = topped
    elif decision.verdict.word != BULK and at_home is not None:
        found[AT_HOME] = at_home
    return found


def top_up_by_size(decision: Decision) -> tuple[int, ...] | None:
    """Return how many of each size are expected to be topped up at home; None where nothing is."""
    chosen = decision.verdict.chosen
    if decision.verdict.word != BASE_AND_TOP_UP or not chosen.topped_up:
        return None
    return tuple(round(each) for each in chosen.topped_up)


def home_by_size(decision: Decision) -> tuple[int, ...] | None:
    """Return the next order at home by size, so that all sizes last equally long; None where there is none."""
    home = decision.home
    if home is None or home.order_quantity is None:
        return None
    sizes = decision.study.demand.sizes
    if home.offer.quote.rules.size_ratio:
        by_name = order_by_size(decision, home)
        return tuple(by_name.get(size.name, 0) for size in sizes)
    parts = split_for_cover(
        home.order_quantity, [size.share for size in sizes], [size.on_hand for size in sizes]
    )
    return _at_least(decision, home, parts)


def order_by_size(decision: Decision, plan: OfferPlan) -> dict[str, int]:
    """Return an order under an offer by size: in whole prepacks, else by the shares and minima of colours."""
    sizes, quantity = decision.study.demand.sizes, plan.order_quantity or 0
    ratio = plan.offer.quote.rules.size_ratio
    if ratio:
        packs = quantity // sum(share.pieces for share in ratio)
        return {share.size: packs * share.pieces for share in ratio}
    parts = _at_least(decision, plan, split_by_share(quantity, [size.share for size in sizes]))
    return {size.name: pieces for size, pieces in zip(sizes, parts, strict=True)}


def _at_least(decision: Decision, plan: OfferPlan, parts: tuple[int, ...]) -> tuple[int, ...]:
    least = plan.offer.quote.rules.minimum_per_colour
    colours = [size.colour for size in decision.study.demand.sizes]
    return split_with_minimum(parts, colours, least) if least > 1 and len(set(colours)) > 1 else parts
