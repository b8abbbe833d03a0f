"""What a sales export's SKUs and titles are in our SKUs, and which of its rows are no goods."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from ledger.errors import ValueProblem
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.sales_profile import BESIDE, SalesProfile, SkuPattern
from ledger.intake.table import Record

_LOOKED_AT = ("title", "sku", "type", "variant")


def full_title(title: str, variant: str) -> str:
    """Return title and variant as one text, the way aliases and patterns see them.

    >>> full_title("Fox  tee", "Black, M"), full_title("", "Black, M")
    ('Fox tee | Black, M', 'Black, M')
    """
    return BESIDE.join(" ".join(part.split()) for part in (title, variant) if part.strip())


class UnknownName(ValueProblem):
    """A name that is none of ours: the file's SKU (``is_code``) or its title and variant.

    ``text`` is all that the row says of it, for looking for what comes near.
    """

    def __init__(self, word: str, *, is_code: bool, text: str) -> None:
        self.word, self.is_code, self.text = word, is_code, text
        super().__init__(f"{quoted(word)} is not known.")


class SkuWords:
    """The profile's aliases, patterns and codes, and the book's; each different text is worked out once.

    ``learned`` are the names that the book knows of the channel, by folded word, ``own`` its SKUs by
    folded SKU; ``own`` is None where no book is at hand, and the file's own SKU is then believed.
    ``by_words`` returns the item that a title names by its style, colour and size.
    """

    def __init__(
        self,
        profile: SalesProfile,
        learned: Mapping[str, str] | None = None,
        own: Mapping[str, str] | None = None,
        by_words: Callable[[str], str] = lambda _: "",
    ) -> None:
        self._aliases = profile.aliases
        self._learned = learned or {}
        self._own = own
        self._by_words = by_words
        self._patterns = [(pattern, pattern.matcher()) for pattern in profile.patterns]
        self._codes = profile.codes
        self._known: dict[tuple[str, str, str], str] = {}

    def sku(self, sku: str, title: str, variant: str) -> str:
        """Return our SKU: by the profile's aliases and patterns, by the book's names, else the file's own.

        Raises UnknownName where the book has no such item, ValueProblem where nothing says what was sold
        or a pattern meets a word without a code.
        """
        key = (sku, title, variant)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self._find(*key)
        return known

    def _find(self, sku: str, title: str, variant: str) -> str:
        full = full_title(title, variant)
        told = self._told(sku, full)
        if told:
            if not self._ours(told):
                raise ValueProblem(
                    f"{quoted(sku or full)} is {told} by the profile, and the book has no such item. Mend the "
                    "profile, or add it: blankbook items load FILE."
                )
            return self._ours(told)
        own = self._ours(sku)
        # A SKU of ours that stands in the file says more than what its title was once learned to be.
        learned = self._learned.get(fold(sku), "") or ("" if own else self._learned.get(fold(full), ""))
        if learned or own:
            return learned or own
        if not sku and not full:
            raise ValueProblem("nothing says what was sold: fill in the SKU or the title.")
        named = "" if sku else self._by_words(full)
        if named:
            return named
        raise UnknownName(sku or full, is_code=bool(sku), text=f"{sku} {full}".strip())

    def _told(self, sku: str, full: str) -> str:
        """Return the SKU that the profile gives, '' where it says nothing."""
        for text in (sku, full):
            if fold(text) in self._aliases:
                return self._aliases[fold(text)]
        for text in (full, sku):
            for pattern, matcher in self._patterns:
                match = matcher.fullmatch(text) if text else None
                if match is not None:
                    return self._filled(pattern, match)
        return ""

    def _ours(self, sku: str) -> str:
        """Return a SKU as the book writes it, '' where the book has none like it."""
        return sku if self._own is None else self._own.get(fold(sku), "")

    def _filled(self, pattern: SkuPattern, match: re.Match[str]) -> str:
        made = pattern.sku
        for part, word in match.groupdict().items():
            code = word.strip()
            if part in self._codes and f"{{{part}}}" in pattern.sku:
                codes = self._codes[part]
                if fold(word) not in codes:
                    raise ValueProblem(
                        f"{quoted(match.string)}: the {part} {quoted(word)} has no code. Add it under "
                        f"[sku.{part}] in the profile. {did_you_mean(word, codes)}".rstrip()
                    )
                code = codes[fold(word)]
            made = made.replace(f"{{{part}}}", code)
        return made


class SetAside:
    """The profile's rules for rows that are no goods."""

    def __init__(self, profile: SalesProfile) -> None:
        self._words = [
            # A rule for a label also means several: 'Shipping labels'.
            (word, re.compile(rf"(?<!\w){_loosely(word)}s?(?!\w)", re.IGNORECASE))
            for word in profile.set_aside_words
        ]
        self._patterns = [
            (pattern, re.compile(".*".join(map(_loosely, pattern.split("*"))), re.IGNORECASE | re.DOTALL))
            for pattern in profile.set_aside_patterns
        ]
        self._types = {word for word, meaning in profile.types.items() if meaning == "set aside"}

    def rule(self, record: Record) -> str:
        """Return the rule that sets a row aside, as it stands in the profile; '' where it is goods."""
        if self._types and fold(record.text("type")) in self._types:
            return record.text("type")
        texts = [text for name in _LOOKED_AT if (text := record.text(name))]
        for word, matcher in self._words:
            if any(matcher.search(text) for text in texts):
                return word
        for pattern, matcher in self._patterns:
            if any(matcher.fullmatch(text) for text in texts):
                return pattern
        return ""


def _loosely(text: str) -> str:
    return re.escape(" ".join(text.split()) if text.strip() else text).replace(r"\ ", r"\s+")
