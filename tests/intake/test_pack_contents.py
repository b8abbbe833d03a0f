"""A column that says what one bottle or roll holds."""

from __future__ import annotations

from fractions import Fraction

import pytest

from ledger.catalogue.items import Item
from ledger.catalogue.packs import read_packs
from ledger.errors import InputErrors, ValueProblem
from ledger.intake.answers import read_answers
from ledger.intake.line_units import line_factor
from ledger.intake.proposal import CatalogueWords, Proposal
from ledger.intake.propose import propose_profile
from ledger.intake.read_csv import read_csv
from ledger.intake.read_shipment import read_shipment
from ledger.intake.shipment import ShipmentLine
from ledger.intake.table import SourceFile

HEAD = "Art.nr,Qty,Unit,Inhoud,Price,Amount\n"


def file_of(rows: str, head: str = HEAD) -> SourceFile:
    """Return a csv of these rows."""
    return read_csv("made.csv", (head + rows).encode())


def proposed(rows: str, *said: str, head: str = HEAD) -> Proposal:
    """Propose for a csv of these rows in a new book."""
    return propose_profile(file_of(rows, head), CatalogueWords(currency="EUR"), answers=read_answers(said))


def lines(rows: str, *said: str, head: str = HEAD) -> tuple[ShipmentLine, ...]:
    """Return the lines as they are proposed."""
    profile = proposed(rows, *said, head=head).profile
    return read_shipment(file_of(rows, head), profile, currency="EUR").lines


@pytest.mark.parametrize("heading", ["Inhoud", "Contents", "Content", "Inhalt", "Pack size"])
def test_what_one_holds_is_read(heading: str) -> None:
    """So no unit has to be asked; a pack of ink is as large as its row says."""
    head, rows = HEAD.replace("Inhoud", heading), "INK,3,bottle,500 ml,2,6\nVIN,2,roll,10 m,5,10\n"
    if heading == "Pack size":
        head = f"{head.strip()},Note\n"
        rows = "INK,3,bottle,500 ml,2,6,a\nVIN,2,roll,10 m,5,10,b\n"
        found = lines(rows, "C=unit", head=head)
    else:
        assert proposed(rows, head=head).questions == ()
        found = lines(rows, head=head)
    assert [(line.pack_factor, line.pack_base_unit) for line in found] == [(500, "mL"), (1000, "cm")]


def test_a_content_in_words_nobody_knows_is_asked() -> None:
    """And the answer settles it."""
    rows = "INK,3,bottle,500 ml,2,6\nPAP,2,pak,100 vel,5,10\n"
    question = next(each for each in proposed(rows).questions if each.subject == "content 100 vel")
    assert "pack 100 vel = 100 sheets" in question.answers
    assert proposed(rows, "pack 100 vel = 100 sheets").questions == ()
    assert lines(rows, "pack 100 vel = 100 sheets")[1].pack_factor == 100


def test_of_many_contents_nobody_knows_the_first_four_are_asked() -> None:
    """Answers to these make the next visible; a screen of questions is read by nobody."""
    rows = "INK,3,bottle,500 ml,2,6\n" + "".join(
        f"P{number},2,pak,{number} vel,5,10\n" for number in range(1, 7)
    )
    asked = [each.subject for each in proposed(rows).questions if each.subject.startswith("content ")]
    assert asked == ["content 1 vel", "content 2 vel", "content 3 vel", "content 4 vel"]


def test_a_content_that_contradicts_the_unit_is_refused() -> None:
    """A dozen is twelve."""
    with pytest.raises(InputErrors, match="'72'"):
        lines("A1,3,dozen,12,2,6\nB2,2,dozen,72,5,10\n")


def test_packs_or_pieces_is_asked_without_a_unit() -> None:
    """144 of a pack of 72 are two packs or 144."""
    head, rows = "Art.nr,Qty,Contents,Price,Amount\n", "A1,3,72 each,2,6\nB2,2,36 each,5,10\n"
    assert proposed(rows, head=head).asks("unit of the contents")
    assert proposed(rows, "ignore C", head=head).questions == ()
    found = lines(rows, "unit pack", head=head)
    assert [line.pack_factor for line in found] == [72, 36]


@pytest.mark.parametrize(
    ("packs", "is_sound"), [("bottle = 500 mL", True), ("bottle = 1 l", False), ("", True)]
)
def test_an_items_own_pack_must_hold_the_same(packs: str, is_sound: bool) -> None:  # noqa: FBT001
    """A bottle of another size is never booked as the old one."""
    line = lines("INK,3,bottle,500 ml,2,6\n", "D=content")[0]
    item = Item(sku="INK", name="Ink", kind="ink", base_unit="mL", tax_class="supply")
    own = read_packs(packs, "mL")
    if is_sound:
        assert line_factor(line, item, own) == Fraction(500)
        return
    with pytest.raises(ValueProblem, match="holds 500 ml"):
        line_factor(line, item, own)
