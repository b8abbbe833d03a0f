"""What can be wrong with a bill of materials: everything at once, each with its place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from ledger.catalogue._words import fold, quoted, suggestion
from ledger.catalogue.boms import (
    FINISHED,
    Bill,
    BillLine,
    Catalogue,
    Made,
    base_amount,
    blanks_of,
    finished_items,
    finished_sku,
)
from ledger.catalogue.items import SUPPLIES_WHEN_BOUGHT, Item, read_sku
from ledger.errors import ValueProblem
from ledger.exact.quantity import MILLI
from ledger.exact.rounding import round_fraction

FINEST = 10**6
"""Amounts in a bill have six decimals at most."""

LARGEST = 10**9
MOST_WASTE_PERCENT = 100


@dataclass(frozen=True)
class BillProblem:
    """One thing wrong with a bill: its line counted from 1 (0: the bill itself), the sheet's column."""

    line: int
    column: str
    what: str


def check_amount(value: Fraction, what: str) -> None:
    """Raise ValueProblem where an amount of a bill is negative, finer than six decimals or absurdly large."""
    if value < 0:
        raise ValueProblem(f"the {what} is negative: a bill only uses.")
    if (value * FINEST).denominator != 1:
        raise ValueProblem(f"the {what} has more than six decimals: round it.")
    if value > LARGEST:
        raise ValueProblem(f"the {what} is more than any job uses: check the decimal point and the unit.")


def check_bills(checked: Iterable[Bill], catalogue: Catalogue) -> dict[str, list[BillProblem]]:
    """Return everything wrong with each of these bills, by code; the catalogue holds them and all others."""
    made = finished_items(catalogue.bills.values(), catalogue.items)
    known = {sku: each.item for sku, each in made.items()} | dict(catalogue.items)
    uses = {code: _used_bills(bill, catalogue.bills, made) for code, bill in catalogue.bills.items()}
    makers: dict[str, set[str]] = {}
    for bill in catalogue.bills.values():
        for sku in _skus_made(bill, known):
            makers.setdefault(sku, set()).add(bill.code)
    return {
        bill.code: [
            *_head_problems(bill, known, catalogue.bills),
            *_finished_problems(bill, known, catalogue.items, makers),
            *_line_problems(bill, known, catalogue),
            *_circle_problems(bill, uses, made),
        ]
        for bill in checked
    }


def _head_problems(bill: Bill, known: Mapping[str, Item], bills: Mapping[str, Bill]) -> Iterator[BillProblem]:
    yield from _attempt(0, "bill", lambda: read_sku(bill.code))
    if any(fold(item.style) == fold(bill.code) and item.kind != FINISHED for item in known.values()):
        yield BillProblem(
            0,
            "bill",
            f"{quoted(bill.code)} is the name of a style: give the bill another code, "
            "since what it makes is a style of that name.",
        )
    if bill.blank:
        blanks = blanks_of(bill, known)
        # A bill in a circle has no blanks: the circle is told instead.
        is_made = fold(bill.blank) in {fold(code) for code in (bill.code, *bills)}
        if not blanks and not is_made:
            names = {item.style or item.sku for item in known.values() if item.kind == "blank"}
            yield BillProblem(
                0,
                "blank",
                f"{quoted(bill.blank)} is neither a style nor an SKU of the catalogue: load its items first, or "
                f"mend the name.{suggestion(bill.blank, names)}",
            )
        odd = [item.sku for item in blanks if item.base_unit != "each"]
        if odd:
            yield BillProblem(0, "blank", f"{odd[0]} is not counted by the piece: it cannot be a blank.")
    elif not bill.lines:
        yield BillProblem(0, "sku", "the bill has neither a blank nor anything else that it uses.")
    for column, value in (
        ("labour_per_piece", bill.labour_per_piece),
        ("labour_per_run", bill.labour_per_run),
    ):
        yield from _attempt(0, column, lambda value=value: _check_labour(value))  # type: ignore[misc]
    if not 0 <= bill.misprint_percent < MOST_WASTE_PERCENT:
        yield BillProblem(0, "misprints", "the misprint rate must be from 0 to less than 100 percent.")
    least = bill.least_polyester_percent
    if least is not None and not 1 <= least <= MOST_WASTE_PERCENT:
        yield BillProblem(0, "least_polyester", f"{least} is not a percentage from 1 to 100.")


def _check_labour(value: Decimal) -> None:
    check_amount(Fraction(value), "paid labour")


def _skus_made(bill: Bill, known: Mapping[str, Item]) -> list[str]:
    """Return the SKUs a bill makes, one for each blank that gives one."""
    skus = []
    for blank in [*blanks_of(bill, known)] if bill.blank else [None]:
        try:
            skus.append(finished_sku(bill, blank))
        except ValueProblem:
            continue
    return skus


def _finished_problems(
    bill: Bill, known: Mapping[str, Item], items: Mapping[str, Item], makers: Mapping[str, set[str]]
) -> Iterator[BillProblem]:
    """Return what is wrong with the pattern: unreadable, the same for two blanks, taken by something else."""
    blanks: list[Item | None] = [*blanks_of(bill, known)] if bill.blank else [None]
    said: dict[str, str] = {}
    first: dict[str, str] = {}
    for blank in blanks:
        try:
            sku = finished_sku(bill, blank)
        except ValueProblem as problem:
            said.setdefault("pattern", str(problem))
            continue
        if blank is not None and fold(sku) in first:
            both = f"{first[fold(sku)]} and {blank.sku}"
            said.setdefault(
                "same",
                f"{quoted(bill.finished)} makes {sku} of both {both}: put {{colour}} and {{size}} into it.",
            )
        first.setdefault(fold(sku), blank.sku if blank else "")
        there = items.get(sku)
        if there is not None and there.kind != FINISHED:
            said.setdefault(
                "taken",
                f"{quoted(bill.finished)} makes {sku}, which stands in the catalogue as {there.kind}: "
                "give what is made another SKU.",
            )
        others = sorted(makers.get(sku, set()) - {bill.code})
        if others:
            said.setdefault(
                "other",
                f"{quoted(bill.finished)} makes {sku}, which the bill {others[0]} makes too: change one of them.",
            )
    # One fault in the pattern would otherwise be told for every colour and size.
    yield from (BillProblem(0, "finished", what) for what in said.values())


def _line_problems(bill: Bill, known: Mapping[str, Item], catalogue: Catalogue) -> Iterator[BillProblem]:
    colours = {fold(item.colour) for item in blanks_of(bill, known)}
    for place, line in enumerate(bill.lines, start=1):
        for column, value in (("per_piece", line.per_piece), ("per_run", line.per_run)):
            what = column.replace("_", " ") + " amount"
            yield from _attempt(place, column, lambda value=value, what=what: check_amount(value, what))  # type: ignore[misc]
        if not line.per_piece and not line.per_run:
            yield BillProblem(
                place, "per_piece", f"of {line.sku} nothing is used: write an amount per piece or per run."
            )
        if not 0 <= line.waste_percent <= MOST_WASTE_PERCENT:
            yield BillProblem(place, "waste", "the waste allowance must be from 0 to 100 percent.")
        if line.uses is not None and line.uses < 1:
            yield BillProblem(place, "uses", f"{line.uses} uses: a tool is used at least once.")
        for colour in line.colours:
            if fold(colour) not in colours:
                yield BillProblem(
                    place,
                    "colours",
                    f"{quoted(colour)} is not a colour of the blank.{suggestion(colour, colours)}",
                )
        yield from _item_problems(place, line, known, catalogue)


def _item_problems(
    place: int, line: BillLine, known: Mapping[str, Item], catalogue: Catalogue
) -> Iterator[BillProblem]:
    item = known.get(line.sku)
    if item is None:
        yield BillProblem(
            place,
            "sku",
            f"{quoted(line.sku)} is not in the catalogue: load it with blankbook items load, or mend the SKU."
            f"{suggestion(line.sku, known)}",
        )
        return
    if item.tax_class == SUPPLIES_WHEN_BOUGHT:
        yield BillProblem(
            place,
            "sku",
            f"{line.sku} is deducted when bought and never counted: leave it out of bills.",
        )
    try:
        one = base_amount(line, 1, item, catalogue.packs.get(line.sku, ()))
    except ValueProblem as problem:
        yield BillProblem(place, "unit", f"{line.sku}: {problem}")
        return
    if one > 0 and not round_fraction(one * MILLI):
        yield BillProblem(
            place,
            "per_piece",
            f"one piece uses less than a thousandth {item.base_unit} of {line.sku}, and that cannot be counted: "
            "keep it in something smaller (a drum by the pages it prints: unit sheet, pack drum = 12000 sheet).",
        )


def _used_bills(bill: Bill, bills: Mapping[str, Bill], made: Mapping[str, Made]) -> dict[str, str]:
    """Return the codes of the bills whose finished items this one uses, each with what it uses of it."""
    used = {
        other.code: bill.blank
        for other in bills.values()
        if bill.blank and fold(other.code) == fold(bill.blank)
    }
    by_fold = {fold(sku): each for sku, each in made.items()}
    for sku in (bill.blank, *(line.sku for line in bill.lines)):
        each = by_fold.get(fold(sku))
        if each is not None:
            used.setdefault(each.bill.code, sku)
    return used


def _circle_problems(
    bill: Bill, uses: Mapping[str, Mapping[str, str]], made: Mapping[str, Made]
) -> Iterator[BillProblem]:
    """Return a problem where the bill uses what it makes, directly or through other bills."""
    circle = _circle(bill.code, uses)
    if not circle:
        return
    used = uses[bill.code][circle[1]]
    place = next((place for place, line in enumerate(bill.lines, start=1) if line.sku == used), 0)
    column = "sku" if place else "blank"
    if len(circle) > 2:  # noqa: PLR2004  (the bill, and itself again)
        path = " uses ".join(circle)
        yield BillProblem(place, column, f"the bill uses itself in a circle: {path}. Take one of them out.")
    else:
        what = f"{used} is what it makes" if fold(used) in {fold(sku) for sku in made} else used
        yield BillProblem(
            place, column, f"the bill {bill.code} uses itself: {what}. Name what it is made from."
        )


def _circle(start: str, uses: Mapping[str, Mapping[str, str]]) -> list[str]:
    """Return the shortest way from a bill through what it uses back to itself, [] where there is none."""
    paths = [[start]]
    seen: set[str] = set()
    while paths:
        path = paths.pop(0)
        for code in uses.get(path[-1], {}):
            if code == start:
                return [*path, start]
            if code not in seen:
                seen.add(code)
                paths.append([*path, code])
    return []


def _attempt(line: int, column: str, check: Callable[[], object]) -> Iterator[BillProblem]:
    try:
        check()
    except ValueProblem as problem:
        yield BillProblem(line, column, str(problem))
