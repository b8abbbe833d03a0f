"""Random histories with every event of the costing: jobs of jobs, returns, counts, shorts.

`shop_histories` draws document after document and keeps each one that the plain engine accepts
together with all before it: a document that would be refused is left out, as it would be in the
book. Documents are numbered as they are entered while their dates jump about over three months,
so most histories hold late entries.

Histories come in two sorts. In most, nothing is made, however indirectly, from what is made of
it, and any component may go short. In the others finished shirts are also stripped to blank ones
again, and the shirts never go short in a job.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from ledger.costing.facts import FactLine, Facts, Leg, ShareFact, UndoFact
from ledger.costing.plain import plain_legs
from ledger.errors import Refused

FIRST_DAY = date(2026, 1, 1)
DAYS = 90
"""The days over which a drawn history reaches: January, February and March."""

TAX_CLASS_OF_SKU = {
    "tee": "goods",
    "vinyl": "goods",
    "ink": "supplies when used",
    "guest-tee": "customer's",
    "printed-tee": "goods",
    "gift-set": "goods",
}
BOUGHT = ("tee", "tee", "tee", "vinyl", "ink", "guest-tee", "printed-tee")
"""What is received; shirts more often than the rest, finished ones now and then."""

COMPONENTS_OF = {
    "printed-tee": ("tee", "vinyl", "ink", "guest-tee"),
    "gift-set": ("printed-tee", "tee", "vinyl"),
}
IN_A_CIRCLE = ("tee", "printed-tee", "gift-set")
"""The SKUs that are made from each other where shirts are stripped."""

_LEAVING = ("sale", "sale", "sale", "use", "spoil", "own use", "sample", "donate")
STEPS = (
    *("receipt",) * 3,
    *("make",) * 3,
    *("leaving",) * 3,
    *("take back",) * 2,
    *("send back", "count", "write down", "charge", "undo"),
)


@dataclass
class History:
    """A history while it is drawn."""

    strips_shirts: bool
    facts: Facts = field(default_factory=lambda: Facts(()))
    documents: int = 0

    def post(
        self,
        lines: tuple[FactLine, ...] = (),
        shares: tuple[ShareFact, ...] = (),
        undos: tuple[UndoFact, ...] = (),
    ) -> None:
        """Add a document if what it leads to can be costed."""
        facts = Facts(self.facts.lines + lines, self.facts.shares + shares, self.facts.undos + undos)
        if _has_a_lot_below_zero(facts):
            return
        try:
            legs = plain_legs(facts)
        except Refused:
            return
        if _has_an_arrival_below_zero(facts, legs):
            return
        self.facts = facts
        self.documents += 1

    def standing(self, *events: str) -> list[FactLine]:
        """The lines of some events that were not undone."""
        gone = {undo.undoes for undo in self.facts.undos}
        return [line for line in self.facts.lines if line.event in events and line.document not in gone]

    def referred_to(self) -> set[int]:
        """The documents that lines which were not undone refer to."""
        gone = {undo.undoes for undo in self.facts.undos}
        refers = {line.ref_document for line in self.facts.lines if line.document not in gone}
        return {document for document in refers if document is not None}

    def undone_or_undoing(self) -> set[int]:
        """The documents that cannot be undone any more."""
        return {number for undo in self.facts.undos for number in (undo.undoes, undo.document)}


def _has_a_lot_below_zero(facts: Facts) -> bool:
    """Whether discounts take more off a lot than it cost, which the book refuses."""
    cost = {
        (line.document, line.line): line.amount - line.claimed_amount
        for line in facts.lines
        if not is_arrival(line)
    }
    return _is_below_zero(cost, facts)


def _has_an_arrival_below_zero(facts: Facts, legs: list[Leg]) -> bool:
    """Whether late credits take more off an arrival than it cost when it arrived."""
    arrivals = {(line.document, line.line) for line in facts.lines if is_arrival(line)}
    cost = {
        (leg.document, leg.line): leg.amount
        for leg in legs
        if (leg.document, leg.line) in arrivals and leg.account == "on hand" and leg.quantity_milli > 0
    }
    return _is_below_zero(cost, facts)


def _is_below_zero(cost: dict[tuple[int, int], int], facts: Facts) -> bool:
    """Whether charges make a cost negative, the late ones that raise it left out: they may come last."""
    gone = {undo.undoes for undo in facts.undos if undo.path == "dropped"}
    for share in facts.shares:
        number = (share.receipt_document, share.receipt_line)
        if share.document not in gone and number in cost:
            cost[number] += min(0, share.amount) if share.path == "late" else share.amount
    return min(cost.values(), default=0) < 0


def is_arrival(line: FactLine) -> bool:
    """Whether a line brings in what was shipped before."""
    return line.event == "receipt" and line.ref_document is not None


def dates() -> SearchStrategy[str]:
    """Every third day, so that several documents often meet on one day."""
    return st.integers(0, DAYS // 3 - 1).map(
        lambda number: (FIRST_DAY + timedelta(days=3 * number)).isoformat()
    )


def quantities() -> SearchStrategy[int]:
    """Whole pieces most of the time, thousandths else."""
    return st.one_of(st.integers(1, 8).map(lambda pieces: pieces * 1000), st.integers(1, 5000))


def amounts() -> SearchStrategy[int]:
    """Small amounts, where rounding shows, and large ones."""
    return st.one_of(st.integers(0, 100), st.integers(0, 20_000))


def new_line(
    document: int, line: int, event: str, effect_date: str, sku: str, quantity_milli: int
) -> FactLine:
    """A line of one of the drawn shop's SKUs."""
    return FactLine(document, line, event, effect_date, sku, TAX_CLASS_OF_SKU[sku], quantity_milli)


def _receipt(draw: DrawFn, history: History, event: str = "receipt") -> None:
    effect_date = FIRST_DAY.isoformat() if event == "opening" else draw(dates())
    document = history.documents + 1
    lines = []
    for number in range(1, draw(st.integers(1, 3)) + 1):
        line = new_line(
            document, number, event, effect_date, draw(st.sampled_from(BOUGHT)), draw(quantities())
        )
        if line.tax_class != "customer's":
            line = replace(line, amount=draw(amounts()))
        if event == "receipt" and draw(st.integers(0, 3)) == 0:
            claimed_milli = draw(st.integers(0, line.quantity_milli // 3))
            line = replace(
                line,
                claimed_milli=claimed_milli,
                claimed_amount=draw(st.integers(0, line.amount)) if claimed_milli else 0,
                normal_milli=draw(st.integers(0, line.quantity_milli // 4)),
                expensed_milli=draw(st.integers(0, line.quantity_milli // 3)),
            )
        lines.append(line)
    history.post(tuple(lines))


def _make(draw: DrawFn, history: History) -> None:
    effect_date, document = draw(dates()), history.documents + 1
    strips = history.strips_shirts and draw(st.integers(0, 2)) == 0
    sku = "tee" if strips else draw(st.sampled_from(("printed-tee", "printed-tee", "gift-set")))
    choice = ("printed-tee", "gift-set") if strips else COMPONENTS_OF[sku]
    components = draw(st.lists(st.sampled_from(choice), min_size=1, max_size=3))
    lines = []
    for number, component in enumerate(components, start=2):
        line = new_line(document, number, "make", effect_date, component, draw(quantities()))
        never_short = history.strips_shirts and component in IN_A_CIRCLE
        line = replace(line, role="component", short_allowed=not never_short and draw(st.booleans()))
        lines.append(replace(line, amount=draw(st.integers(0, 50)) if line.short_allowed else 0))
    made = replace(new_line(document, 1, "make", effect_date, sku, draw(quantities())), role="product")
    if draw(st.booleans()):
        normal_milli = draw(st.one_of(st.integers(0, made.quantity_milli // 2), st.just(made.quantity_milli)))
        expensed_milli = draw(st.integers(0, made.quantity_milli - normal_milli))
        made = replace(made, normal_milli=normal_milli, expensed_milli=expensed_milli)
    if draw(st.booleans()):
        labour = new_line(document, 9, "make", effect_date, sku, 0)
        lines.append(replace(labour, role="labour", amount=draw(amounts())))
    history.post((made, *lines))


def _leaving(draw: DrawFn, history: History) -> None:
    event, effect_date = draw(st.sampled_from(_LEAVING)), draw(dates())
    lines = []
    for number in range(1, draw(st.integers(1, 2)) + 1):
        sku = draw(st.sampled_from(tuple(TAX_CLASS_OF_SKU)))
        line = new_line(history.documents + 1, number, event, effect_date, sku, draw(quantities()))
        line = replace(line, short_allowed=draw(st.integers(0, 3)) > 0)
        # The amount of a sale is its price: only of what else leaves is it the cost of a short.
        has_cost = line.short_allowed and event != "sale"
        lines.append(replace(line, amount=draw(st.integers(0, 50)) if has_cost else 0))
    history.post(tuple(lines))


def _take_back(draw: DrawFn, history: History) -> None:
    sales = history.standing("sale")
    if sales:
        sale = draw(st.sampled_from(sales))
        later = date.fromisoformat(sale.effect_date) + timedelta(days=draw(st.sampled_from((0, 0, 3, 9, 33))))
        quantity_milli = draw(st.integers(1, sale.quantity_milli))
        line = new_line(history.documents + 1, 1, "take back", later.isoformat(), sale.sku, quantity_milli)
        history.post((replace(line, ref_document=sale.document, ref_line=sale.line),))


def _send_back(draw: DrawFn, history: History) -> None:
    receipts = [line for line in history.standing("receipt", "opening") if line.sku in TAX_CLASS_OF_SKU]
    if receipts:
        receipt = draw(st.sampled_from(receipts))
        line = new_line(history.documents + 1, 1, "send back", draw(dates()), receipt.sku, draw(quantities()))
        if draw(st.booleans()):
            line = replace(line, ref_document=receipt.document, ref_line=receipt.line)
        history.post((replace(line, credit=draw(st.one_of(st.none(), amounts()))),))


def _count(draw: DrawFn, history: History) -> None:
    sku = draw(st.sampled_from(tuple(TAX_CLASS_OF_SKU)))
    quantity_milli = draw(st.one_of(st.just(0), quantities()))
    history.post((new_line(history.documents + 1, 1, "count", draw(dates()), sku, quantity_milli),))


def _write_down(draw: DrawFn, history: History) -> None:
    sku = draw(st.sampled_from(tuple(TAX_CLASS_OF_SKU)))
    line = new_line(history.documents + 1, 1, "write down", draw(dates()), sku, 0)
    history.post((replace(line, amount=draw(amounts()) + 1),))


def can_bear_a_charge(line: FactLine) -> bool:
    """Whether something of a receipt or shipment line is kept, and it is the shop's."""
    kept_milli = line.quantity_milli - line.claimed_milli - line.normal_milli
    return kept_milli > 0 and line.tax_class != "customer's"


def _charge(draw: DrawFn, history: History) -> None:
    """A freight bill or a small discount over the lines of one receipt."""
    receipts = history.standing("receipt", "ship")
    if not receipts:
        return
    chosen = draw(st.sampled_from(receipts)).document
    lines = [line for line in receipts if line.document == chosen and can_bear_a_charge(line)]
    shares = tuple(
        ShareFact(
            document=history.documents + 1,
            line=1,
            position=position,
            receipt_document=line.document,
            receipt_line=line.line,
            amount=draw(st.one_of(st.integers(0, 900), st.integers(-min(line.amount, 30), 0))),
            path="with receipt",
            effect_date=line.effect_date,
        )
        for position, line in enumerate(lines, start=1)
    )
    if shares:
        history.post(shares=shares)


def _undo(draw: DrawFn, history: History) -> None:
    """Undo a document that none that stands refers to, and that undoes none itself."""
    dropped = {undo.undoes for undo in history.facts.undos if undo.path == "dropped"}
    charged = {share.receipt_document for share in history.facts.shares if share.document not in dropped}
    posted = {line.document for line in history.facts.lines}
    posted |= {share.document for share in history.facts.shares}
    candidates = sorted(posted - history.undone_or_undoing() - history.referred_to() - charged)
    if candidates:
        undone = draw(st.sampled_from(candidates))
        history.post(undos=(UndoFact(history.documents + 1, undone, "dropped"),))


POSTS = {
    "receipt": _receipt,
    "make": _make,
    "leaving": _leaving,
    "take back": _take_back,
    "send back": _send_back,
    "count": _count,
    "write down": _write_down,
    "charge": _charge,
    "undo": _undo,
}


@st.composite
def drawn_histories(
    draw: DrawFn,
    *,
    most_documents: int,
    steps: Sequence[str] = STEPS,
    posts: Mapping[str, Callable[[DrawFn, History], None]] = POSTS,
) -> Facts:
    """Return whole histories made of some kinds of steps."""
    history = History(strips_shirts=draw(st.integers(0, 3)) == 0)
    if draw(st.booleans()):
        _receipt(draw, history, "opening")
    _receipt(draw, history)
    # Short lists come first, so that a failing history shrinks to a short one.
    one_step = st.sampled_from(steps)
    short_or_long = st.one_of(
        st.lists(one_step, max_size=most_documents),
        st.lists(one_step, min_size=most_documents // 2, max_size=most_documents),
    )
    for step in draw(short_or_long):
        posts[step](draw, history)
    return history.facts


def shop_histories(most_documents: int = 24) -> SearchStrategy[Facts]:
    """Return a strategy for the facts of whole histories in the order they were entered.

    Args:
        most_documents: how many documents at most are tried after the opening and a first receipt.
    """
    return drawn_histories(most_documents=most_documents)
