"""Reading TOML tables key by key while every problem in them is collected."""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.exact.currencies import read_currency
from ledger.intake.nearest import did_you_mean, quoted

MAX_PROFILE_BYTES = 1_000_000


def profile_tables(path: Path) -> dict[str, Any]:
    """Return the tables of a profile's file as they stand.

    Raises InputErrors where it cannot be read, is far too large, or is no TOML text.
    """
    try:
        content = path.read_bytes()
        if len(content) > MAX_PROFILE_BYTES:
            raise _unreadable(path, "the file is far too large for a profile.", "Check the name.")
        return tomllib.loads(content.decode("utf-8-sig"))
    except OSError as error:
        reason = error.strerror or "unreadable"
        raise _unreadable(path, f"{path} cannot be read: {reason}.", "Check the name.") from None
    except (ValueError, RecursionError) as error:
        # Not only of the text's form: Python refuses to read a whole number of thousands of digits.
        advice = "Mend it, or begin with a copy of a carried profile."
        raise _unreadable(path, f"this is no TOML text: {error}.", advice) from None


def _unreadable(path: Path, what: str, next_step: str) -> InputErrors:
    return InputErrors(path.name, [Problem("", what, next_step)])


class Table:
    """One table of a TOML file; a value that is wrong is noted and read as absent."""

    def __init__(self, where: str, content: Mapping[str, Any], problems: list[Problem]) -> None:
        self.where = where
        self._content = content
        self._problems = problems

    def note(self, key: str, what: str, next_step: str = "") -> None:
        """Note a problem with one key."""
        place = f"[{self.where}] {key}" if self.where else key
        self._problems.append(Problem(place.strip(), what, next_step))

    def known(self, keys: Collection[str]) -> None:
        """Note every key that is not one of these, with the nearest right one."""
        for key in self._content:
            if key not in keys:
                self.note(key, "this key is not known.", did_you_mean(key, keys))

    def keys(self) -> tuple[str, ...]:
        """Return the keys in the order they stand in the file."""
        return tuple(self._content)

    def has(self, key: str) -> bool:
        """Return whether the key is there."""
        return key in self._content

    def table(self, key: str) -> Table:
        """Return the table under a key, an empty one where it is absent or no table."""
        value = self._content.get(key, {})
        where = f"{self.where}.{key}" if self.where else key
        if not isinstance(value, dict):
            self.note(
                key,
                f"{quoted(str(value))} stands where a table should.",
                f"Write [{where}] and lines under it.",
            )
            value = {}
        return Table(where, value, self._problems)

    def raw(self, key: str, default: Any) -> Any:
        """Return what stands under a key as it is."""
        return self._content.get(key, default)

    def inner(self, name: str, content: Mapping[str, Any]) -> Table:
        """Return a table that stands in a list, under the name it is shown by."""
        return Table(f"{self.where}.{name}" if self.where else name, content, self._problems)

    def text(self, key: str, default: str = "") -> str:
        """Return a text; a whole number is taken as its digits."""
        value = self._content.get(key, default)
        if isinstance(value, str):
            return value.strip()
        if isinstance(value, int) and not isinstance(value, bool):
            return str(value)
        self.note(key, f"{quoted(str(value))} is no text.", "Put it in double quotes.")
        return default

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts; a single text is a list of one."""
        value = self._content.get(key, [])
        values = value if isinstance(value, list) else [value]
        good = [each.strip() for each in values if isinstance(each, str) and each.strip()]
        if len(good) != len(values):
            self.note(key, "only texts can stand here.", 'Write them like ["Colour", "Color"].')
        return tuple(good)

    def choice(self, key: str, choices: Collection[str], default: str) -> str:
        """Return one of the choices."""
        value = self.text(key, default)
        if value not in choices:
            self.note(key, f"{quoted(value)} is none of {', '.join(filter(None, choices))}.")
            return default
        return value

    def flag(self, key: str) -> bool:
        """Return true or false; absent is false."""
        value = self._content.get(key, False)
        if not isinstance(value, bool):
            self.note(
                key, f"{quoted(str(value))} is neither true nor false.", "Write true or false without quotes."
            )
            return False
        return value

    def row_number(self, key: str) -> int | None:
        """Return a row number from 1, or None where it is absent."""
        value = self._content.get(key)
        if value is None:
            return None
        if not isinstance(value, int) or isinstance(value, bool) or value < 1:
            self.note(key, f"{quoted(str(value))} is not a row number.", "Rows are whole numbers from 1.")
            return None
        return value

    def currency(self, key: str) -> str:
        """Return an ISO 4217 code, or an empty text where it is absent."""
        value = self.text(key)
        try:
            return read_currency(value) if value else ""
        except ValueProblem as problem:
            self.note(key, str(problem))
            return ""

    def mapping(self, key: str) -> dict[str, str]:
        """Return a table of texts."""
        table = self.table(key)
        return {each: table.text(each) for each in table.keys()}  # noqa: SIM118 - no dict
