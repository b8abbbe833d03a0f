from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.costing.landed import BASES, CHARGE_KINDS
from ledger.errors import ValueProblem
from ledger.intake.charge_words import ChargeWords, read_charge

cents = st.integers(1, 10**9).map(lambda number: Fraction(number, 100))
names = st.from_regex(r"[A-Z][a-z]{2,8}( [A-Z][a-z]{2,8})?", fullmatch=True)
patterns = st.lists(st.from_regex(r"[A-Z]{3,6}-[A-Z]{2,4}(-\*)?", fullmatch=True), max_size=3).map(tuple)


@st.composite
def charges(draw: st.DrawFn) -> ChargeWords:
    """Return any charge that words can name."""
    amount = draw(st.none() | cents)
    limits = sorted(draw(st.lists(cents, min_size=2, max_size=2)))
    has_minimum, has_maximum = draw(st.booleans()), draw(st.booleans())
    is_percent = amount is None
    return ChargeWords(
        kind=draw(st.sampled_from(CHARGE_KINDS)),
        amount=amount,
        percent=draw(st.integers(1, 10**6).map(lambda n: Fraction(n, 1000))) if is_percent else None,
        minimum=limits[0] if is_percent and has_minimum else None,
        maximum=limits[1] if is_percent and has_maximum else None,
        basis=draw(st.sampled_from(BASES)),
        currency=draw(st.sampled_from(["", "USD", "CNY"])),
        only=draw(patterns),
        reference=draw(st.just("") | st.from_regex(r"[A-Z]-[0-9]{4}", fullmatch=True)),
        party=draw(st.just("") | names),
    )


@given(charges())
def test_a_charge_reads_back_from_its_own_words(charge: ChargeWords) -> None:
    """The words a charge is shown in name the same charge."""
    assert read_charge(str(charge)) == charge


@given(st.text(max_size=60))
def test_any_text_is_a_charge_or_a_named_problem(text: str) -> None:
    """No text ends in anything but a charge or a ValueProblem."""
    try:
        read_charge(text)
    except ValueProblem as problem:
        assert str(problem)  # noqa: PT017 - either way is right


@given(
    st.lists(
        st.sampled_from(
            [*CHARGE_KINDS, "by", "on", "min", "max", "5", "3%", "CNY", '"', ",", "value", "from"]
        )
    )
)
def test_any_order_of_the_known_words_is_a_charge_or_a_named_problem(words: list[str]) -> None:
    """The known words in any order end in a positive charge or a ValueProblem."""
    try:
        charge = read_charge(" ".join(words))
    except ValueProblem:
        return
    assert (charge.amount or charge.percent or 0) > 0


def test_an_amount_by_weight() -> None:
    """The plainest form: kind, amount, basis."""
    assert read_charge("freight 182.40 by weight", "--charge 1") == ChargeWords(
        "freight", Fraction("182.40"), basis="weight", where="--charge 1"
    )


def test_a_percentage_with_its_limits() -> None:
    """An entry fee is a percentage with a least and a most."""
    charge = read_charge("entry_fee 0.3464% min 33.58 max 651.50 by value")
    assert (charge.percent, charge.minimum, charge.maximum) == (
        Fraction("0.3464"),
        Fraction("33.58"),
        Fraction("651.5"),
    )


def test_a_foreign_amount_keeps_its_currency() -> None:
    """A currency after the amount is the charge's own."""
    assert read_charge("freight 900 cny by weight").currency == "CNY"


def test_a_charge_without_a_basis_is_spread_by_value() -> None:
    """Value is the basis where none is named."""
    assert read_charge("brokerage 125").basis == "value"


def test_two_words_name_an_entry_fee() -> None:
    """A kind of two words may be typed with a blank."""
    assert read_charge("Entry fee 33.58").kind == "entry_fee"


def test_a_charge_on_a_pattern_leaves_other_skus_out() -> None:
    """Only the SKUs the pattern covers bear the charge."""
    charge = read_charge("duty 12.40 on TEE-*, HOOD-BLK-M")
    assert [charge.applies_to(sku) for sku in ("tee-wht-s", "HOOD-BLK-M", "HOOD-BLK-L")] == [
        True,
        True,
        False,
    ]


def test_a_bracket_in_a_pattern_is_itself() -> None:
    """Nothing but the star has a meaning in a pattern."""
    assert not read_charge("duty 5 on T[EA]E").applies_to("TEE")


def test_a_discount_is_typed_positive_and_lowers_cost() -> None:
    """A discount has a positive amount and says that it lowers cost."""
    charge = read_charge("discount 20")
    assert (charge.amount, charge.lowers_cost) == (20, True)


def test_a_bill_has_a_party_and_a_reference() -> None:
    """Who bills the charge and the bill's number are read in any order."""
    charge = read_charge('brokerage 125 ref HG-5530 from "Harrow Gull Brokers" by value')
    assert (charge.party, charge.reference, charge.basis) == ("Harrow Gull Brokers", "HG-5530", "value")


def test_an_amount_from_the_file_needs_words_without_one() -> None:
    """A foot's charge takes its amount and currency from the file."""
    charge = read_charge("freight by weight", amount=Fraction(64), currency="CNY")
    assert (charge.amount, charge.currency, charge.basis) == (64, "CNY", "weight")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "there is no charge"),
        ("frieght 5", "Did you mean 'freight'?"),
        ("freight", "has no amount"),
        ("freight -5", "not above zero"),
        ("freight 0", "not above zero"),
        ("freight 1,200.00", "is not understood"),
        ("freight 1e5", "is not a number"),
        ("freight 5 by length", "value, quantity, weight, volume"),
        ("freight 5 XYZ", "not a currency"),
        ("freight 5.001 USD", "more than 2 decimals"),
        ("freight 5.5 JPY", "more than 0 decimals"),
        ("freight 99999999999", "far too large"),
        ("duty 2000%", "more than 1000%"),
        ("freight 5 min 3", "belongs to a percentage"),
        ("duty 5% min 9 max 3", "above max"),
        ("duty 5% min", "one amount"),
        ("duty 5 on", "SKUs with commas"),
        ("duty 5 on TEE HOOD", "SKUs with commas"),
        ("duty 5 by value by weight", "stands twice"),
        ("brokerage 5 from", "a name"),
        ("freight " + "9" * 400, "too long"),
    ],
)
def test_a_wrong_charge_says_what_is_wrong(text: str, said: str) -> None:
    """Each fault of a charge has its own words."""
    with pytest.raises(ValueProblem) as raised:
        read_charge(text)
    assert said in str(raised.value)
