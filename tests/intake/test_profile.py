from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from shipment_files import PLAIN, made_profile

from ledger.carried import carried
from ledger.errors import InputErrors, UsageError
from ledger.intake.profile import find_profile, load_profile, profile_names


def problems_of(folder: Path, text: str) -> list[str]:
    """Return every problem of a profile's text."""
    with pytest.raises(InputErrors) as raised:
        made_profile(folder, text)
    return [str(problem) for problem in raised.value.problems]


@pytest.mark.parametrize("name", profile_names())
def test_every_carried_profile_is_sound(name: str) -> None:
    """The profiles that come with the program load without a problem."""
    assert load_profile(find_profile(name)).columns


def test_a_carried_profile_is_found_by_its_words() -> None:
    """Blanks stand for hyphens in the name of a carried profile."""
    assert find_profile("One row per size") == carried("imports", "one-row-per-size.toml")


def test_a_path_comes_before_a_name(tmp_path: Path) -> None:
    """A file that is there is taken as it is."""
    path = tmp_path / "own.toml"
    path.write_text(PLAIN, encoding="utf-8")
    assert find_profile(str(path)) == path


def test_an_unknown_profile_names_the_nearest() -> None:
    """A mistyped name is answered with the one that was probably meant."""
    with pytest.raises(UsageError, match="Did you mean 'sizes-across'"):
        find_profile("size-across")


def test_a_profile_keeps_what_its_file_says(tmp_path: Path) -> None:
    """Headings, packs, surcharges and habits arrive in the profile."""
    extra = '[prices]\nper = "piece"\n[prices.surcharges]\n"2XL" = "1.50"\n[numbers]\ndecimal_comma = true\n'
    profile = made_profile(tmp_path, PLAIN + extra)
    assert (profile.columns["quantity"], profile.packs["CS"], profile.surcharges["2XL"]) == (
        ("Qty",),
        "72 each",
        Fraction("1.5"),
    )


def test_a_sheet_may_be_named_by_its_number(tmp_path: Path) -> None:
    """A whole number without quotes is a sheet's place."""
    assert made_profile(tmp_path, PLAIN + "[file]\nsheet = 2\n").sheet == "2"


def test_every_problem_of_a_profile_is_told_at_once(tmp_path: Path) -> None:
    """Mistyped keys, wrong values and a pattern without its column come in one list."""
    text = """
name = "x"
curency = "USD"
currency = "DOLLARS"
[file]
header_row = 0
[numbers]
date_order = "day first"
decimal_comma = "yes"
[columns]
style = "Style"
colour = "Style"
quantiy = "Qty"
unit_price = 5
[prices]
per = "gram"
surcharges = { "2XL" = 1.5 }
[packs]
CS = "72 rolls of what"
[sku]
pattern = "{style}-{color}-{size}"
[items]
kid = "blank"
name = "{descripton}"
[foot]
"Freight" = "frieght by weight"
"Subtotal" = "line total"
"""
    found = "\n".join(problems_of(tmp_path, text))
    for said in (
        "curency: this key is not known. Did you mean 'currency'?",
        "currency: 'DOLLARS' is not a currency",
        "[file] header_row: '0' is not a row number",
        "[numbers] date_order: 'day first' is none of",
        "[numbers] decimal_comma: 'yes' is neither true nor false",
        "[columns] colour: 'Style' is also the heading of style",
        "[columns] quantiy: this key is not known. Did you mean 'quantity'?",
        "[columns] unit_price: only texts can stand here",
        "[columns]: no column holds the quantity",
        "[prices] per: 'gram' is none of",
        "[prices.surcharges] 2XL: '1.5' is no text",
        "[packs] CS: '72 rolls of what' is not the content of a pack",
        "[sku] pattern: {color} is not known. Did you mean 'colour'?",
        "[sku] pattern: it asks for {size}, and no column holds it",
        "[items] kid: this key is not known",
        "[items] name: {descripton} is not known. Did you mean 'description'?",
        "[foot] Freight: ",
        "Did you mean 'lines total'?",
    ):
        assert said in found


def test_a_file_that_is_no_toml_is_told_in_words(tmp_path: Path) -> None:
    """A broken line is a problem, not a traceback."""
    assert "this is no TOML text" in problems_of(tmp_path, "[columns\n")[0]


def test_a_deeply_nested_file_is_no_profile(tmp_path: Path) -> None:
    """Nesting beyond reason is refused like any other broken text."""
    assert "this is no TOML text" in problems_of(tmp_path, "a = " + "[" * 100_000)[0]


def test_a_missing_profile_is_told_in_words(tmp_path: Path) -> None:
    """A file that is not there is a problem with its path."""
    with pytest.raises(InputErrors, match="cannot be read"):
        load_profile(tmp_path / "none.toml")


def test_sizes_across_leave_no_place_for_a_size_column(tmp_path: Path) -> None:
    """A size cannot stand across and in a column at once."""
    assert any(
        "belongs to one size" in each
        for each in problems_of(tmp_path, PLAIN + '[sizes_across]\nsizes = ["S"]\n')
    )


def test_sizes_across_need_the_size_in_the_pattern(tmp_path: Path) -> None:
    """Without the size every column of a row would be one SKU."""
    text = '[columns]\nstyle = "Style"\n[sizes_across]\nsizes = ["S", "M"]\n[sku]\npattern = "{style}"\n'
    assert any("every size of a row" in each for each in problems_of(tmp_path, text))


def test_a_table_that_is_no_table_is_told(tmp_path: Path) -> None:
    """A plain value where a table belongs is named."""
    assert any("where a table should" in each for each in problems_of(tmp_path, 'columns = "Style"\n'))
