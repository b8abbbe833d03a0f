"""`blankbook trace` in this process."""

from __future__ import annotations

import pytest
from book_builder import Book, line
from documents_builder import finished, leave, make, take_back
from small_shop import Commands

from ledger.cli import trace
from ledger.cli.main import MODULES
from ledger.errors import Refused, UsageError

RECEIPT, JOB, SALE, BACK, USE = 1, 2, 3, 4, 5


@pytest.fixture
def blankbook(book: Book) -> Commands:
    """The command with a receipt, a job of five foxes, a sale of three, one of them taken back, and a use."""
    book.receive(line("TEE-SAND-M", 8), line("INK-CYAN", 50), reference="AY-7")
    finished(book.connection, "FOX")
    assert make(book.connection, ("FOX", 5), ("TEE-SAND-M", 5), ("INK-CYAN", 10)) == JOB
    assert leave(book.connection, "sale", ("FOX", 3), party="Marsh Choir", reference="W-1") == SALE
    assert take_back(book.connection, "FOX", 1, SALE) == BACK
    assert leave(book.connection, "use", ("INK-CYAN", 4), on="01-28") == USE
    return Commands(trace.register, book.path)


def test_the_command_is_in_the_program() -> None:
    """`blankbook trace` is found."""
    assert MODULES["trace"] == "trace"


def test_a_lot_is_followed_forward(blankbook: Commands) -> None:
    """The job, what was sold of it, and the use; returns are told apart."""
    data = blankbook("trace", "1.2", "--json").data
    rows = [
        (each["from_lot"], each["document"], each["quantity"], each["taken_back"], each["quantity_of_lot"])
        for each in data["departures"]
    ]
    assert rows == [
        ("1.2", JOB, "10", "0", "10"),
        ("1.2", USE, "4", "0", "4"),
        ("2.3", SALE, "3", "1", "4"),
    ]


def test_the_finished_lot_of_a_job_is_named(blankbook: Commands) -> None:
    """Where the job's row leads on."""
    assert blankbook("trace", "1.2", "--json").data["departures"][0]["into_lot"] == "2.3"


def test_what_is_on_hand_is_shown(blankbook: Commands) -> None:
    """36 mL in the bottle, 6 in three foxes."""
    held = blankbook("trace", "lot 1.2", "--json").data["on_hand"]
    assert [(each["lot"], each["quantity"], each["quantity_of_lot"]) for each in held] == [
        ("1.2", "36", "36"),
        ("2.3", "3", "6"),
    ]


def test_a_lot_is_shown_as_tables(blankbook: Commands) -> None:
    """Where it came from, where it went, what is there."""
    out = blankbook("trace", "1.2").out
    assert "Lot 1.2: 50 mL of INK-CYAN, receipt 1 of 2026-01-05, Alder Yard Blanks, AY-7." in out
    assert ("Where it went:" in out, "Still on hand:" in out, "mL of 1.2" in out) == (True, True, True)


def test_a_finished_lot_tells_what_it_was_made_from(blankbook: Commands) -> None:
    """Both ways at once."""
    data = blankbook("trace", "2.3", "--json").data
    assert [(each["lot"], each["quantity"], each["into_lots"]) for each in data["behind"]] == [
        ("1.1", "5", ["2.3"]),
        ("1.2", "10", ["2.3"]),
    ]


def test_a_sale_is_followed_back_to_the_suppliers_invoice(blankbook: Commands) -> None:
    """Its lot, and out of the receipt three tees and 6 mL."""
    data = blankbook("trace", "sale 3", "--json").data
    assert [(each["lot"], each["quantity"], each["reference"]) for each in data["behind"]] == [
        ("2.3", "3", ""),
        ("1.1", "3", "AY-7"),
        ("1.2", "6", "AY-7"),
    ]


def test_a_document_that_made_lots_is_followed_forward_too(blankbook: Commands) -> None:
    """A job: behind it tees and ink, ahead its finished lot."""
    data = blankbook("trace", "2", "--json").data
    assert ([each["lot"] for each in data["behind"]], [each["lot"] for each in data["lots"]]) == (
        ["1.1", "1.2"],
        ["2.3"],
    )


def test_a_document_is_shown_as_tables(blankbook: Commands) -> None:
    """What stands behind it, then each lot it made."""
    out = blankbook("trace", "2").out
    assert out.index("Behind it:") < out.index("Lot 2.3: 5 each of FOX")


def test_the_recall_list_names_the_orders(blankbook: Commands) -> None:
    """Two foxes are still with the choir."""
    (holder,) = blankbook("trace", "1.2", "--recall", "--json").data["holders"]
    assert (holder["party"], holder["reference"], holder["date"], holder["pieces"]) == (
        "Marsh Choir",
        "W-1",
        "2026-01-20",
        "2",
    )


def test_the_recall_list_is_shown_with_the_shelf_and_the_rest(blankbook: Commands) -> None:
    """Who, what is on hand, what else; and that a use cannot be followed."""
    outcome = blankbook("trace", "1.2", "--recall")
    assert [
        words in outcome.out
        for words in ("Who holds something of it", "Still on hand:", "What else became of it:")
    ] == [True] * 3
    assert "used outside of jobs cannot be followed" in outcome.err


def test_a_whole_receipt_can_be_recalled(blankbook: Commands) -> None:
    """All its lots together; the pieces are not counted twice."""
    data = blankbook("trace", "receipt 1", "--recall", "--json").data
    assert ([lot["lot"] for lot in data["lots"]], [one["pieces"] for one in data["holders"]]) == (
        ["1.1", "1.2"],
        ["2"],
    )


def test_nobody_holds_anything_of_an_untouched_lot(book: Book) -> None:
    """The list is empty, and says so."""
    book.receive(line("TEE-SAND-M", 8))
    assert "Nobody holds anything" in Commands(trace.register, book.path)("trace", "1.1", "--recall").out


def test_an_undone_document_says_so(book: Book) -> None:
    """It moved nothing."""
    book.receive(line("TEE-SAND-M", 8))
    sale = leave(book.connection, "sale", ("TEE-SAND-M", 2))
    book.undo(sale)
    assert "undone by document 3" in Commands(trace.register, book.path)("trace", str(sale)).out


@pytest.mark.parametrize("words", ["1.x", "1.2.3", "fox"])
def test_what_is_no_lot_and_no_document_is_bad_usage(blankbook: Commands, words: str) -> None:
    """The text is told, and how it is written."""
    error = blankbook("trace", words).error
    assert (isinstance(error, UsageError), words in str(error)) == (True, True)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("1.7",), "it made 1.1, 1.2"),
        (("77.1",), "no document 77"),
        (("3", "--recall"), "sale 3 made no lot to recall"),
    ],
)
def test_a_lot_that_is_not_there_is_refused(blankbook: Commands, words: tuple[str, ...], said: str) -> None:
    """With what is there instead."""
    error = blankbook("trace", *words).error
    assert (isinstance(error, Refused), said in str(error)) == (True, True)
