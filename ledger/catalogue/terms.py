"""Delivery terms: who pays for which part of the way, and where the risk passes to the buyer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from ledger.catalogue._words import fold, quoted, suggestion
from ledger.errors import ValueProblem

SELLERS_WORKS = "seller's works"
HANDED_TO_CARRIER = "handed to carrier"
ON_BOARD = "on board"
AT_DESTINATION = "at destination"
RISK_POINTS = (SELLERS_WORKS, HANDED_TO_CARRIER, ON_BOARD, AT_DESTINATION)
"""The points of a journey at which the risk can pass to the buyer, in the order they are reached."""

INLAND = "inland and export"
MAIN_CARRIAGE = "main carriage"
DESTINATION_HANDLING = "destination handling"
IMPORT_CLEARANCE = "import clearance"
DUTY = "duty and entry fees"
COSTS = (INLAND, MAIN_CARRIAGE, DESTINATION_HANDLING, IMPORT_CLEARANCE, DUTY)
"""The parts of the way that one side or the other pays for, in the order of the journey."""

SELLER = "seller"
CHOICE = "choice"
NOT_NEEDED = "not needed"


@dataclass(frozen=True)
class DeliveryTerms:
    """What one delivery rule says.

    ``buyer_pays`` are those of COSTS that the buyer bears beyond the price. ``insurance`` is SELLER,
    CHOICE (the buyer's, if wanted) or NOT_NEEDED (the risk is the seller's all the way).
    ``risk_passes`` is one of RISK_POINTS; ``place`` says which place the rule is named with.
    """

    code: str
    name: str
    buyer_pays: frozenset[str]
    insurance: str
    risk_passes: str
    place: str
    is_sea_only: bool = False
    is_domestic: bool = False

    @property
    def is_risk_passed_when_shipped(self) -> bool:
        """Whether goods under way are at the buyer's risk, from the works, the carrier or the ship on."""
        return self.risk_passes != AT_DESTINATION


def _from(cost: str) -> frozenset[str]:
    """Return that part of the way and all that come after it."""
    return frozenset(COSTS[COSTS.index(cost) :])


# Source: ICC, Incoterms 2020, articles A2, A3, A5, A9 and B9 of each rule; from memory.
# Under FAS the risk passes alongside the ship, which is where the carrier takes the goods over.
_RULES = (
    DeliveryTerms("EXW", "ex works", _from(INLAND), CHOICE, SELLERS_WORKS, "the seller's premises"),
    DeliveryTerms(
        "FCA", "free carrier", _from(MAIN_CARRIAGE), CHOICE, HANDED_TO_CARRIER, "where the carrier takes over"
    ),
    DeliveryTerms(
        "FAS",
        "free alongside ship",
        _from(MAIN_CARRIAGE),
        CHOICE,
        HANDED_TO_CARRIER,
        "port of shipment",
        is_sea_only=True,
    ),
    DeliveryTerms(
        "FOB",
        "free on board",
        _from(MAIN_CARRIAGE),
        CHOICE,
        ON_BOARD,
        "port of shipment",
        is_sea_only=True,
    ),
    DeliveryTerms(
        "CFR",
        "cost and freight",
        _from(DESTINATION_HANDLING),
        CHOICE,
        ON_BOARD,
        "port of destination",
        is_sea_only=True,
    ),
    DeliveryTerms(
        "CIF",
        "cost, insurance and freight",
        _from(DESTINATION_HANDLING),
        SELLER,
        ON_BOARD,
        "port of destination",
        is_sea_only=True,
    ),
    DeliveryTerms(
        "CPT", "carriage paid to", _from(DESTINATION_HANDLING), CHOICE, HANDED_TO_CARRIER, "destination"
    ),
    DeliveryTerms(
        "CIP",
        "carriage and insurance paid to",
        _from(DESTINATION_HANDLING),
        SELLER,
        HANDED_TO_CARRIER,
        "destination",
    ),
    DeliveryTerms(
        "DAP", "delivered at place", _from(IMPORT_CLEARANCE), NOT_NEEDED, AT_DESTINATION, "destination"
    ),
    DeliveryTerms(
        "DPU",
        "delivered at place unloaded",
        _from(IMPORT_CLEARANCE),
        NOT_NEEDED,
        AT_DESTINATION,
        "destination",
    ),
    DeliveryTerms("DDP", "delivered duty paid", frozenset(), NOT_NEEDED, AT_DESTINATION, "destination"),
    # Within one country; source: Uniform Commercial Code 2-319 (1)(a) and (b), from memory.
    DeliveryTerms(
        "shipping point",
        "free on board at the shipping point",
        frozenset({MAIN_CARRIAGE, DESTINATION_HANDLING}),
        CHOICE,
        HANDED_TO_CARRIER,
        "where it is shipped from",
        is_domestic=True,
    ),
    DeliveryTerms(
        "destination",
        "free on board at the destination",
        frozenset(),
        NOT_NEEDED,
        AT_DESTINATION,
        "where it is delivered",
        is_domestic=True,
    ),
)

TERMS: Mapping[str, DeliveryTerms] = MappingProxyType({rule.code: rule for rule in _RULES})
"""Every rule by its code: the eleven of Incoterms 2020, and two for trade within one country."""

INCOTERMS = tuple(rule.code for rule in _RULES if not rule.is_domestic)

_ALIASES = {
    **{fold(rule.code): rule.code for rule in _RULES},
    **{fold(rule.name): rule.code for rule in _RULES if not rule.is_domestic},
    "fob shipping point": "shipping point",
    "fob origin": "shipping point",
    "free on board shipping point": "shipping point",
    "fob destination": "destination",
    "free on board destination": "destination",
    "delivered": "destination",
}


def read_terms(text: str) -> DeliveryTerms:
    """Return the rule that the text names, with or without the place behind its code.

    >>> read_terms("fob").code, read_terms("FOB destination").code, read_terms("CIF Tacoma").code
    ('FOB', 'destination', 'CIF')

    Raises ValueProblem for a rule of older editions or no rule at all, naming those there are.
    """
    word = fold(text.replace(",", " ").replace("2020", " "))
    code = _ALIASES.get(_rule_words(word))
    if code is None:
        hint = (
            " It was replaced by DPU in 2020."
            if word.split(" ", 1)[0] == "dat"
            else suggestion(text, [*TERMS, "FOB shipping point", "FOB destination"])
        )
        raise ValueProblem(
            f"{quoted(text)} names no delivery terms: use {', '.join(INCOTERMS)} (Incoterms 2020), or "
            f"'shipping point' or 'destination' within one country.{hint}"
        )
    return TERMS[code]


def place_named(text: str) -> str:
    """Return what stands behind the rule, as it was written; empty for the rule alone.

    >>> place_named("FOB Port Rellan"), place_named("FOB destination, Tacoma"), place_named("destination")
    ('Port Rellan', 'Tacoma', '')
    """
    words = text.replace(",", " ").split()
    folded = [fold(word) for word in words]
    for count in range(len(words), 0, -1):
        if " ".join(folded[:count]) in _ALIASES:
            return " ".join(words[count:])
    return ""


def _rule_words(word: str) -> str:
    """Return the longest beginning of folded words that names a rule; all of them where none does."""
    parts = word.split()
    for count in range(len(parts), 0, -1):
        if " ".join(parts[:count]) in _ALIASES:
            return " ".join(parts[:count])
    return word
