"""One row of the items sheet becomes items and packs."""

from __future__ import annotations

import pytest

from ledger.catalogue.item_sheet import ITEM_COLUMNS, items_from_row, read_item_header
from ledger.catalogue.items import Item
from ledger.catalogue.sizes import make_ladder

STYLE_ROW = {
    "name": "Everyday tee",
    "kind": "blank",
    "unit": "each",
    "style": "E10",
    "sizes": "S-M",
    "colours": "Black",
}


@pytest.mark.parametrize("name", ITEM_COLUMNS)
def test_a_header_reads_as_the_template_writes_it(name: str) -> None:
    """What the template writes can be read again."""
    assert read_item_header(name) == name


@pytest.mark.parametrize(
    ("text", "column"),
    [
        ("Color", "colour"),
        ("COLORS", "colours"),
        ("base_unit", "unit"),
        ("Fiber Content", "fibre"),
        ("Weight", "weight_g"),
    ],
)
def test_other_headers_for_a_column_are_known(text: str, column: str) -> None:
    """American spelling and longer names are read."""
    assert read_item_header(text) == column


def test_an_unknown_header_is_none() -> None:
    """A column of the maker's own is left alone."""
    assert read_item_header("Shelf") is None


def test_the_four_needed_columns_make_an_item() -> None:
    """SKU, name, kind and unit suffice; the tax class is the kind's usual one."""
    row = items_from_row({"sku": "PAP-A4", "name": "Sublimation paper A4", "kind": "paper", "unit": "sheet"})
    assert row.items == (Item("PAP-A4", "Sublimation paper A4", "paper", "supplies when used", "sheet"),)


def test_an_empty_unit_is_the_kinds_usual_one() -> None:
    """Vinyl is counted by area unless told otherwise."""
    assert items_from_row({"sku": "V1", "name": "Vinyl", "kind": "vinyl"}).items[0].base_unit == "cm2"


def test_every_column_reaches_the_item() -> None:
    """Measures arrive in whole milligrams, cubic millimetres and milligrams per millilitre."""
    row = items_from_row(
        {
            "sku": "E10-BLK-M", "name": "Tee", "kind": "blank", "unit": "pcs", "tax_class": "customer's",
            "style": "E10", "colour": "Black", "size": "medium", "ladder": "youth", "fibre": "100% cotton",
            "weight_g": "150.5", "volume_mL": "1200", "density_g_per_mL": "1.05", "customs_class": "6109.10",
            "origin": "bd", "shelf_life_days": "365", "use_estimated": "Yes", "safety_sheet": "sheets/x.pdf",
            "note": "soft",
        }
    )  # fmt: skip
    assert row.items == (
        Item(
            sku="E10-BLK-M", name="Tee", kind="blank", tax_class="customer's", base_unit="each", style="E10",
            colour="Black", size="M", ladder="youth", fibre_content="100% cotton", weight_mg=150_500,
            volume_mm3=1_200_000, density_mg_per_ml=1050, customs_class="6109.10", origin="BD",
            shelf_life_days=365, use_estimated=True, safety_sheet="sheets/x.pdf", note="soft",
        ),
    )  # fmt: skip


def test_packs_use_the_rows_density() -> None:
    """A jar by weight of ink kept by volume is converted with the density of its own row."""
    row = items_from_row(
        {
            "sku": "INK",
            "name": "Ink",
            "kind": "ink",
            "unit": "mL",
            "density_g_per_mL": "1.25",
            "packs": "jar = 1 kg",
        }
    )
    assert [(pack.sku, pack.name, pack.factor) for pack in row.packs] == [("INK", "jar", 800)]


def test_a_style_row_gives_items_and_packs_for_each() -> None:
    """Every item of the style has the row's packs."""
    row = items_from_row({**STYLE_ROW, "packs": "case = 72 each"})
    assert [(pack.sku, pack.factor) for pack in row.packs] == [("E10-BLACK-S", 72), ("E10-BLACK-M", 72)]


@pytest.mark.parametrize("column", ["sku", "sku_pattern"])
def test_a_style_rows_pattern_stands_in_either_column(column: str) -> None:
    """The sku column may hold the pattern."""
    row = items_from_row({**STYLE_ROW, column: "{colour}.{size}"})
    assert [item.sku for item in row.items] == ["BLACK.S", "BLACK.M"]


def test_a_single_row_may_have_its_sku_made() -> None:
    """One item with a pattern and no SKU gets the SKU of the pattern."""
    row = items_from_row(
        {"sku_pattern": "{style}-{size}", "name": "Tee", "kind": "blank", "style": "E10", "size": "XXL"}
    )
    assert [item.sku for item in row.items] == ["E10-2XL"]


def test_a_size_of_no_ladder_is_kept_as_typed() -> None:
    """A size that no ladder knows is no error where no ladder is named."""
    item = items_from_row({"sku": "CAP", "name": "Cap", "kind": "blank", "size": "58 cm"}).items[0]
    assert (item.size, item.ladder) == ("58 cm", "")


def test_a_shops_own_ladder_serves_a_row() -> None:
    """Own ladders are found by name and guessed from their sizes."""
    own = [make_ladder("waist", "28; 30; 32")]
    row = items_from_row({**STYLE_ROW, "sizes": "28-32"}, own_ladders=own)
    assert [(item.size, item.ladder) for item in row.items] == [
        ("28", "waist"),
        ("30", "waist"),
        ("32", "waist"),
    ]


def test_all_problems_of_a_row_are_named_by_column() -> None:
    """A maker mends the whole row in one go."""
    row = items_from_row(
        {
            "sku": "=x", "kind": "blnk", "unit": "kg", "tax_class": "x", "weight_g": "-1", "origin": "UK",
            "shelf_life_days": "1.5", "use_estimated": "maybe", "customs_class": "x", "ladder": "x",
        }
    )  # fmt: skip
    assert {problem.column for problem in row.problems} == {
        "sku", "name", "kind", "unit", "tax_class", "weight_g", "origin", "shelf_life_days", "use_estimated",
        "customs_class", "ladder",
    }  # fmt: skip


def test_a_row_with_problems_has_no_items() -> None:
    """Nothing half right is handed on."""
    row = items_from_row({**STYLE_ROW, "packs": "case = 72 kg"})
    assert (row.items, row.packs, [problem.column for problem in row.problems]) == ((), (), ["packs"])


@pytest.mark.parametrize(
    ("change", "column"),
    [
        ({"style": ""}, "style"),
        ({"sku": "E10"}, "sku"),
        ({"size": "M"}, "size"),
        ({"colour": "Red"}, "colour"),
        ({"sizes": "S-9XL"}, "sizes"),
        ({"colours": "a;a"}, "colours"),
        ({"ladder": "nowhere"}, "ladder"),
        ({"sku_pattern": "{style}"}, "sku_pattern"),
        ({"colours": "Noir é"}, "sku_pattern"),
        ({"name": "n" * 195}, "sku"),
    ],
)
def test_a_fault_of_a_style_row_is_said_once_where_it_stands(change: dict[str, str], column: str) -> None:
    """Each mistake in a style's row points at its own column, once for the whole style."""
    row = items_from_row({**STYLE_ROW, **change})
    assert [problem.column for problem in row.problems] == [column]


@pytest.mark.parametrize("text", ["0.1234", "x", "0", "99999999"])
def test_a_weight_that_cannot_be_kept_is_refused(text: str) -> None:
    """A weight has at most three decimals, is above zero and not absurd."""
    row = items_from_row({"sku": "A", "name": "A", "kind": "blank", "weight_g": text})
    assert [problem.column for problem in row.problems] == ["weight_g"]
