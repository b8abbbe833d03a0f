"""Items: kinds, classes, codes, fibres, styles."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.catalogue.items import (
    KINDS,
    TAX_CLASSES,
    Colour,
    Item,
    Kind,
    check_item,
    expand_style,
    read_colours,
    read_customs_class,
    read_kind,
    read_sku,
    read_tax_class,
    sku_from_pattern,
)
from ledger.catalogue.units import BASE_UNITS
from ledger.errors import ValueProblem

TEE = Item(sku="", name="Everyday tee", kind="blank", tax_class="goods", base_unit="each", style="E10")


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)
def test_every_kind_has_a_base_unit_and_a_tax_class(kind: Kind) -> None:
    """What a kind proposes is itself allowed."""
    assert kind.base_unit in BASE_UNITS
    assert kind.tax_class in TAX_CLASSES


def test_what_becomes_part_of_the_shirt_is_goods() -> None:
    """The starting tax class of a kind follows whether it ends up in what is sold."""
    goods = {name for name, kind in KINDS.items() if kind.tax_class == "goods"}
    assert goods == {"blank", "vinyl", "ink", "toner", "powder", "stones", "transfer", "finished"}


@pytest.mark.parametrize(("text", "name"), [("Blanks", "blank"), ("stone", "stones"), (" INK ", "ink")])
def test_a_kind_is_read_in_singular_and_plural(text: str, name: str) -> None:
    """Kinds are found in any case and number."""
    assert read_kind(text).name == name


def test_a_shop_may_add_kinds() -> None:
    """An added kind is read like the others."""
    own = Kind("patch")
    assert read_kind("patches".removesuffix("es"), {**KINDS, "patch": own}) is own


def test_an_unknown_kind_gets_a_suggestion() -> None:
    """A mistyped kind is answered with the list and the nearest."""
    with pytest.raises(ValueProblem, match="Did you mean vinyl"):
        read_kind("vynil")


@pytest.mark.parametrize("text", ["Customer's", "customer’s", "customers"])
def test_a_tax_class_is_read_whatever_its_apostrophe(text: str) -> None:
    """A spreadsheet's curly apostrophe is an apostrophe."""
    assert read_tax_class(text) == "customer's"


def test_supplies_alone_is_no_tax_class() -> None:
    """Supplies are deducted when used or when bought; the program does not choose."""
    with pytest.raises(ValueProblem, match="supplies when used, supplies when bought"):
        read_tax_class("supplies")


@pytest.mark.parametrize("text", ["T-10_a/B.2+", "0", "a" * 40])
def test_a_sku_of_plain_characters_is_read(text: str) -> None:
    """Letters, digits and - _ . / + make a SKU."""
    assert read_sku(f" {text} ") == text


@pytest.mark.parametrize("text", ["", "=A1", "+1", "-x", "@x", "a b", "a;b", "a:b", "é1", "a" * 41, "a\nb"])
def test_a_sku_with_anything_else_is_refused(text: str) -> None:
    """Nothing that a file, a spreadsheet or a shell could take for something else."""
    with pytest.raises(ValueProblem, match="SKU"):
        read_sku(text)


@pytest.mark.parametrize("text", ["6109.10.0012", "6109100012", "6109", ""])
def test_a_customs_class_is_kept_as_written(text: str) -> None:
    """Digits with or without dots, or nothing."""
    assert read_customs_class(text) == text


@pytest.mark.parametrize("text", ["cotton", "61", "6109.1", "6109-10"])
def test_a_malformed_customs_class_is_refused(text: str) -> None:
    """A class that lost a digit in a spreadsheet is caught."""
    with pytest.raises(ValueProblem, match="not a customs class"):
        read_customs_class(text)


def test_a_sound_item_has_no_problems() -> None:
    """A full, sensible item passes."""
    item = replace(TEE, sku="E10-BLK-M", size="M", ladder="adult", weight_mg=150_000, origin="BD")
    assert check_item(item) == []


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"sku": "=x"}, "SKU"),
        ({"name": " "}, "name must have"),
        ({"kind": "shoe"}, "not a kind"),
        ({"tax_class": "x"}, "not a tax class"),
        ({"base_unit": "kg"}, "not a base unit"),
        ({"ladder": "adult", "size": "9"}, "not a size"),
        ({"ladder": "nowhere", "size": "9"}, "not a size ladder"),
        ({"origin": "XX"}, "not a country code"),
        ({"customs_class": "x"}, "not a customs class"),
        ({"weight_mg": 0}, "weight must be above zero"),
        ({"shelf_life_days": 40_000}, "more than a hundred years"),
    ],
)
def test_each_fault_of_an_item_is_said(change: dict[str, object], message: str) -> None:
    """One wrong field gives one problem, about that field."""
    problems = check_item(replace(replace(TEE, sku="E10"), **change))  # type: ignore[arg-type]
    assert len(problems) == 1
    assert message in problems[0]


def test_all_faults_of_an_item_are_said_together() -> None:
    """A maker mends everything in one go."""
    assert len(check_item(replace(TEE, sku="", name="", kind="", origin="1"))) == 4


def test_colours_carry_their_codes() -> None:
    """A colour cell may give a colour its code."""
    assert read_colours("Black; Heather  Navy = HNV;") == (Colour("Black"), Colour("Heather Navy", "HNV"))


def test_a_colour_twice_is_refused() -> None:
    """The same colour in another case is the same colour."""
    with pytest.raises(ValueProblem, match="stands twice"):
        read_colours("Black; black")


def test_a_sku_pattern_uses_codes_before_names() -> None:
    """A code table is searched in any case; other values stand in capitals without blanks."""
    values = {"style": "e10", "colour": "heather navy", "size": "M"}
    codes = {"colour": {"Heather Navy": "HNV"}}
    assert sku_from_pattern("{style}-{Color}-{size}", values, codes) == "E10-HNV-M"


@pytest.mark.parametrize(
    ("pattern", "message"),
    [
        ("{style}-{cut}", "unknown"),
        ("{style}-{size}", "asks for a size"),
        ("{style.__class__}", "unknown"),
        ("{", "SKU"),
    ],
)
def test_a_sku_pattern_that_cannot_be_filled_is_refused(pattern: str, message: str) -> None:
    """Only style, colour and size can stand in a pattern, and each needs a value."""
    with pytest.raises(ValueProblem, match=message):
        sku_from_pattern(pattern, {"style": "E10", "colour": "Black"})


def test_a_style_becomes_an_item_per_colour_and_size() -> None:
    """One row gives every colour and size, each with its own SKU."""
    items = expand_style(TEE, colours="Black; Heather Navy=HNV", sizes="S-L")
    assert [item.sku for item in items] == [
        "E10-BLACK-S", "E10-BLACK-M", "E10-BLACK-L", "E10-HNV-S", "E10-HNV-M", "E10-HNV-L",
    ]  # fmt: skip


def test_an_item_of_a_style_knows_its_colour_size_and_ladder() -> None:
    """What the row shares stays, what differs is filled in."""
    item = expand_style(TEE, colours="Black", sizes="XXL")[0]
    assert item == replace(
        TEE, sku="E10-BLACK-2XL", name="Everyday tee, Black, 2XL", colour="Black", size="2XL", ladder="adult"
    )


def test_a_style_without_sizes_has_an_item_per_colour() -> None:
    """Vinyl comes in colours only, and the default pattern leaves the size out."""
    vinyl = Item(sku="", name="Vinyl", kind="vinyl", tax_class="goods", base_unit="cm2", style="V1")
    assert [item.sku for item in expand_style(vinyl, colours="Red; Blue")] == ["V1-RED", "V1-BLUE"]


def test_two_items_of_one_sku_are_refused() -> None:
    """A pattern without the size, or one code for two colours, is caught."""
    with pytest.raises(ValueProblem, match="would stand for two items"):
        expand_style(TEE, colours="Black", sizes="S-M", sku_pattern="{style}-{colour}")


def test_sizes_of_no_ladder_say_to_name_one() -> None:
    """Unknown sizes without a ladder show the way out."""
    with pytest.raises(ValueProblem, match=r"'28' is not a size.*Name the ladder"):
        expand_style(TEE, sizes="28; 30")
