"""All benchmarks with one command: `python -m tests.benchmarks.run [--legs 1000000] [--quick]`.

Prints one table of ratios. Seconds depend on the machine and on what else it does; a ratio to a
yardstick timed in turn with it hardly does. Nothing is asserted.
"""

from __future__ import annotations

import argparse
import random
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path

HERE = Path(__file__).resolve().parent
for place in (HERE, HERE.parents[1]):
    # Run as a file or as a module, from a checkout that need not be installed.
    if str(place) not in sys.path:
        sys.path.insert(0, str(place))

from big_books import (  # noqa: E402
    COLOURS,
    SIZES,
    STYLES,
    SUPPLIERS,
    BookShape,
    make_big_book,
    make_documents,
    make_empty_book,
    make_items,
    post_batch,
)
from measuring import Row, peak_mebibytes, run_command, run_python, side_by_side, table  # noqa: E402
from yardsticks import (  # noqa: E402
    fill_columns,
    imports_only,
    insert_rows,
    posted_rows,
    read_workbook,
)

from ledger.book.connect import open_reading, open_writing  # noqa: E402
from ledger.book.proving import prove  # noqa: E402
from ledger.costing.replay import Movements, replay  # noqa: E402

MID_MONTH, MONTH_END = "2025-06-15", "2025-06-30"


@dataclass(frozen=True, slots=True)
class Sizes:
    """How large everything is, and how many rounds are timed."""

    small_legs: int = 10_000
    middle_legs: int = 100_000
    big_legs: int = 1_000_000
    skus: int = 500
    issues: int = 1_000_000
    lots: int = 100_000
    documents: int = 20_000
    invoice_lines: int = 5_000
    starts: int = 21
    rounds: int = 5
    prove_the_big: bool = True


QUICK = Sizes(big_legs=200_000, starts=11, rounds=3, prove_the_big=False)
TINY = Sizes(
    small_legs=200,
    middle_legs=400,
    big_legs=400,
    skus=24,
    issues=400,
    lots=40,
    documents=60,
    invoice_lines=12,
    starts=1,
    rounds=1,
    prove_the_big=False,
)


class Bench:
    """The books of one run, made when they are first asked for, and the rows measured on them."""

    def __init__(self, folder: Path, sizes: Sizes, tell: Callable[[str], None]) -> None:
        self.folder = folder
        self.sizes = sizes
        self.tell = tell

    def book(self, legs: int) -> Path:
        """Return the book of about ``legs`` legs."""
        path = self.folder / f"legs-{legs}-skus-{self.sizes.skus}.blankbook"
        if not path.exists():
            self.tell(f"making a book of {legs} legs")
            draft = path.with_suffix(".draft")
            draft.unlink(missing_ok=True)
            make_big_book(draft, BookShape(legs, self.sizes.skus))
            draft.rename(path)
        return path

    def rows(self) -> Iterator[Row]:
        """Yield every row of the table."""
        for measure in (
            self.start_up,
            self.stock,
            self.costing,
            self.posting,
            self.invoice,
            self.one_receipt,
            self.proving,
            self.memory,
        ):
            self.tell(f"measuring {measure.__name__.replace('_', ' ')}")
            for row in measure():
                self.tell(f"  {row.what}: {row.ratio:.2f}")
                yield row

    def start_up(self) -> Iterator[Row]:
        """A reading command from start to end, against importing what every command imports."""
        book = str(self.book(self.sizes.small_legs))
        seconds = side_by_side(
            {
                "ours": lambda: run_python(["-m", "ledger", "--book", book, "stock", "--json"]),
                "yardstick": lambda: run_python(imports_only()),
            },
            self.sizes.starts,
        )
        yield Row(
            "start-up: stock --json", seconds["ours"], seconds["yardstick"], "s", "import typer, sqlite3", 3
        )

    def stock(self) -> Iterator[Row]:
        """Stock on the big book against the small one, without the interpreter's start."""
        big, small = self.book(self.sizes.big_legs), self.book(self.sizes.small_legs)
        for what, words in (
            ("stock", ("stock", "--json")),
            ("stock --on, mid-month", ("stock", "--json", "--on", MID_MONTH)),
            ("stock --on, month's last day", ("stock", "--json", "--on", MONTH_END)),
        ):
            run_command(small, *words)
            seconds = side_by_side(
                {
                    "big": lambda words=words: run_command(big, *words),
                    "small": lambda words=words: run_command(small, *words),
                },
                2 * self.sizes.rounds + 1,
            )
            yield Row(
                f"{what}: {self.sizes.big_legs} legs",
                seconds["big"],
                seconds["small"],
                "s",
                self._same_on_small(),
                1.5,
            )

    def _same_on_small(self) -> str:
        return f"the same on {self.sizes.small_legs} legs"

    def costing(self) -> Iterator[Row]:
        """Costing issues over lots against filling the same columns; processor time, for nothing is read."""
        movements = issues_over_lots(self.sizes.issues, self.sizes.lots)
        seconds = side_by_side(
            {"ours": lambda: replay((), movements), "yardstick": lambda: fill_columns(movements)},
            self.sizes.rounds,
            clock=time.process_time,
        )
        what = f"costing: {self.sizes.issues} issues, {self.sizes.lots} lots"
        yield Row(what, seconds["ours"], seconds["yardstick"], "s", "a loop that fills the same columns", 2)

    def posting(self) -> Iterator[Row]:
        """Posting a large batch against inserting the very same rows."""
        shape = BookShape(max(self.sizes.documents * 5, self.sizes.small_legs), self.sizes.skus)
        documents = list(islice(make_documents(shape), self.sizes.documents))
        empty, work = self.folder / "empty.blankbook", self.folder / "work.blankbook"
        if not empty.exists():
            make_empty_book(empty, self.sizes.skus)
        shutil.copyfile(empty, work)
        connection = open_writing(work)
        post_batch(connection, documents)
        rows = posted_rows(connection)

        def anew(_: str) -> None:
            nonlocal connection
            connection.close()
            shutil.copyfile(empty, work)
            connection = open_writing(work)

        seconds = side_by_side(
            {
                "ours": lambda: post_batch(connection, documents),
                "yardstick": lambda: insert_rows(connection, rows),
            },
            self.sizes.rounds,
            before=anew,
        )
        connection.close()
        what = f"posting {len(documents)} documents"
        yield Row(what, seconds["ours"], seconds["yardstick"], "s", "executemany of the same rows", 3)

    def invoice(self) -> Iterator[Row]:
        """Receiving a large workbook against openpyxl merely reading it."""
        file = self.folder / "invoice.xlsx"
        write_invoice(file, self.sizes.invoice_lines)
        empty, work = self.folder / "empty.blankbook", self.folder / "work.blankbook"
        words = (
            "receive",
            str(file),
            "--profile",
            "one-row-per-size",
            "--party",
            SUPPLIERS[0],
            "--add-items",
        )
        charge = ("--charge", "freight 182.40 by value")

        def anew(_: str) -> None:
            shutil.copyfile(empty, work)

        anew("")
        run_command(work, *words, *charge, "--dry-run")
        seconds = side_by_side(
            {
                "--dry-run": lambda: run_command(work, *words, *charge, "--dry-run"),
                "--yes": lambda: run_command(work, *words, *charge, "--yes"),
                "yardstick": lambda: read_workbook(file),
            },
            self.sizes.rounds,
            before=anew,
        )
        for how in ("--dry-run", "--yes"):
            what = f"receive {how}: {self.sizes.invoice_lines} lines"
            yield Row(what, seconds[how], seconds["yardstick"], "s", "openpyxl reading the file")

    def one_receipt(self) -> Iterator[Row]:
        """One receipt posted on the big book against the small one."""
        sizes = {"big": self.sizes.big_legs, "small": self.sizes.small_legs}
        copies = {name: self.folder / f"copy-of-{name}.blankbook" for name in sizes}
        for name, legs in sizes.items():
            shutil.copyfile(self.book(legs), copies[name])
        blank = make_items(self.sizes.skus)[-1].sku
        posted = dict.fromkeys(sizes, 0)

        def receive(name: str) -> None:
            posted[name] += 1
            one = ("receive", "--sku", blank, "--quantity", "12", "--amount", f"{40 + posted[name]}.20")
            run_command(copies[name], *one, "--party", SUPPLIERS[0], "--date", "2026-01-10", "--yes")

        receive("small")
        seconds = side_by_side(
            {name: (lambda name=name: receive(name)) for name in sizes}, 2 * self.sizes.rounds + 1
        )
        for copy in copies.values():
            copy.unlink()
        what = f"one receipt: {self.sizes.big_legs} legs"
        yield Row(what, seconds["big"], seconds["small"], "s", self._same_on_small())

    def proving(self) -> Iterator[Row]:
        """Proving per thousand legs as the book grows; processor time, for the big one is proved once."""
        per_leg = {}
        for legs in self._proved():
            connection = open_reading(self.book(legs))
            proof = prove(connection)
            if not proof.is_whole:
                raise RuntimeError(f"the book of {legs} legs is not whole: {proof.findings[0]}")
            rounds = self.sizes.rounds if legs <= self.sizes.middle_legs else 1
            proving = {"ours": lambda c=connection: prove(c)}
            seconds = side_by_side(proving, rounds, clock=time.process_time)["ours"]
            connection.close()
            per_leg[legs] = seconds / proof.legs
        small = self.sizes.small_legs
        for legs, seconds in per_leg.items():
            what, against = f"prove per 1000 legs: {legs} legs", f"the same on {small} legs"
            yield Row(
                what, 1000 * seconds, 1000 * per_leg[small], "s", against, None if legs == small else 1.5
            )

    def _proved(self) -> list[int]:
        """Return the sizes that are proved; the big one takes minutes."""
        sizes = [self.sizes.small_legs, self.sizes.middle_legs]
        return [*sizes, self.sizes.big_legs] if self.sizes.prove_the_big else sizes

    def memory(self) -> Iterator[Row]:
        """Peak memory of reading commands."""
        small = self.sizes.small_legs
        for words, books in (("stock", [self.sizes.big_legs]), ("prove", self._proved()[1:])):
            least = peak_mebibytes(self.book(small), words)
            for legs in books:
                peak = peak_mebibytes(self.book(legs), words)
                yield Row(f"peak memory, {words}: {legs} legs", peak, least, "MiB", self._same_on_small())


def issues_over_lots(issues: int, lots: int, skus: int = 500, seed: int = 3) -> Movements:
    """Return movements of lots of two dozen pieces and the issues of one to three that use them up."""
    chance = random.Random(seed)  # noqa: S311  (made-up shops, not secrets)
    movements = Movements()
    names = [f"SKU-{number:03}" for number in range(min(skus, lots))]
    on_hand = dict.fromkeys(names, 0)
    in_stock: list[str] = []

    def put(sku: str, *, arrives: bool, pieces: int, amount: int) -> None:
        movements.document.append(len(movements) + 1)
        movements.line.append(1)
        movements.effect_date.append("2016-01-04")
        movements.sku.append(sku)
        movements.arrives.append(arrives)
        movements.account.append("purchases" if arrives else "pieces sold")
        movements.quantity.append(1000 * pieces)
        movements.amount.append(amount)
        movements.expensed.append(0)

    issued = 0
    for number in range(lots):
        sku = names[number] if number < len(names) else chance.choice(names)
        put(sku, arrives=True, pieces=24, amount=chance.randint(6_000, 18_000))
        if not on_hand[sku]:
            in_stock.append(sku)
        on_hand[sku] += 24
        while issued < issues * (number + 1) // lots:
            place = chance.randrange(len(in_stock))
            sku = in_stock[place]
            pieces = min(chance.randint(1, 3), on_hand[sku])
            put(sku, arrives=False, pieces=pieces, amount=0)
            issued += 1
            on_hand[sku] -= pieces
            if not on_hand[sku]:
                in_stock[place] = in_stock[-1]
                in_stock.pop()
    return movements


def write_invoice(path: Path, lines: int) -> None:
    """Write a supplier's invoice with one row for every style, colour and size.

    The first 440 of 5,000 lines are of items the large books know; the others are new to them, as
    all are to a shop on its first day.
    """
    import openpyxl  # noqa: PLC0415  (slow, and only needed here)

    chance = random.Random(5)  # noqa: S311  (made-up shops, not secrets)
    workbook = openpyxl.Workbook(write_only=True)
    sheet = workbook.create_sheet("Invoice")
    sheet.append(["Invoice no.", "L-5000", None, "Date", "01/08/2026"])
    sheet.append(["Currency", "USD"])
    sheet.append([])
    sheet.append(["Style", "Colour", "Size", "Description", "Quantity", "Unit", "Unit price", "Amount"])
    total = 0
    for number in range(lines):
        style = STYLES[number // (len(SIZES) * len(COLOURS)) % len(STYLES)]
        colour, size = COLOURS[number // len(SIZES) % len(COLOURS)], SIZES[number % len(SIZES)]
        series = number // (len(SIZES) * len(COLOURS) * len(STYLES))
        style = f"{style}{series}" if series else style
        pieces, cents = 12 * chance.randint(1, 6), chance.randint(285, 615)
        total += pieces * cents
        amounts = [pieces, "each", cents / 100, round(pieces * cents / 100, 2)]
        sheet.append([style, colour, size, f"{style} tee", *amounts])
    sheet.append(["Total", None, None, None, None, None, None, round(total / 100, 2)])
    workbook.save(path)


def main(arguments: list[str] | None = None) -> None:
    """Run everything and print the table; what is being done is told on stderr."""
    parser = argparse.ArgumentParser(description="Timings as ratios to committed yardsticks.")
    parser.add_argument("--legs", type=int, help="legs of the big book; one million if left out")
    parser.add_argument("--quick", action="store_true", help="a smaller big book, which is not proved")
    parser.add_argument("--tiny", action="store_true", help="a few hundred legs: does everything still run?")
    parser.add_argument("--books", type=Path, help="a folder to keep the books in for the next run")
    told = parser.parse_args(arguments)
    sizes = TINY if told.tiny else QUICK if told.quick else Sizes()
    if told.legs:
        sizes = replace(sizes, big_legs=told.legs)
    with tempfile.TemporaryDirectory() as temporary:
        folder = told.books or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        bench = Bench(folder, sizes, lambda text: print(text, file=sys.stderr, flush=True))  # noqa: T201
        print(table(list(bench.rows())))  # noqa: T201


if __name__ == "__main__":
    main()
