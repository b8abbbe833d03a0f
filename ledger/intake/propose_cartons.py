"""Packing lists that count cartons: how many there are, what one holds, and whether that is the quantity."""

from __future__ import annotations

from ledger.intake.carton_ranges import cartons_or_none
from ledger.intake.heading_words import heading_scores, why_not_read
from ledger.intake.proposal import SURE, Question
from ledger.intake.propose_columns import SURE_AGREEMENT, Columns
from ledger.intake.propose_sums import Numbers, agreement, find_products, row_sums
from ledger.intake.table import column_letters

COUNTS = ("cartons", "carton_numbers")
_DOZEN = 12
_NOT_NEEDED = "how the goods were packed: not needed"


def decide_cartons(columns: Columns) -> None:
    """Keep the columns of cartons where they make the quantity or confirm it, and drop or ask the others."""
    counted = next((name for name in COUNTS if columns.place_of(name) is not None), "")
    per = columns.place_of("per_carton")
    if columns.across():
        _across(columns, counted)
        return
    if per is None or not counted:
        _without_the_other(columns, per)
        return
    counts = _counts(columns, counted)
    if all(count is None for count in counts):
        _drop(columns, counted, "it does not say how many cartons there are")
        decide_cartons(columns)
        return
    _second_count(columns, counted, counts)
    products = [
        None if a is None or b is None else a * b for a, b in zip(counts, columns.numbers(per), strict=True)
    ]
    _with_quantity(columns, counted, per, products)


def is_of_packing(heading: str) -> bool:
    """Return whether a heading speaks of cartons: such a column is no quantity, though it holds counts."""
    names = heading_scores(heading)
    return bool({*COUNTS, "per_carton"} & {*names}) or why_not_read(heading) == "how the goods were packed"


def _counts(columns: Columns, name: str) -> Numbers:
    """Return each line's number of cartons."""
    place = columns.place_of(name)
    if place is None:
        return []
    if name == "cartons":
        return columns.numbers(place)
    return [cartons_or_none(cell) for cell in columns.table.column(place, columns.table.sample)]


def _drop(columns: Columns, name: str, why: str) -> None:
    place = columns.place_of(name)
    if place is not None and columns.taken[place].confidence < SURE:
        columns.take(place, "", 80, why)
        columns.settled.add(place)


def _second_count(columns: Columns, counted: str, counts: Numbers) -> None:
    """Leave the numbers of cartons out where the cartons are counted too; ask where the two differ."""
    if counted != "cartons" or columns.place_of("carton_numbers") is None:
        return
    others = _counts(columns, "carton_numbers")
    if any(a is not None and b is not None and a != b for a, b in zip(counts, others, strict=True)):
        one, other = (column_letters(columns.place_of(name) or 0) for name in COUNTS)
        text = f"Columns {one} and {other} tell different numbers of cartons."
        columns.questions.append(Question("cartons", text, (f"ignore {one}", f"ignore {other}")))
        return
    _drop(columns, "carton_numbers", _NOT_NEEDED)


def _without_the_other(columns: Columns, per: int | None) -> None:
    for name in COUNTS:
        _drop(columns, name, _NOT_NEEDED)
    if per is None:
        return
    if columns.place_of("quantity") is None and columns.place_of("pieces") is None:
        letters = column_letters(per)
        text = f"Column {letters} says what one carton holds, and no column how many cartons there are."
        answers = tuple(
            f"{column_letters(place)}=cartons" for place in columns.free() if _may_count(columns, place)
        )
        columns.questions.append(Question("quantity", text, (*answers[:2], f"{letters}=quantity")))
        return
    _drop(columns, "per_carton", _NOT_NEEDED)


def _may_count(columns: Columns, place: int) -> bool:
    return columns.facts[place].are_counts


def _with_quantity(columns: Columns, counted: str, per: int, products: Numbers) -> None:
    """Compare cartons x pieces per carton with the quantity, where there is one."""
    quantity = columns.place_of("quantity")
    quantity = columns.place_of("pieces") if quantity is None else quantity
    place = columns.place_of(counted) or 0
    names = f"{column_letters(place)} x {column_letters(per)}"
    if quantity is None:
        asked = [each for each in columns.questions if each.subject == "quantity"]
        if not asked:
            why = f"{columns.taken[per].why}; {names} is the quantity"
            columns.take(per, "per_carton", columns.taken[per].confidence, why)
            columns.carton_pieces = products
        return
    numbers = columns.numbers(quantity)
    if agreement(products, numbers) >= SURE_AGREEMENT:
        columns.take(per, "per_carton", 97, f"{columns.taken[per].why}; {names} is the quantity")
        return
    dozens = [None if each is None else each * _DOZEN for each in products]
    in_dozens = [None if each is None else each * _DOZEN for each in numbers]
    if agreement(dozens, numbers) < SURE_AGREEMENT and agreement(products, in_dozens) < SURE_AGREEMENT:
        text = f"{names} is not the quantity in column {column_letters(quantity)}. Which is right?"
        answers = (f"ignore {column_letters(per)}", f"ignore {column_letters(quantity)}")
        columns.questions.append(Question("cartons", text, answers))
    for name in (counted, "per_carton"):
        _drop(columns, name, _NOT_NEEDED)


def _across(columns: Columns, counted: str) -> None:
    """Find out whether sizes that stand across count the pieces of one carton or of all."""
    _drop(columns, "per_carton", _NOT_NEEDED)
    place = columns.place_of(counted) if counted else None
    if place is None:
        return
    sums = row_sums([columns.numbers(each) for each in columns.across()])
    counts = _counts(columns, counted)
    products = [None if a is None or b is None else a * b for a, b in zip(sums, counts, strict=True)]
    if columns.taken[place].confidence == SURE:
        columns.carton_pieces = products
        return
    by_carton, together = _evidence(columns, products), _evidence(columns, sums)
    if by_carton > together:
        columns.take(
            place, counted, 95, f"{columns.taken[place].why}; the sizes count the pieces of one carton"
        )
        columns.carton_pieces = products
    elif by_carton == together and any(count is not None and count > 1 for count in counts):
        letters = column_letters(place)
        text = f"Do the sizes count the pieces of one carton, or of all the cartons in column {letters} together?"
        answers = (f"{letters}={counted.replace('_', ' ')}", f"ignore {letters}")
        columns.questions.append(Question("cartons", text, answers))
    else:
        for name in COUNTS:
            _drop(columns, name, _NOT_NEEDED)


def _evidence(columns: Columns, quantities: Numbers) -> int:
    """Return in how many rows quantities are the stated pieces, or make an amount with a price."""
    pieces = columns.place_of("pieces")
    numbers: dict[int, Numbers] = {-1: quantities}
    for place, facts in columns.facts.items():
        meaning = columns.taken[place].meaning if place in columns.taken else ""
        if place == pieces or (facts.are_numbers and meaning in ("", "unit_price", "line_total")):
            numbers[place] = facts.numbers
    stated = numbers.pop(pieces, None) if pieces is not None else None
    agreed = 0
    if stated is not None:
        agreed = sum(a is not None and a == b for a, b in zip(quantities, stated, strict=True))
    products = find_products(numbers, None, {"quantity": -1})
    return max(agreed, *(each.agree for each in products), 0) if products else agreed
