"""A study written as TOML and read again says the same."""

from __future__ import annotations

import datetime
from dataclasses import replace
from fractions import Fraction

import pytest
from study_texts import study_of

from ledger.errors import StudyErrors, ValueProblem
from ledger.intake.book_study import by_the_piece
from ledger.intake.write_study import WrittenOffer, offer_lines
from ledger.sourcing.decide import decide
from ledger.sourcing.duties import DutyLayer
from ledger.sourcing.entry_fees import EntryFees
from ledger.sourcing.quote import (
    COURIER,
    INCREMENTAL,
    PER_SKU,
    Defects,
    Deposit,
    Freight,
    Insurance,
    LeadTime,
    LocalCosts,
    OrderRules,
    PriceBreak,
    PriceGroup,
    Quote,
)
from ledger.sourcing.study import StudyOffer

TODAY = datetime.date(2026, 3, 31)

QUOTE = Quote(
    name='Mill "Nº 1", knit',
    origin="CN",
    currency="CNY",
    prices=(
        PriceGroup((PriceBreak(1, Fraction("1120.5")), PriceBreak(600, Fraction(1040))), sizes=("S", "M")),
        PriceGroup((PriceBreak(1, Fraction(1300)),), sizes=("2XL",)),
    ),
    discount=INCREMENTAL,
    break_scope=PER_SKU,
    rules=OrderRules(minimum=48, multiple=12, maximum=960),
    terms="FCA",
    freight=Freight(
        per_order_minor=Fraction(9600),
        per_kg_minor=Fraction(410),
        volumetric_cm3_per_kg=5000,
        weight_step_grams=500,
        minimum_minor=Fraction(2000),
        free_above_minor=Fraction(900_000),
        inland_minor=Fraction(1500),
        mode=COURIER,
        currency="EUR",
    ),
    insurance=Insurance(Fraction("0.004"), Fraction("1.1"), Fraction(500)),
    included_freight_minor=Fraction(100),
    entry_fees=EntryFees(Fraction("0.003464"), 3358, 65150, 269, 250_000, Fraction("0.00125")),
    local=LocalCosts(14_000, 8000, 6100, 9250, 3500, 1200, Fraction("2.5")),
    defects=Defects(Fraction("0.02"), Fraction("0.5")),
    sample_minor=Fraction(30_000),
    deposit=Deposit(Fraction("0.3"), 20),
    closures=("CN", "2026-10-01..2026-10-08"),
    cost_per_order_minor=750,
)
DUTY = (
    DutyLayer(
        Fraction("0.165"), datetime.date(2020, 1, 1), None, "general", source="a ruling", checked_on=TODAY
    ),
    DutyLayer(
        Fraction("0.1"), None, datetime.date(2026, 7, 24), "surcharge", checked_on=TODAY, is_example=True
    ),
)
OFFER = WrittenOffer(
    replace(QUOTE, lead_time=LeadTime(55, 12.5)),
    DUTY,
    Fraction("0.1462"),
    Fraction("1.08"),
    Fraction(150),
    Fraction(1350),
    "as the offer states",
)


def read_again(offer: WrittenOffer) -> StudyOffer:
    """The offer as a study's file has it."""
    lines = [
        "[demand]",
        "per_month = 40",
        "sizes = {S = 0.3, M = 0.6, 2XL = 0.1}",
        *offer_lines(offer, "USD"),
    ]
    (found,) = study_of("\n".join(lines), "study.toml", TODAY).offers
    return found


def test_every_part_of_an_offer_is_read_as_it_was_written() -> None:
    """Prices finer than a cent, a carrier of another currency, assists, a paid sample, closures."""
    found = read_again(OFFER)
    assert replace(found.quote, duty=(), lead_time=LeadTime()) == QUOTE
    assert found.quote.duty == DUTY
    assert (found.entry.rate, found.entry.freight_rate) == (Fraction("0.1462"), Fraction("1.08"))
    assert (found.weight_grams, found.volume_cm3) == (150, 1350)
    assert (found.lead.mean_days, found.lead.sd_days) == (55, 12.5)


def test_lead_times_of_own_orders_are_written_one_by_one() -> None:
    """They are the distribution."""
    found = read_again(replace(OFFER, quote=replace(QUOTE, lead_time=LeadTime(samples=(48, 55, 71)))))
    assert found.lead.samples == (48, 55, 71)


def test_a_price_by_size_costs_by_how_an_order_is_split() -> None:
    """A hundred pieces are 30, 60 and 10 by their shares."""
    order = read_again(OFFER).order(100)
    assert [(line.size, line.quantity) for line in order.lines] == [("S", 30), ("M", 60), ("2XL", 10)]
    assert order.with_sample


def test_prices_by_size_need_shares_of_sizes() -> None:
    """Without them it is not known what an order costs."""
    lines = ["[demand]", "per_month = 40", *offer_lines(OFFER, "USD")]
    with pytest.raises(StudyErrors, match="tells no sizes apart"):
        decide(study_of("\n".join(lines), "study.toml", TODAY), 10, 1)


def test_packs_become_pieces() -> None:
    """A pack of 100 at 12.00 is a piece at 0.12; minimum, multiple and breaks by the piece."""
    pack = Quote(
        "paper",
        unit="pack",
        unit_factor=Fraction(100),
        prices=(PriceGroup((PriceBreak(1, Fraction(1200)), PriceBreak(5, Fraction(1000)))),),
        rules=OrderRules(minimum=2, multiple=2, maximum=10),
        freight=Freight(per_unit_minor=Fraction(50)),
    )
    found = by_the_piece(pack)
    assert found.prices[0].breaks == (PriceBreak(1, Fraction(12)), PriceBreak(500, Fraction(10)))
    assert (found.rules.minimum, found.rules.multiple, found.rules.maximum) == (200, 200, 1000)
    assert found.freight.per_unit_minor == Fraction(1, 2)


def test_a_pack_of_no_whole_number_is_refused() -> None:
    """Half units cannot be ordered one by one."""
    with pytest.raises(ValueProblem, match="no whole number"):
        by_the_piece(Quote("roll", unit="roll", unit_factor=Fraction("139.35")))
