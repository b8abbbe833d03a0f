"""What a plan answers before its tables: what cannot be planned, and days too far away to name."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from plan_builder import TERMS, TODAY, after, lead, offer, planned, stocked, use, wish

from ledger.book.plan_facts import PlanFacts
from ledger.sourcing.what_to_order import Stocked, outlook
from ledger.views.plan_answers import answers, history_words
from ledger.views.plan_data import plan_as_data
from ledger.views.plan_report import PlanReport
from ledger.views.plan_table import lasting, pack_words


def report(*items: Stocked, kind: str = "") -> PlanReport:
    """A plan of items that nobody sells."""
    facts = PlanFacts((), (), (), (), "2026-01", TODAY.isoformat(), {})
    return PlanReport(facts, planned(*(wish(item) for item in items)), TERMS, (), "Shop", kind=kind)


def test_what_was_used_up_and_nobody_sells_says_what_to_do() -> None:
    """When it was used up, that no supplier is known, and what makes one known; then the kind."""
    item = stocked("INK", 0, last_used_on=after(-21), emptied_on=after(-19))
    first, second = answers(report(item, kind="ink"))
    assert first.startswith(f"INK cannot be planned: used up on {after(-19)}; no supplier known: ")
    assert first.endswith("add a quote or receive it once with a party.")
    assert second == "No ink has to be ordered within 14 days."


def test_what_is_there_and_nobody_sells_says_how_much() -> None:
    """With the day of its last use."""
    item = stocked("INK", 12, last_used_on=after(-21))
    assert (
        f"INK cannot be planned: 12 each on hand, last used on {after(-21)}; no" in answers(report(item))[0]
    )


def test_packs_of_mixed_sizes_are_named_where_an_item_cannot_be_planned() -> None:
    """Beside another reason; once, where they are the reason; and scripts read the same."""
    packs = "Mill sells it in packs of mixed sizes (M 1, L 2): decide with 'compare Ink'"
    there = report(stocked("INK", 12))
    packed = replace(there, facts=replace(there.facts, in_packs={"INK": packs}))
    for why in ("the minimum is too much.", packs):
        stuck = replace(packed.plan.stuck[0], why=why)
        told = replace(packed, plan=replace(packed.plan, stuck=(stuck,)))
        said = answers(told)[0]
        assert said.count(packs) == 1
        assert said.count("the minimum is too much; ") == (why != packs)
        (data,) = plan_as_data(told)["cannot_be_planned"]
        assert said.endswith(f"{data['why']}.")


def test_a_day_more_than_five_years_away_is_not_named() -> None:
    """A thousand pieces at one in ninety days; 300 at one a day are named."""
    far = outlook(stocked(there=1000, use=use(times=1)), lead(5), 0.95, TODAY)
    assert lasting(far, TODAY) == "over 5 years"
    last = 5 * 365
    assert lasting(replace(far, lasts_until=after(last)), TODAY) == after(last).isoformat()
    assert lasting(replace(far, lasts_until=after(last + 1)), TODAY) == "over 5 years"
    near = outlook(stocked(there=300), lead(5), 0.95, TODAY)
    assert lasting(near, TODAY) == after(300).isoformat()


def test_packs_are_said_with_their_content() -> None:
    """Cases of 24; by the piece nothing is said."""
    cases = planned(wish(stocked(there=0), offer(unit="case", unit_factor=Fraction(24)))).orders[0].lines[0]
    assert pack_words(cases) == f"{cases.units} case of 24 each"
    pieces = planned(wish(stocked(there=0), offer())).orders[0].lines[0]
    assert pack_words(pieces) == ""


def test_a_short_history_is_said_to_be_short() -> None:
    """Less than two months of it, and how many days since its last one; a longer history up to today says nothing."""

    def said(days: int, since: int) -> str:
        facts = PlanFacts((), (), (), (), "2026-01", after(-since).isoformat(), {}, days_observed=days)
        return " ".join(history_words(PlanReport(facts, planned(), TERMS, (), "Shop")))

    assert said(62, 0) == ""
    assert "rests on 61 days of history: a season or a busier month is not in it" in said(61, 0)
    assert "1 day since then is not in it" in said(62, 1)
    assert "5 days since then are not in it" in said(62, 5)
