"""Charges typed as words: ``freight 182.40 by weight``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from ledger.costing.landed import BASES, CHARGE_KINDS
from ledger.errors import ValueProblem
from ledger.exact.currencies import EXPONENTS, read_currency
from ledger.exact.numbers import read_decimal
from ledger.intake.nearest import did_you_mean, quoted

DEFAULT_BASIS = "value"
EXAMPLE = "freight 182.40 by weight"
LONGEST_TEXT = 300
MAX_CHARGE = Fraction(10**9)
MAX_PERCENT = 1000
_CURRENCY_LETTERS = 3
_MOST_DECIMALS = 40

# 'entry fee' and 'entry_fee' are the same word.
_TWO_WORDS = {kind.replace("_", " "): kind for kind in CHARGE_KINDS if "_" in kind}
_CLAUSES = ("by", "on", "min", "max", "ref", "from")


@dataclass(frozen=True)
class ChargeWords:
    """A charge as it was typed.

    Either ``amount`` in units of ``currency`` ('' is the book's currency), or ``percent`` of the
    lines' value with an optional ``minimum`` and ``maximum`` in the same currency. All are above
    zero as typed, also for a discount, which lowers cost. ``only`` holds SKUs the charge is for, each
    perhaps with ``*``; empty means every line. ``party`` is who bills it, ``reference`` the bill's
    number, ``where`` the place it was typed.
    """

    kind: str
    amount: Fraction | None = None
    percent: Fraction | None = None
    minimum: Fraction | None = None
    maximum: Fraction | None = None
    basis: str = DEFAULT_BASIS
    currency: str = ""
    only: tuple[str, ...] = ()
    reference: str = ""
    party: str = ""
    where: str = ""

    @property
    def lowers_cost(self) -> bool:
        """Whether the amount, typed positive, is taken off."""
        return self.kind == "discount"

    def applies_to(self, sku: str) -> bool:
        """Whether a line of this SKU bears the charge.

        >>> read_charge("duty 12.40 on TEE-*").applies_to("TEE-BLK-M")
        True
        """
        return not self.only or any(_matches(pattern, sku) for pattern in self.only)

    def __str__(self) -> str:
        """The words that read back as this charge."""
        words = [self.kind]
        if self.percent is not None:
            words.append(f"{_decimal(self.percent)}%")
        if self.amount is not None:
            words.append(_decimal(self.amount))
        if self.currency:
            words.append(self.currency)
        for name, limit in (("min", self.minimum), ("max", self.maximum)):
            if limit is not None:
                words += [name, _decimal(limit)]
        words += ["by", self.basis]
        if self.only:
            words += ["on", ", ".join(self.only)]
        if self.party:
            words += ["from", _quote(self.party)]
        if self.reference:
            words += ["ref", _quote(self.reference)]
        return " ".join(words)


def read_charge(
    text: str, where: str = "", *, amount: Fraction | None = None, currency: str = ""
) -> ChargeWords:
    """Return the charge that words like ``freight 182.40 by weight`` name.

    The words are: the kind; an amount, perhaps with a currency (``900 CNY``), or a percentage
    (``14.9%``) perhaps with ``min 33.58`` and ``max 651.50``; then in any order ``by`` value,
    quantity, weight or volume (value where nothing is said); ``on`` one or more SKUs with commas
    between, ``*`` for any letters; ``from`` who bills it; ``ref`` the bill's number. Names with
    blanks stand in double quotes, or run to the next of these words.

    ``amount`` is given where it stands elsewhere, in a cell of the file; the words then hold none.
    ``currency`` is what an amount without one is in.

    >>> read_charge("entry_fee 0.3464% min 33.58 max 651.50").maximum
    Fraction(1303, 2)

    Raises ValueProblem saying what is wrong and how it is written.
    """
    if len(text) > LONGEST_TEXT:
        raise ValueProblem(f"a charge of {len(text)} characters is too long: write it like {EXAMPLE}.")
    tokens = re.findall(r'"[^"]*"|[^\s",]+|,|"', text)
    if not tokens:
        raise ValueProblem(f"there is no charge: write it like {EXAMPLE}.")
    kind, rest = _kind(tokens, text)
    head, clauses = _split(rest, text)
    percent: Fraction | None = None
    if amount is None:
        amount, percent, currency = _amount(head, text, currency)
    elif head:
        raise ValueProblem(
            f"{quoted(text)}: the amount stands in the file, so {quoted(' '.join(head))} has no place here."
        )
    minimum, maximum = _limits(clauses, percent, text)
    charge = ChargeWords(
        kind=kind,
        amount=None if amount is None else _bounded(amount, text),
        percent=percent,
        minimum=minimum,
        maximum=maximum,
        basis=_basis(clauses, text),
        currency=currency,
        only=_patterns(clauses, text),
        reference=_name("ref", clauses, text),
        party=_name("from", clauses, text),
        where=where,
    )
    _check_decimals(charge, text)
    return charge


def _kind(tokens: list[str], text: str) -> tuple[str, list[str]]:
    pair = " ".join(tokens[:2]).casefold()
    if pair in _TWO_WORDS:
        return _TWO_WORDS[pair], tokens[2:]
    word = tokens[0].casefold()
    if word not in CHARGE_KINDS:
        raise ValueProblem(
            f"{quoted(text)}: {quoted(tokens[0])} is not a kind of charge. "
            f"{did_you_mean(tokens[0], CHARGE_KINDS)} Write it like {EXAMPLE}."
        )
    return word, tokens[1:]


def _split(tokens: list[str], text: str) -> tuple[list[str], dict[str, list[str]]]:
    """Return the words before the first clause, and each clause's words."""
    head: list[str] = []
    clauses: dict[str, list[str]] = {}
    target = head
    for token in tokens:
        word = token.casefold()
        if word not in _CLAUSES:
            target.append(token)
            continue
        if word in clauses:
            raise ValueProblem(f"{quoted(text)}: {quoted(word)} stands twice.")
        target = clauses.setdefault(word, [])
    return head, clauses


def _amount(head: list[str], text: str, currency: str) -> tuple[Fraction | None, Fraction | None, str]:
    """Return (amount, percentage, currency) of the words between the kind and the first clause."""
    words = list(head)
    if len(words) > 1 and words[1] == "%":
        words[:2] = [f"{words[0]}%"]
    if not words:
        raise ValueProblem(f"{quoted(text)} has no amount: write it like {EXAMPLE}, or like duty 14.9%.")
    number, *others = words
    if others and len(others[0]) == _CURRENCY_LETTERS and others[0].isalpha():
        currency = read_currency(others.pop(0))
    if others:
        raise ValueProblem(
            f"{quoted(text)}: {quoted(' '.join(others))} is not understood. Write it like {EXAMPLE}; "
            "after the amount come by, on, min, max, from, ref."
        )
    if not number.endswith("%"):
        return _positive(number, text), None, currency
    percent = _positive(number.removesuffix("%"), text)
    if percent > MAX_PERCENT:
        raise ValueProblem(f"{quoted(text)}: {number} is more than {MAX_PERCENT}%; check the decimal point.")
    return None, percent, currency


def _positive(number: str, text: str) -> Fraction:
    try:
        value = read_decimal(number, what="number")
    except ValueProblem as problem:
        raise ValueProblem(f"{quoted(text)}: {problem}") from problem
    if value <= 0:
        raise ValueProblem(
            f"{quoted(text)}: {number} is not above zero. Amounts are typed positive; what lowers the cost "
            "is a discount, like discount 20."
        )
    return value


def _bounded(amount: Fraction, text: str) -> Fraction:
    if amount > MAX_CHARGE:
        raise ValueProblem(f"{quoted(text)}: the amount is far too large; check the decimal point.")
    return amount


def _limits(
    clauses: dict[str, list[str]], percent: Fraction | None, text: str
) -> tuple[Fraction | None, Fraction | None]:
    """Return the least and the most that a percentage may come to."""
    limits: dict[str, Fraction] = {}
    for name in ("min", "max"):
        if name not in clauses:
            continue
        words = clauses[name]
        if len(words) != 1:
            raise ValueProblem(f"{quoted(text)}: after {name} stands one amount, like {name} 33.58.")
        if percent is None:
            raise ValueProblem(
                f"{quoted(text)}: {name} belongs to a percentage, like duty 14.9% {name} 33.58."
            )
        limits[name] = _bounded(_positive(words[0], text), text)
    minimum, maximum = limits.get("min"), limits.get("max")
    if minimum is not None and maximum is not None and minimum > maximum:
        raise ValueProblem(f"{quoted(text)}: min {clauses['min'][0]} is above max {clauses['max'][0]}.")
    return minimum, maximum


def _basis(clauses: dict[str, list[str]], text: str) -> str:
    if "by" not in clauses:
        return DEFAULT_BASIS
    words = " ".join(clauses["by"])
    if words.casefold() not in BASES:
        raise ValueProblem(
            f"{quoted(text)}: a charge is spread by {', '.join(BASES)}, not by {quoted(words)}."
        )
    return words.casefold()


def _patterns(clauses: dict[str, list[str]], text: str) -> tuple[str, ...]:
    if "on" not in clauses:
        return ()
    words = clauses["on"]
    patterns = [part.strip() for part in " ".join(words).split(",")]
    if not all(patterns) or any(" " in pattern or '"' in pattern for pattern in patterns):
        raise ValueProblem(
            f"{quoted(text)}: after on stand SKUs with commas between, like on TEE-*, HOOD-BLK-M."
        )
    return tuple(patterns)


def _name(clause: str, clauses: dict[str, list[str]], text: str) -> str:
    if clause not in clauses:
        return ""
    name = " ".join(word.strip('"') for word in clauses[clause]).replace(" ,", ",").strip()
    if not name or '"' in clauses[clause]:
        raise ValueProblem(
            f"{quoted(text)}: after {clause} stands a name, in double quotes where it has blanks."
        )
    return " ".join(name.split())


def _check_decimals(charge: ChargeWords, text: str) -> None:
    """Refuse an amount finer than its currency; the book's currency is checked where it is known."""
    if not charge.currency:
        return
    places = EXPONENTS[charge.currency]
    for value in (charge.amount, charge.minimum, charge.maximum):
        if value is not None and (value * 10**places).denominator != 1:
            raise ValueProblem(
                f"{quoted(text)} has more than {places} decimals, the most {charge.currency} has."
            )


def _matches(pattern: str, sku: str) -> bool:
    # Only the star has a meaning, so a SKU with a bracket or a dot is itself.
    parts = (re.escape(part) for part in pattern.casefold().split("*"))
    return re.fullmatch(".*".join(parts), sku.casefold()) is not None


def _decimal(value: Fraction) -> str:
    """Return an exact decimal number as text, without trailing zeros."""
    places = 0
    while (value * 10**places).denominator != 1 and places < _MOST_DECIMALS:
        places += 1
    digits = str(int(value * 10**places)).rjust(places + 1, "0")
    return digits if places == 0 else f"{digits[:-places]}.{digits[-places:]}"


def _quote(name: str) -> str:
    """Return a name in double quotes where it could be taken for anything but one word."""
    return f'"{name}"' if " " in name or "," in name or name.casefold() in _CLAUSES else name
