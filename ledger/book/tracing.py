"""Where a lot went, and what stands behind a document: both ways through jobs and jobs of jobs.

What a lot put into a job is in the job's finished lot; a part of that lot holds its fraction of it.
Both walks visit a lot once, by the index on the lot of a leg, and are linear in what they visit.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict, deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from fractions import Fraction

from ledger.book import looking
from ledger.book.tracing_arrivals import arrived_parts, shipped_behind, still_under_way
from ledger.costing.shelf import LotId
from ledger.errors import Refused

JOB, SHIP = "make", "ship"
TAKE_BACK = "take back"


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot and the document it came with. Quantities in thousandths."""

    document: int
    line: int
    sku: str
    base_unit: str
    event: str
    effect_date: str
    party: str
    reference: str
    received_milli: int
    on_hand_milli: int
    under_way_milli: int = 0

    @property
    def key(self) -> LotId:
        """The document and line that made it."""
        return self.document, self.line


@dataclass(frozen=True, slots=True)
class Departure:
    """What one document line took out of one lot, and how much of it customers brought back.

    ``inside`` is how much of the traced lot is in what stayed away, exact, in thousandths; None where
    several lots are traced at once. ``makes`` is the finished lot of a job, None where it kept nothing.
    """

    lot: LotId
    document: int
    line: int
    event: str
    effect_date: str
    party: str
    reference: str
    sku: str
    base_unit: str
    quantity_milli: int
    back_milli: int
    inside: Fraction | None
    makes: LotId | None

    @property
    def gone_milli(self) -> int:
        """What stayed away."""
        return self.quantity_milli - self.back_milli

    @property
    def what(self) -> str:
        """What became of it, by its event; what a job or a receipt lost of its own is spoiled."""
        return "spoil" if self.event in {JOB, "receipt"} and self.makes is None else self.event


@dataclass(frozen=True, slots=True)
class Held:
    """A lot with something left on hand or under way, and how much of the traced lot is in that (as in `Departure`)."""

    lot: Lot
    inside: Fraction | None


@dataclass(frozen=True, slots=True)
class Ahead:
    """Where lots went: everything that left them and the lots made from them, and what is on hand still."""

    seeds: tuple[Lot, ...]
    departures: tuple[Departure, ...]
    on_hand: tuple[Held, ...]
    under_way: tuple[Held, ...] = ()


@dataclass(frozen=True, slots=True)
class Source:
    """A lot behind a document or another lot, and how much of it, exact, in thousandths.

    ``into`` are the lots it was made into; empty where it was only taken from directly.
    """

    lot: Lot
    quantity: Fraction
    into: tuple[LotId, ...]


LOT = """
SELECT lot.document, lot.line, lot.sku, i.base_unit, d.event, d.effect_date, coalesce(d.party, ''),
    d.reference, lot.quantity_received, lot.quantity_on_hand
FROM lot JOIN document AS d ON d.number = lot.document JOIN item AS i ON i.sku = lot.sku
WHERE lot.document = ? AND lot.line = ?
"""

MOVES = """
SELECT l.document, l.line, d.event, d.effect_date, coalesce(d.party, ''), d.reference, l.sku, i.base_unit,
    m.role, m.lot_document, m.lot_line, l.quantity_milli
FROM leg AS l JOIN document AS d ON d.number = l.document
JOIN document_line AS m ON m.document = l.document AND m.line = l.line
JOIN item AS i ON i.sku = l.sku
WHERE l.lot_document = ? AND l.lot_line = ? AND l.account = 'on hand' AND l.quantity_milli <> 0
ORDER BY l.document, l.line, l.part
"""
"""Everything that moved pieces of one lot; on a customer's return, the line's lot is the sale."""

MADE = "SELECT document, line FROM lot WHERE document = ? ORDER BY line"

TOOK = """
SELECT l.lot_document, l.lot_line, sum(l.quantity_milli) FROM leg AS l
WHERE l.document = ? AND l.account IN ('on hand', 'under way')
    AND l.lot_document IS NOT NULL AND l.lot_document <> ?1
GROUP BY l.lot_document, l.lot_line HAVING sum(l.quantity_milli) <> 0
"""
"""What a document took out of each lot (negative), or brought back to it; what arrives was under way."""


def find_lot(connection: sqlite3.Connection, key: LotId) -> Lot:
    """Return a lot; Refused, naming the lots of its document, where there is none."""
    row = connection.execute(LOT, key).fetchone()
    if row is not None:
        lot = Lot(*row)
        return replace(lot, under_way_milli=still_under_way(connection, key)) if lot.event == SHIP else lot
    document = looking.document(connection, key[0])
    made = lots_made(connection, key[0])
    there = f"it made {', '.join(f'{lot[0]}.{lot[1]}' for lot in made)}" if made else "it made no lot"
    why = f"{there}, and was undone by document {document.undone_by}" if document.undone_by else there
    raise Refused(f"there is no lot {key[0]}.{key[1]}: {document.event} {key[0]} is there, and {why}.")


def lots_made(connection: sqlite3.Connection, document: int) -> list[LotId]:
    """Return the lots that a document made."""
    return [(row[0], row[1]) for row in connection.execute(MADE, (document,))]


def lots_taken(connection: sqlite3.Connection, document: int) -> dict[LotId, int]:
    """Return how much a document took out of each lot, or brought back to it, in thousandths."""
    rows = connection.execute(TOOK, (document,))
    return {(lot_document, lot_line): abs(quantity) for lot_document, lot_line, quantity in rows}


def ahead(connection: sqlite3.Connection, seeds: Sequence[LotId]) -> Ahead:
    """Return where lots went, through jobs of jobs; with one seed also how much of it is where.

    Raises Refused where there is no such lot.
    """
    first = [find_lot(connection, key) for key in seeds]
    departures = _reach(connection, first)
    order = _lots_in_order(departures, seeds)
    lots = {lot.key: lot for lot in first}
    lots |= {key: find_lot(connection, key) for key in order if key not in lots}
    share = _shares(lots, departures, order, seeds) if len(seeds) == 1 else None

    def inside(key: LotId, milli: int) -> Fraction | None:
        return None if share is None else share[key] * milli

    return Ahead(
        seeds=tuple(first),
        departures=tuple(
            replace(each, inside=inside(key, each.gone_milli)) for key in order for each in departures[key]
        ),
        on_hand=tuple(
            Held(lots[key], inside(key, lots[key].on_hand_milli)) for key in order if lots[key].on_hand_milli
        ),
        under_way=tuple(
            Held(lots[key], inside(key, lots[key].under_way_milli))
            for key in order
            if lots[key].under_way_milli
        ),
    )


def _reach(connection: sqlite3.Connection, seeds: Iterable[Lot]) -> dict[LotId, list[Departure]]:
    """Return what left each lot that can be reached, each visited once."""
    found: dict[LotId, list[Departure]] = {}
    waiting = deque(lot.key for lot in seeds)
    while waiting:
        key = waiting.popleft()
        if key not in found:
            found[key] = list(_departures(connection, key))
            waiting.extend(each.makes for each in found[key] if each.makes is not None)
    return found


def _departures(connection: sqlite3.Connection, key: LotId) -> Iterator[Departure]:
    """Yield what left a lot, one for each document line; what came back is taken off its sale."""
    left: dict[LotId, list[object]] = {}
    moved: dict[LotId, int] = defaultdict(int)
    back: dict[LotId, int] = defaultdict(int)
    for document, line, *head, role, ref_document, ref_line, quantity in connection.execute(MOVES, key):
        if head[0] == TAKE_BACK:
            back[ref_document, ref_line] += quantity
        elif quantity < 0:
            left[document, line] = [*head, role]
            moved[document, line] -= quantity
    for (document, line), (event, day, party, reference, sku, unit, role) in left.items():
        makes = lots_made(connection, document) if event == JOB and role == "component" else []
        yield Departure(
            lot=key,
            document=document,
            line=line,
            event=str(event),
            effect_date=str(day),
            party=str(party),
            reference=str(reference),
            sku=str(sku),
            base_unit=str(unit),
            quantity_milli=moved[document, line],
            back_milli=back[document, line],
            inside=None,
            makes=makes[0] if makes else None,
        )
    yield from _arrivals(connection, key)


def _arrivals(connection: sqlite3.Connection, key: LotId) -> Iterator[Departure]:
    """Yield what arrived of a shipment's lot as the lot it became, and what was found missing."""
    for part in arrived_parts(connection, key):
        yield Departure(lot=key, back_milli=0, inside=None, **asdict(part))


def _lots_in_order(departures: Mapping[LotId, Sequence[Departure]], seeds: Iterable[LotId]) -> list[LotId]:
    """Return the lots so that each comes after all it was made from; what is made from is never a circle."""
    waits: dict[LotId, int] = defaultdict(int)
    for own in departures.values():
        for each in own:
            if each.makes is not None:
                waits[each.makes] += 1
    ready = deque(key for key in dict.fromkeys(seeds) if not waits[key])
    order = []
    while ready:
        key = ready.popleft()
        order.append(key)
        for each in departures[key]:
            if each.makes is not None:
                waits[each.makes] -= 1
                if not waits[each.makes]:
                    ready.append(each.makes)
    return order


def _shares(
    lots: Mapping[LotId, Lot],
    departures: Mapping[LotId, Sequence[Departure]],
    order: Iterable[LotId],
    seeds: Sequence[LotId],
) -> dict[LotId, Fraction]:
    """Return how much of the seed is in one unit of each lot: what its job took of it over what it kept."""
    holds: dict[LotId, Fraction] = defaultdict(Fraction)
    share: dict[LotId, Fraction] = {}
    for key in order:
        share[key] = Fraction(1) if key in seeds else holds[key] / lots[key].received_milli
        for each in departures[key]:
            if each.makes is not None:
                holds[each.makes] += share[key] * each.quantity_milli
    return share


def behind(connection: sqlite3.Connection, taken_milli: Mapping[LotId, int]) -> list[Source]:
    """Return the lots behind quantities (thousandths) of some lots: those, and what their jobs used.

    Those taken directly come first, then what they were made from; each with how much of it is in the
    quantities asked for, by the fraction of each job.
    """
    lots: dict[LotId, Lot] = {}
    used: dict[LotId, dict[LotId, int]] = {}
    waiting = deque(taken_milli)
    while waiting:
        key = waiting.popleft()
        if key not in lots:
            lots[key] = find_lot(connection, key)
            used[key] = _behind_one(connection, lots[key])
            waiting.extend(used[key])
    amount: dict[LotId, Fraction] = defaultdict(Fraction)
    amount.update((key, Fraction(milli)) for key, milli in taken_milli.items())
    into: dict[LotId, list[LotId]] = defaultdict(list)
    order = _products_first(used)
    for key in order:
        fraction = amount[key] / lots[key].received_milli
        for component, milli in used[key].items():
            amount[component] += fraction * milli
            into[component].append(key)
    return [Source(lots[key], amount[key], tuple(into[key])) for key in order]


def _behind_one(connection: sqlite3.Connection, lot: Lot) -> dict[LotId, int]:
    """Return the lots that one came from, with how much of each: a job's components, a shipment's lot."""
    if lot.event == JOB:
        return lots_taken(connection, lot.document)
    return shipped_behind(connection, lot.key)


def _products_first(used: Mapping[LotId, Mapping[LotId, int]]) -> list[LotId]:
    """Return the lots so that each comes after everything made from it."""
    waits: dict[LotId, int] = defaultdict(int)
    for components in used.values():
        for component in components:
            waits[component] += 1
    ready = deque(key for key in used if not waits[key])
    order = []
    while ready:
        key = ready.popleft()
        order.append(key)
        for component in used[key]:
            waits[component] -= 1
            if not waits[component]:
                ready.append(component)
    return order
