"""Delivery terms: who pays, where risk passes, how they are read."""

from __future__ import annotations

import pytest

from ledger.catalogue.terms import COSTS, INCOTERMS, TERMS, place_named, read_terms
from ledger.errors import ValueProblem


def test_there_are_eleven_rules_and_two_domestic_ones() -> None:
    """Incoterms 2020 has eleven."""
    assert (len(INCOTERMS), len(TERMS)) == (11, 13)


def test_the_buyer_pays_a_last_stretch_of_the_way_without_gaps() -> None:
    """From some point on, everything abroad is the buyer's."""
    for code in INCOTERMS:
        pays = [cost in TERMS[code].buyer_pays for cost in COSTS]
        assert pays == sorted(pays), code


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("FOB", "FOB"),
        ("fob Ningbo", "FOB"),
        ("CIF, Tacoma, Incoterms 2020", "CIF"),
        ("FOB shipping point", "shipping point"),
        ("FOB origin", "shipping point"),
        ("FOB destination", "destination"),
        ("delivered duty paid", "DDP"),
    ],
)
def test_terms_are_read_with_or_without_their_place(text: str, code: str) -> None:
    """The domestic FOB is another rule than the one of the sea."""
    assert read_terms(text).code == code


@pytest.mark.parametrize(
    ("text", "words"),
    [("DAT", "replaced by DPU"), ("FOBB", "Did you mean FOB"), ("", "names no delivery terms")],
)
def test_unknown_terms_are_refused_with_a_way_out(text: str, words: str) -> None:
    """Old rules, mistyped ones, none."""
    with pytest.raises(ValueProblem, match=words):
        read_terms(text)


@pytest.mark.parametrize(
    ("code", "passes"), [("EXW", True), ("CIF", True), ("DAP", False), ("destination", False)]
)
def test_goods_under_way_are_the_buyers_risk_or_not(code: str, passes: bool) -> None:  # noqa: FBT001
    """Risk that passes only at the destination is the seller's on the way."""
    assert TERMS[code].is_risk_passed_when_shipped is passes


@pytest.mark.parametrize(
    ("text", "code", "place"),
    [
        ("FOB Port Rellan", "FOB", "Port Rellan"),
        ("FOB destination", "destination", ""),
        ("FOB destination, Tacoma", "destination", "Tacoma"),
        ("fob shipping point Rellan", "shipping point", "Rellan"),
        ("free on board Port Rellan", "FOB", "Port Rellan"),
        ("EXW", "EXW", ""),
    ],
)
def test_the_place_stands_behind_the_rule(text: str, code: str, place: str) -> None:
    """The longest words that name a rule are the rule."""
    assert (read_terms(text).code, place_named(text)) == (code, place)
