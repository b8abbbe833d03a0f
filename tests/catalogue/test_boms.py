"""Bills of materials: what a job uses, what it makes, what is warned of."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from bill_parts import BLACK, ITEMS, PACKS, WHITE, bill, item, line, tee
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.catalogue.boms import (
    Bill,
    BillLine,
    Component,
    base_amount,
    bill_warnings,
    explode,
    finished_item,
    finished_items,
    finished_sku,
    labour,
    planned_pieces,
)
from ledger.catalogue.items import Item
from ledger.errors import ValueProblem


def used(made: Bill, pieces: int = 1, blank: Item | None = BLACK) -> dict[str, int]:
    """Return what a job uses, in thousandths by SKU."""
    return {each.sku: each.quantity_milli for each in explode(made, blank, pieces, ITEMS, PACKS)}


def test_the_blank_comes_first_one_for_every_piece() -> None:
    """Every piece, spoiled or not, takes a blank."""
    assert explode(bill(line(per_piece="2")), BLACK, 3, ITEMS)[0] == Component("DRIFT-BLK-M", 3000)


def test_a_run_is_used_once_and_a_piece_every_time() -> None:
    """Two pieces of 1.5 mL and a run of 10 mL use 13 mL."""
    assert used(bill(line(per_piece="1.5", per_run="10")), 2)["INK-W"] == 13_000


def test_waste_comes_on_top() -> None:
    """Ten percent of 2 mL are 0.2 mL more."""
    assert used(bill(line(per_piece="2", waste_percent=Fraction(10))))["INK-W"] == 2200


def test_a_tool_costs_its_part_of_its_uses() -> None:
    """A cover sheet of 50 uses gives a fiftieth a piece."""
    assert used(bill(line("COVER", "1", uses=50)))["COVER"] == 20


@pytest.mark.parametrize(
    ("sku", "unit", "milli"),
    [
        ("FILM", "in2", 6452),
        ("FILM", "sheet", 600_000),
        ("PRE", "mL", 1050),
        ("INK-W", "L", 1_000_000),
        ("INK-W", "", 1000),
    ],
)
def test_a_line_may_be_in_any_unit_or_pack(sku: str, unit: str, milli: int) -> None:
    """An inch, a pack, a volume of something weighed: all become base units, exactly, then rounded."""
    assert used(bill(line(sku, "1", unit=unit)))[sku] == milli


def test_a_line_for_other_colours_is_left_out() -> None:
    """White ink goes onto black shirts only."""
    made = bill(line(per_piece="3", colours=("black",)))
    assert ("INK-W" in used(made, 1, BLACK), "INK-W" in used(made, 1, WHITE)) == (True, False)


def test_lines_of_one_item_are_added_before_they_are_rounded() -> None:
    """Two times a third of a thousandth is one thousandth, not nothing."""
    assert used(bill(line(per_piece="0.0003"), line(per_piece="0.0003")))["INK-W"] == 1


def test_a_bill_without_a_blank_uses_none() -> None:
    """A customer's own garment costs nothing."""
    assert used(bill(line(per_piece="1"), blank=""), 2, None) == {"INK-W": 2000}


@pytest.mark.parametrize(
    ("made", "blank", "pieces", "words"),
    [
        (bill(), None, 1, "none was given"),
        (bill(), ITEMS["INK-W"], 1, "not INK-W"),
        (bill(blank="", finished="FOX"), BLACK, 1, "has no blank"),
        (bill(), BLACK, 0, "1 piece or more"),
        (bill(line("NIX", "1")), BLACK, 1, "not in the catalogue"),
        (bill(line("INK-W", "1", unit="cm")), BLACK, 1, "measures length"),
    ],
)
def test_what_cannot_be_exploded_is_told(made: Bill, blank: Item | None, pieces: int, words: str) -> None:
    """A wrong blank, no pieces, an unknown item, a unit that does not fit."""
    with pytest.raises(ValueProblem, match=words):
        explode(made, blank, pieces, ITEMS)


amounts = st.fractions(min_value=0, max_value=500, max_denominator=1000)


lines = st.builds(
    BillLine,
    sku=st.sampled_from(["INK-W", "FILM", "COVER"]),
    per_piece=amounts,
    per_run=amounts,
    waste_percent=st.fractions(min_value=0, max_value=100, max_denominator=10),
    uses=st.one_of(st.none(), st.integers(min_value=1, max_value=500)),
)


bills = st.lists(lines, max_size=6).map(lambda found: bill(*found))


pieces = st.integers(min_value=1, max_value=500)


@settings(max_examples=50)
@given(bills, pieces)
def test_a_job_is_rounded_once_for_each_item(made: Bill, count: int) -> None:
    """What is used is never further than half a thousandth from the exact total."""
    exact: dict[str, Fraction] = {}
    for each in made.lines:
        amount = base_amount(each, count, ITEMS[each.sku])
        exact[each.sku] = exact.get(each.sku, Fraction(0)) + amount * 1000
    found = used(made, count)
    assert all(abs(found.get(sku, 0) - amount) <= Fraction(1, 2) for sku, amount in exact.items())


@settings(max_examples=50)
@given(bills, pieces, pieces)
def test_a_bill_is_linear_in_its_pieces_up_to_rounding(made: Bill, first: int, second: int) -> None:
    """Without amounts per run, two jobs use what one of both together does, but for three half thousandths."""
    plain = replace(made, lines=tuple(replace(each, per_run=Fraction(0)) for each in made.lines))
    one, other, both = used(plain, first), used(plain, second), used(plain, first + second)
    assert all(abs(one.get(sku, 0) + other.get(sku, 0) - both[sku]) <= Fraction(3, 2) for sku in both)


@settings(max_examples=50)
@given(bills, pieces)
def test_a_line_cut_in_two_uses_the_same(made: Bill, count: int) -> None:
    """Halving each line and writing it twice changes nothing: rounding comes after adding."""
    halves = [replace(each, per_piece=each.per_piece / 2, per_run=each.per_run / 2) for each in made.lines]
    assert used(replace(made, lines=(*halves, *halves)), count) == used(made, count)


@pytest.mark.parametrize(
    ("pattern", "blank", "sku"),
    [
        ("FOX-{colour}-{size}", BLACK, "FOX-BLK-M"),
        ("FOX-{color}", tee("Heather Navy", "HNV", "L"), "FOX-HNV"),
        ("FOX-{blank}", BLACK, "FOX-DRIFT-BLK-M"),
        ("{colour}", item("T1", "blank", "each", style="Drift", colour="Brick Red"), "BRICKRED"),
    ],
)
def test_the_pattern_makes_the_finished_sku(pattern: str, blank: Item, sku: str) -> None:
    """A colour's code is the one in the blank's SKU, else its name in capitals."""
    assert finished_sku(bill(finished=pattern), blank) == sku


@pytest.mark.parametrize(
    ("pattern", "blank", "words"),
    [
        ("{shade}", BLACK, "'{shade}' in '{shade}' is unknown"),
        ("F-{size}", item("T1", "blank", "each"), "T1 has none"),
        ("F-{size}", None, "has no blank"),
        ("-{size}", BLACK, "begins with a letter"),
    ],
)
def test_a_pattern_that_gives_no_sku_is_told(pattern: str, blank: Item | None, words: str) -> None:
    """An unknown placeholder, a missing value, a SKU that is none."""
    with pytest.raises(ValueProblem, match=words):
        finished_sku(bill(finished=pattern), blank)


def test_a_finished_item_is_goods_with_the_blanks_label() -> None:
    """Colour, size, ladder and fibre content are the blank's, the style is the bill."""
    found = finished_item(bill(), BLACK)
    assert (found.kind, found.tax_class, found.style, found.size, found.fibre_content) == (
        "finished",
        "goods",
        "FOX",
        "M",
        "100% cotton",
    )


def test_a_bill_can_decorate_what_another_makes() -> None:
    """The second bill's blanks are the first one's finished items."""
    second = bill(code="GOLD", blank="fox", finished="GOLD-{blank}")
    made = finished_items([second, bill()], ITEMS)
    assert made["GOLD-FOX-BLK-M"].blank == finished_item(bill(), BLACK)


def test_labour_is_rounded_once_for_the_job() -> None:
    """Three times a third of a cent is a cent."""
    made = bill(labour_per_piece=Decimal("0.0034"), labour_per_run=Decimal(2))
    assert labour(made, 3, "USD") == 201


def test_misprints_are_planned_for_rounded_up() -> None:
    """Twelve good pieces at five percent need thirteen."""
    assert planned_pieces(bill(misprint_percent=Fraction(5)), 12) == 13


SUBLIMATION = bill(
    line(per_piece="1"), way="sublimation, one panel", least_polyester_percent=65, light_only=True
)


@pytest.mark.parametrize(
    ("blank", "words"),
    [
        (WHITE, []),
        (replace(WHITE, fibre_content="35% cotton 65% recycled polyester"), []),
        (replace(WHITE, fibre_content="65/35 polyester/cotton"), []),
        (replace(WHITE, fibre_content="64% polyester 36% cotton"), ["has 64%"]),
        (replace(WHITE, fibre_content="100% nylon"), ["has 0%"]),
        (replace(WHITE, fibre_content=""), ["not known"]),
        (replace(WHITE, colour="Heather Navy"), ["dark cloth"]),
        (replace(WHITE, colour="Teal", note="A dark shade."), ["dark cloth"]),
        (BLACK, ["has 0%", "dark cloth"]),
    ],
)
def test_sublimation_warns_of_too_little_polyester_and_dark_cloth(blank: Item, words: list[str]) -> None:
    """65% polyester is the stated default: common practice, no source."""
    found = bill_warnings(SUBLIMATION, blank)
    assert (len(found), all(word in text for word, text in zip(words, found, strict=True))) == (
        len(words),
        True,
    )


def test_an_expired_item_the_bill_uses_is_warned_of() -> None:
    """Only what the bill uses on this blank."""
    made = bill(line(per_piece="1"), line("PRE", "1", colours=("White",)))
    found = bill_warnings(made, BLACK, {"INK-W", "PRE", "FILM"})
    assert (len(found), "INK-W" in found[0], "PRE" in found[0]) == (1, True, False)
