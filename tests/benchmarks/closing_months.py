"""Closing a month of an old book, against the same month of a book in its first year.

Both books have the same month in December: as many documents, items and lots on hand. A close looks
at what the month and its tax year hold, so ten years before it must not make it slower.
"""

from __future__ import annotations

import argparse
import datetime
import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import groupby
from pathlib import Path

HERE = Path(__file__).resolve().parent
for place in (HERE, HERE.parent, HERE.parents[1]):
    if str(place) not in sys.path:
        sys.path.insert(0, str(place))

from big_books import BookShape, make_documents, make_empty_book, post_batch  # noqa: E402
from book_builder import ITEMS, NOW, make_book, opened  # noqa: E402
from measuring import side_by_side  # noqa: E402

from ledger.book.closing import post_close, prepare_close  # noqa: E402
from ledger.book.connect import open_writing, write_tx  # noqa: E402
from ledger.book.documents import NewDocument, NewLine, insert_documents, next_number  # noqa: E402
from ledger.book.fingerprints import closes_in_force, month_events  # noqa: E402
from ledger.book.recosting import recost  # noqa: E402
from ledger.book.reopening import post_reopen  # noqa: E402

LATER = datetime.date(2045, 1, 1)


def build(path: Path, months: int, skus: int, sales: int) -> tuple[str, sqlite3.Connection]:
    """Make a book of some months that end in December, all closed but the last; return that month."""
    items = [replace(ITEMS[0], sku=f"TEE-{place}", name=f"Tee {place}") for place in range(skus)]
    make_book(path, items)
    book = opened(path)
    first_year = 2026
    for place in range(months):
        month = f"{first_year + place // 12}-{place % 12 + 1:02d}"
        with write_tx(book.connection):
            number = next_number(book.connection)
            documents = [_receipt(number + at, sku.sku, month, sales) for at, sku in enumerate(items)]
            number += len(items)
            documents += [
                _sale(number + at, items[at % skus].sku, month, at % 27 + 2) for at in range(skus * sales)
            ]
            insert_documents(book.connection, documents)
            recost(book.connection, documents)
        if place + 1 < months:
            post_close(book.connection, prepare_close(book.connection, month, LATER), LATER, NOW)
    return month, book.connection


def _receipt(number: int, sku: str, month: str, pieces: int) -> NewDocument:
    line = NewLine(
        line=1, sku=sku, kind="blank", tax_class="goods", quantity_milli=pieces * 1000, amount=377 * pieces
    )
    return _document(number, "receipt", f"{month}-01", line)


def _sale(number: int, sku: str, month: str, day: int) -> NewDocument:
    line = NewLine(line=1, sku=sku, kind="blank", tax_class="goods", quantity_milli=1000, amount=1500)
    return _document(number, "sale", f"{month}-{day:02d}", line)


def _document(number: int, event: str, on: str, line: NewLine) -> NewDocument:
    return NewDocument(
        number=number,
        event=event,
        document_date=on,
        effect_date=on,
        recorded_at=NOW,
        currency="USD",
        lines=(line,),
    )


def close_through(connection: sqlite3.Connection, months: Sequence[str]) -> None:
    """Close months in turn."""
    for month in months:
        post_close(connection, prepare_close(connection, month, LATER), LATER, NOW)


def make_closed_book(path: Path, shape: BookShape, months: Sequence[str]) -> None:
    """Make a large book of some months, each posted and closed in turn, but for the last one, which is open."""
    make_empty_book(path, shape.skus)
    connection = open_writing(path)
    for month, documents in documents_by_month(replace(shape, has_closes=True), months):
        post_batch(connection, documents)
        if month != months[-1]:
            close_through(connection, [month])
    connection.close()


def documents_by_month(shape: BookShape, months: Sequence[str]) -> Iterator[tuple[str, list[NewDocument]]]:
    """Yield each month with its documents; months without any have none."""
    grouped = groupby(make_documents(shape), key=lambda document: document.effect_date[:7])
    ahead = next(grouped, None)
    for month in months:
        if ahead is None or ahead[0] != month:
            yield month, []
            continue
        yield month, list(ahead[1])
        ahead = next(grouped, None)


def seconds_to_close(closed: Mapping[str, tuple[str, sqlite3.Connection]], rounds: int) -> dict[str, float]:
    """Return the median processor time of closing a month of each book; it is reopened in between.

    ``closed`` has, by name, the month and its book, in which every month before it is closed.
    """

    def close(month: str, connection: sqlite3.Connection) -> None:
        close_through(connection, [month])

    def reopen(name: str) -> None:
        month, connection = closed[name]
        if month in closes_in_force(month_events(connection)):
            post_reopen(connection, month, "the next round", LATER, NOW)

    return side_by_side(
        {name: partial(close, *each) for name, each in closed.items()},
        rounds,
        before=reopen,
        clock=time.process_time,
    )


def main() -> None:
    """Print the ratio of the two closes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--months", type=int, default=120)
    parser.add_argument("--skus", type=int, default=60)
    parser.add_argument("--sales", type=int, default=10)
    parser.add_argument("--rounds", type=int, default=7)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        books = {
            name: build(Path(folder) / f"{name}.blankbook", months, asked.skus, asked.sales)
            for name, months in (("young", 12), ("old", asked.months))
        }
        seconds = seconds_to_close(books, asked.rounds)
    young, old = seconds["young"], seconds["old"]
    print(  # noqa: T201
        f"closing the month: {young:.3f} s in the first year, {old:.3f} s after {asked.months} months"
    )
    print(f"ratio {old / young:.2f} (target 1.25)")  # noqa: T201


if __name__ == "__main__":
    main()
