"""Reorder points, safety stock, fill rates and one-time orders in closed form.

These are the textbook's formulas, on a normal tail. With a lead time that varies the tail is not
normal: the decision is made on simulated quantiles, and the formula stands beside them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

from ledger.errors import ValueProblem

NORMAL = NormalDist()


@dataclass(frozen=True)
class LeadDemand:
    """Demand while an order is under way: mean and standard deviation in units."""

    mean: float
    sd: float


def demand_over_lead_time(mean: float, sd: float, lead_time: float, lead_time_sd: float = 0.0) -> LeadDemand:
    """Return demand over a lead time where both vary; ``mean`` and ``sd`` are per unit of its time.

    >>> round(demand_over_lead_time(2500, 500, 7, 7).sd)
    17550

    Source: Chopra & Meindl, Supply Chain Management, chapter 12: the square root of L s² + d² s_L².
    """
    if lead_time < 0 or lead_time_sd < 0 or sd < 0:
        raise ValueProblem("lead times and standard deviations must not be negative.")
    return LeadDemand(mean * lead_time, math.sqrt(lead_time * sd**2 + mean**2 * lead_time_sd**2))


def z_of(service_level: float) -> float:
    """Return how many standard deviations a service level stands above the mean."""
    if not 0 < service_level < 1:
        raise ValueProblem(f"a service level of {service_level:g} is not between 0 and 1, like 0.95.")
    return NORMAL.inv_cdf(service_level)


def reorder_point(demand: LeadDemand, z: float) -> float:
    """Return the stock at which to order: mean demand on the way and z standard deviations."""
    return demand.mean + z * demand.sd


def standard_loss(z: float) -> float:
    """Return E[(Z - z)+] of a standard normal Z.

    >>> round(standard_loss(0.0), 4)
    0.3989
    """
    return NORMAL.pdf(z) - z * (1 - NORMAL.cdf(z))


@dataclass(frozen=True)
class Service:
    """What a reorder point gives: chance of no shortage in a cycle, units short, fraction filled."""

    cycle_service: float
    short_per_cycle: float
    fill_rate: float


def service_of(demand: LeadDemand, reorder_at: float, order_quantity: float) -> Service:
    """Return the service of a reorder point and an order quantity.

    Source: Chopra & Meindl, chapter 12 (11 in earlier editions), expected shortage per cycle.
    """
    if demand.sd == 0:
        short = max(0.0, demand.mean - reorder_at)
        return Service(float(short == 0), short, 1 - short / order_quantity)
    z = (reorder_at - demand.mean) / demand.sd
    short = demand.sd * standard_loss(z)
    return Service(NORMAL.cdf(z), short, 1 - short / order_quantity)


def z_for_fill_rate(fill_rate: float, order_quantity: float, sd: float) -> float:
    """Return z at which the shortage of a cycle is what the fill rate leaves; bisection.

    >>> round(z_for_fill_rate(0.99, 300, 29.28), 3)
    0.889
    """
    wanted = (1 - fill_rate) * order_quantity / sd
    # The loss of -z is z at least, so the wanted one lies between.
    low, high = -wanted - 1, 40.0
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if standard_loss(middle) > wanted else (low, middle)
    return (low + high) / 2


@dataclass(frozen=True)
class OneTimeOrder:
    """An order for one season: the critical ratio, the quantity and what to expect of it."""

    critical_ratio: float
    quantity: float
    expected_profit: float
    expected_leftover: float
    expected_short: float


def one_time_order(price: float, cost: float, salvage: float, mean: float, sd: float) -> OneTimeOrder:
    """Return the best quantity for one season of normal demand.

    >>> best = one_time_order(200, 150, 30, 100, 40)
    >>> round(best.critical_ratio, 4), round(best.quantity, 2)
    (0.2941, 78.34)

    Raises ValueProblem unless salvage is below cost and cost below price.
    Source: Chopra & Meindl, chapter 13.
    """
    if not salvage < cost < price:
        raise ValueProblem("a one-time order needs salvage below cost and cost below price.")
    ratio = (price - cost) / (price - salvage)
    z = NORMAL.inv_cdf(ratio)
    quantity = mean + z * sd
    short = sd * standard_loss(z)
    left = quantity - mean + short
    sold = mean - short
    return OneTimeOrder(ratio, quantity, price * sold + salvage * left - cost * quantity, left, short)


def premium_ratio(domestic_cost: float, overseas_cost: float, salvage: float, carrying: float = 0.0) -> float:
    """Return the critical ratio where a shortage costs the domestic premium, not the sale.

    Underage is c_d - c_o, overage c_o + carrying - s. Between 0 and 1, 0 where bulk is not cheaper.

    Raises ValueProblem where a leftover fetches what it cost or more.
    Source: Allon & Van Mieghem, Management Science 56(1), 2010, for base and top-up; the ratio is the
    newsvendor's.
    """
    under, over = domestic_cost - overseas_cost, overseas_cost + carrying - salvage
    if over <= 0:
        raise ValueProblem("a leftover would fetch what it cost or more, so no quantity would be too large.")
    return max(0.0, under / (under + over)) if under > 0 else 0.0


@dataclass(frozen=True)
class ReorderPolicy:
    """When to order, how much, and what an average unit of time costs."""

    reorder_at: int
    order_quantity: int
    cost: float


def poisson_reorder_policy(
    holding: float, penalty: float, cost_per_order: float, rate: float, lead_time: float
) -> ReorderPolicy:
    """Return the best reorder point and quantity under Poisson demand, shortages waiting.

    ``holding`` and ``penalty`` are per unit and unit of time, as are ``rate`` and ``lead_time``.

    >>> policy = poisson_reorder_policy(20, 150, 100, 1.5, 2)
    >>> policy.reorder_at, policy.order_quantity, round(policy.cost, 6)
    (3, 5, 107.923581)

    Source: Federgruen & Zheng, Operations Research 40(4), 1992; Snyder & Shen, section 5.5.
    """
    mean = rate * lead_time

    def stock_cost(level: int) -> float:
        return penalty * (mean - level) + (holding + penalty) * _expected_left(mean, level)

    base = 0
    while stock_cost(base + 1) < stock_cost(base):
        base += 1
    low, high, total = base, base, stock_cost(base)
    best = cost_per_order * rate + total
    quantity = 1
    while True:
        below, above = stock_cost(low - 1), stock_cost(high + 1)
        cheaper = min(below, above)
        if cheaper >= best:
            return ReorderPolicy(low - 1, quantity, best)
        low, high = (low - 1, high) if below <= above else (low, high + 1)
        total += cheaper
        quantity += 1
        best = (cost_per_order * rate + total) / quantity


def _expected_left(mean: float, level: int) -> float:
    """Return E[(level - D)+] of Poisson demand; 0 for a level not above 0."""
    chance, left = math.exp(-mean), 0.0
    for demand in range(max(level, 0)):
        left += (level - demand) * chance
        chance *= mean / (demand + 1)
    return left
