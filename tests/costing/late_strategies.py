"""Random histories with goods under way, late charges, credits and reversals besides all other events.

`late_histories` is `shop_histories` with more kinds of documents: shipments that arrive in parts
and with losses, charges and discounts that come late to receipts, shipments and arrivals, late
credits for whole charges, and reversals of what left, came in or was made. In some histories the
late steps are so frequent that charges reach goods through several jobs.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy
from shop_strategies import (
    BOUGHT,
    POSTS,
    STEPS,
    TAX_CLASS_OF_SKU,
    History,
    amounts,
    can_bear_a_charge,
    dates,
    drawn_histories,
    is_arrival,
    new_line,
    quantities,
)

from ledger.costing.facts import ARRIVES_FROM, LEAVES_TO, FactLine, Facts, ShareFact, UndoFact

LATE_TAX_CLASS_OF_SKU = TAX_CLASS_OF_SKU | {"cleaner": "supplies when bought"}
"""The SKUs of these histories."""

_SHIPPED = (*BOUGHT, "cleaner")
_LATE_STEPS = (
    *("ship",) * 2,
    *("arrive",) * 3,
    *("late charge",) * 4,
    "credit",
    *("reverse",) * 3,
    *("work through",) * 3,
)


def _later(draw: DrawFn, day: str, *days: int) -> str:
    """A day some days after another."""
    return (date.fromisoformat(day) + timedelta(days=draw(st.sampled_from(days)))).isoformat()


def _ship(draw: DrawFn, history: History) -> None:
    """Goods, or supplies that are deducted at once, that the carrier has from a day on."""
    document, effect_date = history.documents + 1, draw(dates())
    lines = []
    for number in range(1, draw(st.integers(1, 2)) + 1):
        sku = draw(st.sampled_from(_SHIPPED))
        tax_class = LATE_TAX_CLASS_OF_SKU[sku]
        amount = 0 if tax_class == "customer's" else draw(amounts())
        lines.append(
            FactLine(document, number, "ship", effect_date, sku, tax_class, draw(quantities()), amount)
        )
    history.post(tuple(lines))


def _arrive(draw: DrawFn, history: History) -> None:
    """Some or all of a shipment arrives, at times with pieces missing or damaged."""
    ships = history.standing("ship")
    if not ships:
        return
    document, chosen = history.documents + 1, draw(st.sampled_from(ships))
    effect_date = _later(draw, chosen.effect_date, 0, 3, 9, 33)
    lines = []
    for number, shipped in enumerate((line for line in ships if line.document == chosen.document), start=1):
        most_milli = shipped.quantity_milli
        milli = draw(st.one_of(st.just(most_milli), st.integers(1, most_milli)))
        arrives = replace(
            shipped,
            document=document,
            line=number,
            event="receipt",
            effect_date=effect_date,
            quantity_milli=milli,
            amount=0,
            ref_document=shipped.document,
            ref_line=shipped.line,
        )
        if draw(st.booleans()):
            arrives = _with_losses(draw, arrives, shipped)
        lines.append(arrives)
    history.post(tuple(lines))


def _with_losses(draw: DrawFn, arrives: FactLine, shipped: FactLine) -> FactLine:
    """An arrival of which pieces are missing, lost as usual or damaged; now and then all of them."""
    milli = arrives.quantity_milli
    claimed_milli = draw(st.one_of(st.integers(0, milli // 2), st.just(milli)))
    normal_milli = draw(
        st.one_of(st.integers(0, (milli - claimed_milli) // 3), st.just(milli - claimed_milli))
    )
    expensed_milli = draw(st.integers(0, milli - claimed_milli - normal_milli))
    most_credited = shipped.amount * claimed_milli // shipped.quantity_milli
    return replace(
        arrives,
        claimed_milli=claimed_milli,
        claimed_amount=draw(st.integers(0, most_credited)) if claimed_milli else 0,
        normal_milli=normal_milli,
        expensed_milli=expensed_milli,
    )


def _late_charge(draw: DrawFn, history: History) -> None:
    """A bill or a discount that comes late to the lines of one document, also of a reversed one."""
    dropped = {undo.undoes for undo in history.facts.undos if undo.path == "dropped"}
    charged = [
        line
        for line in history.facts.lines
        if line.event in {"receipt", "ship"} and line.document not in dropped and can_bear_a_charge(line)
    ]
    if not charged:
        return
    chosen = draw(st.sampled_from(charged))
    effect_date = _later(draw, chosen.effect_date, 0, 3, 9, 33, 60)
    shares = []
    for position, line in enumerate((line for line in charged if line.document == chosen.document), start=1):
        most_off = max(line.amount, 30 if is_arrival(line) else 0)
        amount = draw(st.one_of(st.integers(0, 900), st.integers(-min(most_off, 900), 0)))
        shares.append(
            ShareFact(
                document=history.documents + 1,
                line=1,
                position=position,
                receipt_document=line.document,
                receipt_line=line.line,
                amount=amount,
                path="late",
                effect_date=effect_date,
            )
        )
    history.post(shares=tuple(shares))


def _credit(draw: DrawFn, history: History) -> None:
    """A whole charge of a closed month is undone by late shares of the opposite amounts."""
    undone = history.undone_or_undoing()
    charges = sorted({share.document for share in history.facts.shares} - undone)
    if not charges:
        return
    chosen, document = draw(st.sampled_from(charges)), history.documents + 1
    shares = [share for share in history.facts.shares if share.document == chosen]
    effect_date = _later(draw, max(share.effect_date for share in shares), 3, 9, 33)
    credits_given = tuple(
        replace(share, document=document, amount=-share.amount, path="late", effect_date=effect_date)
        for share in shares
    )
    history.post(shares=credits_given, undos=(UndoFact(document, chosen, "credit"),))


def _reverse(draw: DrawFn, history: History) -> None:
    """A document of a closed month is undone line by line on a later day."""
    untouchable = history.undone_or_undoing() | history.referred_to()
    possible = {
        (line.event, line.document)
        for line in history.facts.lines
        if line.event in {*LEAVES_TO, *ARRIVES_FROM, "make"}
        and not is_arrival(line)
        and line.document not in untouchable
    }
    if not possible:
        return
    # The event first: there are more receipts than all else together.
    event = draw(st.sampled_from(sorted({event for event, _ in possible})))
    chosen = draw(st.sampled_from(sorted(document for its_event, document in possible if its_event == event)))
    document = history.documents + 1
    originals = [line for line in history.facts.lines if line.document == chosen]
    effect_date = _later(draw, originals[0].effect_date, 3, 9, 33)
    lines = tuple(
        replace(
            original,
            document=document,
            event="reversal",
            effect_date=effect_date,
            ref_document=original.document,
            ref_line=original.line,
            short_allowed=False,
            undone_event=original.event,
        )
        for original in originals
    )
    history.post(lines, undos=(UndoFact(document, chosen, "reversal"),))


def _work_through(draw: DrawFn, history: History) -> None:
    """Shirts are bought or shipped, printed, made into sets and partly used up; then their freight comes."""
    day, bought = draw(dates()), new_line(history.documents + 1, 1, "receipt", "", "tee", draw(quantities()))
    bought = replace(bought, effect_date=day, amount=draw(amounts()))
    if draw(st.booleans()):
        bought = replace(bought, event="ship")
    history.post((bought,))
    if bought not in history.facts.lines:
        return
    if bought.event == "ship":
        arrives = replace(bought, document=history.documents + 1, event="receipt", amount=0)
        history.post((replace(arrives, ref_document=bought.document, ref_line=1),))
    for used, made in (("tee", "printed-tee"), ("printed-tee", "gift-set")):
        day, document = _later(draw, day, 0, 3), history.documents + 1
        component = new_line(document, 2, "make", day, used, draw(quantities()))
        product = new_line(document, 1, "make", day, made, draw(quantities()))
        if draw(st.booleans()):
            normal_milli = draw(st.integers(0, product.quantity_milli // 2))
            product = replace(product, normal_milli=normal_milli, expensed_milli=normal_milli // 2)
        history.post((replace(component, role="component"), replace(product, role="product")))
    for sku in ("tee", "printed-tee", "gift-set"):
        event, day = draw(st.sampled_from(("own use", "sale", "write down"))), _later(draw, day, 0, 3)
        milli, amount = (0, draw(amounts()) + 1) if event == "write down" else (draw(quantities()), 0)
        history.post((replace(new_line(history.documents + 1, 1, event, day, sku, milli), amount=amount),))
    amount = draw(st.one_of(st.integers(0, 900), st.integers(-bought.amount, 0)))
    effect_date = _later(draw, day, 0, 3, 33)
    share = ShareFact(history.documents + 1, 1, 1, bought.document, 1, amount, "late", effect_date)
    history.post(shares=(share,))


_LATE_POSTS = {
    "work through": _work_through,
    "ship": _ship,
    "arrive": _arrive,
    "late charge": _late_charge,
    "credit": _credit,
    "reverse": _reverse,
}


def late_histories(most_documents: int = 24) -> SearchStrategy[Facts]:
    """Return a strategy for the facts of whole histories in the order they were entered.

    Args:
        most_documents: how many documents at most are tried after the opening and a first receipt.
    """
    return drawn_histories(
        most_documents=most_documents, steps=(*STEPS, *_LATE_STEPS), posts=POSTS | _LATE_POSTS
    )
