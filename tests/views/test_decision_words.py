"""A decision in words: where the date stands, why demand is not what left, what order the rest speaks of."""

from __future__ import annotations

import datetime

import pytest

from ledger.intake.study_file import study_of
from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.demand import demand_from_history
from ledger.views.decision import decision_text, demand_text, sentence
from ledger.views.decision_formulas import explain_text
from ledger.views.decision_sizes import sizes_table

TODAY = datetime.date(2026, 4, 2)

CASE = """
currency = "USD"
{head}
[demand]
{demand}
[money]
capital_per_year = 0.12
salvage_fraction = 0.25
[limits]
probability = 0.8
[[offer]]
name = "Near"
origin = "domestic"
breaks = [{{from = 1, price = "4.00"}}]
cost_per_order = "10"
lead_time = {{mean_days = 7, sd_days = 0}}
[[offer]]
name = "Far"
origin = "CN"
terms = "FOB"
{far}
duty = [{{rate = "0.10", note = "mine", checked = 2026-04-01}}]
brokerage = "100"
freight = {{per_order = "150"}}
lead_time = {{mean_days = 56, sd_days = 0}}
"""
SURE = "per_month = 50\nsd_per_month = 0"
CHEAP, DEAR = 'breaks = [{from = 1, price = "2.00"}]', 'breaks = [{from = 1, price = "3.80"}]'


def decided(demand: str = SURE, far: str = CHEAP, head: str = "", futures: int = 50) -> Decision:
    """A decision on a small study."""
    study = study_of(CASE.format(demand=demand, far=far, head=head), "small.toml", TODAY)
    return decide(study, futures, 1, looks_ahead=False)


def flat(text: str) -> str:
    """The text without its line ends."""
    return " ".join(text.split())


def test_the_day_stands_beside_the_order_at_home() -> None:
    """It is the order that is due by then, not the price."""
    words = sentence(decided(f"{SURE}\non_hand = 100", DEAR))
    assert words.startswith("DOMESTIC: go on buying at Near, ")
    assert " at a time, the next by 2026-05-" in words
    assert "with ordering and holding. " in words


def test_a_late_need_says_today_beside_the_order() -> None:
    """Where the goods can no longer be there in time the order is due today."""
    words = sentence(decided(SURE, DEAR, "need_by = 2026-04-04"))
    assert " at a time, the next today (too late for 2026-04-04), for " in words


def test_a_saving_of_a_later_order_is_said_to_be_todays() -> None:
    """The last day to order is later than today, and the saving is that of an order placed today."""
    later = sentence(decided(f"{SURE}\non_hand = 200"))
    assert " by 2026-" in later
    assert "over 12 months if ordered today, ties up" in later


def test_an_order_due_today_needs_no_such_words() -> None:
    """Without a later day to order by nothing is added."""
    assert "if ordered today" not in sentence(decided())


def test_the_rest_names_the_order_it_speaks_of() -> None:
    """It is named above the switch points, and it is a row of both tables."""
    decision = decided(f"{SURE}\nsizes = {{S = 0.5, M = 0.5}}", DEAR)
    focus = decision.focus
    assert focus is not None
    assert all(held.quantity != focus.quantity for held in decision.alternatives)
    text, sizes = flat(decision_text(decision)), sizes_table(decision)
    name = f"{focus.quantity:,} from Far, is what the rest speaks of, though it is not recommended."
    before, found, _ = text.partition(name)
    assert found
    row = before.rsplit(". ", 1)[1].rsplit(",", 1)[0].lower()
    assert any(
        line.startswith(row) and f" {focus.quantity} " in line
        for line in decision_text(decision).splitlines()
    )
    assert sizes is not None
    assert next(line for line in sizes.text().splitlines() if line.startswith(row)).split()[-3:] == [
        *(str(each) for each in focus.quantities),
        str(focus.quantity),
    ]


def test_a_recommended_order_is_not_named_twice() -> None:
    """The switch points are its own."""
    text = flat(decision_text(decided()))
    assert "The saving is nothing at (all else as it is):" in text
    assert "what the rest speaks of" not in text


def test_a_fixed_quantity_that_does_not_pay_leaves_the_paying_ones_told() -> None:
    """They are those of the same offer without the fixed quantity."""
    free, fixed = decided(), decided(far=f"{CHEAP}\nquantity = 100")
    assert free.break_even is not None
    assert fixed.break_even is not None
    assert fixed.break_even.quantity_from == free.break_even.quantity_from
    assert fixed.break_even.quantity_to == free.break_even.quantity_to
    text = flat(decision_text(fixed))
    assert "The order from afar as the study fixes it, 100 pieces, would lose " in text
    assert "; the 100 that the study fixes are not among them" in text
    assert "not among them" not in decision_text(free)


def test_nothing_pays_is_still_said_of_a_fixed_quantity() -> None:
    """Where the offer pays at no quantity none is told."""
    fixed = decided(far=f"{DEAR}\nquantity = 100")
    assert fixed.break_even is not None
    assert fixed.break_even.quantity_from is None
    assert "not among them" not in decision_text(fixed)


DAYS, HALF = "the difference is days without stock", "begins with half a piece more than left"


@pytest.mark.parametrize(
    ("demand", "told", "untold"),
    [
        ("history = [40, 20]\ndays_out_of_stock = [0, 15]", DAYS, HALF),
        ("history = [1, 0, 1]", HALF, DAYS),
        ("history = [1, 0, 1]\ndays_out_of_stock = [0.6, 0, 0]", HALF, DAYS),
        ("history = [2, 0, 1]\ndays_outside = [0, 10, 0]", HALF, DAYS),
    ],
)
def test_the_difference_to_what_left_has_its_own_cause(demand: str, told: str, untold: str) -> None:
    """Days without stock are named where they make the difference, the first belief where that does."""
    words = demand_text(decided(demand, futures=2))
    assert "a month really left" in words
    assert told in words
    assert untold not in words


def test_both_causes_are_named_where_both_matter() -> None:
    """Few sales and some days without stock."""
    words = demand_text(decided("history = [1, 0, 1]\ndays_out_of_stock = [0, 12, 8]", futures=2))
    assert DAYS in words
    assert HALF in words


def test_days_without_stock_add_what_they_kept_from_leaving() -> None:
    """40 in a month and 20 in half of one are 40 a month, and 30 left; the rest is the first belief."""
    demand = demand_from_history([40, 20], [0, 15.2])
    assert demand.left_per_month == pytest.approx(30, rel=0.01)
    assert demand.days_out_per_month == pytest.approx(10, rel=0.01)
    assert demand_from_history([40, 20], [0, 0]).days_out_per_month == 0


def test_an_incremental_break_is_explained_by_its_own_quantity() -> None:
    """What the program takes a break to mean, with the offer's second one; nothing of it for other offers."""
    breaks = 'breaks = [{from = 1, price = "2.00"}, {from = 500, price = "1.80"}]'
    told = flat(explain_text(decided(far=f'{breaks}\ndiscount = "incremental"')))
    assert "the price from 500 is that of pieces beyond the first 500." in told
    assert "incremental" not in explain_text(decided(far=breaks))


def test_a_contradiction_names_its_study() -> None:
    """The file's name stands before what is wrong in it."""
    with pytest.raises(Exception, match=r"^small\.toml: 1 problem, nothing was compared"):
        decided(far=f"{CHEAP}\nminimum = 100\nmaximum = 50")
