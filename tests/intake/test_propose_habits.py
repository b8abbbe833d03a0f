"""A file's order of dates, its decimal sign and its currency: asked where the file does not tell."""

from __future__ import annotations

import pytest
from proposed_files import PER_SIZE, Row, of_text, proposed, subjects

from ledger.intake.proposal import CatalogueWords, Proposal


def dated(*dates: str, label: str = "Date") -> Proposal:
    """Propose for an invoice with best-before dates, its own being the first of these."""
    rows: list[Row] = [[label, dates[0]], ["Item", "Qty", "Price", "Best before"]]
    rows += [[f"A{n}", n + 1, 5, text] for n, text in enumerate(dates[1:], 1)]
    return proposed(*rows)


def test_a_date_that_can_be_read_in_two_ways_is_asked() -> None:
    """The third of April or the fourth of March: nothing in the file tells."""
    proposal = dated("03/04/2026", "05/06/2026", "01/02/2027")
    assert (subjects(proposal), proposal.questions[0].answers) == (
        ["date order"],
        ("date order day month year", "date order month day year"),
    )


@pytest.mark.parametrize(
    ("other", "order"), [("25/06/2026", "day month year"), ("06/25/2026", "month day year")]
)
def test_one_date_that_is_clear_tells_for_all(other: str, order: str) -> None:
    """There is no 25th month."""
    proposal = dated("03/04/2026", other)
    assert (proposal.questions, proposal.profile.date_order) == ((), order)


def test_dates_that_contradict_each_other_are_asked() -> None:
    """One points to the day first, one to the month first."""
    assert subjects(dated("03/04/2026", "25/06/2026", "06/25/2026")) == ["date order"]


def test_the_same_day_and_month_is_asked_as_well() -> None:
    """4 April reads the same either way, but the next file of the party would not."""
    assert subjects(dated("04/04/2026", "2027-01-31")) == ["date order"]


def test_dates_with_the_year_first_need_no_order() -> None:
    """What a later file writes in another way is refused then, not guessed."""
    proposal = dated("2026-04-03", "2027-01-31")
    assert (proposal.questions, proposal.profile.date_order) == ((), "year month day")


def test_a_thousand_or_a_fraction_is_asked() -> None:
    """1,250 alone does not tell which sign is the decimal one."""
    _, proposal = of_text('Item,Price,Qty\nA1,"1,250",\nB2,"3,500",2\n')
    assert "decimal sign" in subjects(proposal)


def test_what_multiplies_tells_a_thousand_from_a_fraction() -> None:
    """2 x 1.250 is 2.500 either way, but 4 x 0.750 is 3 only with a decimal comma."""
    _, proposal = of_text("Item;Qty;Price;Amount\nA1;2;1,250;2,5\nB2;4;1,750;7\n")
    assert (proposal.profile.decimal_comma, subjects(proposal)) == (True, [])


def test_both_decimal_signs_in_one_file_are_asked() -> None:
    """3,10 and 4.25 cannot both be meant."""
    _, proposal = of_text("Item;Qty;Price\nA1;2;3,10\nB2;4;4.25\n")
    assert subjects(proposal) == ["decimal sign"]


def test_the_books_currency_is_proposed_and_said_where_the_file_names_none() -> None:
    """With a low confidence and the reason."""
    decision = proposed(*PER_SIZE).decision("currency")
    assert decision is not None
    assert (decision.taken_as, "the book's own is proposed" in decision.why) == ("USD", True)


@pytest.mark.parametrize(
    ("heading", "currency"),
    [("Amount (EUR)", "EUR"), ("Amount GBP", "GBP"), ("Total in CNY", "CNY"), ("CHF total", "CHF")],
)
def test_a_currency_in_a_heading_is_the_currency(heading: str, currency: str) -> None:
    """Its ISO 4217 code stands there."""
    rows = [[*PER_SIZE[0][:-1], heading], *PER_SIZE[1:]]
    assert proposed(*rows).profile.currency == currency


def test_two_currencies_are_asked() -> None:
    """Prices in one, the total in the other: nobody knows which is meant."""
    rows = [[*PER_SIZE[0][:-1], "Amount (EUR)"], *PER_SIZE[1:], ["", "", "", "", "Total USD", 131.10]]
    assert "currency" in subjects(proposed(*rows))


def test_a_dollar_sign_is_asked_in_a_book_of_another_currency() -> None:
    """It may be any of several dollars."""
    _, proposal = of_text("Item,Qty,Price\nA1,2,$3.10\nB2,4,$4.25\n", CatalogueWords(currency="EUR"))
    assert subjects(proposal) == ["currency"]
