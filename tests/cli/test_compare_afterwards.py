"""`blankbook compare --afterwards` of goods that were ordered and shipped before they came."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import typer
from price_shop import HEAD, ITEMS, RATES, loaded
from small_shop import Commands, new_book

from ledger.book import connect
from ledger.cli import charge, compare, duties, items, look, order, quotes, receive, ship, stock, undo
from ledger.errors import Refused

HOME = "Mill Lane,tees,,Wren,,1 = 4.10; 24 = 3.90,,USD,shipping point,,12,,,28.60,,,,4,2026-01-01,"
AIR = "Sparrow Mill,air,,Wren,,210 = 2.60; 420 = 2.35,,EUR,FCA,PT,210,,,150,,,120,21,2026-01-01,"
SEA = "Sparrow Mill,sea,,Wren,,300 = 2.40; 900 = 2.05,,EUR,EXW,PT,300,,,180,,,120,60,2026-01-01,"
PREPACK = (
    "Sparrow Mill,bundles,,Wren,,1 = 2.40,,EUR,EXW,PT,,,,90,,,,60,2026-01-20,S = 1; M = 2; L = 2; XL = 1"
)
BY_CARTON = "Sparrow Mill,cartons,,Wren,,1 = 2.40,,EUR,EXW,PT,,72,,90,,,,60,2026-01-21,"


def _register(app: typer.Typer) -> None:
    for module in (items, quotes, duties, order, ship, receive, charge, compare, undo, stock, look):
        module.register(app)


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book that has a catalogue, run in an empty folder at the end of March."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    commands = Commands(_register, new_book(tmp_path / "shop.blankbook"))
    loaded(commands, "items", ITEMS)
    loaded(commands, "duties", RATES)
    return commands


def _offered(run: Commands, *rows: str) -> None:
    loaded(run, "quotes", "\n".join([HEAD, *rows, ""]))


def _ok(run: Commands, *words: str) -> str:
    outcome = run(*words, "--yes")
    assert outcome.code == 0, (outcome.err, outcome.error)
    return outcome.out


def _ordered(run: Commands, line: str, party: str, terms: str, *words: str) -> None:
    _ok(run, "order", "--line", line, "--party", party, "--terms", terms, "--date", "2026-02-02", *words)


def _outcome(run: Commands) -> dict[str, Any]:
    (found,) = run("compare", "--afterwards", "--json").data
    assert isinstance(found, dict)
    return found


def _kinds(found: dict[str, Any]) -> dict[str, str]:
    return {each["kind"]: each["actual"] for each in found["by_kind"]}


def test_what_was_charged_on_the_shipment_was_paid_for_the_goods(blankbook: Commands) -> None:
    """144 at 3.90 with 29.70 of freight to the door cost 591.30."""
    _offered(blankbook, HOME)
    _ordered(blankbook, "WREN-BLK-M 144 at 3.90", "Mill Lane", "shipping point")
    _ok(blankbook, "ship", "1", "--date", "2026-02-03", "--charge", "freight 29.70 by weight")
    _ok(blankbook, "receive", "--order", "1", "--date", "2026-02-06")
    found = _outcome(blankbook)
    assert (found["expected"], found["actual"]) == ("590.20", "591.30")
    assert _kinds(found) == {"goods": "561.60", "freight": "29.70"}


def test_each_arrival_bears_its_part_of_the_shipments_charges(blankbook: Commands) -> None:
    """A third of the pieces brings a third of the freight and the insurance; together it is all of them."""
    _offered(blankbook, HOME)
    _ordered(blankbook, "WREN-BLK-M 144 at 3.90", "Mill Lane", "shipping point")
    charged = ("--charge", "freight 30.00 by quantity", "--charge", "insurance 6.00")
    _ok(blankbook, "ship", "1", "--date", "2026-02-03", *charged)
    for day, quantity in (("2026-02-06", "48"), ("2026-02-09", "96")):
        _ok(blankbook, "receive", "--order", "1", "--date", day, "--line", f"WREN-BLK-M {quantity}")
    found = blankbook("compare", "--afterwards", "--json").data
    assert [_kinds(each) for each in found] == [
        {"goods": "374.40", "freight": "20.00", "insurance": "4.00"},
        {"goods": "187.20", "freight": "10.00", "insurance": "2.00"},
    ]


BY_ORDER = HOME.replace("1 = 4.10; 24 = 3.90", "1 = 4.05; 144 = 3.85").replace("28.60", "25")
UP_TO_L = "Mill Lane,tees,,Wren,S-L,1 = 4.05; 144 = 3.85,,USD,shipping point,,12,,,25,,,,4,2026-01-01,"
FROM_XL = "Mill Lane,tees,,Wren,XL-2XL,1 = 5.05; 144 = 4.85,,,,,,,,,,,,,,"


def _came_in_two(run: Commands, *lines: tuple[str, ...]) -> list[dict[str, Any]]:
    """Receive an order in parts with 12.50 of freight each; return them, the first one first."""
    _ok(run, "ship", "1", "--date", "2026-02-03")
    for day, words in zip(("2026-02-06", "2026-02-09"), lines, strict=True):
        _ok(run, "receive", "--order", "1", "--date", day, *words, "--charge", "freight 12.50")
    found = run("compare", "--afterwards", "--json").data
    assert isinstance(found, list)
    return found[::-1]


def test_parts_of_one_order_are_expected_at_the_orders_price(blankbook: Commands) -> None:
    """144 at their own break with 25 of freight once: half of 579.40 for each half."""
    _offered(blankbook, BY_ORDER)
    _ordered(blankbook, "WREN-BLK-M 144 at 3.85", "Mill Lane", "shipping point")
    half = ("--line", "WREN-BLK-M 72")
    found = _came_in_two(blankbook, half, half)
    assert [(each["expected"], each["actual"]) for each in found] == [("289.70", "289.70")] * 2


def test_parts_of_an_order_add_up_to_what_it_was_to_cost(blankbook: Commands) -> None:
    """Thirds of a cent are lost nowhere, and an order that is not all in yet expects its part only."""
    _offered(blankbook, BY_ORDER)
    _ordered(blankbook, "WREN-BLK-M 144 at 3.85", "Mill Lane", "shipping point")
    found = _came_in_two(blankbook, ("--line", "WREN-BLK-M 41"), ("--line", "WREN-BLK-M 62"))
    # 41 and 62 of 144 pieces: of 554.40 goods 157.85 and 238.70, of 25.00 freight 7.12 and 10.76.
    assert [each["expected"] for each in found] == ["164.97", "249.46"]


def test_each_part_is_expected_at_its_own_sizes_price(blankbook: Commands) -> None:
    """The dear sizes come first: what goods cost is theirs, the freight goes by the pieces."""
    _offered(blankbook, UP_TO_L, FROM_XL)
    _ok(
        blankbook, "order", "--line", "WREN-BLK-M 72 at 3.85", "--line", "WREN-BLK-XL 72 at 4.85", "--party",
        "Mill Lane", "--terms", "shipping point", "--date", "2026-02-02",
    )  # fmt: skip
    found = _came_in_two(blankbook, ("--line", "WREN-BLK-XL 72"), ("--line", "WREN-BLK-M 72"))
    assert [(each["expected"], each["actual"]) for each in found] == [
        ("361.70", "361.70"),
        ("289.70", "289.70"),
    ]


def test_what_was_claimed_did_not_come_good(blankbook: Commands) -> None:
    """70 of 72: the row says so, and what one really cost goes by the 70."""
    _offered(blankbook, BY_ORDER)
    _ordered(blankbook, "WREN-BLK-M 144 at 3.85", "Mill Lane", "shipping point")
    bad = ("--missing-line", "WREN-BLK-M 2 claimed")
    first, _ = _came_in_two(blankbook, ("--line", "WREN-BLK-M 70", *bad), ("--line", "WREN-BLK-M 72"))
    assert (first["quantity"], first["invoiced"], first["claimed"]) == ("70", "72", "2")
    # 289.70 less 7.70 claimed, for 70.
    assert (first["expected"], first["actual"], first["actual_per_unit"]) == ("289.70", "282.00", "4.028571")
    out = blankbook("compare", "--afterwards").out
    assert "70 of 72 came good, 2 claimed." in out


def test_a_late_bill_for_the_shipment_counts(blankbook: Commands) -> None:
    """Freight billed once the goods are on the shelf is what the order cost too, and undone it is not."""
    _offered(blankbook, HOME)
    _ordered(blankbook, "WREN-BLK-M 144 at 3.90", "Mill Lane", "shipping point")
    _ok(blankbook, "ship", "1", "--date", "2026-02-03")
    _ok(blankbook, "receive", "--order", "1", "--date", "2026-02-06")
    _ok(blankbook, "charge", "freight 20.00", "--on", "3", "--date", "2026-02-20", "--party", "Carrier")
    assert _kinds(_outcome(blankbook)) == {"goods": "561.60", "freight": "20.00"}
    _ok(blankbook, "undo", "4", "--why", "another shop's")
    assert _kinds(_outcome(blankbook)) == {"goods": "561.60", "freight": "0.00"}


def test_a_foreign_order_is_expected_at_the_rate_it_was_shipped_at(blankbook: Commands) -> None:
    """546.00 EUR at 1.10 were to come to 600.60, and did."""
    _offered(blankbook, AIR)
    _ordered(blankbook, "WREN-BLK-M 210 at 2.60", "Sparrow Mill", "FCA Port Rellan", "--currency", "EUR")
    charged = ("--charge", "freight 170.00", "--charge", "insurance 15.00")
    _ok(blankbook, "ship", "1", "--date", "2026-02-10", "--rate", "1.10", *charged)
    _ok(blankbook, "receive", "--order", "1", "--date", "2026-02-22", "--charge", "duty 99.10")
    found = _outcome(blankbook)
    goods = next(each for each in found["by_kind"] if each["kind"] == "goods")
    assert (found["problem"], goods["expected"], goods["actual"]) == (None, "600.60", "600.60")
    assert found["actual"] == "884.70"


def test_a_bill_in_another_currency_than_the_offer_takes_the_days_rate(blankbook: Commands) -> None:
    """The central bank's of the day the goods came, as the comparison of prices takes it."""
    _offered(blankbook, AIR)
    _ok(
        blankbook, "receive", "--sku", "WREN-BLK-M", "--quantity", "210", "--amount", "640", "--party",
        "Sparrow Mill", "--date", "2026-02-23",
    )  # fmt: skip
    found = _outcome(blankbook)
    assert found["problem"] is None
    assert float(found["expected"]) > 546


@pytest.mark.parametrize("rows", [(AIR, SEA), (SEA, AIR), (SEA, AIR, PREPACK, BY_CARTON)])
def test_an_order_belongs_to_the_offer_that_fits_it(blankbook: Commands, rows: tuple[str, ...]) -> None:
    """By price, currency and terms; never to one by prepacks or cartons, however late it was quoted."""
    _offered(blankbook, *rows)
    _ordered(blankbook, "WREN-BLK-M 300 at 2.40", "Sparrow Mill", "EXW", "--currency", "EUR")
    _ok(blankbook, "ship", "1", "--date", "2026-02-10", "--rate", "1.10")
    _ok(blankbook, "receive", "--order", "1", "--date", "2026-02-22")
    assert _outcome(blankbook)["offer"] == "sea"


def test_goods_that_no_offer_would_sell_so_were_expected_by_none(blankbook: Commands) -> None:
    """100 pieces are below what both offers sell."""
    _offered(blankbook, AIR, SEA)
    _ordered(blankbook, "WREN-BLK-M 100 at 2.40", "Sparrow Mill", "EXW", "--currency", "EUR")
    _ok(blankbook, "ship", "1", "--date", "2026-02-10", "--rate", "1.10")
    _ok(blankbook, "receive", "--order", "1", "--date", "2026-02-22")
    assert blankbook("compare", "--afterwards", "--json").data == []


def test_an_order_says_which_offer_it_belongs_to(blankbook: Commands) -> None:
    """Told once, that is the offer, whatever fits better; the order shows it."""
    _offered(blankbook, AIR, SEA)
    words = ("--currency", "EUR", "--offer", "SEA")
    _ordered(blankbook, "WREN-BLK-M 300 at 2.60", "Sparrow Mill", "FCA Port Rellan", *words)
    assert "offer       sea" in blankbook("order", "1").out
    assert blankbook("order", "1", "--json").data["offer"] == "sea"
    _ok(blankbook, "ship", "1", "--date", "2026-02-10", "--rate", "1.10")
    _ok(blankbook, "receive", "--order", "1", "--date", "2026-02-22")
    assert _outcome(blankbook)["offer"] == "sea"


def test_an_offer_nobody_made_is_refused(blankbook: Commands) -> None:
    """With the nearest name; nothing is posted."""
    _offered(blankbook, AIR, SEA)
    outcome = blankbook(
        "order", "--line", "WREN-BLK-M 300 at 2.40", "--party", "Sparrow Mill", "--terms", "EXW", "--currency",
        "EUR", "--offer", "see", "--yes",
    )  # fmt: skip
    assert isinstance(outcome.error, Refused)
    assert "Did you mean sea?" in str(outcome.error)
    assert blankbook("order", "--all", "--json").data == []


def test_an_offer_told_of_an_order_never_changes(blankbook: Commands) -> None:
    """No program that opens the file may change, take out or replace it."""
    _offered(blankbook, SEA)
    words = ("--currency", "EUR", "--offer", "sea")
    _ordered(blankbook, "WREN-BLK-M 300 at 2.40", "Sparrow Mill", "EXW", *words)
    connection = connect.open_writing(blankbook.book)
    for statement in (
        "UPDATE order_offer SET offer = 'air'",
        "DELETE FROM order_offer",
        "INSERT OR REPLACE INTO order_offer VALUES (1, 'air')",
    ):
        with pytest.raises(connect.sqlite3.IntegrityError, match="a posted order"):
            connection.execute(statement)
    connection.close()
