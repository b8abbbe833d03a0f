"""Files that no profile knows, and what is proposed for them, as the tests ask."""

from __future__ import annotations

from shipment_files import Value, made_file

from ledger.intake.answers import read_answers
from ledger.intake.nearest import fold
from ledger.intake.profile import Profile
from ledger.intake.proposal import CatalogueWords, Proposal
from ledger.intake.propose import propose_profile
from ledger.intake.read_csv import read_csv
from ledger.intake.read_shipment import ShipmentOptions, read_shipment
from ledger.intake.shipment import ShipmentDraft
from ledger.intake.table import SourceFile

Row = list[Value]
USD = CatalogueWords(currency="USD")


def words(**tables: set[str]) -> CatalogueWords:
    """The words of a catalogue in a book kept in dollars."""
    return CatalogueWords(
        currency="USD", **{name: frozenset(map(fold, each)) for name, each in tables.items()}
    )


def proposed(*rows: Row, known: CatalogueWords = USD, said: tuple[str, ...] = ()) -> Proposal:
    """Propose a profile for a workbook of these rows."""
    return propose_profile(made_file(*rows), known, answers=read_answers(said))


def of_text(text: str, known: CatalogueWords = USD) -> tuple[SourceFile, Proposal]:
    """Propose a profile for a csv of this text."""
    file = read_csv("list.csv", text.encode())
    return file, propose_profile(file, known)


def meanings(proposal: Proposal) -> dict[str, str]:
    """What each column that is read was taken as, by its letters."""
    return {each.letters: each.meaning for each in proposal.columns if each.meaning}


def read(file: SourceFile, profile: Profile) -> ShipmentDraft:
    """Read the whole file by the proposed profile."""
    return read_shipment(file, profile, options=ShipmentOptions(default_currency="USD"))


def subjects(proposal: Proposal) -> list[str]:
    """What is asked about."""
    return [each.subject for each in proposal.questions]


PER_SIZE: list[Row] = [
    ["Style no.", "Color", "Size", "Qty", "Unit price", "Amount"],
    ["T10", "Black", "M", 12, 3.10, 37.20],
    ["T10", "Black", "L", 24, 3.10, 74.40],
    ["T10", "Sand", "M", 6, 3.25, 19.50],
]
GARMENTS: tuple[Row, ...] = (
    ["Style", "Colour", "Size", "Qty", "Price", "Amount"],
    ["OWL", "Black", "S", 12, "3.00", "36.00"],
    ["OWL", "Black", "M", 6, "3.00", "18.00"],
)
