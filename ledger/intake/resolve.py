"""Matching a shipment's draft with the book: items, packs, rates and charges become a request."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from ledger.book.alias_store import find_aliases
from ledger.book.catalogue_store import (
    find_items,
    find_kinds,
    find_ladders,
    find_packs,
    find_supplier_codes,
)
from ledger.book.receiving import ReceiptLine, ReceiptRequest
from ledger.book.shop import read_shop
from ledger.catalogue.item_sheet import items_from_row
from ledger.catalogue.items import Item, Kind
from ledger.catalogue.packs import Pack, unit_factor
from ledger.catalogue.sizes import Ladder
from ledger.costing.landed import ChargeWish, InvoiceLine
from ledger.errors import InputErrors, Problem, RateUnknown, ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.money import check_amount, convert_minor
from ledger.exact.numbers import show_fraction
from ledger.exact.quantity import MILLI, show_quantity, to_base
from ledger.exact.rounding import round_fraction
from ledger.intake.aliases import Matcher, Unknown, alias_word, unknown_problem
from ledger.intake.charge_words import ChargeWords
from ledger.intake.foreign_rate import UsedRate, used_rate
from ledger.intake.line_units import line_factor
from ledger.intake.shipment import ShipmentDraft, ShipmentLine
from ledger.intake.shipment_codes import PIECE_UNITS, KnownFactor


@dataclass(frozen=True, slots=True, kw_only=True)
class ResolveOptions:
    """What the command line adds to a draft; ``ask`` returns the SKU of a name nobody knows, or nothing.

    Without ``converts`` the amounts stay in the draft's currency, as those of an order do.
    """

    received_on: datetime.date
    rate: str = ""
    charges: tuple[ChargeWords, ...] = ()
    tax_paid: str = ""
    another_box: bool = False
    ask: Callable[[Unknown], str] | None = None
    converts: bool = True


class _Catalogue:
    """The book's items as lines are matched against them, and the items a file brings along."""

    def __init__(
        self, connection: sqlite3.Connection, draft: ShipmentDraft, ask: Callable[[Unknown], str] | None
    ) -> None:
        self._party = draft.party
        self._ask = ask
        self._asked: dict[str, str] = {}
        codes = find_supplier_codes(connection, draft.party) if draft.party else {}
        self.codes = codes
        wanted = {line.sku for line in draft.lines} | set(codes.values())
        self.items = find_items(connection, wanted)
        self.packs = find_packs(connection, wanted)
        self.kinds: Mapping[str, Kind] = find_kinds(connection)
        self.ladders: tuple[Ladder, ...] = find_ladders(connection)
        self.new_items: dict[str, Item] = {}
        self.new_packs: list[Pack] = []
        self._connection = connection

    def find(self, line: ShipmentLine) -> Item | list[Problem]:
        """Return the line's item, known or new, or what is wrong."""
        sku = self.codes.get(line.code, line.sku)
        item = self.items.get(sku) or self.new_items.get(sku)
        if item is not None:
            return item
        sku = self._matcher.certain(line)
        if sku in self._matcher.items:
            return self._take(sku)
        # Only a profile that says what kind its new items are can bring any along.
        if line.new_item.get("kind"):
            return self._add(line)
        return self._unknown(line)

    @cached_property
    def _matcher(self) -> Matcher:
        aliases = find_aliases(self._connection, self._party) if self._party else []
        return Matcher(find_items(self._connection), aliases, self.ladders)

    def _take(self, sku: str) -> Item:
        self.items[sku] = self._matcher.items[sku]
        self.packs.update(find_packs(self._connection, [sku]))
        return self.items[sku]

    def _unknown(self, line: ShipmentLine) -> Item | list[Problem]:
        """Ask what a name means, once for each; without an answer it is a problem."""
        word = alias_word(line)
        is_own = not (line.code or line.style)
        guesses = self._matcher.nearest(line)
        unknown = Unknown(self._party, word, line.where, guesses, is_own, may_be_new=bool(line.size))
        if self._ask is not None and not is_own and word not in self._asked:
            self._asked[word] = self._ask(unknown)
        sku = self._asked.get(word, "")
        return self._take(sku) if sku in self._matcher.items else [unknown_problem(unknown)]

    def _add(self, line: ShipmentLine) -> Item | list[Problem]:
        row = items_from_row({**line.new_item, "sku": line.sku}, kinds=self.kinds, own_ladders=self.ladders)
        if row.problems:
            return [
                Problem(line.where, f"new item {line.sku}, {problem.column}: {problem.what}")
                for problem in row.problems
            ]
        item = row.items[0]
        self.new_items[item.sku] = item
        self.new_packs.extend(row.packs)
        self.packs[item.sku] = list(row.packs)
        return item


def known_factor(connection: sqlite3.Connection) -> KnownFactor:
    """Return what answers how many base units a SKU's unit or pack holds, None where unknown."""
    items = find_items(connection)
    packs = find_packs(connection)

    def factor(sku: str, unit: str) -> Fraction | None:
        item = items.get(sku)
        if item is None:
            return None
        try:
            return unit_factor(unit, item.base_unit, packs.get(sku, ()), item.density_g_per_ml)
        except ValueProblem:
            return None

    return factor


def resolve(connection: sqlite3.Connection, draft: ShipmentDraft, options: ResolveOptions) -> ReceiptRequest:
    """Return what receiving the draft would post.

    Raises InputErrors with every line that names an unknown item, unit or pack, every charge that
    cannot be converted, and a missing or doubtful exchange rate.
    """
    book_currency = read_shop(connection).currency
    problems: list[Problem] = []
    remarks = list(draft.remarks)
    currency = draft.currency or book_currency
    rate = _rate(currency, book_currency, options, draft.invoice_date, problems)
    if rate.remark:
        remarks.append(rate.remark)
    catalogue = _Catalogue(connection, draft, options.ask)
    lines = []
    for line in draft.lines:
        resolved = _resolve_line(line, catalogue, (currency, book_currency), options, problems)
        if resolved is not None:
            lines.append(resolved)
    charges = [
        wish
        for words in (*draft.charges, *options.charges)
        if (
            wish := charge_wish(
                words, [one.item.sku for one in lines], book_currency, (currency, rate), problems
            )
        )
    ]
    discount = draft.invoice_discount * 10 ** exponent(currency)
    if problems:
        raise InputErrors(draft.source_name, problems)
    return ReceiptRequest(
        party=draft.party,
        reference=draft.reference,
        received_on=options.received_on,
        currency=currency,
        rate=rate.text,
        rate_source=rate.source,
        lines=tuple(lines),
        invoice_discount_foreign=round_fraction(discount),
        charges=tuple(charges),
        new_items=tuple(catalogue.new_items.values()),
        new_packs=tuple(catalogue.new_packs),
        another_box=options.another_box,
        source_name=draft.source_name,
        remarks=tuple(remarks),
    )


def _rate(
    currency: str,
    book_currency: str,
    options: ResolveOptions,
    invoice_date: datetime.date | None,
    problems: list[Problem],
) -> UsedRate:
    if not options.converts:
        return UsedRate("1", "")
    try:
        return used_rate(currency, book_currency, options.rate, invoice_date or options.received_on)
    except (ValueProblem, RateUnknown) as problem:
        problems.append(Problem("the exchange rate", str(problem)))
        return UsedRate("1", "")


def _resolve_line(
    line: ShipmentLine,
    catalogue: _Catalogue,
    currencies: tuple[str, str],
    options: ResolveOptions,
    problems: list[Problem],
) -> ReceiptLine | None:
    """Return one line in base units, or add its problems; ``currencies`` are the file's and the book's."""
    currency, book_currency = currencies
    item = catalogue.find(line)
    if isinstance(item, list):
        problems.extend(item)
        return None
    try:
        _check_decimals(line, item, currency)
        factor = line_factor(line, item, catalogue.packs.get(item.sku, ()))
        quantity = to_base(line.quantity, factor)
        _check_line(line, item, quantity)
        invoice = _invoice_line(line, item, quantity, currency)
        duty = None if line.duty is None else round_fraction(line.duty * 10 ** exponent(book_currency))
    except ValueProblem as problem:
        problems.append(Problem(line.where, str(problem)))
        return None
    return ReceiptLine(
        item=item,
        invoice=invoice,
        unit=line.unit or item.base_unit,
        unit_quantity=show_fraction(line.quantity),
        discount_foreign=round_fraction(line.discount * 10 ** exponent(currency)),
        duty_percent=line.duty_percent,
        duty=duty,
        provisional=line.provisional,
        tax_paid=line.tax_paid or options.tax_paid,
        expires_on=line.expires_on,
        supplier_code=line.code,
        place=line.where,
        note=line.note,
    )


def _check_line(line: ShipmentLine, item: Item, quantity: int) -> None:
    if quantity <= 0:
        raise ValueProblem(f"{item.sku}: the quantity comes to nothing in {item.base_unit}.")
    if item.tax_class == "customer's" and line.net:
        raise ValueProblem(f"{item.sku} is a customer's own: it is held at no cost, so it has no price.")


def _check_decimals(line: ShipmentLine, item: Item, currency: str) -> None:
    if (line.net * 10 ** exponent(currency)).denominator != 1:
        raise ValueProblem(
            f"{item.sku}: the amount {show_fraction(line.net)} has more decimals than {currency} has."
        )


def _invoice_line(line: ShipmentLine, item: Item, quantity: int, currency: str) -> InvoiceLine:
    """Return the line as costing takes it; weights and volumes are of its good pieces."""
    lost = {"claimed": 0, "normal": 0, "expense": 0}
    # Of what is measured a bottle is missing, not a millilitre.
    each = 1 if item.base_unit in PIECE_UNITS else Fraction(quantity, MILLI) / line.quantity
    for amount, treatment in ((line.missing, line.missing_as), (line.damaged, line.damaged_as)):
        lost[treatment] += round_fraction(amount * each * MILLI)
    good = quantity - sum(lost.values())
    if good < 0:
        raise ValueProblem(
            f"{item.sku}: {show_quantity(sum(lost.values()))} missing or damaged of {show_quantity(quantity)}."
        )
    weight, volume = item.weight_mg, item.volume_mm3
    return InvoiceLine(
        label=item.sku,
        tax_class=item.tax_class,
        quantity_milli=quantity,
        net_foreign=check_amount(round_fraction(line.net * 10 ** exponent(currency))),
        claimed_milli=lost["claimed"],
        normal_milli=lost["normal"],
        expensed_milli=lost["expense"],
        weight_mg=_measure(line.weight_kg, 10**6, weight, (good, quantity)),
        volume_mm3=_measure(line.volume_m3, 10**9, volume, (good, quantity)),
    )


def _measure(
    of_line: Fraction | None, scale: int, of_unit: int | None, quantities: tuple[int, int]
) -> int | None:
    """Return a line's weight or volume: what the file says of the whole line, else the items' own."""
    good, quantity = quantities
    if of_line is not None:
        return round_fraction(of_line * scale * good / quantity)
    if of_unit is not None:
        return round_fraction(Fraction(of_unit * good, MILLI))
    return None


def charge_wish(
    words: ChargeWords,
    skus: Sequence[str],
    book_currency: str,
    document_rate: tuple[str, UsedRate],
    problems: list[Problem],
) -> ChargeWish | None:
    """Return a typed charge in the book's currency, or add what is wrong with it.

    An amount in the document's currency is converted at the document's rate, once.
    """
    where = words.where or f"charge '{words.kind}'"
    only = tuple(place for place, sku in enumerate(skus) if words.applies_to(sku)) if words.only else None
    if only is not None and not only:
        problems.append(
            Problem(where, f"no line is {' or '.join(words.only)}.", "Check the SKUs after 'on'.")
        )
        return None
    currency, rate = words.currency or book_currency, UsedRate("1", "")
    if currency != book_currency:
        if currency != document_rate[0]:
            problems.append(
                Problem(
                    where,
                    f"the charge is in {currency}, but no rate for {currency} is known here.",
                    f"Type it in {book_currency}, or post it on its own: blankbook charge … --rate.",
                )
            )
            return None
        rate = document_rate[1]

    def in_minor(value: Fraction | None) -> int | None:
        if value is None:
            return None
        return round_fraction(value * 10 ** exponent(currency))

    places = 10 ** exponent(currency)
    if any(
        v is not None and (v * places).denominator != 1 for v in (words.amount, words.minimum, words.maximum)
    ):
        problems.append(Problem(where, f"an amount has more decimals than {currency} has."))
        return None
    foreign, least, most = in_minor(words.amount), in_minor(words.minimum), in_minor(words.maximum)
    if words.lowers_cost and foreign is not None:
        foreign = -foreign

    def converted(minor: int | None) -> int | None:
        return None if minor is None else convert_minor(minor, rate.value, currency, book_currency)

    return ChargeWish(
        kind=words.kind,
        basis=words.basis,
        amount=converted(foreign),
        percent=words.percent,
        minimum=converted(least),
        maximum=converted(most),
        only=only,
        reference=words.reference,
        party=words.party,
        currency=currency,
        amount_foreign=foreign if currency != book_currency else None,
        rate=rate.text,
        rate_source=rate.source,
    )
