"""The value of waiting and of cover under obsolescence: the worked cases."""

from __future__ import annotations

import pytest

from ledger.errors import ValueProblem
from ledger.sourcing import waiting
from ledger.sourcing.demand import GammaRate
from ledger.sourcing.waiting import (
    OneOrder,
    best_value,
    value_after,
    value_of_waiting,
    worthwhile_cover_years,
)

CASE = OneOrder(domestic_cost=3.5, overseas_cost=2.2, salvage=0.8, fixed_cost=250, weeks=40)
BELIEF = GammaRate(6, 4 / 7)


def test_the_worked_values() -> None:
    """Now 115.63; after 4, 8, 12 and 26 weeks 233.46, 249.27, 256.36 (256.37) and 266.09."""
    assert best_value(CASE, BELIEF) == pytest.approx(115.63, abs=0.005)
    known = [value_after(CASE, BELIEF, weeks) for weeks in (4, 8, 12, 26)]
    assert known == pytest.approx([233.46, 249.27, 256.36, 266.09], abs=0.01)


def test_the_best_value_is_that_of_the_best_quantity() -> None:
    """Against every quantity, pieces counted one by one: 389 of a mean of 420."""
    import numpy as np  # noqa: PLC0415

    from ledger.sourcing.chance import negative_binomial  # noqa: PLC0415

    at_least = 1 - np.cumsum(negative_binomial(6, 4 / 7, 40, 4_000))
    values = np.cumsum((3.5 - 0.8) * at_least - (2.2 - 0.8))
    best = int(values.argmax()) + 1
    assert best == 389
    assert best_value(CASE, BELIEF) == pytest.approx(float(values.max()) - 250)


def test_waiting_is_never_worth_less_than_nothing() -> None:
    """More sales seen are worth more, and a sure rate is worth nothing to look at."""
    values = [each.value for each in value_of_waiting(CASE, BELIEF, (0, 2, 4, 8, 26))]
    assert values[0] == pytest.approx(0, abs=1e-6)
    assert values == sorted(values)
    sure = value_of_waiting(CASE, GammaRate(6e5, 4 / 7 * 1e5), (8,))
    assert sure[0].value == pytest.approx(0, abs=0.5)


def test_an_order_that_never_pays_is_worth_only_its_doubt() -> None:
    """Where bulk is dearer, no sales seen can make it pay."""
    dear = OneOrder(2.0, 2.2, 0.8, 250, 40)
    assert best_value(dear, BELIEF) == -250
    assert value_of_waiting(dear, BELIEF, (8,))[0].value == 0


def test_salvage_above_cost_is_refused() -> None:
    """No quantity would be too large."""
    with pytest.raises(ValueProblem, match="leftover"):
        OneOrder(3.5, 2.2, 2.2, 250, 40)


def test_the_worked_cover_under_obsolescence() -> None:
    """3.8 years at no hazard; 2.2, 1.2 and .7 at .1, .3 and .6."""
    cover = [worthwhile_cover_years(3.5, 2.4, 0.8, 0.10, hazard) for hazard in (0, 0.1, 0.3, 0.6)]
    assert [round(each or 0, 1) for each in cover] == [3.8, 2.2, 1.2, 0.7]


def test_cover_without_end() -> None:
    """Nothing is lost by waiting where money is free and nothing goes out of use."""
    assert worthwhile_cover_years(3.5, 2.4, 0.8, 0.0, 0.0) is None
    assert worthwhile_cover_years(2.0, 2.4, 0.8, 0.1, 0.1) == 0.0


def test_of_many_counts_some_are_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """Between the counts that are worked out the value goes straight: next to the exact sum, never below it."""
    order, rate = OneOrder(3.6, 2.2, 0.6, 600, 44), GammaRate(3.2, 3.2 / 40)
    monkeypatch.setattr(waiting, "MOST_SEEN", 10**6)
    exact = value_after(order, rate, 12)
    monkeypatch.setattr(waiting, "MOST_SEEN", 150)
    few = value_after(order, rate, 12)
    assert exact - 1e-6 <= few <= exact * (1 + 1e-3)
    assert few != exact
