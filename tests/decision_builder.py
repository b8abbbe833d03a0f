"""Kept decisions for tests; everything in them is invented."""

from __future__ import annotations

from dataclasses import replace

from book_builder import Book

from ledger.book.catalogue_store import ensure_party
from ledger.book.connect import write_tx
from ledger.book.decision_store import DecisionItem, DecisionSize, KeptDecision, keep

MILL, HOME = "Mill Lane", "Alder Yard Blanks"
SAND, PLUM = "TEE-SAND-M", "TEE-PLUM-L"
STUDY = """currency = "USD"

[demand]
per_month = 20

[[offer]]
name = "Alder Yard Blanks"
breaks = [{from = 1, price = "3.00"}]

[[offer]]
name = "Mill Lane"
origin = "CN"
breaks = [{from = 1, price = "2.00"}]
duty = [{rate = "0"}]
lead_time = {mean_days = 40, sd_days = 8}
"""
A_DECISION = KeptDecision(
    kept_at="2026-01-10T12:00:00Z",
    decided_on="2026-01-10",
    subject="Alder",
    from_book=False,
    currency="USD",
    horizon_months=12,
    study=STUDY,
    seed=1,
    futures=200,
    verdict="BULK",
    sentence="BULK: buy 150 from Mill Lane.",
    alternative="bulk",
    is_from_afar=True,
    offer=MILL,
    supplier=MILL,
    quantity=150,
    expected_saving=-12_345,
    standard_error=310,
    cash_peak=40_000,
    landed_unit_ten_thousandths=2_251_234,
    sold_unit_ten_thousandths=2_400_000,
    lead_time_days_milli=40_000,
    demand_per_month_milli=20_000,
    weeks_of_cover_milli=32_500,
    order_by="2026-01-20",
    home_offer=HOME,
    home_supplier=HOME,
    home_unit_ten_thousandths=3_000_000,
    why="before the markets",
    items=(DecisionItem(PLUM, "L"), DecisionItem(SAND, "M")),
    sizes=(DecisionSize("M", 100), DecisionSize("L", 50)),
)
"""150 tees from a mill, kept on 10 January 2026."""


def kept(book: Book, **changes: object) -> KeptDecision:
    """Keep that decision, with some of it otherwise, in a book that knows both suppliers."""
    with write_tx(book.connection):
        for party in (MILL, HOME):
            ensure_party(book.connection, party)
        return keep(book.connection, replace(A_DECISION, **changes))  # type: ignore[arg-type]
