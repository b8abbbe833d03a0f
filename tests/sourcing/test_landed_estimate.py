"""Landed estimates: parts that add up, what the terms leave to the buyer, what is refused."""

from __future__ import annotations

import datetime
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from landed_cases import DAY, DRAWN, ENTRY, LAYERS, offers, overseas, priced

from ledger.errors import ValueProblem
from ledger.sourcing import landed_estimate as landed
from ledger.sourcing.duties import DutyLayer
from ledger.sourcing.entry_fees import fees_on
from ledger.sourcing.landed_estimate import LandedEstimate, landed_estimate
from ledger.sourcing.quote import (
    Defects,
    Entry,
    Freight,
    Insurance,
    LocalCosts,
    OrderLine,
    OrderQuantities,
    Quote,
)

EVERYTHING = {
    "freight": Freight(per_order_minor=Fraction(50_000), inland_minor=Fraction(7000), mode="ocean"),
    "insurance": Insurance(rate=Fraction("0.01")),
    "local": LocalCosts(14_000, 8000, 9500, 6000, 3500),
    "entry_fees": fees_on(DAY),
}
"""Every cost there is, on an order of 3,000 dollars."""


def of(quote: Quote, quantity: int, entry: Entry = ENTRY) -> LandedEstimate:
    """Return the estimate of so many pieces."""
    return landed_estimate(quote, OrderQuantities.of(quantity), entry)


def parts(estimate: LandedEstimate) -> dict[str, int]:
    """Return the parts by name."""
    return {part.name: part.amount_minor for part in estimate.parts}


def test_a_domestic_offer_is_goods_and_freight() -> None:
    """Nothing is dutiable at home."""
    quote = priced((1, "4.10"), (72, "3.60"), freight=Freight(per_order_minor=Fraction(1500)))
    assert parts(of(quote, 72)) == {"goods": 25_920, "freight": 1500}


# Worked by hand: 3,000.00 FOB, freight 500, 1% insurance of 3,500, duty 16.5% of 3,000, fees of fiscal year 2027.
def test_an_order_from_abroad_part_by_part() -> None:
    """Every part stands for itself and they add up."""
    estimate = of(overseas((1, "3"), **EVERYTHING), 1000)
    assert parts(estimate) == {
        "goods": 300_000,
        "freight": 50_000,
        "insurance": 3500,
        "duty": 49_500,
        "processing fee": 3458,
        "harbor fee": 375,
        "brokerage": 14_000,
        "bond": 8000,
        "terminal": 9500,
        "delivery": 6000,
        "bank fee": 3500,
    }
    assert (estimate.total_minor, estimate.customs_value_minor) == (447_833, 300_000)


@pytest.mark.parametrize(
    ("terms", "paid"),
    [
        ("EXW", {"inland and export", "freight", "insurance", "duty", "brokerage", "terminal", "delivery"}),
        ("FOB", {"freight", "insurance", "duty", "brokerage", "terminal", "delivery"}),
        ("CFR", {"insurance", "duty", "brokerage", "terminal", "delivery"}),
        ("CIF", {"duty", "brokerage", "terminal", "delivery"}),
        ("DAP", {"duty", "brokerage"}),
        ("DDP", set()),
    ],
)
def test_the_terms_leave_the_rest_to_the_buyer(terms: str, paid: set[str]) -> None:
    """What the seller pays is in the price."""
    found = set(parts(of(overseas((1, "3"), terms=terms, **EVERYTHING), 1000)))
    assert found - {"goods", "processing fee", "harbor fee", "bond", "bank fee"} == paid


def test_a_seller_who_pays_the_duty_needs_no_layer() -> None:
    """Under DDP nothing is asked about rates."""
    assert parts(of(overseas((1, "3"), terms="DDP", duty=()), 10)) == {"goods": 3000}


def test_a_foreign_offer_without_a_layer_is_refused() -> None:
    """It is never taken as zero."""
    with pytest.raises(ValueProblem, match="offer: no duty layer holds"):
        of(overseas((1, "3"), duty=()), 10)


# Our own sums, from the same rows as the example sheet of duties: an internal regression.
@pytest.mark.parametrize(
    ("origin", "day", "amounts"),
    [
        ("CN", datetime.date(2026, 3, 15), [49_500, 22_500, 30_000]),
        ("CN", datetime.date(2026, 11, 24), [49_500, 22_500, 37_500]),
        ("VN", datetime.date(2026, 11, 24), [49_500, 37_500]),
    ],
)
def test_duty_on_three_thousand_dollars_of_t_shirts(
    origin: str, day: datetime.date, amounts: list[int]
) -> None:
    """The layers of the day, each with its share."""
    quote = overseas((1, "3"), duty=(), origin=origin, customs_class="6109.10")
    estimate = of(quote, 1000, replace(ENTRY, on=day, duty_layers=LAYERS))
    assert [line.amount_minor for line in estimate.duties] == amounts


def test_each_class_in_an_order_has_its_own_duty() -> None:
    """Cotton and polyester shirts in one order."""
    layers = (*LAYERS, DutyLayer(Fraction("0.32"), program="general", class_prefix="6109.90"))
    order = OrderQuantities(
        (OrderLine(100, "COTTON", customs_class="6109.10"), OrderLine(50, "POLY", customs_class="6109.90"))
    )
    quote = overseas((1, "3"), duty=(), origin="VN")
    entry = replace(ENTRY, duty_layers=layers)
    found = {
        (line.customs_class, line.program): line.amount_minor
        for line in landed_estimate(quote, order, entry).duties
    }
    assert found == {
        ("6109.10", "general"): 4950,
        ("6109.10", "note 52"): 3750,
        ("6109.90", "general"): 4800,
        ("6109.90", "note 52"): 1875,
    }


@pytest.mark.parametrize(("base", "duty"), [("FOB", 49_500), ("CIF", 58_328)])
def test_the_base_of_the_customs_value_is_a_switch(base: str, duty: int) -> None:
    """CIF: freight of 500 and insurance of 35 are valued too, 58,327.5 cents in all."""
    quote = overseas((1, "3"), duty_base=base, **EVERYTHING)
    assert of(quote, 1000).amount_minor(landed.DUTY) == duty


def test_freight_inside_the_price_is_not_dutiable_where_it_is_stated_apart() -> None:
    """CIF price 3,000 with 200 of ocean freight on the invoice: value 2,800."""
    quote = overseas((1, "3"), terms="CIF", included_freight_minor=Fraction(20_000))
    assert of(quote, 1000).customs_value_minor == 280_000


def test_assists_are_valued_but_not_paid() -> None:
    """Neck labels given to the factory raise the duty, not the bill."""
    quote = overseas((1, "3"), local=LocalCosts(assist_minor=5000, assist_per_unit_minor=Fraction(5)))
    estimate = of(quote, 1000)
    assert (estimate.customs_value_minor, parts(estimate)) == (310_000, {"goods": 300_000, "duty": 51_150})


@pytest.mark.parametrize(
    ("quantity", "fee", "is_formal", "bond"), [(2500, 277, False, 0), (2501, 3458, True, 8000)]
)
def test_an_entry_of_exactly_the_threshold_is_informal(
    quantity: int,
    fee: int,
    is_formal: bool,  # noqa: FBT001
    bond: int,
) -> None:
    """One dollar more needs a bond and pays the least fee."""
    quote = overseas((1, "1"), entry_fees=fees_on(DAY), local=LocalCosts(bond_minor=8000))
    estimate = of(quote, quantity)
    assert (estimate.amount_minor("processing fee"), estimate.is_formal, estimate.amount_minor("bond")) == (
        fee,
        is_formal,
        bond,
    )


@pytest.mark.parametrize(("mode", "fee"), [("ocean", 375), ("", 375), ("air", 0), ("courier", 0)])
def test_the_harbor_fee_is_for_ocean_cargo(mode: str, fee: int) -> None:
    """An offer that does not say how it travels and states the fee pays it."""
    quote = overseas((1, "3"), entry_fees=fees_on(DAY), freight=Freight(mode=mode))
    assert of(quote, 1000).amount_minor("harbor fee") == fee


def test_defects_are_borne_by_the_good_pieces() -> None:
    """1,000 dollars, 4% bad, half of their price back: 980 for 960 pieces."""
    estimate = of(priced((1, "1"), defects=Defects(Fraction("0.04"), Fraction("0.5"))), 1000)
    assert (estimate.total_minor, estimate.unit_cost_minor) == (98_000, Fraction(98_000, 960))


def test_a_pack_is_told_by_its_base_units() -> None:
    """Five packs of a hundred sheets at 13.90: 0.139 a sheet."""
    assert of(priced((1, "13.90"), unit_factor=Fraction(100)), 5).unit_cost_minor == Fraction("13.9")


def test_a_foreign_bill_is_converted_once() -> None:
    """333 yuan and a tenth at 0.14: each part rounds for itself."""
    quote = priced((1, "333.10"), currency="CNY", freight=Freight(per_order_minor=Fraction(1003)))
    entry = replace(ENTRY, rate=Fraction("0.14"))
    assert parts(of(quote, 1, entry)) == {"goods": 4663, "freight": 140}


def test_freight_billed_in_dollars_under_an_offer_in_yuan() -> None:
    """Its own currency is the book's: nothing is converted."""
    quote = priced(
        (1, "100"), currency="CNY", freight=Freight(per_order_minor=Fraction(5000), currency="USD")
    )
    assert parts(of(quote, 1, replace(ENTRY, rate=Fraction("0.14"))))["freight"] == 5000


def test_yen_have_no_cents() -> None:
    """A price of 1,000 yen at 0.0067 is 6.70."""
    quote = replace(priced((1, "10")), currency="JPY")
    assert of(quote, 1, replace(ENTRY, rate=Fraction("0.0067"))).total_minor == 670


def test_the_sample_is_paid_before_the_first_order() -> None:
    """Once, where the order is the first."""
    quote = priced((1, "1"), sample_minor=Fraction(2000))
    first = landed_estimate(quote, OrderQuantities.of(10, with_sample=True), ENTRY)
    assert (parts(first), parts(of(quote, 10))) == ({"goods": 1000, "sample": 2000}, {"goods": 1000})


@pytest.mark.parametrize(("least", "premium"), [(0, 1925), (2500, 2500)])
def test_insurance_is_of_the_raised_value_with_a_least_premium(least: int, premium: int) -> None:
    """Half a per cent of 110% of 3,000 and 500 freight is 19.25."""
    cover = Insurance(Fraction("0.005"), Fraction("1.1"), Fraction(least))
    quote = priced((1, "3"), insurance=cover, freight=Freight(per_order_minor=Fraction(50_000)))
    assert of(quote, 1000).amount_minor("insurance") == premium


def test_freight_by_the_kilogram_needs_a_weight() -> None:
    """The item without one is named."""
    quote = priced((1, "1"), freight=Freight(per_kg_minor=Fraction(300)))
    with pytest.raises(ValueProblem, match="no weight is known for TEE"):
        landed_estimate(quote, OrderQuantities((OrderLine(10, "TEE"),)), ENTRY)


@pytest.mark.parametrize("quantity", [0, -1])
def test_an_order_of_nothing_is_refused(quantity: int) -> None:
    """At least one piece."""
    with pytest.raises(ValueProblem, match="at least one piece"):
        of(priced((1, "1")), quantity)


def test_an_offer_of_only_bad_pieces_is_refused() -> None:
    """There would be nothing to bear the cost."""
    with pytest.raises(ValueProblem, match="no good piece"):
        of(priced((1, "1"), defects=Defects(Fraction(1))), 10)


@pytest.mark.parametrize(
    ("layer", "words"),
    [
        (DutyLayer(Fraction("0.165"), checked_on=DAY - datetime.timedelta(61)), "duty 16.5% (2026-09-24)"),
        (DutyLayer(Fraction("0.165")), "duty 16.5% (no date)"),
        (DutyLayer(Fraction("0.165"), checked_on=DAY, is_example=True), "example rates"),
    ],
)
def test_rates_not_to_be_relied_on_are_warned_about(layer: DutyLayer, words: str) -> None:
    """Old, undated, and those that came as examples."""
    warnings = of(overseas((1, "1"), duty=(layer,)), 10, replace(ENTRY, today=DAY)).warnings
    assert [words in warning for warning in warnings] == [True]


def test_an_offer_that_ended_is_warned_about() -> None:
    """Its last day still counts."""
    quote = priced((1, "1"), valid_until=DAY)
    later = replace(ENTRY, today=DAY + datetime.timedelta(1))
    assert [of(quote, 1, replace(ENTRY, today=DAY)).warnings, len(of(quote, 1, later).warnings)] == [(), 1]


@DRAWN
@given(offers(), st.integers(1, 600))
def test_goods_and_parts_add_up_to_the_cent(quote: Quote, quantity: int) -> None:
    """The total is its parts, the duty its layers, and a unit's cost all of it over the good ones."""
    estimate = of(quote, quantity)
    assert estimate.total_minor == sum(part.amount_minor for part in estimate.parts)
    assert estimate.amount_minor(landed.DUTY) == sum(line.amount_minor for line in estimate.duties)
    assert estimate.unit_cost_minor * quantity * (1 - quote.defects.rate) == estimate.total_minor


@DRAWN
@given(offers(), st.integers(1, 300), st.integers(2, 50))
def test_a_common_factor_on_money_scales_the_answer(quote: Quote, quantity: int, factor: int) -> None:
    """Each part but for its rounding; fees with fixed limits apart."""
    plain = replace(quote, entry_fees=None)
    scaled = replace(
        plain,
        prices=tuple(
            replace(
                group,
                breaks=tuple(replace(each, price_minor=each.price_minor * factor) for each in group.breaks),
            )
            for group in plain.prices
        ),
        freight=replace(
            plain.freight,
            per_order_minor=plain.freight.per_order_minor * factor,
            per_unit_minor=plain.freight.per_unit_minor * factor,
            inland_minor=plain.freight.inland_minor * factor,
        ),
        local=LocalCosts(
            *(
                amount * factor
                for amount in (
                    plain.local.brokerage_minor,
                    plain.local.bond_minor,
                    plain.local.terminal_minor,
                    plain.local.delivery_minor,
                    plain.local.bank_fee_minor,
                )
            )
        ),
    )
    once, many = of(plain, quantity), of(scaled, quantity)
    rounding = len(landed.PARTS) * (factor + 1)
    assert abs(many.total_minor - once.total_minor * factor) <= rounding


@DRAWN
@given(offers(), st.integers(1, 600))
def test_terms_that_leave_more_to_the_seller_never_cost_the_buyer_more(quote: Quote, quantity: int) -> None:
    """At one price, from EXW to DDP."""
    ladder = [
        replace(quote, terms=terms, origin="CN", duty_base="FOB")
        for terms in ("EXW", "FOB", "CFR", "CIF", "DAP", "DDP")
    ]
    totals = [of(each, quantity).total_minor for each in ladder]
    assert totals == sorted(totals, reverse=True)
