"""Proposing a profile for a file that no profile knows: what it probably means, and what must be asked."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from ledger.errors import InputErrors, Problem
from ledger.intake.nearest import fold
from ledger.intake.profile import Profile
from ledger.intake.proposal import Answers, CatalogueWords, Decision, Proposal, Question
from ledger.intake.propose_around import find_foot
from ledger.intake.propose_cartons import is_of_packing
from ledger.intake.propose_columns import Columns
from ledger.intake.propose_content import unit_of_content
from ledger.intake.propose_habits import as_date_order, currency_habit, date_habit, decimal_habit
from ledger.intake.propose_head import Around, find_head
from ledger.intake.propose_losses import decide_losses
from ledger.intake.propose_prices import decide_columns, quantity_unit
from ledger.intake.propose_sku import decide_sku
from ledger.intake.propose_table import FoundTable, find_table
from ledger.intake.propose_units import unit_questions
from ledger.intake.propose_unread import left_out, unread_questions
from ledger.intake.read_shipment import ShipmentOptions, read_shipment
from ledger.intake.records import normal_heading
from ledger.intake.shipment import ShipmentDraft
from ledger.intake.table import Cell, SourceFile, column_letters
from ledger.intake.unread import is_currency_heading

SHOWN_LINES = 3
NEW_BLANK = {"kind": "blank", "unit": "each"}
"""What a SKU becomes that a book without any item does not know, where the file has sizes."""


def propose_profile(
    file: SourceFile,
    words: CatalogueWords | None = None,
    *,
    party: str = "",
    answers: Answers | None = None,
) -> Proposal:
    """Return how the file would be read, each decision with its reason, and what has to be asked.

    Arguments:
        file: the file as a reader hands it on.
        words: what the book's catalogue calls things; without them the file speaks alone.
        party: whose layout it is.
        answers: what a person said; it comes before what the file tells.

    Raises InputErrors where no sheet holds a table with headings.
    """
    known, told = words or CatalogueWords(), answers or Answers()
    table = find_table(file, told, known)
    if table is None:
        raise InputErrors(file.name, [_no_table(file, told)])
    sign = decimal_habit(_cells_below(table), told=told.decimal_comma)
    columns = decide_columns(table, known, told, decimal_comma=sign.value == "comma")
    if sign.question is not None:
        comma = decide_columns(table, known, told, decimal_comma=True)
        if (comma.product is None) != (columns.product is None):
            columns = comma if comma.product is not None else columns
            word = "comma" if columns is comma else "point"
            why = "only so quantity x price makes the amount"
            sign = replace(sign, value=word, decision=Decision("decimal sign", word, 90, why), question=None)
    # Which numbers a column holds is known once the decimal sign is.
    unread = unread_questions(columns) if sign.question is None else []
    is_price_open = any(each.subject == "unit price" for each in (*unread, *columns.questions))
    around = Around(is_price_open=is_price_open)
    find_head(columns, told, around)
    find_foot(columns, told, around)
    order = date_habit(_texts(table), _dates_read(columns, around), told.date_order)
    label = around.head_values.get("currency")
    currency = currency_habit(
        _money_texts(columns, set(around.line_indexes)),
        told.currency,
        "" if label is None else label.text,
        known.currency,
        known.currency_of,
    )
    sku_pattern, sku_decision, sku_questions = decide_sku(columns, told)
    profile = _profile(columns, around, told, sku_pattern, known)
    losses = decide_losses(columns, told, profile.default_unit)
    profile = replace(
        profile,
        losses_in=losses.counted_in,
        name=f"{party or file.name}, as proposed",
        party=party,
        currency=currency.value,
        decimal_comma=sign.value == "comma",
        date_order=as_date_order(order),
        sheet=table.sheet.name if _must_name_sheet(file, table) else "",
    )
    habits = [each for each in (sign, order, currency) if each.question is not None]
    questions = [
        *table.questions,
        *(each.question for each in habits if each.question),
        *columns.questions,
        *sku_questions,
        *_missing(columns),
        *unread,
        *unit_questions(columns, told, known, default_unit=profile.default_unit),
        *losses.questions,
        *unit_of_content(columns, profile.default_unit),
        *around.questions,
    ]
    return Proposal(
        profile=profile,
        sheet=table.sheet,
        header_index=table.header_index,
        line_indexes=tuple(around.line_indexes),
        columns=tuple(columns.taken[place] for place in sorted(columns.taken)),
        decisions=(
            *table.decisions,
            *_lines_decision(table, around),
            *around.decisions,
            sign.decision,
            order.decision,
            currency.decision,
            *_price_decision(columns),
            *losses.decisions,
            sku_decision,
        ),
        questions=tuple(questions),
    )


def _no_table(file: SourceFile, told: Answers) -> Problem:
    if not file.sheets:
        return Problem("", "the file holds no table.", "Check that it is the right file.")
    if told.header_row is not None:
        return Problem(
            f"row {told.header_row}", "there are no headings in this row.", "Give another header row."
        )
    return Problem(
        "",
        "no row looks like the headings of a table: quantity, price, style and so on.",
        'Give the columns headings, or say which row they are in: --as "header row 5".',
    )


def _must_name_sheet(file: SourceFile, table: FoundTable) -> bool:
    return table.sheet.has_addresses and bool(file.sheets) and table.sheet is not file.sheets[0]


def _cells_below(table: FoundTable) -> Iterable[Cell]:
    return (cell for index in table.below for cell in table.sheet.rows[index])


def _texts(table: FoundTable) -> list[str]:
    """Return the texts of the sheet in which a date may stand."""
    return [
        cell.text
        for row in table.sheet.rows
        for cell in row
        if isinstance(cell.value, str) and any(char.isdigit() for char in cell.text)
    ]


def _dates_read(columns: Columns, around: Around) -> list[str]:
    """Return the texts that will be read as dates."""
    texts = [around.head_values["date"].text] if "date" in around.head_values else []
    if (place := columns.place_of("expires_on")) is not None:
        cells = columns.table.column(place, around.line_indexes)
        texts += [cell.text for cell in cells if cell is not None and isinstance(cell.value, str)]
    return texts


def _money_texts(columns: Columns, lines: set[int]) -> list[str]:
    """Return the texts in which a currency may stand: the headings, the head, prices, and the foot."""
    table = columns.table
    texts = [heading for heading in table.headings if heading]
    texts += [cell.text for row in table.sheet.rows[: table.header_index] for cell in row]
    texts += [cell.text for index in table.below if index not in lines for cell in table.sheet.rows[index]]
    places = [columns.place_of(name) for name in ("unit_price", "line_total")]
    for place in (place for place in places if place is not None):
        # In the heading of a price or an amount a code is the currency, whatever stands around it.
        texts += re.findall(r"\b[A-Z]{3}\b", table.headings[place])
        texts += [cell.text for cell in table.column(place, table.below) if cell is not None]
    for place, heading in enumerate(table.headings):
        if is_currency_heading(heading):
            texts += [cell.text.upper() for cell in table.column(place, table.below) if cell is not None]
            if place in columns.taken:
                columns.settled.add(place)
    return texts


def _lines_decision(table: FoundTable, around: Around) -> list[Decision]:
    numbers = [table.sheet.row_numbers[index] for index in around.line_indexes]
    if not numbers:
        return []
    count = f"{len(numbers)} {'line' if len(numbers) == 1 else 'lines'}, rows {numbers[0]} to {numbers[-1]}"
    return [Decision("lines", count, 90, "they name an item and a quantity")]


def _price_decision(columns: Columns) -> list[Decision]:
    if columns.place_of("unit_price") is None:
        if columns.place_of("line_total") is not None:
            return [Decision("prices", "line totals only", 90, "no column holds a price for one")]
        return [
            Decision("prices", "none", 80, "no column holds prices: lines come in at the latest known cost")
        ]
    word = {"unit": "for one of the row's unit", "piece": "for one piece"}.get(
        columns.price_per, f"per {columns.price_per}"
    )
    is_found = bool(columns.price_why)
    return [Decision("prices", word, 95 if is_found else 70, columns.price_why or "nothing says otherwise")]


def _missing(columns: Columns) -> list[Question]:
    if columns.place_of("quantity") is not None or columns.across() or columns.carton_pieces is not None:
        return []
    if any(question.subject == "quantity" for question in columns.questions):
        return []
    letters = [
        column_letters(place)
        for place, facts in columns.facts.items()
        if facts.are_counts
        and not columns.taken[place].meaning
        and not is_of_packing(columns.table.headings[place])
    ]
    answers = tuple(f"{letter}=quantity" for letter in letters[:4])
    return [Question("quantity", "No column is surely the quantity.", answers)]


def _profile(
    columns: Columns, around: Around, told: Answers, sku_pattern: str, known: CatalogueWords
) -> Profile:
    table = columns.table
    headings = [normal_heading(heading) for heading in table.headings]
    read: dict[str, tuple[str, ...]] = {}
    for place, each in sorted(columns.taken.items()):
        if not each.meaning or each.meaning.startswith("size "):
            continue
        heading = each.heading.strip()
        is_its_own = heading and headings.count(normal_heading(heading)) == 1
        read[each.meaning] = (heading if is_its_own else f"column {column_letters(place)}",)
    quantity = columns.place_of("quantity")
    quantity = columns.place_of("per_carton") if quantity is None else quantity
    counted = "" if "unit" in read or quantity is None else quantity_unit(table.headings[quantity])
    is_new_book = not known.skus and (bool(columns.across()) or "size" in read or "variant" in read)
    return Profile(
        name="",
        columns=read,
        header_row=told.header_row,
        heading_rows=table.heading_rows,
        percent_as=_percent_habit(columns),
        sizes_across=tuple(table.headings[place].strip() for place in columns.across()),
        price_per=columns.price_per,
        default_unit=told.default_unit or counted,
        units_by_item=dict(told.units),
        packs=dict(told.packs),
        sku_pattern=sku_pattern,
        new_item=dict(NEW_BLANK) if is_new_book else {},
        head=dict(around.head),
        foot=dict(around.foot),
        not_read=left_out(columns),
    )


def _percent_habit(columns: Columns) -> str:
    """Return whether a discount of 10% is the number 10 or, in a cell formatted as percent, 0.1."""
    place = columns.place_of("discount_percent")
    if place is None:
        return "points"
    there = [number for number in columns.numbers(place) if number]
    is_fraction = (
        bool(there) and all(0 < number < 1 for number in there) and "%" not in columns.facts[place].example
    )
    return "fraction" if is_fraction else "points"


def sample_draft(
    file: SourceFile,
    proposal: Proposal,
    words: CatalogueWords | None = None,
    *,
    currency: str = "",
    count: int = SHOWN_LINES,
) -> ShipmentDraft:
    """Return the shipment of the first lines alone, as the proposed profile reads them.

    ``words`` are the book's, whose items' packs tell what a unit holds.

    Raises InputErrors with what would be refused in them.
    """
    keep = {*range(proposal.header_index + 1), *proposal.line_indexes[:count]}
    places = [index for index in range(len(proposal.sheet.rows)) if index in keep]
    sheet = replace(
        proposal.sheet,
        rows=tuple(proposal.sheet.rows[index] for index in places),
        row_numbers=tuple(proposal.sheet.row_numbers[index] for index in places),
    )
    profile = replace(proposal.profile, head={}, foot={}, sheet="")
    few = replace(file, sheets=(sheet,))
    today = datetime.date(2000, 1, 1)
    items = {} if words is None else words.items

    def known_factor(sku: str, unit: str) -> Fraction | None:
        return items[fold(sku)].content(unit) if fold(sku) in items else None

    options = ShipmentOptions(default_currency=currency or "USD", known_factor=known_factor)
    return read_shipment(few, profile, invoice_date=today, options=options)
