"""Items: what is kept in stock, its kind and tax class, and the rules its data must meet."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType

from ledger.catalogue._words import fold, quoted, suggestion
from ledger.catalogue.parties import read_country
from ledger.catalogue.sizes import Ladder, find_ladder, guess_ladder, read_size, read_size_list
from ledger.catalogue.units import BASE_UNITS
from ledger.errors import ValueProblem

GOODS = "goods"
SUPPLIES_WHEN_USED = "supplies when used"
SUPPLIES_WHEN_BOUGHT = "supplies when bought"
CUSTOMERS = "customer's"
TAX_CLASSES = (GOODS, SUPPLIES_WHEN_USED, SUPPLIES_WHEN_BOUGHT, CUSTOMERS)

LONGEST_SKU = 40
LONGEST_NAME = 200
LONGEST_SHELF_LIFE_DAYS = 36_500
LARGEST_MEASURE = 10**9
"""The largest weight, volume or density of one base unit, in thousandths: a tonne, a cubic metre."""


@dataclass(frozen=True)
class Kind:
    """A kind of item, with what its items are counted in and classed as unless told otherwise.

    ``has_safety_sheet`` marks kinds that come with a safety data sheet to keep.
    """

    name: str
    base_unit: str = "each"
    tax_class: str = GOODS
    has_safety_sheet: bool = False


# The tax class of a kind is a starting value after Treas. Reg. 1.162-3(a) and 1.471-1(a): what
# becomes part of the shirt is goods, what is used up in making it supplies. A shop's preparer decides.
KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            Kind("blank"),
            Kind("vinyl", "cm2"),
            Kind("paper", "sheet", SUPPLIES_WHEN_USED),
            Kind("film", "sheet", SUPPLIES_WHEN_USED),
            Kind("ink", "mL", has_safety_sheet=True),
            Kind("toner", "each", has_safety_sheet=True),
            Kind("powder", "g", has_safety_sheet=True),
            Kind("stones"),
            Kind("transfer"),
            Kind("tape", "cm", SUPPLIES_WHEN_USED),
            Kind("chemical", "mL", SUPPLIES_WHEN_USED, has_safety_sheet=True),
            Kind("emulsion", "mL", SUPPLIES_WHEN_USED, has_safety_sheet=True),
            Kind("packaging", "each", SUPPLIES_WHEN_USED),
            Kind("tool", "each", SUPPLIES_WHEN_USED),
            Kind("finished"),
        )
    }
)
"""The kinds every shop has, by name; a shop's own are added to a copy."""


@dataclass(frozen=True)
class Item:
    """One thing kept in stock. Weight and volume are per base unit; None where not known."""

    sku: str
    name: str
    kind: str
    tax_class: str
    base_unit: str
    style: str = ""
    colour: str = ""
    size: str = ""
    ladder: str = ""
    fibre_content: str = ""
    weight_mg: int | None = None
    volume_mm3: int | None = None
    density_mg_per_ml: int | None = None
    customs_class: str = ""
    origin: str = ""
    shelf_life_days: int | None = None
    use_estimated: bool = False
    safety_sheet: str = ""
    note: str = ""

    @property
    def density_g_per_ml(self) -> Fraction | None:
        """The density as unit conversions take it, in grams per millilitre."""
        return None if self.density_mg_per_ml is None else Fraction(self.density_mg_per_ml, 1000)


_SKU = re.compile(r"[A-Za-z0-9][A-Za-z0-9._/+-]*")
_CUSTOMS_CLASS = re.compile(r"\d{4}(?:\.?\d{2}){0,4}", re.ASCII)


def kind_place(kind: str) -> int:
    """Return where a kind stands in lists to work through: as in KINDS, the shop's own last.

    >>> sorted(["stickers", "ink", "blank"], key=kind_place)
    ['blank', 'ink', 'stickers']
    """
    return list(KINDS).index(kind) if kind in KINDS else len(KINDS)


def read_kind(text: str, kinds: Mapping[str, Kind] = KINDS) -> Kind:
    """Return the kind that the text names.

    Raises ValueProblem for an unknown kind, with the nearest ones.
    """
    word = fold(text)
    for key in (word, word.removesuffix("s"), f"{word}s"):
        if key in kinds:
            return kinds[key]
    raise ValueProblem(f"{quoted(text)} is not a kind: use {', '.join(kinds)}.{suggestion(text, kinds)}")


def read_tax_class(text: str) -> str:
    """Return the tax class that the text names, whatever its apostrophe and case.

    Raises ValueProblem for an unknown class, naming the four.
    """
    word = fold(text).replace("’", "'")
    if word == "customers":
        word = CUSTOMERS
    if word not in TAX_CLASSES:
        raise ValueProblem(f"{quoted(text)} is not a tax class: use {', '.join(TAX_CLASSES)}.")
    return word


def read_sku(text: str) -> str:
    """Return a SKU without outer blanks.

    Raises ValueProblem where it is empty, too long, has characters a file or a command line
    could take for something else, or does not begin with a letter or digit (a spreadsheet
    takes = + - @ for a formula).
    """
    sku = text.strip()
    if not sku:
        raise ValueProblem("the SKU is empty: every item needs one.")
    if len(sku) > LONGEST_SKU:
        raise ValueProblem(f"the SKU {quoted(sku)} has {len(sku)} characters: {LONGEST_SKU} at most.")
    if not _SKU.fullmatch(sku):
        raise ValueProblem(
            f"the SKU {quoted(sku)} may have letters A to Z, digits and - _ . / + only, no blanks, "
            "and begins with a letter or digit."
        )
    return sku


def read_customs_class(text: str) -> str:
    """Return a customs class as written, digits with or without dots; an empty text is none.

    Raises ValueProblem where it is no such code. Whether the class is right is not checked:
    that is the importer's responsibility.
    """
    code = text.strip()
    if code and not _CUSTOMS_CLASS.fullmatch(code):
        raise ValueProblem(f"{quoted(text)} is not a customs class: write its digits, like 6109.10.0012.")
    return code


def check_item(
    item: Item, kinds: Mapping[str, Kind] = KINDS, own_ladders: Iterable[Ladder] = ()
) -> list[str]:
    """Return everything wrong with an item, in words; an empty list where nothing is."""
    problems: list[str] = []

    def attempt(read: Callable[[], object]) -> None:
        try:
            read()
        except ValueProblem as problem:
            problems.append(str(problem))

    attempt(lambda: read_sku(item.sku))
    attempt(lambda: read_kind(item.kind, kinds))
    attempt(lambda: read_tax_class(item.tax_class))
    attempt(lambda: read_country(item.origin))
    attempt(lambda: read_customs_class(item.customs_class))
    if item.ladder:
        attempt(lambda: item.size and read_size(item.size, find_ladder(item.ladder, own_ladders)))
    if not 1 <= len(item.name.strip()) <= LONGEST_NAME:
        problems.append(f"the name must have 1 to {LONGEST_NAME} characters.")
    if item.base_unit not in BASE_UNITS:
        problems.append(f"{quoted(item.base_unit)} is not a base unit: use {', '.join(BASE_UNITS)}.")
    for what, value in (
        ("weight", item.weight_mg),
        ("volume", item.volume_mm3),
        ("density", item.density_mg_per_ml),
        ("shelf life", item.shelf_life_days),
    ):
        if value is not None and value <= 0:
            problems.append(f"the {what} must be above zero; leave it empty where it is not known.")
    if (item.shelf_life_days or 0) > LONGEST_SHELF_LIFE_DAYS:
        problems.append(f"a shelf life of {item.shelf_life_days} days is more than a hundred years.")
    return problems


@dataclass(frozen=True)
class Colour:
    """A colour by its name, and the code it has in SKUs (empty where the name itself serves)."""

    name: str
    code: str = ""


def read_colours(text: str) -> tuple[Colour, ...]:
    """Return the colours of a cell like ``Black; Heather Navy = HNV``, in its order.

    Raises ValueProblem where a name is empty or stands twice.
    """
    colours: dict[str, Colour] = {}
    for part in filter(None, map(str.strip, re.split(r"[;,]", text))):
        name, _, code = part.partition("=")
        name = " ".join(name.split())
        if not name or fold(name) in colours:
            raise ValueProblem(f"the colour {quoted(name)} in {quoted(text)} is empty or stands twice.")
        colours[fold(name)] = Colour(name, code.strip())
    return tuple(colours.values())


_PLACEHOLDER = re.compile(r"\{\s*([^{}]*?)\s*\}")
_PATTERN_NAMES = ("style", "colour", "size")
Codes = Mapping[str, Mapping[str, str]]
"""For a placeholder of a SKU pattern: a value (in any case) and the code that stands for it."""


def sku_from_pattern(pattern: str, values: Mapping[str, str], codes: Codes = MappingProxyType({})) -> str:
    """Return the SKU that a pattern gives for a style, colour and size.

    A value without a code stands in capitals without its blanks.

    >>> sku_from_pattern("{style}-{colour}-{size}", {"style": "T10", "colour": "Heather Navy", "size": "M"})
    'T10-HEATHERNAVY-M'

    Raises ValueProblem for an unknown placeholder, one without a value, and a result that is no SKU.
    """

    def fill(match: re.Match[str]) -> str:
        name = fold(match[1]).replace("color", "colour")
        if name not in _PATTERN_NAMES:
            places = ", ".join(f"{{{each}}}" for each in _PATTERN_NAMES)
            raise ValueProblem(
                f"{quoted(match[0])} in the SKU pattern {quoted(pattern)} is unknown: use {places}."
            )
        value = values.get(name, "").strip()
        if not value:
            raise ValueProblem(f"the SKU pattern {quoted(pattern)} asks for a {name}, and there is none.")
        by_fold = {fold(key): code for key, code in codes.get(name, {}).items()}
        return by_fold.get(fold(value)) or "".join(value.split()).upper()

    return read_sku(_PLACEHOLDER.sub(fill, pattern))


@dataclass(frozen=True)
class StyleSizes:
    """The sizes of a style, and the ladder they stand on."""

    sizes: tuple[str, ...]
    ladder: Ladder


def read_style_sizes(text: str, ladder_name: str = "", own_ladders: Iterable[Ladder] = ()) -> StyleSizes:
    """Return the sizes that a range, a list or a ladder's name means, on the ladder named or guessed.

    >>> read_style_sizes("2T-4T").sizes
    ('2T', '3T', '4T')

    Raises ValueProblem where a size is unknown, or no ladder is named and none has them all.
    """
    own = tuple(own_ladders)
    ladder = find_ladder(ladder_name, own) if ladder_name else guess_ladder(text, own)
    try:
        # Where none has them all, the adult ladder says what is wrong.
        known = ladder or find_ladder("adult")
        return StyleSizes(read_size_list(text, known), known)
    except ValueProblem as problem:
        raise ValueProblem(
            f"{problem}{'' if ladder else ' Name the ladder where they stand on another.'}"
        ) from problem


def expand_style(
    style: Item,
    *,
    colours: str = "",
    sizes: str = "",
    sku_pattern: str = "",
    codes: Codes = MappingProxyType({}),
    own_ladders: Iterable[Ladder] = (),
) -> tuple[Item, ...]:
    """Return an item for every colour and size of a style, colours first, smallest size first.

    ``style`` carries what all of them share; its SKU is not used. ``sizes`` is a range, a list or a
    ladder's name; the ladder is the style's own, else guessed from the sizes. Without a pattern the
    SKU is style, colour and size with hyphens between.

    Raises ValueProblem where the colours, sizes or pattern cannot be read, and where two items
    would get one SKU.
    """
    own = tuple(own_ladders)
    size_names: tuple[str, ...] = (style.size,)
    ladder_name = style.ladder
    if sizes:
        several = read_style_sizes(sizes, style.ladder, own)
        size_names, ladder_name = several.sizes, several.ladder.name
    colour_list = read_colours(colours) or (Colour(style.colour),)
    pattern = sku_pattern or "-".join(
        f"{{{name}}}"
        for name, there in zip(_PATTERN_NAMES, (True, colour_list[0].name, size_names[0]), strict=True)
        if there
    )
    inline = {colour.name: colour.code for colour in colour_list if colour.code}
    all_codes = {**codes, "colour": {**codes.get("colour", {}), **inline}}
    items: dict[str, Item] = {}
    for colour in colour_list:
        for size in size_names:
            values = {"style": style.style, "colour": colour.name, "size": size}
            sku = sku_from_pattern(pattern, values, all_codes)
            if fold(sku) in items:
                raise ValueProblem(
                    f"the SKU {sku} would stand for two items: put {{colour}} and {{size}} into the pattern, "
                    "or give colours their own codes, like Heather Navy=HNV."
                )
            name = ", ".join(filter(None, (style.name, colour.name, size)))
            items[fold(sku)] = replace(
                style, sku=sku, name=name, colour=colour.name, size=size, ladder=ladder_name
            )
    return tuple(items.values())
