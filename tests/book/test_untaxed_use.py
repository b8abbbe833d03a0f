"""What came in without sales tax and was not sold: by lot, through jobs, losses apart."""

from __future__ import annotations

from book_builder import Book, charge, line
from documents_builder import finished, leave, make, milli, post_lines

from ledger.book.documents import NewLine
from ledger.book.untaxed_use import UntaxedUse, untaxed_use


def found(book: Book, month: str = "2026-01") -> list[UntaxedUse]:
    """The list of a month."""
    return untaxed_use(book.connection, f"{month}-01", f"{month}-31")


def told(rows: list[UntaxedUse]) -> list[tuple[str, str, str, int, int]]:
    """How, which item, within which, thousandths and cents of each row."""
    return [(row.how, row.sku, row.in_sku, row.quantity_milli, row.amount) for row in rows]


def test_own_use_and_gifts_of_untaxed_stock(book: Book) -> None:
    """Of the lot bought for resale; the taxed lot after it is not listed, nor what was sold."""
    book.receive(line("TEE-SAND-M", 5, 500, tax_paid="resale"), on="01-02")
    book.receive(line("TEE-SAND-M", 5, 600, tax_paid="yes"), on="01-03")
    leave(book.connection, "sale", ("TEE-SAND-M", 2), on="01-04")
    leave(book.connection, "own use", ("TEE-SAND-M", 1), on="01-05")
    leave(book.connection, "sample", ("TEE-SAND-M", 4), on="01-06")
    assert told(found(book)) == [
        ("own use", "TEE-SAND-M", "", 1000, 100),
        ("samples", "TEE-SAND-M", "", 2000, 200),
    ]


def test_losses_are_told_apart(book: Book) -> None:
    """Spoiled, and missing at a count."""
    book.receive(line("TEE-SAND-M", 5, 500, tax_paid="none"), on="01-02")
    leave(book.connection, "spoil", ("TEE-SAND-M", 1), on="01-05")
    post_lines(book.connection, "count", [NewLine(line=1, sku="TEE-SAND-M", quantity_milli=3000)], "01-09")
    rows = found(book)
    assert [(row.how, row.is_loss, row.amount) for row in rows] == [
        ("spoilage", True, 100),
        ("count differences", True, 100),
    ]


def test_supplies_that_a_job_used(book: Book) -> None:
    """Film does not leave with the shirt; the shirt and its ink do, and are not listed."""
    finished(book.connection, "FOX")
    book.receive(
        line("TEE-SAND-M", 10, 1000, tax_paid="resale"),
        line("FILM-A3", 10, 500, tax_paid="resale"),
        line("INK-CYAN", 100, 300, tax_paid="resale"),
        on="01-02",
    )
    make(book.connection, ("FOX", 4), ("TEE-SAND-M", 4), ("FILM-A3", 4), ("INK-CYAN", 10), on="01-05")
    assert told(found(book)) == [("used", "FILM-A3", "", 4000, 200)]


def test_a_given_shirt_is_listed_by_its_untaxed_materials(book: Book) -> None:
    """A quarter of the job's shirts and ink; its film was listed when it was used, the labour never."""
    finished(book.connection, "FOX")
    book.receive(line("TEE-SAND-M", 4, 400, tax_paid="resale"), on="01-02")
    book.receive(line("FILM-A3", 4, 200, tax_paid="resale"), on="01-02", reference="B")
    book.receive(line("INK-CYAN", 8, 80, tax_paid="yes"), on="01-02", reference="C")
    made = ("TEE-SAND-M", 4), ("FILM-A3", 4), ("INK-CYAN", 8)
    make(book.connection, ("FOX", 4), *made, on="01-05", labour_cents=900)
    leave(book.connection, "donate", ("FOX", 1), on="02-05")
    assert told(found(book, "2026-02")) == [("donations", "TEE-SAND-M", "FOX", 1000, 100)]


def test_materials_are_found_through_jobs_of_jobs(book: Book) -> None:
    """A shirt printed twice: half of what the first job used went into the second."""
    finished(book.connection, "ONCE", "TWICE")
    book.receive(line("TEE-SAND-M", 10, 1000, tax_paid="none"), on="01-02")
    make(book.connection, ("ONCE", 10), ("TEE-SAND-M", 10), on="01-03", labour_cents=500)
    make(book.connection, ("TWICE", 5), ("ONCE", 5), on="01-04")
    leave(book.connection, "own use", ("TWICE", 2), on="01-05")
    assert told(found(book)) == [("own use", "TEE-SAND-M", "TWICE", 2000, 200)]


def test_unusual_misprints_are_losses_of_materials(book: Book) -> None:
    """Half of the pieces were spoiled: half of the shirts are lost."""
    finished(book.connection, "FOX")
    book.receive(line("TEE-SAND-M", 4, 400, tax_paid="resale"), on="01-02")
    make(book.connection, ("FOX", 4), ("TEE-SAND-M", 4), on="01-05", abnormal=2)
    rows = found(book)
    assert told(rows) == [("spoilage", "TEE-SAND-M", "FOX", 2000, 200)]
    assert rows[0].is_loss


def test_supplies_when_bought_are_used_when_they_come(book: Book) -> None:
    """With their share of the freight; what came with tax is not listed."""
    untaxed = line("TAPE-HEAT", 3, 300, tax_paid="none")
    book.receive(untaxed, line("TEE-SAND-M", 3, 300), on="01-02", charges=(charge(60),))
    book.receive(line("TAPE-HEAT", 3, 300, tax_paid="yes"), on="01-03")
    (row,) = found(book)
    assert (row.how, row.sku, row.quantity_milli, row.amount) == ("supplies", "TAPE-HEAT", 3000, 330)


def test_nothing_is_listed_where_tax_was_paid_or_not_told(book: Book) -> None:
    """What a receipt does not say is not made up."""
    book.receive(line("TEE-SAND-M", 4, 400), on="01-02")
    used = NewLine(line=1, sku="TEE-SAND-M", quantity_milli=milli(1))
    post_lines(book.connection, "own use", [used], "01-05")
    assert found(book) == []
