"""A cost that comes late over what is in process, finished and sold: published shares through the command."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from command_line import Runner, RunnerHere

ITEMS = "sku,name,kind,unit,style,colour,size\nINPUT,What a process starts from,blank,each,Input,Plain,M\n"
BILLS = (
    "bill,name,way,blank,finished,sku,per_piece\nOUTPUT,What it makes,screen print,Input,OUTPUT-{size},,\n"
)


def _answer(run: Runner, *words: str) -> Any:
    done = run(*words)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout) if "--json" in words else None


# Source: Heisinger & Hoyle, Managerial Accounting, Saylor open text, section 2.3: an amount is spread
# over balances in process, finished and sold. Here a piece stands for a unit of balance.
@pytest.mark.parametrize(
    ("pieces", "amount", "expected"),
    [
        ((6000, 3000, 1000), "2000", ("1200.00", "600.00", "200.00")),
        ((25_000, 25_000, 50_000), "40000", ("10000.00", "10000.00", "20000.00")),
    ],
)
def test_late_cost_follows_what_is_in_stock_finished_and_sold(
    tmp_path: Path, pieces: tuple[int, int, int], amount: str, expected: tuple[str, ...]
) -> None:
    """The share of what is left, of what was made of it, and of what is sold, after the month was closed."""
    run = RunnerHere(tmp_path, tmp_path / "shop.blankbook", {"BLANKBOOK_TODAY": "2026-12-31"})
    (tmp_path / "items.csv").write_text(ITEMS, encoding="utf-8")
    (tmp_path / "bills.csv").write_text(BILLS, encoding="utf-8")
    left, finished, sold = pieces
    rows = [
        "date,event,sku,quantity,amount,kind,reference,party",
        f"2026-01-05,receive,INPUT,{left + finished + sold},{left + finished + sold},,R,Alder Yard",
        f"2026-01-06,make,OUTPUT-M,{finished},,good,batch 1,",
        f"2026-01-07,sell,INPUT,{sold},{2 * sold},,,",
    ]
    (tmp_path / "events.csv").write_text("\n".join([*rows, ""]), encoding="utf-8")
    _answer(run, "start", "--name", "Published", "--currency", "USD", "--first-month", "2026-01", "--yes")
    for words in (
        ("items", "load", "items.csv", "--yes"),
        ("boms", "load", "bills.csv", "--yes"),
        ("post", "events.csv", "--yes"),
        ("close", "2026-01", "--yes"),
    ):
        _answer(run, *words)
    bill = ("charge", f"freight {amount} by value", "--on", "1", "--date", "2026-02-10", "--yes", "--json")
    shares = {(one["account"], one["sku"]): one["amount"] for one in _answer(run, *bill)["late"]}
    assert shares == {
        ("on hand", "INPUT"): expected[0],
        ("on hand", "OUTPUT-M"): expected[1],
        ("late charges on used stock", "INPUT"): expected[2],
    }
    assert _answer(run, "prove", "--json")["ok"] is True
