"""What is said of a new export stands in the saved profile, and all else in it stays."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some
from sales_files import export

from ledger.errors import InputErrors
from ledger.intake.sales_amended import amended_profile
from ledger.intake.sales_answers import read_sales_answers
from ledger.intake.sales_profile import SalesProfile
from ledger.intake.sales_toml import toml_text

SAVED = """# Ours.
kind = "sales"
party = "Fair"

[columns]
date = "Date"
order = "Order"
sku = "SKU"
item_total = "Amount"
fees = "Fees"

[amounts]
minus = ["fees"]

[sku.aliases]
"Fox tee | Black, M" = "FOX-BLK-M"

[[sku.patterns]]
text = "Owl tee | {size}"
sku = "OWL-{size}"
"""
HEADINGS = "Date,Order,SKU,Amount,Kept,Refunded,Status"


def amended(folder: Path, *lines: str) -> tuple[SalesProfile, str]:
    """Return the saved profile with what these lines say of an export."""
    path = folder / "sales-fair.toml"
    path.write_text(SAVED, "utf-8")
    file = export("2026-05-09,S1,FOX,22.00,-1.00,,Paid", headings=HEADINGS)
    return amended_profile(path, file, read_sales_answers(lines))


def test_answers_are_added(tmp_path: Path) -> None:
    """A renamed column, a new one, one that is ignored, a habit; the text reads back as the profile."""
    profile, text = amended(tmp_path, "E=fees", "F=refunded", "ignore G", "refunds on sale date")
    assert profile.columns["fees"] == ("Fees", "Kept")
    assert (profile.columns["refunded"], profile.ignored) == (("Refunded",), ("Status",))
    assert (profile.undated_refunds, profile.minus, len(profile.patterns)) == ("sale date", ("fees",), 1)
    assert text.startswith("# Ours.\n")
    assert tomllib.loads(text)["sku"]["aliases"] == {"Fox tee | Black, M": "FOX-BLK-M"}


def test_a_column_that_becomes_something_else_leaves_what_it_was(tmp_path: Path) -> None:
    """One heading has one meaning."""
    profile, _ = amended(tmp_path, "D=unit price", "E=item total", "ignore F")
    assert (profile.columns["unit_price"], profile.columns["item_total"]) == (("Amount",), ("Kept",))


def test_a_column_that_is_not_there_is_refused(tmp_path: Path) -> None:
    """With the columns there are."""
    with pytest.raises(InputErrors, match=r"no headed column Z\. It has: A Date"):
        amended(tmp_path, "Z=fees")


VALUES = some.one_of(some.text(max_size=9), some.booleans(), some.lists(some.text(max_size=9), max_size=3))
TABLES = some.dictionaries(
    some.text(min_size=1, max_size=9), some.one_of(VALUES, some.dictionaries(some.text(max_size=9), VALUES))
)


@given(TABLES)
def test_tables_read_back_the_same(tables: dict[str, object]) -> None:
    """Whatever their keys and texts are."""
    assert tomllib.loads(toml_text(tables)) == tables
