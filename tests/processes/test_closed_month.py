"""The worked month with the month before in the book and closed: a late bill, the close, the tax lines."""

from __future__ import annotations

import json
import sqlite3
from typing import Any

import pytest
from command_line import Runner, RunnerHere

ITEMS = """sku,name,kind,unit,tax_class,style,colour,size
TEE,Plain tee,blank,each,goods,Tee,Plain,M
VIN,Vinyl,vinyl,sheet,goods,,,
PAPER,Cover paper,paper,sheet,supplies when used,,,
CLEANER,Cleaner,chemical,each,supplies when bought,,,
"""

BILLS = """bill,name,way,blank,finished,sku,per_piece
FIN,Finished shirt,heat transfer vinyl,Tee,FIN-{size},VIN,1
FIN,,,,,PAPER,1
"""

FEBRUARY = """date,event,sku,quantity,amount,kind,reference,party
2026-02-02,receive,TEE,100,300.00,,A,Alder Yard Blanks
2026-02-02,receive,VIN,30,30.00,,V,Alder Yard Blanks
2026-02-02,receive,PAPER,60,6.00,,P,Alder Yard Blanks
2026-02-05,make,FIN-M,10,9.00,good,first run,
2026-02-10,sell,TEE,50,400.00,,B-1,
"""

MARCH = """date,event,sku,quantity,amount,kind,applies_to,reference,party
2026-03-03,receive,TEE,60,186.00,,,AY-1,Alder Yard Blanks
2026-03-03,receive,VIN,40,36.00,,,AY-1,Alder Yard Blanks
2026-03-03,charge,,,22.20,freight,Alder Yard Blanks/AY-1,,
2026-03-04,charge,,,20.00,freight,Alder Yard Blanks/A,L-7,Slow Lorry
2026-03-05,own_use,TEE,1,,,,,
2026-03-06,sample,FIN-M,1,,,,,
2026-03-10,receive,TEE,20,70.00,,,AY-2,Alder Yard Blanks
2026-03-10,receive,PAPER,100,12.00,,,AY-2,Alder Yard Blanks
2026-03-10,receive,CLEANER,1,18.00,,,AY-2,Alder Yard Blanks
2026-03-10,charge,,,10.00,freight,Alder Yard Blanks/AY-2,,
2026-03-12,make,FIN-M,50,19.86,good,,spring fair,
2026-03-12,make,FIN-M,1,,abnormal,,spring fair,
2026-03-12,make,FIN-M,3,,normal,,spring fair,
2026-03-20,sell,FIN-M,45,900.00,,,A-1,
2026-03-24,take_back,FIN-M,1,20.00,,,A-1,
2026-03-31,count,TEE,63,,,,,
"""


def _do(run: Runner, *words: str) -> str:
    done = run(*words)
    assert done.returncode == 0, done.stderr
    return done.stdout


def _answer(run: Runner, *words: str) -> Any:
    return json.loads(_do(run, *words, "--json"))


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Runner:
    """A book with February closed and March posted, not closed yet."""
    folder = tmp_path_factory.mktemp("months")
    run = RunnerHere(folder, folder / "shop.blankbook")
    sheets = (("items", ITEMS), ("bills", BILLS), ("february", FEBRUARY), ("march", MARCH))
    for name, text in sheets:
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    _do(run, "start", "--name", "Worked month", "--currency", "USD", "--first-month", "2026-02", "--yes")
    _do(run, "items", "load", "items.csv", "--yes")
    _do(run, "boms", "load", "bills.csv", "--yes")
    _do(run, "post", "february.csv", "--yes")
    _do(run, "close", "2026-02", "--yes")
    _do(run, "post", "march.csv", "--yes")
    return run


def _charge(run: Runner) -> int:
    history = _answer(run, "history")
    return next(one["document"] for one in history if one["reference"] == "L-7")


def test_late_bill_follows_the_goods(run: Runner) -> None:
    """20.00 late on 100 shirts: 40 on hand 8.00, 10 in finished pieces 2.00, 50 gone 10.00."""
    legs = _answer(run, "show", str(_charge(run)))["legs"]
    shares = {(leg["account"], leg["sku"]): leg["amount"] for leg in legs if leg["account"] != "charges"}
    assert shares == {
        ("on hand", "TEE"): "8.00",
        ("on hand", "FIN-M"): "2.00",
        ("late charges on used stock", "TEE"): "10.00",
    }


def test_month_comes_to_the_worked_figures(run: Runner) -> None:
    """Every line of the roll-forward, as worked by hand."""
    month = _answer(run, "close", "2026-03", "--show")
    assert {key: month[key] for key in ("opening_stock", "purchases", "charges_in", "labour", "own_use")} == {
        "opening_stock": "195.00",
        "purchases": "322.00",
        "charges_in": "52.20",
        "labour": "19.86",
        "own_use": "3.20",
    }
    assert (month["closing_stock"], month["cost_of_goods_sold"], month["supplies_on_hand"]) == (
        "317.24",
        "268.62",
        "12.67",
    )
    assert {key: amount for key, amount in month["of_which"].items() if amount != "0.00"} == {
        "pieces_sold": "221.80",
        "samples": "5.20",
        "spoilage": "5.00",
        "count_differences": "6.82",
        "late_charges_on_used": "10.00",
        "supplies_when_bought": "19.80",
    }
    kinds = {row["kind"]: row["closing_stock"] for row in month["by_kind"]}
    assert kinds == {
        "blank": "223.63",
        "vinyl": "5.94",
        "finished": "75.00",
        "paper": "12.67",
        "chemical": "0.00",
    }


LINES = ("35", "36", "37", "38", "39", "40", "41", "42")
OUTSIDE_39 = ("190.00", "288.80", "19.86", "25.33", "49.20", "573.19", "304.57", "268.62")
INSIDE_39 = ("195.00", "300.80", "19.86", "19.80", "50.40", "585.86", "317.24", "268.62")
OUTSIDE_36 = ("190.00", "338.00", "19.86", "25.33", "0.00", "573.19", "304.57", "268.62")
INSIDE_36 = ("195.00", "351.20", "19.86", "19.80", "0.00", "585.86", "317.24", "268.62")


@pytest.mark.parametrize(
    ("freight", "supplies", "expected"),
    [
        ("39", "outside", OUTSIDE_39),
        ("39", "inside", INSIDE_39),
        ("36", "outside", OUTSIDE_36),
        ("36", "inside", INSIDE_36),
    ],
)
def test_tax_lines_by_policy(run: Runner, freight: str, supplies: str, expected: tuple[str, ...]) -> None:
    """Lines 35 to 42 under every combination of the two policies: 42 is always the same."""
    _do(run, "policies", "freight", freight)
    _do(run, "policies", "supplies", supplies)
    assert _answer(run, "close", "2026-03", "--show")["tax_form"] == dict(zip(LINES, expected, strict=True))


def test_samples_deducted_elsewhere_leave_the_form(run: Runner) -> None:
    """With samples elsewhere, line 36 is 283.60 and line 42 is 263.42."""
    for words in (("freight", "39"), ("supplies", "outside"), ("samples", "elsewhere")):
        _do(run, "policies", *words)
    form = _answer(run, "close", "2026-03", "--show")["tax_form"]
    _do(run, "policies", "samples", "cost of goods")
    assert (form["36"], form["42"]) == ("283.60", "263.42")


def test_closed_month_refuses_what_is_dated_into_it(run: Runner) -> None:
    """A posting into February names the date and the way out, and changes nothing."""
    before = _answer(run, "close", "2026-02", "--show")
    done = run("sell", "TEE", "1", "--amount", "9.00", "--date", "2026-02-20", "--yes")
    assert done.returncode == 1
    assert "2026-02-20" in done.stderr
    assert "blankbook reopen 2026-02" in done.stderr
    assert _answer(run, "close", "2026-02", "--show") == before


def test_closing_seals_the_month_and_proves(run: Runner) -> None:
    """The close prints the contract's keys; its fingerprint follows on February's; the book proves whole."""
    february = _answer(run, "close", "2026-02", "--show")
    assert february["year_to_date"] is None, "January is not in the book and was not told"
    told = [word for line in ("35", "36", "37", "38", "39", "41") for word in ("--earlier", f"{line} 0.00")]
    _do(run, "months", *told)
    closed = _answer(run, "close", "2026-03", "--yes")
    assert closed["previous_fingerprint"] == february["fingerprint"]
    assert (len(closed["fingerprint"]), closed["is_draft"]) == (64, False)
    assert closed["year_to_date"]["cost_of_goods_sold"] == "418.62"
    assert _answer(run, "prove")["ok"] is True
    again = run("close", "2026-03", "--yes")
    assert (again.returncode, "is closed already" in again.stderr) == (1, True)


def test_changed_closed_row_is_told_and_nothing_is_closed_on_top(run: Runner, tmp_path: Any) -> None:
    """A hand in the file that changes February is named by months, and April is refused."""
    assert run.book is not None
    copy = tmp_path / "copy.blankbook"
    copy.write_bytes(run.book.read_bytes())
    connection = sqlite3.connect(copy)
    for (name,) in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
        connection.execute(f'DROP TRIGGER "{name}"')
    connection.execute("UPDATE document SET note = 'other' WHERE effect_date LIKE '2026-02%' AND number = 1")
    connection.commit()
    connection.close()
    other = RunnerHere(run.folder, copy, {"BLANKBOOK_TODAY": "2026-05-01"})
    changed = [row["month"] for row in _answer(other, "months") if row["changed"]]
    refused = other("close", "2026-04", "--yes")
    assert (changed, refused.returncode, "2026-02" in refused.stderr) == (["2026-02"], 1, True)
