"""The plain engine on shorts and what settles them: each rule by a case worked by hand."""

from __future__ import annotations

import pytest
from plain_facts import amounts, back, entries, line, made, used

from ledger.costing.facts import Facts, ShareFact
from ledger.costing.plain import plain_legs
from ledger.errors import NotEnoughStock, OwnAncestor


def test_short_stands_at_the_latest_known_cost_after_what_was_there() -> None:
    """Two wanted beyond the lot of three for 10.00: 6.67 by its landed cost, freight included."""
    share = ShareFact(9, 1, 1, 1, 1, 100, "with receipt", "2026-03-01")
    lines = (line(1, "receipt", 3, 900), line(2, "sale", 5, short_allowed=True))
    assert entries(plain_legs(Facts(lines, (share,))), 2) == [
        ("on hand", "1.1", -3000, -1000),
        ("pieces sold", "1.1", 3000, 1000),
        ("on hand", "", -2000, -667),
        ("pieces sold", "", 2000, 667),
    ]


def test_short_of_what_never_had_a_cost_stands_at_its_own_amount() -> None:
    """Nothing was ever received: the line says what it cost."""
    legs = plain_legs(Facts((line(1, "use", 2, 500, short_allowed=True),)))
    assert entries(legs, 1) == [("on hand", "", -2000, -500), ("used", "", 2000, 500)]


def test_short_without_any_cost_is_refused() -> None:
    """Nothing was ever received and no amount is given."""
    with pytest.raises(
        NotEnoughStock, match=r"on hand 0, missing 2\. No cost of it is known yet: give an amount"
    ):
        plain_legs(Facts((line(1, "use", 2, short_allowed=True),)))


def test_short_that_is_not_allowed_is_refused() -> None:
    """A component is short and its line is not marked."""
    with pytest.raises(NotEnoughStock, match=r"\(make\) takes 2, on hand 1, missing 1"):
        plain_legs(Facts((line(1, "receipt", 1, 100), used(2, 2), made(2, 2))))


def test_later_receipt_of_the_month_settles_a_short() -> None:
    """The sale is costed anew out of the lot that came, and what is left is for later sales."""
    lines = (
        line(1, "receipt", 1, 100),
        line(2, "sale", 3, short_allowed=True),
        line(3, "receipt", 4, 800),
        line(4, "sale", 2),
    )
    legs = plain_legs(Facts(lines))
    assert amounts(legs, "pieces sold", 2) == [100, 400]
    assert entries(legs, 2)[3] == ("pieces sold", "3.1", 2000, 400)
    assert amounts(legs, "pieces sold", 4) == [400]


def test_shorts_are_settled_in_their_order_and_in_part() -> None:
    """Two lots come one after the other: the first sale is served first, the rest stays short."""
    lines = (
        line(1, "sale", 2, 90, short_allowed=True),
        line(2, "sale", 2, 70, short_allowed=True),
        line(3, "receipt", 1, 11),
        line(4, "receipt", 2, 44),
    )
    legs = plain_legs(Facts(lines))
    assert amounts(legs, "pieces sold", 1) == [11, 22]
    # The rest of the second sale is one of two for 70.
    assert entries(legs, 2)[1::2] == [("pieces sold", "4.1", 1000, 22), ("pieces sold", "", 1000, 35)]


def test_spoiled_pieces_of_a_lot_leave_before_it_settles() -> None:
    """Of three that came one was ruined: the short gets the second and third."""
    lines = (line(1, "sale", 3, 90, short_allowed=True), line(2, "receipt", 3, 100, expensed_milli=1000))
    legs = plain_legs(Facts(lines))
    assert amounts(legs, "spoilage", 2) == [33]
    assert amounts(legs, "pieces sold", 1) == [67, 30]


def test_receipt_of_the_next_month_settles_nothing() -> None:
    """March's short stays at the cost it was given."""
    lines = (line(1, "sale", 1, 90, short_allowed=True), line(2, "receipt", 1, 50, effect_date="2026-04-01"))
    assert entries(plain_legs(Facts(lines)), 1)[0] == ("on hand", "", -1000, -90)


def test_job_is_costed_anew_when_its_short_is_settled() -> None:
    """Ink came after the job and after the print was sold: all three know its real cost."""
    lines = (
        used(1, 1, amount=900, short_allowed=True),
        made(1, 1),
        line(2, "sale", 1, sku="print"),
        line(3, "receipt", 1, 250),
    )
    legs = plain_legs(Facts(lines))
    assert amounts(legs, "work in process", 1) == [-250, 250]
    assert amounts(legs, "pieces sold", 2) == [250]


def test_job_that_would_settle_its_own_short_is_refused() -> None:
    """Prints made of prints that were not there yet."""
    lines = (
        line(1, "receipt", 1, 100),
        used(2, 1),
        used(2, 1, "print", 3, amount=5, short_allowed=True),
        made(2, 3),
    )
    with pytest.raises(OwnAncestor, match=r"job 2 of print: what was made would settle"):
        plain_legs(Facts(lines))


def test_job_that_would_settle_its_own_short_through_another_is_refused() -> None:
    """Shirts stripped from prints of those same shirts."""
    lines = (
        used(1, 1, amount=100, short_allowed=True),
        made(1, 1),
        used(2, 1, "print"),
        made(2, 1, "shirt"),
    )
    with pytest.raises(OwnAncestor, match=r"job 1 of print"):
        plain_legs(Facts(lines))


def test_what_comes_back_out_of_a_short_is_no_longer_short() -> None:
    """One of two short pieces comes back: the receipt settles the other only."""
    lines = (line(1, "sale", 2, 90, short_allowed=True), back(2, 1, 1), line(3, "receipt", 2, 100))
    legs = plain_legs(Facts(lines))
    assert entries(legs, 2) == [("on hand", "", 1000, 45), ("pieces sold", "", -1000, -45)]
    assert entries(legs, 1)[1::2] == [("pieces sold", "3.1", 1000, 50), ("pieces sold", "", 1000, 45)]


def test_what_came_back_out_of_a_short_leaves_no_cent_behind() -> None:
    """Two short for a cent: the one that came back was worth nothing, so nothing stays once it is settled."""
    lines = (line(1, "sale", 2, 1, short_allowed=True), back(2, 1, 1), line(3, "receipt", 2, 100))
    legs = plain_legs(Facts(lines))
    assert sum(leg.amount for leg in legs if leg.account == "on hand" and leg.lot_document is None) == 0
