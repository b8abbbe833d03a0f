"""What one row of a sales export is: a sale, a refund, goods that came back, no goods at all, or a refused cell."""

from __future__ import annotations

import pytest
from sales_files import COLUMNS, HEADINGS, PRICED, PRICED_HEADINGS, problems_of, read, short


def test_money_paid_back_beside_a_sale_is_a_refund() -> None:
    """Nothing came back: the refund is money only, on its own day."""
    rows = read("2026-04-03,1001,1,FOX,,,2,39.00,,,10.00,2026-04-20,0").rows
    assert [short(row) for row in rows] == [
        ("sell", 3, 2.0, 39.0, None, None),
        ("refund", 20, None, 10.0, None, None),
    ]


@pytest.mark.parametrize(("returned", "pieces"), [("1", 1.0), ("yes", 2.0)])
def test_goods_that_came_back_are_taken_back(returned: str, pieces: float) -> None:
    """Returned pieces make the refund a return; a yes means all of the row's."""
    rows = read(f"2026-04-03,1001,1,FOX,,,2,39.00,,,19.50,2026-04-20,{returned}").rows
    assert short(rows[1]) == ("take_back", 20, pieces, 19.5, None, None)


TYPED = COLUMNS.replace('line = "Line"', 'type = "Type"') + (
    '[types]\n"Order" = "sale"\n"Refund" = "refund"\n"Return" = "take back"\n"Label" = "set aside"\n'
)
TYPED_HEADINGS = "Date,Type,Order,SKU,Pieces,Item total"


def test_rows_are_what_their_type_says() -> None:
    """Sales, refunds and returns in rows of their own, whatever their sign; a label is set aside."""
    draft = read(
        "2026-04-03,Order,1,FOX,2,40",
        "2026-04-09,Refund,1,FOX,,-5",
        "2026-04-10,return,1,FOX,1,20",
        "2026-04-11,Label,1,,,-4.10",
        columns=TYPED,
        headings=TYPED_HEADINGS,
    )
    assert [short(row)[:4] for row in draft.rows] == [
        ("sell", 3, 2.0, 40.0),
        ("refund", 9, None, 5.0),
        ("take_back", 10, 1.0, 20.0),
    ]
    assert [(row.where, row.rule) for row in draft.set_aside] == [("row 5", "Label")]


def test_a_type_nobody_explained_is_asked_once() -> None:
    """The same unknown word on two rows is one question with both places."""
    rows = ["2026-04-03,Gift,1,FOX,2,40", "2026-04-03,Gift,2,FOX,2,40"]
    told = problems_of(*rows, columns=TYPED, headings=TYPED_HEADINGS)
    assert len(told) == 1
    assert told[0].startswith("row 2, column Type: the profile does not say what the type 'Gift' means.")
    assert told[0].endswith("Also: row 3, column Type.")


def test_minus_pieces_without_a_type_are_goods_that_came_back() -> None:
    """A row of -1 pieces and -20.00 is a return."""
    row = read("2026-04-09,1,1,FOX,,,-1,-20,,,,,").rows[0]
    assert short(row) == ("take_back", 9, 1.0, 20.0, None, None)


ASIDE = '[set_aside]\nwords = ["shipping label"]\npatterns = ["listing fee *"]\n'


@pytest.mark.parametrize("title", ["Shipping  Label 123", "LISTING FEE April"])
def test_rows_that_are_no_goods_are_set_aside(title: str) -> None:
    """A word or a pattern of the profile fits the title: the row is listed and nothing else."""
    draft = read(f"2026-04-03,,,,{title},,,4.10,,,,,", "2026-04-03,1,1,FOX,,,1,20,,,,,", more=ASIDE)
    assert [row.where for row in draft.set_aside] == ["row 2"]
    assert len(draft.rows) == 1


def test_a_word_inside_another_sets_nothing_aside() -> None:
    """'tip' is not in 'Tiptoe tee'."""
    draft = read("2026-04-03,1,1,FOX,Tiptoe tee,,1,20,,,,,", more='[set_aside]\nwords = ["tip"]')
    assert not draft.set_aside


def test_totals_and_repeated_headings_are_skipped_and_said() -> None:
    """A subtotal, a heading in between and sums without a label are no sales."""
    draft = read(
        "2026-04-03,1,1,FOX,,,1,20,,,,,",
        "Subtotal,,,,,,1,20,,,,,",
        HEADINGS,
        "2026-04-04,2,1,FOX,,,1,20,,,,,",
        ",,,,,,2,40,,,,,",
    )
    assert draft.rows_read == 2
    assert "2 rows of totals skipped: row 3, row 6" in draft.remarks
    assert "1 repeated heading rows skipped" in draft.remarks


def test_what_was_sold_for_nothing_is_said() -> None:
    """A gift goes out at 0: it is read, and the row is named."""
    draft = read("2026-04-03,1,1,FOX,,,1,0.00,,,,,")
    assert draft.rows[0].amount == 0
    assert "sold for nothing: row 2" in draft.remarks


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("2026-04-03,,1,FOX,,,1,20,,,,,", "row 2, column Order: the order is missing."),
        (",1,1,FOX,,,1,20,,,,,", "row 2, column Date: the date is missing."),
        ("2026-04-03,1,1,FOX,,,,20,,,,,", "row 2, column Pieces: the pieces are missing."),
        ("2026-04-03,1,1,FOX,,,1.5,20,,,,,", "row 2, column Pieces: 1.5 is not a whole number of pieces."),
        ("2026-04-03,1,1,FOX,,,2000000,20,,,,,", "row 2, column Pieces: 2000000 is above 1,000,000."),
        ("2026-04-03,1,1,FOX,,,1,,,,,,", "row 2, column Item total: the item total is missing."),
        ("2026-04-03,1,1,FOX,,,1,20.005,,,,,", "row 2, column Item total: 20.005 has more than 2 decimals"),
        ("2026-04-03,1,1,FOX,,,1,#N/A,,,,,", "row 2, column Item total: the error #N/A stands there"),
        (
            '2026-04-03,1,1,FOX,,,1,"20,00",,,,,',
            "row 2, column Item total: '20,00' cannot be read for certain",
        ),
        (
            "2026-04-03,1,1,FOX,,,2,-20,,,,,",
            "row 2, column Item total: the item total -20 is below zero beside",
        ),
        ("2026-04-03,1,1,FOX,,,1,20,,,5,,", "row 2, column Refunded on: nothing says when the money"),
        (
            "2026-04-03,1,1,FOX,,,1,20,,,5,2026-04-01,",
            "row 2, column Refunded on: it was paid back on 2026-04-01",
        ),
        (
            "2026-04-03,1,1,FOX,,,1,20,,,25,2026-04-05,",
            "row 2, column Refunded: 25 was paid back of an item total",
        ),
        (
            "2026-04-03,1,1,FOX,,,1,20,,,20,2026-04-05,2",
            "row 2, column Returned: 2 pieces came back of 1 sold.",
        ),
        ("2026-04-03,1,1,FOX,,,1,20,,,20,2026-04-05,some", "row 2, column Returned: 'some' cannot be read"),
        (f"2026-04-03,{'9' * 201},1,FOX,,,1,20,,,,,", "has more than 200 characters."),
        ("2026-04-03,1,1,,Owl tee,,1,20,,,,,", "row 2, column Title: 'Owl tee' has no SKU."),
        ("2026-04-03,1,1,,,,1,20,,,,,", "row 2, column SKU: nothing says what was sold"),
    ],
)
def test_a_cell_that_cannot_be_is_refused_with_its_place(row: str, told: str) -> None:
    """Each problem names the row and the column, the value, and what to do."""
    problems = problems_of(row)
    assert len(problems) == 1
    assert told in problems[0]


def test_a_return_needs_a_date_of_its_own() -> None:
    """It did not happen on the day of the sale because nothing is written."""
    told = problems_of(
        "2026-04-03,1,FOX,1,22.00,", ",1,FOX,-1,-22.00,", columns=PRICED, headings=PRICED_HEADINGS
    )
    assert told == ["row 3, column Date: the date is missing. Fill it in."]


def test_rows_set_aside_need_no_order_and_no_date() -> None:
    """A rule comes before what a sale needs; a rule for a label also means several."""
    draft = read(",,,PLAN-1,Shipping labels,,1,4.10,,,,,", more='[set_aside]\nwords = ["shipping label"]')
    assert [each.rule for each in draft.set_aside] == ["shipping label"]
