"""Figures of the plain engine, and how those that must wait for others are worked out.

Most amounts are known the moment their line is reached. A job whose component went short is not:
what settles the short comes later in the order, and with it the cost of what the job made and of
all that follows from that. Such figures wait, each with the figures it needs, until the month is
over, when nothing more can settle its shorts. Costs that go in a circle are found there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from typing import Any, Generic, TypeVar

from ledger.errors import OwnAncestor

_T = TypeVar("_T")


@dataclass(eq=False, slots=True)
class Figure(Generic[_T]):
    """A figure that is known, or that a formula gives once the figures it needs are known."""

    found: _T | None = None
    formula: Callable[..., _T] | None = None
    needs: Callable[[], Sequence[Figure[Any]]] = tuple
    name: str = ""

    def value(self) -> _T:
        """Return the figure; every figure is known once `Figures.find_all` was called."""
        assert self.found is not None
        return self.found


class Figures:
    """All the figures of one run that still wait for others."""

    def __init__(self) -> None:
        self._waiting: list[Figure[Any]] = []

    def work_out(self, formula: Callable[..., _T], needs: Sequence[Figure[Any]]) -> Figure[_T]:
        """Return the figure that the formula gives of the needed figures, in their order.

        Args:
            formula: called with the values of ``needs``.
            needs: what must be known first.
        """
        if all(each.found is not None for each in needs):
            return Figure(formula(*[each.found for each in needs]))
        return self.work_out_later(formula, lambda: needs, "")

    def work_out_later(
        self, formula: Callable[..., _T], needs: Callable[[], Sequence[Figure[Any]]], name: str
    ) -> Figure[_T]:
        """Return a figure whose needs are not settled yet.

        Args:
            formula: called with the values of what ``needs`` gives.
            needs: called when all is worked out, gives what must be known first.
            name: what the figure is, for the message where it would need itself.
        """
        figure = Figure(None, formula, needs, name)
        self._waiting.append(figure)
        return figure

    def find_all(self) -> None:
        """Work out all that waits.

        Raises:
            OwnAncestor: a figure needs, through others, itself.
        """
        needs: dict[Figure[Any], Sequence[Figure[Any]]] = {}
        # Asking for needs may make more figures wait: they join the list while it is gone through.
        for figure in self._waiting:
            needs[figure] = figure.needs()
        order = TopologicalSorter(
            {figure: [each for each in needed if each.found is None] for figure, needed in needs.items()}
        )
        try:
            for figure in order.static_order():
                assert figure.formula is not None
                figure.found = figure.formula(*[each.found for each in needs[figure]])
        except CycleError as error:
            jobs = " and ".join(sorted({figure.name for figure in error.args[1] if figure.name}))
            raise OwnAncestor(
                f"{jobs}: what was made would settle, through later jobs, what the job itself went short "
                "of, so that its cost goes in a circle. Enter the receipt of what was short, or correct "
                "the dates of the jobs."
            ) from None
        self._waiting = []


def rounded(numerator: int, denominator: int) -> int:
    """Return the quotient rounded to the nearest whole number, a half away from zero."""
    size = (2 * abs(numerator) + denominator) // (2 * denominator)
    return size if numerator >= 0 else -size


def spread(total: int, weights: Sequence[int]) -> list[int]:
    """Return the shares of a total by weight: they add up to it, whatever the rounding.

    Each share is its exact value cut off; the units that are left go one each to the largest
    remainders, to the earlier one where two are equal. A total below zero is spread by its size.

    >>> spread(100, [1, 1, 1])
    [34, 33, 33]
    >>> spread(-100, [1, 5])
    [-17, -83]
    """
    size, sum_of_weights = abs(total), sum(weights)
    if size == 0:
        return [0] * len(weights)
    shares = [size * weight // sum_of_weights for weight in weights]
    by_remainder = sorted(
        range(len(weights)), key=lambda place: (-(size * weights[place] % sum_of_weights), place)
    )
    for place in by_remainder[: size - sum(shares)]:
        shares[place] += 1
    return shares if total > 0 else [-share for share in shares]


def shown(milli: int) -> str:
    """Return a quantity in base units as text: 1500 thousandths are '1.5'.

    >>> shown(1500), shown(-20), shown(3000)
    ('1.5', '-0.02', '3')
    """
    sign = "-" if milli < 0 else ""
    whole, thousandths = divmod(abs(milli), 1000)
    return sign + f"{whole}.{thousandths:03d}".rstrip("0").rstrip(".")
