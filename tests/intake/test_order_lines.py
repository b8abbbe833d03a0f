"""Lines of orders, shipments and arrivals typed as words."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import ValueProblem
from ledger.intake.order_lines import drafted, minor_amount, read_line, read_loss


def test_a_line_has_a_price_for_one_of_its_unit() -> None:
    """Two cases at 129.60."""
    line = read_line("TEE-BLK-M 2 case at 129.60", "--line 1")
    assert (line.sku, line.quantity, line.unit, line.price, line.net) == (
        "TEE-BLK-M",
        2,
        "case",
        Fraction("129.6"),
        Fraction("259.2"),
    )


def test_a_line_may_have_an_amount_in_all() -> None:
    """For stands before the whole."""
    assert read_line("TEE-BLK-M 98 for 215.60", "").net == Fraction("215.6")


def test_a_unit_may_have_two_words() -> None:
    """Ten gross are a unit."""
    assert read_line("STONE-SS10 2 ten gross at 9.10", "").unit == "ten gross"


def test_a_line_without_a_price_has_none() -> None:
    """Nothing is taken for granted."""
    line = read_line("TEE-BLK-M 98", "")
    assert (line.net, minor_amount(line, "USD"), drafted([line], "USD")[0].provisional) == (None, None, True)


def test_what_is_free_has_a_price_of_nothing() -> None:
    """At 0 is not without a price."""
    assert drafted([read_line("TEE-BLK-M 1 at 0", "")], "USD")[0].provisional is False


def test_an_amount_is_rounded_once_per_line() -> None:
    """Three at 0.333 are one dollar, half away from zero."""
    assert minor_amount(read_line("FILM-A3 3 at 0.335", ""), "USD") == 101


@pytest.mark.parametrize(
    ("text", "treatment"),
    [("TEE-BLK-M 2", "claimed"), ("TEE-BLK-M 2 Normal", "normal"), ("TEE-BLK-M 2 case expense", "expense")],
)
def test_a_loss_names_its_treatment_or_takes_the_usual_one(text: str, treatment: str) -> None:
    """The last word, where there is one."""
    assert read_loss(text, "", "claimed").treatment == treatment


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("TEE-BLK-M", "is no line"),
        ("", "is no line"),
        ("TEE-BLK-M many at 2", "is not a quantity"),
        ("TEE-BLK-M 0 at 2", "not above zero"),
        ("TEE-BLK-M 2 at -2", "below zero"),
        ("TEE-BLK-M 2 at 2,20", "is not a price"),
        ("T" * 300, "too long"),
    ],
)
def test_what_is_wrong_with_a_line_is_said(text: str, said: str) -> None:
    """With how it is written."""
    with pytest.raises(ValueProblem, match=said):
        read_line(text, "")


@given(text=st.text(max_size=60))
def test_any_words_are_read_or_refused(text: str) -> None:
    """Never anything but a line or a ValueProblem."""
    try:
        line = read_line(text, "")
    except ValueProblem:
        return
    assert line.quantity > 0
