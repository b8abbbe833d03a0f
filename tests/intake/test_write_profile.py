"""Profiles written as TOML read back as they were."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shipment_files import made_file, made_profile

from ledger.errors import InputErrors
from ledger.intake.profile import (
    COLUMNS,
    HEAD_FIELDS,
    ITEM_FIELDS,
    ONE_SIZE_COLUMNS,
    PRICE_UNITS,
    TAX_PAID,
    Profile,
    find_profile,
    load_profile,
    profile_names,
)
from ledger.intake.propose import propose_profile
from ledger.intake.records import normal_heading
from ledger.intake.values import DATE_ORDERS
from ledger.intake.write_profile import profile_text, proposal_text

# Texts as a file holds them: anything but lone surrogates, without outer blanks.
TEXT = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12).map(str.strip).filter(bool)
NO_BRACES = TEXT.filter(lambda text: "{" not in text)
NO_DIGIT_FIRST = TEXT.filter(lambda text: not text[0].isdigit())
FOOT = st.sampled_from(
    ["lines total", "discount", "invoice total", "ignore", "freight by weight", "tax by value"]
)


def tables(values: st.SearchStrategy[str], keys: st.SearchStrategy[str] = TEXT) -> st.SearchStrategy[Any]:
    """Tables of texts."""
    return st.dictionaries(keys, values, max_size=3)


@st.composite
def profiles(draw: st.DrawFn) -> Profile:
    """Any profile that can be loaded: headings differ, and the SKU is made of columns there are."""
    across = draw(st.booleans())
    headings = draw(st.lists(TEXT, min_size=6, max_size=14, unique_by=normal_heading))
    names = ["style", *([] if across else ["quantity"])]
    others = [name for name in COLUMNS if name not in (*ONE_SIZE_COLUMNS, "style", "sku")]
    names += draw(st.lists(st.sampled_from(others), max_size=3, unique=True))
    columns = {name: (headings.pop(),) for name in names}
    if headings and draw(st.booleans()):
        columns["style"] = (*columns["style"], headings.pop())
    sizes = tuple(headings[:3]) if across else ()
    if across and not sizes:
        sizes = ("XYZ-1",)
    return Profile(
        name=draw(TEXT),
        columns=columns,
        party=draw(st.one_of(st.just(""), TEXT)),
        currency=draw(st.sampled_from(["", "USD", "JPY"])),
        sheet=draw(st.one_of(st.just(""), TEXT)),
        header_row=draw(st.one_of(st.none(), st.integers(1, 900))),
        heading_rows=draw(st.integers(1, 2)),
        decimal_comma=draw(st.booleans()),
        date_order=draw(st.sampled_from(DATE_ORDERS)),
        percent_as=draw(st.sampled_from(["points", "fraction"])),
        sizes_across=sizes,
        price_per=draw(st.sampled_from(PRICE_UNITS)),
        surcharges=draw(
            st.dictionaries(
                TEXT, st.integers(-9999, 9999).map(lambda cents: Fraction(cents, 100)), max_size=2
            )
        ),
        default_unit=draw(st.one_of(st.just(""), TEXT)),
        units_by_item=draw(tables(TEXT)),
        default_tax_paid=draw(st.sampled_from(TAX_PAID)),
        packs=draw(tables(NO_DIGIT_FIRST)),
        packs_by_size=draw(st.dictionaries(TEXT, tables(st.just("36 each")), max_size=2)),
        sku_pattern="{style}-{size}" if across else "{style}",
        aliases=draw(
            st.dictionaries(st.sampled_from(["style", "colour", "size", "code"]), tables(TEXT), max_size=3)
        ),
        new_item=draw(tables(NO_BRACES, st.sampled_from(ITEM_FIELDS))),
        new_item_by_code=draw(
            st.dictionaries(TEXT, tables(NO_BRACES, st.sampled_from(ITEM_FIELDS)), max_size=2)
        ),
        head=draw(tables(TEXT, st.sampled_from(HEAD_FIELDS))),
        foot=draw(tables(FOOT)),
    )


def loaded(text: str) -> Profile:
    """Return the profile that a text holds, without the name of the file it was in."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "written.toml"
        path.write_text(text, encoding="utf-8", newline="\n")
        return replace(load_profile(path), source="")


@given(profiles())
@settings(max_examples=150, deadline=None)
def test_a_written_profile_reads_back_the_same(profile: Profile) -> None:
    """Whatever its words are: quotation marks, line breaks, letters of any script."""
    assert loaded(profile_text(profile)) == profile


@given(profiles(), st.lists(st.text(max_size=20), max_size=2))
@settings(max_examples=40, deadline=None)
def test_comments_change_nothing(profile: Profile, lines: list[str]) -> None:
    """A line break inside a comment does not begin a line of its own."""
    comments = dict.fromkeys(profile.columns, "".join(lines))
    assert loaded(profile_text(profile, head=lines, comments=comments)) == profile


@pytest.mark.parametrize("name", profile_names())
def test_the_carried_profiles_survive_writing(name: str) -> None:
    """What Blankbook brings along is written and read the same."""
    profile = replace(load_profile(find_profile(name)), source="")
    assert loaded(profile_text(profile)) == profile


def test_the_same_profile_is_written_the_same_twice(tmp_path: Path) -> None:
    """A file kept under version control does not change by itself."""
    profile = made_profile(tmp_path)
    assert profile_text(profile) == profile_text(loaded(profile_text(profile)))


def test_an_open_question_keeps_the_file_from_being_read() -> None:
    """The order of dates stands as a question mark until somebody decides."""
    file = made_file(["Date", "03/04/2026"], ["Item", "Qty", "Price"], ["A1", 2, 3], ["B2", 4, 5])
    text = proposal_text(propose_profile(file))
    with pytest.raises(InputErrors, match=r"date_order: '\?' is none of"):
        loaded(text)


def test_the_reasons_stand_beside_the_columns() -> None:
    """A reader of the file sees why."""
    file = made_file(["Item", "Qty", "Price"], ["A1", 2, 3], ["B2", 4, 5])
    assert "# headed 'Price'" in proposal_text(propose_profile(file))
