"""`blankbook order` in this process: what an order says, its days, payments, lead times and end."""

from __future__ import annotations

from pathlib import Path

import pytest
from book_builder import Book
from order_shop import ORDERED, PLUM, SAND, is_whole, ok, order_commands, with_order, with_shipment
from small_shop import Commands

from ledger.cli.main import MODULES
from ledger.errors import UsageError


@pytest.fixture
def run(book: Book, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book of a few items, on the 31st of March."""
    return order_commands(book, monkeypatch)


@pytest.fixture
def ordered(run: Commands) -> Commands:
    """The same with an order in yuan, on board at a port."""
    return with_order(run)


@pytest.fixture
def shipped(ordered: Commands) -> Commands:
    """The same, under way."""
    return with_shipment(ordered)


def test_the_commands_are_in_the_program() -> None:
    """`blankbook order` and `blankbook ship` are found."""
    assert (MODULES["order"], MODULES["ship"]) == ("order", "ship")


def test_an_order_says_what_it_is(run: Commands) -> None:
    """Terms, totals, dates by the calendar; a dry run posts nothing."""
    outcome = ok(
        run(
            *ORDERED,
            "--deposit",
            "30%",
            "--working-days",
            "10",
            "--transit-days",
            "30",
            "--dry-run",
            "--json",
        )
    )
    data = outcome.data
    assert (data["document"], data["terms"], data["title_passes"]) == (None, "FOB", "on board")
    assert (data["total"], data["deposit"]) == ("2150.00", "645.00")
    assert (data["expected_ships"], data["expected_on"]) == ("2026-01-19", "2026-02-18")
    assert "No closures were told" in data["remarks"][0]
    assert ok(run("order", "--all", "--json")).data == []


def test_orders_are_listed_and_shown(shipped: Commands) -> None:
    """The list has heads, the order its lines and shipments."""
    (head,) = ok(shipped("order", "--json")).data
    assert (head["order"], head["state"], head["total"], head["currency"]) == (1, "open", "2150.00", "CNY")
    data = ok(shipped("order", "1", "--json")).data
    assert [(line["sku"], line["quantity"], line["shipped"], line["to_ship"]) for line in data["lines"]] == [
        (SAND, "100", "100", "0"),
        (PLUM, "50", "50", "0"),
    ]
    assert (data["named_place"], data["shipments"][0]["takes_effect"]) == ("Port Rellan", "2026-01-23")


def test_the_texts_say_the_same(shipped: Commands) -> None:
    """Words for people: when the goods are the shop's, what is under way, what is expected."""
    assert "once on board" in ok(shipped("order", "1")).out
    assert "Nine Sparrows" in ok(shipped("order")).out
    under_way = ok(shipped("stock", "--under-way")).out
    assert ("all under way" in under_way, "Expected, by week:" in under_way) == (True, True)
    assert "not counted here: 314.33 USD" in ok(shipped("stock")).err
    assert "order 1" in ok(shipped("show", "2")).out
    assert "2,150.00 CNY" in ok(shipped("show", "1")).out


def test_days_are_told_by_the_orders_number(shipped: Commands) -> None:
    """A later one is in force, none takes it back."""
    assert ok(shipped("order", "1", "--expect", "2026-03-20", "--json")).data["days_late"] == 11
    assert ok(shipped("order", "1", "--expect", "none", "--json")).data["dates"]["arrives"] is None


def test_an_order_is_closed_with_a_reason(ordered: Commands, book: Book) -> None:
    """Without one it is bad usage."""
    assert isinstance(ordered("order", "1", "--close", "--yes").error, UsageError)
    assert ok(ordered("order", "1", "--close", "--why", "sold out", "--yes", "--json")).data["document"] == 2
    assert ok(ordered("order", "--json")).data == []
    assert is_whole(book)


def test_an_order_that_is_closed_is_shown_as_it_stands_then(ordered: Commands) -> None:
    """With the day and the reason."""
    out = ok(ordered("order", "1", "--close", "--why", "sold out", "--yes")).out
    assert ("closed by hand" in out, "2026-03-31, by document 2: sold out" in out) == (True, True)
    assert "state       open" not in out


def test_terms_within_one_country_name_their_place_once(run: Commands) -> None:
    """'FOB destination' has no place; 'FOB destination, Tacoma' has one."""
    lines = ("order", "--line", f"{SAND} 1 at 1", "--party", "Mill Lane", "--dry-run")
    assert "free on board at the destination:" in ok(run(*lines, "--terms", "FOB destination")).out
    assert "the destination, Tacoma:" in ok(run(*lines, "--terms", "FOB destination, Tacoma")).out


def test_what_the_calendar_does_not_know_is_said(run: Commands) -> None:
    """No day of shipping, no place of a sea term, holidays of a year that are not published."""
    words = ("order", "--line", f"{SAND} 1 at 1", "--party", "Mill Lane", "--date", "2026-01-05", "--dry-run")
    out = ok(run(*words, "--terms", "FOB", "--transit-days", "20")).out
    assert "count from the day it ships, which was not told" in out
    assert "FOB is named with its place (port of shipment)" in out
    far = ok(run(*words, "--terms", "FOB X", "--working-days", "900", "--closures", "CN")).out
    near = ok(run(*words, "--terms", "FOB X", "--working-days", "20", "--closures", "CN")).out
    assert ("only the statutory days are" in far, "only the statutory days are" in near) == (True, False)


def test_payments_are_listed_until_they_are_told(shipped: Commands) -> None:
    """Also once everything has arrived."""
    ok(shipped("order", "1", "--balance-due", "2026-03-01"))
    ok(shipped("receive", "--order", "1", "--date", "2026-02-20", "--yes"))
    for words in (("order",), ("order", "--all"), ("stock", "--under-way")):
        out = ok(shipped(*words)).out
        assert ("2,150.00" in out, "not told, 30 days overdue" in out) == (True, True)
    ok(shipped("order", "1", "--balance-paid", "2026-03-30"))
    assert "outstanding" not in ok(shipped("order")).out


def test_a_foreign_order_has_its_total_in_the_history(ordered: Commands) -> None:
    """With its currency, as there is no amount in the book's."""
    assert "2,150.00 CNY" in ok(ordered("history")).out


def test_lead_times_are_a_table_and_a_picture(shipped: Commands, tmp_path: Path) -> None:
    """Fifteen days to ship, thirty-one on the way; the picture is a PNG or an SVG."""
    ok(shipped("receive", "--order", "1", "--date", "2026-02-20", "--yes"))
    rows = ok(shipped("order", "--lead-times", "--json")).data
    assert [(row["stage"], row["count"], row["mean_days"], row["spread_days"]) for row in rows] == [
        ("order to ship", 1, 15.0, None),
        ("ship to arrival", 1, 31.0, None),
    ]
    assert ok(shipped("order", "--lead-times", "--picture", str(tmp_path / "lead.svg"))).code == 0
    assert (tmp_path / "lead.svg").read_text("utf-8").startswith("<?xml")
    picture = tmp_path / "lead.png"
    assert "ship to arrival" in ok(shipped("order", "--lead-times", "--picture", str(picture))).out
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert isinstance(shipped("order", "--lead-times", "--picture", str(picture)).error, UsageError)


def test_what_is_expected_is_listed_by_week(ordered: Commands) -> None:
    """Also what is not shipped yet."""
    ok(ordered("order", "1", "--expect", "2026-03-25"))
    rows = ok(ordered("order", "--expected", "--json")).data
    assert [(row["week"], row["sku"], row["shipment"], row["days_late"]) for row in rows] == [
        ("2026-03-23", SAND, None, 6),
        ("2026-03-23", PLUM, None, 6),
    ]
    assert "Late: order 1" in ok(ordered("order", "--expected")).out
