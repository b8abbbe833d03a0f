"""Profiles of sales exports: what they may say, and what is told when they say it wrong."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from sales_files import COLUMNS, profile

from ledger.carried import carried
from ledger.errors import InputErrors, UsageError
from ledger.intake.profile import profile_names
from ledger.intake.sales_profile import (
    find_sales_profile,
    load_sales_profile,
    profiles_beside,
    read_sales_profile,
    sales_profile_names,
)
from ledger.intake.sales_skus import SkuWords

CARRIED = "sales-one-row-per-item"


def problems_of(more: str, columns: str = COLUMNS) -> str:
    """Return every problem of a profile's text, one a line."""
    with pytest.raises(InputErrors) as raised:
        read_sales_profile(tomllib.loads(columns + more), "tests.toml")
    return "\n".join(str(problem) for problem in raised.value.problems)


@pytest.mark.parametrize("name", sales_profile_names())
def test_every_carried_sales_profile_is_sound(name: str) -> None:
    """The sales profiles that come with the program load without a problem."""
    assert "order" in load_sales_profile(find_sales_profile(name)).columns


def test_sales_profiles_are_none_of_a_shipment() -> None:
    """`receive` does not offer a sales profile."""
    assert CARRIED in sales_profile_names()
    assert CARRIED not in profile_names()


@pytest.mark.parametrize("name", [CARRIED, "Sales one row per item", "one row per item"])
def test_a_carried_profile_is_found_by_its_words(name: str) -> None:
    """Blanks stand for hyphens, and the word sales may be left out."""
    assert find_sales_profile(name) == carried("imports", f"{CARRIED}.toml")


def test_a_profile_beside_the_book_is_found_by_the_channels_name(tmp_path: Path) -> None:
    """A profile that was saved for a channel comes before those that are carried."""
    book = tmp_path / "shop.blankbook"
    own = profiles_beside(book) / "harbour-fair.toml"
    own.parent.mkdir()
    own.write_text(COLUMNS, encoding="utf-8")
    assert own.parent.name == "shop.profiles"
    assert find_sales_profile("Harbour Fair", book) == own


def test_an_unknown_profile_names_the_nearest(tmp_path: Path) -> None:
    """A mistyped name is answered with the one that was probably meant."""
    with pytest.raises(UsageError, match=f"'{CARRIED}'"):
        find_sales_profile("sales-one-row-per-itm", tmp_path / "shop.blankbook")


def test_a_profile_of_a_shipment_is_refused() -> None:
    """A supplier's profile has no kind, and belongs to receive."""
    with pytest.raises(InputErrors, match="blankbook receive"):
        load_sales_profile(carried("imports", "one-row-per-size.toml"))


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("[colums]\ndate = 'D'", "colums: this key is not known. Did you mean 'columns'?"),
        ("refund = 'R'", "[columns] refund: this key is not known. Did you mean 'refunded'?"),
        (
            "tax = 'Tax'",
            "[amounts] tax: there is a column tax, and nothing says what it means for the total.",
        ),
        ("discount = 'Off'", 'Write discount = "taken off" or "to take off" or "in the price".'),
        ("[amounts]\ntax = 'inside'", "[amounts] tax: it needs the column tax."),
        ("[amounts]\nminus = ['fee']", "[amounts] minus: 'fee' cannot stand here. Did you mean 'fees'?"),
        ("[amounts]\nper_order = ['other_fees']", "other_fees is not under [columns]."),
        (
            "[amounts]\nper_order = ['shipping']\nper_row = ['shipping']",
            "[amounts] per_row: shipping stands in per_order too.",
        ),
        ("[types]\nOrder = 'sale'", "[types]: no column holds the type."),
        ("type = 'Type'\n[types]\nOrder = 'sold'", "[types] Order: 'sold' is not known."),
        ("type = 'Type'", "nothing says what the words of the type column mean."),
        ("[sku]\npatterns = 'x'", "[sku] patterns: this is no list of tables."),
        (
            "[[sku.patterns]]\ntext = 'Fox | {size}'\nsku = 'FOX-{sise}'",
            "[sku.patterns 1] sku: {sise} is not in the text. Did you mean 'size'?",
        ),
        ("[[sku.patterns]]\ntext = '{a} {a}'\nsku = '{a}'", "a placeholder stands twice."),
        ("[sku.colour]\nBlack = 'BLK'", "[sku] colour: this key is not known."),
        ("[set_aside]\npatterns = ['*']", "'*' would set every row aside."),
        ("[numbers]\ndate_order = 'european'", "'european' is none of day month year"),
    ],
)
def test_what_is_wrong_in_a_profile_is_told(more: str, told: str) -> None:
    """Each mistake is named with its key and the way out."""
    assert told in problems_of(more)


@pytest.mark.parametrize("column", ["date", "order", "item_total"])
def test_a_column_that_must_be_there_is_asked_for(column: str) -> None:
    """Without the day, the order or what was paid nothing can be posted."""
    kept = "\n".join(line for line in COLUMNS.splitlines() if not line.startswith(column))
    assert f"no column holds the {column.replace('_', ' ')}." in problems_of("", kept)


def test_all_problems_of_a_profile_come_at_once() -> None:
    """Two mistakes are told together."""
    told = problems_of("[amounts]\nminus = ['fee']\n[set_aside]\nword = 'x'")
    assert told.count("\n") == 1


PATTERNS = """
[sku.aliases]
"Fox tee | Gift, M" = "FOX-GIFT"
"K7" = "FOX-BLK-M"
[[sku.patterns]]
text = "Fox tee | {colour}, {size}"
sku = "FOX-{colour}-{size}"
[sku.colour]
"Heather Navy" = "HNV"
"Black" = "BLK"
"""


@pytest.mark.parametrize(
    ("sku", "title", "variant", "ours"),
    [
        ("k7", "", "", "FOX-BLK-M"),
        ("", "Fox tee", "Gift, M", "FOX-GIFT"),
        ("", "FOX  Tee", "heather navy, 2XL", "FOX-HNV-2XL"),
        ("OWN-1", "Something else", "", "OWN-1"),
    ],
)
def test_a_title_becomes_a_sku(sku: str, title: str, variant: str, ours: str) -> None:
    """An alias comes first, then a pattern with its codes, then the file's own SKU."""
    assert SkuWords(profile(PATTERNS)).sku(sku, title, variant) == ours
