"""Writing a profile as the TOML text that reads back as the same profile, with comments for its owner."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from ledger.intake.profile import Profile
from ledger.intake.proposal import Proposal

_BARE = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-")
_COMMENT_AT = 40

UNDECIDED = "?"
"""What stands for a habit that is still to be asked: no profile with it can be read."""


def profile_text(
    profile: Profile,
    *,
    head: Iterable[str] = (),
    comments: Mapping[str, str] | None = None,
    undecided: Iterable[str] = (),
) -> str:
    """Return the profile as TOML text.

    Arguments:
        profile: what is written; its ``source`` is not.
        head: lines of comment at the top.
        comments: a comment for a column, by its name.
        undecided: 'date_order' or 'decimal_comma' where it is still to be asked.
    """
    open_habits = set(undecided)
    said = comments or {}
    lines = [f"# {_one_line(line)}" for line in head]
    lines.append(f"name = {toml_value(profile.name)}")
    lines += [
        f"{key} = {toml_value(value)}" for key in ("party", "currency") if (value := getattr(profile, key))
    ]
    lines += _section("file", _file(profile))
    lines += _section(
        "numbers",
        {
            "decimal_comma": toml_value(UNDECIDED)
            if "decimal_comma" in open_habits
            else toml_value(profile.decimal_comma),
            "date_order": toml_value(UNDECIDED if "date_order" in open_habits else profile.date_order),
            "percent_as": toml_value(profile.percent_as),
        },
        {"date_order": "or another order of day, month and year", "decimal_comma": "4,10 or 4.10"},
    )
    columns = {name: _texts(headings) for name, headings in profile.columns.items()}
    lines += _section("columns", columns, said, "what a column is = its heading, or its place: column F")
    if profile.sizes_across:
        sizes = {"sizes": _texts(profile.sizes_across, always=True)}
        lines += _section("sizes_across", sizes, {}, "the headings of the columns that hold one size each")
    lines += _section(
        "prices", {"per": toml_value(profile.price_per)}, {"per": "unit, piece, dozen or hundred"}
    )
    surcharges = {size: toml_value(_decimal(amount)) for size, amount in profile.surcharges.items()}
    lines += _section("prices.surcharges", surcharges, {}, "added per piece for a size")
    defaults = {
        "unit": profile.default_unit,
        "tax_paid": profile.default_tax_paid,
        "losses_in": profile.losses_in,
    }
    lines += _section("defaults", {key: toml_value(value) for key, value in defaults.items() if value})
    note = "an item = what its quantities count in a row that names no unit"
    lines += _section("defaults.units", _strings(profile.units_by_item), {}, note)
    lines += _section("packs", _strings(profile.packs), {}, "the file's unit word = what one holds")
    for size, packs in profile.packs_by_size.items():
        lines += ["", f"[packs_by_size.{key_text(size)}]", *_entries(_strings(packs))]
    lines += _skus(profile)
    lines += _items(profile)
    lines += _section("head", _strings(profile.head), {}, "the value stands beside this label, or: cell B2")
    lines += _section("foot", _strings(profile.foot), {}, "the row's label = what its amount is")
    if profile.not_read:
        left = {"columns": _texts(profile.not_read, always=True)}
        lines += _section("not_read", left, {}, "columns that are left out; any other new one is asked about")
    return "\n".join(lines) + "\n"


def proposal_text(proposal: Proposal) -> str:
    """Return a proposed profile as TOML text, with the reason for each column and what is still open."""
    head = ["How this layout is read. Proposed by Blankbook; every line may be changed."]
    head += [f"Still to be answered: {question.text}" for question in proposal.questions]
    comments = {each.meaning: each.why for each in proposal.columns if each.meaning}
    subjects = {"date order": "date_order", "decimal sign": "decimal_comma"}
    undecided = [subjects[each.subject] for each in proposal.questions if each.subject in subjects]
    return profile_text(proposal.profile, head=head, comments=comments, undecided=undecided)


def toml_value(value: Any) -> str:
    r"""Return a text, boolean, whole number or list of texts as TOML has it.

    JSON writes them alike, but for the delete character.

    >>> print(toml_value('12" roll'), toml_value(["S", "M"]))
    "12\" roll" ["S", "M"]
    """
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def key_text(key: str) -> str:
    """Return a TOML key: bare where it may be, else quoted."""
    return key if key and set(key) <= _BARE else toml_value(key)


def _one_line(line: str) -> str:
    return "".join(char if char.isprintable() else " " for char in line)


def _decimal(amount: Fraction) -> str:
    return format(Decimal(amount.numerator) / Decimal(amount.denominator), "f")


def _texts(values: tuple[str, ...], *, always: bool = False) -> str:
    if len(values) == 1 and not always:
        return toml_value(values[0])
    return toml_value(values)


def _strings(table: Mapping[str, str]) -> dict[str, str]:
    return {key: toml_value(value) for key, value in table.items()}


def _section(
    name: str, entries: Mapping[str, str], comments: Mapping[str, str] | None = None, note: str = ""
) -> list[str]:
    if not entries:
        return []
    header = f"[{name}]"
    return ["", f"{header:<{_COMMENT_AT}} # {note}" if note else header, *_entries(entries, comments)]


def _entries(entries: Mapping[str, str], comments: Mapping[str, str] | None = None) -> list[str]:
    lines = []
    for key, value in entries.items():
        line = f"{key_text(key)} = {value}"
        comment = (comments or {}).get(key, "")
        lines.append(f"{line:<{_COMMENT_AT}} # {_one_line(comment)}" if comment else line)
    return lines


def _file(profile: Profile) -> dict[str, str]:
    entries = {}
    if profile.sheet:
        entries["sheet"] = toml_value(profile.sheet)
    if profile.header_row is not None:
        entries["header_row"] = str(profile.header_row)
    if profile.heading_rows != 1:
        entries["heading_rows"] = str(profile.heading_rows)
    return entries


def _skus(profile: Profile) -> list[str]:
    lines = _section("sku", {"pattern": toml_value(profile.sku_pattern)} if profile.sku_pattern else {})
    for part, words in profile.aliases.items():
        lines += ["", f"[sku.{part}]", *_entries(_strings(words))]
    return lines


def _items(profile: Profile) -> list[str]:
    note = "what an SKU becomes that the book does not know; without it such an SKU is refused"
    lines = _section("items", _strings(profile.new_item), {}, note)
    for code, fields in profile.new_item_by_code.items():
        lines += ["", f"[items.by_code.{key_text(code)}]", *_entries(_strings(fields))]
    return lines
