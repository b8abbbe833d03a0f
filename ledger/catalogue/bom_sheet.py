"""The sheet of bills of materials: one row as the parts it states, rows of one bill as the bill."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import Any, TypeVar

from ledger.catalogue._words import fold, quoted, suggestion
from ledger.catalogue.bom_checks import MOST_WASTE_PERCENT, check_amount
from ledger.catalogue.boms import LEAST_POLYESTER_PERCENT, WAYS, Bill, BillLine
from ledger.catalogue.item_sheet import CellProblem
from ledger.catalogue.items import LONGEST_NAME, read_colours, read_sku
from ledger.errors import ValueProblem
from ledger.exact.numbers import read_decimal

BOM_COLUMNS: Mapping[str, str] = MappingProxyType(
    {
        "bill": "The bill's code, the style of what it makes. Empty: the bill of the row above.",
        "name": "What the design is called. Only in the bill's first row, like all up to finished.",
        "way": f"How it is decorated: {'; '.join(WAYS)}.",
        "blank": "The style, or one SKU, it is made from; all colours and sizes of a style. Empty: the customer's own.",
        "finished": "The SKU of what is made: FOX-{colour}-{size}, or FOX-{blank}. Empty: code and {blank}.",
        "sku": "One thing it uses beside the blank.",
        "per_piece": "How much of it one piece uses, in the unit beside it.",
        "per_run": "How much a whole run uses, however many pieces it has.",
        "unit": "A unit or a pack of the item: mL, g, sheet, in2 … Empty: what it is counted in.",
        "waste": "What is lost on top, in percent: 15. Weeding, offcuts, flushing.",
        "uses": "For a tool: how many uses it lasts. A piece or run then costs its part of one.",
        "colours": "Only for blanks of these colours, with ; between. Empty: for all.",
        "misprints": "Share of misprints to plan for, in percent: 3. It plans only.",
        "labour_per_piece": "What is paid to others for a piece, never your own work.",
        "labour_per_run": "What is paid to others for a run.",
        "least_polyester": "Least share of polyester in percent. Empty: 65 for sublimation. 0: none.",
        "light_only": "yes: only on light cloth. Empty: yes for sublimation.",
        "note": "Anything else; beside an sku it belongs to the line.",
    }
)
"""The columns of the bills sheet in order, each with what the maker is told about it."""

REQUIRED_COLUMNS = ("bill", "name", "way", "sku")

HEAD_COLUMNS: Mapping[str, str] = MappingProxyType(
    {
        "name": "name",
        "way": "way",
        "blank": "blank",
        "finished": "finished",
        "misprint_percent": "misprints",
        "labour_per_piece": "labour_per_piece",
        "labour_per_run": "labour_per_run",
        "least_polyester_percent": "least_polyester",
        "light_only": "light_only",
        "note": "note",
    }
)
"""A bill's own fields, each with the column that says it."""

_ALIASES = {
    "bill of materials": "bill",
    "bill code": "bill",
    "recipe": "bill",
    "design": "name",
    "style": "blank",
    "item": "sku",
    "material": "sku",
    "amount per piece": "per_piece",
    "amount per run": "per_run",
    "waste %": "waste",
    "waste percent": "waste",
    "misprints %": "misprints",
    "misprint rate": "misprints",
    "colors": "colours",
    "color": "colours",
    "colour": "colours",
    "labor per piece": "labour_per_piece",
    "labor per run": "labour_per_run",
    "notes": "note",
}


def _words(header: str) -> str:
    return fold(header.replace("_", " "))


_BY_HEADER = {_words(name): name for name in BOM_COLUMNS} | _ALIASES


def read_bom_header(text: str) -> str | None:
    """Return the bills sheet's column that a header cell names, or None where it names none.

    >>> read_bom_header("Per piece"), read_bom_header("Labor per run"), read_bom_header("shelf")
    ('per_piece', 'labour_per_run', None)
    """
    return _BY_HEADER.get(_words(text))


@dataclass(frozen=True)
class BillRow:
    """What one row states: the bill's own fields that are filled in, and a line where it has one.

    ``code`` is empty where the row goes on with the bill above.
    """

    code: str = ""
    head: Mapping[str, Any] = field(default_factory=dict)
    line: BillLine | None = None
    problems: tuple[CellProblem, ...] = ()


@dataclass(frozen=True)
class RowProblem:
    """One thing wrong with a bill's rows taken together: the row counted from 0, the column, what."""

    row: int
    column: str
    what: str


@dataclass(frozen=True)
class BillParts:
    """The bill that its rows make; with problems, what could be read of it."""

    bill: Bill
    problems: tuple[RowProblem, ...] = ()


Value = TypeVar("Value")


class _Row:
    """The cells of one row, read one by one while problems are collected."""

    def __init__(self, cells: Mapping[str, str]) -> None:
        self._cells = cells
        self.problems: list[CellProblem] = []

    def text(self, column: str) -> str:
        return self._cells.get(column, "").strip()

    def read(self, column: str, reader: Callable[[str], Value]) -> Value | None:
        """Return the cell as ``reader`` understands it, None where it is empty or wrong."""
        if not self.text(column):
            return None
        try:
            return reader(self.text(column))
        except ValueProblem as problem:
            self.problems.append(CellProblem(column, str(problem)))
            return None


def row_parts(cells: Mapping[str, str]) -> BillRow:
    """Return what one row of the sheet states, with every problem in it.

    ``cells`` maps the columns of BOM_COLUMNS to trimmed text; absent columns are empty.
    """
    row = _Row(cells)
    code = row.read("bill", read_sku) or ""
    head = {
        name: value
        for name, column in HEAD_COLUMNS.items()
        if (value := row.read(column, _HEAD_READERS[name])) is not None
    }
    line = _line(row)
    if row.text("sku"):
        head.pop("note", None)
    return BillRow(code, head, line, tuple(row.problems))


def _line(row: _Row) -> BillLine | None:
    """Return the row's line; None where it has none, or one with a fault."""
    before = len(row.problems)
    sku = row.read("sku", read_sku)
    per_piece = row.read("per_piece", _amount("amount per piece"))
    per_run = row.read("per_run", _amount("amount per run"))
    waste = row.read("waste", _percent)
    uses = row.read("uses", _uses)
    colours = row.read("colours", lambda text: tuple(colour.name for colour in read_colours(text)))
    if not row.text("sku"):
        stray = [
            name for name in ("per_piece", "per_run", "unit", "waste", "uses", "colours") if row.text(name)
        ]
        if stray:
            row.problems.append(CellProblem("sku", f"the sku is empty: say what {stray[0]} is of."))
        return None
    if len(row.problems) == before and not per_piece and not per_run:
        row.problems.append(
            CellProblem("per_piece", f"of {sku} nothing is used: write an amount per piece or per run.")
        )
    if len(row.problems) > before:
        return None
    return BillLine(
        sku=sku or "",
        per_piece=per_piece or Fraction(0),
        per_run=per_run or Fraction(0),
        unit=row.text("unit"),
        waste_percent=waste or Fraction(0),
        uses=uses,
        colours=colours or (),
        note=row.text("note"),
    )


def bill_from_rows(code: str, rows: Sequence[BillRow]) -> BillParts:
    """Return the bill that its rows make; its own fields may stand in any of them, but say one thing.

    Name and way are needed. Empty fields take what is usual for the way (see BOM_COLUMNS).
    """
    head: dict[str, Any] = {}
    problems: list[RowProblem] = []
    for place, row in enumerate(rows):
        for name, value in row.head.items():
            if head.setdefault(name, value) != value:
                said = f"the bill {code} has another {HEAD_COLUMNS[name]} in a row above: write it once."
                problems.append(RowProblem(place, HEAD_COLUMNS[name], said))
    wrong = {problem.column for row in rows for problem in row.problems}
    for name, advice in (("name", "say what the design is called"), ("way", f"use one of {'; '.join(WAYS)}")):
        if name not in head and name not in wrong:
            problems.append(RowProblem(0, name, f"the {name} of the bill {code} is empty: {advice}."))
    way = head.get("way", "")
    is_sublimation = way.startswith("sublimation")
    least = head.get("least_polyester_percent", LEAST_POLYESTER_PERCENT if is_sublimation else 0)
    blank = head.get("blank", "")
    bill = Bill(
        code=code,
        name=head.get("name", ""),
        way=way,
        blank=blank,
        finished=head.get("finished") or (f"{code}-{{blank}}" if blank else code),
        lines=tuple(row.line for row in rows if row.line is not None),
        misprint_percent=head.get("misprint_percent", Fraction(0)),
        labour_per_piece=head.get("labour_per_piece", Decimal(0)),
        labour_per_run=head.get("labour_per_run", Decimal(0)),
        least_polyester_percent=least or None,
        light_only=head.get("light_only", is_sublimation),
        note=head.get("note", ""),
    )
    return BillParts(bill, tuple(problems))


def read_way(text: str) -> str:
    """Return the way of decorating that the text names, with or without its comma.

    Raises ValueProblem for another, with the nearest ones.
    """
    for way in WAYS:
        if fold(text.replace(",", " ")) == fold(way.replace(",", " ")):
            return way
    raise ValueProblem(
        f"{quoted(text)} is not a way of decorating: use {'; '.join(WAYS)}.{suggestion(text, WAYS)}"
    )


def _name(text: str) -> str:
    name = " ".join(text.split())
    if len(name) > LONGEST_NAME:
        raise ValueProblem(f"the name has {len(name)} characters: {LONGEST_NAME} at most.")
    return name


def _amount(what: str) -> Callable[[str], Fraction]:
    def read(text: str) -> Fraction:
        value = read_decimal(text, what="an amount")
        check_amount(value, what)
        return value

    return read


def _labour(text: str) -> Decimal:
    check_amount(read_decimal(text, what="an amount of money"), "paid labour")
    return Decimal(text.strip()).normalize() + 0


def _percent(text: str) -> Fraction:
    has_sign = text.endswith("%")
    value = read_decimal(text.removesuffix("%").strip(), what="percentage")
    if not has_sign and 0 < value < 1:
        # A spreadsheet keeps 15% as 0.15.
        raise ValueProblem(
            f"{quoted(text)}: write 15 for fifteen percent; where you mean less than one, write its sign: 0.5%."
        )
    if not 0 <= value <= MOST_WASTE_PERCENT:
        raise ValueProblem(f"{quoted(text)} is not a percentage from 0 to 100.")
    if (value * 1000).denominator != 1:
        raise ValueProblem(f"{quoted(text)} has more than three decimals: round it.")
    return value


def _misprints(text: str) -> Fraction:
    value = _percent(text)
    if value == MOST_WASTE_PERCENT:
        raise ValueProblem("a misprint rate of 100 percent leaves no good piece: check it.")
    return value


def _uses(text: str) -> int:
    value = read_decimal(text, what="number of uses")
    if value.denominator != 1 or not 1 <= value <= 1_000_000:  # noqa: PLR2004  (a million presses)
        raise ValueProblem(f"{quoted(text)} is not a number of uses: write a whole number from 1.")
    return int(value)


def _polyester(text: str) -> int:
    value = _percent(text)
    if value.denominator != 1:
        raise ValueProblem(f"{quoted(text)}: write the least share of polyester in whole percent.")
    return int(value)


def _yes_or_no(text: str) -> bool:
    word = fold(text)
    if word in {"yes", "y", "true", "1"}:
        return True
    if word in {"no", "n", "false", "0"}:
        return False
    raise ValueProblem(f"{quoted(text)} is neither yes nor no.")


_HEAD_READERS: Mapping[str, Callable[[str], Any]] = {
    "name": _name,
    "way": read_way,
    "blank": lambda text: " ".join(text.split()),
    "finished": lambda text: "".join(text.split()),
    "misprint_percent": _misprints,
    "labour_per_piece": _labour,
    "labour_per_run": _labour,
    "least_polyester_percent": _polyester,
    "light_only": _yes_or_no,
    "note": str.strip,
}
