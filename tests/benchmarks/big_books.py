"""Large books in the shape of a real shop, the same for the same seed: 10 thousand to 1 million legs.

A shop of some five hundred SKUs: blanks in styles, colours and sizes, and the consumables of
decorating. Restocking comes in receipts of a style and colour with freight and duty on them;
most documents are sales of one to three pieces and uses of material. Everything is posted
through the book's own functions, in date order and in large batches.
"""

from __future__ import annotations

import datetime
import hashlib
import random
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from ledger.book.catalogue_store import ensure_party, save_items
from ledger.book.connect import create, open_writing, publish, write_tx
from ledger.book.documents import NewDocument, NewLine, NewShare, insert_documents
from ledger.book.recosting import recost
from ledger.book.shop import write_shop
from ledger.catalogue.items import Item
from ledger.costing.spreading import spread

FIRST_YEAR = 2016
YEARS = 10
LAST_DAY = datetime.date(FIRST_YEAR + YEARS, 1, 1) - datetime.timedelta(days=1)
BATCH_DOCUMENTS = 20_000
SKUS = 500

STYLES = ("Plover", "Wren", "Linnet", "Siskin", "Dunlin", "Pipit", "Knot", "Teal", "Rook", "Swift", "Merlin")
COLOURS = ("Chalk", "Coal", "Moss", "Rust", "Plum", "Slate", "Straw", "Brine")
SIZES = ("S", "M", "L", "XL", "2XL")
SIZE_PRICE_CENTS = {"2XL": 140}
SUPPLIERS = ("Alder Yard Blanks", "Brook Lane Goods", "Cobble Hill Supply", "Dell Street Papers")


@dataclass(frozen=True, slots=True)
class Consumable:
    """A kind of consumable: how many SKUs of it, in what quantities it comes and goes.

    Quantities are whole base units; ``cents_per_lot`` is what a lot of ``lot_units`` costs.
    """

    kind: str
    unit: str
    tax_class: str
    skus: int
    lot_units: int
    use_units: tuple[int, int]
    cents_per_lot: int


CONSUMABLES = (
    Consumable("vinyl", "cm2", "goods", 20, 13_700, (250, 1_100), 4_150),
    Consumable("ink", "mL", "goods", 8, 1_000, (4, 60), 6_900),
    Consumable("film", "sheet", "supplies when used", 6, 100, (1, 12), 3_480),
    Consumable("paper", "sheet", "supplies when used", 6, 110, (1, 12), 1_790),
    Consumable("powder", "g", "goods", 3, 1_000, (10, 90), 2_260),
    Consumable("stones", "each", "goods", 6, 1_440, (20, 160), 1_330),
    Consumable("transfer", "each", "goods", 6, 50, (1, 5), 4_700),
    Consumable("packaging", "each", "supplies when used", 4, 250, (5, 30), 3_100),
)

LOW_PIECES, NEARLY_LOW_PIECES = 4, 9
OTHER_LEAVING = ("spoil", "sample", "donate", "own use")


@dataclass(frozen=True, slots=True)
class BookShape:
    """How large a book is to be, over at most ``skus`` items, by ``seed``.

    About ``legs`` legs, or where that is 0 about ``documents`` documents; one has four legs on average.
    They are numbered from ``first_number`` and spread over ``days`` days from ``first_day``; the first
    day's receipts fill the shelf. ``has_closes`` leaves a number at the end of each month to its close.
    """

    legs: int = 0
    skus: int = SKUS
    seed: int = 7
    documents: int = 0
    first_day: datetime.date = datetime.date(FIRST_YEAR, 1, 1)
    days: int = (LAST_DAY - datetime.date(FIRST_YEAR, 1, 1)).days + 1
    first_number: int = 1
    has_closes: bool = False


def make_items(skus: int) -> list[Item]:
    """Return the catalogue: consumables for an eighth of the SKUs, blanks for the rest."""
    consumables = [
        Item(
            sku=f"{one.kind.upper()}-{number:02}",
            name=f"{one.kind.capitalize()} {number}",
            kind=one.kind,
            tax_class=one.tax_class,
            base_unit=one.unit,
            weight_mg=1_500,
        )
        for number in range(1, max(one.skus for one in CONSUMABLES) + 1)
        for one in CONSUMABLES
        if number <= one.skus
    ]
    blanks = [
        Item(
            sku=f"{style}-{colour}-{size}".upper(),
            name=f"{style} tee, {colour.lower()}, {size}",
            kind="blank",
            tax_class="goods",
            base_unit="each",
            style=style,
            colour=colour,
            size=size,
            ladder="adult",
            weight_mg=150_000 + 12_000 * SIZES.index(size),
        )
        for style in STYLES
        for colour in COLOURS
        for size in SIZES
    ]
    few = consumables[: max(1, skus // 8)]
    return [*few, *blanks[: max(1, skus - len(few))]]


def make_empty_book(path: Path, skus: int = SKUS) -> None:
    """Make a book with its catalogue and suppliers and no document."""
    connection = create(path)
    with write_tx(connection):
        shop = {
            "name": "Large shop",
            "currency": "USD",
            "first_month": f"{FIRST_YEAR}-01",
            "country": "US",
            "tax_year_starts": "01",
        }
        write_shop(connection, shop, {}, f"{FIRST_YEAR}-01-01T08:00:00Z")
        save_items(connection, make_items(skus), [])
        for supplier in SUPPLIERS:
            ensure_party(connection, supplier)
    publish(connection, path)


def make_big_book(path: Path, shape: BookShape, batch_documents: int = BATCH_DOCUMENTS) -> None:
    """Make a book of the shape at ``path``, posted in batches of about ``batch_documents``."""
    make_empty_book(path, shape.skus)
    connection = open_writing(path)
    # Nobody reads the book before it is whole; a page cache of half a gigabyte holds its indexes.
    connection.execute("PRAGMA synchronous = OFF")
    connection.execute("PRAGMA cache_size = -500000")
    try:
        batch: list[NewDocument] = []
        for document in make_documents(shape):
            # A receipt's charges come in its batch: later ones would have its items replayed.
            if len(batch) >= batch_documents and document.follows is None:
                post_batch(connection, batch)
                batch = []
            batch.append(document)
        post_batch(connection, batch)
    finally:
        connection.close()


def post_batch(connection: sqlite3.Connection, documents: list[NewDocument]) -> None:
    """Post documents in one transaction, as the commands do."""
    with write_tx(connection):
        insert_documents(connection, documents)
        recost(connection, documents)


def make_documents(shape: BookShape) -> Iterator[NewDocument]:
    """Yield the documents of a book, in date order."""
    return _Shop(shape).documents()


class _Shop:
    """The shop while its history is made up: what is on the shelf, and the next number."""

    def __init__(self, shape: BookShape) -> None:
        self.random = random.Random(shape.seed)  # noqa: S311  (made-up shops, not secrets)
        self.items = make_items(shape.skus)
        self.shape = shape
        self.legs = 0
        self.number = shape.first_number - 1
        self.on_hand: dict[str, int] = {item.sku: 0 for item in self.items}
        self.consumable = {one.kind: one for one in CONSUMABLES}
        self.blanks = [item for item in self.items if item.kind == "blank"]
        self.materials = [item for item in self.items if item.kind != "blank"]
        # A few styles sell most: the n-th seller sells as 1/(n + 8).
        order = self.random.sample(self.blanks, len(self.blanks))
        self.popularity = {item.sku: 1 / (place + 8) for place, item in enumerate(order)}
        self.weights = [self.popularity[item.sku] for item in self.blanks]

    def documents(self) -> Iterator[NewDocument]:
        """Yield documents from the first day to the last, spread evenly over the days."""
        first, days = self.shape.first_day, self.shape.days
        yield from self._restock([*self.materials, *self.blanks], first.isoformat())
        opened_with, wanted = self._so_far(), self.shape.legs or self.shape.documents
        for day in range(1, days):
            date = first + datetime.timedelta(days=day)
            today = date.isoformat()
            self.number += self.shape.has_closes and date.day == 1
            due = opened_with + (wanted - opened_with) * day // (days - 1)
            yield from self._restock(self._running_low(), today)
            while self._so_far() < due:
                yield self._leaving(today)

    def _so_far(self) -> int:
        if self.shape.legs:
            return self.legs
        return self.number + 1 - self.shape.first_number

    def _next_number(self) -> int:
        self.number += 1
        return self.number

    def _running_low(self) -> list[Item]:
        """Return what is to be bought: what runs low, and what nearly does of the same style and colour."""
        low = [item for item in self.items if self.on_hand[item.sku] < self._low(item)]
        colours = {(item.style, item.colour) for item in low if item.style}
        nearly = [
            item
            for item in self.blanks
            if (item.style, item.colour) in colours and self.on_hand[item.sku] < NEARLY_LOW_PIECES
        ]
        return [*(item for item in low if not item.style), *nearly]

    def _low(self, item: Item) -> int:
        if item.kind == "blank":
            return LOW_PIECES
        return 2 * self.consumable[item.kind].use_units[1]

    def _restock(self, items: list[Item], today: str) -> Iterator[NewDocument]:
        """Yield receipts of at most 24 lines, each with its freight bill and now and then a duty bill."""
        for start in range(0, len(items), 24):
            receipt = self._receipt(items[start : start + 24], today)
            yield receipt
            yield self._charge(receipt, "freight", "weight", 40 + receipt.total // 30)
            if self.random.random() < 0.25:
                yield self._charge(receipt, "duty", "value", receipt.total * 165 // 1000)

    def _receipt(self, items: list[Item], today: str) -> NewDocument:
        lines = tuple(self._receipt_line(place, item) for place, item in enumerate(items, 1))
        number = self._next_number()
        self.legs += 2 * len(lines)
        total = sum(line.amount for line in lines)
        return NewDocument(
            number=number,
            event="receipt",
            document_date=today,
            effect_date=today,
            arrived_on=today,
            recorded_at=f"{today}T18:00:00Z",
            currency="USD",
            party=self.random.choice(SUPPLIERS),
            reference=f"INV{number}",
            total_foreign=total,
            total=total,
            content_sha256=hashlib.sha256(f"receipt {number}".encode()).hexdigest(),
            lines=lines,
        )

    def _receipt_line(self, place: int, item: Item) -> NewLine:
        if item.kind == "blank":
            dozens = 1 + round(90 * self.popularity[item.sku] * self.random.random())
            pieces = 12 * min(dozens, 6)
            cents = pieces * (285 + self.random.randrange(190) + SIZE_PRICE_CENTS.get(item.size, 0))
        else:
            consumable = self.consumable[item.kind]
            lots = self.random.randint(1, 3)
            pieces = lots * consumable.lot_units
            cents = lots * consumable.cents_per_lot * self.random.randint(92, 112) // 100
        line = NewLine(
            line=place,
            sku=item.sku,
            kind=item.kind,
            tax_class=item.tax_class,
            unit=item.base_unit,
            unit_quantity=str(pieces),
            quantity_milli=1000 * pieces,
            amount_foreign=cents,
            amount=cents,
            weight_mg=pieces * (item.weight_mg or 1),
            tax_paid="resale",
        )
        self.on_hand[item.sku] += pieces
        if item.kind == "blank" and self.random.random() < 0.04:
            line = self._with_a_loss(line, pieces, cents)
        return line

    def _with_a_loss(self, line: NewLine, pieces: int, cents: int) -> NewLine:
        """Return the line with one piece missing or damaged."""
        self.on_hand[line.sku or ""] -= 1
        self.legs += 1
        how = self.random.randrange(3)
        if how == 0:
            return replace(line, claimed_milli=1000, claimed_amount=cents // pieces)
        return replace(line, normal_milli=1000) if how == 1 else replace(line, expensed_milli=1000)

    def _charge(self, receipt: NewDocument, kind: str, basis: str, cents: int) -> NewDocument:
        weights = [
            (line.weight_mg or 1) if basis == "weight" else line.amount - line.claimed_amount
            for line in receipt.lines
        ]
        shares = tuple(
            NewShare(
                line=1,
                receipt_document=receipt.number,
                receipt_line=line.line,
                position=line.line,
                weight=weight,
                amount=share,
                path="with receipt",
                effect_date=receipt.effect_date,
            )
            for line, weight, share in zip(receipt.lines, weights, spread(cents, weights), strict=True)
        )
        number = self._next_number()
        self.legs += 2 * len(shares)
        return NewDocument(
            number=number,
            event="charge",
            document_date=receipt.effect_date,
            effect_date=receipt.effect_date,
            recorded_at=receipt.recorded_at,
            currency="USD",
            party=receipt.party,
            reference=f"BILL{number}",
            path="with receipt",
            follows=receipt.number,
            total_foreign=cents,
            total=cents,
            content_sha256=hashlib.sha256(f"charge {number}".encode()).hexdigest(),
            lines=(
                NewLine(
                    line=1, role="charge", amount_foreign=cents, amount=cents, charge_kind=kind, basis=basis
                ),
            ),
            shares=shares,
        )

    def _leaving(self, today: str) -> NewDocument:
        """Return a sale, a use of material or something rarer, of what is on the shelf."""
        chance = self.random.random()
        if chance < 0.66:
            event, wanted = (
                "sale",
                self.random.choices(self.blanks, self.weights, k=self.random.choice((1, 1, 2, 3))),
            )
        elif chance < 0.93:
            event, wanted = "use", self.random.sample(self.materials, min(3, len(self.materials)))
        else:
            event, wanted = self.random.choice(OTHER_LEAVING), [self.random.choice(self.blanks)]
        leaving = [(item, self._units(item)) for item in {item.sku: item for item in wanted}.values()]
        there = [(item, units) for item, units in leaving if units]
        if not there:
            most = max(self.items, key=lambda item: self.on_hand[item.sku])
            event, there = "use", [(most, 1)]
        return self._leaving_document(event, there, today)

    def _units(self, item: Item) -> int:
        """Return how much of the item leaves, at most what is there."""
        if item.kind == "blank":
            units = self.random.choice((1, 1, 1, 2, 3))
        else:
            units = self.random.randint(*self.consumable[item.kind].use_units)
        return min(units, self.on_hand[item.sku])

    def _leaving_document(self, event: str, leaving: list[tuple[Item, int]], today: str) -> NewDocument:
        lines = []
        for place, (item, units) in enumerate(leaving, 1):
            self.on_hand[item.sku] -= units
            self.legs += 2
            lines.append(
                NewLine(
                    line=place,
                    sku=item.sku,
                    kind=item.kind,
                    tax_class=item.tax_class,
                    unit=item.base_unit,
                    unit_quantity=str(units),
                    quantity_milli=1000 * units,
                    amount=1900 * units if event == "sale" else 0,
                )
            )
        number = self._next_number()
        return NewDocument(
            number=number,
            event=event,
            document_date=today,
            effect_date=today,
            recorded_at=f"{today}T20:00:00Z",
            currency="USD",
            reference=f"S{number}" if event == "sale" else "",
            lines=tuple(lines),
        )
