"""A decision in words: where the date stands, why demand is not what left, what order the rest speaks of."""

from __future__ import annotations

import datetime
import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from study_texts import study_of

from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.demand import demand_from_history
from ledger.views.decision import decision_text, demand_text, offers_table, sentence
from ledger.views.decision_answers import good_words, quantity_words, there_words, until_words
from ledger.views.decision_data import decision_as_data
from ledger.views.decision_figures import footing, rounded
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


def test_a_cause_is_named_from_a_quarter_of_the_difference_on() -> None:
    """Seven days without stock make less than that of it, eight make more; the other cause is named in both."""
    less, more = (
        demand_text(decided(f"history = [1, 0, 1]\ndays_out_of_stock = [0, {days}, 0]", futures=2))
        for days in (7, 8)
    )
    assert DAYS not in less
    assert DAYS in more
    assert all(HALF in words for words in (less, more))


def test_days_without_stock_add_what_they_kept_from_leaving() -> None:
    """40 in a month and 20 in half of one are 40 a month, and 30 left; the rest is the first belief."""
    demand = demand_from_history([40, 20], [0, 15.2])
    assert demand.left_per_month == pytest.approx(30, rel=0.01)
    assert demand.days_out_per_month == pytest.approx(10, rel=0.01)
    assert demand_from_history([40, 20], [0, 0]).days_out_per_month == 0


@given(st.lists(st.floats(-1e9, 1e9), max_size=8))
def test_parts_in_whole_cents_add_up_to_their_rounded_sum(parts: list[float]) -> None:
    """Each is less than a cent from what it is, and what is exactly nothing stays nothing."""
    whole = footing(parts)
    assert sum(whole) == rounded(sum(parts))
    assert all(abs(shown - part) < 1 for shown, part in zip(whole, parts, strict=True))
    assert all(shown == 0 for shown, part in zip(whole, parts, strict=True) if part == 0)


def test_a_year_under_an_offer_adds_up() -> None:
    """On the screen and for scripts alike, to the cent, part by part under its own name."""
    decision = decided(f"{SURE}\non_hand = 30")
    table, data = offers_table(decision), decision_as_data(decision)
    assert table is not None
    told = {row[0]: [each.replace(",", "") for each in row[1:]] for row in table.rows}
    for place, (plan, offer) in enumerate(zip(decision.plans, data["offers"], strict=True)):
        annual = dict(offer["annual"])
        whole = Decimal(annual.pop("total"))
        assert (
            sum(map(Decimal, annual.values()))
            == whole
            == Decimal(table.totals[0][place + 1].replace(",", ""))
        )
        names = (
            "goods a year", "freight, duty, fees", "ordering", "holding", "paid early", "leftovers", "running short",
        )  # fmt: skip
        assert [told[name][place] for name in names] == list(annual.values())
        assert plan.annual is not None
        assert math.isclose(float(annual["holding"]), plan.annual.holding / 100, abs_tol=0.01)
        assert math.isclose(float(annual["goods"]), plan.annual.goods / 100, abs_tol=0.01)


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


def test_what_to_buy_at_home_until_goods_come() -> None:
    """50 a month for 56 days are 92; what is there is taken off, size by size; nothing where it lasts."""
    assert "in about 56 days, the shelf does not last: buy about 92 at Near meanwhile, as" in until_words(
        decided()
    )
    assert "buy about 42 at Near" in until_words(decided(f"{SURE}\non_hand = 50"))
    sizes = f"{SURE}\nsizes = {{S = 0.5, M = 0.5}}\non_hand = {{S = 46, M = 20}}"
    assert "buy about 26 at Near meanwhile (M 26)" in until_words(decided(sizes))
    assert until_words(decided(f"{SURE}\non_hand = 200")) == ""


def test_why_more_is_bought_though_there_is_stock() -> None:
    """What is there, how long it lasts, and that the next order is not for today; only where home is the answer."""
    words = there_words(decided(f"{SURE}\non_hand = 100", DEAR))
    assert words.startswith("100 are there or coming, about 2 months of all sizes together. The next ")
    assert " are not for today: " in words
    assert ", by 2026-05-" in words
    assert there_words(decided(SURE, DEAR)) == ""
    assert there_words(decided(f"{SURE}\non_hand = 100")) == ""


def test_how_many_of_an_order_come_good() -> None:
    """With the rate of bad ones; nothing where none is expected."""
    decision = decided(far=f'{CHEAP}\ndefect_rate = "0.1"')
    bought = decision.verdict.chosen.quantity
    assert good_words(decision).startswith(
        f"Of the {bought}, {rounded(bought * 0.9)} are expected to be good (10.0% bad)"
    )
    assert good_words(decided()) == ""


def test_the_limit_that_holds_a_bulk_is_named() -> None:
    """Weeks of cover and room, each where the next larger order breaks it; neither where nothing is limited."""
    limited = CASE.replace("probability = 0.8", "probability = 0.8\nweeks_of_cover = 26\nspace_units = 300")
    study = study_of(limited.format(demand=SURE, far=CHEAP, head=""), "small.toml", TODAY)
    words = quantity_words(decide(study, 50, 1, looks_ahead=False))
    assert "as far as your limit of 26 weeks of cover and room for 300 allows: 301 would be more" in words
    assert "what covers the need once. The 600 under" in quantity_words(decided())
