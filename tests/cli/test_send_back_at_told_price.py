"""Goods whose price came after them go back at that price."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from month_shop import WORKED_BILLS, WORKED_ITEMS, month_shop

from ledger.book.connect import open_reading


def test_the_supplier_credits_the_price_told_later(tmp_path: Path) -> None:
    """Ten taken at 30.00 turn out to cost 33.70: three go back for 10.11, and no difference is left."""
    shop = month_shop(tmp_path, WORKED_ITEMS, WORKED_BILLS, "--first-month", "2026-01")
    receive = ("receive", "--party", "Alder Yard Blanks", "--sku", "TEE")
    shop(*receive, "--quantity", "8", "--amount", "24.00", "--date", "2026-01-05", "--yes")
    shop(*receive, "--quantity", "10", "--date", "2026-01-10", "--yes")
    shop(
        "charge", "goods 33.70", "--on", "2", "--party", "Alder Yard Blanks", "--date", "2026-01-20", "--yes"
    )
    shop("send-back", "TEE", "3", "--lot", "2.1", "--date", "2026-01-25", "--yes")
    with closing(open_reading(shop.book)) as book:
        legs = book.execute("SELECT account, amount FROM leg WHERE document = 4 ORDER BY part").fetchall()
    assert legs == [("on hand", -1011), ("returned to supplier", 1011)]
    assert "found nothing wrong" in shop("prove")
