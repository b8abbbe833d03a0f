"""`blankbook order`, `ship` and `receive --order` in this process: what is refused, with nothing posted."""

from __future__ import annotations

import pytest
from book_builder import Book
from order_shop import ORDERED, PLUM, SAND, SHIPPED, ok, order_commands, with_order, with_shipment
from small_shop import Commands

from ledger.errors import AlreadyPosted, InputErrors, Refused, UsageError


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


def test_all_that_is_wrong_with_the_lines_is_said_at_once(ordered: Commands) -> None:
    """What cannot be read, what is unknown, what is more than ordered, what has no price."""
    lines = ("--line", SAND, "--line", "NOPE 3", "--line", f"{PLUM} 500")
    said = str(ordered("ship", "1", "--rate", "0.1", *lines, "--yes").error)
    assert ("is no line" in said, "no item NOPE" in said, "only 50 are left" in said) == (True, True, True)
    new = ("order", "--party", "A", "--terms", "destination", "--line", f"{PLUM} 4", *lines)
    said = str(ordered(*new, "--yes").error)
    assert ("is no line" in said, "NOPE" in said, f"{PLUM} has no price" in said) == (True, True, True)
    ok(ordered(*SHIPPED, "--yes"))
    losses = ("--damaged-line", f"{SAND} 4 stolen", "--missing-line", "X", "--line", f"{PLUM} 3")
    said = str(ordered("receive", "--order", "1", *losses, "--extra", "NOPE 1", "--yes").error)
    assert "claimed, normal, expense" in said
    assert ("'X' is no line" in said, "no item NOPE" in said) == (True, True)


REFUSALS: list[tuple[str, tuple[str, ...], type[Exception], str]] = [
    ("terms that do not exist", (*ORDERED, "--terms", "DAF Border"), InputErrors, "names no delivery terms"),
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
    ok(shipped("order", "--line", f"{SAND} 5 at 14.40", *ORDERED[5:], "--yes"))
    outcome = shipped(
        "ship", "3", "--date", "2026-01-21", "--rate", "0.1462", "--reference", "NS-118", "--yes"
    )
    assert isinstance(outcome.error, AlreadyPosted)
    assert "--another-box" in str(outcome.error)


def test_nobody_to_ask_posts_nothing(run: Commands, book: Book) -> None:
    """Without --yes and a terminal."""
    assert isinstance(run(*ORDERED).error, Refused)
    assert book.rows("SELECT count(*) FROM document") == [(0,)]
