"""Size ladders: reading, listing, sorting."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.catalogue.sizes import (
    LADDERS,
    Ladder,
    find_ladder,
    guess_ladder,
    make_ladder,
    read_size,
    read_size_list,
    size_sort_key,
)
from ledger.errors import ValueProblem


@pytest.mark.parametrize(
    ("text", "ladder", "size"),
    [
        ("XXL", "adult", "2XL"),
        ("xxxl", "adult", "3XL"),
        ("2X", "adult", "2XL"),
        ("2X-Large", "adult", "2XL"),
        ("XX-Large", "adult", "2XL"),
        ("Small", "adult", "S"),
        ("SM", "adult", "S"),
        ("Med.", "adult", "M"),
        ("Extra Small", "adult", "XS"),
        ("XXL", "ladies", "2XL"),
        ("YM", "youth", "M"),
        ("Youth Large", "youth", "L"),
        ("6 mo", "infant", "6M"),
        ("2t", "toddler", "2T"),
        ("XXLT", "tall", "2XLT"),
        ("2X Tall", "tall", "2XLT"),
        ("Large Tall", "tall", "LT"),
        ("O/S", "one size", "OS"),
    ],
)
def test_another_spelling_is_the_ladders_size(text: str, ladder: str, size: str) -> None:
    """XXL is 2XL, and the like."""
    assert read_size(text, find_ladder(ladder)) == size


@pytest.mark.parametrize("text", ["7XL", "X", "XX", "S-M", "2T", "", "M/L"])
def test_a_size_that_the_ladder_lacks_is_refused(text: str) -> None:
    """The message lists the sizes that the ladder has."""
    with pytest.raises(ValueProblem, match="its sizes are XS, S, M"):
        read_size(text, find_ladder("adult"))


@pytest.mark.parametrize(
    ("text", "ladder", "sizes"),
    [
        ("S-M", "adult", "S M"),
        ("S-3XL", "adult", "S M L XL 2XL 3XL"),
        ("S to XL", "adult", "S M L XL"),
        ("S; M,L", "adult", "S M L"),
        ("XS; M-XXL", "adult", "XS M L XL 2XL"),
        ("X-Large", "adult", "XL"),
        ("2X-Large", "adult", "2XL"),
        ("Small - X-Large", "adult", "S M L XL"),
        ("youth", "youth", "XS S M L XL"),
        ("2T-4T", "toddler", "2T 3T 4T"),
    ],
)
def test_a_cell_of_sizes_is_a_list_a_range_or_a_ladder(text: str, ladder: str, sizes: str) -> None:
    """Ranges run along the ladder; a hyphen inside a size does not split it."""
    assert list(read_size_list(text, find_ladder(ladder))) == sizes.split()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("XL-S", "turn it round"),
        ("S; S-L", "names S twice"),
        (" ; ", "there is no size"),
        ("S-9XL", "'9XL' is not"),
    ],
)
def test_a_cell_of_sizes_that_makes_no_sense_is_refused(text: str, message: str) -> None:
    """Backward ranges, doubled, missing and unknown sizes are each said."""
    with pytest.raises(ValueProblem, match=message):
        read_size_list(text, find_ladder("adult"))


@pytest.mark.parametrize(
    ("text", "ladder"),
    [
        ("S-XL", "adult"),
        ("2T-5T", "toddler"),
        ("6M;12M", "infant"),
        ("LT-3XLT", "tall"),
        ("YS-YL", "youth"),
        ("youth", "youth"),
    ],
)
def test_a_ladder_is_guessed_from_sizes_that_only_fit_there(text: str, ladder: str) -> None:
    """Plain letters are adult sizes; youth needs its name or its Y."""
    guessed = guess_ladder(text)
    assert guessed is not None
    assert guessed.name == ladder


def test_no_ladder_is_guessed_for_unknown_sizes() -> None:
    """Sizes of no ladder stay without one."""
    assert guess_ladder("28; 30") is None


def test_a_shops_own_ladder_reads_its_sizes_and_aliases() -> None:
    """A shop writes its own sizes with their other spellings."""
    waist = make_ladder("waist", "28; 30 = W30, thirty; 32")
    assert [read_size(text, waist) for text in ("28", "w30", "Thirty")] == ["28", "30", "30"]


def test_a_shops_own_ladder_is_found_by_name() -> None:
    """An own ladder stands beside the general ones."""
    waist = make_ladder("Waist", "28; 30")
    assert find_ladder(" waist ", [waist]) is waist


@pytest.mark.parametrize(("name", "text"), [("", "S"), ("x", ""), ("x", "S; s"), ("x", "S = M; M")])
def test_an_own_ladder_needs_a_name_and_distinct_sizes(name: str, text: str) -> None:
    """Nothing on a ladder may mean two things."""
    with pytest.raises(ValueProblem):
        make_ladder(name, text)


def test_an_unknown_ladder_gets_a_suggestion() -> None:
    """A mistyped ladder is answered with the nearest."""
    with pytest.raises(ValueProblem, match="Did you mean toddler"):
        find_ladder("todler")


@pytest.mark.parametrize("ladder", LADDERS, ids=lambda ladder: ladder.name)
def test_sizes_sort_in_their_ladders_order(ladder: Ladder) -> None:
    """Reversed sizes come back smallest first."""
    backward = ladder.sizes[::-1]
    assert sorted(backward, key=lambda size: size_sort_key(size, ladder)) == list(ladder.sizes)


def test_sizes_sort_across_ladders_and_unknown_ones_last() -> None:
    """Infants before toddlers before adults before tall; the unknown last, 9 before 10."""
    mixed = ["W10", "3XLT", "XL", "OS", "2T", "W9", "LT", "S", "12M", "6M"]
    assert sorted(mixed, key=size_sort_key) == ["6M", "12M", "2T", "S", "XL", "LT", "3XLT", "OS", "W9", "W10"]


def test_youth_sorts_before_adult_where_the_ladders_are_named() -> None:
    """A youth XL is smaller than an adult XS."""
    youth, adult = find_ladder("youth"), find_ladder("adult")
    assert size_sort_key("XL", youth) < size_sort_key("XS", adult)


@given(st.lists(st.text(max_size=8)))
def test_any_text_can_be_sorted_as_sizes(sizes: list[str]) -> None:
    """A grid never fails over an odd size."""
    forward, backward = (sorted(order, key=size_sort_key) for order in (sizes, sizes[::-1]))
    assert [size_sort_key(size) for size in forward] == [size_sort_key(size) for size in backward]


def test_childrens_ladders_are_marked() -> None:
    """Infant, toddler and youth carry the caution about children's products."""
    assert [ladder.name for ladder in LADDERS if ladder.is_childrens] == ["infant", "toddler", "youth"]
