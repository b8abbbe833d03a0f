"""Writing a sales profile's tables as TOML text."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ledger.intake.write_profile import key_text, toml_value


def toml_text(tables: Mapping[str, Any]) -> str:
    """Return tables as TOML text that reads back the same: values, tables, tables in tables, lists of tables."""
    return "\n".join(_lines(tables, ())) + "\n"


def _lines(table: Mapping[str, Any], path: tuple[str, ...]) -> list[str]:
    inner = {name: value for name, value in table.items() if _is_table(value)}
    lines = [f"{key_text(key)} = {toml_value(value)}" for key, value in table.items() if key not in inner]
    for name, value in inner.items():
        deeper = (*path, name)
        title = ".".join(map(key_text, deeper))
        if isinstance(value, dict):
            below = _lines(value, deeper)
            has_own = not value or any(not _is_table(each) for each in value.values())
            lines += ["", f"[{title}]", *below] if has_own else below
        else:
            for each in value:
                lines += ["", f"[[{title}]]", *_lines(each, deeper)]
    return lines


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) or (
        isinstance(value, list) and bool(value) and all(isinstance(each, dict) for each in value)
    )
