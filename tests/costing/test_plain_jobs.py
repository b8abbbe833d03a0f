"""The plain engine on jobs, and on facts that contradict each other: each rule by a case worked by hand."""

from __future__ import annotations

import pytest
from plain_facts import amounts, back, entries, line, made, used

from ledger.costing.facts import Facts
from ledger.costing.plain import plain_legs


def test_job_moves_its_components_through_work_in_process() -> None:
    """A shirt and labour go in; two prints come out, one kept and one ruined beyond the usual."""
    labour = made(2, 0, role="labour", line=3, amount=100)
    lines = (
        line(1, "receipt", 2, 500),
        used(2, 1),
        made(2, 3, normal_milli=1000, expensed_milli=1000),
        labour,
    )
    legs = plain_legs(Facts(lines))
    assert entries(legs, 2, 2) == [
        ("on hand", "1.1", -1000, -250),
        ("used", "1.1", 1000, 0),
        ("work in process", "1.1", 0, 250),
    ]
    assert entries(legs, 2, 3) == [("labour", "", 0, -100), ("work in process", "", 0, 100)]
    assert entries(legs, 2, 1) == [
        ("work in process", "", 0, -350),
        ("made", "", -2000, 0),
        ("on hand", "2.1", 2000, 350),
        ("on hand", "2.1", -1000, -175),
        ("spoilage", "2.1", 1000, 175),
    ]


def test_job_of_which_all_is_lost_as_usual_is_spoilage() -> None:
    """Where nothing is kept there is no lot, and what the job cost is spoilage."""
    lines = (line(1, "receipt", 1, 250), used(2, 1), made(2, 1, normal_milli=1000))
    assert entries(plain_legs(Facts(lines)), 2, 1) == [
        ("work in process", "", 0, -250),
        ("spoilage", "", 0, 250),
    ]


def test_labour_of_nothing_has_no_legs() -> None:
    """A labour line of zero is passed over."""
    lines = (line(1, "receipt", 1, 250), used(2, 1), made(2, 1), made(2, 0, role="labour", line=3))
    assert entries(plain_legs(Facts(lines)), 2, 3) == []


def test_job_on_a_customers_own_shirt_costs_nothing() -> None:
    """What is held at no cost makes something that cost nothing."""
    lines = (line(1, "receipt", 1, 0, tax_class="customer's"), used(2, 1, tax_class="customer's"), made(2, 1))
    assert entries(plain_legs(Facts(lines)), 2, 1)[2] == ("on hand", "2.1", 1000, 0)


def test_job_of_a_job_carries_the_cost_on() -> None:
    """A set of prints of shirts costs what the shirts did; both jobs are of one day, in order of number."""
    lines = (
        line(1, "receipt", 3, 1000),
        used(2, 2, day=5),
        made(2, 2, day=5),
        used(3, 1, "print", day=5),
        made(3, 1, "set", day=5),
    )
    assert entries(plain_legs(Facts(lines)), 3, 1)[0] == ("work in process", "", 0, -334)


def test_job_comes_before_a_sale_of_the_day() -> None:
    """What is made on a day can be sold on it, also by a sale entered before."""
    lines = (
        line(1, "receipt", 1, 250),
        line(2, "sale", 1, day=9, sku="print"),
        used(3, 1, day=9),
        made(3, 1, day=9),
    )
    assert amounts(plain_legs(Facts(lines)), "pieces sold", 2) == [250]


WRONG_FACTS = {
    "cannot have the role 'component'": (line(1, "sale", 1, role="component"),),
    "cannot have the role 'item'": (line(1, "make", 1),),
    "a job has one product line, this one has 0": (used(1, 1),),
    "a job has one product line, this one has 2": (made(1, 1), made(1, 1, line=2)),
    "more is missing or damaged than the 1 ": (made(1, 1, normal_milli=600, expensed_milli=600),),
    "nothing can be claimed, not 0.5": (made(1, 1, claimed_milli=500),),
    "-1 for labour is below zero": (made(1, 1), made(1, 0, role="labour", line=2, amount=-1)),
    "-1 counted is below zero": (line(1, "count", -1),),
    "a loss of 0 is not above zero": (line(1, "write down", 0),),
    "a credit of -5 is below zero": (line(1, "receipt", 1, 9), line(2, "send back", 1, credit=-5)),
    "no sale line 0.0 of shirt": (line(1, "take back", 1),),
    "no sale line 1.1 of shirt": (line(1, "receipt", 1), back(2, 1, 1)),
    "no receipt or opening line 7.1": (line(1, "send back", 1, ref_document=7, ref_line=1),),
    "the same document and line number": (line(1, "receipt", 1), line(1, "receipt", 2)),
}


@pytest.mark.parametrize("message", WRONG_FACTS)
def test_facts_that_cannot_be_are_refused(message: str) -> None:
    """A line that contradicts itself or another one raises an error that says so."""
    with pytest.raises(ValueError, match=message):
        plain_legs(Facts(WRONG_FACTS[message]))
