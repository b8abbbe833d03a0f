"""The fast engine against the plain one: the same facts, the same legs, however they are posted."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from book_builder import ITEMS, NOW, close_month, copy_in_memory, make_book
from drawn import drawn
from hypothesis import event, given
from hypothesis import strategies as st
from strategies import TAX_CLASS_OF_SKU, histories

from ledger.book.connect import write_tx
from ledger.book.documents import NewDocument, NewLine, NewShare, insert_documents
from ledger.book.proving import prove, read_facts, read_legs
from ledger.book.recosting import recost
from ledger.costing.facts import (
    ARRIVES_FROM,
    CLASS_IN_DAY,
    LEAVES_TO,
    FactLine,
    Facts,
    Leg,
    ShareFact,
    UndoFact,
)
from ledger.costing.landed import is_stocked
from ledger.costing.layers import OpenLayer
from ledger.costing.plain import plain_legs
from ledger.costing.replay import Movements, replay
from ledger.costing.walk import walk
from ledger.errors import NotEnoughStock, Refused

ENGINE = drawn(60)
BOOK = drawn(20)


def costing_order(line: FactLine) -> tuple[str, int, int, int]:
    """The place of a line in costing order."""
    return line.effect_date, CLASS_IN_DAY[line.event], line.document, line.line


def counted(facts: Facts) -> Facts:
    """The facts without the pairs that undoing dropped."""
    gone = {number for undo in facts.undos for number in (undo.document, undo.undoes)}
    return Facts(
        tuple(line for line in facts.lines if line.document not in gone),
        tuple(share for share in facts.shares if share.document not in gone),
    )


def movements_from(
    facts: Iterable[FactLine], charged: dict[tuple[int, int], int], leaves_to: dict[str, str]
) -> Movements:
    """Return facts, already in costing order, as movements.

    ``charged`` holds, per receipt line, the sum of the charge shares that take effect with it.
    Lines that make no lot (supplies when bought, lines wholly lost) are left out.
    """
    movements = Movements()
    for fact in facts:
        arrives = fact.event in ARRIVES_FROM
        quantity = fact.quantity_milli
        amount = 0
        if arrives:
            quantity -= fact.claimed_milli + fact.normal_milli
            if quantity <= 0 or not is_stocked(fact.tax_class):
                continue
            amount = fact.amount - fact.claimed_amount + charged.get((fact.document, fact.line), 0)
        movements.document.append(fact.document)
        movements.line.append(fact.line)
        movements.effect_date.append(fact.effect_date)
        movements.sku.append(fact.sku)
        movements.arrives.append(arrives)
        movements.account.append(ARRIVES_FROM[fact.event] if arrives else leaves_to[fact.event])
        movements.quantity.append(quantity)
        movements.amount.append(amount)
        movements.expensed.append(fact.expensed_milli if arrives else 0)
    return movements


def fast_legs(facts: Facts) -> list[Leg]:
    """What the fast engine makes of a whole history at once."""
    standing = counted(facts)
    by_place = {(line.document, line.line): line for line in standing.lines}
    attached = [
        (share, receipt.sku, receipt.tax_class)
        for share in standing.shares
        for receipt in [by_place[share.receipt_document, share.receipt_line]]
    ]
    legs = walk(standing.lines, attached).legs.legs()
    return sorted(legs, key=lambda leg: (leg.document, leg.line, leg.part))


def is_below_zero(facts: Facts) -> bool:
    """Whether discounts take more off a lot than it cost, which the fast engine refuses."""
    standing = counted(facts)
    cost = {
        (line.document, line.line): line.amount - line.claimed_amount
        for line in standing.lines
        if line.tax_class != "supplies when bought"
    }
    for share in standing.shares:
        place = (share.receipt_document, share.receipt_line)
        if place in cost:
            cost[place] += share.amount
    return any(amount < 0 for amount in cost.values())


@ENGINE
@given(histories())
def test_both_engines_give_the_same_legs(facts: Facts) -> None:
    """The fast engine's legs of a whole history are the plain engine's, or it refuses a negative lot."""
    if is_below_zero(facts):
        event("a lot below zero")
        with pytest.raises(Refused):
            fast_legs(facts)
    else:
        assert fast_legs(facts) == plain_legs(facts)


@ENGINE
@given(histories(), st.sampled_from(sorted(TAX_CLASS_OF_SKU)))
def test_both_engines_refuse_the_same_shortage(facts: Facts, sku: str) -> None:
    """A sale of more than there ever was is refused by both engines."""
    greedy = FactLine(10_000, 1, "sale", "2026-03-01", sku, TAX_CLASS_OF_SKU[sku], 10**9)
    short = replace(facts, lines=(*facts.lines, greedy), shares=())
    with pytest.raises(NotEnoughStock):
        plain_legs(short)
    with pytest.raises(NotEnoughStock, match=sku):
        fast_legs(short)


@ENGINE
@given(histories(), st.integers(0, 15))
def test_a_replay_may_stop_and_go_on(facts: Facts, cut: int) -> None:
    """A history replayed in two parts, the second from the layers the first left open, costs the same."""
    if is_below_zero(facts):
        return
    standing = counted(facts)
    charged: dict[tuple[int, int], int] = {}
    for share in standing.shares:
        place = (share.receipt_document, share.receipt_line)
        charged[place] = charged.get(place, 0) + share.amount
    lines = sorted(standing.lines, key=costing_order)
    first, second = lines[:cut], lines[cut:]
    start = replay([], movements_from(first, charged, LEAVES_TO)).open_layers
    rest = replay(start, movements_from(second, charged, LEAVES_TO))
    whole = replay([], movements_from(lines, charged, LEAVES_TO))
    moved = {line.sku for line in second}
    kept = [layer for layer in start if layer.sku not in moved]
    assert _by_sku([*kept, *(layer for layer in rest.open_layers if layer.sku in moved)]) == _by_sku(
        whole.open_layers
    )


def _by_sku(layers: object) -> dict[str, list[OpenLayer]]:
    by_sku: dict[str, list[OpenLayer]] = {}
    for layer in layers:  # type: ignore[attr-defined]
        by_sku.setdefault(layer.sku, []).append(layer)
    return by_sku


@pytest.fixture(scope="module")
def shop_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book that knows the items of the drawn histories."""
    path = tmp_path_factory.mktemp("drawn") / "drawn.blankbook"
    like = ITEMS[0]
    items = [
        replace(like, sku=sku, name=sku, tax_class=tax_class) for sku, tax_class in TAX_CLASS_OF_SKU.items()
    ]
    make_book(path, items)
    return path


def postings(facts: Facts) -> Iterator[tuple[NewDocument, set[str]]]:
    """The history's documents as they were posted, each with the SKUs whose past it changes."""
    lines: dict[int, list[FactLine]] = {}
    shares: dict[int, list[ShareFact]] = {}
    undos: dict[int, UndoFact] = {undo.document: undo for undo in facts.undos}
    by_place = {(line.document, line.line): line for line in facts.lines}
    for line in facts.lines:
        lines.setdefault(line.document, []).append(line)
    for share in facts.shares:
        shares.setdefault(share.document, []).append(share)
    for number in sorted({*lines, *shares, *undos}):
        if number in lines:
            yield _of_lines(number, lines[number]), set()
        elif number in shares:
            skus = {by_place[share.receipt_document, share.receipt_line].sku for share in shares[number]}
            yield _of_shares(number, shares[number]), skus
        else:
            undone = undos[number].undoes
            skus = {line.sku for line in lines.get(undone, [])}
            skus |= {
                by_place[share.receipt_document, share.receipt_line].sku for share in shares.get(undone, [])
            }
            head = lines.get(undone) or shares[undone]
            yield (
                NewDocument(
                    number=number,
                    event="undo",
                    document_date=head[0].effect_date,
                    effect_date=head[0].effect_date,
                    recorded_at=NOW,
                    currency="USD",
                    path="dropped",
                    undoes=undone,
                ),
                skus,
            )


def _of_lines(number: int, lines: list[FactLine]) -> NewDocument:
    return NewDocument(
        number=number,
        event=lines[0].event,
        document_date=lines[0].effect_date,
        effect_date=lines[0].effect_date,
        recorded_at=NOW,
        currency="USD",
        lines=tuple(
            NewLine(
                line=line.line,
                sku=line.sku,
                tax_class=line.tax_class,
                quantity_milli=line.quantity_milli,
                amount=line.amount,
                claimed_milli=line.claimed_milli,
                claimed_amount=line.claimed_amount,
                normal_milli=line.normal_milli,
                expensed_milli=line.expensed_milli,
                role=line.role,
                lot_document=line.ref_document,
                lot_line=line.ref_line,
                short_allowed=int(line.short_allowed),
                credit=line.credit,
            )
            for line in lines
        ),
    )


def _of_shares(number: int, shares: list[ShareFact]) -> NewDocument:
    charge_lines = sorted({share.line for share in shares})
    return NewDocument(
        number=number,
        event="charge",
        document_date=shares[0].effect_date,
        effect_date=min(share.effect_date for share in shares),
        recorded_at=NOW,
        currency="USD",
        path="with receipt",
        lines=tuple(
            NewLine(
                line=line,
                role="charge",
                amount=sum(share.amount for share in shares if share.line == line),
            )
            for line in charge_lines
        ),
        shares=tuple(
            NewShare(
                line=share.line,
                receipt_document=share.receipt_document,
                receipt_line=share.receipt_line,
                position=share.position,
                weight=1,
                amount=share.amount,
                path=share.path,
                effect_date=share.effect_date,
            )
            for share in shares
        ),
    )


def post(connection: sqlite3.Connection, document: NewDocument, late_skus: set[str]) -> None:
    """Post one document as the book does."""
    with write_tx(connection):
        insert_documents(connection, [document])
        recost(connection, [document], late_skus)


def post_all(connection: sqlite3.Connection, documents: Iterable[tuple[NewDocument, set[str]]]) -> bool:
    """Post documents one by one; False where one was refused because a lot would cost less than nothing."""
    for document, late_skus in documents:
        try:
            post(connection, document, late_skus)
        except NotEnoughStock:
            raise
        except Refused:
            event("a lot below zero")
            return False
    return True


def kept_figures(connection: sqlite3.Connection) -> dict[str, list[tuple[object, ...]]]:
    """Everything the book keeps beside the legs, in a settled order; what is all zero is left out."""
    queries = {
        "lots": "SELECT * FROM lot ORDER BY document, line",
        "layers": "SELECT * FROM layer ORDER BY 1, 2, 3",
        "balances": (
            "SELECT sku, quantity_milli, amount FROM balance WHERE quantity_milli <> 0 OR amount <> 0 "
            "ORDER BY sku"
        ),
        "month totals": "SELECT * FROM month_total WHERE quantity_milli <> 0 OR amount <> 0 ORDER BY 1, 2, 3",
    }
    return {name: connection.execute(query).fetchall() for name, query in queries.items()}


def wrong_shares_apart(connection: sqlite3.Connection) -> list[str]:
    """What `prove` finds, without shares that were drawn instead of spread."""
    return [
        f"{found.where}: {found.what}"
        for found in prove(connection).findings
        if "its shares are not its amount spread" not in found.what
    ]


@BOOK
@given(facts=histories(12))
def test_posting_one_by_one_gives_the_plain_legs(shop_book: Path, facts: Facts) -> None:
    """After every posting the book's legs are the plain engine's, and every check finds it whole."""
    connection = copy_in_memory(shop_book)
    try:
        for document, late_skus in postings(facts):
            if not post_all(connection, [(document, late_skus)]):
                assert wrong_shares_apart(connection) == []
                return
            assert read_legs(connection) == plain_legs(read_facts(connection))
            assert wrong_shares_apart(connection) == []
        assert read_facts(connection).lines == tuple(
            sorted(facts.lines, key=lambda line: (line.document, line.line))
        )
    finally:
        connection.close()


@BOOK
@given(facts=histories(12))
def test_kept_figures_do_not_depend_on_the_way_there(shop_book: Path, facts: Facts) -> None:
    """Lots, layers, balances and month totals kept posting by posting are those of one replay at the end."""
    connection = copy_in_memory(shop_book)
    try:
        if not post_all(connection, postings(facts)):
            return
        before = kept_figures(connection)
        with write_tx(connection):
            recost(connection, (), TAX_CLASS_OF_SKU)
        assert kept_figures(connection) == before
    finally:
        connection.close()


@BOOK
@given(facts=histories(12))
def test_a_close_between_changes_no_cost(shop_book: Path, facts: Facts) -> None:
    """With January closed before February is posted, February's legs are still the plain engine's."""
    february = {line.document for line in facts.lines if line.effect_date >= "2026-02"}
    february |= {share.document for share in facts.shares if share.effect_date >= "2026-02"}
    # A bill over receipts of both months, and its undo, would need January open again.
    mixed = {share.document for share in facts.shares if share.effect_date < "2026-02"} & february
    if mixed:
        return
    # What is undone in February is left out: with the order changed it could go short before its undo.
    gone = {number for undo in facts.undos for number in (undo.document, undo.undoes)}
    ordered = list(postings(facts))
    early = [one for one in ordered if one[0].effect_date < "2026-02"]
    late = [one for one in ordered if one[0].effect_date >= "2026-02" and one[0].number not in gone]
    # What leaves comes last, for January's late entries came in between what it was drawn with.
    late.sort(key=lambda one: one[0].event in LEAVES_TO)
    connection = copy_in_memory(shop_book)
    try:
        if not post_all(connection, early):
            return
        close_month(connection, "2026-01", 1000)
        if not post_all(connection, late):
            return
        assert read_legs(connection) == plain_legs(read_facts(connection))
        assert wrong_shares_apart(connection) == []
    finally:
        connection.close()
