"""Reading units and converting between them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.catalogue.units import BASE_UNITS, UNITS, Unit, convert, find_unit, read_base_unit, read_unit
from ledger.errors import ValueProblem

amounts = st.fractions(min_value=0, max_value=10**6, max_denominator=1000)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("PCS", "each"),
        (" Inches ", "in"),
        ('"', "in"),
        ("sq. in.", "in2"),
        ("in²", "in2"),
        ("Square Metres", "m2"),
        ("square inches", "in2"),
        ("FL. OZ.", "fl oz"),
        ("ml", "mL"),
        ("l", "L"),
        ("10 gross", "ten gross"),
        ("kgs", "kg"),
    ],
)
def test_spellings_of_a_unit_are_read(text: str, name: str) -> None:
    """A unit is found by its aliases, in any case, with stops, blanks and squares."""
    assert read_unit(text).name == name


@pytest.mark.parametrize("unit", UNITS.values(), ids=lambda unit: unit.name)
def test_every_unit_reads_back_by_its_own_name(unit: Unit) -> None:
    """The name that is shown for a unit can be typed again."""
    assert read_unit(unit.name) == unit


@pytest.mark.parametrize("text", ["M", "gr", "GR"])
def test_an_ambiguous_abbreviation_is_refused(text: str) -> None:
    """M may be metres or thousands, gr gross or grams: the message names both."""
    with pytest.raises(ValueProblem, match=r"may mean .* or "):
        read_unit(text)


def test_an_ambiguous_abbreviation_is_not_found_either() -> None:
    """Looking a unit up does not guess where reading it would refuse."""
    assert find_unit("M") is None


@pytest.mark.parametrize("text", ["case", "Boxes", "rolls", "XCT"])
def test_a_container_is_no_unit(text: str) -> None:
    """A container has no fixed content, and the message shows how to give it one."""
    with pytest.raises(ValueProblem, match=r"no fixed content.*case = 72 each"):
        read_unit(text)


def test_an_unknown_unit_gets_the_nearest_suggestion() -> None:
    """A slip of the finger is answered with the word that was meant."""
    with pytest.raises(ValueProblem, match=r"'dozne' is not a unit\. Did you mean dozen"):
        read_unit("dozne")


def test_a_flood_of_text_is_cut_in_the_message() -> None:
    """A message stays readable when a whole paragraph stands where a unit should."""
    with pytest.raises(ValueProblem) as caught:
        read_unit("x" * 10_000)
    assert len(str(caught.value)) < 400


@pytest.mark.parametrize("base_unit", BASE_UNITS)
def test_a_base_unit_reads_as_itself(base_unit: str) -> None:
    """Each base unit is a unit of factor one."""
    assert read_base_unit(base_unit) == base_unit


def test_a_base_unit_is_read_by_its_aliases() -> None:
    """The unit column may say pcs."""
    assert read_base_unit("pcs") == "each"


def test_a_larger_unit_is_no_base_unit() -> None:
    """Stock is not counted in kg, and the message names the unit to write instead."""
    with pytest.raises(ValueProblem, match="write g here"):
        read_base_unit("kg")


@given(amount=amounts, unit=st.sampled_from(list(UNITS.values())))
def test_converting_within_a_dimension_is_exact(amount: Fraction, unit: Unit) -> None:
    """Amounts scale by the factor alone, without a rounding."""
    assert convert(amount, unit, unit.base_unit) == amount * unit.factor


@given(amount=amounts, density=st.fractions(min_value=Fraction(1, 10), max_value=20, max_denominator=1000))
def test_density_carries_volume_to_mass_and_back(amount: Fraction, density: Fraction) -> None:
    """Converting there and back with one density gives the amount again."""
    grams = convert(amount, UNITS["mL"], "g", density)
    assert convert(grams, UNITS["g"], "mL", density) == amount


def test_a_gallon_of_plastisol_weighs_by_its_density() -> None:
    """Own worked case: 3,785.411784 mL at 1.44 g/mL."""
    assert convert(Fraction(1), UNITS["gallon"], "g", Fraction("1.44")) == Fraction("5450.99296896")


def test_mass_and_volume_need_a_density() -> None:
    """Without a density the message asks for it."""
    with pytest.raises(ValueProblem, match="density in g per mL"):
        convert(Fraction(1), UNITS["quart"], "g")


def test_a_piece_of_something_in_sheets_is_a_sheet() -> None:
    """An invoice may count sheets as pieces or dozens."""
    assert convert(Fraction(2), UNITS["dozen"], "sheet") == 24


def test_a_sheet_of_something_in_pieces_is_not_a_piece() -> None:
    """A sheet of transfers may be cut into several, so only a pack can say how many."""
    with pytest.raises(ValueProblem, match="sheet = 1 each"):
        convert(Fraction(1), UNITS["sheet"], "each")


@pytest.mark.parametrize(
    ("unit", "base_unit", "advice"),
    [
        ("yd", "cm2", "write a width too"),
        ("each", "mL", "bottle = 500 mL"),
        ("g", "cm", "use a unit of length"),
    ],
)
def test_another_dimension_is_refused_with_advice(unit: str, base_unit: str, advice: str) -> None:
    """A length is no area and a mass no length; the message says what to write."""
    with pytest.raises(ValueProblem, match=advice):
        convert(Fraction(1), UNITS[unit], base_unit)


@pytest.mark.parametrize("unit", ["in", "yd", "m"])
def test_a_length_is_no_base_unit_and_the_advice_names_both_ways(unit: str) -> None:
    """A roll has a width: what is kept in cm cannot have the pack roll = 12 in x 5 yd."""
    with pytest.raises(ValueProblem, match=r"write cm here \(cm2 where it has a width too"):
        read_base_unit(unit)


def test_a_roll_with_a_width_of_what_is_kept_in_cm_is_refused_with_both_ways_out() -> None:
    """The area does not go into a length."""
    with pytest.raises(ValueProblem, match="keep the item in cm2 where it has a width"):
        convert(Fraction(1), UNITS["cm2"], "cm")
