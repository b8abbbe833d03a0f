"""Both engines on small histories that hold one turn each: the same legs, and the figures worked out by hand."""

from __future__ import annotations

from dataclasses import replace

from late_facts import arrival, facts, job, line
from test_walk_differential import walked_legs

from ledger.costing.facts import FactLine, Facts, Leg, UndoFact
from ledger.costing.plain import plain_legs


def of_both(found: Facts) -> list[Leg]:
    """The legs, which are the same by both engines."""
    legs = walked_legs(found)
    assert legs == plain_legs(found)
    return legs


def amounts(legs: list[Leg], document: int, account: str) -> list[int]:
    """What a document moved on an account."""
    return [leg.amount for leg in legs if (leg.document, leg.account) == (document, account)]


def undone(document: int, *originals: FactLine) -> Facts:
    """The reversal of all lines of a document of a closed month, with their figures."""
    lines = tuple(
        replace(
            each,
            document=document,
            event="reversal",
            effect_date="2026-04-20",
            ref_document=each.document,
            ref_line=each.line,
            undone_event=each.event,
        )
        for each in originals
    )
    return Facts(lines, undos=(UndoFact(document, originals[0].document, "reversal"),))


def test_pieces_that_come_back_one_by_one_bring_back_every_cent() -> None:
    """Three for 1.00 sold at once: 0.33, then 0.34 come back, the last that was taken first."""
    back = {"ref_document": 2, "ref_line": 1}
    sold = line(1, "receipt", 3, 100), line(2, "sale", 3)
    legs = of_both(facts(*sold, line(3, "take back", 1, **back), line(4, "take back", 1, **back)))
    assert [amounts(legs, document, "on hand") for document in (2, 3, 4)] == [[-100], [33], [34]]


def test_labour_of_a_job_that_is_undone_is_taken_back() -> None:
    """What was paid for the work stands on the account again as before the job."""
    made = job(2, 2, 2)
    labour = line(2, "make", 0, 300, sku="print", line=3, role="labour")
    legs = of_both(facts(line(1, "receipt", 4, 400), *made, labour, undone(9, *made, labour)))
    assert (amounts(legs, 2, "labour"), amounts(legs, 9, "labour")) == ([-300], [300])
    assert amounts(legs, 9, "on hand") == [-500, 200]


def test_what_is_sent_back_of_an_arrival_with_a_claim_is_credited_at_its_invoice() -> None:
    """Seven for 10.00 under way; of three that arrive one is claimed at 1.43, one sent back at half of 2.86."""
    came = arrival(5, 3, claimed_milli=1000, claimed_amount=143)
    back = line(6, "send back", 1, ref_document=5, ref_line=1)
    rest = arrival(7, 4)
    legs = of_both(facts(line(1, "ship", 7, 1000), came, back, rest))
    assert amounts(legs, 5, "on hand") == [286]
    assert amounts(legs, 6, "returned to supplier") == [143]


def test_a_receipt_with_a_claim_that_is_undone_leaves_nothing() -> None:
    """Ten invoiced, two of them claimed, eight kept: eight leave the shelf, two the claim."""
    came = line(1, "receipt", 10, 1000, claimed_milli=2000, claimed_amount=200)
    legs = of_both(facts(came, undone(9, came)))
    assert [leg.quantity_milli for leg in legs if leg.document == 9] == [10_000, -8_000, -2_000]
    assert amounts(legs, 9, "on hand") == [-800]
