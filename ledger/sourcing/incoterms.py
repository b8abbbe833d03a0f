"""Which parts of a landed cost a buyer still pays under an offer's delivery terms."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.catalogue.terms import (
    DESTINATION_HANDLING,
    DUTY,
    IMPORT_CLEARANCE,
    INCOTERMS,
    INLAND,
    MAIN_CARRIAGE,
    SELLER,
    TERMS,
)


def is_of_foreign_trade(terms: str) -> bool:
    """Return whether a code of ``catalogue.terms`` is one of Incoterms, not of trade within one country.

    >>> is_of_foreign_trade("FOB"), is_of_foreign_trade("shipping point"), is_of_foreign_trade("")
    (True, False, False)
    """
    return terms in INCOTERMS


@dataclass(frozen=True)
class BuyerPays:
    """Yes or no for each part of a landed cost beyond the price."""

    inland: bool = True
    freight: bool = True
    insurance: bool = True
    terminal: bool = True
    delivery: bool = True
    clearance: bool = True
    duty: bool = True


def buyer_pays(terms: str, *, is_foreign: bool) -> BuyerPays:
    """Return what the buyer pays beyond the price under a code of ``catalogue.terms``.

    Terms that are not stated leave everything the offer lists to the buyer. Nothing is cleared or
    dutiable where no border is crossed. Delivery from the port or terminal is the seller's only under
    the terms that deliver at the destination.

    >>> pays = buyer_pays("CIF", is_foreign=True)
    >>> pays.freight, pays.insurance, pays.terminal, pays.duty
    (False, False, True, True)

    Raises KeyError for a code the table does not have: read it with ``read_terms`` first.
    """
    if not terms:
        return BuyerPays(clearance=is_foreign, duty=is_foreign)
    rule = TERMS[terms]
    handles = DESTINATION_HANDLING in rule.buyer_pays
    return BuyerPays(
        inland=INLAND in rule.buyer_pays,
        freight=MAIN_CARRIAGE in rule.buyer_pays,
        insurance=rule.insurance != SELLER and rule.is_risk_passed_when_shipped,
        terminal=handles,
        delivery=handles,
        clearance=is_foreign and IMPORT_CLEARANCE in rule.buyer_pays,
        duty=is_foreign and DUTY in rule.buyer_pays,
    )
