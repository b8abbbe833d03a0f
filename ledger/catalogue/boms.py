"""Bills of materials: what one design uses, for every colour and size of its blank."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType

from ledger.catalogue._words import fold, quoted
from ledger.catalogue.fibres import fibre_parts
from ledger.catalogue.items import GOODS, LONGEST_NAME, Item, read_sku
from ledger.catalogue.packs import Pack, unit_factor
from ledger.errors import ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.numbers import read_decimal
from ledger.exact.quantity import to_base
from ledger.exact.rounding import round_fraction

WAYS = (
    "direct to film",
    "direct to garment",
    "heat transfer vinyl",
    "inkjet transfer",
    "laser transfer",
    "screen print",
    "stones",
    "sublimation, one panel",
    "sublimation, all over",
    "bought-in transfer",
)
"""The ways of decorating that a bill may name."""

LEAST_POLYESTER_PERCENT = 65
"""What a sublimated blank should have of polyester unless the bill says otherwise: common practice, no source."""

FINISHED = "finished"
"""The kind of what a bill makes."""

_WHOLE = 100

# Our own short list: print without a white layer below is lost on these. A colour not listed is
# told by the word dark in its name or in the item's note.
DARK_WORDS = frozenset(
    [
        "black",
        "navy",
        "charcoal",
        "graphite",
        "midnight",
        "indigo",
        "forest",
        "moss",
        "olive",
        "maroon",
        "burgundy",
        "plum",
        "purple",
        "brown",
        "chocolate",
        "espresso",
        "dark",
    ]
)
"""Words in a colour's name that tell dark cloth."""


@dataclass(frozen=True)
class BillLine:
    """One thing a bill uses beside the blank; amounts are in ``unit``, a unit or a pack of the item.

    ``uses`` is how often a reused tool lasts: a job consumes the amount divided by it. ``colours``
    limits the line to blanks of these colours; empty is every colour.
    """

    sku: str
    per_piece: Fraction = Fraction(0)
    per_run: Fraction = Fraction(0)
    unit: str = ""
    waste_percent: Fraction = Fraction(0)
    uses: int | None = None
    colours: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Bill:
    """What one design uses, for all colours and sizes of the blank.

    ``blank`` is a style, one SKU, or empty (a customer's own garment). ``finished`` is the pattern of
    the finished items' SKUs: {colour}, {size} and {blank} are those of the blank. ``misprint_percent``
    only plans. Labour is what is paid to others, never the owner's, in the book's currency.
    """

    code: str
    name: str
    way: str
    blank: str
    finished: str
    lines: tuple[BillLine, ...] = ()
    misprint_percent: Fraction = Fraction(0)
    labour_per_piece: Decimal = Decimal(0)
    labour_per_run: Decimal = Decimal(0)
    least_polyester_percent: int | None = None
    light_only: bool = False
    note: str = ""


@dataclass(frozen=True)
class Component:
    """How much of one item a job consumes, in whole thousandths of its base unit."""

    sku: str
    quantity_milli: int


@dataclass(frozen=True)
class Catalogue:
    """What the shop knows: items by SKU, packs by SKU, bills by code."""

    items: Mapping[str, Item]
    packs: Mapping[str, Collection[Pack]] = field(default_factory=dict)
    bills: Mapping[str, Bill] = field(default_factory=dict)


@dataclass(frozen=True)
class Made:
    """A finished item, the bill that makes it, and the blank it is made from (None: a bill without)."""

    item: Item
    bill: Bill
    blank: Item | None


def base_amount(line: BillLine, pieces: int, item: Item, packs: Iterable[Pack] = ()) -> Fraction:
    """Return what a job of so many pieces consumes of a line, in base units, exactly.

    Raises ValueProblem where the line's unit does not fit the item.
    """
    factor = unit_factor(line.unit, item.base_unit, packs, item.density_g_per_ml)
    amount = (line.per_piece * pieces + line.per_run) * (1 + line.waste_percent / _WHOLE)
    return amount * factor / (line.uses or 1)


def explode(
    bill: Bill,
    blank: Item | None,
    pieces: int,
    items: Mapping[str, Item],
    packs: Mapping[str, Collection[Pack]] = MappingProxyType({}),
) -> list[Component]:
    """Return what a job of so many pieces consumes, the blank first, then as the bill lists it.

    Every piece counts, spoiled or not. The amounts of one item are added up and rounded once; an item
    of which less than half a thousandth is used is left out.

    Args:
        bill: the bill.
        blank: one of its blanks; None for a bill without.
        pieces: good and spoiled pieces together, at least 1.
        items: the items of the bill by SKU, other bills' finished items among them.
        packs: their packs by SKU.

    Raises:
        ValueProblem: where the pieces are none, the blank is not the bill's, an item is unknown or a
            unit does not fit.

    Source: our own rule; rounding half away from zero once per job.
    """
    if pieces < 1:
        raise ValueProblem(f"the bill {bill.code} is for 1 piece or more, not {pieces}.")
    exact: dict[str, Fraction] = {}
    if _needs_blank(bill, blank):
        assert blank is not None
        exact[blank.sku] = Fraction(pieces)
    for line in bill.lines:
        if not is_for(line, blank):
            continue
        item = items.get(line.sku)
        if item is None:
            raise ValueProblem(f"the bill {bill.code} uses {line.sku}, which is not in the catalogue.")
        amount = base_amount(line, pieces, item, packs.get(line.sku, ()))
        exact[line.sku] = exact.get(line.sku, Fraction(0)) + amount
    whole = [Component(sku, to_base(amount, Fraction(1))) for sku, amount in exact.items()]
    return [component for component in whole if component.quantity_milli]


def is_for(line: BillLine, blank: Item | None) -> bool:
    """Return whether the line is used on this blank: it is for all colours, or for its colour."""
    if not line.colours:
        return True
    return blank is not None and fold(blank.colour) in {fold(colour) for colour in line.colours}


def _needs_blank(bill: Bill, blank: Item | None) -> bool:
    """Return whether the bill has a blank.

    Raises ValueProblem where the blank given is not one of the bill's.
    """
    if not bill.blank:
        if blank is not None:
            raise ValueProblem(f"the bill {bill.code} has no blank: {blank.sku} does not belong to it.")
        return False
    if blank is None or fold(bill.blank) not in {fold(blank.style), fold(blank.sku)}:
        given = f"not {blank.sku}" if blank else "and none was given"
        raise ValueProblem(f"the bill {bill.code} is for {quoted(bill.blank)}, {given}.")
    return True


def blanks_of(bill: Bill, items: Mapping[str, Item]) -> list[Item]:
    """Return the items a bill can be made from: all of its style, or the one SKU; by SKU."""
    wanted = fold(bill.blank)
    if not wanted:
        return []
    styled = [item for item in items.values() if fold(item.style) == wanted]
    found = styled or [item for item in items.values() if fold(item.sku) == wanted]
    return sorted(found, key=lambda item: item.sku)


_PLACE = re.compile(r"\{\s*([^{}]*?)\s*\}")
_PLACES = ("colour", "size", "blank")


def finished_sku(bill: Bill, blank: Item | None) -> str:
    """Return the SKU of what the bill makes from a blank.

    {colour} is the colour's code as it stands in the blank's SKU, else its name in capitals without
    blanks; {size} the size; {blank} the blank's whole SKU.

    Raises ValueProblem for an unknown placeholder, one without a value, or a result that is no SKU.
    """

    def fill(match: re.Match[str]) -> str:
        name = fold(match[1]).replace("color", "colour")
        if name not in _PLACES:
            raise ValueProblem(
                f"{quoted(match[0])} in {quoted(bill.finished)} is unknown: use {{colour}}, {{size}} or {{blank}}."
            )
        if blank is None:
            raise ValueProblem(
                f"{quoted(bill.finished)} asks for a {name}, and the bill has no blank: write one whole SKU."
            )
        value = {"colour": _colour_code(blank), "size": blank.size, "blank": blank.sku}[name]
        if not value:
            raise ValueProblem(f"{quoted(bill.finished)} asks for a {name}, and {blank.sku} has none.")
        return "".join(value.split())

    return read_sku(_PLACE.sub(fill, bill.finished))


def _colour_code(blank: Item) -> str:
    """Return what stands for the colour in the blank's SKU: the one part that is not style or size."""
    name = "".join(blank.colour.split()).upper()
    if not name:
        return ""
    others = {"".join(text.split()).upper() for text in (blank.style, blank.size) if text}
    parts = re.split(r"[-_./+]", blank.sku)
    rest = [part for part in parts if part.upper() not in others]
    return rest[0] if len(rest) == 1 and len(parts) > 1 else name


def finished_item(bill: Bill, blank: Item | None) -> Item:
    """Return the finished item that the bill makes from a blank: goods, counted by the piece.

    Its style is the bill's code, so another bill can decorate it further. What the garment's label must
    say (fibre content, origin) is the blank's.

    Raises ValueProblem as `finished_sku` does.
    """
    words = [bill.name, blank.colour, blank.size] if blank else [bill.name]
    return Item(
        sku=finished_sku(bill, blank),
        name=", ".join(filter(None, words))[:LONGEST_NAME],
        kind=FINISHED,
        tax_class=GOODS,
        base_unit="each",
        style=bill.code,
        colour=blank.colour if blank else "",
        size=blank.size if blank else "",
        ladder=blank.ladder if blank else "",
        fibre_content=blank.fibre_content if blank else "",
        origin=blank.origin if blank else "",
    )


def finished_items(bills: Iterable[Bill], items: Mapping[str, Item]) -> dict[str, Made]:
    """Return what the bills make, by SKU: from every blank there is, finished items of other bills included.

    An item the catalogue has already stays as it is there. Where a pattern gives no SKU for a blank, or
    one that is taken, the first holds; `check_bills` says what is wrong.
    """
    known = dict(items)
    made: dict[str, Made] = {}
    rounds = list(bills)
    # A bill that decorates what another makes finds its blanks one round later.
    for _ in range(len(rounds)):
        found = [each for bill in rounds for each in _makes(bill, known) if each.item.sku not in made]
        for each in found:
            made.setdefault(each.item.sku, each)
            known.setdefault(each.item.sku, each.item)
        if not found:
            break
    return made


def _makes(bill: Bill, known: Mapping[str, Item]) -> Iterator[Made]:
    blanks: list[Item | None] = [*blanks_of(bill, known)] if bill.blank else [None]
    for blank in blanks:
        if blank is not None and fold(blank.style) == fold(bill.code):
            continue
        try:
            item = finished_item(bill, blank)
        except ValueProblem:
            continue
        yield Made(known.get(item.sku, item), bill, blank)


def with_finished(catalogue: Catalogue) -> dict[str, Item]:
    """Return the items by SKU, with all that the bills make among them."""
    made = finished_items(catalogue.bills.values(), catalogue.items)
    return {sku: each.item for sku, each in made.items()} | dict(catalogue.items)


def labour(bill: Bill, pieces: int, currency: str) -> int:
    """Return what a job of so many pieces pays to others, in minor units, rounded once."""
    exact = Fraction(bill.labour_per_piece) * pieces + Fraction(bill.labour_per_run)
    return round_fraction(exact * 10 ** exponent(currency))


def planned_pieces(bill: Bill, good: int) -> int:
    """Return how many pieces to plan for so many good ones at the bill's misprint rate, rounded up.

    >>> planned_pieces(Bill("A", "A", "stones", "", "A", misprint_percent=Fraction(3)), 97)
    100
    """
    exact = good / (1 - bill.misprint_percent / _WHOLE)
    return -(-exact.numerator // exact.denominator)


def polyester_percent(fibre_content: str) -> Fraction | None:
    """Return how much of a fibre content is polyester, None where it does not say.

    >>> polyester_percent("65% polyester 35% cotton"), polyester_percent("100% cotton"), polyester_percent("")
    (Fraction(65, 1), Fraction(0, 1), None)
    """
    try:
        parts = fibre_parts(fibre_content)
        shares = [
            read_decimal(share)
            for share, fibre in parts
            if {"polyester", "poly"} & set(re.split(r"[^a-z]+", fibre.casefold()))
        ]
    except ValueProblem:
        return None
    return sum(shares, Fraction(0))


def is_dark(blank: Item) -> bool:
    """Return whether the blank is dark cloth, by a word in its colour's name or 'dark' in its note."""
    words = set(re.split(r"[^a-z]+", blank.colour.casefold()))
    return bool(words & DARK_WORDS) or "dark" in re.split(r"[^a-z]+", blank.note.casefold())


def bill_warnings(bill: Bill, blank: Item | None, expired_skus: Collection[str] = ()) -> list[str]:
    """Return what speaks against making the bill on this blank today, in words; none is a refusal.

    ``expired_skus`` are items of which something on hand has expired.
    """
    said = []
    if blank is not None and bill.least_polyester_percent is not None:
        share = polyester_percent(blank.fibre_content)
        wanted = f"{bill.way} wants at least {bill.least_polyester_percent}% polyester"
        if share is None:
            said.append(f"{wanted}, and the fibre content of {blank.sku} is not known: look at its label.")
        elif share < bill.least_polyester_percent:
            said.append(
                f"{wanted}, and {blank.sku} has {float(share):g}%: the print will be pale or wash out."
            )
    if blank is not None and bill.light_only and is_dark(blank):
        said.append(f"{blank.sku} is dark cloth ({blank.colour or 'by its note'}): the print will not show.")
    used = dict.fromkeys(line.sku for line in bill.lines if is_for(line, blank))
    expired = [sku for sku in used if sku in expired_skus]
    if expired:
        said.append(f"some or all of {', '.join(expired)} on hand has expired: look at the lots before use.")
    return said
