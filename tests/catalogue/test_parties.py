"""Parties: names, countries, roles."""

from __future__ import annotations

import pytest

from ledger.catalogue.parties import Party, check_party, read_country, read_role
from ledger.errors import ValueProblem


def test_names_match_without_case_and_doubled_blanks() -> None:
    """A supplier typed a little differently is the same supplier."""
    assert Party(" North  Road Blanks").normal_name() == Party("NORTH ROAD blanks ").normal_name()


def test_a_country_code_is_read_in_capitals() -> None:
    """Codes are ISO 3166's two letters."""
    assert read_country(" cn ") == "CN"


@pytest.mark.parametrize("text", ["UK", "China", "XX"])
def test_what_is_no_country_code_is_refused(text: str) -> None:
    """A name, a habit or an unassigned pair of letters is no code."""
    with pytest.raises(ValueProblem, match="not a country code"):
        read_country(text)


def test_an_empty_role_is_a_supplier() -> None:
    """Most parties of a stock book are suppliers."""
    assert read_role("") == "supplier"


def test_a_sound_party_has_no_problems() -> None:
    """Country and currency may be empty."""
    assert check_party(Party("North Road Blanks")) == []


def test_all_faults_of_a_party_are_said_together() -> None:
    """Name, role, country and currency are each checked."""
    assert len(check_party(Party("", role="friend", country="UK", currency="BUCKS"))) == 4
