"""`blankbook plan` in this process: what it prints, asks, refuses, and posts."""

from __future__ import annotations

import math
import re
import shlex
from pathlib import Path

import pytest
import typer
from book_builder import Book, day, line
from orders_builder import Buyer
from price_shop import HEAD
from small_shop import Commands, Outcome

from ledger.cli import leaving, order, plan, quotes
from ledger.errors import Refused, UsageError

SAND, PLUM, INK = "TEE-SAND-M", "TEE-PLUM-L", "INK-CYAN"
OFFER = f"Mill Lane,,{SAND},,,1 = 4.10; 72 = 3.60,,USD,shipping point,,,,,14.00,200,,,4,2026-01-01,"


def register(app: typer.Typer) -> None:
    """Add the commands these tests run."""
    for module in (plan, order, quotes, leaving):
        module.register(app)


@pytest.fixture
def commands(book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book of which sand tees are sold one a day until the end of March."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    book.receive(line(SAND, 100, 30000), line(PLUM, 50, 15000), on="01-01")
    for month, days in ((1, 31), (2, 28), (3, 31)):
        for number in range(1, days + 1):
            book.leave("sale", (SAND, 1), on=f"{month:02d}-{number:02d}")
    return Commands(register, book.path)


def ok(outcome: Outcome) -> Outcome:
    """The outcome of a command that went well."""
    assert outcome.code == 0, (outcome.err, outcome.error)
    return outcome


def offered(commands: Commands, *rows: str) -> None:
    """Load these offers."""
    Path("quotes.csv").write_text("\n".join([HEAD, *rows, ""]), "utf-8")
    ok(commands("quotes", "load", "quotes.csv", "--yes"))


def test_a_due_item_is_planned_with_its_figures(commands: Commands) -> None:
    """Ten on hand, one a day, four days to wait: due within the fortnight, from the supplier that offers it."""
    offered(commands, OFFER)
    data = ok(commands("plan", "--json")).data
    (planned,) = data["orders"]
    (tees,) = planned["lines"]
    assert (planned["supplier"], planned["terms"]) == ("Mill Lane", "shipping point")
    assert (tees["sku"], tees["on_hand"], tees["per_day"], tees["lasts_until"]) == (
        SAND,
        "10",
        "1.0000",
        "2026-04-10",
    )
    assert planned["order_by"] < "2026-04-06"
    assert set(data["no_history"]) == {PLUM, INK, "FILM-A3"}


def test_the_table_says_when_what_and_why(commands: Commands) -> None:
    """Supplier and date at the head, a reason on each line, what is assumed at the end."""
    offered(commands, OFFER)
    said = ok(commands("plan")).out
    assert "Mill Lane: order by 2026-04-0" in said
    assert f"{SAND}  " in said
    assert "chance not to run out" in said
    assert "our starting value; change it with --service" in said
    assert "No history: 3 items never used" in said
    assert "nan" not in said.split()


def test_without_an_offer_the_last_supplier_is_asked_at_the_price_paid(commands: Commands) -> None:
    """And it is said that no lead time is known."""
    said = ok(commands("plan")).out
    assert "Alder Yard Blanks: order by" in said
    assert "no offer stands: at the price paid on 2026-01-01" in said
    assert "days to arrive from Alder Yard Blanks" in said


def test_a_plan_becomes_an_order_which_counts_as_under_way(commands: Commands) -> None:
    """Looked at first, posted then, and nothing is planned any more."""
    offered(commands, OFFER)
    looked = ok(commands("plan", "--order", "mill lane", "--dry-run"))
    assert "Nothing was posted: this was a dry run." in looked.err
    placed = ok(commands("plan", "--order", "mill lane", "--yes", "--json")).data
    assert (placed["party"], placed["lines"][0]["sku"]) == ("Mill Lane", SAND)
    assert placed["expected_on"] == "2026-04-04"
    data = ok(commands("plan", "--json")).data
    assert data["orders"] == []
    coming = data["nothing_now"][0]["under_way"]
    assert [(each["quantity"], each["expected_on"]) for each in coming] == [
        (placed["lines"][0]["quantity"], "2026-04-04")
    ]
    again = commands("plan", "--order", "Mill Lane", "--yes")
    assert isinstance(again.error, Refused)
    assert "nothing has to be ordered within 14 days" in str(again.error)


def test_the_posted_order_costs_what_was_planned(commands: Commands) -> None:
    """The amounts of plan and order are the same to the cent."""
    offered(commands, OFFER)
    planned = ok(commands("plan", "--json")).data["orders"][0]
    placed = ok(commands("plan", "--order", "Mill Lane", "--yes", "--json")).data
    assert placed["total"] == planned["goods"]
    assert [each["amount"] for each in placed["lines"]] == [each["amount"] for each in planned["lines"]]


def test_an_order_without_known_terms_asks_for_them(commands: Commands) -> None:
    """Where nobody said who bears the risk, it has to be said."""
    refused = commands("plan", "--order", "Alder Yard Blanks", "--yes")
    assert isinstance(refused.error, UsageError)
    assert "--terms" in str(refused.error)
    ok(commands("plan", "--order", "Alder Yard Blanks", "--terms", "destination", "--yes"))


def test_options_change_the_plan_and_say_so(commands: Commands) -> None:
    """A higher chance raises the reorder point; what was typed is said to be typed."""
    offered(commands, OFFER)
    usual = ok(commands("plan", "--json")).data
    sure = ok(commands("plan", "--service", "99.9%", "--capital", "0.2", "--json")).data
    points = [float(each["orders"][0]["lines"][0]["reorder_point"]) for each in (usual, sure)]
    assert points[1] > points[0]
    assert {"name": "chance not to run out", "value": "99.9%", "source": "as typed"} in sure["assumptions"]


def test_what_is_taken_for_granted_is_what_the_help_says(commands: Commands) -> None:
    """The starting values, each under its own name, are those that the help names."""
    found = {each["name"]: each["value"] for each in ok(commands("plan", "--json")).data["assumptions"]}
    assert found == {
        "chance not to run out": "95.0%",
        "a year on the shelf, of landed cost": "12.0%",
        "cost of placing an order": "5.00",
        "cost of each line in it": "0.50",
        "planned when due within": "14 days",
        "use": "2026-01-01 to 2026-03-31",
        "days to arrive from Alder Yard Blanks": "7",
    }
    said = " ".join(ok(commands("plan", "--help")).out.split())
    for words in ("is there (95%)", "landed cost (12%)", "an order costs (5.00)", "an order costs (0.50)"):
        assert words in said


def test_only_a_kind_or_an_item_is_shown(commands: Commands) -> None:
    """Of ink nothing is due; of the tee the line stands alone."""
    offered(commands, OFFER)
    assert ok(commands("plan", "--kind", "ink", "--json")).data["orders"] == []
    lines = ok(commands("plan", "--sku", SAND.lower(), "--json")).data["orders"][0]["lines"]
    assert [each["sku"] for each in lines] == [SAND]


def test_a_year_ahead_is_the_furthest(commands: Commands) -> None:
    """A leap year's days are planned, one more is refused."""
    ok(commands("plan", "--ahead", "366", "--json"))
    refused = commands("plan", "--ahead", "367")
    assert (refused.code, "366" in refused.err) == (2, True)


@pytest.mark.parametrize(
    ("words", "error", "said"),
    [
        (("--service", "100%"), UsageError, "nothing is certain"),
        (("--service", "soon"), UsageError, "--service"),
        (("--capital", "0"), UsageError, "--capital"),
        (("--capital", "-3%"), UsageError, "--capital"),
        (("--order-cost", "-1"), UsageError, "must not be below zero"),
        (("--line-cost", "x"), UsageError, "--line-cost"),
        (("--rate", "CNY"), UsageError, "--rate"),
        (("--sku", "TEE-SAND-X"), Refused, "Did you mean TEE-SAND-M?"),
        (("--on", "2026-03-01"), Refused, "2026-03-31 already"),
        (("--yes",), UsageError, "belong to --order"),
        (("--order", "Mill Lane", "--all"), UsageError, "leave --kind, --sku, --all, --on and --explain out"),
        (("--order", "Aldr Yard Blank"), Refused, "Did you mean Alder Yard Blanks?"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(
    commands: Commands, words: tuple[str, ...], error: type[Exception], said: str
) -> None:
    """Each says what is wrong and what to do."""
    outcome = commands("plan", *words)
    assert isinstance(outcome.error, error)
    assert said in str(outcome.error)


def test_the_command_that_places_an_order_works_as_printed(commands: Commands) -> None:
    """With the terms nobody told, the chance as typed, and the book."""
    said = ok(commands("plan", "--service", "90%")).out
    (words,) = [text for text in said.splitlines() if text.startswith("Place it: ")]
    typed = shlex.split(words.removeprefix("Place it: "))
    assert typed[-6:] == ["--order", "Alder Yard Blanks", "--terms", "destination", "--service", "90%"]
    placed = ok(commands(*typed[typed.index("plan") :], "--yes")).err
    hint = placed[placed.index("When it has arrived: ") :]
    assert re.search(r"receive --order \d+ --shipped-on 2026-03-31", hint)


@pytest.mark.parametrize("name", ["Mill", "mill l", "MILL LANE"])
def test_the_beginning_of_a_suppliers_name_is_understood(commands: Commands, name: str) -> None:
    """Where only one begins so."""
    offered(commands, OFFER)
    assert ok(commands("plan", "--order", name, "--yes", "--json")).data["party"] == "Mill Lane"


def test_a_name_that_several_begin_with_is_asked_for(commands: Commands) -> None:
    """Two suppliers begin with Mill."""
    offered(commands, OFFER, OFFER.replace("Mill Lane", "Mill Row").replace(SAND, PLUM))
    ok(commands("use", PLUM, "49", "--date", "2026-03-31", "--yes"))
    refused = commands("plan", "--order", "Mill", "--yes")
    assert isinstance(refused.error, Refused)
    assert "that may be Mill Lane or Mill Row" in str(refused.error)


def test_the_printed_inputs_of_the_formula_give_the_printed_value(commands: Commands) -> None:
    """What stands before the equals sign comes to what stands after it, to the last figure, however uneven the use."""
    offered(commands, OFFER, OFFER.replace(SAND, PLUM))
    for number, pieces in ((3, 7), (11, 2), (24, 11)):
        ok(commands("use", PLUM, str(pieces), "--date", f"2026-03-{number:02d}", "--yes"))
    said = " ".join(ok(commands("plan", "--sku", PLUM, "--explain")).out.split())
    found = re.search(r"formula: (.+?) = ([\d.,]+), with a day's spread of (sqrt\(.+?\));", said)
    assert found is not None
    formula, value, spread = (
        text.replace(",", "").replace("^", "**").replace(" x ", " * ") for text in found.groups()
    )
    last_place = 10 ** -len(value.partition(".")[2])
    assert _worth(formula) == pytest.approx(float(value), abs=0.51 * last_place)
    (day_spread,) = re.findall(r"sqrt\(4 \* ([\d.]+)\*\*2", formula)
    assert _worth(spread) == pytest.approx(float(day_spread), rel=1e-5)
    assert "used 3 times in 90 days, 6.666667 each, give or take 4.50925;" in said
    assert "lead time: 4 days, as the offer states (no closures told); no closed days counted" in said
    (explained,) = ok(commands("plan", "--sku", PLUM, "--explain", "--json")).data["explained"]
    assert float(explained["formula"]) == pytest.approx(float(value), abs=0.51 * last_place)


def _worth(words: str) -> float:
    """The worth of numbers, signs and roots; nothing else is in it."""
    assert set(words) <= set("0123456789. +*/()sqrt")
    return float(eval(words, {"__builtins__": {}, "sqrt": math.sqrt}))  # noqa: S307  (checked above)


def test_what_is_not_due_answers_by_its_name(commands: Commands) -> None:
    """A kind, an item that is not due, one never used: each in its own words."""
    offered(commands, OFFER)
    assert "No ink has to be ordered within 14 days." in ok(commands("plan", "--kind", "ink")).out
    assert (
        f"{INK}: 0 mL on hand, never used; nothing says when to order it."
        in ok(commands("plan", "--sku", INK)).out
    )
    ok(commands("use", PLUM, "1", "--date", "2026-03-30", "--yes"))
    said = " ".join(ok(commands("plan", "--sku", PLUM)).out.split())
    assert (
        f"{PLUM} does not have to be ordered within 14 days: 49 each on hand, last used on 2026-03-30" in said
    )


def test_what_the_book_does_not_know_is_said(commands: Commands, monkeypatch: pytest.MonkeyPatch) -> None:
    """Days after the last use, with the day; use a day stays as it was."""
    offered(commands, OFFER)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-04-29")
    said = " ".join(ok(commands("plan")).out.split())
    assert "The last use in the book is of 2026-03-31; 29 days since then are not in it." in said
    assert "'Lasts to' counts from the stock as it stands" in said
    assert ok(commands("plan", "--json")).data["orders"][0]["lines"][0]["per_day"] == "1.0000"


def test_a_table_is_not_wider_than_a_page(commands: Commands) -> None:
    """Each line of the plan but the command is 110 columns at most."""
    offered(commands, OFFER)
    lines = ok(commands("plan", "--all", "--explain")).out.splitlines()
    assert max(len(text) for text in lines if "Place it" not in text) <= 110


def test_overdue_goods_are_named(commands: Commands, book: Book) -> None:
    """Forty tees that should have been there a week ago are counted on, and that is said."""
    offered(commands, OFFER)
    number = Buyer(book).order((SAND, 40, 16000), on="03-01", days={"arrives": day("03-24")})
    said = " ".join(ok(commands("plan")).out.split())
    assert (
        f"Order {number} was due 2026-03-24, 7 days ago. The plan counts on it as coming now: 40 each of {SAND}."
        in said
    )
    assert f"order {number} --close" in said


def test_goods_offered_from_afar_point_to_the_comparison(commands: Commands) -> None:
    """A plan covers only what is needed until the next order."""
    far = f"Sparrow Mill,,{SAND},,,1 = 3.00,,USD,FOB,CN,100,12,,150,,,140,45,2026-01-01,"
    offered(commands, OFFER, far)
    said = " ".join(ok(commands("plan")).out.split())
    assert "Alder can also come from afar: " in said
    assert "compare Alder; this plan covers only what is needed until the next order" in said


def test_nothing_to_place_an_order_with_and_free_ordering_is_refused(commands: Commands) -> None:
    """Ordering that costs nothing has no best quantity."""
    outcome = commands("plan", "--order-cost", "0", "--line-cost", "0")
    assert outcome.error is not None
    assert "ordering costs nothing" in str(outcome.error)


def test_an_empty_book_says_that_nothing_was_used(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """No history at all: words, and no figure that is none."""
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    outcome = ok(Commands(register, book.path)("plan"))
    assert "Nothing has to be ordered within 14 days." in outcome.out
    assert "Nothing was ever used or sold yet" in outcome.err


def test_stock_below_nothing_is_planned_and_said(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """Used before it was entered: late, with what to do about it."""
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    book.receive(line(SAND, 5, 1500), on="01-01")
    commands = Commands(register, book.path)
    ok(commands("use", SAND, "8", "--date", "2026-01-10", "--short", "--yes"))
    (planned,) = ok(commands("plan", "--json")).data["orders"]
    (tees,) = planned["lines"]
    assert (tees["on_hand"], planned["is_late"]) == ("-3", True)
    assert tees["why"][0] == "runs out before it can be there"
    assert "used before it was entered: enter the receipt or count first" in tees["why"]
    assert int(tees["packs"]) >= 3 + 8
