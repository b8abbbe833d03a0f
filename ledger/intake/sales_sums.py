"""Whether a column of a sales export only adds up what other columns say: then nothing is lost without it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import product

from ledger.intake.column_values import number_of
from ledger.intake.table import Cell

Number = int | Fraction

_SCALE = 10**6
_SIGNS: Mapping[str, tuple[int, ...]] = {
    "shipping": (0, 1),
    "tax": (0, 1, -1),
    "discount": (0, 1, -1),
    "fees": (0, 1, -1),
}
"""How each column, with what is added to it, may stand in a sum."""
_NUMBERED = re.compile(r"_\d+\Z")
_BESIDE = re.compile(r"\A(?:more|other)_")


@dataclass(frozen=True)
class SumLooker:
    """Looks whether a column is a sum of what is read; ``places`` says where that stands."""

    places: Mapping[str, int]
    decimal_comma: bool
    _known: dict[tuple[type, object], Number | None] = field(
        init=False, repr=False, compare=False, default_factory=dict
    )

    def always_is(self, rows: Iterable[Sequence[Cell]], place: int, name: str) -> bool:
        """Return whether a column has the number of another one wherever it has one."""
        other = self.places.get(name)
        if other is None:
            return False
        return all((own := self._at(row, place)) is None or own == self._at(row, other) for row in rows)

    def is_sum(self, rows: Sequence[Sequence[Cell]], place: int) -> bool:
        """Return whether each number of a column is what its row, or its whole order, sells for.

        With or without shipping, tax, discount and fees, the same ones throughout.
        """
        if "item_total" not in self.places and not {"pieces", "unit_price"} <= self.places.keys():
            return False
        names = [name for name in _SIGNS if self._all_of(name)]
        by_row = (
            (own, [self._parts(row, names)]) for row in rows if (own := self._at(row, place)) is not None
        )
        return _fits(by_row, names) or (
            "order" in self.places and _fits(self._orders(rows, place, names), names)
        )

    def _orders(
        self, rows: Sequence[Sequence[Cell]], place: int, names: Sequence[str]
    ) -> Iterator[tuple[Number, list[list[Number]]]]:
        """Return each order's number in the column, with the parts of its rows; orders with two numbers fail."""
        at = self.places["order"]
        orders: dict[str, list[Sequence[Cell]]] = {}
        for row in rows:
            if at < len(row) and not row[at].is_empty:
                orders.setdefault(row[at].text, []).append(row)
            elif self._at(row, place) is not None:
                yield (1, [])  # a number that is no order's fits nothing
        for own_rows in orders.values():
            found = {own for row in own_rows if (own := self._at(row, place)) is not None}
            for own in found:
                yield (own, [self._parts(row, names) for row in own_rows])

    def _parts(self, row: Sequence[Cell], names: Sequence[str]) -> list[Number]:
        item = self._at(row, self.places["item_total"]) if "item_total" in self.places else None
        if item is None and {"pieces", "unit_price"} <= self.places.keys():
            pieces, price = self._at(row, self.places["pieces"]), self._at(row, self.places["unit_price"])
            item = Fraction((pieces or 0) * (price or 0), _SCALE)
        parts = (sum(self._at(row, place) or 0 for place in self._all_of(name)) for name in names)
        return [item or 0, *parts]

    def _all_of(self, name: str) -> list[int]:
        """Return where a column stands, and what is added to it: fees, other fees, more fees."""
        return [
            place for own, place in self.places.items() if _BESIDE.sub("", _NUMBERED.sub("", own)) == name
        ]

    def _at(self, row: Sequence[Cell], place: int) -> Number | None:
        """Return the number at a place of a row in millionths, None where there is none."""
        if place >= len(row):
            return None
        cell = row[place]
        key = (type(cell.value), cell.value)
        if key not in self._known:
            value = number_of(cell, decimal_comma=self.decimal_comma)
            scaled = None if value is None else value * _SCALE
            self._known[key] = scaled.numerator if scaled is not None and scaled.denominator == 1 else scaled
        return self._known[key]


def _fits(groups: Iterable[tuple[Number, list[list[Number]]]], names: Sequence[str]) -> bool:
    """Return whether one way of adding up the parts fits every group.

    A part counts on each row, or once for the group where it is repeated.
    """
    ways = [
        tuple(zip(signs, once, strict=True))
        for signs in product(*(_SIGNS[name] for name in names))
        for once in product((False, True), repeat=len(names))
    ]
    for own, rows in groups:
        items = sum(row[0] for row in rows)
        added = [sum(row[place] for row in rows) for place in range(1, len(names) + 1)]
        first = [rows[0][place] if rows else 0 for place in range(1, len(names) + 1)]

        def comes_to(
            way: tuple[tuple[int, bool], ...],
            items: Number = items,
            added: Sequence[Number] = added,
            first: Sequence[Number] = first,
        ) -> Number:
            used = [first[at] if once else added[at] for at, (_, once) in enumerate(way)]
            return items + sum(sign * value for (sign, _), value in zip(way, used, strict=True))

        ways = [way for way in ways if comes_to(way) == own]
        if not ways:
            return False
    return True
