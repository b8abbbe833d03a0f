"""What words of type and status columns are taken as."""

from __future__ import annotations

import pytest

from ledger.intake.sales_words import NO_GOODS, no_goods_words, status_guess, type_guess


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("Order", "sale"),
        ("Refund", "refund"),
        ("Refund (returned)", "take back"),
        ("Refund, goods not returned", "refund"),
        ("Refund without return", "refund"),
        ("Chargeback", "refund"),
        ("Customer return", "take back"),
        ("Transaction fee", "fees"),
        ("Payment processing fee", "fees"),
        ("Delivery paid by buyer", "shipping"),
        ("Label", "set aside"),
        ("Shipping labels", "set aside"),
        ("Monthly subscription", "set aside"),
        ("Exchange", ""),
        ("Adjustment", ""),
        ("T-shirt", ""),
        ("", ""),
    ],
)
def test_a_type_is_told_by_its_words(text: str, meaning: str) -> None:
    """As a whole or by a word in it; what nothing tells stays open."""
    assert type_guess(text).meaning == meaning


@pytest.mark.parametrize(
    ("text", "beside", "meaning"),
    [
        ("Paid", False, "sale"),
        ("Cancelled", False, "set aside"),
        ("Refunded", True, "sale"),
        ("Refunded", False, ""),
        ("Pending", True, ""),
    ],
)
def test_a_status_is_told_by_its_words(text: str, beside: bool, meaning: str) -> None:  # noqa: FBT001
    """A refunded order is a sale where what was paid back has a column of its own."""
    assert status_guess(text, refunds_beside=beside).meaning == meaning


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Shipping labels, May", ["shipping label"]),
        ("SUBSCRIPTION", ["subscription"]),
        ("Relabelled tee", []),
    ],
)
def test_rows_of_no_goods_are_told_by_whole_words(text: str, words: list[str]) -> None:
    """One or several of them, and not as a part of another word."""
    assert no_goods_words([text], NO_GOODS) == words
