"""What is measured on the large books of ten years: 10 thousand, 100 thousand and 1 million documents."""

from __future__ import annotations

import datetime
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from benchmark_sizes import Sizes
from big_books import (
    FIRST_YEAR,
    LAST_DAY,
    SUPPLIERS,
    BookShape,
    make_big_book,
    make_documents,
    make_items,
    post_batch,
)
from closing_months import make_closed_book, seconds_to_close
from measuring import Row, run_command, run_python, side_by_side, taken_by_code, taken_by_command
from report_pages import month_html, month_pictures, stock_html, stock_picture
from writing_packs import cells_of, pack_and_workbook, write_cells
from yardsticks import imports_only, insert_rows, rows_since

from ledger.book.connect import open_writing
from ledger.book.documents import NewDocument, next_number
from ledger.exact.months import months_between

MID_MONTH, MONTH_END = "2025-06-15", "2025-06-30"
LAST_MONTH = LAST_DAY.isoformat()[:7]
MONTHS_OF_A_YEAR = 12
DAYS_POSTED = 7

IMPORTS = "import typer, sqlite3"

READ_EVERY_ROW = """
import sys
from pathlib import Path
from tests.benchmarks.yardsticks import read_every_row
read_every_row(Path(sys.argv[1]))
"""


class Books:
    """The books of one run, made when they are first asked for, and the rows measured on them."""

    def __init__(self, folder: Path, sizes: Sizes, tell: Callable[[str], None]) -> None:
        self.folder = folder
        self.sizes = sizes
        self.tell = tell

    @property
    def small(self) -> int:
        """How many documents the smallest book has."""
        return self.sizes.documents[0]

    @property
    def larger(self) -> tuple[int, ...]:
        """The other sizes."""
        return self.sizes.documents[1:]

    @property
    def same_on_small(self) -> str:
        """What a larger book is held against."""
        return f"the same on {self.small:,} documents"

    def book(self, documents: int) -> Path:
        """Return the book of about so many documents."""

        def make(draft: Path) -> None:
            make_big_book(draft, BookShape(documents=documents, skus=self.sizes.skus))

        return self._made(f"documents-{documents}-skus-{self.sizes.skus}", make)

    def closed_book(self, documents: int, months: int) -> Path:
        """Return a book of the same documents up to a month, the ones before it closed as the shop went along."""

        def make(draft: Path) -> None:
            make_closed_book(draft, BookShape(documents=documents, skus=self.sizes.skus), _months()[:months])

        return self._made(f"documents-{documents}-skus-{self.sizes.skus}-months-{months}", make)

    def _made(self, name: str, make: Callable[[Path], None]) -> Path:
        path = self.folder / f"{name}.blankbook"
        if not path.exists():
            self.tell(f"making {path.name}")
            draft = path.with_suffix(".draft")
            draft.unlink(missing_ok=True)
            make(draft)
            draft.rename(path)
        return path

    def rows(self) -> Iterator[Row]:
        """Yield every row, measure by measure."""
        for measure in (
            self.start_up,
            self.stock,
            self.one_receipt,
            self.posting,
            self.closing,
            self.packs,
            self.pages,
            self.proving,
        ):
            self.tell(f"measuring {measure.__name__.replace('_', ' ')}")
            yield from measure()

    def start_up(self) -> Iterator[Row]:
        """A reading command from start to end, against importing what every command imports; by the wall."""
        bare = taken_by_code(IMPORTS)
        for documents in self.sizes.alone:
            book = self.book(documents)
            seconds = side_by_side(
                {
                    "ours": lambda book=book: run_python(
                        ["-m", "ledger", "--book", str(book), "stock", "--json"]
                    ),
                    "yardstick": lambda: run_python(imports_only()),
                },
                self.sizes.starts,
            )
            yield Row(
                "start-up: stock --json",
                seconds["ours"],
                seconds["yardstick"],
                "s",
                f"python -c '{IMPORTS}'",
                3,
                documents,
                taken_by_command(book, "stock", "--json").mebibytes,
                bare.mebibytes,
            )

    def stock(self) -> Iterator[Row]:
        """Stock on the larger books against the smallest, without the interpreter's start."""
        for what, words in (
            ("stock", ("stock", "--json")),
            ("stock --on, mid-month", ("stock", "--json", "--on", MID_MONTH)),
            ("stock --on, month's last day", ("stock", "--json", "--on", MONTH_END)),
        ):
            books = {documents: self.book(documents) for documents in self.sizes.documents}
            run_command(books[self.small], *words)
            seconds = side_by_side(
                {
                    str(documents): lambda book=book, words=words: run_command(book, *words)
                    for documents, book in books.items()
                },
                2 * self.sizes.rounds + 1,
                clock=time.process_time,
            )
            small = seconds[str(self.small)]
            for documents in self.larger:
                yield Row(what, seconds[str(documents)], small, "s", self.same_on_small, 1.5, documents)

    def one_receipt(self) -> Iterator[Row]:
        """One receipt posted on the larger books against the smallest."""
        copies = {}
        for documents in self.sizes.documents:
            copies[documents] = self.folder / f"copy-of-{documents}.blankbook"
            shutil.copyfile(self.book(documents), copies[documents])
        blank = make_items(self.sizes.skus)[-1].sku
        posted = dict.fromkeys(copies, 0)

        def receive(documents: int) -> None:
            posted[documents] += 1
            one = ("receive", "--sku", blank, "--quantity", "12", "--amount", f"{40 + posted[documents]}.20")
            run_command(copies[documents], *one, "--party", SUPPLIERS[0], "--date", "2026-01-10", "--yes")

        receive(self.small)
        seconds = side_by_side(
            {str(documents): (lambda documents=documents: receive(documents)) for documents in copies},
            2 * self.sizes.rounds + 1,
            clock=time.process_time,
        )
        small = seconds[str(self.small)]
        for documents in self.larger:
            yield Row("one receipt", seconds[str(documents)], small, "s", self.same_on_small, None, documents)
        for copy in copies.values():
            copy.unlink()

    def posting(self) -> Iterator[Row]:
        """Posting batches at the end of the books against inserting the very same rows with sqlite3 alone."""
        for documents in self.sizes.alone:
            copies = {name: self.folder / f"{name}.blankbook" for name in ("ours", "yardstick")}
            for copy in copies.values():
                shutil.copyfile(self.book(documents), copy)
            posting = _Posting(copies, self.sizes)
            seconds = side_by_side(
                {"ours": posting.post, "yardstick": posting.insert},
                self.sizes.rounds,
                before=posting.prepare,
                clock=time.process_time,
            )
            posting.close()
            for copy in copies.values():
                copy.unlink()
            yield Row(
                f"posting {self.sizes.posted_documents:,} documents more",
                seconds["ours"],
                seconds["yardstick"],
                "s",
                "sqlite3: executemany of the same rows",
                3,
                documents,
            )

    def closing(self) -> Iterator[Row]:
        """Closing the last month of ten years against December of the first, by books that end with either."""
        for documents in self.sizes.alone:
            months = {"young": MONTHS_OF_A_YEAR, "old": self.sizes.months}
            connections = {
                name: open_writing(self.closed_book(documents, count)) for name, count in months.items()
            }
            seconds = seconds_to_close(
                {name: (_months()[count - 1], connections[name]) for name, count in months.items()},
                self.sizes.rounds,
            )
            for connection in connections.values():
                connection.close()
            yield Row(
                f"closing month {self.sizes.months}",
                seconds["old"],
                seconds["young"],
                "s",
                "closing December of the first year",
                1.25,
                documents,
            )

    def packs(self) -> Iterator[Row]:
        """The last month's pack and workbook against openpyxl writing the same cells."""
        for documents in self.sizes.alone:
            path = self.book(documents)
            cells = cells_of(pack_and_workbook(path, LAST_MONTH))
            seconds = side_by_side(
                {
                    "ours": lambda path=path: pack_and_workbook(path, LAST_MONTH),
                    "yardstick": lambda cells=cells: write_cells(cells),
                },
                self.sizes.rounds,
                clock=time.process_time,
            )
            yield Row(
                "pack and workbook of the last month",
                seconds["ours"],
                seconds["yardstick"],
                "s",
                "openpyxl writing the same cells",
                3,
                documents,
            )

    def pages(self) -> Iterator[Row]:
        """The pages of the stock and of the last month against drawing their pictures alone."""
        for what, page, pictures in (
            ("page of the stock", stock_html, stock_picture),
            ("page of the last month", month_html, month_pictures),
        ):
            for documents in self.sizes.alone:
                path = self.book(documents)
                pictures(path, LAST_MONTH)
                seconds = side_by_side(
                    {
                        "ours": lambda path=path, page=page: page(path, LAST_MONTH),
                        "yardstick": lambda path=path, pictures=pictures: pictures(path, LAST_MONTH),
                    },
                    self.sizes.rounds,
                    clock=time.process_time,
                )
                yield Row(
                    what, seconds["ours"], seconds["yardstick"], "s", "its pictures alone", 2, documents
                )

    def proving(self) -> Iterator[Row]:
        """Proving a book, in a process of its own, against sqlite3 alone reading every row once."""
        per_document: dict[int, float] = {}
        for documents in self.sizes.documents:
            if documents > self.sizes.proved_documents:
                self.tell(f"not proved: the book of {documents:,} documents")
                continue
            book = self.book(documents)
            ours = taken_by_command(book, "prove")
            bare = taken_by_code(READ_EVERY_ROW, str(book))
            yield Row(
                "prove",
                ours.seconds,
                bare.seconds,
                "s",
                "sqlite3 reading every row",
                None,
                documents,
                ours.mebibytes,
                bare.mebibytes,
            )
            per_document[documents] = 1000 * ours.seconds / documents
            if documents != self.small:
                per, least = per_document[documents], per_document[self.small]
                yield Row("prove, per 1,000 documents", per, least, "s", self.same_on_small, 1.5, documents)


class _Posting:
    """Batches of documents, one after another, posted to one book and inserted into its twin."""

    def __init__(self, copies: dict[str, Path], sizes: Sizes) -> None:
        self.connections = {name: open_writing(path) for name, path in copies.items()}
        self.sizes = sizes
        self.first_day = LAST_DAY + datetime.timedelta(days=1)
        self.last_number = next_number(self.connections["ours"]) - 1
        self.documents: list[NewDocument] = []
        self.rows: dict[str, list[tuple[object, ...]]] = {}

    def prepare(self, name: str) -> None:
        """Make the next batch, or read what posting it wrote."""
        if name == "yardstick":
            month = self.documents[0].effect_date[:7]
            self.rows = rows_since(self.connections["ours"], self.last_number, month)
            return
        if self.documents:
            self.last_number = self.documents[-1].number
            self.first_day += datetime.timedelta(days=DAYS_POSTED)
        shape = BookShape(
            skus=self.sizes.skus,
            documents=self.sizes.posted_documents,
            first_day=self.first_day,
            days=DAYS_POSTED,
            first_number=self.last_number + 1,
        )
        self.documents = list(make_documents(shape))

    def post(self) -> None:
        """Post the batch as the commands do."""
        post_batch(self.connections["ours"], self.documents)

    def insert(self) -> None:
        """Insert the rows that posting it wrote."""
        insert_rows(self.connections["yardstick"], self.rows)

    def close(self) -> None:
        """Close both books."""
        for connection in self.connections.values():
            connection.close()


def _months() -> list[str]:
    return list(months_between(f"{FIRST_YEAR}-01", LAST_MONTH))
