"""Reading a supplier's file by a profile: the one named, the fill-in sheet's, a saved or a proposed one."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, replace

import typer

from ledger.book.receiving import ReceiptRequest
from ledger.book.shop import read_shop
from ledger.cli.ask_item import AskItem
from ledger.cli.common import is_asking, today
from ledger.cli.layout_choice import ChosenProfile, ProposedOptions
from ledger.cli.receive_proposed import is_fill_in, profile_for, with_new_blanks
from ledger.cli.source_file import Source
from ledger.cli.waiting import working
from ledger.errors import UsageError
from ledger.exact.currencies import read_currency
from ledger.intake.charge_words import ChargeWords
from ledger.intake.profile import find_profile, load_profile
from ledger.intake.read_shipment import ShipmentOptions, read_shipment
from ledger.intake.resolve import ResolveOptions, known_factor, resolve
from ledger.intake.saved_profiles import with_party_codes
from ledger.intake.shipment import ShipmentDraft

FILL_IN_PROFILE = "fill-in-shipment"


def profile_of_file(
    context: typer.Context,
    connection: sqlite3.Connection,
    source: Source,
    named: str | None,
    layout: ProposedOptions,
) -> ChosenProfile | None:
    """Return the profile to read the file by, None where a proposal was only to be shown."""
    if layout.save and not layout.propose:
        raise UsageError("--save goes with --propose: what is accepted is saved beside the book.")
    if named:
        if layout.has_any:
            raise UsageError("--profile names how the file is read: leave out what corrects a proposal.")
        return ChosenProfile(load_profile(find_profile(named)))
    fill_in = load_profile(find_profile(FILL_IN_PROFILE))
    if not layout.has_any and is_fill_in(source.read(), fill_in):
        return ChosenProfile(fill_in)
    return profile_for(context, connection, source.read(), layout)


def draft_of_file(
    connection: sqlite3.Connection,
    source: Source,
    chosen: ChosenProfile,
    reference: str,
    layout: ProposedOptions,
    habits: ShipmentOptions,
) -> ShipmentDraft:
    """Return the shipment that a file holds, read by the chosen profile with the party's codes."""
    profile = chosen.profile
    party = layout.party or profile.party
    currency = layout.currency or chosen.currency
    return read_shipment(
        source.read(),
        with_party_codes(connection, profile, party) if party else profile,
        party=layout.party,
        reference=reference,
        invoice_date=chosen.date,
        currency=read_currency(currency) if currency else "",
        options=habits,
    )


@dataclass
class ReadShipment:
    """A file's lines matched with the book, amounts in its own currency; its charges are apart.

    ``is_posted`` is set by whoever posts it: a proposed profile is saved then.
    """

    draft: ShipmentDraft
    request: ReceiptRequest
    charges: tuple[ChargeWords, ...]
    remarks: tuple[str, ...]
    is_posted: bool = False


@dataclass(frozen=True)
class FileOptions:
    """How a file is read: its profile or what corrects a proposal, and what is told beside it."""

    source: Source
    profile: str | None
    layout: ProposedOptions
    reference: str = ""
    add_items: bool = False
    missing_as: str = "claimed"
    damaged_as: str = "claimed"


@contextlib.contextmanager
def read_for_order(
    context: typer.Context, connection: sqlite3.Connection, options: FileOptions
) -> Iterator[ReadShipment]:
    """Read a file as an order's lines for the block, in its own currency; save a proposal once it is posted."""
    layout = options.layout
    with working(f"Reading {options.source.name}"):
        options.source.read()
    chosen = profile_of_file(context, connection, options.source, options.profile, layout)
    if chosen is None:
        raise UsageError("--propose goes with receive: blankbook receive FILE --propose")
    read = None
    try:
        chosen = _in_the_orders_currency(chosen, layout.order_currency)
        if options.add_items:
            chosen = replace(chosen, profile=with_new_blanks(chosen.profile))
        habits = ShipmentOptions(
            missing_as=options.missing_as,
            damaged_as=options.damaged_as,
            default_currency=layout.currency or layout.order_currency or read_shop(connection).currency,
            known_factor=known_factor(connection),
        )
        draft = draft_of_file(connection, options.source, chosen, options.reference, layout, habits)
        read = _resolved(connection, draft, layout)
        yield read
    finally:
        chosen.settle(is_posted=read is not None and read.is_posted)


def _in_the_orders_currency(chosen: ChosenProfile, currency: str) -> ChosenProfile:
    """Return a profile of earlier files with the order's currency: that they had another says nothing here.

    What this file names itself comes first, and was read already where the profile is made from it.
    """
    is_of_this_file = chosen.path is not None and not chosen.is_correction
    if not currency or is_of_this_file or not chosen.profile.currency:
        return chosen
    return replace(chosen, profile=replace(chosen.profile, currency=currency))


def _resolved(connection: sqlite3.Connection, draft: ShipmentDraft, layout: ProposedOptions) -> ReadShipment:
    ask = AskItem(connection, teach=not layout.dry_run) if is_asking() and not layout.yes else None
    received_on = draft.invoice_date or today()
    request = resolve(
        connection,
        replace(draft, charges=()),
        ResolveOptions(received_on=received_on, ask=ask, converts=False),
    )
    remarks = list(request.remarks)
    if any(line.duty is not None or line.duty_percent is not None for line in draft.lines):
        remarks.append(
            'The duty of its lines is not read here: give it with --charge "duty 120.00 by value".'
        )
    return ReadShipment(draft, request, draft.charges, tuple(remarks))
