"""`blankbook cost` in this process."""

from __future__ import annotations

from pathlib import Path

import pytest
from documents_builder import finished, leave, make
from small_shop import Commands, new_book

from ledger.book.connect import open_writing
from ledger.cli import boms, cost, items
from ledger.cli.main import MODULES
from ledger.errors import Refused, UsageError

ITEMS = (
    "sku,name,kind,unit,style,sizes,colours,ladder\n"
    ",Drift tee,blank,each,Drift,S-L,Black=BLK; White=WHT,adult\n"
    "INK-W,White ink,ink,mL,,,,\n"
    "POW,Powder,powder,g,,,,\n"
    "STN,Stones,stones,each,,,,\n"
)
BILLS = (
    "bill,name,way,blank,finished,sku,per_piece,per_run,colours,misprints,labour_per_run\n"
    "FOX,Fox,direct to film,Drift,FOX-{colour}-{size},INK-W,2.5,10,,20,6.50\n"
    ",,,,,POW,3,,,,\n"
    "OWN,Own shirt,stones,,OWN,STN,20,,,,\n"
    '2026,Panel,"sublimation, one panel",Drift,PAN-{colour}-{size},INK-W,1,,,,\n'
)
RECEIPT, JOB = 1, 2


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The command with a book of bills, everything in stock at a dollar, and a job of four foxes."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    book = new_book(tmp_path / "shop.blankbook")
    for register, name, text in ((items.register, "items", ITEMS), (boms.register, "boms", BILLS)):
        Path(f"{name}.csv").write_text(text, "utf-8")
        assert Commands(register, book)(name, "load", f"{name}.csv", "--yes").code == 0
    connection = open_writing(book)
    stock = [("DRIFT-BLK-M", 10), ("DRIFT-WHT-S", 10), ("INK-W", 60), ("POW", 100), ("STN", 50)]
    assert leave(connection, "receipt", *stock, on="01-05") == RECEIPT
    finished(connection, "FOX-BLK-M")
    used = [("DRIFT-BLK-M", 4), ("INK-W", 21), ("POW", 12)]
    assert make(connection, ("FOX-BLK-M", 4), *used, normal=1, labour_cents=650) == JOB
    connection.close()
    return Commands(cost.register, book)


def test_the_command_is_in_the_program() -> None:
    """`blankbook cost` is found, after what it explains."""
    names = list(MODULES)
    assert names.index("history") < names.index("cost") < names.index("prove")


def test_a_bill_is_costed_for_one_piece(blankbook: Commands) -> None:
    """A shirt, 12.5 mL and 3 g at a dollar each, and 6.50 of labour for the run."""
    data = blankbook("cost", "fox", "--json").data
    assert (data["bill"], data["blank"], data["finished"], data["pieces"]) == (
        "FOX",
        "DRIFT-BLK-M",
        "FOX-BLK-M",
        1,
    )
    assert data["fifo"]["total"] == {"per_piece": "23.0000", "run": "23.00"}


def test_a_run_shares_out_what_it_uses_once(blankbook: Commands) -> None:
    """Five pieces share ten mL and 6.50."""
    data = blankbook("cost", "FOX", "--pieces", "5", "--json").data
    parts = {(row["part"], row["sku"]): row["fifo"]["per_piece"] for row in data["components"]}
    assert parts == {
        ("blank", "DRIFT-BLK-M"): "1.0000",
        ("material", "INK-W"): "2.5000",
        ("material", "POW"): "3.0000",
        ("material of the run", "INK-W"): "2.0000",
        ("labour of the run", None): "1.3000",
    }


def test_misprints_are_marked_as_planning(blankbook: Commands) -> None:
    """One misprint to four good pieces, beside the total."""
    out = blankbook("cost", "FOX").out
    assert ("misprints 20%, planning only" in out, "planned" in out) == (True, True)


def test_what_the_run_loads_on_one_piece_is_said(blankbook: Commands) -> None:
    """Without --pieces one piece bears the run."""
    assert "One piece bears the whole run's 16.50 USD" in blankbook("cost", "FOX").out


def test_what_is_not_on_hand_is_said(blankbook: Commands) -> None:
    """Six shirts are left; ten pieces want four more."""
    outcome = blankbook("cost", "FOX", "--pieces", "10")
    assert "Not on hand, at the latest landed cost instead: 4 each of DRIFT-BLK-M" in outcome.out


def test_the_blank_shown_is_said(blankbook: Commands) -> None:
    """M of the first colour that has a cost, one of six."""
    assert "Shown for DRIFT-BLK-M, one of 6 blanks" in blankbook("cost", "FOX").err


def test_a_chosen_blank_is_costed(blankbook: Commands) -> None:
    """In any capitals."""
    assert (
        blankbook("cost", "FOX", "--colour", "white", "--size", "s", "--json").data["blank"] == "DRIFT-WHT-S"
    )


def test_a_blank_that_never_came_in_is_told(blankbook: Commands) -> None:
    """Its cost is not known, and the sum says so."""
    outcome = blankbook("cost", "FOX", "--size", "L", "--colour", "Black")
    assert ("No cost is known of DRIFT-BLK-L" in outcome.out, "not known" in outcome.out) == (True, True)


def test_what_is_left_of_a_price_is_shown(blankbook: Commands) -> None:
    """40.00 less 8% and 0.40 less 23.00."""
    words = ("--price", "40", "--fees", "8%", "--fees", "0.40")
    at = blankbook("cost", "FOX", *words, "--json").data["at_price"]
    assert at["fees"] == [{"fee": "8%", "amount": "3.20"}, {"fee": "0.40", "amount": "0.40"}]
    assert at["fifo"] == {"left": "13.4000", "percent": "33.50"}


def test_a_price_below_cost_leaves_less_than_nothing(blankbook: Commands) -> None:
    """Told with a sign, in money and in percent."""
    out = blankbook("cost", "FOX", "--price", "20").out
    assert ("-3.0000" in out, "-15.0%" in out) == (True, True)


def test_each_caution_stands_once(blankbook: Commands) -> None:
    """Powder dust, where the bill is costed."""
    assert blankbook("cost", "FOX").out.count("Powder dust") == 1


def test_all_designs_stand_in_one_table(blankbook: Commands) -> None:
    """Every bill with its way and its representative blank; cautions once for all."""
    outcome = blankbook("cost", "--all")
    assert [code in outcome.out for code in ("FOX", "OWN", "2026")] == [True] * 3
    assert (outcome.out.count("Heat:"), "size M" in outcome.err) == (1, True)


def test_all_designs_as_data_are_a_list(blankbook: Commands) -> None:
    """Each as a single bill is."""
    data = blankbook("cost", "--all", "--json").data
    assert {each["bill"]: each["fifo"]["total"]["per_piece"] for each in data} == {
        "2026": "2.0000",
        "FOX": "23.0000",
        "OWN": "20.0000",
    }


@pytest.mark.parametrize("words", ["2", "make 2", "MAKE 2"])
def test_a_job_is_costed_by_its_number(blankbook: Commands, words: str) -> None:
    """As a number, or as documents are shown."""
    data = blankbook("cost", words, "--json").data
    assert (data["document"], data["sku"], data["good"], data["normal"]) == (JOB, "FOX-BLK-M", "3", "1")


def test_a_jobs_differences_are_shown(blankbook: Commands) -> None:
    """21 mL where the bill says 20; per piece over the three good ones."""
    data = blankbook("cost", "make 2", "--json").data
    ink = next(row for row in data["components"] if row["sku"] == "INK-W")
    assert (ink["bill_quantity"], ink["more_quantity"], ink["more_cost"]) == ("20", "1", "1.00")
    assert (data["cost"], data["cost_per_piece"]) == ("43.50", "14.500000")


def test_a_job_is_shown_as_a_table(blankbook: Commands) -> None:
    """Good and spoiled pieces, the bill, and the cost of a piece."""
    out = blankbook("cost", "make 2").out
    assert ("3 good, 1 normally spoiled" in out, "One piece cost 14.5000 USD" in out) == (True, True)


def test_a_bill_whose_code_is_a_number_wins(blankbook: Commands) -> None:
    """2026 is a bill here; a document of that number is 'make 2026'."""
    assert blankbook("cost", "2026", "--json").data["bill"] == "2026"
    assert isinstance(blankbook("cost", "make 2026").error, Refused)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "name a bill or a job"),
        (("FOXX",), "Did you mean 'FOX'"),
        (("FOX", "--all"), "leave the bill"),
        (("FOX", "--size", "5XL"), "its sizes are S, M, L"),
        (("OWN", "--size", "M"), "has no blank"),
        (("FOX", "--fees", "5%"), "add --price"),
        (("FOX", "--price", "-1"), "below zero"),
        (("FOX", "--price", "9", "--fees", "101%"), "is no fee"),
        (("FOX", "--price", "9", "--fees", "lots"), "A fee is like 8%"),
        (("make 2", "--pieces", "3"), "is a job"),
    ],
)
def test_bad_usage_is_told_with_the_way_out(blankbook: Commands, words: tuple[str, ...], said: str) -> None:
    """Exit code 2, nothing shown."""
    error = blankbook("cost", *words).error
    assert (isinstance(error, UsageError), said in str(error)) == (True, True)


def test_a_document_that_is_no_job_is_refused(blankbook: Commands) -> None:
    """A receipt was not made."""
    error = blankbook("cost", "1").error
    assert (isinstance(error, Refused), "receipt 1 is no job" in str(error)) == (True, True)


def test_a_book_without_bills_says_so(tmp_path: Path) -> None:
    """An empty table would say nothing."""
    book = new_book(tmp_path / "new.blankbook")
    assert "no bills of materials yet" in Commands(cost.register, book)("cost", "--all").out
