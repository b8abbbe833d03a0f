"""Charges that come with a shipment or its arrival, spread over lines that are just being posted."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ledger.book.catalogue_store import ensure_party
from ledger.book.charging import ChargeTarget, against_policies, charge_document
from ledger.book.documents import NewDocument
from ledger.book.shop import Shop, read_policies
from ledger.costing.landed import ChargeSpread, ChargeWish, check_charges, spread_charge
from ledger.errors import InputErrors

Wishes = Callable[[Sequence[str]], Sequence[ChargeWish]]
"""Returns the charges asked for on lines of these SKUs, in this order; raises InputErrors."""


def no_wishes(_: Sequence[str]) -> Sequence[ChargeWish]:
    """Return no charges."""
    return ()


@dataclass(frozen=True, slots=True)
class Charged:
    """The documents of charges, and how each was spread over the lines."""

    documents: tuple[NewDocument, ...]
    spreads: tuple[ChargeSpread, ...]


def charge_lines(
    connection: sqlite3.Connection,
    shop: Shop,
    wishes: Sequence[ChargeWish],
    targets: Sequence[ChargeTarget],
    posting: tuple[datetime.date, str, int],
) -> Charged:
    """Return charges as documents on lines that are posted with them, inside the caller's transaction.

    Args:
        connection: the book.
        shop: whose book it is.
        wishes: the charges.
        targets: the lines, of documents that are about to be posted.
        posting: the bills' date, the moment of recording, and the first charge's document number.

    Raises InputErrors where a basis is missing or a policy keeps a charge out.
    """
    on, now, number = posting
    lines, costs = [target.invoice for target in targets], [target.cost for target in targets]
    problems = against_policies(read_policies(connection), wishes) + check_charges(wishes, lines, costs)
    if problems:
        raise InputErrors("the charges", problems)
    spreads = tuple(spread_charge(wish, lines, costs) for wish in wishes)
    documents = tuple(
        charge_document(
            number=number + place,
            on=on,
            now=now,
            party=ensure_party(connection, charge.wish.party, "other") if charge.wish.party else None,
            charge=charge,
            targets=targets,
            book_currency=shop.currency,
        )
        for place, charge in enumerate(spreads)
    )
    return Charged(documents, spreads)
