"""Size ladders: which sizes there are, what else they are called, and how they sort."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from ledger.catalogue._words import fold, quoted, suggestion
from ledger.errors import ValueProblem

SortKey = tuple[int, int, tuple[tuple[int, int, str], ...]]
"""What sizes sort by: ladder, place on it, then natural order. Compare it, do not take it apart."""


@dataclass(frozen=True)
class Ladder:
    """The sizes of one kind of garment, smallest first.

    ``aliases`` holds other spellings, folded, to the size; the usual ones (XXL, X-Large, 2X)
    need no entry.
    """

    name: str
    sizes: tuple[str, ...]
    aliases: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}), hash=False)
    is_childrens: bool = False


def _ladder(name: str, sizes: str, aliases: str = "", *, is_childrens: bool = False) -> Ladder:
    pairs = (pair.split("=") for pair in filter(None, aliases.split(";")))
    table = MappingProxyType({_key(alias): size for alias, size in pairs})
    return Ladder(name, tuple(sizes.split()), table, is_childrens)


def _key(text: str) -> str:
    """Return a size without blanks, hyphens, dots and apostrophes, in capitals."""
    return re.sub(r"[\s\-.'’_]+", "", text).upper()


LADDERS: tuple[Ladder, ...] = (
    _ladder("infant", "6M 12M 18M 24M", "6MO=6M;12MO=12M;18MO=18M;24MO=24M", is_childrens=True),
    _ladder("toddler", "2T 3T 4T 5T 6T", is_childrens=True),
    _ladder(
        "youth",
        "XS S M L XL",
        "YXS=XS;YS=S;YM=M;YL=L;YXL=XL;YSM=S;YMD=M;YLG=L",
        is_childrens=True,
    ),
    _ladder("adult", "XS S M L XL 2XL 3XL 4XL 5XL 6XL"),
    _ladder("ladies", "XS S M L XL 2XL 3XL 4XL"),
    _ladder("tall", "LT XLT 2XLT 3XLT 4XLT"),
    _ladder("one size", "OS", "ONESIZE=OS;O/S=OS;OSFA=OS;ONESIZEFITSALL=OS;ONESIZEFITSMOST=OS;OSFM=OS"),
)
"""The ladders every shop has, in the order in which their sizes stand side by side."""

# Where no ladder is named, the first of these that knows every size of the row is taken. Youth
# sizes read as adult ones and ladies' as well: those two must be named.
_GUESSED = ("adult", "toddler", "infant", "tall", "one size", "youth")

# Only where written together: S-M is a range, not small.
_TOGETHER = {"SM": "S", "MD": "M", "LG": "L"}
_LETTERS = re.compile(r"(?P<ex>X*|[2-9]X)(?P<stem>S|M|L)?(?P<tall>T?)")
_WORDS = (
    ("EXTRA", "X"),
    ("YOUTH", "Y"),
    ("SMALL", "S"),
    ("MEDIUM", "M"),
    ("LARGE", "L"),
    ("TALL", "T"),
    ("SML", "S"),
    ("MED", "M"),
    ("LRG", "L"),
)


def _usual(key: str) -> str:
    """Return the usual short form of a spelled size: XXL, 2X and XXLARGE are 2XL, LTALL is LT."""
    for word, letters in _WORDS:
        key = key.replace(word, letters)
    match = _LETTERS.fullmatch(key)
    if match is None or not match["ex"]:
        return key
    is_counted = match["ex"][0].isdigit()
    many = int(match["ex"][0]) if is_counted else len(match["ex"])
    prefix = "X" if many == 1 else f"{many}X"
    # A bare 2X is 2XL; a bare X or XX is no size.
    stem = match["stem"] or ("L" if is_counted else "")
    return f"{prefix}{stem}{match['tall']}"


def read_size(text: str, ladder: Ladder) -> str:
    """Return the ladder's own name of a size: XXL, 2X and XX-Large are 2XL.

    >>> read_size("xxl", find_ladder("adult")), read_size("Small", find_ladder("youth"))
    ('2XL', 'S')

    Raises ValueProblem where the ladder has no such size, naming those it has.
    """
    spelled = text.strip().rstrip(".").upper()
    key = _TOGETHER.get(spelled) or _key(text)
    by_key = {_key(size): size for size in ladder.sizes}
    for candidate in (key, _usual(key)):
        if candidate in by_key:
            return by_key[candidate]
        if candidate in ladder.aliases:
            return ladder.aliases[candidate]
    raise ValueProblem(
        f"{quoted(text)} is not a size of the ladder {ladder.name}: its sizes are {', '.join(ladder.sizes)}."
    )


def find_ladder(name: str, own: Iterable[Ladder] = ()) -> Ladder:
    """Return the ladder of that name, the shop's own before the general ones.

    Raises ValueProblem for an unknown name, with the nearest ones.
    """
    by_key = {fold(ladder.name): ladder for ladder in (*LADDERS, *own)}
    ladder = by_key.get(fold(name))
    if ladder is None:
        names = [each.name for each in by_key.values()]
        raise ValueProblem(
            f"{quoted(name)} is not a size ladder: there are {', '.join(names)}.{suggestion(name, names)}"
        )
    return ladder


def make_ladder(name: str, text: str, *, is_childrens: bool = False) -> Ladder:
    """Return a shop's own ladder from its sizes, smallest first, each with its other spellings.

    >>> make_ladder("waist", "28; 30 = W30, thirty; 32").sizes
    ('28', '30', '32')

    Raises ValueProblem where the name is empty, there is no size, or one spelling stands twice.
    """
    sizes: list[str] = []
    aliases: dict[str, str] = {}
    seen: set[str] = set()
    for part in filter(None, map(str.strip, text.split(";"))):
        size, _, others = part.partition("=")
        size = size.strip()
        spellings = [size, *filter(None, map(str.strip, others.split(",")))]
        for spelling in spellings:
            if not _key(spelling) or _key(spelling) in seen:
                raise ValueProblem(
                    f"ladder {quoted(name)}: the size {quoted(spelling)} is empty or stands twice."
                )
            seen.add(_key(spelling))
        sizes.append(size)
        aliases.update({_key(alias): size for alias in spellings[1:]})
    if not name.strip() or not sizes:
        raise ValueProblem("a size ladder needs a name and its sizes, like waist: 28; 30; 32.")
    return Ladder(" ".join(name.split()), tuple(sizes), MappingProxyType(aliases), is_childrens)


def read_size_list(text: str, ladder: Ladder) -> tuple[str, ...]:
    """Return the sizes that a cell means, in its order: a list, ranges, or the whole ladder.

    >>> read_size_list("XS; M-XXL", find_ladder("adult"))
    ('XS', 'M', 'L', 'XL', '2XL')

    Raises ValueProblem for an unknown size, a range that runs backwards, or a size twice.
    """
    if fold(text) in {fold(ladder.name), "all"}:
        return ladder.sizes
    sizes: list[str] = []
    for part in filter(None, map(str.strip, re.split(r"[;,]", text))):
        sizes += _size_range(part, ladder)
    if not sizes:
        raise ValueProblem("there is no size: write a range like S-3XL or a list like S; M; L.")
    twice = sorted({size for size in sizes if sizes.count(size) > 1})
    if twice:
        raise ValueProblem(f"{quoted(text)} names {', '.join(twice)} twice: name each size once.")
    return tuple(sizes)


_RANGE_SIGN = re.compile(r"\s*(?:-|–|\bto\b)\s*", re.IGNORECASE)
_LONGEST_RANGE = 40


def _size_range(part: str, ladder: Ladder) -> tuple[str, ...]:
    """Return the sizes of one part of a list, a single size or a range.

    A hyphen may stand inside a size (X-Large), so each is tried as the place to split.
    """
    signs = list(_RANGE_SIGN.finditer(part)) if len(part) <= _LONGEST_RANGE else []
    runs_backward = False
    for sign in signs:
        first, last = _place(part[: sign.start()], ladder), _place(part[sign.end() :], ladder)
        if first is None or last is None:
            continue
        if first <= last:
            return ladder.sizes[first : last + 1]
        runs_backward = True
    if _place(part, ladder) is None and runs_backward:
        raise ValueProblem(
            f"the range {quoted(part)} runs from the larger to the smaller size: turn it round."
        )
    if _place(part, ladder) is None and len(signs) == 1:
        for end in (part[: signs[0].start()], part[signs[0].end() :]):
            read_size(end, ladder)  # Says which end is no size.
    return (read_size(part, ladder),)


def _place(text: str, ladder: Ladder) -> int | None:
    """Return a size's place on the ladder, or None where it has no such size."""
    try:
        return ladder.sizes.index(read_size(text, ladder))
    except ValueProblem:
        return None


def guess_ladder(sizes_text: str, own: Iterable[Ladder] = ()) -> Ladder | None:
    """Return the ladder that a cell of sizes belongs to where none is named, or None.

    A ladder's name is that ladder; plain letters are adult sizes; a shop's own ladders come last.
    """
    known = tuple(own)
    try:
        return find_ladder(sizes_text, known)
    except ValueProblem:
        pass
    for ladder in (*(find_ladder(name) for name in _GUESSED), *known):
        try:
            read_size_list(sizes_text, ladder)
        except ValueProblem:
            continue
        return ladder
    return None


def size_sort_key(size: str, ladder: Ladder | None = None, ladders: Sequence[Ladder] = LADDERS) -> SortKey:
    """Return what a size sorts by, within its ladder and across ladders.

    Ladders stand in the order of ``ladders``; a size without a ladder takes the first adult-like
    one that has it (see guess_ladder); unknown sizes come last, in natural order (9 before 10).

    >>> sorted(["10", "2XL", "S", "9", "XL"], key=size_sort_key)
    ['S', 'XL', '2XL', '9', '10']
    """
    home = ladder if ladder is not None else guess_ladder(size, ladders)
    try:
        if home is not None:
            place = home.sizes.index(read_size(size, home))
            names = [each.name for each in ladders]
            rank = names.index(home.name) if home.name in names else len(names)
            return (rank, place, ())
    except ValueProblem:
        pass
    return (len(ladders) + 1, 0, _natural(size))


def _natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """Return a key that sorts numbers inside text by value."""
    parts = re.findall(r"\d+|\D+", text[:200].casefold(), re.ASCII)
    return tuple((0, int(part), "") if part[0] in "0123456789" else (1, 0, part) for part in parts)
