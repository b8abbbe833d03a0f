"""Formulas over a pack's tables: ranges, columns that are left out, text as a criterion."""

from __future__ import annotations

import pytest

from ledger.views.pack import (
    Adds,
    Column,
    Divides,
    Gathers,
    Kind,
    LastOf,
    Named,
    SumWhere,
    Table,
    Terms,
    TotalOf,
)
from ledger.views.workbook_formulas import Place, Places, criterion

MONEY = Kind.MONEY
ITEMS = Table(
    "items",
    "Items",
    "",
    (
        Column("sku", "SKU"),
        Column("kind", "kind"),
        Column("in", "in", MONEY, is_summed=True),
        Column("out", "out", MONEY),
        Column("left", "left", MONEY, formula=Adds(("in", "gone"), ("out",))),
        Column("each", "each", Kind.PER_UNIT, formula=Divides("left", "in")),
    ),
    [("A", "ink", 500, 200, 300, None), ("B", "film", 100, 0, 100, None)],
)
KINDS = Table(
    "kinds",
    "By kind",
    "",
    (Column("kind", "kind"), Column("in", "in", MONEY, formula=Gathers("items", "kind"))),
    [("ink", 500), ("film", 100)],
)
ITEMS_AT, KINDS_AT = Place("It's all", ITEMS, 7), Place("By kind", KINDS, 5)
PLACES = Places({"items": ITEMS_AT, "kinds": KINDS_AT})


def test_a_row_adds_its_columns_and_skips_what_is_left_out() -> None:
    """The column 'gone' is not in the workbook."""
    assert PLACES.in_row(ITEMS_AT, ITEMS.columns[4], 8) == "=C8-D8"


def test_a_cost_per_unit_divides_two_cells() -> None:
    """Amount by quantity, in the same row."""
    assert PLACES.in_row(ITEMS_AT, ITEMS.columns[5], 7) == "=E7/C7"


def test_a_kind_gathers_its_rows() -> None:
    """The criterion is the row's own name, the ranges are the other table's rows."""
    expected = "=SUMIFS('It''s all'!$C$7:$C$8,'It''s all'!$B$7:$B$8,\"film\")"
    assert PLACES.in_row(KINDS_AT, KINDS.columns[1], 6) == expected


@pytest.mark.parametrize(
    ("terms", "formula"),
    [
        (Terms(()), "=0"),
        (Terms((Named("sales"),), (Named("fees"),)), "=sales-fees"),
        (Terms((TotalOf("items", "in"),)), "='It''s all'!C9"),
        (Terms((TotalOf("items", "out"),)), "=SUM('It''s all'!$D$7:$D$8)"),
        (Terms((LastOf("items", "out"),)), "='It''s all'!D8"),
        (Terms((TotalOf("items", "gone"), Named("sales"))), "=sales"),
        (
            Terms((SumWhere("items", "in", "kind", "ink"),)),
            "=SUMIFS('It''s all'!$C$7:$C$8,'It''s all'!$B$7:$B$8,\"ink\")",
        ),
    ],
)
def test_terms_become_a_formula(terms: Terms, formula: str) -> None:
    """Named cells, totals, last rows and sums over some rows."""
    assert PLACES.of_terms(terms) == formula


def test_a_total_runs_over_the_rows() -> None:
    """From the first to the last."""
    assert PLACES.total(ITEMS_AT, "in") == "=SUM(C7:C8)"


def test_an_empty_tables_total_runs_over_the_row_that_says_so() -> None:
    """A range is never upside down."""
    empty = Place("None", Table("none", "None", "", ITEMS.columns, []), 7)
    assert (PLACES.total(empty, "in"), empty.total_row) == ("=SUM(C7:C7)", 8)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("supplies when used", '"supplies when used"'),
        ("customer's", '"customer\'s"'),
        (">5", '"=>5"'),
        ("a*", '"=a~*"'),
        ("why?", '"=why~?"'),
        ("~", '"=~~"'),
        ('12" film', '"=12"" film"'),
        ("", '"="'),
    ],
)
def test_a_criterion_is_fulfilled_by_its_text_alone(text: str, expected: str) -> None:
    """Signs that mean something in a criterion are marked as themselves."""
    assert criterion(text) == expected
