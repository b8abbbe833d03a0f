"""What a quantity counts: the item's own packs, words nobody knows, and no word at all."""

from __future__ import annotations

from fractions import Fraction

import pytest

from ledger.catalogue.packs import read_packs
from ledger.intake.answers import read_answers
from ledger.intake.proposal import CatalogueWords, KnownItem, Proposal
from ledger.intake.propose import propose_profile, sample_draft
from ledger.intake.read_csv import read_csv

HEAD = "Item,Qty,UOM,Price,Amount\n"
PACKS = {
    "INK-7": ("mL", "bottle = 125 mL; case = 750 mL"),
    "VIN-1": ("cm2", "roll = 11.8 in x 5 yd"),
    "TRF-2": ("each", "pack = 25 each; box = 250 each"),
    "PWD-3": ("g", ""),
}
ITEMS = {
    sku.casefold(): KnownItem(sku, base, read_packs(packs, base, sku=sku))
    for sku, (base, packs) in PACKS.items()
}
BOOK = CatalogueWords(
    skus=frozenset(ITEMS),
    packs=frozenset(pack.name for item in ITEMS.values() for pack in item.packs),
    items=ITEMS,
    currency="USD",
)


def proposed(rows: str, *said: str, head: str = HEAD) -> Proposal:
    """Propose a profile for a csv of these rows in a book of inks, vinyl and transfers."""
    return propose_profile(read_csv("made.csv", (head + rows).encode()), BOOK, answers=read_answers(said))


def answers(proposal: Proposal) -> list[str]:
    """Return every answer that is offered."""
    return [answer for question in proposal.questions for answer in question.answers]


@pytest.mark.parametrize("word", ["bottle", "Bottles", "CASE", "mL"])
def test_a_pack_of_the_item_is_simply_read(word: str) -> None:
    """In singular or plural and in any case, like a unit."""
    assert proposed(f"INK-7,6,{word},18.00,108.00\n").questions == ()


def test_a_word_nobody_knows_is_asked_with_the_items_packs() -> None:
    """The likest first, then one piece; no content that is nobody's."""
    found = proposed("TRF-2,2,pk,30.00,60.00\n")
    assert answers(found) == ["pack pk = pack", "pack pk = box", "pack pk = each"]


def test_an_answer_about_a_word_is_understood_and_settles_it() -> None:
    """Whatever is offered can be typed as it stands."""
    for answer in answers(proposed("TRF-2,2,pk,30.00,60.00\n")):
        assert proposed("TRF-2,2,pk,30.00,60.00\n", answer).questions == ()


def test_a_size_in_the_units_column_is_offered_as_the_content() -> None:
    """'500 g' may be one bag of them, or what there is in all: it is asked, not taken."""
    found = proposed("PWD-3,2,500 g,30.00,60.00\n")
    assert answers(found) == ["pack 500 g = 500 g"]


def test_no_unit_of_what_is_measured_is_asked() -> None:
    """Six bottles are not six millilitres."""
    found = proposed("INK-7,6,18.00,108.00\nTRF-2,2,30.00,60.00\n", head="Item,Qty,Price,Amount\n")
    assert [question.subject for question in found.questions] == ["unit of INK-7"]
    assert answers(found) == ["unit of INK-7 = bottle", "unit of INK-7 = case"]


@pytest.mark.parametrize("word", ["Stück", "Stk.", "pièces", "piezas", "pezzi", "stuks"])
def test_other_languages_words_for_one_piece_are_each(word: str) -> None:
    """Nothing has to be asked about what is counted."""
    assert proposed(f"TRF-2,50,{word},1.20,60.00\n").questions == ()


def test_no_content_is_offered_that_is_not_the_items() -> None:
    """A powder without packs has no example to take by mistake."""
    found = proposed("PWD-3,2,tubs,30.00,60.00\n")
    assert answers(found) == []
    assert "pack tubs = HOW-MANY g" in found.questions[0].text


def test_each_of_what_is_measured_is_asked() -> None:
    """One what?"""
    found = proposed("VIN-1,4,EA,22.00,88.00\nTRF-2,2,EA,30.00,60.00\n")
    assert answers(found) == ["unit of VIN-1 = roll"]


@pytest.mark.parametrize(
    ("said", "factor"),
    [("unit of INK-7 = bottle", 125), ("unit of INK-7 = 250 mL", 250), ('unit of "ink-7" = case', 750)],
)
@pytest.mark.parametrize("word", ["", "EA"])
def test_what_an_item_comes_in_is_said_once(said: str, factor: int, word: str) -> None:
    """The profile keeps it, and the first lines are read by it."""
    rows = f"INK-7,6,{word},18.00,108.00\nTRF-2,2,,30.00,60.00\n"
    found = proposed(rows, said)
    draft = sample_draft(read_csv("made.csv", (HEAD + rows).encode()), found, BOOK)
    assert found.questions == ()
    known = draft.lines[0].pack_factor or ITEMS["ink-7"].content(draft.lines[0].unit)
    assert (known, draft.lines[1].unit) == (Fraction(factor), "")


def test_a_files_own_unit_comes_before_what_was_said_of_the_item() -> None:
    """A later invoice may count cases where this one counts bottles."""
    rows = "INK-7,6,case,18.00,108.00\n"
    found = proposed(rows, "unit of INK-7 = bottle")
    draft = sample_draft(read_csv("made.csv", (HEAD + rows).encode()), found, BOOK)
    assert draft.lines[0].unit == "case"


def test_a_unit_for_every_row_is_said_once() -> None:
    """Where the file counts dozens throughout."""
    found = proposed("TRF-2,2,30.00,60.00\n", "unit dozen", head="Item,Qty,Price,Amount\n")
    assert found.profile.default_unit == "dozen"


@pytest.mark.parametrize(
    ("price", "amount", "per"),
    [("12.00", "50.00", "dozen"), ("2.00", "100.00", "piece"), ("25.00", "50.00", "unit")],
)
def test_what_a_price_is_for_is_found_by_the_items_packs(price: str, amount: str, per: str) -> None:
    """Two packs of 25 are fifty pieces."""
    rows = f"TRF-2,2,packs,{price},{amount}\nTRF-2,4,packs,{price},{float(amount) * 2:.2f}\n"
    assert proposed(rows).profile.price_per == per
