"""The second engine: the legs of a history, worked out in the plainest way there is.

`blankbook prove` compares these legs with the book's own. The comparison is worth something only
while the two share no code, so this module takes nothing from the fast engine, nor from the
spreading of charges, nor from the rounding of the exact room: it has its own order and its own
rounding. It sorts the whole history, walks through it once, and keeps every lot as a list of
layers. It remembers nothing between two calls.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import NoReturn

from ledger.costing.facts import ARRIVES_FROM, LEAVES_TO, FactLine, Facts, Leg, ShareFact, UndoFact
from ledger.errors import NotEnoughStock

_ON_HAND = "on hand"
_STRAIGHT_TO_SUPPLIES = "supplies when bought"


@dataclass
class _Layer:
    """Goods of one lot that share one cost, and how much of them was used."""

    quantity_milli: int
    amount: int
    used_milli: int = 0

    def left_milli(self) -> int:
        return self.quantity_milli - self.used_milli

    def take(self, milli: int) -> int:
        """Return the cost of the next ``milli`` thousandths, and mark them used.

        Cost is the difference of two rounded running totals: however the layer is cut, the
        parts add up to its amount.
        """
        before = _rounded(self.amount * self.used_milli, self.quantity_milli)
        self.used_milli += milli
        after = _rounded(self.amount * self.used_milli, self.quantity_milli)
        return after - before


@dataclass
class _Lot:
    """The goods of one receipt or opening line: its layers, the first to leave at the front."""

    document: int
    line: int
    layers: deque[_Layer] = field(default_factory=deque)

    def take_at_most(self, wanted_milli: int) -> _Taking:
        """Return what the lot gives of ``wanted_milli``; layers that are used up are let go."""
        quantity_milli = 0
        amount = 0
        while self.layers and quantity_milli < wanted_milli:
            layer = self.layers[0]
            portion_milli = min(layer.left_milli(), wanted_milli - quantity_milli)
            amount += layer.take(portion_milli)
            quantity_milli += portion_milli
            if layer.left_milli() == 0:
                self.layers.popleft()
        return _Taking(self, quantity_milli, amount)


@dataclass(frozen=True)
class _Taking:
    """What one line took out of one lot."""

    lot: _Lot
    quantity_milli: int
    amount: int


@dataclass(frozen=True)
class _Entry:
    """One leg before it has its document, line and part."""

    account: str
    quantity_milli: int
    amount: int
    lot: _Lot | None = None


def plain_legs(facts: Facts) -> list[Leg]:
    """Return the legs that follow from the facts, sorted by document, line and part.

    Args:
        facts: the facts of a book, in any order.

    Raises:
        ValueError: an event or a path is unknown, or a fact contradicts itself or another one.
        NotEnoughStock: more would leave than is there at that place in the order.

    Source: our own rules, written down in the contributor guide.

    >>> facts = Facts((
    ...     FactLine(1, 1, "receipt", "2026-01-05", "shirt", "goods", 3000, 1000),
    ...     FactLine(2, 1, "sale", "2026-01-06", "shirt", "goods", 2000),
    ... ))
    >>> [(leg.account, leg.quantity_milli, leg.amount) for leg in plain_legs(facts)]
    [('purchases', -3000, -1000), ('on hand', 3000, 1000), ('on hand', -2000, -667), ('pieces sold', 2000, 667)]
    """
    gone = _documents_out_of_the_costing(facts.undos)
    lines = [line for line in facts.lines if line.document not in gone]
    shares = [share for share in facts.shares if share.document not in gone]
    receipt_lines = {(line.document, line.line): line for line in lines if line.event == "receipt"}
    for line in lines:
        _refuse_a_bad_line(line)
    charges: dict[tuple[int, int], int] = defaultdict(int)
    for share in shares:
        _refuse_a_bad_share(share, receipt_lines)
        charges[share.receipt_document, share.receipt_line] += share.amount

    lots_by_sku: dict[str, deque[_Lot]] = defaultdict(deque)
    legs: list[Leg] = []
    for line in sorted(lines, key=_place_in_order):
        if line.event in LEAVES_TO:
            entries = _entries_of_what_leaves(line, lots_by_sku[line.sku])
        elif line.tax_class == _STRAIGHT_TO_SUPPLIES:
            entries = _entries_of_supplies_when_bought(line)
        else:
            charges_amount = charges[line.document, line.line]
            entries = _entries_of_what_arrives(line, charges_amount, lots_by_sku[line.sku])
        legs += _numbered(line, entries)
    for share in shares:
        legs += _legs_of_a_share(share, receipt_lines[share.receipt_document, share.receipt_line])
    return sorted(legs, key=lambda leg: (leg.document, leg.line, leg.part))


def _rounded(numerator: int, denominator: int) -> int:
    """Return the quotient rounded to the nearest whole number, a half away from zero."""
    size = (2 * abs(numerator) + denominator) // (2 * denominator)
    return size if numerator >= 0 else -size


def _place_in_order(line: FactLine) -> tuple[str, int, int, int]:
    """Return what sorts a line: its date, then what arrives before what leaves, then its number."""
    if line.event == "opening":
        place_in_day = 0
    elif line.event == "receipt":
        place_in_day = 1
    else:
        place_in_day = 5
    return line.effect_date, place_in_day, line.document, line.line


def _documents_out_of_the_costing(undos: Iterable[UndoFact]) -> set[int]:
    """Return the numbers of the undone documents and of the documents that undo them."""
    gone: set[int] = set()
    for undo in undos:
        if undo.path != "dropped":
            raise ValueError(f"document {undo.document}: an undo by the path '{undo.path}' is not known.")
        gone |= {undo.document, undo.undoes}
    return gone


def _refuse_a_bad_line(line: FactLine) -> None:
    """Raise ValueError where a line's event is unknown or its quantities cannot be."""
    where = f"document {line.document}, line {line.line}"
    arrives = line.event in ARRIVES_FROM
    if not arrives and line.event not in LEAVES_TO:
        raise ValueError(f"{where}: the event '{line.event}' is not known.")
    if line.quantity_milli <= 0:
        raise ValueError(f"{where}: the quantity {_shown(line.quantity_milli)} is not above zero.")
    if line.event == "opening" and line.tax_class == _STRAIGHT_TO_SUPPLIES:
        raise ValueError(f"{where}: {line.sku} is deducted when bought, so there is no opening stock of it.")
    losses = (line.claimed_milli, line.normal_milli, line.expensed_milli)
    if arrives and (min(losses) < 0 or sum(losses) > line.quantity_milli):
        raise ValueError(
            f"{where}: more is missing or damaged than the {_shown(line.quantity_milli)} invoiced."
        )
    if arrives and line.claimed_amount != 0 and line.claimed_milli == 0:
        raise ValueError(f"{where}: an amount is claimed from the supplier, but no pieces.")


def _refuse_a_bad_share(share: ShareFact, receipt_lines: dict[tuple[int, int], FactLine]) -> None:
    """Raise ValueError where a charge's path is unknown or the receipt line it belongs to is not there."""
    where = f"document {share.document}, line {share.line}, share {share.position}"
    if share.path != "with receipt":
        raise ValueError(f"{where}: a charge by the path '{share.path}' is not known.")
    if (share.receipt_document, share.receipt_line) not in receipt_lines:
        raise ValueError(
            f"{where}: there is no receipt line {share.receipt_document}.{share.receipt_line} to charge."
        )
    line = receipt_lines[share.receipt_document, share.receipt_line]
    if line.tax_class != _STRAIGHT_TO_SUPPLIES and share.amount != 0 and _kept_milli(line) == 0:
        raise ValueError(
            f"{where}: nothing of receipt line {line.document}.{line.line} was kept that could bear a charge."
        )


def _kept_milli(line: FactLine) -> int:
    """Return what of an arrival makes its lot: all but the claimed and the normally lost part."""
    return line.quantity_milli - line.claimed_milli - line.normal_milli


def _entries_of_what_arrives(line: FactLine, charges_amount: int, lots: deque[_Lot]) -> list[_Entry]:
    """Return the entries of a receipt or opening line, and put its lot at the end of the SKU's lots."""
    kept_milli = _kept_milli(line)
    kept_amount = line.amount - line.claimed_amount
    lot = _Lot(line.document, line.line)
    entries = [_Entry(ARRIVES_FROM[line.event], -line.quantity_milli, -line.amount)]
    if kept_milli > 0:
        layer = _Layer(kept_milli, kept_amount + charges_amount)
        lot.layers.append(layer)
        lots.append(lot)
        entries.append(_Entry(_ON_HAND, kept_milli, kept_amount, lot))
    elif kept_amount != 0:
        raise ValueError(
            f"document {line.document}, line {line.line}: nothing of {line.sku} was kept, "
            "but not all of its amount was claimed."
        )
    if line.claimed_milli > 0:
        entries.append(_Entry("returned to supplier", line.claimed_milli, line.claimed_amount))
    if line.normal_milli > 0:
        # The pieces that are kept bear the cost of the ones that were lost in the usual way.
        entries.append(_Entry("spoilage", line.normal_milli, 0))
    if line.expensed_milli > 0:
        taking = lot.take_at_most(line.expensed_milli)
        entries += _entries_of_a_taking(taking, "spoilage")
    return entries


def _entries_of_supplies_when_bought(line: FactLine) -> list[_Entry]:
    """Return the entries of a receipt line whose cost is deducted at once: it makes no lot."""
    entries = [
        _Entry("purchases", -line.quantity_milli, -line.amount),
        _Entry("supplies", line.quantity_milli - line.claimed_milli, line.amount - line.claimed_amount),
    ]
    if line.claimed_milli > 0:
        entries.append(_Entry("returned to supplier", line.claimed_milli, line.claimed_amount))
    return entries


def _entries_of_what_leaves(line: FactLine, lots: deque[_Lot]) -> list[_Entry]:
    """Return the entries of a leaving line, oldest lot first; lots that are used up are let go."""
    entries: list[_Entry] = []
    taken_milli = 0
    while taken_milli < line.quantity_milli:
        # An arrival of which every piece was an expense left an empty lot behind.
        while lots and not lots[0].layers:
            lots.popleft()
        if not lots:
            _refuse_a_short(line, on_hand_milli=taken_milli)
        taking = lots[0].take_at_most(line.quantity_milli - taken_milli)
        taken_milli += taking.quantity_milli
        entries += _entries_of_a_taking(taking, LEAVES_TO[line.event])
    return entries


def _refuse_a_short(line: FactLine, on_hand_milli: int) -> NoReturn:
    """Raise NotEnoughStock: the lots ran out, so what they gave is all that was on hand."""
    missing_milli = line.quantity_milli - on_hand_milli
    raise NotEnoughStock(
        f"{line.sku} on {line.effect_date}: document {line.document}, line {line.line} "
        f"({line.event}) takes {_shown(line.quantity_milli)}, on hand {_shown(on_hand_milli)}, "
        f"missing {_shown(missing_milli)}. Enter the receipt it came with, or correct the quantity or date."
    )


def _entries_of_a_taking(taking: _Taking, account: str) -> list[_Entry]:
    """Return the two entries of a taking: out of the lot, into the account."""
    return [
        _Entry(_ON_HAND, -taking.quantity_milli, -taking.amount, taking.lot),
        _Entry(account, taking.quantity_milli, taking.amount, taking.lot),
    ]


def _numbered(line: FactLine, entries: list[_Entry]) -> list[Leg]:
    """Return the entries as legs of the line, numbered from 1."""
    return [
        Leg(
            document=line.document,
            line=line.line,
            part=part,
            effect_date=line.effect_date,
            account=entry.account,
            sku=line.sku,
            lot_document=entry.lot.document if entry.lot else None,
            lot_line=entry.lot.line if entry.lot else None,
            quantity_milli=entry.quantity_milli,
            amount=entry.amount,
        )
        for part, entry in enumerate(entries, start=1)
    ]


def _legs_of_a_share(share: ShareFact, receipt_line: FactLine) -> list[Leg]:
    """Return the two legs by which a share of a charge comes to the lot it belongs to; none for zero."""
    if share.amount == 0:
        return []
    straight = receipt_line.tax_class == _STRAIGHT_TO_SUPPLIES
    charges = Leg(
        document=share.document,
        line=share.line,
        part=2 * share.position - 1,
        effect_date=share.effect_date,
        account="charges",
        sku=receipt_line.sku,
        lot_document=None,
        lot_line=None,
        quantity_milli=0,
        amount=-share.amount,
    )
    goods = replace(
        charges,
        part=2 * share.position,
        account="supplies" if straight else _ON_HAND,
        lot_document=None if straight else receipt_line.document,
        lot_line=None if straight else receipt_line.line,
        amount=share.amount,
    )
    return [charges, goods]


def _shown(milli: int) -> str:
    """Return a quantity in base units as text: 1500 thousandths are '1.5'."""
    sign = "-" if milli < 0 else ""
    whole, thousandths = divmod(abs(milli), 1000)
    return sign + f"{whole}.{thousandths:03d}".rstrip("0").rstrip(".")
