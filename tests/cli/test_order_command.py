"""`blankbook order`, `ship`, `receive --order` and `stock --under-way` in this process."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer
from book_builder import Book
from small_shop import Commands, Outcome

from ledger.cli import charge, look, order, receive, ship, stock, trace
from ledger.cli.main import MODULES
from ledger.errors import AlreadyPosted, InputErrors, Refused, UsageError

SAND, PLUM = "TEE-SAND-M", "TEE-PLUM-L"
ORDERED = (
    "order",
    *("--line", f"{SAND} 100 at 14.40", "--line", f"{PLUM} 50 at 14.20"),
    *("--party", "Nine Sparrows", "--currency", "CNY", "--terms", "FOB Port Rellan", "--date", "2026-01-05"),
)
SHIPPED = ("ship", "1", "--date", "2026-01-20", "--on-board", "2026-01-23", "--rate", "0.1462")


def everything(app: typer.Typer) -> None:
    """Put the commands of these tests together."""
    for module in (order, ship, receive, stock, look, charge, trace):
        module.register(app)


@pytest.fixture
def run(book: Book, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book of a few items, on the 31st of March."""
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    return Commands(everything, book.path)


@pytest.fixture
def ordered(run: Commands) -> Commands:
    """The same with an order in yuan, on board at a port."""
    _ok(run(*ORDERED, "--yes"))
    return run


@pytest.fixture
def shipped(ordered: Commands) -> Commands:
    """The same, under way."""
    _ok(ordered(*SHIPPED, "--reference", "NS-118", "--yes"))
    return ordered


def _ok(outcome: Outcome) -> Outcome:
    assert outcome.code == 0, (outcome.err, outcome.error)
    return outcome


def _whole(book: Book) -> bool:
    return book.prove().findings == ()


def test_the_commands_are_in_the_program() -> None:
    """`blankbook order` and `blankbook ship` are found."""
    assert (MODULES["order"], MODULES["ship"]) == ("order", "ship")


def test_an_order_says_what_it_is(run: Commands) -> None:
    """Terms, totals, dates by the calendar; a dry run posts nothing."""
    outcome = _ok(
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
    assert _ok(run("order", "--all", "--json")).data == []


def test_orders_are_listed_and_shown(shipped: Commands) -> None:
    """The list has heads, the order its lines and shipments."""
    (head,) = _ok(shipped("order", "--json")).data
    assert (head["order"], head["state"], head["total"], head["currency"]) == (1, "open", "2150.00", "CNY")
    data = _ok(shipped("order", "1", "--json")).data
    assert [(line["sku"], line["quantity"], line["shipped"], line["to_ship"]) for line in data["lines"]] == [
        (SAND, "100", "100", "0"),
        (PLUM, "50", "50", "0"),
    ]
    assert (data["named_place"], data["shipments"][0]["takes_effect"]) == ("Port Rellan", "2026-01-23")


def test_the_texts_say_the_same(shipped: Commands) -> None:
    """Words for people: when the goods are the shop's, what is under way, what is expected."""
    assert "once on board" in _ok(shipped("order", "1")).out
    assert "Nine Sparrows" in _ok(shipped("order")).out
    under_way = _ok(shipped("stock", "--under-way")).out
    assert ("all under way" in under_way, "Expected, by week:" in under_way) == (True, True)
    assert "not counted here: 314.33 USD" in _ok(shipped("stock")).err
    assert "order 1" in _ok(shipped("show", "2")).out
    assert "2,150.00 CNY" in _ok(shipped("show", "1")).out


def test_days_are_told_by_the_orders_number(shipped: Commands) -> None:
    """A later one is in force, none takes it back."""
    assert _ok(shipped("order", "1", "--expect", "2026-03-20", "--json")).data["days_late"] == 11
    assert _ok(shipped("order", "1", "--expect", "none", "--json")).data["dates"]["arrives"] is None


def test_an_order_is_closed_with_a_reason(ordered: Commands, book: Book) -> None:
    """Without one it is bad usage."""
    assert isinstance(ordered("order", "1", "--close", "--yes").error, UsageError)
    assert _ok(ordered("order", "1", "--close", "--why", "sold out", "--yes", "--json")).data["document"] == 2
    assert _ok(ordered("order", "--json")).data == []
    assert _whole(book)


def test_a_shipment_is_under_way_at_the_rate_of_the_day_on_board(shipped: Commands, book: Book) -> None:
    """2,150.00 yuan at 0.1462."""
    rows = _ok(shipped("stock", "--under-way", "--json")).data
    assert [(row["sku"], row["quantity"], row["value"], row["shipment"]) for row in rows] == [
        (SAND, "100", "210.53", 2),
        (PLUM, "50", "103.80", 2),
    ]
    assert set(rows[0]) == {
        *("sku", "kind", "unit", "quantity", "value", "currency", "order", "shipment", "party"),
        *("shipped_on", "expected_on", "days_late"),
    }
    assert _whole(book)


def test_a_shipments_json_says_what_was_posted(ordered: Commands) -> None:
    """With its charges, and nothing of it for a dry run."""
    words = (*SHIPPED, "--charge", "freight 30.00 by quantity", "--json")
    dry = _ok(ordered(*words, "--dry-run")).data
    kept = _ok(ordered(*words, "--yes")).data
    assert (dry["document"], dry["charge_documents"], dry["total"]) == (None, [], "314.33")
    assert (kept["document"], kept["charge_documents"], kept["total_charges"]) == (2, [3], "30.00")


def test_a_part_is_shipped_by_lines(ordered: Commands) -> None:
    """In any capitals, in units of the item."""
    data = _ok(ordered(*SHIPPED, "--line", "tee-sand-m 5 dozen", "--yes", "--json")).data
    assert [(line["sku"], line["quantity"], line["amount_foreign"]) for line in data["lines"]] == [
        (SAND, "60", "864.00")
    ]


def test_an_arrival_with_two_missing_pieces(shipped: Commands, book: Book) -> None:
    """98 come in, two are credited at the invoice's price, and the order is complete."""
    outcome = _ok(
        shipped(
            "receive",
            "--order",
            "1",
            "--missing-line",
            f"{SAND} 2 claimed",
            "--date",
            "2026-02-20",
            "--yes",
            "--json",
        )
    )
    data = outcome.data
    assert (data["document"], data["documents"], data["shipments"]) == (3, [3], [2])
    assert (data["total_claimed"], data["total_landed"]) == ("4.21", "310.12")
    assert [(lot["lot"], lot["quantity_on_hand"], lot["landed_cost"]) for lot in data["lots"]] == [
        ("3.1", "98", "206.32"),
        ("3.2", "50", "103.80"),
    ]
    assert "Order 1 is complete" in outcome.err
    assert _whole(book)


def test_an_arrival_is_shown_before_it_is_posted(shipped: Commands) -> None:
    """With what is missing, and that nothing was posted."""
    outcome = _ok(
        shipped(
            "receive",
            "--order",
            "1",
            "--line",
            f"{SAND} 40",
            "--damaged-line",
            f"{SAND} 1 expense",
            "--date",
            "2026-02-20",
            "--dry-run",
        )
    )
    assert "1 lost: an expense at once" in outcome.out
    assert "this was a dry run" in outcome.err
    assert _ok(shipped("order", "1", "--json")).data["state"] == "open"


def test_more_than_shipped_and_something_else_arrive(shipped: Commands, book: Book) -> None:
    """Both are purchases of their own."""
    words = ("receive", "--order", "1", "--line", f"{SAND} 103", "--line", f"{PLUM} 50", "--rate", "0.15")
    data = _ok(
        shipped(*words, "--extra", "FILM-A3 10 for 20.00", "--date", "2026-02-20", "--yes", "--json")
    ).data
    assert [(line["sku"], line["quantity"]) for line in data["lines"] if line["is_extra"]] == [
        (SAND, "3"),
        ("FILM-A3", "10"),
    ]
    assert "at the order's price" in data["remarks"][0]
    assert _whole(book)


def test_a_lost_shipment_is_claimed(shipped: Commands, book: Book) -> None:
    """Nothing arrives, all of it is credited."""
    data = _ok(shipped("receive", "--order", "1", "--lost", "claimed", "--yes", "--json")).data
    assert (data["lots"], data["total_claimed"]) == ([], "314.33")
    assert _whole(book)


def test_both_at_once(ordered: Commands, book: Book) -> None:
    """Shipped and received with one command."""
    words = (
        "receive",
        "--order",
        "1",
        "--shipped-on",
        "2026-01-20",
        "--rate",
        "0.1462",
        "--date",
        "2026-02-20",
    )
    data = _ok(ordered(*words, "--yes", "--json")).data
    assert (data["ship_document"], data["document"]) == (2, 3)
    assert _whole(book)


def test_a_packing_list_says_what_arrived(shipped: Commands, book: Book, tmp_path: Path) -> None:
    """Read by a profile; what it says is missing is missing."""
    sheet = tmp_path / "list.csv"
    sheet.write_text(
        "Supplier,Nine Sparrows\nReference,NS-118\nDate,2026-01-20\nCurrency,CNY\n\n"
        "sku,quantity,unit,amount,missing,damaged,treat as,expires on,tax paid,charge,note\n"
        f"{SAND},100,each,,2,,claimed,,,,\n{PLUM},50,each,,,,,,,,\n",
        encoding="utf-8",
    )
    outcome = shipped("receive", str(sheet), "--order", "1", "--date", "2026-02-20", "--yes", "--json")
    assert _ok(outcome).data["total_claimed"] == "4.21"
    assert _whole(book)


def test_an_order_is_read_from_a_file(run: Commands, tmp_path: Path) -> None:
    """The same sheet as a shipment's, its charges left for later."""
    sheet = tmp_path / "quote.csv"
    sheet.write_text(
        "Supplier,Mill Lane\nReference,Q-9\nDate,2026-01-07\nCurrency,USD\n\n"
        "sku,quantity,unit,amount,missing,damaged,treat as,expires on,tax paid,charge,note\n"
        f"{SAND},2,dozen,52.80,,,,,,freight 9.00 by value,\n",
        encoding="utf-8",
    )
    data = _ok(run("order", str(sheet), "--terms", "destination", "--yes", "--json")).data
    assert (data["party"], data["reference"], data["date"], data["title_passes"]) == (
        *("Mill Lane", "Q-9", "2026-01-07"),
        "arrival",
    )
    assert (data["lines"][0]["quantity"], data["lines"][0]["amount"]) == ("24", "52.80")
    assert "no part of the order" in data["remarks"][0]


def test_a_shipment_is_read_from_an_invoice_at_its_prices(
    ordered: Commands, book: Book, tmp_path: Path
) -> None:
    """Where they are not the order's, that is said."""
    sheet = tmp_path / "invoice.csv"
    sheet.write_text(
        "Supplier,Nine Sparrows\nReference,NS-119\nDate,2026-01-20\nCurrency,CNY\n\n"
        "sku,quantity,unit,amount,missing,damaged,treat as,expires on,tax paid,charge,note\n"
        f"{SAND},60,each,870.00,,,,,,,\n",
        encoding="utf-8",
    )
    data = _ok(ordered("ship", "1", str(sheet), "--rate", "0.1462", "--yes", "--json")).data
    assert (data["reference"], data["shipped_on"], data["total_foreign"]) == (
        "NS-119",
        "2026-01-20",
        "870.00",
    )
    assert "not the order's, for TEE-SAND-M" in " ".join(data["remarks"])
    assert _whole(book)


@pytest.fixture
def short_list(tmp_path: Path) -> str:
    """A packing list with a weight for each row, and what was missing of it noted in it later."""
    sheet = tmp_path / "list.csv"
    sheet.write_text(
        "Invoice no.,NS-120\nDate,01/20/2026\nCurrency,CNY\n"
        "Style,Colour,Size,Quantity,Price,Amount,Weight kg,Short\n"
        "TEE,SAND,M,40,14.40,576.00,8,30\nTEE,PLUM,L,40,14.20,568.00,8,\n",
        encoding="utf-8",
    )
    return str(sheet)


FREIGHT = ("--rate", "0.1462", "--charge", "freight 10.00 by weight", "--yes")
BY_PROFILE = ("--profile", "one-row-per-size")


def _freight(run: Commands) -> list[str]:
    legs = _ok(run("show", "3", "--json")).data["legs"]
    return [leg["amount"] for leg in legs if leg["account"] == "under way"]


def test_what_is_missing_later_is_weighed_when_it_is_shipped(ordered: Commands, short_list: str) -> None:
    """Freight by weight goes by the pieces sent, though the list has some that will be missing."""
    _ok(ordered("ship", "1", short_list, *BY_PROFILE, *FREIGHT))
    assert _freight(ordered) == ["5.00", "5.00"]


def test_what_is_ordered_by_a_packing_list_weighs_what_all_its_pieces_do(
    run: Commands, short_list: str
) -> None:
    """An order takes the list's weights for what it orders, and a shipment of it the order's."""
    order_by = ("order", short_list, *BY_PROFILE, "--party", "Nine Sparrows", "--terms", "FOB Port Rellan")
    _ok(run(*order_by, "--yes"))
    _ok(run("ship", "1", "--date", "2026-01-22", *FREIGHT))
    assert _freight(run) == ["5.00", "5.00"]


@pytest.fixture
def plain_invoice(tmp_path: Path) -> str:
    """An invoice that names no currency, of a layout nobody prepared."""
    sheet = tmp_path / "plain.csv"
    sheet.write_text(
        f"sku,qty,price,amount\n{SAND},100,14.40,1440.00\n{PLUM},50,14.20,710.00\n", encoding="utf-8"
    )
    return str(sheet)


TAKEN = ("--date", "2026-01-20", "--rate", "0.1462", "--accept", "--yes", "--json")


def test_a_file_without_a_currency_is_in_the_orders(ordered: Commands, plain_invoice: str) -> None:
    """Not in the book's, in which the goods would cost seven times as much; so the proposal says."""
    outcome = _ok(ordered("ship", "1", plain_invoice, *TAKEN))
    assert (outcome.data["currency"], outcome.data["total"]) == ("CNY", "314.33")
    assert "the file names none: the order's is proposed" in outcome.err


def test_a_saved_layout_of_another_currency_is_read_in_the_orders(run: Commands, plain_invoice: str) -> None:
    """What earlier files were in says nothing of this one."""
    first = ("order", plain_invoice, "--party", "Nine Sparrows", "--terms", "FCA Rellan", "--currency", "USD")
    _ok(run(*first, "--accept", "--yes"))
    _ok(run(*ORDERED, "--yes"))
    data = _ok(
        run("ship", "2", plain_invoice, "--date", "2026-01-20", "--rate", "0.1462", "--yes", "--json")
    ).data
    assert (data["currency"], data["total"]) == ("CNY", "314.33")


def test_an_arrival_by_a_file_is_in_the_currency_it_was_shipped_in(
    run: Commands, book: Book, plain_invoice: str
) -> None:
    """Goods that are bought on arrival cost what the file says, in yuan."""
    _ok(run(*ORDERED[:-4], "--terms", "DAP Springfield", "--date", "2026-01-05", "--yes"))
    _ok(run("ship", "1", "--date", "2026-01-20", "--yes"))
    words = ("receive", plain_invoice, "--order", "1", "--date", "2026-02-20", "--rate", "0.1462", "--accept")
    assert _ok(run(*words, "--yes", "--json")).data["total_landed"] == "314.33"
    assert _whole(book)


def test_an_arrival_by_a_file_in_another_currency_is_refused(run: Commands, tmp_path: Path) -> None:
    """Its prices are those of what is bought on arrival."""
    _ok(run(*ORDERED[:-4], "--terms", "DAP Springfield", "--date", "2026-01-05", "--yes"))
    _ok(run("ship", "1", "--date", "2026-01-20", "--yes"))
    sheet = tmp_path / "euro.csv"
    sheet.write_text(f"sku,qty,price EUR,amount EUR\n{SAND},100,2.00,200.00\n", encoding="utf-8")
    outcome = run("receive", str(sheet), "--order", "1", "--rate", "0.1462", "--accept", "--yes")
    assert isinstance(outcome.error, InputErrors)
    assert "its prices are in EUR, and what was shipped is in CNY" in str(outcome.error)


def test_what_is_lost_and_claimed_is_said_in_words(ordered: Commands, book: Book) -> None:
    """What was under way, what is credited, and where its charges go; no cost below zero."""
    _ok(ordered(*SHIPPED, "--charge", "freight 30.00 by quantity", "--yes"))
    out = _ok(ordered("receive", "--order", "1", "--lost", "claimed", "--yes")).out
    assert "nothing comes in" in out
    assert "-" not in out.split("total")[1].split("\n")[0]
    assert (
        "100 claimed: they were under way at 230.53 USD; a credit of 210.53 USD is expected; the rest, 20.00"
        in out
    )
    assert "supplier price differences" in out
    assert _whole(book)


def test_charges_of_claimed_pieces_stay_with_the_others(ordered: Commands) -> None:
    """And that is said."""
    _ok(ordered(*SHIPPED, "--charge", "freight 30.00 by quantity", "--yes"))
    out = _ok(ordered("receive", "--order", "1", "--missing-line", f"{SAND} 2 claimed", "--dry-run")).out
    assert "what charges they had borne stays with the other 98" in out


def test_a_credit_above_the_cost_is_the_options_fault(shipped: Commands) -> None:
    """It names the option, and what the pieces cost."""
    words = ("receive", "--order", "1", "--missing-line", f"{SAND} 2 claimed", "--credit", "9000", "--yes")
    assert "--credit: 9000.00 CNY makes 1315.80 USD" in str(shipped(*words).error)


def test_goods_that_never_were_the_shops_are_not_lost_here(run: Commands, book: Book) -> None:
    """The supplier bore the risk; a rate or tax on the shipment has no effect and is refused too."""
    _ok(run(*ORDERED[:-4], "--terms", "FOB destination", "--date", "2026-01-05", "--yes"))
    assert "--rate" in str(run("ship", "1", "--rate", "0.14", "--yes").error)
    _ok(run("ship", "1", "--date", "2026-01-20", "--yes"))
    for lost in (("--lost", "claimed"), ("--lost", "expense"), ("--line", f"{SAND} 1", "--lost", "claimed")):
        assert run("receive", "--order", "1", *lost, "--yes").error is not None
    outcome = run("receive", "--order", "1", "--lost", "expense", "--yes")
    assert isinstance(outcome.error, Refused)
    assert "the supplier bears the risk" in str(outcome.error)
    assert book.rows("SELECT count(*) FROM document") == [(2,)]


def test_terms_within_one_country_name_their_place_once(run: Commands) -> None:
    """'FOB destination' has no place; 'FOB destination, Tacoma' has one."""
    lines = ("order", "--line", f"{SAND} 1 at 1", "--party", "Mill Lane", "--dry-run")
    assert "free on board at the destination:" in _ok(run(*lines, "--terms", "FOB destination")).out
    assert "the destination, Tacoma:" in _ok(run(*lines, "--terms", "FOB destination, Tacoma")).out


def test_what_the_calendar_does_not_know_is_said(run: Commands) -> None:
    """No day of shipping, no place of a sea term, holidays of a year that are not published."""
    words = ("order", "--line", f"{SAND} 1 at 1", "--party", "Mill Lane", "--date", "2026-01-05", "--dry-run")
    out = _ok(run(*words, "--terms", "FOB", "--transit-days", "20")).out
    assert "count from the day it ships, which was not told" in out
    assert "FOB is named with its place (port of shipment)" in out
    far = _ok(run(*words, "--terms", "FOB X", "--working-days", "900", "--closures", "CN")).out
    near = _ok(run(*words, "--terms", "FOB X", "--working-days", "20", "--closures", "CN")).out
    assert ("only the statutory days are" in far, "only the statutory days are" in near) == (True, False)


def test_payments_are_listed_until_they_are_told(shipped: Commands) -> None:
    """Also once everything has arrived."""
    _ok(shipped("order", "1", "--balance-due", "2026-03-01"))
    _ok(shipped("receive", "--order", "1", "--date", "2026-02-20", "--yes"))
    for words in (("order",), ("order", "--all"), ("stock", "--under-way")):
        out = _ok(shipped(*words)).out
        assert ("2,150.00" in out, "not told, 30 days overdue" in out) == (True, True)
    _ok(shipped("order", "1", "--balance-paid", "2026-03-30"))
    assert "outstanding" not in _ok(shipped("order")).out


def test_an_order_that_is_closed_is_shown_as_it_stands_then(ordered: Commands) -> None:
    """With the day and the reason."""
    out = _ok(ordered("order", "1", "--close", "--why", "sold out", "--yes")).out
    assert ("closed by hand" in out, "2026-03-31, by document 2: sold out" in out) == (True, True)
    assert "state       open" not in out


def test_what_came_beyond_is_shown_with_the_order(shipped: Commands) -> None:
    """With its receipt."""
    words = ("receive", "--order", "1", "--extra", f"{SAND} 3", "--rate", "0.15", "--date", "2026-02-20")
    _ok(shipped(*words, "--yes"))
    assert "Came beyond what was shipped" in _ok(shipped("order", "1")).out
    (one,) = _ok(shipped("order", "1", "--json")).data["beyond"]
    assert (one["receipt"], one["quantity"], one["amount"], one["currency"]) == (3, "3", "43.20", "CNY")


def test_a_foreign_order_has_its_total_in_the_history(ordered: Commands) -> None:
    """With its currency, as there is no amount in the book's."""
    assert "2,150.00 CNY" in _ok(ordered("history")).out


def test_a_receipt_of_a_supplier_whose_order_waits_has_a_hint(ordered: Commands) -> None:
    """It may be the arrival; another supplier's has none."""
    words = ("receive", "--sku", SAND, "--quantity", "3", "--amount", "9", "--dry-run", "--party")
    assert "blankbook receive --order 1" in _ok(ordered(*words, "nine sparrows")).err
    assert "--order" not in _ok(ordered(*words, "Mill Lane")).err


def test_all_that_is_wrong_with_the_lines_is_said_at_once(ordered: Commands) -> None:
    """What cannot be read, what is unknown, what is more than ordered, what has no price."""
    lines = ("--line", SAND, "--line", "NOPE 3", "--line", f"{PLUM} 500")
    said = str(ordered("ship", "1", "--rate", "0.1", *lines, "--yes").error)
    assert ("is no line" in said, "no item NOPE" in said, "only 50 are left" in said) == (True, True, True)
    new = ("order", "--party", "A", "--terms", "destination", "--line", f"{PLUM} 4", *lines)
    said = str(ordered(*new, "--yes").error)
    assert ("is no line" in said, "NOPE" in said, f"{PLUM} has no price" in said) == (True, True, True)
    _ok(ordered(*SHIPPED, "--yes"))
    losses = ("--damaged-line", f"{SAND} 4 stolen", "--missing-line", "X", "--line", f"{PLUM} 3")
    said = str(ordered("receive", "--order", "1", *losses, "--extra", "NOPE 1", "--yes").error)
    assert "claimed, normal, expense" in said
    assert ("'X' is no line" in said, "no item NOPE" in said) == (True, True)


def test_a_charge_on_several_shipments_names_each_with_its_month(ordered: Commands) -> None:
    """And on one it says that it is a shipment."""
    _ok(ordered(*SHIPPED, "--line", f"{SAND} 60", "--yes"))
    _ok(ordered("ship", "1", "--date", "2026-02-10", "--rate", "0.1462", "--yes"))
    words = ("charge", "freight 12.00 by quantity", "--date", "2026-03-02", "--dry-run", "--on", "2")
    assert "The month of the shipment is open" in _ok(ordered(*words)).out
    assert (
        "The months of shipment 2 (2026-01), shipment 3 (2026-02) are open"
        in _ok(ordered(*words, "--on", "3")).out
    )


def test_a_lot_under_way_is_traced(shipped: Commands) -> None:
    """How much is under way, and what of it came."""
    _ok(shipped("receive", "--order", "1", "--line", f"{SAND} 40", "--date", "2026-02-20", "--yes"))
    outcome = _ok(shipped("trace", "2.1"))
    assert ("Still under way:" in outcome.out, "receipt 3" in outcome.out) == (True, True)
    data = _ok(shipped("trace", "2.1", "--json")).data
    assert [(one["lot"], one["quantity"]) for one in data["under_way"]] == [("2.1", "60")]
    assert "Nothing has left it" not in _ok(shipped("trace", "2.2")).out


def test_lead_times_are_a_table_and_a_picture(shipped: Commands, tmp_path: Path) -> None:
    """Fifteen days to ship, thirty-one on the way; the picture is a PNG."""
    _ok(shipped("receive", "--order", "1", "--date", "2026-02-20", "--yes"))
    rows = _ok(shipped("order", "--lead-times", "--json")).data
    assert [(row["stage"], row["count"], row["mean_days"], row["spread_days"]) for row in rows] == [
        ("order to ship", 1, 15.0, None),
        ("ship to arrival", 1, 31.0, None),
    ]
    picture = tmp_path / "lead.png"
    assert "ship to arrival" in _ok(shipped("order", "--lead-times", "--picture", str(picture))).out
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert isinstance(shipped("order", "--lead-times", "--picture", str(picture)).error, Refused)


def test_what_is_expected_is_listed_by_week(ordered: Commands) -> None:
    """Also what is not shipped yet."""
    _ok(ordered("order", "1", "--expect", "2026-03-25"))
    rows = _ok(ordered("order", "--expected", "--json")).data
    assert [(row["week"], row["sku"], row["shipment"], row["days_late"]) for row in rows] == [
        ("2026-03-23", SAND, None, 6),
        ("2026-03-23", PLUM, None, 6),
    ]
    assert "Late: order 1" in _ok(ordered("order", "--expected")).out


REFUSALS: list[tuple[str, tuple[str, ...], type[Exception], str]] = [
    ("terms that do not exist", (*ORDERED, "--terms", "DAF Border"), InputErrors, "are no delivery terms"),
    ("old terms", (*ORDERED, "--terms", "DAT Port Rellan"), InputErrors, "replaced by DPU"),
    ("no terms", ("order", "--line", f"{SAND} 1 at 1", "--party", "X"), UsageError, "--terms"),
    ("no party", ("order", "--line", f"{SAND} 1 at 1", "--terms", "DDP"), InputErrors, "nobody is named"),
    ("unknown item", (*ORDERED, "--line", "NOPE 1 at 1"), InputErrors, "NOPE"),
    ("unknown title", (*ORDERED, "--title", "soon"), InputErrors, "shipping, on board, arrival"),
    ("unknown country", (*ORDERED, "--closures", "XX"), InputErrors, "'XX'"),
    ("deposit too large", (*ORDERED, "--deposit", "120%"), InputErrors, "more than the order"),
    ("shipping more than ordered", (*SHIPPED, "--line", f"{SAND} 101"), InputErrors, "only 100 are left"),
    ("receiving before shipping", ("receive", "--order", "1"), Refused, "--shipped-on"),
    (
        "another currency",
        (*SHIPPED[:6], "--currency", "EUR", "--rate", "1.1"),
        InputErrors,
        "this invoice in EUR",
    ),
    ("lines without an order", ("receive", "--line", f"{SAND} 1"), UsageError, "go with --order"),
    ("a price on arrival", ("receive", "--order", "1", "--line", f"{SAND} 1 at 2"), InputErrors, "--extra"),
    (
        "an unknown loss",
        ("receive", "--order", "1", "--lost", "stolen"),
        UsageError,
        "claimed, normal, expense",
    ),
    ("no such order", ("ship", "7"), Refused, "there is no order 7"),
    ("a deposit later", ("order", "1", "--deposit", "10%"), UsageError, "--deposit"),
    ("a reason for nothing", ("order", "1", "--why", "x"), UsageError, "--close"),
    ("closing with a day", ("order", "1", "--close", "--expect", "2026-05-01"), UsageError, "goes alone"),
    ("two lists", ("order", "--expected", "--lead-times"), UsageError, "one at a time"),
    ("a list of one", ("order", "1", "--expected"), UsageError, "leave the FILE or ORDER out"),
    ("neither file nor order", ("order", "banana"), UsageError, "neither a file nor an order's number"),
    ("two orders arrive", ("receive", "--order", "1", "--order", "2"), UsageError, "one order at a time"),
    ("paid in the future", ("order", "1", "--balance-paid", "2026-04-01"), InputErrors, "in the future"),
    ("a picture without times", ("order", "--picture", "x.png"), UsageError, "--lead-times"),
    ("an order is not amended", ("order", "1", "--line", f"{SAND} 1 at 1"), UsageError, "does not change"),
]


@pytest.mark.parametrize(
    ("words", "error", "said"), [row[1:] for row in REFUSALS], ids=[row[0] for row in REFUSALS]
)
def test_bad_input_is_refused_and_nothing_is_posted(
    ordered: Commands, book: Book, words: tuple[str, ...], error: type[Exception], said: str
) -> None:
    """With what is wrong and what to do."""
    asked = (
        words
        if words[0] != "order" or "--date" not in words
        else tuple("2026-01-06" if word == "2026-01-05" else word for word in words)
    )
    outcome = ordered(*asked, "--yes")
    assert isinstance(outcome.error, error), outcome.error
    assert said in str(outcome.error)
    assert book.rows("SELECT count(*) FROM document") == [(1,)]


def test_two_orders_for_one_invoice_are_asked_about(shipped: Commands) -> None:
    """The way out is another box, or another number."""
    _ok(shipped("order", "--line", f"{SAND} 5 at 14.40", *ORDERED[5:], "--yes"))
    outcome = shipped(
        "ship", "3", "--date", "2026-01-21", "--rate", "0.1462", "--reference", "NS-118", "--yes"
    )
    assert isinstance(outcome.error, AlreadyPosted)
    assert "--another-box" in str(outcome.error)


def test_nobody_to_ask_posts_nothing(run: Commands, book: Book) -> None:
    """Without --yes and a terminal."""
    assert isinstance(run(*ORDERED).error, Refused)
    assert book.rows("SELECT count(*) FROM document") == [(0,)]
