"""Buying studies read from TOML: what is accepted, and what is told about the rest."""

from __future__ import annotations

import datetime
import re
from fractions import Fraction
from pathlib import Path

import pytest
from study_texts import study_of

from ledger.carried import carried
from ledger.errors import InputErrors, UsageError
from ledger.intake.profile import profile_names
from ledger.intake.study_demand import DEMAND_KEYS
from ledger.intake.study_file import LIMIT_KEYS, MONEY_KEYS, TOP_KEYS, read_content, study_from
from ledger.intake.study_offers import (
    BREAK_KEYS,
    DEPOSIT_KEYS,
    DUTY_KEYS,
    FEE_KEYS,
    FREIGHT_KEYS,
    INSURANCE_KEYS,
    LEAD_KEYS,
    OFFER_KEYS,
    PRICE_KEYS,
)
from ledger.sourcing.decide import decide
from ledger.sourcing.study import Study

TODAY = datetime.date(2026, 11, 24)
TEMPLATE = carried("imports", "study.toml")

SMALL = """
currency = "USD"
[demand]
per_month = 60.0
[money]
capital_per_year = 0.12
[[offer]]
name = "Near"
origin = "domestic"
breaks = [{from = 1, price = "4.10"}, {from = 72, price = 3.60}]
[[offer]]
name = "Far"
origin = "vn"
breaks = [{from = 1, price = "1.605"}]
duty = [{rate = 0.165, from = 2020-01-01, note = "invented"}]
lead_time = {mean_days = 45, sd_days = 10}
"""


def problems_of(text: str) -> str:
    """Everything that is told about a study."""
    with pytest.raises(InputErrors) as caught:
        study_of(text, "study.toml", TODAY)
    return str(caught.value)


def changed(old: str, new: str) -> str:
    """The small study with a piece of it replaced."""
    assert old in SMALL
    return SMALL.replace(old, new)


def test_a_small_study_is_read_exactly() -> None:
    """Prices may be finer than a cent, and stand with or without quotes."""
    study = study_of(SMALL, "study.toml", TODAY)
    near, far = study.offers
    assert [each.price_minor for each in near.quote.prices[0].breaks] == [410, 360]
    assert far.quote.prices[0].breaks[0].price_minor == Fraction("160.5")
    assert (far.quote.origin, far.quote.duty[0].rate) == ("VN", Fraction("0.165"))
    assert far.entry.on == TODAY + datetime.timedelta(days=45)


def test_the_template_is_right() -> None:
    """The study that comes along is read without a problem and decided."""
    study = study_from(read_content(TEMPLATE), TEMPLATE.name, TODAY)
    decision = decide(study, 100, 1)
    assert len(decision.alternatives) == 3
    assert all("neither on_hand nor need_by" in text for text in decision.warnings)


def test_the_template_shows_every_key() -> None:
    """Each key that can stand in a study stands in the template, perhaps behind a number sign."""
    text = TEMPLATE.read_text("utf-8")
    every = (
        TOP_KEYS, DEMAND_KEYS, MONEY_KEYS, LIMIT_KEYS, OFFER_KEYS, FREIGHT_KEYS, DUTY_KEYS, FEE_KEYS, LEAD_KEYS,
        DEPOSIT_KEYS, BREAK_KEYS, PRICE_KEYS, INSURANCE_KEYS,
    )  # fmt: skip
    assert [key for keys in every for key in keys if not re.search(rf"\b{key}\b", text)] == []


def uncommented() -> str:
    """The template with the keys behind its number signs in force, one of each kind of demand and lead time."""
    lines = []
    for line in TEMPLATE.read_text("utf-8").splitlines():
        is_key = re.match(r"# [a-z_]+ = |# \[|# 2XL = ", line)
        lines.append(line.removeprefix("# ") if is_key else line)
    text = "\n".join(lines)
    for again in ("per_year", "history", "days_out_of_stock", "low", "likely", "high"):
        text = re.sub(rf"^{again} = .*$", "", text, flags=re.MULTILINE)
    for again in (
        r"breaks = \[\{from = 100.*", r"lead_time = \{mean_days = 55.*", r"lead_time = \{samples.*", r"duty = \[\{rate = \"0.165\", program.*"
    ):  # fmt: skip
        text = re.sub(rf"^{again}$", "", text, flags=re.MULTILINE)
    return text


def test_what_the_template_only_mentions_is_right_too() -> None:
    """Every key behind a number sign is one that is known."""
    study = study_of(uncommented(), "study.toml", TODAY)
    assert study.need_by == datetime.date(2027, 4, 15)
    assert study.offers[1].lead.working_days == 30
    assert study.offers[1].quote.rules.size_ratio


def test_the_study_is_no_profile() -> None:
    """It stands among the profiles and is not offered as one."""
    assert "study" not in profile_names()


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("per_month", "per_mnth", "'per_month'"),
        ("[money]", "[mony]", "'money'"),
        ('origin = "vn"', 'orign = "vn"', "'origin'"),
        ("mean_days", "mean_day", "'mean_days'"),
        ("note =", "nte =", "'note'"),
    ],
)
def test_an_unknown_key_is_named_with_the_nearest_right_one(old: str, new: str, told: str) -> None:
    """In every table of the study."""
    message = problems_of(changed(old, new))
    assert new.split(" ", maxsplit=1)[0].strip("[]") in message
    assert told in message


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("per_month = 60.0", 'per_month = "sixty"', "'sixty' is not a number"),
        ("per_month = 60.0", "per_month = nan", "NaN"),
        ("per_month = 60.0", "per_month = inf", "Infinity"),
        ("per_month = 60.0", "per_month = -3", "below 0"),
        ("per_month = 60.0", "per_month = 60\nhistory = [3]", "say the same thing twice"),
        ("per_month = 60.0", "", "there is no demand"),
        ("per_month = 60.0", "history = [0, 0]", "nothing was sold"),
        ("per_month = 60.0", "low = 1\nlikely = 5", "this one is missing"),
        ("per_month = 60.0", "low = 9\nlikely = 5\nhigh = 6", "must rise"),
        ("per_month = 60.0", "history = [5, 6]\ndays_out_of_stock = [1]", "1 figures stand beside 2 months"),
        ("capital_per_year = 0.12", "salvage_fraction = 1.0", "fetches what it cost or more"),
        ("capital_per_year = 0.12", "service_level = 95", "between 0 and 1"),
        ("0.165", "16.5", "is 0.165 meant?"),
        ("mean_days = 45", "mean_days = -45", "below 0"),
        ('origin = "vn"', 'origin = "Vietnam"', "is not a country code"),
        ('origin = "vn"', 'origin = "ZZ"', "'ZZ' is not a country code"),
        ("per_month = 60.0", "per_month = 60\nhorizon = 3", "not known"),
        ('currency = "USD"', 'currency = "USD"\nhorizon_months = "ten"', "Write digits, like 12."),
        ('currency = "USD"', 'currency = "USD"\nhorizon_months = 12.5', "like 12."),
        ("per_month = 60.0", 'per_month = 60\ncolours = {Black = ["S"]}', "no size with a share"),
        ('duty = [{rate = 0.165, from = 2020-01-01, note = "invented"}]', "", "unknown is not free"),
        ("{from = 72, price = 3.60}", "{from = 1, price = 3.60}", "two prices begin at 1"),
        ("{from = 72, price = 3.60}", "{from = 72}", "this break has no price"),
        ('currency = "USD"', 'currency = "dollar"', "is not a currency"),
        ('currency = "USD"', 'currency = "USD"\nhorizon_months = 0', "below 1"),
        ('name = "Near"', 'currency = "CNY"\nname = "Near"', "exchange_rate"),
        ('name = "Near"', 'closures = ["Atlantis"]\nname = "Near"', "Atlantis"),
        ('name = "Near"', "", "it has no name"),
        ('[[offer]]\nname = "Near"', '[[offer]\nname = "Near"', "it is no TOML"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_in_words(old: str, new: str, words: str) -> None:
    """With its place, and never as a traceback."""
    assert words in problems_of(changed(old, new))


def test_all_problems_are_told_at_once() -> None:
    """Three mistakes in three tables."""
    text = changed("per_month", "per_mnth").replace("sd_days", "sd_dys").replace("capital_per_year", "captal")
    assert "4 problems, nothing was compared" in problems_of(text)


def test_shares_are_brought_to_one_and_that_is_said() -> None:
    """Shares that add up to less are scaled."""
    study = study_of(
        changed("per_month = 60.0", "per_month = 60.0\nsizes = {S = 0.15, M = 0.30}"), "x", TODAY
    )
    assert [size.share for size in study.demand.sizes] == pytest.approx([1 / 3, 2 / 3])
    assert any("0.45" in remark for remark in study.remarks)


def test_a_yearly_demand_is_the_monthly_one() -> None:
    """720 a year are 60 a month."""
    monthly, yearly = (
        study_of(SMALL, "x", TODAY),
        study_of(changed("per_month = 60.0", "per_year = 720"), "x", TODAY),
    )
    assert yearly.demand == monthly.demand


def with_demand(more: str) -> Study:
    """The small study with more said about demand."""
    return study_of(changed("per_month = 60.0", f"per_month = 60.0\n{more}"), "x", TODAY)


@pytest.mark.parametrize(
    ("more", "stock"),
    [
        ("on_hand = 10\nsizes = {S = 0.4, M = 0.6}", [4, 6]),
        ("on_hand = {M = 7}\nsizes = {S = 0.4, M = 0.6}", [0, 7]),
        ("on_hand = 10", [10]),
    ],
)
def test_stock_on_hand_by_size_or_in_all(more: str, stock: list[int]) -> None:
    """One number is split by the shares."""
    assert [size.on_hand for size in with_demand(more).demand.sizes] == stock


def test_obsolescence_by_size_needs_the_size() -> None:
    """A name without a share is told, with the nearest."""
    text = changed("[money]", "sizes = {S = 0.5, M = 0.5}\n[obsolescence]\nXM = 0.3\n[money]")
    assert "no size or colour of this name" in problems_of(text)


@pytest.mark.parametrize("name", ["nowhere.toml", "."])
def test_a_file_that_cannot_be_read(name: str, tmp_path: Path) -> None:
    """Its path is named."""
    with pytest.raises(UsageError, match="cannot be read"):
        read_content(tmp_path / name)


def test_a_file_in_another_encoding(tmp_path: Path) -> None:
    """It is told how to save it."""
    path = tmp_path / "study.toml"
    path.write_bytes('name = "é"'.encode("latin-1"))
    with pytest.raises(UsageError, match="UTF-8"):
        read_content(path)


def test_a_file_that_is_too_large(tmp_path: Path) -> None:
    """It is not even opened."""
    path = tmp_path / "study.toml"
    path.write_bytes(b"#" * 1_000_001)
    with pytest.raises(UsageError, match="larger than a study"):
        read_content(path)
