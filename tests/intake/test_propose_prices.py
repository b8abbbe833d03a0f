"""What a price of an unknown layout is for, told by what adds up, and files that hold no price or only totals."""

from __future__ import annotations

from proposed_files import PER_SIZE, Row, proposed, read, subjects
from shipment_files import made_file


def test_a_product_confirms_quantity_price_and_amount() -> None:
    """The reason says in how many rows it adds up."""
    quantity = next(each for each in proposed(*PER_SIZE).columns if each.meaning == "quantity")
    assert (quantity.confidence, "quantity x price = amount in 3 of 3 rows" in quantity.why) == (99, True)


def test_a_price_per_dozen_is_found_by_what_multiplies() -> None:
    """No heading says so; quantity x price / 12 is the amount."""
    rows: list[Row] = [
        ["Style", "Colour", "Size", "Pieces", "Price", "Amount"],
        ["T10", "Black", "M", 24, 36, 72],
        ["T10", "Black", "L", 36, 36, 108],
    ]
    draft = read(made_file(*rows), proposed(*rows).profile)
    assert (proposed(*rows).profile.price_per, draft.lines_total) == ("dozen", 180)


def test_a_price_headed_per_dozen_is_per_dozen() -> None:
    """Without amounts the heading tells."""
    rows: list[Row] = [["Item no", "Qty", "Price per dozen"], ["A1", 24, 36], ["B2", 12, 30]]
    assert proposed(*rows).profile.price_per == "dozen"


def test_dozens_at_a_price_per_dozen_are_not_divided_again() -> None:
    """Both are headed so, and one dozen costs the price."""
    rows: list[Row] = [["Item no", "Qty (doz)", "Price per dozen"], ["A1", 2, 36], ["B2", 3, 30]]
    draft = read(made_file(*rows), proposed(*rows).profile)
    assert [(line.unit, line.net) for line in draft.lines] == [("dozen", 72), ("dozen", 90)]


def test_a_price_per_piece_beside_cases_is_found_once_a_case_is_known() -> None:
    """What a case holds is asked; with the answer the pieces make the amount."""
    rows: list[Row] = [
        ["Item", "Qty", "Unit", "Price", "Amount"],
        ["A1", 2, "CS", 3, 432],
        ["B2", 3, "CS", 2, 432],
        ["C3", 5, "EA", 2, 10],
    ]
    before, after = proposed(*rows), proposed(*rows, said=("pack CS = 72 each",))
    assert (subjects(before), subjects(after), after.profile.price_per) == (["unit CS"], [], "piece")


def test_a_packing_list_without_prices_is_proposed_and_says_so() -> None:
    """Its lines come in without a price; its total of pieces is none of money."""
    rows: list[Row] = [
        ["Style", "Colour", "Size", "Qty"],
        ["T10", "Black", "M", 12],
        ["T10", "Black", "L", 9],
    ]
    proposal = proposed(*rows, ["Total", "", "", 21])
    prices = proposal.decision("prices")
    assert prices is not None
    assert (prices.taken_as, proposal.profile.foot) == ("none", {"Total": "ignore"})


def test_line_totals_alone_are_enough() -> None:
    """The price of one follows from them."""
    rows: list[Row] = [["Article", "Pcs", "Line total"], ["A1", 12, 36], ["B2", 5, 20]]
    draft = read(made_file(*rows), proposed(*rows).profile)
    assert [(line.quantity, line.net) for line in draft.lines] == [(12, 36), (5, 20)]
