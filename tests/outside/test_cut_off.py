"""Cut-off: what is the shop's at a month's end by its delivery terms, through the real command.

Also the delivery terms themselves, and working days of a country's calendar. Beside each check stands
its source.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from command_line import Runner, RunnerHere

# Source: Hoyle and Skender, Financial Accounting, Saylor open text, chapter 8, section 3 (ordered December 27,
# shipped December 29, received January 4). Second-hand, source not read. The year is ours.
ORDERED, SHIPPED, RECEIVED, YEAR_END = "2025-12-27", "2025-12-29", "2026-01-04", "2025-12-31"


@dataclass(frozen=True)
class Shop:
    """The command with a book that begins in December."""

    run: Runner

    def do(self, *words: str) -> Any:
        """Run a command that must succeed; return its JSON."""
        done = self.run(*words, "--json")
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    def order(self, terms: str, *words: str) -> dict[str, Any]:
        """Order ten pieces for a hundred dollars."""
        line = ("--line", "GOODS 10 at 10.00", "--party", "A supplier", "--terms", terms)
        answer: dict[str, Any] = self.do("order", *line, "--date", ORDERED, *words, "--yes")
        return answer


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """A new book, made by the command itself, in January."""
    run = RunnerHere(tmp_path, tmp_path / "shop.blankbook", {"BLANKBOOK_TODAY": "2026-01-31"})
    (tmp_path / "items.csv").write_text("sku,name,kind,unit\nGOODS,Goods,blank,each\n", encoding="utf-8")
    for words in (
        ("start", "--name", "Cut-off", "--currency", "USD", "--first-month", "2025-12", "--yes"),
        ("items", "load", "items.csv", "--yes"),
    ):
        done = run(*words)
        assert done.returncode == 0, done.stderr
    return Shop(run)


@pytest.mark.parametrize(("terms", "is_in_stock"), [("FOB shipping point", True), ("FOB destination", False)])
def test_goods_shipped_before_and_received_after_the_year_end(
    shop: Shop, terms: str, *, is_in_stock: bool
) -> None:
    """In the buyer's December stock under the shipping point, not under the destination; on hand in January."""
    shop.order(terms)
    shop.do("ship", "1", "--date", SHIPPED, "--yes")
    shop.do("receive", "--order", "1", "--date", RECEIVED, "--yes")
    under_way = shop.do("stock", "--under-way", "--on", YEAR_END)
    assert [row["value"] for row in under_way] == (["100.00"] if is_in_stock else [])
    assert shop.do("stock", "--on", YEAR_END) == []
    assert [row["value"] for row in shop.do("stock", "--on", RECEIVED)] == ["100.00"]
    closed = shop.do("close", "2025-12", "--yes")
    in_december = "100.00" if is_in_stock else "0.00"
    assert (closed["closing_stock"], closed["under_way"], closed["purchases"]) == (in_december,) * 3
    assert shop.do("prove")["ok"] is True


# Source: ICC, Incoterms 2020: the risk passes with delivery, at the works (EXW), with the handing over to the
# carrier (FCA, CPT, CIP; FAS alongside the ship), on board (FOB, CFR, CIF), or at the destination (DAP, DPU,
# DDP). From memory.
RISK_PASSES = {
    **dict.fromkeys(("EXW", "FCA", "CPT", "CIP", "FAS"), "shipping"),
    **dict.fromkeys(("FOB", "CFR", "CIF"), "on board"),
    **dict.fromkeys(("DAP", "DPU", "DDP"), "arrival"),
}


def test_the_goods_are_the_shops_where_the_risk_passes(shop: Shop) -> None:
    """Every rule of Incoterms 2020; the contract may say otherwise, and is told so."""
    passes = {
        code: shop.order(f"{code} Port Rellan", "--reference", code)["title_passes"] for code in RISK_PASSES
    }
    assert passes == RISK_PASSES
    assert shop.order("DDP", "--reference", "otherwise", "--title", "shipping")["title_passes"] == "shipping"


def test_the_fifth_working_day_after_the_holidays(tmp_path: Path) -> None:
    """Friday 2026-02-13, five working days: Saturday the 14th is worked, then it is the new year until the 23rd."""
    # Source: State Council of China, notice on the holidays of 2026, as the package `holidays` has it; from memory.
    run = RunnerHere(tmp_path, tmp_path / "shop.blankbook", {"BLANKBOOK_TODAY": "2026-02-13"})
    (tmp_path / "items.csv").write_text("sku,name,kind,unit\nGOODS,Goods,blank,each\n", encoding="utf-8")
    shop = Shop(run)
    for words in (
        ("start", "--name", "Calendar", "--currency", "USD", "--first-month", "2026-01", "--yes"),
        ("items", "load", "items.csv", "--yes"),
    ):
        done = run(*words)
        assert done.returncode == 0, done.stderr
    line = ("--line", "GOODS 10 at 10.00", "--party", "A supplier", "--terms", "FCA", "--date", "2026-02-13")
    days = [
        shop.do("order", *line, "--working-days", str(number), "--closures", "CN", "--dry-run")[
            "expected_ships"
        ]
        for number in (1, 2, 5)
    ]
    assert days == ["2026-02-14", "2026-02-24", "2026-02-27"]
