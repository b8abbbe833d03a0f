"""Bills of materials: what a job uses, what it makes, what is wrong with a bill."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.catalogue.bom_checks import BillProblem, check_bill, check_bills
from ledger.catalogue.bom_sheet import BOM_COLUMNS, BillRow, bill_from_rows, read_bom_header, row_parts
from ledger.catalogue.boms import (
    Bill,
    BillLine,
    Catalogue,
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
from ledger.catalogue.packs import Pack
from ledger.errors import ValueProblem


def item(sku: str, kind: str = "ink", unit: str = "mL", **more: object) -> Item:
    """Return an item of the little shop."""
    return Item(sku, sku.title(), kind, "goods", unit, **more)  # type: ignore[arg-type]


def tee(colour: str, code: str, size: str = "M", **more: object) -> Item:
    """Return a blank of the style Drift."""
    return item(
        f"DRIFT-{code}-{size}",
        "blank",
        "each",
        style="Drift",
        colour=colour,
        size=size,
        ladder="adult",
        **more,
    )


BLACK = tee("Black", "BLK", fibre_content="100% cotton")
WHITE = tee("White", "WHT", fibre_content="65% polyester 35% cotton")
ITEMS = {
    each.sku: each
    for each in (
        BLACK,
        WHITE,
        item("INK-W"),
        item("PRE", "chemical", "g", density_mg_per_ml=1050),
        item("FILM", "film", "cm2"),
        item("COVER", "tool", "each"),
        replace(item("CLEANER", "chemical"), tax_class="supplies when bought"),
    )
}
PACKS = {"FILM": [Pack("FILM", "sheet", Fraction(600))]}


def bill(*lines: BillLine, **more: object) -> Bill:
    """Return a bill on the style Drift."""
    fields: dict[str, object] = {
        "code": "FOX",
        "name": "Fox",
        "way": "direct to film",
        "blank": "Drift",
        "finished": "FOX-{colour}-{size}",
    }
    return Bill(**{**fields, **more}, lines=lines)  # type: ignore[arg-type]


def line(sku: str = "INK-W", per_piece: str = "0", per_run: str = "0", **more: object) -> BillLine:
    """Return a line of a bill."""
    return BillLine(sku, Fraction(per_piece), Fraction(per_run), **more)  # type: ignore[arg-type]


def used(made: Bill, pieces: int = 1, blank: Item | None = BLACK) -> dict[str, int]:
    """Return what a job uses, in thousandths by SKU."""
    return {each.sku: each.quantity_milli for each in explode(made, blank, pieces, ITEMS, PACKS)}


def problems(made: Bill, *others: Bill) -> list[tuple[int, str]]:
    """Return the line and column of everything wrong with a bill."""
    bills = {other.code: other for other in others}
    return [(each.line, each.column) for each in check_bill(made, Catalogue(ITEMS, PACKS, bills))]


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


def test_a_sound_bill_has_no_problem() -> None:
    """Nothing is told where nothing is wrong."""
    assert problems(bill(line(per_piece="1"), line("COVER", "1", uses=50))) == []


@pytest.mark.parametrize(
    ("made", "where"),
    [
        (bill(line()), (1, "per_piece")),
        (bill(line(per_piece="1"), line(per_piece="-1", per_run="2")), (2, "per_piece")),
        (bill(line(per_run="1.0000001")), (1, "per_run")),
        (bill(line(per_piece="99999999999")), (1, "per_piece")),
        (bill(line("NIX", "1")), (1, "sku")),
        (bill(line("CLEANER", "1")), (1, "sku")),
        (bill(line("INK-W", "1", unit="cm")), (1, "unit")),
        (bill(line(per_piece="1", waste_percent=Fraction(101))), (1, "waste")),
        (bill(line(per_piece="1", waste_percent=Fraction(-1))), (1, "waste")),
        (bill(line("COVER", "1", uses=0)), (1, "uses")),
        (bill(line("COVER", "1", uses=20_000)), (1, "per_piece")),
        (bill(line(per_piece="1", colours=("Teal",))), (1, "colours")),
        (bill(blank="Driftt"), (0, "blank")),
        (bill(blank="INK-W", finished="F"), (0, "blank")),
        (bill(blank="", finished="F"), (0, "sku")),
        (bill(finished="FOX-{size}"), (0, "finished")),
        (bill(finished="FOX-{shade}"), (0, "finished")),
        (bill(blank="DRIFT-BLK-M", finished="INK-W"), (0, "finished")),
        (bill(code="Drift2 x"), (0, "bill")),
        (bill(misprint_percent=Fraction(100)), (0, "misprints")),
        (bill(labour_per_run=Decimal(-1)), (0, "labour_per_run")),
        (bill(least_polyester_percent=101), (0, "least_polyester")),
    ],
)
def test_each_fault_is_told_at_its_place(made: Bill, where: tuple[int, str]) -> None:
    """Line and column of what is wrong, and of nothing else."""
    assert set(problems(made)) == {where}


def test_a_bill_named_like_a_style_is_refused() -> None:
    """What it makes would be a style of that name."""
    made = bill(code="drift", blank="DRIFT-BLK-M", finished="W-{blank}")
    assert problems(made) == [(0, "bill")]


def test_two_bills_that_make_one_sku_are_told() -> None:
    """A sale would not know which of them to make."""
    assert problems(bill(code="HARE"), bill()) == [(0, "finished")]


def circle_of(made: Bill, *others: Bill) -> list[BillProblem]:
    """Return what is told about a circle."""
    found = check_bills([made], Catalogue(ITEMS, PACKS, {each.code: each for each in (made, *others)}))
    return [each for each in found[made.code] if "itself" in each.what]


def test_a_bill_that_uses_what_it_makes_is_told() -> None:
    """A line with its own finished item."""
    made = bill(line("FOX-BLK-M", "1"), blank="DRIFT-WHT-M", finished="FOX-BLK-M")
    assert [(each.line, each.column) for each in circle_of(made)] == [(1, "sku")]


def test_a_bill_that_is_its_own_blank_is_told() -> None:
    """The blank is the bill's own code."""
    assert [(each.line, each.column) for each in circle_of(bill(code="DRIFT"))] == [(0, "blank")]


def test_a_circle_through_other_bills_is_told_with_its_way() -> None:
    """Each of three bills uses the next one's finished item."""
    first = bill(line("TWO", "1"), code="A", blank="", finished="ONE")
    second = bill(line("THREE", "1"), code="B", blank="", finished="TWO")
    third = bill(line("ONE", "1"), code="C", blank="", finished="THREE")
    assert "A uses B uses C uses A" in circle_of(first, second, third)[0].what


def test_blanks_in_a_circle_are_told() -> None:
    """Two bills that each decorate what the other makes."""
    assert len(circle_of(bill(code="A", blank="B"), bill(code="B", blank="A"))) == 1


def test_using_another_bills_finished_item_is_no_circle() -> None:
    """A chain has an end."""
    assert circle_of(bill(line("TWO", "1"), code="A"), bill(code="B", blank="", finished="TWO")) == []


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
    """65 % polyester is the stated default: common practice, no source."""
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


@pytest.mark.parametrize("name", BOM_COLUMNS)
def test_a_header_reads_as_the_template_writes_it(name: str) -> None:
    """What the template writes can be read again."""
    assert read_bom_header(name) == name


def test_a_row_gives_the_bills_own_fields_and_a_line() -> None:
    """Words become exact values."""
    row = row_parts(
        {
            "bill": "FOX",
            "way": "Sublimation one panel",
            "sku": "INK-W",
            "per_piece": "1.5",
            "waste": "10%",
            "uses": "",
            "colours": "Black; White",
            "misprints": "3",
        }
    )
    assert row == BillRow(
        "FOX",
        {"way": "sublimation, one panel", "misprint_percent": Fraction(3)},
        line(per_piece="1.5", waste_percent=Fraction(10), colours=("Black", "White")),
    )


@pytest.mark.parametrize(
    ("column", "text"),
    [
        ("bill", "A B"),
        ("way", "knitting"),
        ("per_piece", "0"),
        ("per_piece", "-1"),
        ("per_piece", "1.2345678"),
        ("per_piece", "a bit"),
        ("waste", "0.15"),
        ("waste", "120"),
        ("uses", "0"),
        ("uses", "2.5"),
        ("misprints", "100"),
        ("labour_per_piece", "-2"),
        ("least_polyester", "64.5"),
        ("light_only", "perhaps"),
    ],
)
def test_a_cell_that_is_wrong_is_named(column: str, text: str) -> None:
    """One problem, in its column."""
    cells = {"bill": "FOX", "sku": "INK-W", "per_piece": "1", column: text}
    assert [problem.column for problem in row_parts(cells).problems] == [column]


def test_an_amount_of_nothing_is_named() -> None:
    """A row with amounts and no SKU says of what."""
    assert [problem.column for problem in row_parts({"bill": "A", "unit": "mL"}).problems] == ["sku"]


def test_sublimation_takes_its_usual_limits() -> None:
    """Empty cells mean 65 % polyester and light cloth; 0 and no mean neither."""
    head = {"bill": "A", "name": "A", "way": "sublimation, all over"}
    usual = bill_from_rows("A", [row_parts(head)]).bill
    told = bill_from_rows("A", [row_parts({**head, "least_polyester": "0", "light_only": "no"})]).bill
    assert (
        (usual.least_polyester_percent, usual.light_only),
        (told.least_polyester_percent, told.light_only),
    ) == ((65, True), (None, False))


def test_the_finished_pattern_has_a_default() -> None:
    """Code and blank; the code alone where there is no blank."""
    head = {"bill": "A", "name": "A", "way": "stones"}
    found = [bill_from_rows("A", [row_parts({**head, **more})]).bill for more in ({"blank": "Drift"}, {})]
    assert [each.finished for each in found] == ["A-{blank}", "A"]


def test_a_bill_that_says_two_things_is_told() -> None:
    """Its own fields may stand again, but not otherwise."""
    rows = [row_parts({"bill": "A", "name": name, "way": "stones"}) for name in ("A", "A", "B")]
    assert [(each.row, each.column) for each in bill_from_rows("A", rows).problems] == [(2, "name")]


def test_a_bill_without_name_and_way_is_told() -> None:
    """Both are needed."""
    found = bill_from_rows("A", [row_parts({"bill": "A"})]).problems
    assert [problem.column for problem in found] == ["name", "way"]
