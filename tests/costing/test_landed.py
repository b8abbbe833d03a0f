"""Landed cost: discounts, conversion, losses and charges of one shipment, to the cent."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.costing.landed import (
    ChargeWish,
    Conversion,
    InvoiceLine,
    Landing,
    charge_amount,
    check_charges,
    land,
)

DOLLARS = Conversion("USD", "USD")


def shirts(pieces: int, cents: int, **fields: object) -> InvoiceLine:
    """A line of shirts."""
    label = str(fields.pop("label", "TEE"))
    tax_class = str(fields.pop("tax_class", "goods"))
    return InvoiceLine(label, tax_class, pieces * 1000, cents, **fields)  # type: ignore[arg-type]


def freight(cents: int, basis: str = "value", **fields: object) -> ChargeWish:
    """A freight charge."""
    return ChargeWish("freight", basis, amount=cents, **fields)  # type: ignore[arg-type]


def landed(landing: Landing) -> list[int]:
    """The landed cost of every line."""
    return [line.landed for line in landing.lines]


@st.composite
def shipments(draw: st.DrawFn) -> tuple[list[InvoiceLine], list[ChargeWish], int]:
    """Lines with losses, charges by every basis, and a discount of at most the lines."""
    lines = []
    for number in range(draw(st.integers(1, 6))):
        quantity = draw(st.integers(4, 5000))
        claimed = draw(st.integers(0, quantity // 4))
        normal = draw(st.integers(0, quantity // 4))
        expensed = draw(st.integers(0, quantity // 4))
        lines.append(
            InvoiceLine(
                f"TEE-{number}",
                "goods",
                quantity,
                draw(st.integers(100, 100_000)),
                claimed,
                normal,
                expensed,
                weight_mg=draw(st.integers(1, 10**6)),
                volume_mm3=draw(st.integers(1, 10**6)),
            )
        )
    bases = st.sampled_from(["value", "quantity", "weight", "volume"])
    charges = [freight(draw(st.integers(0, 50_000)), draw(bases)) for _ in range(draw(st.integers(0, 3)))]
    return lines, charges, draw(st.integers(0, 50))


@given(shipments(), st.fractions(Fraction(1, 50), 50))
def test_every_column_adds_up_to_its_total(
    shipment: tuple[list[InvoiceLine], list[ChargeWish], int], rate: Fraction
) -> None:
    """Amounts, charges and landed cost of the lines are the shipment's, in any currency."""
    lines, charges, discount = shipment
    landing = land(lines, charges, Conversion("EUR", "USD", rate), discount)
    assert sum(line.amount for line in landing.lines) == landing.total_invoice
    assert sum(line.amount_foreign for line in landing.lines) == landing.total_foreign
    assert sum(line.charges for line in landing.lines) == landing.total_charges
    assert landing.total_landed == (
        landing.total_invoice
        - sum(line.claimed_amount for line in landing.lines)
        + sum(charge.amount for charge in landing.charges)
    )


@given(shipments())
def test_a_line_is_invoice_less_claim_plus_its_shares(
    shipment: tuple[list[InvoiceLine], list[ChargeWish], int],
) -> None:
    """Across a line: what enters the lot, and every charge's share of it."""
    lines, charges, discount = shipment
    landing = land(lines, charges, DOLLARS, discount)
    for place, line in enumerate(landing.lines):
        assert line.lot_cost == line.amount - line.claimed_amount
        assert line.landed == line.lot_cost + sum(charge.shares[place] for charge in landing.charges)


def test_invoice_discount_is_spread_by_value() -> None:
    """Ten off 30 and 70 takes 3 and 7."""
    landing = land([shirts(3, 3000), shirts(7, 7000)], [], DOLLARS, 1000)
    assert landed(landing) == [2700, 6300]


def test_foreign_total_is_converted_once() -> None:
    """Three lines of one yuan cent at 0.5 make two cents of the total, not three of the lines."""
    landing = land([shirts(1, 1)] * 3, [], Conversion("CNY", "USD", Fraction(1, 2)))
    assert (landing.total_invoice, landed(landing)) == (2, [1, 1, 0])


def test_conversion_knows_the_minor_units() -> None:
    """1,200 yen at 0.0065 are 7.80 dollars: yen have no cents."""
    landing = land([shirts(1, 1200)], [], Conversion("JPY", "USD", Fraction("0.0065")))
    assert landing.total_invoice == 780


def test_a_discount_as_large_as_the_invoice_leaves_nothing() -> None:
    """Free goods cost nothing, and nothing is divided by zero."""
    assert landed(land([shirts(1, 500), shirts(1, 500)], [], DOLLARS, 1000)) == [0, 0]


def test_claimed_pieces_take_their_cost_with_them() -> None:
    """Two of ten claimed: eight stay at the invoice price."""
    line = land([shirts(10, 1000, claimed_milli=2000)], [], DOLLARS).lines[0]
    assert (line.amount, line.claimed_amount, line.lot_cost) == (1000, 200, 800)


def test_normal_losses_are_borne_by_the_good_pieces() -> None:
    """Two of ten lost as usual: eight stay, for the whole thousand."""
    line = shirts(10, 1000, normal_milli=2000)
    assert (line.kept_milli, land([line], [], DOLLARS).lines[0].lot_cost) == (8000, 1000)


def test_expensed_pieces_enter_the_lot_first() -> None:
    """Abnormal losses are in the lot's cost, so that their part can leave it as an expense."""
    line = shirts(10, 1000, expensed_milli=2000)
    assert (line.kept_milli, line.good_milli) == (10_000, 8000)
    assert land([line], [], DOLLARS).lines[0].lot_cost == 1000


def test_value_is_without_what_is_claimed() -> None:
    """Two equal lines, half of the second claimed: the charge goes two to one."""
    lines = [shirts(10, 1000), shirts(10, 1000, claimed_milli=5000)]
    assert land(lines, [freight(300)], DOLLARS).charges[0].shares == (200, 100)


def test_quantity_is_of_good_pieces() -> None:
    """Missing and damaged pieces carry no freight: six and three good pieces share it two to one."""
    lines = [shirts(6, 1000), shirts(10, 9000, claimed_milli=4000, normal_milli=2000, expensed_milli=1000)]
    assert land(lines, [freight(300, "quantity")], DOLLARS).charges[0].shares == (200, 100)


@pytest.mark.parametrize(("basis", "shares"), [("weight", (75, 25)), ("volume", (20, 80))])
def test_weight_and_volume_are_of_the_lines(basis: str, shares: tuple[int, int]) -> None:
    """A charge by weight or volume follows what the lines weigh or fill."""
    lines = [shirts(1, 1, weight_mg=300, volume_mm3=10), shirts(1, 1, weight_mg=100, volume_mm3=40)]
    assert land(lines, [freight(100, basis)], DOLLARS).charges[0].shares == shares


def test_what_was_sent_weighs_what_all_its_pieces_do() -> None:
    """Eight good pieces of ten weigh 160 g, so the ten that were sent weigh 200 g."""
    line = shirts(10, 500, claimed_milli=1000, expensed_milli=1000, weight_mg=160_000, volume_mm3=8)
    assert line.as_sent() == shirts(10, 500, weight_mg=200_000, volume_mm3=10)


def test_what_was_sent_weighs_nothing_known_where_nothing_of_it_is_good() -> None:
    """The weight is of good pieces; of none it says nothing about the others."""
    assert shirts(10, 500, claimed_milli=10_000, weight_mg=0).as_sent() == shirts(10, 500)


def test_customers_goods_bear_no_charge() -> None:
    """What belongs to a customer is never valued."""
    lines = [shirts(10, 1000), shirts(10, 0, tax_class="customer's")]
    assert land(lines, [freight(100, "quantity")], DOLLARS).charges[0].shares == (100, 0)


def test_a_line_wholly_claimed_bears_no_charge() -> None:
    """What never came cannot bear its freight."""
    lines = [shirts(10, 1000), shirts(10, 1000, claimed_milli=10_000)]
    assert land(lines, [freight(100, "quantity")], DOLLARS).charges[0].shares == (100, 0)


def test_a_charge_for_some_lines_leaves_the_others() -> None:
    """Duty on the second and third line only."""
    lines = [shirts(1, 1000), shirts(1, 1000), shirts(1, 3000)]
    assert land(lines, [freight(400, only=(1, 2))], DOLLARS).charges[0].shares == (0, 100, 300)


def test_a_percentage_is_of_the_lines_it_is_for() -> None:
    """Ten per cent on one of two equal lines is ten per cent of that one."""
    wish = ChargeWish("duty", "value", percent=Fraction(10), only=(1,))
    assert land([shirts(1, 1000), shirts(1, 1000)], [wish], DOLLARS).charges[0].shares == (0, 100)


@pytest.mark.parametrize(
    ("value", "amount"), [(1_000, 500), (100_000, 1000), (10_000_000, 2000)], ids=["least", "between", "most"]
)
def test_a_percentage_stays_between_its_limits(value: int, amount: int) -> None:
    """One per cent, at least five and at most twenty."""
    wish = ChargeWish("entry_fee", "value", percent=Fraction(1), minimum=500, maximum=2000)
    assert charge_amount(wish, value) == amount


def test_a_percentage_rounds_half_away_from_zero() -> None:
    """0.125 per cent of 105.00 less 0.01: 13.125 cents become 13, 13.5 become 14."""
    wish = ChargeWish("entry_fee", "value", percent=Fraction("0.125"))
    assert [charge_amount(wish, value) for value in (10_500, 10_800)] == [13, 14]


def test_a_discount_in_per_cent_lowers_cost() -> None:
    """Two per cent off is typed positive and taken off."""
    wish = ChargeWish("discount", "value", percent=Fraction(2))
    assert landed(land([shirts(1, 1000)], [wish], DOLLARS)) == [980]


def test_a_negative_charge_is_spread_like_a_positive_one() -> None:
    """A credit of one cent per shirt and one over: the earlier line gets it."""
    assert landed(land([shirts(1, 500)] * 2, [freight(-3)], DOLLARS)) == [498, 499]


def test_amounts_by_line_stay_where_they_are() -> None:
    """A customs entry names the duty of each line."""
    wish = ChargeWish("duty", "line", by_line=(120, 0, 80))
    landing = land([shirts(1, 1000)] * 3, [wish], DOLLARS)
    assert (landing.charges[0].amount, landing.charges[0].shares) == (200, (120, 0, 80))


def test_a_charge_without_amount_or_percentage_is_a_mistake_of_ours() -> None:
    """The computing room refuses what the command line cannot type."""
    with pytest.raises(ValueError, match="amount or a percentage"):
        charge_amount(ChargeWish("freight", "value"), 1000)


def problems(wish: ChargeWish, *lines: InvoiceLine) -> list[str]:
    """What stands in the way of a charge, as text."""
    return [str(one) for one in check_charges([wish], lines, [line.net_foreign for line in lines])]


def test_missing_weights_are_named_with_another_way() -> None:
    """The items without a weight stand in the message, and what else would work."""
    lines = (
        shirts(1, 500, label="TEE-A"),
        shirts(1, 500, label="TEE-B", weight_mg=5),
        shirts(1, 500, label="TEE-C"),
    )
    assert problems(freight(100, "weight"), *lines) == [
        (
            "charge 'freight by weight': no weight is known for TEE-A, TEE-C. Spread it by value or quantity "
            "instead, or give these items a weight (blankbook items load)."
        )
    ]


def test_goods_without_a_price_cannot_be_spread_by_value() -> None:
    """A line that costs nothing is named, and quantity offered."""
    assert problems(freight(100), shirts(1, 500), shirts(1, 0, label="TEE-FREE")) == [
        "charge 'freight by value': no value is known for TEE-FREE. Spread it by quantity instead."
    ]


def test_bases_that_would_fail_too_are_not_offered() -> None:
    """Free goods without measures can only be spread by quantity."""
    text = problems(freight(100, "volume"), shirts(1, 0))[0]
    assert "Spread it by quantity instead" in text


def test_a_charge_that_nobody_can_bear_is_refused() -> None:
    """All the shirts were claimed: there is no lot the freight could go to."""
    assert problems(freight(100), shirts(1, 500, claimed_milli=1000)) == [
        "charge 'freight by value': no line is left that could bear it."
    ]


def test_a_limited_charge_needs_only_its_own_lines() -> None:
    """A weight that is missing elsewhere does not matter."""
    wish = freight(100, "weight", only=(1,))
    assert problems(wish, shirts(1, 500), shirts(1, 500, weight_mg=5)) == []


def test_duty_on_a_line_of_which_nothing_came_is_refused() -> None:
    """An amount given to a line that made no lot would be cost of nothing."""
    wish = ChargeWish("duty", "line", by_line=(50, 70))
    lines = (shirts(1, 500), shirts(1, 500, label="TEE-LOST", claimed_milli=1000))
    assert problems(wish, *lines) == [
        (
            "charge 'duty by line': TEE-LOST is given an amount, but nothing of it was kept that could bear it. "
            "Leave it out on that line, or give it to the lines it was paid for."
        )
    ]


def test_every_charge_is_checked() -> None:
    """Two charges that cannot be spread are two problems."""
    wishes = [freight(100, "weight"), freight(100, "volume")]
    assert len(check_charges(wishes, [shirts(1, 500)], [500])) == 2
