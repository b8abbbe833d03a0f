"""The double entry of every document line: takings and facts become legs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from ledger.costing.facts import ARRIVES_FROM, ON_HAND, FactLine, Leg, ShareFact
from ledger.costing.landed import is_stocked
from ledger.costing.replay import Movements, Replayed


@dataclass(frozen=True, slots=True)
class LegColumns:
    """Legs as parallel columns, in the order of the `leg` table's columns."""

    document: list[int] = field(default_factory=list)
    line: list[int] = field(default_factory=list)
    part: list[int] = field(default_factory=list)
    effect_date: list[str] = field(default_factory=list)
    account: list[str] = field(default_factory=list)
    sku: list[str] = field(default_factory=list)
    lot_document: list[int | None] = field(default_factory=list)
    lot_line: list[int | None] = field(default_factory=list)
    quantity_milli: list[int] = field(default_factory=list)
    amount: list[int] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.document)

    def put(self, leg: Leg) -> None:
        """Append one leg."""
        self.document.append(leg.document)
        self.line.append(leg.line)
        self.part.append(leg.part)
        self.effect_date.append(leg.effect_date)
        self.account.append(leg.account)
        self.sku.append(leg.sku)
        self.lot_document.append(leg.lot_document)
        self.lot_line.append(leg.lot_line)
        self.quantity_milli.append(leg.quantity_milli)
        self.amount.append(leg.amount)

    def entry(
        self, fact: FactLine, part: int, account: str, lot: tuple[int, int] | None, quantity: int, amount: int
    ) -> None:
        """Append one leg of a fact's line."""
        lot_document, lot_line = lot if lot is not None else (None, None)
        head = (fact.document, fact.line, part, fact.effect_date, account, fact.sku)
        self.put(Leg(*head, lot_document, lot_line, quantity, amount))

    def rows(self) -> Iterator[tuple[object, ...]]:
        """Yield the legs as rows for a bulk insert, columns in the table's order."""
        return zip(
            self.document,
            self.line,
            self.part,
            self.effect_date,
            self.account,
            self.sku,
            self.lot_document,
            self.lot_line,
            self.quantity_milli,
            self.amount,
            strict=True,
        )

    def legs(self) -> Iterator[Leg]:
        """Yield the legs as records."""
        return (Leg(*row) for row in self.rows())  # type: ignore[arg-type]


def arrival_legs(fact: FactLine, legs: LegColumns) -> int:
    """Append the legs of an arriving line, without its charges and expensed pieces.

    Returns how many were appended. The invoice comes in whole from purchases; what is claimed
    back goes to the supplier; what is normally lost takes its quantity but no cost with it.
    """
    source = ARRIVES_FROM[fact.event]
    kept = fact.quantity_milli - fact.claimed_milli - fact.normal_milli
    kept_cost = fact.amount - fact.claimed_amount
    entries: list[tuple[str, bool, int, int]] = [(source, False, -fact.quantity_milli, -fact.amount)]
    if not is_stocked(fact.tax_class):
        entries.append(("supplies", False, kept + fact.normal_milli, kept_cost))
    elif kept > 0:
        entries.append((ON_HAND, True, kept, kept_cost))
    if fact.claimed_milli:
        entries.append(("returned to supplier", False, fact.claimed_milli, fact.claimed_amount))
    if fact.normal_milli and is_stocked(fact.tax_class):
        entries.append(("spoilage", False, fact.normal_milli, 0))
    for part, (account, in_lot, quantity, amount) in enumerate(entries, 1):
        lot_document, lot_line = (fact.document, fact.line) if in_lot else (None, None)
        head = (fact.document, fact.line, part, fact.effect_date, account, fact.sku)
        legs.put(Leg(*head, lot_document, lot_line, quantity, amount))
    return len(entries)


def fixed_legs(fact: FactLine, legs: LegColumns) -> int:
    """Append the legs of a line that wait for no lot's cost; return how many legs it has by now."""
    stocked = is_stocked(fact.tax_class)
    if fact.event == "ship":
        ship_legs(fact, legs)
    elif fact.is_arrival:
        if not stocked:
            supplies_arrival_legs(fact, legs)
    elif fact.event in ARRIVES_FROM:
        return arrival_legs(fact, legs)
    elif fact.event == "reversal" and not stocked:
        reversed_supplies_legs(fact, legs)
    return 0


def reversed_supplies_legs(fact: FactLine, legs: LegColumns) -> None:
    """Append the legs by which supplies when bought are taken out again."""
    used, cost = fact.quantity_milli - fact.claimed_milli, fact.amount - fact.claimed_amount
    legs.entry(fact, 1, ARRIVES_FROM[fact.undone_event], None, fact.quantity_milli, fact.amount)
    legs.entry(fact, 2, "supplies", None, -used, -cost)
    if fact.claimed_milli:
        legs.entry(fact, 3, "returned to supplier", None, -fact.claimed_milli, -fact.claimed_amount)


def ship_legs(fact: FactLine, legs: LegColumns) -> None:
    """Append the legs of a shipped line: bought, and under way; supplies when bought are used at once."""
    legs.entry(fact, 1, "purchases", None, -fact.quantity_milli, -fact.amount)
    if is_stocked(fact.tax_class):
        lot = (fact.document, fact.line)
        legs.entry(fact, 2, "under way", lot, fact.quantity_milli, fact.amount)
    else:
        legs.entry(fact, 2, "supplies", None, fact.quantity_milli, fact.amount)


def supplies_arrival_legs(fact: FactLine, legs: LegColumns) -> None:
    """Append the legs of supplies when bought that arrive: only what is claimed of them moves."""
    if fact.claimed_milli:
        legs.entry(fact, 1, "supplies", None, -fact.claimed_milli, -fact.claimed_amount)
        legs.entry(fact, 2, "returned to supplier", None, fact.claimed_milli, fact.claimed_amount)


def share_legs(
    share: ShareFact, sku: str, tax_class: str, legs: LegColumns, *, is_under_way: bool = False
) -> None:
    """Append the two legs of one charge share that takes effect with its receipt or shipment."""
    if not share.amount:
        return
    stocked = is_stocked(tax_class)
    lot_document, lot_line = (share.receipt_document, share.receipt_line) if stocked else (None, None)
    key = (share.document, share.line)
    part = 2 * share.position
    legs.put(Leg(*key, part - 1, share.effect_date, share.account, sku, None, None, 0, -share.amount))
    account = "supplies" if not stocked else "under way" if is_under_way else ON_HAND
    legs.put(Leg(*key, part, share.effect_date, account, sku, lot_document, lot_line, 0, share.amount))


def taking_legs(
    movements: Movements, replayed: Replayed, legs: LegColumns, first_part: dict[tuple[int, int], int]
) -> None:
    """Append two legs for every taking: out of the lot, into the account it goes to.

    ``first_part`` says, per document line, how many legs it has already.
    """
    takings = replayed.takings
    documents, lines, dates, skus = movements.document, movements.line, movements.effect_date, movements.sku
    previous, part = -1, 0
    for place, lot, quantity, amount in zip(
        takings.movement, takings.lot, takings.quantity, takings.amount, strict=True
    ):
        document, line = documents[place], lines[place]
        if place != previous:
            previous, part = place, first_part.get((document, line), 0)
        account = "spoilage" if movements.arrives[place] else movements.account[place]
        head = (document, line, part, dates[place], skus[place])
        taking = (replayed.lot_document[lot], replayed.lot_line[lot], quantity, amount)
        if account == "work in process":
            _put_component(legs, head, taking)
            part += 3
        else:
            _put_pair(legs, head, account, taking)
            part += 2


def _put_pair(
    legs: LegColumns,
    head: tuple[int, int, int, str, str],
    account: str,
    taking: tuple[int, int, int, int],
) -> None:
    document, line, part, effect_date, sku = head
    lot_document, lot_line, quantity, amount = taking
    legs.document.extend((document, document))
    legs.line.extend((line, line))
    legs.part.extend((part + 1, part + 2))
    legs.effect_date.extend((effect_date, effect_date))
    legs.account.extend((ON_HAND, account))
    legs.sku.extend((sku, sku))
    legs.lot_document.extend((lot_document, lot_document))
    legs.lot_line.extend((lot_line, lot_line))
    legs.quantity_milli.extend((-quantity, quantity))
    legs.amount.extend((-amount, amount))


def _put_component(
    legs: LegColumns, head: tuple[int, int, int, str, str], taking: tuple[int, int, int, int]
) -> None:
    """Append what a job takes: the quantity goes to used, the cost into the work in process."""
    document, line, part, effect_date, sku = head
    lot_document, lot_line, quantity, amount = taking
    for offset, (account, moved, cost) in enumerate(
        ((ON_HAND, -quantity, -amount), ("used", quantity, 0), ("work in process", 0, amount)), 1
    ):
        legs.put(
            Leg(document, line, part + offset, effect_date, account, sku, lot_document, lot_line, moved, cost)
        )
