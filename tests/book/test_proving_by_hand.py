"""Each invariant broken by hand in the file of a book that has everything: each is found, with its words."""

from __future__ import annotations

import sqlite3

import pytest
from book_builder import NOW, TODAY, Book, disarm
from event_shop import EventShop, event_shop

from ledger.book.connect import write_tx
from ledger.book.proving import one_state, prove
from ledger.book.reopening import post_reopen
from ledger.book.shop import record_policy


@pytest.fixture
def shop(book: Book) -> EventShop:
    """January closed with a job, a sale, a return and a write-down; in February a late bill and a short.

    Documents: 1 to 3 receipts, 4 the job, 5 the sale, 6 the return, 7 the write-down, 8 the close,
    9 the late bill, 10 the use that goes short.
    """
    shop = event_shop(book)
    with write_tx(book.connection):
        record_policy(book.connection, "supplies", "outside", "2026-01-01T12:00:00Z")
    shop.post(
        "01-05,receive,TEE-SAND-M,10,40.00,,,Alder Yard Blanks,A-1",
        "01-05,receive,FILM-A3,20,10.00,,,Film House,F-1",
        "01-05,receive,INK-CYAN,500,20.00,,,Film House,F-2",
        "01-08,make,FOX-SAND-M,4,,,good,,run 1",
        "01-10,sell,FOX-SAND-M,2,40.00,,,,S-1",
        "01-12,take_back,FOX-SAND-M,1,20.00,,,,S-1",
        "01-15,write_down,FOX-SAND-M,,1.00",
    )
    book.close("2026-01")
    shop.post("02-03,charge,,,6.00,,freight,Slow Lorry,L-1,Alder Yard Blanks/A-1")
    shop.post("02-05,use,FILM-A3,30", short=True)
    return shop


def found_after(shop: EventShop, *statements: str) -> list[tuple[int, str]]:
    """Break the file by hand, its guards off; return what is found but the missing guards."""
    connection = shop.book.connection
    connection.execute("PRAGMA foreign_keys = OFF")
    disarm(connection)
    for statement in statements:
        assert connection.execute(statement).rowcount > 0, statement
    return [
        (one.invariant, f"{one.where}: {one.what}")
        for one in prove(connection).findings
        if "the guard" not in one.what
    ]


def test_the_whole_book_is_whole(shop: EventShop) -> None:
    """Before anything is broken, nothing is found."""
    assert shop.book.prove().findings == ()
    assert shop.book.rows("SELECT count(*) FROM short") == [(1,)]
    assert shop.book.rows("SELECT count(*) > 0 FROM late_cost") == [(1,)]


BROKEN = {
    "1 amount": (["UPDATE leg SET amount = amount + 1 WHERE document = 5 AND part = 1"], 1, "amounts add up"),
    "1 quantity": (
        ["UPDATE leg SET quantity_milli = quantity_milli + 1000 WHERE document = 5 AND part = 1"],
        1,
        "quantities of FOX-SAND-M add up to 1, not to zero",
    ),
    "1 in process": (
        [
            "UPDATE leg SET amount = amount + 2 WHERE document = 4 AND account = 'work in process' AND line = 1",
            "UPDATE leg SET amount = amount - 2 WHERE document = 4 AND account = 'on hand' AND lot_document = 4",
        ],
        1,
        "document 4: 2 minor units stayed in work in process",
    ),
    "2 cost lost": (
        ["UPDATE leg SET amount = amount - 3 WHERE document = 5 AND account = 'on hand'"],
        2,
        "lot 4.",
    ),
    "2 quantity lost": (
        ["UPDATE leg SET quantity_milli = 9000 WHERE document = 1 AND account = 'on hand'"],
        2,
        "lot 1.1: received 10, but 4 left and 5 are on hand",
    ),
    "2 lot of nothing": (
        ["UPDATE leg SET lot_document = 77 WHERE document = 5 AND account = 'on hand'"],
        2,
        "the lot 77.",
    ),
    "2 came back unsold": (["DELETE FROM leg WHERE document = 5"], 2, "1 came back, but only 0 left"),
    "2 written up": (
        ["UPDATE leg SET amount = -amount WHERE document = 7"],
        2,
        "was written up by 100 minor units",
    ),
    "2 less than nothing": (
        ["UPDATE leg SET quantity_milli = quantity_milli * 9 WHERE document = 5"],
        2,
        "less than nothing",
    ),
    "2 cost of nothing": (
        ["UPDATE leg SET amount = amount + 1 WHERE document = 10 AND account = 'on hand' AND part = 1"],
        2,
        "nothing is on hand, but it costs",
    ),
    "3 quantity": (
        ["UPDATE leg SET quantity_milli = 9000 WHERE document = 1 AND account = 'on hand'"],
        3,
        "TEE-SAND-M from 2026-01-05 to 2026-02-05: opening and movements give 6, but 5 in stock",
    ),
    "3 amount": (
        ["UPDATE leg SET amount = amount - 7 WHERE document = 1 AND account = 'on hand'"],
        3,
        "minor units, but",
    ),
    "4 equation": (
        ["UPDATE leg SET amount = amount + 5 WHERE document = 5 AND account = 'pieces sold'"],
        4,
        "but the accounts of the cost of goods sold add up to",
    ),
    "5 without a lot": (
        ["UPDATE document_line SET short_allowed = 0 WHERE document = 10"],
        5,
        "left without a lot, though nothing may go short there",
    ),
    "5 below zero": (
        ["UPDATE leg SET quantity_milli = quantity_milli * 9 WHERE document = 5"],
        5,
        "FOX-SAND-M on 2026-01-10",
    ),
    "5 under way below zero": (
        ["UPDATE leg SET account = 'under way' WHERE document = 5 AND account = 'on hand'"],
        5,
        "under way at the end of the day, less than nothing",
    ),
    "6 under way kept": (
        ["UPDATE balance SET under_way_milli = 1000 WHERE sku = 'FILM-A3'"],
        6,
        "the balance of FILM-A3 is kept as",
    ),
    "6 last day": (
        ["UPDATE balance SET last_effect = '2026-01-05 1' WHERE sku = 'FILM-A3'"],
        6,
        "the last day of FILM-A3 is kept as '2026-01-05 1', its facts go on to",
    ),
    "6 last day of a late bill": (
        ["UPDATE balance SET last_effect = '' WHERE sku = 'TEE-SAND-M'"],
        6,
        "the last day of TEE-SAND-M is kept as ''",
    ),
    "6 short changed": (
        ["UPDATE short SET quantity_milli = 1 WHERE document = 10"],
        6,
        "the quantity of short 10.1 is kept as 1",
    ),
    "6 short gone": (["DELETE FROM short"], 6, "the short 10.1 is missing"),
    "6 late cost changed": (
        ["UPDATE late_cost SET amount = amount + 1"],
        6,
        "the amount of late cost 9.1.",
    ),
    "6 late cost gone": (["DELETE FROM late_cost"], 6, "is missing"),
    "6 lot gone": (["DELETE FROM lot WHERE document = 1"], 6, "the lot 1.1 is missing"),
    "6 lot of no fact": (
        ["UPDATE lot SET line = 9 WHERE document = 1"],
        6,
        "the lot 1.9 follows from no fact",
    ),
    "6 last good day": (
        ["UPDATE lot SET expires_on = '2031-01-01' WHERE document = 3"],
        6,
        "lot 3.1 of INK-CYAN is kept as good until 2031-01-01",
    ),
    "6 a closed document": (
        ["UPDATE document SET reference = 'A-2' WHERE number = 1"],
        6,
        "month 2026-01: what it holds is not what was closed",
    ),
    "6 a closed layer": (
        ["UPDATE closed_layer SET amount = amount + 1"],
        6,
        "month 2026-01: what it holds is not what was closed",
    ),
    "6 a fingerprint": (
        ["UPDATE month_event SET fingerprint = replace(fingerprint, substr(fingerprint, 1, 1), 'f') || ''"],
        6,
        "month 2026-01",
    ),
    "6 the chain": (
        ["UPDATE month_event SET previous_fingerprint = 'x'"],
        6,
        "its close does not follow on the one before",
    ),
    "6 the boundary back": (
        ["UPDATE boundary SET closed_through = '0000-00-00'"],
        6,
        "months are kept as closed through 0000-00-00, the closes say 2026-01-31",
    ),
    "6 the boundary on": (
        ["UPDATE boundary SET closed_through = '2026-02-28'"],
        6,
        "months are kept as closed through 2026-02-28, the closes say 2026-01-31",
    ),
    "6 the policies of a close": (
        ["""UPDATE month_event SET policies = '{"supplies": "inside"}'"""],
        6,
        "month 2026-01: it was closed with the policy supplies as 'inside', which was not recorded then",
    ),
    "6 policies that are no table": (
        ["UPDATE month_event SET policies = 'none'"],
        6,
        "that cannot be read",
    ),
    "6 an index": (["DROP INDEX document_effect"], 6, "the index document effect was taken out of the file"),
    "7 a fact": (
        ["UPDATE document_line SET quantity_milli = 29000 WHERE document = 10"],
        7,
        "document 10",
    ),
    "7 a share": (["UPDATE charge_share SET path = 'with receipt' WHERE document = 9"], 7, "document 9"),
    "8 twice": (
        [
            "UPDATE document SET content_sha256 = 'one content' WHERE number IN (1, 2)",
        ],
        8,
        "documents 1 and 2 hold the same content",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_broken_by_hand_is_found(shop: EventShop, name: str) -> None:
    """The finding bears the invariant's number and says what is wrong where."""
    statements, invariant, words = BROKEN[name]
    connection = shop.book.connection
    if "INDEX" in statements[0]:
        connection.execute(statements[0])
        found = [(one.invariant, f"{one.where}: {one.what}") for one in prove(connection).findings]
    else:
        found = found_after(shop, *statements)
    assert any(number == invariant and words in text for number, text in found), found


def test_a_reopening_changed_by_hand_is_found(shop: EventShop) -> None:
    """Why a month was reopened is part of the chain."""
    post_reopen(shop.book.connection, "2026-01", "a bill came", TODAY, NOW)
    assert shop.book.prove().findings == ()
    found = found_after(shop, "UPDATE document SET reason = 'another' WHERE event = 'reopen'")
    assert (6, "month 2026-01: its reopening was changed") in found


def test_a_cut_file_is_found(shop: EventShop) -> None:
    """A page of the file overwritten with noise: SQLite's own check is part of the proof."""
    path = shop.book.path
    page = shop.book.rows("SELECT rootpage FROM sqlite_schema WHERE name = 'document_effect'")[0][0]
    size = shop.book.rows("PRAGMA page_size")[0][0]
    assert isinstance(page, int)
    assert isinstance(size, int)
    shop.book.connection.close()
    data = bytearray(path.read_bytes())
    data[(page - 1) * size + 200 : page * size] = bytes(len(data[(page - 1) * size + 200 : page * size]))
    path.write_bytes(bytes(data))
    reader = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    with one_state(reader) as state:
        found = [one for one in prove(state).findings if one.invariant == 9]
    reader.close()
    shop.book.connection = sqlite3.connect(":memory:")
    assert "SQLite finds the file damaged" in found[0].what


def test_one_state_is_proved_while_others_post(shop: EventShop) -> None:
    """What is posted after the copy was taken neither disturbs the proof nor waits for it."""
    reader = sqlite3.connect(f"file:{shop.book.path}?mode=ro", uri=True, isolation_level=None)
    reader.execute("BEGIN")
    with one_state(reader) as state:
        shop.post("02-10,receive,TEE-SAND-M,5,20.00,,,Alder Yard Blanks,A-9")
        assert prove(state).documents == 10
    reader.close()
    assert shop.book.prove().documents == 11
