"""What was entered before is told so, also where its month is closed since."""

from __future__ import annotations

from pathlib import Path

import pytest
from month_shop import WORKED_BILLS, WORKED_ITEMS, month_shop


def test_an_old_receipt_entered_again_asks_for_no_reopened_month(tmp_path: Path) -> None:
    """The same receipt of a closed month is in the book; another one of that month needs it open."""
    shop = month_shop(tmp_path, WORKED_ITEMS, WORKED_BILLS, "--first-month", "2026-01")
    receive = ("receive", "--party", "Alder Yard Blanks", "--sku", "TEE", "--quantity", "8", "--yes")
    again = ("--date", "2026-01-05", "--amount", "24.00")
    shop(*receive, *again)
    shop("close", "2026-01", "--yes")
    assert "in the book already, as receipt 1" in shop.refused(*receive, *again)
    assert "which is closed" in shop.refused(*receive, "--date", "2026-01-05", "--amount", "25.00")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("freight",), "freight wants a value: 39 or 36."),
        (("freight", "40"), "'40' is no value of freight: 39 or 36."),
    ],
)
def test_a_policy_says_which_values_it_has(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    """Without one, and with one that is none."""
    shop = month_shop(tmp_path, WORKED_ITEMS, WORKED_BILLS, "--first-month", "2026-01")
    assert said in shop.refused("policies", *words)
