"""Rows of the quotes sheet as offers, and the quote that an offer means."""

from __future__ import annotations

from fractions import Fraction

import pytest

from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack
from ledger.errors import ValueProblem
from ledger.sourcing.offered_quote import Home, origin_fault, quote_of
from ledger.sourcing.offered_unit import offered_pack
from ledger.sourcing.offers import Offer, OfferRow, offer_from_rows, read_row
from ledger.sourcing.quote import SizeShare
from ledger.sourcing.quote_columns import read_quote_heading

CELLS = {"supplier": "Mill", "style": "Wren", "prices": "1 = 4.10"}
HOME = Home("USD", "US")


def test_an_offer_without_a_name_is_called_by_its_goods() -> None:
    """The style, or the SKU."""
    assert [read_row(CELLS).offer, read_row({"supplier": "Mill", "sku": "X", "prices": "1"}).offer] == [
        "Wren",
        "X",
    ]


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"minimum": "1.5"}, "minimum"),
        ({"minimum": "-1"}, "minimum"),
        ({"multiple": "0"}, "multiple"),
        ({"freight_per_kg": "-2"}, "freight_per_kg"),
        ({"freight_per_kg": "much"}, "freight_per_kg"),
        ({"deposit": "120%"}, "deposit"),
        ({"prepack": "S=1; S=2"}, "prepack"),
        ({"prepack": "S"}, "prepack"),
        ({"breaks_by": "moon"}, "breaks_by"),
        ({"mode": "camel"}, "mode"),
        ({"valid_until": "2026-02-30"}, "valid_until"),
        ({"lead_days": "soon"}, "lead_days"),
        ({"customs_class": "tees"}, "customs_class"),
        ({"note": "x" * 501}, "note"),
        ({"colours": "Red; red"}, "colours"),
    ],
)
def test_a_wrong_cell_is_told_by_its_column(cells: dict[str, str], column: str) -> None:
    """One fault, in its own words."""
    assert [fault.column for fault in read_row(CELLS | cells).faults] == [column]


@pytest.mark.parametrize(
    ("cells", "column", "words"),
    [
        ({"valid_from": "2026-05-01", "valid_until": "2026-04-01"}, "valid_until", "before it begins"),
        ({"minimum": "100", "maximum": "50"}, "maximum", "cannot both be ordered"),
        ({"volumetric": "5000"}, "volumetric", "no freight_per_kg"),
    ],
)
def test_what_contradicts_itself_is_told(cells: dict[str, str], column: str, words: str) -> None:
    """Each cell alone is fine."""
    (fault,) = offer_from_rows([read_row(CELLS | cells)]).faults
    assert (fault.column, words in fault.what) == (column, True)


@pytest.mark.parametrize(
    ("home", "origin"),
    [
        (HOME, "domestic"),
        (Home("USD", "US", "US"), "domestic"),
        (Home("USD", "US", "CN"), "CN"),
    ],
)
def test_goods_come_from_where_the_supplier_is(home: Home, origin: str) -> None:
    """Unless the offer says otherwise."""
    offer = Offer("Mill", "Wren", {}, (OfferRow(style="Wren", prices="1 = 4.1"),))
    assert quote_of(offer, home).origin == origin
    assert quote_of(Offer("Mill", "Wren", {"origin": "VN"}, offer.rows), home).origin == "VN"


def test_prices_are_in_the_suppliers_currency() -> None:
    """Yen have no cents; a price may be finer than the minor unit."""
    offer = Offer("Mill", "X", {}, (OfferRow(sku="X", prices="1 = 0.0125"),))
    cents = quote_of(offer, HOME).prices[0].breaks[0].price_minor
    yen = quote_of(offer, Home("USD", "US", "JP", "JPY")).prices[0].breaks[0].price_minor
    assert (cents, yen) == (Fraction("1.25"), Fraction("0.0125"))


def test_what_is_paid_at_home_is_whole_cents() -> None:
    """Half a cent for the broker is refused, naming the offer and the column."""
    offer = Offer("Mill", "X", {"brokerage": "1.005"}, (OfferRow(sku="X", prices="1 = 1"),))
    with pytest.raises(ValueProblem, match="Mill, X, brokerage"):
        quote_of(offer, HOME)


def test_a_prepack_is_sizes_with_their_pieces() -> None:
    """In the order written."""
    offer = Offer("Mill", "X", {"prepack": "S = 1; M = 2"}, (OfferRow(style="X", prices="1 = 1"),))
    assert quote_of(offer, HOME).rules.size_ratio == (SizeShare("S", 1), SizeShare("M", 2))


@pytest.mark.parametrize(
    ("text", "factor"), [("", 1), ("pack", 100), ("packs", 100), ("500 sheet", 500), ("10 of 25 sheet", 250)]
)
def test_a_unit_is_a_pack_a_unit_or_a_content(text: str, factor: int) -> None:
    """Whatever an offer counts in."""
    paper = Item("PAPER", "Paper", "paper", "goods", "sheet")
    assert offered_pack(text, paper, (Pack("PAPER", "pack", Fraction(100)),)).factor == factor


@pytest.mark.parametrize("text", ["carton", "3 barrels", "12 in x 5 yd"])
def test_a_unit_that_says_nothing_is_refused(text: str) -> None:
    """A carton of how many?"""
    paper = Item("INK", "Ink", "ink", "goods", "mL")
    with pytest.raises(ValueProblem):
        offered_pack(text, paper, ())


def test_headings_are_read_in_other_words() -> None:
    """As makers write them."""
    assert [read_quote_heading(text) for text in ("MOQ", "Incoterms", "Size Ratio", "Price", "shoe")] == [
        "minimum",
        "terms",
        "prepack",
        "prices",
        None,
    ]


def abroad(**head: str) -> Offer:
    """Return an offer with these cells."""
    return Offer("Mill", "Wren", head, (OfferRow(style="Wren", prices="1 = 4.1"),))


@pytest.mark.parametrize(
    ("head", "home", "unknown"),
    [
        ({"terms": "FOB"}, HOME, ["origin"]),
        ({"terms": "DDP"}, Home("USD", "US", "US"), ["origin"]),
        ({"terms": "DDP", "origin": "CN"}, HOME, []),
        ({"terms": "FOB", "origin": "domestic"}, HOME, ["freight"]),
        ({"terms": "DDP"}, Home("USD", "US", "CN"), []),
        ({"terms": "shipping point"}, HOME, ["freight"]),
        ({"terms": "shipping point", "freight_per_order": "0"}, HOME, []),
        ({"terms": "destination"}, HOME, []),
        ({}, HOME, []),
    ],
)
def test_terms_of_foreign_trade_need_an_origin(head: dict[str, str], home: Home, unknown: list[str]) -> None:
    """Taken as domestic the goods would be free of duty."""
    offer = abroad(**head)
    assert (origin_fault(offer, home) is not None) == ("origin" in unknown)
    assert list(quote_of(offer, home).unquoted) == unknown


@pytest.mark.parametrize(
    ("head", "unquoted"),
    [
        ({"terms": "EXW"}, ("freight", "inland and export", "brokerage")),
        ({"terms": "FOB"}, ("freight", "brokerage")),
        ({"terms": "FOB", "freight_per_kg": "0", "brokerage": "0"}, ()),
        ({"terms": "FOB", "free_above": "100", "brokerage": "80"}, ("freight",)),
        ({"terms": "CIF"}, ("brokerage",)),
        ({"terms": "DDP"}, ()),
        ({}, ("freight", "brokerage")),
    ],
)
def test_what_no_cell_speaks_of_is_not_quoted(head: dict[str, str], unquoted: tuple[str, ...]) -> None:
    """By what the terms leave to the buyer; 0 is an answer."""
    assert quote_of(abroad(origin="CN", **head), HOME).unquoted == unquoted


@pytest.mark.parametrize(
    ("head", "unstated"),
    [
        ({"terms": "FOB"}, ("terminal", "delivery")),
        ({"terms": "FCA", "terminal": "0"}, ("delivery",)),
        ({"terms": "FOB", "terminal": "61", "delivery": "92.50"}, ()),
        ({"terms": "DDP"}, ()),
        ({}, ()),
    ],
)
def test_what_may_be_due_at_home_and_is_not_stated_is_known(
    head: dict[str, str], unstated: tuple[str, ...]
) -> None:
    """No reason to set an offer apart, but one to ask."""
    assert quote_of(abroad(origin="CN", **head), HOME).unstated == unstated
