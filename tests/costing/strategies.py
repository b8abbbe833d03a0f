"""Random histories for the property tests of both engines.

`histories` gives facts as a small shop would post them: receipts of several lines and tax
classes with missing and damaged pieces, charges over one or more receipts, stock that leaves,
documents that are undone. Documents are numbered as they are posted while their dates jump
about, so most histories hold late entries. No history ever goes short, at no place in its order.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from ledger.costing.facts import LEAVES_TO, FactLine, Facts, ShareFact, UndoFact

FIRST_DAY = "2026-01-01"
LAST_DAY = "2026-02-15"
"""The first and the last day on which a drawn document can have its effect."""

DAYS_BETWEEN_DOCUMENTS = 15
"""Documents fall on every third day or so, so that several often meet on one day."""

TAX_CLASS_OF_SKU = {
    "tee-sand-m": "goods",
    "tee-plum-l": "goods",
    "film-sheet": "supplies when used",
    "guest-hoodie": "customer's",
    "masking-tape": "supplies when bought",
}
"""The SKUs of the drawn shop, one of each tax class and two of goods."""

KEPT_SKUS = tuple(sku for sku, tax_class in TAX_CLASS_OF_SKU.items() if tax_class != "supplies when bought")
"""The SKUs that are kept in stock and can leave it."""

BUSIEST_SKU = "tee-sand-m"
"""Drawn more often than the others, so that its lots queue up behind each other."""


@dataclass
class _Shop:
    """A history while it is drawn, and what it still allows."""

    lines: list[FactLine] = field(default_factory=list)
    shares: list[ShareFact] = field(default_factory=list)
    undos: list[UndoFact] = field(default_factory=list)
    documents: int = 0

    def next_document(self) -> int:
        self.documents += 1
        return self.documents

    def standing_lines(self, without: int | None = None) -> list[FactLine]:
        """The lines that are in the costing, as if document ``without`` were undone as well."""
        gone = {undo.undoes for undo in self.undos} | {without}
        return [line for line in self.lines if line.document not in gone]

    def most_that_can_leave(self, line: FactLine) -> int:
        """What can leave at the line's place in the order and leave nothing later short."""
        on_hand_milli = 0
        most_milli = None
        for other in sorted([*self.standing_lines(), line], key=_place_in_order):
            if other == line:
                most_milli = on_hand_milli
            elif other.sku == line.sku:
                on_hand_milli += _change_of_stock(other)
                if most_milli is not None:
                    most_milli = min(most_milli, on_hand_milli)
        assert most_milli is not None
        return max(most_milli, 0)

    def can_go(self, document: int) -> bool:
        """Whether a document can be undone: nothing refers to it, and nothing goes short without it."""
        gone = {undo.undoes for undo in self.undos}
        if document in gone:
            return False
        if any(share.receipt_document == document for share in self.shares if share.document not in gone):
            return False
        on_hand_milli: dict[str, int] = {}
        for line in sorted(self.standing_lines(without=document), key=_place_in_order):
            on_hand_milli[line.sku] = on_hand_milli.get(line.sku, 0) + _change_of_stock(line)
            if on_hand_milli[line.sku] < 0:
                return False
        return True


def _place_in_order(line: FactLine) -> tuple[str, int, int, int]:
    return line.effect_date, {"opening": 0, "receipt": 1}.get(line.event, 5), line.document, line.line


def kept_milli(line: FactLine) -> int:
    """Return what of an arrival makes its lot; 0 where it makes none."""
    if line.tax_class == "supplies when bought":
        return 0
    return line.quantity_milli - line.claimed_milli - line.normal_milli


def _change_of_stock(line: FactLine) -> int:
    """What a line adds to the stock of its SKU, or takes from it."""
    return -line.quantity_milli if line.event in LEAVES_TO else kept_milli(line) - line.expensed_milli


def _dates() -> SearchStrategy[str]:
    step = (date.fromisoformat(LAST_DAY) - date.fromisoformat(FIRST_DAY)).days // DAYS_BETWEEN_DOCUMENTS
    return st.integers(0, DAYS_BETWEEN_DOCUMENTS).map(
        lambda number: (date.fromisoformat(FIRST_DAY) + timedelta(days=step * number)).isoformat()
    )


def _quantities() -> SearchStrategy[int]:
    """Whole pieces most of the time, thousandths (vinyl, ink) else."""
    return st.one_of(st.integers(1, 12).map(lambda pieces: pieces * 1000), st.integers(1, 9000))


def _amounts() -> SearchStrategy[int]:
    """Small amounts, where rounding shows, nothing at all, and large ones."""
    return st.one_of(st.integers(0, 100), st.integers(0, 50_000))


@st.composite
def _arrival(draw: DrawFn, document: int, line: int, event: str, effect_date: str) -> FactLine:
    """One line of a receipt or an opening, at times with pieces missing or damaged."""
    skus = KEPT_SKUS if event == "opening" else tuple(TAX_CLASS_OF_SKU)
    sku = draw(st.sampled_from((BUSIEST_SKU,) * 4 + skus))
    tax_class = TAX_CLASS_OF_SKU[sku]
    quantity_milli = draw(_quantities())
    amount = 0 if tax_class == "customer's" else draw(_amounts())
    whole = FactLine(document, line, event, effect_date, sku, tax_class, quantity_milli, amount)
    if event == "opening" or draw(st.booleans()):
        return whole
    if draw(st.integers(0, 9)) == 7:
        return replace(whole, claimed_milli=quantity_milli, claimed_amount=amount)
    # One thousandth at least is kept: it bears what the line and its charges cost.
    claimed_milli = draw(st.integers(0, (quantity_milli - 1) // 2))
    normal_milli = draw(st.integers(0, (quantity_milli - 1 - claimed_milli) // 2))
    most_expensed_milli = quantity_milli - claimed_milli - normal_milli
    expensed_milli = draw(st.one_of(st.integers(0, most_expensed_milli), st.just(most_expensed_milli)))
    return replace(
        whole,
        claimed_milli=claimed_milli,
        claimed_amount=draw(st.integers(0, amount)) if claimed_milli else 0,
        normal_milli=normal_milli,
        expensed_milli=expensed_milli,
    )


def _post_arrival(draw: DrawFn, shop: _Shop, event: str) -> None:
    effect_date = FIRST_DAY if event == "opening" else draw(_dates())
    document = shop.next_document()
    for line in range(1, draw(st.integers(1, 3)) + 1):
        shop.lines.append(draw(_arrival(document, line, event, effect_date)))


def _post_leaving(draw: DrawFn, shop: _Shop) -> None:
    event = draw(st.sampled_from(sorted(LEAVES_TO)))
    effect_date = draw(_dates())
    document = shop.documents + 1
    posted = 0
    for _ in range(draw(st.integers(1, 3))):
        wishes = [
            FactLine(document, posted + 1, event, effect_date, sku, TAX_CLASS_OF_SKU[sku], 1)
            for sku in KEPT_SKUS
        ]
        most_by_wish = {wish: shop.most_that_can_leave(wish) for wish in wishes}
        possible = [wish for wish in wishes if most_by_wish[wish] > 0]
        if not possible:
            break
        wish = draw(st.sampled_from(possible))
        most_milli = most_by_wish[wish]
        quantity_milli = min(draw(st.one_of(_quantities(), st.just(most_milli))), most_milli)
        shop.lines.append(replace(wish, quantity_milli=quantity_milli))
        posted += 1
    shop.documents += posted > 0


def _post_charge(draw: DrawFn, shop: _Shop) -> None:
    """A freight or duty bill, or a discount, over the lines of one or two receipts."""
    receipts = sorted({line.document for line in shop.standing_lines() if line.event == "receipt"})
    if not receipts:
        return
    chosen = draw(st.lists(st.sampled_from(receipts), min_size=1, max_size=2, unique=True))
    charged = [line for line in shop.standing_lines() if line.document in chosen]
    document = shop.next_document()
    for charge_line in range(1, draw(st.integers(1, 2)) + 1):
        for position, line in enumerate(charged, start=1):
            share = ShareFact(
                document=document,
                line=charge_line,
                position=position,
                receipt_document=line.document,
                receipt_line=line.line,
                amount=draw(st.integers(-300, 3000)) if _can_bear_a_charge(line) else 0,
                path="with receipt",
                effect_date=line.effect_date,
            )
            shop.shares.append(share)


def _can_bear_a_charge(line: FactLine) -> bool:
    if line.tax_class == "supplies when bought":
        return line.claimed_milli < line.quantity_milli
    return kept_milli(line) > 0 and line.tax_class != "customer's"


def _post_undo(draw: DrawFn, shop: _Shop) -> None:
    posted = {line.document for line in shop.lines} | {share.document for share in shop.shares}
    candidates = sorted(document for document in posted if shop.can_go(document))
    if candidates:
        undone = draw(st.sampled_from(candidates))
        shop.undos.append(UndoFact(shop.next_document(), undone, "dropped"))


@st.composite
def _histories(draw: DrawFn, *, most_documents: int) -> Facts:
    shop = _Shop()
    if draw(st.booleans()):
        _post_arrival(draw, shop, "opening")
    _post_arrival(draw, shop, "receipt")
    steps = ("receipt", "receipt", "charge", "leaving", "leaving", "leaving", "undo")
    # Short lists come first, so that a failing history shrinks to a short one.
    one_step = st.sampled_from(steps)
    short_or_long = st.one_of(
        st.lists(one_step, max_size=most_documents),
        st.lists(one_step, min_size=most_documents // 2, max_size=most_documents),
    )
    for step in draw(short_or_long):
        if step == "receipt":
            _post_arrival(draw, shop, "receipt")
        elif step == "charge":
            _post_charge(draw, shop)
        elif step == "leaving":
            _post_leaving(draw, shop)
        else:
            _post_undo(draw, shop)
    return Facts(tuple(shop.lines), tuple(shop.shares), tuple(shop.undos))


def histories(most_documents: int = 16) -> SearchStrategy[Facts]:
    """Return a strategy for the facts of whole, sound histories in the order they were posted.

    Args:
        most_documents: how many documents at most follow the opening and the first receipt.
    """
    return _histories(most_documents=most_documents)
