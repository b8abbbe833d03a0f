"""What must hold in every book: pure checks over facts and legs, each giving what it found wrong.

`blankbook prove` runs them over a whole book. Every check goes through its input once, or sorts
it once, so the time it takes grows with the number of legs. The numbers of the invariants are
those of the contributor guide.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from ledger.costing.facts import ON_HAND, SUPPLIES_WHEN_BOUGHT, FactLine, Facts, Leg
from ledger.exact.quantity import show_quantity

MOST_DIFFERENCES = 20
"""How many differences between two engines are told one by one before they are only counted."""

STOCK_ACCOUNTS = (ON_HAND, "under way", "work in process")
"""The accounts that hold what the shop owns."""

COST_OF_GOODS_SOLD_ACCOUNTS = (
    "pieces sold",
    "used",
    "supplies",
    "spoilage",
    "count differences",
    "samples",
    "donations",
    "write-downs",
    "supplier price differences",
    "late charges on used stock",
)
"""The accounts whose balances add up to the cost of goods sold."""

OTHER_ACCOUNTS = ("opening balance", "purchases", "charges", "labour", "returned to supplier", "own use")
"""The accounts that stand on the other side of that equation: what came in, and what left unsold."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found wrong: which invariant it breaks, what is wrong, and where."""

    invariant: int
    what: str
    where: str


@dataclass(frozen=True, slots=True)
class Movement:
    """What one account gave to stock (positive) or took from it (negative) in a span of dates."""

    account: str
    quantity_milli: int
    amount: int


@dataclass(frozen=True, slots=True)
class RollForward:
    """Stock at the start of a span of dates, what moved by account, and stock at its end.

    ``name`` is the SKU, or the group the row sums up. ``closing_…`` is opening plus movements:
    it is not read off the on-hand legs, which `roll_forward_findings` does to check it.
    """

    name: str
    opening_quantity_milli: int
    opening_amount: int
    movements: tuple[Movement, ...]
    closing_quantity_milli: int
    closing_amount: int


@dataclass(slots=True)
class _Sum:
    """A quantity and an amount being added up."""

    quantity_milli: int = 0
    amount: int = 0

    def add(self, quantity_milli: int, amount: int) -> None:
        self.quantity_milli += quantity_milli
        self.amount += amount


@dataclass(slots=True)
class _LotSums:
    """What one lot received by the facts, and what its legs say became of it."""

    received: _Sum = field(default_factory=_Sum)
    on_hand: _Sum = field(default_factory=_Sum)
    left: _Sum = field(default_factory=_Sum)


def document_findings(legs: Iterable[Leg]) -> list[Finding]:
    """Return a finding of invariant 1 for each document that does not balance.

    A document's amounts add up to zero, and so do its quantities of each SKU.
    """
    amounts: dict[int, int] = defaultdict(int)
    quantities: dict[tuple[int, str], int] = defaultdict(int)
    for leg in legs:
        amounts[leg.document] += leg.amount
        quantities[leg.document, leg.sku] += leg.quantity_milli
    findings = [
        Finding(1, f"amounts add up to {_units(amount)}, not to zero", f"document {document}")
        for document, amount in sorted(amounts.items())
        if amount != 0
    ]
    findings += [
        Finding(
            1, f"quantities of {sku} add up to {show_quantity(milli)}, not to zero", f"document {document}"
        )
        for (document, sku), milli in sorted(quantities.items())
        if milli != 0
    ]
    return findings


def lot_findings(facts: Facts, legs: Iterable[Leg]) -> list[Finding]:
    """Return the findings of invariant 2: lots whose cost or quantity got lost on the way.

    Per lot, invoice and charges are what left and what is on hand, in amount; what was received
    is what left and what is on hand, in quantity; nothing on hand costs nothing; and no lot
    holds less than nothing.

    Args:
        facts: the facts, which say what each lot received.
        legs: the legs, which say what became of it.
    """
    lots = _lots_by_the_facts(facts)
    findings = []
    for leg in legs:
        if leg.lot_document is None or leg.lot_line is None:
            continue
        lot = lots.get((leg.lot_document, leg.lot_line))
        if lot is None:
            what = f"the lot {leg.lot_document}.{leg.lot_line} follows from no receipt or opening line"
            findings.append(Finding(2, what, _place(leg)))
        elif leg.account == ON_HAND:
            lot.on_hand.add(leg.quantity_milli, leg.amount)
        else:
            lot.left.add(leg.quantity_milli, leg.amount)
    for (document, line), lot in sorted(lots.items()):
        findings += [Finding(2, what, f"lot {document}.{line}") for what in _faults_of_a_lot(lot)]
    return findings


def _lots_by_the_facts(facts: Facts) -> dict[tuple[int, int], _LotSums]:
    """Return the lots that follow from the facts, with what each received."""
    dropped = {
        number for undo in facts.undos if undo.path == "dropped" for number in (undo.document, undo.undoes)
    }
    lots: dict[tuple[int, int], _LotSums] = {}
    for line in facts.lines:
        if line.document not in dropped and _makes_a_lot(line):
            lot = _LotSums()
            kept_milli = line.quantity_milli - line.claimed_milli - line.normal_milli
            lot.received.add(kept_milli, line.amount - line.claimed_amount)
            lots[line.document, line.line] = lot
    for share in facts.shares:
        place = (share.receipt_document, share.receipt_line)
        if share.document not in dropped and place in lots:
            lots[place].received.add(0, share.amount)
    return lots


def _makes_a_lot(line: FactLine) -> bool:
    """Return whether something of an arrival is kept in stock."""
    arrives_in_stock = line.event in {"opening", "receipt"} and line.tax_class != SUPPLIES_WHEN_BOUGHT
    return arrives_in_stock and line.quantity_milli > line.claimed_milli + line.normal_milli


def _faults_of_a_lot(lot: _LotSums) -> list[str]:
    """Return what is wrong with one lot, in words."""
    received, left, on_hand = lot.received, lot.left, lot.on_hand
    faults = []
    if received.amount != left.amount + on_hand.amount:
        faults.append(
            f"cost {_units(received.amount)} with its charges, "
            f"but {_units(left.amount)} left and {_units(on_hand.amount)} are on hand"
        )
    if received.quantity_milli != left.quantity_milli + on_hand.quantity_milli:
        faults.append(
            f"received {show_quantity(received.quantity_milli)}, but {show_quantity(left.quantity_milli)} "
            f"left and {show_quantity(on_hand.quantity_milli)} are on hand"
        )
    if on_hand.quantity_milli == 0 and on_hand.amount != 0:
        faults.append(f"nothing is on hand, but it costs {_units(on_hand.amount)}")
    if on_hand.quantity_milli < 0:
        faults.append(f"holds {show_quantity(on_hand.quantity_milli)}, less than nothing")
    return faults


def negative_stock_findings(legs: Iterable[Leg]) -> list[Finding]:
    """Return a finding of invariant 5 for each SKU and day at whose end less than nothing is on hand."""
    by_day: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for leg in legs:
        if leg.account == ON_HAND:
            by_day[leg.sku][leg.effect_date] += leg.quantity_milli
    findings = []
    for sku, changes in sorted(by_day.items()):
        on_hand_milli = 0
        for effect_date, change_milli in sorted(changes.items()):
            on_hand_milli += change_milli
            if on_hand_milli < 0:
                what = f"{show_quantity(on_hand_milli)} on hand at the end of the day, less than nothing"
                findings.append(Finding(5, what, f"{sku} on {effect_date}"))
    return findings


def roll_forward(legs: Iterable[Leg], from_date: str, to_date: str) -> list[RollForward]:
    """Return, per SKU, stock at the start, what moved by account, and stock at the end.

    Movements are read off the legs outside stock, closing is opening plus movements. SKUs that
    first move after ``to_date`` have no row; movements that add up to nothing are left out.

    Args:
        legs: all the legs of the book, also those before the span.
        from_date: the first day of the span, ISO 8601.
        to_date: the last day of the span, ISO 8601, in it.
    """
    opening: dict[str, _Sum] = defaultdict(_Sum)
    moved: dict[str, dict[str, _Sum]] = defaultdict(lambda: defaultdict(_Sum))
    for leg in legs:
        if leg.effect_date > to_date:
            continue
        opening_sum = opening[leg.sku]
        if leg.effect_date < from_date:
            if leg.account == ON_HAND:
                opening_sum.add(leg.quantity_milli, leg.amount)
        elif leg.account != ON_HAND:
            moved[leg.sku][leg.account].add(-leg.quantity_milli, -leg.amount)
    return _rows(opening, moved)


def rows_by_group(rows: Iterable[RollForward], group_of: Mapping[str, str]) -> list[RollForward]:
    """Return the rows summed up by the group each name belongs to.

    Args:
        rows: rows of `roll_forward`.
        group_of: the group of each name, such as the kind of each SKU.
    """
    opening: dict[str, _Sum] = defaultdict(_Sum)
    moved: dict[str, dict[str, _Sum]] = defaultdict(lambda: defaultdict(_Sum))
    for row in rows:
        group = group_of[row.name]
        opening[group].add(row.opening_quantity_milli, row.opening_amount)
        for movement in row.movements:
            moved[group][movement.account].add(movement.quantity_milli, movement.amount)
    return _rows(opening, moved)


def total_row(rows: Iterable[RollForward]) -> RollForward:
    """Return one row named 'total' that sums up the rows; all zero where there are none."""
    listed = list(rows)
    summed = rows_by_group(listed, {row.name: "total" for row in listed})
    return summed[0] if summed else RollForward("total", 0, 0, (), 0, 0)


def _rows(opening: Mapping[str, _Sum], moved: Mapping[str, Mapping[str, _Sum]]) -> list[RollForward]:
    """Return a row for each name with an opening, its closing worked out from opening and movements."""
    rows = []
    for name, start in sorted(opening.items()):
        movements = tuple(
            Movement(account, each.quantity_milli, each.amount)
            for account, each in sorted(moved.get(name, {}).items())
            if each.quantity_milli or each.amount
        )
        closing_quantity_milli = start.quantity_milli + sum(each.quantity_milli for each in movements)
        closing_amount = start.amount + sum(each.amount for each in movements)
        row = RollForward(
            name, start.quantity_milli, start.amount, movements, closing_quantity_milli, closing_amount
        )
        rows.append(row)
    return rows


def roll_forward_findings(legs: Iterable[Leg], from_date: str, to_date: str) -> list[Finding]:
    """Return the findings of invariant 3: rows whose closing is not what the on-hand legs add up to.

    Args:
        legs: all the legs of the book.
        from_date: the first day of the span, ISO 8601.
        to_date: the last day of the span, ISO 8601, in it.
    """
    listed = list(legs)
    on_hand: dict[str, _Sum] = defaultdict(_Sum)
    for leg in listed:
        if leg.account == ON_HAND and leg.effect_date <= to_date:
            on_hand[leg.sku].add(leg.quantity_milli, leg.amount)
    findings = []
    for row in roll_forward(listed, from_date, to_date):
        held = on_hand[row.name]
        where = f"{row.name} from {from_date} to {to_date}"
        if row.closing_quantity_milli != held.quantity_milli:
            what = (
                f"opening and movements give {show_quantity(row.closing_quantity_milli)}, "
                f"but {show_quantity(held.quantity_milli)} on hand"
            )
            findings.append(Finding(3, what, where))
        if row.closing_amount != held.amount:
            what = (
                f"opening and movements give {_units(row.closing_amount)}, but {_units(held.amount)} on hand"
            )
            findings.append(Finding(3, what, where))
    return findings


def cost_of_goods_sold_findings(legs: Iterable[Leg], from_date: str, to_date: str) -> list[Finding]:
    """Return the findings of invariant 4: the two ways to the cost of goods sold do not meet.

    Opening stock, opening events, purchases, charges and labour, less what was sent back, own use
    and closing stock, is what the accounts of the cost of goods sold add up to.

    Args:
        legs: all the legs of the book.
        from_date: the first day of the span, ISO 8601.
        to_date: the last day of the span, ISO 8601, in it.
    """
    came_in = opening_stock = closing_stock = accounts_amount = 0
    unknown: Counter[str] = Counter()
    for leg in legs:
        if leg.effect_date > to_date:
            continue
        if leg.account in STOCK_ACCOUNTS:
            closing_stock += leg.amount
            opening_stock += leg.amount if leg.effect_date < from_date else 0
        elif leg.account not in COST_OF_GOODS_SOLD_ACCOUNTS and leg.account not in OTHER_ACCOUNTS:
            unknown[leg.account] += 1
        elif leg.effect_date >= from_date:
            if leg.account in OTHER_ACCOUNTS:
                came_in -= leg.amount
            else:
                accounts_amount += leg.amount
    findings = [
        Finding(4, f"legs on an account that is not known: {count}", f"account '{account}'")
        for account, count in sorted(unknown.items())
    ]
    equation_amount = opening_stock + came_in - closing_stock
    if equation_amount != accounts_amount:
        what = (
            f"opening + came in - closing is {_units(equation_amount)}, "
            f"but the accounts of the cost of goods sold add up to {_units(accounts_amount)}"
        )
        findings.append(Finding(4, what, f"from {from_date} to {to_date}"))
    return findings


def engine_findings(book_legs: Iterable[Leg], plain_legs: Iterable[Leg]) -> list[Finding]:
    """Return the findings of invariant 7: where the book's legs and the plain engine's differ.

    The first twenty are told one by one, in order of document, line and part; one more finding
    counts the rest. The order of the legs in the two lists does not matter.

    Args:
        book_legs: the legs of the book, as the fast engine made them.
        plain_legs: the legs the plain engine makes of the same facts.
    """
    book = sorted(book_legs, key=_leg_number)
    plain = sorted(plain_legs, key=_leg_number)
    findings: list[Finding] = []
    differences = book_at = plain_at = 0
    while book_at < len(book) or plain_at < len(plain):
        book_leg = book[book_at] if book_at < len(book) else None
        plain_leg = plain[plain_at] if plain_at < len(plain) else None
        if book_leg is not None and plain_leg is not None and _leg_number(book_leg) != _leg_number(plain_leg):
            # Only the one that comes first is looked at; the other list has no such leg.
            if _leg_number(book_leg) < _leg_number(plain_leg):
                plain_leg = None
            else:
                book_leg = None
        book_at += book_leg is not None
        plain_at += plain_leg is not None
        if book_leg != plain_leg:
            differences += 1
            if differences <= MOST_DIFFERENCES:
                findings.append(_difference(book_leg, plain_leg))
    if differences > MOST_DIFFERENCES:
        what = f"{differences - MOST_DIFFERENCES} more legs differ between the two engines"
        findings.append(Finding(7, what, "the whole book"))
    return findings


def _difference(book_leg: Leg | None, plain_leg: Leg | None) -> Finding:
    """Return the finding that tells how two legs of the same number differ, or which one is missing."""
    if plain_leg is None:
        assert book_leg is not None
        return Finding(7, f"only the book has this leg: {_told(book_leg)}", _place(book_leg))
    if book_leg is None:
        return Finding(7, f"only the plain engine has this leg: {_told(plain_leg)}", _place(plain_leg))
    what = f"the book has {_told(book_leg)}; the plain engine {_told(plain_leg)}"
    return Finding(7, what, _place(book_leg))


def _leg_number(leg: Leg) -> tuple[int, int, int]:
    """Return the number that a leg has in the book."""
    return leg.document, leg.line, leg.part


def _place(leg: Leg) -> str:
    """Return where a leg stands, in words."""
    return f"document {leg.document}, line {leg.line}, part {leg.part}"


def _told(leg: Leg) -> str:
    """Return a leg in words."""
    lot = "no lot" if leg.lot_document is None else f"lot {leg.lot_document}.{leg.lot_line}"
    return (
        f"{leg.account}, {leg.sku}, {lot}, quantity {show_quantity(leg.quantity_milli)}, "
        f"amount {_units(leg.amount)} on {leg.effect_date}"
    )


def _units(amount: int) -> str:
    """Return an amount in words; the legs do not know which currency the book is kept in."""
    return f"{amount} minor unit" if abs(amount) == 1 else f"{amount} minor units"
