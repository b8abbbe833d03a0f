"""Prove: a whole book proves whole, and each thing broken by hand in the file is found and named."""

from __future__ import annotations

import sqlite3

import pytest
from book_builder import Book, charge, disarm, line

from ledger.book.proving import prove
from ledger.book.schema import guards


@pytest.fixture
def full(book: Book) -> Book:
    """A book of one month: receipt 1 with charge 2, sale 3, receipt 4, an undone sale 5."""
    book.receive(line("TEE-SAND-M", 10, 1000), line("FILM-A3", 5, 500), charges=(charge(150),))
    book.leave("sale", ("TEE-SAND-M", 4), on="01-10")
    book.receive(line("TEE-PLUM-L", 6, 900, claimed_milli=1000), on="01-12")
    book.undo(book.leave("use", ("FILM-A3", 1), on="01-15"))
    return book


def broken(book: Book, *statements: str) -> list[tuple[int, str]]:
    """Change the file by hand, guards and references off; return what is found but the missing guards."""
    connection = book.connection
    connection.execute("PRAGMA foreign_keys = OFF")
    disarm(connection)
    for statement in statements:
        assert connection.execute(statement).rowcount != 0
    return [
        (one.invariant, f"{one.where}: {one.what}")
        for one in prove(connection).findings
        if "the guard" not in one.what
    ]


def named(findings: list[tuple[int, str]], invariant: int, *words: str) -> bool:
    """Whether a finding of an invariant says all the words."""
    return any(number == invariant and all(word in text for word in words) for number, text in findings)


def test_a_book_with_nothing_in_it_is_whole(book: Book) -> None:
    """There is nothing to find in a new book."""
    proof = book.prove()
    assert (proof.is_whole, proof.documents, proof.lots, proof.months, proof.legs) == (True, 0, 0, 0, 0)


def test_a_sound_book_is_whole(full: Book) -> None:
    """Nothing is found, and the proof says how much it looked at."""
    proof = full.prove()
    assert (proof.findings, proof.documents, proof.lots, proof.months) == ((), 6, 3, 1)
    assert proof.legs == len(full.legs())


def test_proving_says_what_it_is_at(full: Book) -> None:
    """Each check is told before it runs, in plain words."""
    told: list[str] = []
    prove(full.connection, told.append)
    assert (len(told), len(set(told))) == (len(told), len(told))
    assert "the same costs by the second engine" in told


def test_proving_works_on_a_read_only_connection(full: Book) -> None:
    """It writes nothing."""
    reader = sqlite3.connect(f"file:{full.path}?mode=ro", uri=True)
    assert prove(reader).is_whole
    reader.close()


def test_a_leg_of_another_amount(full: Book) -> None:
    """One cent more on a leg: the document does not balance, the lot does not add up, the engines differ."""
    found = broken(full, "UPDATE leg SET amount = amount + 1 WHERE document = 3 AND part = 2")
    assert named(found, 1, "document 3", "amounts add up to 1 minor unit, not to zero")
    assert named(found, 2, "lot 1.1")
    assert named(found, 7, "document 3, line 1, part 2")


def test_a_leg_of_another_quantity(full: Book) -> None:
    """One piece more on a leg: the SKU of the document is named."""
    found = broken(
        full, "UPDATE leg SET quantity_milli = quantity_milli + 1000 WHERE document = 3 AND part = 2"
    )
    assert named(found, 1, "document 3", "quantities of TEE-SAND-M add up to 1, not to zero")


def test_a_missing_leg(full: Book) -> None:
    """The leg that only the second engine has is named."""
    found = broken(full, "DELETE FROM leg WHERE document = 3 AND part = 2")
    assert named(found, 7, "document 3, line 1, part 2", "only the second engine has this movement")


def test_a_leg_too_many(full: Book) -> None:
    """A leg that no fact makes is named."""
    found = broken(
        full,
        "INSERT INTO leg (document, line, part, effect_date, account, sku, quantity_milli, amount) "
        "VALUES (3, 1, 9, '2026-01-10', 'used', 'TEE-SAND-M', 0, 0)",
    )
    assert named(found, 7, "document 3, line 1, part 9", "only the book has this movement")


def test_a_cost_moved_between_lots(full: Book) -> None:
    """Documents still balance, but each lot's cost is not what came in."""
    found = broken(
        full,
        "UPDATE leg SET amount = amount + 7 WHERE document = 1 AND line = 1 AND account = 'on hand'",
        "UPDATE leg SET amount = amount - 7 WHERE document = 1 AND line = 2 AND account = 'on hand'",
    )
    assert named(found, 2, "lot 1.1")
    assert named(found, 2, "lot 1.2")
    assert not named(found, 1)


def test_stock_below_zero(full: Book) -> None:
    """A document that takes more than there is, with legs to match, is found by SKU and day."""
    found = broken(
        full,
        "UPDATE leg SET quantity_milli = quantity_milli * 5 WHERE document = 3",
    )
    assert named(found, 5, "TEE-SAND-M on 2026-01-10", "less than nothing")


def test_a_leg_outside_the_known_accounts(full: Book) -> None:
    """Cost of goods sold by two ways: an account that neither knows is named."""
    connection = full.connection
    connection.execute("PRAGMA ignore_check_constraints = ON")
    found = broken(full, "UPDATE leg SET account = 'petty cash' WHERE document = 3 AND part = 2")
    assert named(found, 4, "petty cash")


def test_stock_that_grew_by_nothing(full: Book) -> None:
    """Opening plus in less out is not what is on hand: both are told."""
    found = broken(full, "UPDATE leg SET quantity_milli = 9000 WHERE document = 1 AND line = 1 AND part = 2")
    assert named(found, 3, "TEE-SAND-M from 2026-01-05", "opening and movements give 6, but 5 in stock")


def test_a_fact_changed_by_hand(full: Book) -> None:
    """A quantity changed in a posted line no longer gives the legs that stand there."""
    found = broken(full, "UPDATE document_line SET quantity_milli = 3000 WHERE document = 3")
    assert named(found, 7, "document 3")


def test_a_fact_that_cannot_be_costed(full: Book) -> None:
    """Where the second engine itself refuses, that is the finding."""
    found = broken(full, "UPDATE document_line SET quantity_milli = 99000 WHERE document = 3")
    assert named(found, 7, "the second engine cannot work out the costs", "TEE-SAND-M")


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        (
            "UPDATE balance SET amount = amount + 1 WHERE sku = 'TEE-SAND-M'",
            "the balance of TEE-SAND-M is kept",
        ),
        ("UPDATE balance SET quantity_milli = 0 WHERE sku = 'FILM-A3'", "the balance of FILM-A3 is kept"),
        ("DELETE FROM balance WHERE sku = 'FILM-A3'", "the balance of FILM-A3 is kept as 0"),
        ("UPDATE lot SET value_on_hand = 1 WHERE document = 4", "lot 4.1 of TEE-PLUM-L keeps"),
        ("UPDATE lot SET quantity_on_hand = 1 WHERE document = 4", "lot 4.1 of TEE-PLUM-L keeps"),
        ("UPDATE layer SET used = 0 WHERE lot_document = 1", "the layers of lot 1.1 hold"),
        ("DELETE FROM layer WHERE lot_document = 4", "the layers of lot 4.1 hold 0"),
        (
            "UPDATE month_total SET amount = 5 WHERE account = 'pieces sold'",
            "the total of TEE-SAND-M in 2026-01",
        ),
        ("DELETE FROM month_total WHERE account = 'charges'", "in 2026-01 on 'charges' is kept as 0"),
        (
            "UPDATE month_total SET month = '2026-03' WHERE account = 'pieces sold'",
            "in 2026-03 on 'pieces sold'",
        ),
        (
            "UPDATE month_balance SET amount = 5 WHERE sku = 'FILM-A3'",
            "FILM-A3 at the end of 2026-01",
        ),
        ("DELETE FROM month_balance WHERE sku = 'FILM-A3'", "FILM-A3 at the end of 2026-01"),
    ],
)
def test_a_kept_figure_changed_by_hand(full: Book, statement: str, words: str) -> None:
    """Each figure that is kept beside the legs is checked against them."""
    assert named(broken(full, statement), 6, words)


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE layer SET amount = amount + 500 WHERE lot_document = 1 AND lot_line = 1", "layer 1.1.1"),
        ("UPDATE lot SET invoice_cost = invoice_cost + 5 WHERE document = 4", "lot 4.1"),
        ("UPDATE lot SET charges = charges + 5 WHERE document = 4", "lot 4.1"),
        ("UPDATE lot SET quantity_received = quantity_received + 5 WHERE document = 4", "lot 4.1"),
        ("UPDATE lot SET available_from = '2026-01-01' WHERE document = 4", "lot 4.1"),
    ],
)
def test_a_figure_the_next_posting_rests_on(full: Book, statement: str, words: str) -> None:
    """Cost of layers and lots, and their place in the order, decide what the next sale costs."""
    assert named(broken(full, statement), 6, words)


def test_shares_that_are_not_the_charge(full: Book) -> None:
    """A cent moved from one share to the other."""
    found = broken(
        full,
        "UPDATE charge_share SET amount = amount + 1 WHERE document = 2 AND position = 1",
        "UPDATE charge_share SET amount = amount - 1 WHERE document = 2 AND position = 2",
    )
    assert named(found, 2, "charge 2", "not its amount spread by its weights")


def test_a_charge_that_lost_its_shares(full: Book) -> None:
    """A bill whose amount went nowhere is named."""
    found = broken(full, "DELETE FROM charge_share WHERE document = 2")
    assert named(found, 2, "charge 2")


@pytest.mark.parametrize("guard", guards())
def test_a_guard_taken_out(full: Book, guard: str) -> None:
    """Each guard is missed by its name."""
    full.connection.execute(f'DROP TRIGGER "{guard}"')
    assert [one.what for one in full.prove().findings] == [
        f"the guard {guard.replace('_', ' ')} was taken out of the file"
    ]


def test_a_guard_that_was_rewritten(full: Book) -> None:
    """A guard that keeps its name but no longer guards is noticed."""
    full.connection.execute("DROP TRIGGER document_no_delete")
    full.connection.execute(
        "CREATE TRIGGER document_no_delete BEFORE DELETE ON document WHEN false BEGIN SELECT 1; END"
    )
    assert [one.what for one in full.prove().findings] == [
        "the guard document no delete was rewritten in the file"
    ]


def test_a_reference_to_nothing(full: Book) -> None:
    """A line whose document was deleted by hand."""
    found = broken(full, "DELETE FROM party")
    assert named(found, 6, "a row of document refers to a row of party that is not there")


def test_the_same_content_twice(full: Book) -> None:
    """Two documents of one content are named."""
    found = broken(
        full,
        "UPDATE document SET content_sha256 = (SELECT content_sha256 FROM document WHERE number = 1) WHERE number = 4",
    )
    assert named(found, 8, "document 4", "documents 1 and 4 hold the same content")


def test_a_damaged_index(full: Book) -> None:
    """SQLite's own check is part of the proof."""
    connection = full.connection
    connection.execute("PRAGMA writable_schema = ON")
    connection.execute(
        "UPDATE sqlite_schema SET sql = replace(sql, 'effect_date, number', 'number') "
        "WHERE name = 'document_effect'"
    )
    connection.execute("PRAGMA writable_schema = OFF")
    connection.close()
    reader = sqlite3.connect(f"file:{full.path}?mode=ro", uri=True)
    found = [one for one in prove(reader).findings if one.invariant == 9]
    reader.close()
    full.connection = sqlite3.connect(":memory:")
    assert found
    assert "SQLite finds the file damaged" in found[0].what


def test_many_differences_are_counted(book: Book) -> None:
    """A wholly wrong book does not print a thousand lines."""
    book.receive(*[line("TEE-SAND-M", 1, 100) for _ in range(60)])
    found = broken(book, "UPDATE leg SET effect_date = '2026-01-06'")
    assert sum(number == 7 for number, _ in found) == 21
    assert named(found, 7, "100 more movements differ")
