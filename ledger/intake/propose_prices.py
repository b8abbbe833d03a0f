"""Deciding by what adds up: quantity x price = amount, sizes and pieces, what a price is for."""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction

from ledger.intake.heading_words import may_be_price, price_unit, reason_not_read
from ledger.intake.nearest import quoted
from ledger.intake.proposal import SURE, Answers, CatalogueWords
from ledger.intake.propose_cartons import decide_cartons
from ledger.intake.propose_columns import (
    MOSTLY,
    MULTIPLIED,
    SURE_AGREEMENT,
    Columns,
    columns_by_heading,
    finish_columns,
)
from ledger.intake.propose_content import decide_content
from ledger.intake.propose_sums import (
    HALF,
    PER,
    Numbers,
    Product,
    agreement,
    find_products,
    product_of,
    row_sums,
)
from ledger.intake.propose_table import FoundTable
from ledger.intake.propose_units import row_contents
from ledger.intake.propose_variant import decide_variant

FEWEST_PROOFS = 2
"""In how many rows quantity x price must make the amount before a column without a heading is believed."""

ACROSS = -1
"""Stands for the sum of the sizes across, or for cartons x pieces per carton, among the columns that multiply."""


def decide_columns(
    table: FoundTable, words: CatalogueWords, answers: Answers, *, decimal_comma: bool
) -> Columns:
    """Return every column of the table with what it is taken as, and what has to be asked."""
    columns = columns_by_heading(table, words, answers, decimal_comma=decimal_comma)
    decide_cartons(columns)
    _pieces(columns)
    _by_product(columns)
    _price_per(columns)
    decide_variant(columns)
    decide_content(columns)
    finish_columns(columns)
    return columns


def _by_product(columns: Columns) -> None:
    """Confirm quantity, price and amount by multiplying, and find those that no heading names."""
    fixed = {name: place for name in MULTIPLIED if (place := columns.place_of(name)) is not None}
    numbers = _multipliable(columns, list(fixed.values()))
    if columns.across():
        sums = row_sums([columns.numbers(place) for place in columns.across()])
        numbers[ACROSS] = sums if columns.carton_pieces is None else columns.carton_pieces
        fixed["quantity"] = ACROSS
    elif columns.carton_pieces is not None:
        numbers[ACROSS], fixed["quantity"] = columns.carton_pieces, ACROSS
    if any(place not in numbers for place in fixed.values()):
        return
    open_subjects = {question.subject.replace(" ", "_") for question in columns.questions}
    if open_subjects & set(MULTIPLIED):
        return
    discount = columns.place_of("discount_percent")
    percents = None if discount is None else columns.numbers(discount)
    # Columns that no heading names need more than a coincidence in one of two rows.
    products = [each for each in find_products(numbers, percents, fixed) if _is_evident(each, fixed)]
    if not products:
        return
    best = products[0]
    others = [each for each in products[1:] if each.rate == best.rate and each.per == best.per]
    new = {name: place for name, place in _named(best).items() if name not in fixed and place >= 0}
    if new and others:
        return
    columns.product = best
    per = "" if best.per == 1 else f" / {best.per}"
    why = f"quantity x price{per} = amount in {best.agree} of {best.rows} rows"
    for name, place in _named(best).items():
        before = columns.taken.get(place)
        if place == ACROSS or (before is not None and before.confidence == SURE):
            continue
        if before is None:
            columns.take(place, name, min(99, 60 + round(39 * best.rate)), why)
        else:
            columns.take(place, name, 99, f"{before.why}; {why}")


def _is_evident(product: Product, fixed: Mapping[str, int]) -> bool:
    """Return whether a product proves enough: at least two rows, nearly all, where it finds a new column."""
    new = [name for name, place in _named(product).items() if name not in fixed and place >= 0]
    if not new:
        return True
    return product.agree >= FEWEST_PROOFS and product.rate >= SURE_AGREEMENT


def _multipliable(columns: Columns, fixed: list[int]) -> dict[int, Numbers]:
    """Return the columns of numbers that may take part: those decided on, and those nothing is known of."""
    numbers: dict[int, Numbers] = {}
    for place in [*fixed, *columns.free()]:
        facts = columns.facts[place]
        heading = columns.table.headings[place]
        # A price that is usually not paid may still be the one that multiplies; a percentage never is.
        is_other = bool(reason_not_read(heading, facts.numbers)) and not may_be_price(heading)
        if place not in fixed and (facts.counts_up or is_other or "%" in heading or facts.percents):
            continue
        if facts.filled and facts.share(facts.number_count) >= MOSTLY:
            numbers[place] = facts.numbers
    return numbers


def _named(product: Product) -> dict[str, int]:
    return {"quantity": product.quantity, "unit_price": product.price, "line_total": product.amount}


def _pieces(columns: Columns) -> None:
    """Take a column of pieces for the quantity where there is no other, or check it against the sizes."""
    pieces = columns.place_of("pieces")
    if columns.across():
        sums = row_sums([columns.numbers(place) for place in columns.across()])
        if pieces is None or columns.taken[pieces].confidence == SURE or columns.place_of("unit") is not None:
            return
        if columns.place_of("cartons") is not None or columns.place_of("carton_numbers") is not None:
            return
        if agreement(sums, columns.numbers(pieces)) < SURE_AGREEMENT:
            columns.take(pieces, "", 70, "it is not what the sizes add up to")
        return
    asked = any(question.subject == "quantity" for question in columns.questions)
    if pieces is not None and columns.place_of("quantity") is None and not asked:
        columns.take(
            pieces, "quantity", 88, f"{columns.taken[pieces].why}, and no other column is the quantity"
        )


def _price_per(columns: Columns) -> None:
    """Find out what the price is for: what multiplies tells, else the heading."""
    if columns.answers.price_per:
        columns.price_per, columns.price_why = columns.answers.price_per, "as you said"
        return
    price = columns.place_of("unit_price")
    if price is None:
        return
    by_pieces = _by_pieces(columns, price)
    if by_pieces:
        columns.price_per = by_pieces
        columns.price_why = "so the packs' pieces x price make the amount"
        return
    pieces, amount = columns.place_of("pieces"), columns.place_of("line_total")
    if columns.product is not None and columns.product.amount == amount:
        columns.price_per = PER[columns.product.per]
        columns.price_why = f"so quantity and price make the amount in {columns.product.agree} rows"
        return
    if pieces is not None and amount is not None:
        columns_of = [columns.numbers(place) for place in (pieces, price, amount)]
        per, agree, rows = product_of(*columns_of)
        if rows and Fraction(agree, rows) >= HALF:
            columns.price_per = "piece" if per == 1 else PER[per]
            columns.price_why = f"so pieces and price make the amount in {agree} rows"
            return
    heading, quantity = columns.table.headings[price], columns.place_of("quantity")
    said = price_unit(heading)
    counted = columns.table.headings[quantity] if quantity is not None else ""
    if said and said != quantity_unit(counted):
        columns.price_per, columns.price_why = said, f"the price is headed {quoted(heading)}"


def _by_pieces(columns: Columns, price: int) -> str:
    """Return whether prices are for a 'piece', 'dozen' or 'hundred' where rows count packs, else nothing.

    Then quantity x content x price makes the amount, and quantity x price does not.
    """
    quantity, amount = (columns.place_of(name) for name in ("quantity", "line_total"))
    if quantity is None or amount is None:
        return ""
    contents = [content if content != 1 else None for content in row_contents(columns)]
    counts = columns.numbers(quantity)
    pieces = [None if a is None or b is None else a * b for a, b in zip(counts, contents, strict=True)]
    packs_only = [None if b is None else a for a, b in zip(counts, contents, strict=True)]
    place = columns.place_of("discount_percent")
    discount = None if place is None else columns.numbers(place)
    others = (columns.numbers(price), columns.numbers(amount), discount)
    (per, agree, rows), by_pack = (product_of(each, *others) for each in (pieces, packs_only))
    if not rows or agree <= by_pack[1]:
        return ""
    return "piece" if per == 1 else PER[per]


def quantity_unit(heading: str) -> str:
    """Return the unit that a quantity's heading counts in, empty where it names none.

    >>> quantity_unit("Qty (doz.)"), quantity_unit("Cases"), quantity_unit("Qty")
    ('dozen', 'case', '')
    """
    words = re.findall(r"[a-z]+", heading.casefold())
    if any(word in ("doz", "dozen", "dozens", "dz") for word in words):
        return "dozen"
    return "case" if "cases" in words else ""
