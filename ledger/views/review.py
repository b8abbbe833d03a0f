"""Kept decisions looked back at: what was expected, what came, what is open, and the answer today."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, replace

from ledger.book.decision_store import KeptDecision
from ledger.book.since_decision import SinceDecision, stock_milli
from ledger.exact.numbers import show_fraction
from ledger.exact.quantity import MILLI
from ledger.sourcing.decide import Decision
from ledger.sourcing.demand import WEEKS_PER_MONTH
from ledger.sourcing.hindsight import (
    TOO_EARLY,
    DemandSince,
    SavingSoFar,
    is_same_answer,
    mean_days,
    unit_ten_thousandths,
    weeks_passed,
)
from ledger.sourcing.order_dates import NO_DATE
from ledger.views.decision import CAUTION, sentence
from ledger.views.figures import money, quantity
from ledger.views.kept_decision import plain_milli, unit_cost_text
from ledger.views.moved_answers import MovedAnswer, moved_text
from ledger.views.moved_words import in_plain_words
from ledger.views.prose import wrapped
from ledger.views.review_open import open_points
from ledger.views.tables import Table, paragraphs

NOTHING_YET = "nothing yet"
_NONE = "-"
_LABEL_LETTERS = 24
FAIR = (
    "What came later was not known on the day of the decision: it shows how the guesses turned out, not whether "
    "the decision was right by what could be known then."
)
ITS_DAY = (
    "Decided again means: for the decision's own day and with the stock of that day, and nothing else. Its figures are "
    "not those of today, and it is no advice to order now: ask that with compare."
)
HOW_SAVED = (
    "Landed cost is held against landed cost; shelf, capital and the work of ordering are in neither. What is "
    "bought at home besides would have been bought there anyway."
)


@dataclass(frozen=True)
class Again:
    """The same question decided with today's facts.

    ``problem`` says why it cannot be; ``put_in`` what really came and stands in the study in place of what was
    expected; ``moved`` is why the answer differs, None where it was not asked for or does not.
    """

    decision: Decision | None = None
    problem: str = ""
    put_in: tuple[str, ...] = ()
    moved: MovedAnswer | None = None


@dataclass(frozen=True)
class Review:
    """One kept decision with all that is known of it now."""

    kept: KeptDecision
    since: SinceDecision
    demand: DemandSince
    saving: SavingSoFar | None
    home_unit_ten_thousandths: int | None
    home_from: str
    again: Again

    @property
    def is_same(self) -> bool:
        """Whether it would be decided the same now; False where it cannot be decided."""
        again, kept = self.again.decision, self.kept
        return again is not None and is_same_answer(kept.verdict, kept.offer, kept.quantity, again)

    @property
    def received_milli(self) -> int:
        """Good pieces that came because of it."""
        return sum(each.quantity_milli for each in self.since.receipts)

    @property
    def landed_unit_ten_thousandths(self) -> int | None:
        """What one of them cost landed; None where nothing came."""
        landed = sum(each.landed_minor for each in self.since.receipts)
        return unit_ten_thousandths(landed, self.received_milli)


def reviews_text(reviews: list[Review]) -> str:
    """Return all kept decisions in one table, each with the answer it would get today."""
    table = Table(["decision", "of", "about", "verdict", ">wanted a month", ">landed", ">days", ">saves"])
    for one in reviews:
        kept = one.kept
        table.add(
            str(kept.number),
            kept.decided_on,
            textwrap.shorten(kept.label, _LABEL_LETTERS, placeholder="…"),
            kept.verdict,
            _both(plain_milli(kept.demand_per_month_milli, 1), _month_came(one)),
            _both(
                _unit(kept.landed_unit_ten_thousandths, kept.currency),
                _unit(one.landed_unit_ten_thousandths, kept.currency),
            ),
            _both(_days_expected(kept), _days_came(one)),
            _both(
                _saving_expected(kept),
                money(one.saving.saved_minor, kept.currency) if one.saving else "",
            ),
        )
    again = [
        wrapped(f"Decision {one.kept.number}, decided again: {again_words(one)}", "  ") for one in reviews
    ]
    told = wrapped(f"Each figure: expected / came; '{_NONE}' where there is none yet.")
    return paragraphs(
        [
            f"{table.text()}\n{told}",
            "\n".join(again),
            wrapped(ITS_DAY),
            wrapped(FAIR),
            wrapped(_caution(reviews)),
        ]
    )


def _both(expected: str, came: str) -> str:
    return f"{expected or _NONE} / {came or _NONE}" if expected or came else ""


def _caution(reviews: list[Review]) -> str:
    """Return the caution about customs where goods from abroad are reckoned with, else ''."""
    again = [one.again.decision for one in reviews]
    is_any_foreign = any(not plan.offer.is_domestic for each in again if each for plan in each.plans)
    return CAUTION if is_any_foreign else ""


def review_text(one: Review) -> str:
    """Return one kept decision with everything that came of it."""
    kept, since = one.kept, one.since
    head = f"Decision {kept.number}, {kept.label}, of {kept.decided_on}: {kept.sentence}"
    why = f"Kept with it: {kept.why}" if kept.why else ""
    passed = weeks_passed(since.days)
    span = (
        f"What came since, up to {since.through}: {passed} of the {round(kept.horizon_months * WEEKS_PER_MONTH)} weeks it looked "
        "ahead."
    )
    parts = [
        wrapped(head),
        wrapped(why),
        wrapped(span) if kept.items else "",
        _came_text(one) if kept.items else "",
        _saving_text(one),
        _open_text(one),
        wrapped(f"Decided again: {again_words(one)}"),
        wrapped(_put_in_text(one)),
        moved_text(in_plain_words(one.again.moved)) if one.again.moved is not None else "",
        wrapped(ITS_DAY),
        wrapped(FAIR),
        wrapped(_caution([one])),
    ]
    return paragraphs(parts)


def again_words(one: Review) -> str:
    """Return whether it would be decided the same now, in a sentence or two."""
    again, kept = one.again.decision, one.kept
    if again is None:
        return f"it cannot be decided now: {one.again.problem}"
    # The last day to order of back then is past: it would read as advice.
    said = sentence(replace(again, order_date=NO_DATE))
    if one.is_same:
        return f"the same again. {said}"
    if again.verdict.word == kept.verdict:
        return f"the same verdict, another order. {said}"
    return f"{again.verdict.word} now, {kept.verdict} then. {said}"


def _came_text(one: Review) -> str:
    kept, since = one.kept, one.since
    table = Table(["", ">expected", ">came", ""])
    table.add(
        "wanted a month", plain_milli(kept.demand_per_month_milli, 1), _month_came(one), _demand_words(one)
    )
    ordered = sum(order.quantity_milli for order in since.orders)
    table.add(
        "ordered",
        f"{kept.quantity:,}",
        quantity(ordered) if since.orders else NOTHING_YET,
        ", ".join(f"order {order.number} of {order.ordered_on}" for order in since.orders),
    )
    table.add(
        "received, good",
        "",
        quantity(one.received_milli) if since.receipts else NOTHING_YET,
        ", ".join(f"receipt {each.document} of {each.received_on}" for each in since.receipts),
    )
    landed = one.landed_unit_ten_thousandths
    table.add(
        "landed cost of one",
        _unit(kept.landed_unit_ten_thousandths, kept.currency),
        _unit(landed, kept.currency),
        _change(kept.landed_unit_ten_thousandths, landed),
    )
    table.add("days from order to shelf", _days_expected(kept), _days_came(one), "")
    if since.receipts:
        left = sum(lot.on_hand_milli for lot in since.lots)
        table.add("left of it now", "", quantity(left), "")
    coming = sum(size.coming_milli for size in since.history.sizes)
    on_way = f"{quantity(coming)} more on the way" if coming else ""
    table.add("on the shelf now, of all", "", quantity(stock_milli(since.history)), on_way)
    return table.text()


def _demand_words(one: Review) -> str:
    found = one.demand
    if found.word == TOO_EARLY:
        return f"{TOO_EARLY}: {found.days} days"
    return f"{found.word}: {found.low:.1f} to {found.high:.1f} was to be expected in 19 of 20 cases"


def _month_came(one: Review) -> str:
    if one.demand.per_month is None or not one.kept.items or one.demand.days == 0:
        return ""
    return f"{float(one.demand.per_month):.1f}"


def _days_expected(kept: KeptDecision) -> str:
    return "" if kept.lead_time_days_milli is None else plain_milli(kept.lead_time_days_milli, 0)


def _days_came(one: Review) -> str:
    mean = mean_days(one.since.took_days)
    return "" if mean is None else show_fraction(mean, 1)


def _saving_expected(kept: KeptDecision) -> str:
    if not kept.is_from_afar or kept.expected_saving is None:
        return ""
    return money(kept.expected_saving, kept.currency)


def _unit(ten_thousandths: int | None, currency: str) -> str:
    return "" if ten_thousandths is None else unit_cost_text(ten_thousandths, currency)


def _change(expected: int | None, came: int | None) -> str:
    if not expected or came is None:
        return ""
    return f"{(came / expected - 1) * 100:+.1f}%"


def _saving_text(one: Review) -> str:
    kept, saving, currency = one.kept, one.saving, one.kept.currency
    if not kept.is_from_afar:
        return wrapped(_home_text(one)) if kept.items else ""
    if saving is None or one.home_unit_ten_thousandths is None:
        return ""
    home = unit_cost_text(one.home_unit_ten_thousandths, currency)
    table = Table(["saved so far, against buying at home", f">{currency}"])
    table.add(
        f"{quantity(saving.wanted_milli)} were wanted of it: at home, at {home} {one.home_from}",
        money(saving.home_minor, currency),
    )
    lost = f", {quantity(saving.lost_milli)} of it for nothing" if saving.lost_milli else ""
    table.add(f"less what left of it cost landed{lost}", money(-saving.gone_minor, currency))
    table.total("saved so far", money(saving.saved_minor, currency))
    rest = (
        f"{quantity(saving.on_hand_milli)} are on the shelf for {money(saving.on_hand_minor, currency)}: if all are "
        f"wanted it saves {money(saving.if_all_used_minor, currency)} in all, if none "
        f"{money(saving.if_none_used_minor, currency)}. "
        if saving.on_hand_milli
        else ""
    )
    expected = f"Expected over {kept.horizon_months} months: {money(kept.expected_saving or 0, currency)} {currency}. "
    return f"{table.text()}\n{wrapped(expected + rest + HOW_SAVED)}"


def _home_text(one: Review) -> str:
    """Return what buying at home cost more or less than expected: that is what savings are held against."""
    kept, came = one.kept, one.landed_unit_ten_thousandths
    if came is None or kept.landed_unit_ten_thousandths is None:
        return ""
    landed = sum(each.landed_minor for each in one.since.receipts)
    expected = one.received_milli * kept.landed_unit_ten_thousandths // (MILLI * 10_000)
    more = landed - expected
    words = (
        "as much as"
        if more == 0
        else f"{money(abs(more), kept.currency)} {kept.currency} {'more' if more > 0 else 'less'} than"
    )
    return (
        f"It buys at home, which is what a saving is held against, so there is none to count. The "
        f"{quantity(one.received_milli)} that came cost {words} expected."
    )


def _open_text(one: Review) -> str:
    points = open_points(one.kept, one.since, one.saving)
    return "\n".join(["Still open:", *(wrapped(f"  {each}", "    ") for each in points)]) if points else ""


def _put_in_text(one: Review) -> str:
    if one.again.decision is None or not one.again.put_in:
        return ""
    return f"Put in: {'; '.join(one.again.put_in)}."
