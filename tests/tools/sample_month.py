"""What the sample shop's March must give, first in, first out, worked out apart from the program.

Every lot is a list of layers on a shelf; one document after the other, in the design's order, takes
from the front. Money is in whole cents, quantities in thousandths of base units; parts are fractions.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any

import sample_events as events
import sample_shop as shop
from sample_bills import BILLS, SampleBill, used_by
from sample_catalogue import base_unit_of, kind_of
from sample_costs import CostLine, money, plain, shared_out, whole
from sample_events import Event
from sample_shelf import Layer, Lot, Taking

FIRST_DOCUMENT = 22
"""The first document of the events sheet: order, shipment, receipts, charges and closes have the first 21."""

_RECEIPT, _JOB, _LEAVING, _COUNT, _WRITE_DOWN = 1, 3, 5, 6, 7
_RANK = {"receive": _RECEIPT, "make": _JOB, "count": _COUNT, "refund": _WRITE_DOWN, "write_down": _WRITE_DOWN}
"""The place within a day: receipts, jobs, what leaves and comes back, counts, write-downs."""
_ACCOUNT = {
    "sell": "pieces sold",
    "take_back": "pieces sold",
    "use": "used",
    "spoil": "spoilage",
    "own_use": "own use",
    "sample": "samples",
    "donate": "donations",
}
_GRAMS_PER_ML = {"INK-SUB-K": Fraction("1.08")}
"""The ink that is counted by its weight in the sheet, with its density."""
_COLOURS = {code: colour for colour, code in shop.COLOUR_CODES.items()} | {"NVY": "Navy", "MOS": "Moss"}


@dataclass
class Document:
    """One document of the month: the rows it was made of, and what it comes to."""

    number: int
    day: int
    rank: int
    event: str
    rows: tuple[int, ...]
    made_for: int = 0
    pieces: int = 0
    takings: list[Taking] = field(default_factory=list)


class Month:
    """The month, document by document; ``lines`` are the lots of the receipts before it."""

    def __init__(self, lines: Iterable[tuple[tuple[int, int], dt.date, CostLine]]) -> None:
        self.lots: dict[str, list[Lot]] = defaultdict(list)
        for place, on, line in lines:
            if line.is_stocked:
                layer = Layer(line.kept_milli, line.landed, 1000 * line.expensed)
                order = (on, _RECEIPT, *place)
                self._arrive(
                    Lot(place, line.sku, order, line.kept_milli, line.landed, line.invoice_cost, [layer])
                )
        self.opening = self.value()
        self.accounts: dict[str, int] = defaultdict(int)
        self.costs: dict[int, int] = {}
        self.credit: dict[int, int] = {}
        self.jobs: list[dict[str, Any]] = []
        self.counted: list[dict[str, str]] = []
        self.documents = _documents()
        self.sales: dict[tuple[str, str], Document] = {}
        for document in sorted(self.documents, key=lambda one: (one.day, one.rank, one.number)):
            self._post(document)
        self._count_at_the_end(max(one.number for one in self.documents) + 1)

    def value(self) -> int:
        """Return what everything on the shelf stands at."""
        return sum(lot.value for lots in self.lots.values() for lot in lots)

    def _arrive(self, lot: Lot) -> None:
        self.lots[lot.sku].append(lot)
        self.lots[lot.sku].sort(key=lambda one: one.order)

    def _take(self, sku: str, quantity: int, first: Sequence[Lot] = ()) -> list[Taking]:
        takings = []
        for lot in (*first, *self.lots[sku]):
            part = min(quantity, lot.left)
            if part:
                takings.append(Taking(lot, part, lot.take(part)))
                quantity -= part
        assert quantity == 0, f"{sku} lacks {quantity}"
        return takings

    def _post(self, document: Document) -> None:
        if document.event == "make":
            self._make(document)
            return
        row = events.EVENTS[document.rows[0]]
        if document.event == "receive":
            self._receive(document)
        elif document.event == "take_back":
            self._take_back(document, row)
        elif document.event == "send_back":
            self._send_back(document, row)
        elif document.event == "count":
            place = (document.number, 1)
            self.costs[document.rows[0]] = -self._count(place, row.sku, _milli(row), row.date)
        elif document.event == "write_down":
            self._write_down(document, row)
        elif document.event in _ACCOUNT:
            document.takings = self._take(row.sku, _milli(row))
            self.sales[(row.sku, row.reference)] = document
            cost = sum(taking.cost for taking in document.takings)
            self.costs[document.rows[0]] = cost
            self.accounts[_ACCOUNT[document.event]] += cost

    def _receive(self, document: Document) -> None:
        rows = [events.EVENTS[place] for place in document.rows]
        (charge,) = [row for row in events.EVENTS if row.event == "charge"]
        shares = shared_out(_cents(charge.amount), [_milli(row) for row in rows])
        for line, (place, row, share) in enumerate(zip(document.rows, rows, shares, strict=True), start=1):
            invoice = _cents(row.amount)
            order = (row.date, _RECEIPT, document.number, line)
            layer = Layer(_milli(row), invoice + share)
            lot = Lot((document.number, line), row.sku, order, layer.quantity, layer.amount, invoice, [layer])
            self._arrive(lot)
            self.costs[place] = lot.landed
            self.accounts["purchases"] += invoice
        self.accounts["charges"] += sum(shares)
        self.costs[events.EVENTS.index(charge)] = sum(shares)

    def _make(self, document: Document) -> None:
        row = events.EVENTS[document.rows[0]]
        bill, blank, colour = _bill_of(row.sku)
        pieces, labour = _pieces(document), _labour(document, bill)
        total_pieces = sum(pieces.values())
        components = []
        for sku, quantity in used_by(bill, total_pieces, blank, colour).items():
            cost = sum(taking.cost for taking in self._take(sku, quantity))
            components.append({"sku": sku, "quantity": plain(quantity), "cost": money(cost)})
        total = labour + sum(_cents(part["cost"]) for part in components)
        kept = 1000 * (total_pieces - pieces["normal"])
        layer = Layer(kept, total)
        place = (document.number, len(components) + bool(labour) + 1)
        order = (row.date, _JOB, *place)
        self._arrive(Lot(place, row.sku, order, kept, total, total, [layer]))
        spoiled = layer.take(1000 * pieces["abnormal"])
        self.accounts["labour"] += labour
        self.accounts["spoilage"] += spoiled
        if not document.made_for:
            shares = {"good": total - spoiled, "normal": 0, "abnormal": spoiled}
            self.costs |= {place: shares[events.EVENTS[place].kind or "good"] for place in document.rows}
        self.jobs.append(
            {
                "document": document.number,
                "date": row.date.isoformat(),
                "reference": row.reference,
                "made_to_order": bool(document.made_for),
                "bill": bill.code,
                "way": bill.way,
                "sku": row.sku,
                **{kind: str(count) for kind, count in pieces.items()},
                "labour": money(labour),
                "components": components,
                "total": money(total),
                "cost_each": f"{Decimal(whole(Fraction(total * 100_000, kept))) / 10_000:.4f}",
            }
        )

    def _take_back(self, document: Document, row: Event) -> None:
        """Put back what the sale took, last first, at the front of the lots it came from."""
        sale, missing = self.sales[(row.sku, row.reference)], _milli(row)
        assert document.day > sale.day
        for taking in reversed(sale.takings):
            part = min(missing, taking.quantity)
            worth = taking.cost - whole(Fraction(taking.cost * (taking.quantity - part), taking.quantity))
            if part:
                taking.lot.layers.insert(0, Layer(part, worth))
                self.costs[document.rows[0]] = self.costs.get(document.rows[0], 0) + worth
            missing -= part
        self.accounts["pieces sold"] -= self.costs[document.rows[0]]

    def _send_back(self, document: Document, row: Event) -> None:
        """Take from the lot named; credited is its invoice cost, the charges on it are a difference."""
        (lot,) = [one for one in self.lots[row.sku] if one.place[0] == 1]
        takings = self._take(row.sku, _milli(row), [lot])
        cost = sum(taking.cost for taking in takings)
        credit = sum(
            whole(Fraction(taking.lot.invoice * taking.quantity, taking.lot.received)) for taking in takings
        )
        self.costs[document.rows[0]], self.credit[document.rows[0]] = cost, credit
        self.accounts["returned to supplier"] += credit
        self.accounts["supplier price differences"] += cost - credit

    def _write_down(self, document: Document, row: Event) -> None:
        layers = [(lot, layer) for lot in self.lots[row.sku] for layer in lot.layers if layer.left]
        loss = min(_cents(row.amount), sum(layer.value for _, layer in layers))
        shares = shared_out(loss, [layer.value for _, layer in layers])
        for (lot, layer), share in zip(layers, shares, strict=True):
            lot.layers[lot.layers.index(layer)] = Layer(layer.left, layer.value - share)
        self.costs[document.rows[0]] = loss
        self.accounts["write-downs"] += loss

    def _count_at_the_end(self, number: int) -> None:
        """Bring the shelf to what the count's file says, in a document of its own."""
        self.count_document = number
        for line, (sku, quantity, _) in enumerate(events.COUNTED, start=1):
            counted, expected = whole(Fraction(quantity) * 1000), sum(lot.left for lot in self.lots[sku])
            amount = self._count((number, line), sku, counted, events.COUNT_DAY)
            self.counted.append(
                {
                    "sku": sku,
                    "in_the_book": plain(expected),
                    "counted": plain(counted),
                    "difference": plain(counted - expected),
                    "amount": money(amount),
                }
            )

    def _count(self, place: tuple[int, int], sku: str, counted: int, on: dt.date) -> int:
        """Bring one item to what was counted and return what that put onto the shelf.

        Losses leave first in, first out; gains come in at the latest cost.
        """
        expected, amount = sum(lot.left for lot in self.lots[sku]), 0
        if counted < expected:
            amount = -sum(taking.cost for taking in self._take(sku, expected - counted))
        elif counted > expected:
            last, gain = self.lots[sku][-1], counted - expected
            amount = whole(Fraction(last.landed * gain, last.received))
            self._arrive(Lot(place, sku, (on, _COUNT, *place), gain, amount, amount, [Layer(gain, amount)]))
        self.accounts["count differences"] -= amount
        return amount


def month_figures(month: Month) -> dict[str, Any]:
    """Return what the events sheet and the count must give."""
    return {
        "events_file": "march-events.csv",
        "count_file": "march-count.csv",
        "opening_stock": money(month.opening),
        "rows": list(_rows(month)),
        "jobs": month.jobs,
        "count": {"document": month.count_document, "lines": month.counted},
        "accounts": {name: money(amount) for name, amount in sorted(month.accounts.items())},
        "one_shirt_of_each_way": _one_of_each(month.jobs),
        "lots": list(_lots(month)),
        "stock": {"total": money(month.value()), "items": list(_stock(month))},
    }


def _documents() -> list[Document]:
    """Return the month's documents, numbered by date and place in the day; bills for receipts come last.

    A sale of a finished shirt that is not there gets a job before it.
    """
    groups: dict[tuple[object, ...], list[int]] = {}
    for place, row in enumerate(events.EVENTS):
        grouped = {"receive": (row.day, row.party, row.reference), "make": (row.day, row.reference, row.sku)}
        groups.setdefault((row.event, *grouped.get(row.event, (place,))), []).append(place)
    ordered = sorted(groups.values(), key=_place_in_month)
    documents: list[Document] = []
    there: dict[str, int] = defaultdict(int)
    for places in ordered:
        row = events.EVENTS[places[0]]
        rank = _RANK.get(row.event, _LEAVING)
        wanted = _milli(row) // 1000 if row.quantity else 0
        if row.event == "sell" and wanted > there[row.sku]:
            number = FIRST_DOCUMENT + len(documents)
            missing = wanted - there[row.sku]
            documents.append(Document(number, row.day, _JOB, "make", tuple(places), number + 1, missing))
            there[row.sku] += missing
        document = Document(FIRST_DOCUMENT + len(documents), row.day, rank, row.event, tuple(places))
        documents.append(document)
        if row.event == "make":
            there[row.sku] += _pieces(document)["good"]
        elif row.event in _ACCOUNT:
            there[row.sku] += wanted if row.event == "take_back" else -wanted
    return documents


def _place_in_month(places: Sequence[int]) -> tuple[int, int, bool, int]:
    row = events.EVENTS[places[0]]
    if row.event == "charge":
        return (32, 0, False, places[0])
    # What comes back is numbered behind the day's sales, of which it may be.
    return (row.day, _RANK.get(row.event, _LEAVING), row.event == "take_back", places[0])


def _pieces(document: Document) -> dict[str, int]:
    pieces = {"good": document.pieces, "normal": 0, "abnormal": 0}
    if not document.made_for:
        for place in document.rows:
            row = events.EVENTS[place]
            pieces[row.kind or "good"] += int(row.quantity)
    return pieces


def _labour(document: Document, bill: SampleBill) -> int:
    """Return what was paid for work: as typed in the sheet, else by the bill."""
    typed = [events.EVENTS[place].amount for place in document.rows if events.EVENTS[place].amount]
    if typed and not document.made_for:
        return sum(map(_cents, typed))
    return whole(Fraction(bill.more.get("labour_per_piece", 0)) * sum(_pieces(document).values()) * 100)


def _bill_of(finished: str) -> tuple[SampleBill, str, str]:
    """Return the bill that makes a shirt, the blank it is made of, and that one's colour."""
    fitting = [bill for bill in BILLS if finished.startswith(bill.finished.partition("{")[0])]
    bill = max(fitting, key=lambda one: len(one.finished.partition("{")[0]))
    if not bill.style:
        return bill, "", ""
    rest = finished.removeprefix(bill.finished.partition("{")[0])
    return bill, f"{bill.style.upper()}-{rest}", _COLOURS[rest.partition("-")[0]]


def _milli(row: Event) -> int:
    """Return a row's quantity in thousandths; what was weighed by its density."""
    density = _GRAMS_PER_ML[row.sku] if row.unit == "g" and row.sku in _GRAMS_PER_ML else 1
    return whole(Fraction(row.quantity) * 1000 / density)


def _cents(text: str) -> int:
    return whole(Fraction(text) * 100)


def _rows(month: Month) -> Iterator[dict[str, Any]]:
    """Yield each row of the sheet with its document and the cost it must give."""
    of_row = {place: one for one in month.documents if not one.made_for for place in one.rows}
    made_for = {one.made_for: one.number for one in month.documents if one.made_for}
    for place, row in enumerate(events.EVENTS):
        found: dict[str, Any] = {
            "row": place + 2,
            "date": row.date.isoformat(),
            "event": row.event,
            "sku": row.sku,
            "document": of_row[place].number,
            "cost": money(month.costs.get(place, 0)),
        }
        if of_row[place].number in made_for:
            found["made_by"] = made_for[of_row[place].number]
        if place in month.credit:
            found["credit"] = money(month.credit[place])
        yield found


def _one_of_each(jobs: Sequence[dict[str, Any]]) -> list[dict[str, str]]:
    """Return the first job of every bill, and what one of its shirts cost."""
    first = {job["bill"]: job for job in reversed(jobs)}
    keys = ("way", "sku", "document", "cost_each")
    return [{"bill": bill.code} | {key: first[bill.code][key] for key in keys} for bill in BILLS]


def _lots(month: Month) -> Iterator[dict[str, str]]:
    for lot in sorted((lot for lots in month.lots.values() for lot in lots), key=lambda one: one.place):
        yield {
            "lot": f"{lot.place[0]}.{lot.place[1]}",
            "sku": lot.sku,
            "quantity_received": plain(lot.received),
            "quantity_on_hand": plain(lot.left),
            "landed_cost": money(lot.landed),
            "value_on_hand": money(lot.value),
        }


def _stock(month: Month) -> Iterator[dict[str, str]]:
    finished = {job["sku"] for job in month.jobs}
    for sku, lots in sorted(month.lots.items()):
        quantity = sum(lot.left for lot in lots)
        if quantity:
            yield {
                "sku": sku,
                "kind": "finished" if sku in finished else kind_of(sku),
                "unit": "each" if sku in finished else base_unit_of(sku),
                "quantity": plain(quantity),
                "value": money(sum(lot.value for lot in lots)),
            }


def count_rows() -> list[tuple[str, ...]]:
    """Return the rows of the count's file under its headings."""
    return [(sku, base_unit_of(sku), counted, note) for sku, counted, note in events.COUNTED]
