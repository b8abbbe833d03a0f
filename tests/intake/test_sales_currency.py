"""The currency that headings and signs tell: read in it, asked, or refused."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sales_files import export

from ledger.errors import InputErrors, UsageError
from ledger.intake.propose_sales import propose_sales
from ledger.intake.read_sales import SalesOptions, read_sales
from ledger.intake.sales import with_rate
from ledger.intake.sales_currency import currencies_in

HEADINGS = "Date,Order,SKU,Qty,Amount"
SALE = "2026-05-09,S1,FOX,1,22.00"


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("amount_eur", ("EUR",)),
        ("Fees (GBP)", ("GBP",)),
        ("CA$ 3.00", ("CAD",)),
        ("22,00 €", ("EUR",)),
        ("Betrag in Euro", ("EUR",)),
        ("TOTAL ALL", ()),
        ("try it", ()),
        ("22.00", ()),
    ],
)
def test_a_currency_is_told_by_codes_and_signs(text: str, codes: tuple[str, ...]) -> None:
    """Words that happen to be a code tell none."""
    assert currencies_in(text) == codes


@pytest.mark.parametrize(
    ("headings", "row"),
    [("Date,Order,SKU,Qty,Amount EUR", SALE), (HEADINGS, "2026-05-09,S1,FOX,1,€22.00")],
)
def test_a_proposal_reads_the_currency_that_is_told(headings: str, row: str) -> None:
    """It stands in the profile, and so in the rows."""
    file = export(row, headings=headings)
    made = propose_sales(file, party="Fair", currency="USD")
    assert (made.tables["currency"], read_sales(file, made.to_profile()).rows[0].currency) == ("EUR", "EUR")


def test_dollars_of_a_book_in_euros_are_asked_about() -> None:
    """A plain $ may be several currencies."""
    made = propose_sales(
        export("2026-05-09,S1,FOX,1,$22.00", headings=HEADINGS), party="Fair", currency="EUR"
    )
    assert made.asks("currency")


@pytest.mark.parametrize("headings", ["Date,Order,SKU,Qty,Amount (€)", HEADINGS])
def test_a_profile_refuses_another_currency(headings: str) -> None:
    """Whether the heading or the sign says it; said for the file it is read."""
    profile = propose_sales(export(SALE, headings=HEADINGS), party="Fair", currency="USD").to_profile()
    row = SALE if "€" in headings else SALE.replace("22.00", "22.00 €")
    with pytest.raises(InputErrors, match="says EUR, and the amounts would be read as USD"):
        read_sales(export(row, headings=headings), profile)
    draft = read_sales(export(row, headings=headings), profile, SalesOptions(currency="EUR"))
    assert draft.rows[0].currency == "EUR"


def test_an_empty_cell_of_a_currency_column_is_refused_where_others_differ() -> None:
    """Nobody knows whether it is the book's; a row of the same order tells it."""
    headings = f"{HEADINGS},Currency"
    first, other = f"{SALE},EUR", f"{SALE.replace('S1', 'S2')},"
    file = export(first, other, headings=headings)
    profile = replace(propose_sales(file, party="Fair", currency="USD").to_profile())
    with pytest.raises(InputErrors, match="the currency is missing"):
        read_sales(file, profile)
    same = export(first, f"{SALE.replace('FOX', 'OWL')},", headings=headings)
    assert [row.currency for row in read_sales(same, profile).rows] == ["EUR", "EUR"]


def test_a_rate_is_for_one_other_currency() -> None:
    """It is put on its rows; without such rows it is refused."""
    profile = propose_sales(export(SALE, headings=HEADINGS), party="Fair", currency="EUR").to_profile()
    draft = read_sales(export(SALE, headings=HEADINGS), profile, SalesOptions(book_currency="USD"))
    assert with_rate(draft, "1.1", "USD").rows[0].rate == "1.1"
    with pytest.raises(UsageError, match="all of it is in EUR"):
        with_rate(draft, "1.1", "EUR")
