"""Offers and circumstances that the tests of landed costs share."""

from __future__ import annotations

import datetime
from dataclasses import replace
from fractions import Fraction

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from ledger.sourcing.duties import DutyLayer
from ledger.sourcing.entry_fees import EntryFees
from ledger.sourcing.quote import (
    ALL_UNITS,
    INCREMENTAL,
    Defects,
    Entry,
    Freight,
    Insurance,
    LocalCosts,
    PriceBreak,
    PriceGroup,
    Quote,
)

DRAWN = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
"""How the property tests of landed costs are run: a busy machine is no failure."""

DAY = datetime.date(2026, 11, 24)
ENTRY = Entry(DAY)

LAYERS = (
    DutyLayer(Fraction("0.165"), program="general", class_prefix="6109.10"),
    DutyLayer(
        Fraction("0.075"),
        datetime.date(2020, 2, 14),
        program="list 4A",
        class_prefix="6109",
        origin="CN",
    ),
    DutyLayer(
        Fraction("0.10"),
        datetime.date(2026, 2, 24),
        datetime.date(2026, 7, 24),
        program="section 122",
    ),
    DutyLayer(Fraction("0.125"), datetime.date(2026, 7, 24), program="note 52", origin="CN"),
    DutyLayer(Fraction("0.125"), datetime.date(2026, 7, 24), program="note 52", origin="VN"),
)
"""Layers as a shop might have entered them."""


def priced(*breaks: tuple[int, str], **changes: object) -> Quote:
    """Return an offer of anything at these prices, in dollars."""
    steps = tuple(PriceBreak(start, Fraction(price) * 100) for start, price in breaks)
    quote = Quote("offer", prices=(PriceGroup(steps),))
    return replace(quote, **changes)  # type: ignore[arg-type]


def overseas(*breaks: tuple[int, str], **changes: object) -> Quote:
    """Return the same from China, FOB, with one duty layer of 16.5%."""
    usual: dict[str, object] = {"origin": "CN", "terms": "FOB", "duty": (DutyLayer(Fraction("0.165")),)}
    return priced(*breaks, **(usual | changes))


# Drawing fractions takes long; thousandths are as good.
_RATES = st.integers(0, 333).map(lambda thousandths: Fraction(thousandths, 1000))
_AMOUNTS = st.integers(0, 20_000)
_TERMS = st.sampled_from(("", "EXW", "FCA", "FOB", "CFR", "CIF", "CIP", "DAP", "DPU", "DDP"))


@st.composite
def offers(draw: st.DrawFn) -> Quote:
    """Any sensible offer: prices that do not rise, every kind of cost, at home or from abroad."""
    starts = sorted(draw(st.sets(st.integers(2, 400), max_size=3)))
    prices = sorted(draw(st.lists(st.integers(50, 3000), min_size=len(starts) + 1, max_size=len(starts) + 1)))
    steps = [
        PriceBreak(start, Fraction(price)) for start, price in zip([1, *starts], prices[::-1], strict=True)
    ]
    is_foreign = draw(st.booleans())
    return Quote(
        "offer",
        origin="CN" if is_foreign else "domestic",
        prices=(PriceGroup(tuple(steps)),),
        discount=draw(st.sampled_from((ALL_UNITS, INCREMENTAL))),
        terms=draw(_TERMS),
        freight=Freight(
            per_order_minor=Fraction(draw(_AMOUNTS)),
            per_unit_minor=Fraction(draw(st.integers(0, 300))),
            inland_minor=Fraction(draw(_AMOUNTS)),
        ),
        insurance=Insurance(rate=draw(_RATES) / 50, uplift=Fraction(11, 10)),
        duty=tuple(DutyLayer(rate) for rate in draw(st.lists(_RATES, min_size=1, max_size=3))),
        duty_base=draw(st.sampled_from(("FOB", "CIF"))),
        entry_fees=EntryFees(Fraction("0.003464"), 3358, 65_150, 269, 250_000, Fraction("0.00125"))
        if draw(st.booleans())
        else None,
        local=LocalCosts(draw(_AMOUNTS), draw(_AMOUNTS), draw(_AMOUNTS), draw(_AMOUNTS), draw(_AMOUNTS)),
        defects=Defects(draw(_RATES) / 4, draw(_RATES)),
    )
