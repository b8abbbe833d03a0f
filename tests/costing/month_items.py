"""The worked month's items as the book keeps them, and months of any kind, for tests of statements."""

from __future__ import annotations

from hypothesis import strategies as st

from ledger.costing.month_statement import OF_WHICH_ACCOUNTS, ItemMonth

TEE = ItemMonth(
    sku="TEE",
    kind="blank",
    tax_class="goods",
    opening_amount=12000,
    closing_amount=22363,
    under_way_amount=0,
    amounts={
        "purchases": -25600,
        "charges": -4560,
        "own use": 320,
        "on hand": 10363,
        "work in process": 17595,
        "used": 0,
        "count differences": 682,
        "late charges on used stock": 1000,
    },
    used_in_jobs=17595,
    late_passed_on=200,
)
VIN = ItemMonth(
    sku="VIN",
    kind="vinyl",
    tax_class="goods",
    opening_amount=2000,
    closing_amount=594,
    under_way_amount=0,
    amounts={"purchases": -3600, "charges": -360, "work in process": 5366, "used": 0},
    used_in_jobs=5366,
)
PAPER = ItemMonth(
    sku="PAPER",
    kind="paper",
    tax_class="supplies when used",
    opening_amount=500,
    closing_amount=1267,
    under_way_amount=0,
    amounts={"purchases": -1200, "charges": -120, "work in process": 553, "used": 0},
    used_in_jobs=553,
)
CLEANER = ItemMonth(
    sku="CLEANER",
    kind="chemical",
    tax_class="supplies when bought",
    opening_amount=0,
    closing_amount=0,
    under_way_amount=0,
    amounts={"purchases": -1800, "charges": -180, "supplies": 1980},
)
FIN = ItemMonth(
    sku="FIN",
    kind="finished",
    tax_class="goods",
    opening_amount=5000,
    closing_amount=7500,
    under_way_amount=0,
    amounts={
        "labour": -1986,
        "work in process": -23514,
        "samples": 520,
        "spoilage": 500,
        "pieces sold": 22180,
    },
    late_passed_on=-200,
)

WORKED_MONTH = (TEE, VIN, PAPER, CLEANER, FIN)
"""The worked month of the design, with its late freight; our own example, no outside check."""

_CENTS = st.integers(min_value=0, max_value=10**7)
_OUT = (*OF_WHICH_ACCOUNTS.values(), "own use", "returned to supplier")
_IN = ("purchases", "charges", "opening balance")


@st.composite
def materials(draw: st.DrawFn, sku: str) -> ItemMonth:
    """An item that is bought, used in jobs and leaves on any account; its closing follows."""
    tax_class = draw(st.sampled_from(["goods", "supplies when used"]))
    amounts = {account: draw(_CENTS) for account in draw(st.sets(st.sampled_from(_OUT)))}
    amounts |= {account: -draw(_CENTS) for account in draw(st.sets(st.sampled_from(_IN)))}
    amounts["work in process"] = draw(_CENTS)
    opening = draw(_CENTS)
    passed_on = draw(_CENTS)
    closing = opening - sum(amounts.values()) - passed_on
    kind = draw(st.sampled_from(["blank", "vinyl", "film"]))
    return ItemMonth(
        sku, kind, tax_class, opening, closing, 0, amounts, amounts["work in process"], passed_on
    )


@st.composite
def months(draw: st.DrawFn) -> tuple[ItemMonth, ...]:
    """A month of some materials, one finished item made of them, and supplies when bought."""
    bought = [draw(materials(f"M{place}")) for place in range(draw(st.integers(0, 4)))]
    cost = sum(item.used_in_jobs for item in bought)
    late = sum(item.late_passed_on for item in bought)
    labour, sold, opening = draw(_CENTS), draw(_CENTS), draw(_CENTS)
    made = {"labour": -labour, "work in process": -cost, "pieces sold": sold}
    closing = opening + labour + cost + late - sold
    finished = ItemMonth("FIN", "finished", "goods", opening, closing, 0, made, 0, -late)
    supplies = draw(_CENTS)
    when_bought = ItemMonth(
        "CLEANER",
        "chemical",
        "supplies when bought",
        0,
        0,
        0,
        {"purchases": -supplies, "supplies": supplies},
    )
    return (*bought, finished, when_bought)
