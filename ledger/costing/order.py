"""The order of costing: within history, and between items that are made from one another."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ledger.costing.facts import (
    ARRIVES_FROM,
    CLASS_IN_DAY,
    LATE_CLASS,
    LEAVES_TO,
    PRODUCT,
    FactLine,
    ShareFact,
)

Position = tuple[str, int, int, int, int, int, int]

_LEAVING_CLASS = CLASS_IN_DAY[next(iter(LEAVES_TO))]


def in_costing_order(facts: Iterable[FactLine]) -> list[FactLine]:
    """Return facts by effect date, class within the day, document and line.

    A customer return of the same day as its sale stands right after that sale; a job's product
    stands after all it is made of.
    """
    known = list(facts)
    sold_on = _days_sold(known)
    return sorted(known, key=lambda fact: position(fact, sold_on))


def positions(facts: Sequence[FactLine]) -> list[Position]:
    """Return the place in costing order of each fact."""
    sold_on = _days_sold(facts)
    return [position(fact, sold_on) for fact in facts]


def _days_sold(facts: Sequence[FactLine]) -> dict[tuple[int | None, int | None], str]:
    """Return the days of the sales that something is taken back of."""
    returned = {
        (fact.ref_document, fact.ref_line)
        for fact in facts
        if fact.event == "take back" and fact.ref_document
    }
    return {
        (fact.document, fact.line): fact.effect_date
        for fact in facts
        if returned and (fact.document, fact.line) in returned
    }


def position(fact: FactLine, sold_on: Mapping[tuple[int | None, int | None], str]) -> Position:
    """Return the fact's place in costing order; ``sold_on`` holds the days of the sales taken back."""
    if fact.event == "take back":
        sale = (fact.ref_document, fact.ref_line)
        if sold_on.get(sale) == fact.effect_date:
            first, second = fact.ref_document or 0, fact.ref_line or 0
            return (fact.effect_date, _LEAVING_CLASS, first, 0, second, fact.document, fact.line)
    is_product = int(fact.role == PRODUCT)
    in_day = CLASS_IN_DAY[fact.event]
    if fact.event == "reversal" and (is_product or fact.undone_event in ARRIVES_FROM):
        in_day = _LEAVING_CLASS
    return (fact.effect_date, in_day, fact.document, is_product, fact.line, 0, 0)


def late_position(share: ShareFact) -> Position:
    """Return a late share's place in costing order."""
    return (share.effect_date, LATE_CLASS, share.document, 0, share.line, share.position, 0)


def dependency_groups(skus: Sequence[str], made_from: Mapping[str, set[str]]) -> list[list[str]]:
    """Return the items in groups, components before what is made from them.

    ``made_from`` maps an item to those its jobs use. Items that depend on one another in a
    circle share a group; all others stand alone.
    Source: strongly connected components by Tarjan's method, here without recursion.
    """
    if not made_from:
        return [[sku] for sku in skus]
    groups: list[list[str]] = []
    index: dict[str, int] = {}
    lowest: dict[str, int] = {}
    stack: list[str] = []
    on_stack: set[str] = set()
    for root in skus:
        if root not in index:
            _visit(root, made_from, (index, lowest), (stack, on_stack), groups)
    wanted = set(skus)
    return [group for group in ([s for s in group if s in wanted] for group in groups) if group]


def _visit(
    root: str,
    made_from: Mapping[str, set[str]],
    numbers: tuple[dict[str, int], dict[str, int]],
    open_items: tuple[list[str], set[str]],
    groups: list[list[str]],
) -> None:
    """Visit an item and what it is made from; close a group where the circle returns to its first."""
    index, lowest = numbers
    stack, on_stack = open_items
    work = [(root, iter(sorted(made_from.get(root, ()))))]
    index[root] = lowest[root] = len(index)
    stack.append(root)
    on_stack.add(root)
    while work:
        sku, components = work[-1]
        for component in components:
            if component not in index:
                index[component] = lowest[component] = len(index)
                stack.append(component)
                on_stack.add(component)
                work.append((component, iter(sorted(made_from.get(component, ())))))
                break
            if component in on_stack:
                lowest[sku] = min(lowest[sku], index[component])
        else:
            work.pop()
            if work:
                lowest[work[-1][0]] = min(lowest[work[-1][0]], lowest[sku])
            if lowest[sku] == index[sku]:
                group = []
                while sku not in group:
                    group.append(stack.pop())
                    on_stack.discard(group[-1])
                groups.append(sorted(group))
