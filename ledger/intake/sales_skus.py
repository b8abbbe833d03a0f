"""What a sales export's SKUs and titles are in our SKUs, and which of its rows are no goods."""

from __future__ import annotations

import re
from collections.abc import Mapping

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


class SkuWords:
    """The profile's aliases, patterns and codes; each different text is worked out once.

    ``learned`` are aliases from elsewhere, as in the profile; the profile's come first.
    """

    def __init__(self, profile: SalesProfile, learned: Mapping[str, str] | None = None) -> None:
        self._aliases = {fold(word): sku for word, sku in (learned or {}).items()} | dict(profile.aliases)
        self._patterns = [(pattern, pattern.matcher()) for pattern in profile.patterns]
        self._codes = profile.codes
        self._known: dict[tuple[str, str, str], str] = {}

    def sku(self, sku: str, title: str, variant: str) -> str:
        """Return our SKU: by alias, then by pattern, else the file's own.

        Raises ValueProblem where there is none, or where a pattern meets a word without a code.
        """
        key = (sku, title, variant)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self._find(*key)
        return known

    def _find(self, sku: str, title: str, variant: str) -> str:
        full = full_title(title, variant)
        for text in (sku, full):
            if fold(text) in self._aliases:
                return self._aliases[fold(text)]
        for text in (full, sku):
            for pattern, matcher in self._patterns:
                match = matcher.fullmatch(text) if text else None
                if match is not None:
                    return self._filled(pattern, match)
        if sku:
            return sku
        if not full:
            raise ValueProblem("nothing says what was sold: fill in the SKU or the title.")
        near = did_you_mean(full, self._aliases) if self._aliases else ""
        raise ValueProblem(
            f"{quoted(full)} has no SKU. Add a line under [sku.aliases] in the profile, "
            f'"{full}" = "your SKU", or set such rows aside under [set_aside]. {near}'.rstrip()
        )

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
            (word, re.compile(rf"(?<!\w){_loosely(word)}(?!\w)", re.IGNORECASE))
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
