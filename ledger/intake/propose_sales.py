"""Proposing a profile for a sales export nobody prepared for; what the file does not tell is asked."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ledger.errors import InputErrors
from ledger.intake.column_values import looks_like_date, number_of
from ledger.intake.heading_words import nearest_word, plain
from ledger.intake.nearest import fold, quoted
from ledger.intake.proposal import ColumnDecision, Decision, Question
from ledger.intake.records import MAX_HEADER_DEPTH
from ledger.intake.sales_cells import reads_in_two_ways
from ledger.intake.sales_profile import MINUS_COLUMNS, SalesProfile, read_sales_profile
from ledger.intake.table import Cell, Sheet, SourceFile, refusal

HEADINGS: Mapping[str, tuple[str, ...]] = {
    "date": (
        "date",
        "order date",
        "sold on",
        "sale date",
        "day",
        "created at",
        "paid on",
        "transaction date",
    ),
    "order": ("order", "order no", "order number", "order id", "sale number", "receipt number", "order ref"),
    "line": ("line", "line no", "line number", "line id", "item number", "position"),
    "type": ("type", "transaction type", "kind", "row type"),
    "sku": ("sku", "item code", "item sku", "product code", "article"),
    "title": (
        "title",
        "item",
        "product",
        "item name",
        "product name",
        "item title",
        "description",
        "listing",
    ),
    "variant": ("variant", "variation", "options", "option", "choice", "product options"),
    "pieces": ("pieces", "quantity", "qty", "items sold", "units", "quantity sold", "count"),
    "unit_price": ("unit price", "price", "item price", "price each", "each"),
    "item_total": (
        "item total",
        "net sales",
        "line total",
        "total without tax",
        "subtotal",
        "amount",
        "net",
        "sales",
    ),
    "tax": ("tax", "sales tax", "vat", "tax collected", "item tax"),
    "discount": ("discount", "discounts", "coupon", "discount amount", "price off"),
    "shipping": ("shipping", "shipping charged", "postage", "delivery", "shipping paid"),
    "fees": ("fees", "fee", "selling fee", "commission", "marketplace fee", "kept"),
    "other_fees": ("payment fee", "processing fee", "card fee", "transaction fee"),
    "refunded": ("refunded", "refund", "refund amount", "refunded amount", "given back", "amount refunded"),
    "refunded_on": ("refunded on", "refund date", "date refunded", "given back on"),
    "returned": ("returned", "returned pieces", "returned quantity", "came back", "items returned"),
    "currency": ("currency", "currency code"),
}
"""The words a sales export heads its columns with, by what the column is."""

TYPE_WORDS: Mapping[str, tuple[str, ...]] = {
    "sale": ("sale", "order", "sold", "purchase", "payment"),
    "refund": ("refund", "refunded", "money back", "partial refund"),
    "take back": ("return", "returned", "goods returned"),
    "set aside": (
        "fee",
        "payout",
        "label",
        "shipping label",
        "subscription",
        "tax",
        "deposit",
        "transfer",
        "listing fee",
    ),
}
NEAR = 80
_ENOUGH = 3
_MOST_ROWS = 200
_MOSTLY = Fraction(4, 5)
_DATES = ("date", "refunded_on")
_NUMBERS = (
    *("pieces", "unit_price", "item_total", "tax", "discount", "shipping", "fees", "other_fees"),
    "refunded",
)


@dataclass(frozen=True)
class SalesProposal:
    """A sales profile for an unknown layout, as TOML tables, with every decision and open question."""

    tables: Mapping[str, Any]
    sheet: Sheet
    header_index: int
    columns: tuple[ColumnDecision, ...]
    decisions: tuple[Decision, ...]
    questions: tuple[Question, ...] = ()

    def to_profile(self) -> SalesProfile:
        """Return the proposed profile. Raises InputErrors with what a person has to say first."""
        return read_sales_profile(self.tables, "proposal")

    def to_toml(self) -> str:
        """Return the profile as the text of a file to keep; open questions stand in it as comments."""
        asked = [f"# To be answered: {question}" for question in self.questions]
        return "\n".join([*asked, *_toml_lines(self.tables)]) + "\n"

    def asks(self, subject: str) -> bool:
        """Return whether a question about the subject is open."""
        return any(each.subject == subject for each in self.questions)


def propose_sales(file: SourceFile, *, party: str = "", currency: str = "") -> SalesProposal:
    """Return a proposed profile for a sales export, from its headings and its first rows.

    ``party`` is the channel's name, ``currency`` the book's, for a file that tells none.
    Raises InputErrors where no sheet has a row of headings of a sales export.
    """
    best = max(
        ((len(found), -index, sheet) for sheet in file.sheets for index, found in _headings(sheet)),
        key=lambda each: each[:2],
        default=None,
    )
    if best is None or best[0] < _ENOUGH:
        what = "no row of headings of a sales export: a date, an order, what was sold, its total."
        raise refusal(file.name, what, "Write a profile: begin with a copy of sales-one-row-per-item.toml.")
    return _Proposing(best[2], -best[1], party, currency).proposal()


def _headings(sheet: Sheet) -> list[tuple[int, dict[int, str]]]:
    """Return the rows that may be headings, with what each column comes nearest to."""
    depth = min(len(sheet.rows), MAX_HEADER_DEPTH)
    return [
        (index, {place: name for place, (name, _) in _meanings(sheet.rows[index]).items()})
        for index in range(depth)
    ]


def _meanings(row: Sequence[Cell]) -> dict[int, tuple[str, int]]:
    """Return what the columns of a row are by their headings, each meaning once, the nearest first."""
    scored = [
        (score, -place, name)
        for place, cell in enumerate(row)
        if isinstance(cell.value, str) and (text := plain(cell.text))
        for name, words in HEADINGS.items()
        if (score := nearest_word(text, words)[0]) >= NEAR
    ]
    found: dict[int, tuple[str, int]] = {}
    for score, minus_place, name in sorted(scored, reverse=True):
        if -minus_place not in found and all(name != other for other, _ in found.values()):
            found[-minus_place] = (name, score)
    return found


NO_GOODS = (
    "shipping label",
    "postage label",
    "subscription",
    "payout",
    "deposit",
    "gift card",
    "listing fee",
    "adjustment",
)
"""Words in the titles of rows that a sales channel mixes in among the goods."""


class _Proposing:
    """One sheet's proposal under way."""

    def __init__(self, sheet: Sheet, header_index: int, party: str, currency: str) -> None:
        self.sheet, self.header_index = sheet, header_index
        self.header = sheet.rows[header_index]
        self.rows = [
            sheet.rows[index]
            for index in range(header_index + 1, min(len(sheet.rows), header_index + _MOST_ROWS))
        ]
        self.places: dict[str, int] = {}
        self.columns: list[ColumnDecision] = []
        self.decisions: list[Decision] = []
        self.questions: list[Question] = []
        self.party, self.currency = party, currency
        self.comma = False

    def proposal(self) -> SalesProposal:
        """Return the proposal."""
        self._decide_columns()
        tables: dict[str, Any] = {"kind": "sales"}
        if self.party:
            tables["party"] = self.party
        if self.currency and "currency" not in self.places:
            tables["currency"] = self.currency
        tables["numbers"] = self._numbers()
        tables["columns"] = {name: self.header[place].text for name, place in self.places.items()}
        told = {"amounts": self._amounts(), "types": self._types()}
        tables |= {name: table for name, table in told.items() if table}
        words = self._words_of_no_goods()
        if words:
            tables["set_aside"] = {"words": words}
        self._ask_what_is_missing()
        return SalesProposal(
            tables=tables,
            sheet=self.sheet,
            header_index=self.header_index,
            columns=tuple(self.columns),
            decisions=tuple(self.decisions),
            questions=tuple(self.questions),
        )

    def _words_of_no_goods(self) -> list[str]:
        """Return the words by which rows are no goods: they stand in a title and there is no SKU."""
        if "title" not in self.places:
            return []
        title, sku = self.places["title"], self.places.get("sku")
        found: list[str] = []
        for row in self.rows:
            if title >= len(row) or (sku is not None and sku < len(row) and not row[sku].is_empty):
                continue
            text = fold(row[title].text)
            found.extend(word for word in NO_GOODS if word in text and word not in found)
        if found:
            self.decisions.append(
                Decision("set aside", ", ".join(found), 90, "their rows have no SKU: they are no goods")
            )
        return found

    def _cells(self, place: int) -> list[Cell]:
        return [row[place] for row in self.rows if place < len(row) and not row[place].is_empty]

    def _decide_columns(self) -> None:
        found = _meanings(self.header)
        self.comma = self._has_decimal_comma(found)
        for place, cell in enumerate(self.header):
            if cell.is_empty:
                continue
            name, score = found.get(place, ("", 0))
            values = self._cells(place)
            why = (
                f"the heading is near {quoted(name.replace('_', ' '))}"
                if name
                else "no heading of sales is near"
            )
            fault = self._unfit(name, values)
            if fault:
                name, score, why = "", 0, f"{why}, but {fault}"
            if name:
                self.places[name] = place
            example = values[0].text if values else ""
            self.columns.append(ColumnDecision(place, cell.text, name, min(score, 99), why, example))

    def _unfit(self, name: str, values: Sequence[Cell]) -> str:
        """Return why a column's values cannot be what its heading says, '' where they can."""
        if name in _DATES and sum(map(looks_like_date, values)) < _MOSTLY * len(values):
            return "it holds no dates"
        if name in _NUMBERS:
            numbers = sum(number_of(cell, decimal_comma=self.comma) is not None for cell in values)
            if numbers < _MOSTLY * len(values):
                return "it holds no numbers"
        return ""

    def _has_decimal_comma(self, found: Mapping[int, tuple[str, int]]) -> bool:
        texts = [
            cell
            for place, (name, _) in found.items()
            if name in _NUMBERS
            for cell in self._cells(place)
            if isinstance(cell.value, str)
        ]
        read = {
            sign: sum(number_of(cell, decimal_comma=sign) is not None for cell in texts)
            for sign in (False, True)
        }
        return read[True] > read[False]

    def _numbers(self) -> dict[str, Any]:
        taken = "a comma" if self.comma else "a point"
        self.decisions.append(Decision("decimal sign", taken, 90, "more numbers can be read so"))
        table: dict[str, Any] = {"decimal_comma": self.comma}
        dates = [cell for name in _DATES if name in self.places for cell in self._cells(self.places[name])]
        first = next((cell for cell in dates if reads_in_two_ways(cell)), None)
        if first is not None:
            answers = ('date_order = "day month year"', 'date_order = "month day year"')
            text = f"{quoted(first.text)} at {first.where} can be read in two ways: which comes first?"
            self.questions.append(Question("date order", text, answers))
        return table

    def _amounts(self) -> dict[str, Any]:
        table: dict[str, Any] = {}
        minus = [name for name in MINUS_COLUMNS if name in self.places and self._is_minus(name)]
        if minus:
            table["minus"] = minus
            self.decisions.append(Decision("minus", ", ".join(minus), 95, "every number there is below zero"))
        if "tax" in self.places:
            text = "Is the sales tax in the item total (then it is taken off), or apart from it?"
            self.questions.append(Question("tax", text, ('tax = "inside"', 'tax = "apart"')))
        if "discount" in self.places:
            habit = self._discount_habit()
            if habit:
                table["discount"] = habit
                self.decisions.append(Decision("discount", habit, 90, "pieces times unit price tell it"))
            else:
                text = "Is the discount taken off the item total already?"
                answers = ('discount = "taken off"', 'discount = "to take off"')
                self.questions.append(Question("discount", text, answers))
        return table

    def _is_minus(self, name: str) -> bool:
        numbers = [number_of(cell, decimal_comma=self.comma) for cell in self._cells(self.places[name])]
        there = [number for number in numbers if number]
        return bool(there) and all(number < 0 for number in there)

    def _discount_habit(self) -> str:
        """Return what pieces times unit price says of the discount, '' where it says nothing."""
        names = ("pieces", "unit_price", "item_total", "discount")
        if not all(name in self.places for name in names):
            return ""
        votes = {"taken off": 0, "to take off": 0}
        for row in self.rows:
            values = [
                number_of(row[place], decimal_comma=self.comma) if place < len(row) else None
                for place in (self.places[name] for name in names)
            ]
            if None in values or not values[3]:
                continue
            pieces, price, total, off = (value or Fraction(0) for value in values)
            votes["taken off"] += total == pieces * price - abs(off)
            votes["to take off"] += total == pieces * price
        sure = [habit for habit, count in votes.items() if count and count == sum(votes.values())]
        return sure[0] if sure else ""

    def _types(self) -> dict[str, str]:
        if "type" not in self.places:
            return {}
        table = {}
        for word in dict.fromkeys(cell.text for cell in self._cells(self.places["type"])):
            scores = {name: nearest_word(fold(word), words)[0] for name, words in TYPE_WORDS.items()}
            name = max(scores, key=lambda each: scores[each])
            if scores[name] >= NEAR:
                table[word] = name
                self.decisions.append(Decision(f"type {word}", name, scores[name], "the word is near it"))
            else:
                answers = tuple(f'"{word}" = "{each}"' for each in TYPE_WORDS)
                self.questions.append(
                    Question(f"type {word}", f"What are rows of the type {quoted(word)}?", answers)
                )
        return table

    def _ask_what_is_missing(self) -> None:
        headings = ", ".join(cell.text for cell in self.header if not cell.is_empty)
        for name in ("date", "order"):
            if name not in self.places:
                self.questions.append(
                    Question(name, f"Which column holds the {name}? There are: {headings}.")
                )
        if "sku" not in self.places and "title" not in self.places:
            self.questions.append(Question("sku", f"Which column says what was sold? There are: {headings}."))
        if "item_total" not in self.places and not {"unit_price", "pieces"} <= set(self.places):
            self.questions.append(
                Question("item total", f"Which column holds the item total? There are: {headings}.")
            )
        heading = fold(self.header[self.places["item_total"]].text) if "item_total" in self.places else ""
        if heading.startswith("net") and "unit_price" not in self.places:
            # Net of sales tax, or what is paid out after fees: only a price could tell them apart.
            text = "is it the item total without sales tax, or what is paid out after fees and with shipping?"
            self.questions.append(Question("item total", f"The column {quoted(heading)}: {text}"))
        if not self.party:
            self.questions.append(
                Question("party", "Which shop or marketplace is it from?", ('party = "…"',))
            )


def _toml_lines(tables: Mapping[str, Any]) -> list[str]:
    lines = [f"{key} = {_toml(value)}" for key, value in tables.items() if not isinstance(value, dict)]
    for name, table in tables.items():
        if isinstance(table, dict):
            lines += ["", f"[{name}]"]
            lines += [
                f"{json.dumps(key, ensure_ascii=False)} = {_toml(value)}" for key, value in table.items()
            ]
    return lines


def _toml(value: Any) -> str:
    # JSON's texts, booleans and lists of texts are written alike in TOML, but for the delete character.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def is_sales_export(file: SourceFile) -> bool:
    """Return whether a file looks like a sales export: headings of an order, a date, and a total or price."""
    try:
        names = {each.meaning for each in propose_sales(file).columns}
    except InputErrors:
        return False
    return {"date", "order"} <= names and not names.isdisjoint({"item_total", "unit_price"})
