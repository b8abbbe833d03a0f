"""The minimum of each colour: which colours an order is of, and their pieces before any other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.int64]


@dataclass(frozen=True)
class ColourMinimum:
    """The colours an order is of, each with at least so many pieces.

    Attributes:
        of_size: the colour of each size.
        taken: the colours in the order; the others are bought at home entirely.
        minimum: the least pieces of each colour that is taken.
    """

    of_size: tuple[str, ...]
    taken: tuple[str, ...]
    minimum: int

    @property
    def left(self) -> tuple[str, ...]:
        """The colours that are not in the order."""
        return tuple(colour for colour in dict.fromkeys(self.of_size) if colour not in self.taken)

    def places(self, size_of: Numbers) -> Numbers:
        """Return in which order to take pieces that stand ready: the minimum of each colour, then the others.

        ``size_of`` holds the size of each piece; pieces of colours that are left out are not taken at all.
        """
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        names = list(self.taken)
        numbers = np.array([names.index(each) if each in names else -1 for each in self.of_size])
        colour = numbers[size_of]
        is_first = np.zeros(len(size_of), dtype=bool)
        for number in range(len(names)):
            is_first[np.flatnonzero(colour == number)[: self.minimum]] = True
        found: Numbers = np.concatenate((np.flatnonzero(is_first), np.flatnonzero(~is_first & (colour >= 0))))
        return found


def split_with_minimum(parts: Sequence[int], of_size: Sequence[str], minimum: int) -> tuple[int, ...]:
    """Return a split of an order with each colour raised to its minimum, as far as the others can spare it.

    >>> split_with_minimum([60, 50, 10], ["Black", "White", "Rust"], 30)
    (45, 45, 30)
    """
    found = list(parts)
    colours = list(dict.fromkeys(of_size))
    if minimum * len(colours) > sum(found):
        return tuple(found)

    def of(colour: str) -> list[int]:
        return [place for place, each in enumerate(of_size) if each == colour]

    def count(colour: str) -> int:
        return sum(found[place] for place in of(colour))

    while True:
        short = next((colour for colour in colours if count(colour) < minimum), None)
        if short is None:
            return tuple(found)
        # One piece at a time from the colour with most to spare, its largest size first.
        giver = max(colours, key=lambda colour: (count(colour) - minimum, -colours.index(colour)))
        found[max(of(giver), key=lambda place: found[place])] -= 1
        wanted = of(short)
        found[min(wanted, key=lambda place: (found[place] + 1) / max(parts[place], 0.5))] += 1
