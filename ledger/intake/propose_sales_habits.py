"""The habits of an unknown sales export: signs, tax, discount, what is repeated, row types, what is no goods."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from ledger.intake.nearest import fold, quoted
from ledger.intake.proposal import SURE, Decision, Question
from ledger.intake.sales_answers import SalesAnswers
from ledger.intake.sales_cells import order_told, reads_in_two_ways
from ledger.intake.sales_profile import MINUS_COLUMNS, PER_ORDER_COLUMNS
from ledger.intake.sales_table import SalesQuestion, SalesTable
from ledger.intake.sales_words import (
    NO_GOODS,
    TypeGuess,
    is_status_heading,
    no_goods_words,
    status_guess,
    type_guess,
)
from ledger.intake.table import Cell, column_letters

_DATES = ("date", "refunded_on")
_SAID = "you said so"
_FEW = 5
_MEANINGS = "sale, refund (money only), take back (goods came back), fees, shipping or set aside"


class SalesHabits:
    """What the values of one export tell of its habits; what they do not tell is in ``questions``."""

    def __init__(self, table: SalesTable, said: SalesAnswers, headings: Mapping[str, str]) -> None:
        self.table, self.said, self.headings = table, said, headings
        self.decisions: list[Decision] = []
        self.questions: list[Question] = []
        self._fee_rows = ""
        self._guesses = self._read_types() if "type" in table.places else {}

    def numbers(self) -> dict[str, Any]:
        """Return the [numbers] of the profile."""
        comma, order = self.table.decimal_comma, self.said.setting("numbers", "date_order")
        is_said = self.said.setting("numbers", "decimal_comma", None) is not None
        why = _SAID if is_said else "more numbers can be read so"
        self._decide("decimal sign", "a comma" if comma else "a point", why, SURE if is_said else 90)
        found: dict[str, Any] = {"decimal_comma": comma}
        if order:
            self._decide("date order", order, _SAID)
            return {**found, "date_order": order}
        self._date_order(found)
        return found

    def _date_order(self, found: dict[str, Any]) -> None:
        """Put down which of day and month comes first, where a date can only be read one way; else ask."""
        table = self.table
        first = ""
        order: str
        telling: dict[str, str] = {}
        for row in table.rows:
            for name in _DATES:
                cell = table.cell(row, name)
                if cell is not None and (order := order_told(cell)):
                    telling.setdefault(order, cell.text)
                elif cell is not None and not first and reads_in_two_ways(cell):
                    first = f"{quoted(cell.text)}, {table.place(row, name, self.headings[name])},"
        if len(telling) == 1:
            order, text = next(iter(telling.items()))
            found["date_order"] = order
            self._decide("date order", order, f"{quoted(text)} can only be read so", 95)
            return
        if not first:
            return
        answers = ("date order day month year", "date order month day year")
        text = f"{first} can be read in two ways: which comes first?"
        self._ask("date order", text, answers, 'date_order = "…" under [numbers]')

    def amounts(self) -> dict[str, Any]:
        """Return the [amounts] of the profile."""
        places = {*self.table.places, *self.table.more}
        found: dict[str, Any] = {}
        minus = [name for name in MINUS_COLUMNS if name in places and self._is_minus(name)]
        if minus:
            found["minus"] = minus
            self._decide("minus", ", ".join(minus), "the numbers of its sales are below zero", 95)
        if "tax" in places:
            text = "Is the sales tax in the item total (then it is taken off), or apart from it?"
            self._choose(found, ("amounts", "tax"), text, ("tax inside", "tax apart"))
        if "discount" in places:
            habit = "" if self.said.setting("amounts", "discount") else self._discount_habit()
            if habit:
                found["discount"] = habit
                self._decide("discount", habit, "pieces times unit price tell it", 90)
            else:
                text = "Is the discount taken off the item total, or the price, already?"
                answers = ("discount taken off", "discount to take off", "discount in the price")
                self._choose(found, ("amounts", "discount"), text, answers)
        self._check_price()
        repeated = [name for name in PER_ORDER_COLUMNS if name in places and self._stands_once(name)]
        if repeated:
            found["per_order"] = repeated
        own = [
            name for name in PER_ORDER_COLUMNS if name in places and self.said.per_order.get(name) is False
        ]
        if own:
            found["per_row"] = own
        return found

    def refunds(self) -> dict[str, Any]:
        """Return the [refunds] of the profile."""
        found = {key: value for (table, key), value in self.said.settings.items() if table == "refunds"}
        for key, value in found.items():
            self._decide(f"refunds, {key.replace('_', ' ')}", value, _SAID)
        table = self.table
        paid_back = [
            row
            for row in table.rows
            if "refunded" in table.places and table.number(row, "refunded") and self._meaning(row) == "sale"
        ]
        undated = next((row for row in paid_back if table.cell(row, "refunded_on") is None), None)
        if undated is not None and "undated" not in found:
            where = table.place(undated, "refunded", self.headings["refunded"])
            text = (
                f"Nothing says when the money of {where} went back. Was it the day of the sale? Else add a column "
                "'Refunded on' with the days."
            )
            self._ask("refund date", text, ("refunds on sale date",), 'undated = "sale date" under [refunds]')
        if "refunded" in table.places and "returned" not in table.places and paid_back:
            self._decide(
                "refunds beside the sale",
                "money only",
                "no column says how many came back; goods: blankbook take-back",
                70,
            )
        below = next((row for row in table.rows if self._is_below_zero(row)), None)
        if below is not None and "below_zero" not in found:
            name = "unit_price" if table.number(below, "item_total") is None else "item_total"
            where = table.place(below, name, self.headings[name])
            text = f"At {where} money is below zero beside pieces: was only money paid back, or did goods come back?"
            answers = ("money below zero is refund", "money below zero is take back")
            self._ask("money below zero", text, answers, 'below_zero = "…" under [refunds]')
        return found

    def types(self) -> dict[str, str]:
        """Return the [types] of the profile."""
        found: dict[str, str] = {}
        for word, guess in self._guesses.items():
            if guess.meaning:
                found[word] = guess.meaning
                why = guess.why
                if guess.meaning == "refund" and why != _SAID:
                    why += f'; money only: where goods came back, say type "{word}" = take back'
                self._decide(f"type {word or 'left empty'}", guess.meaning, why, guess.confidence)
        if self._guesses and not found:
            self._ask_whether_types()
        else:
            for word in [word for word, guess in self._guesses.items() if not guess.meaning]:
                self._ask_type(word)
        if "fees" in found.values():
            self._note_fee_rows()
        return found

    def _read_types(self) -> dict[str, TypeGuess]:
        """Return what each word of the type column is taken as, as it is first written in the file."""
        is_status = is_status_heading(self.headings["type"])
        said = {fold(word): meaning for word, meaning in self.said.types.items()}
        words: dict[str, str] = {}
        ordered: set[str] = set()
        begun = set()
        for row in self.table.rows:
            word, order = self.table.text(row, "type"), self.table.text(row, "order")
            if is_status and not word and order in begun:
                continue  # the status of an order, said on its first row
            begun.add(order)
            words.setdefault(fold(word), word)
            if order:
                ordered.add(fold(word))
        if "" not in said and "" not in ordered:
            # Rows without a type that are no part of an order, a row of totals among them.
            words.pop("", None)
        guesses = {
            word: self._guessed(word, is_status=is_status, has_order=key in ordered)
            for key, word in words.items()
            if key not in said
        }
        told = {words.get(fold(word), word): meaning for word, meaning in self.said.types.items()}
        return {**{word: TypeGuess(meaning, SURE, _SAID) for word, meaning in told.items()}, **guesses}

    def _guessed(self, word: str, *, is_status: bool, has_order: bool) -> TypeGuess:
        if not word:
            return TypeGuess("", 0)
        if is_status:
            return status_guess(word, refunds_beside="refunded" in self.table.places)
        guess = type_guess(word)
        if guess.meaning in ("fees", "shipping") and not has_order:
            return TypeGuess("set aside", guess.confidence, f"{guess.why}, and its rows name no order")
        return guess

    def _meaning(self, row: Sequence[Cell]) -> str:
        """Return what a row's type says, a sale where there is no type column."""
        if "type" not in self.table.places:
            return "sale"
        word = fold(self.table.text(row, "type"))
        return next((each.meaning for name, each in self._guesses.items() if fold(name) == word), "")

    def _ask_type(self, word: str) -> None:
        named = f"of the type {quoted(word)}" if word else "whose type is left empty"
        text = f"What are rows {named}: {_MEANINGS}?"
        in_file = f'"{word}" = "…" under [types]'
        self._ask(f"type {word}", text, (f'type "{word}" = sale',), in_file)

    def _ask_whether_types(self) -> None:
        """Ask whether a column says what its rows are at all, where none of its words is known."""
        letters = column_letters(self.table.places["type"])
        words = list(self._guesses)
        shown = ", ".join(map(quoted, words[:_FEW])) + (", …" if len(words) > _FEW else "")
        text = (
            f"Column {letters}, {quoted(self.headings['type'])}, holds {shown}. Where it says what a row is, "
            f"say it of each word: {_MEANINGS}."
        )
        answers = (f"ignore {letters}", f'type "{words[0]}" = sale')
        self._ask(f"type {words[0]}", text, answers, f'"{words[0]}" = "…" under [types], and so on')

    def _note_fee_rows(self) -> None:
        """Decide how rows of fees write what was kept, by the sign that all of them have."""
        if "fees" in self.table.places:
            return
        rows = (row for row in self.table.sampled() if self._meaning(row) == "fees")
        amounts = [amount for row in rows if (amount := self.table.money(row))]
        taken = self.said.setting("amounts", "fee_rows")
        if amounts:
            self._fee_rows = taken or ("plus" if all(amount > 0 for amount in amounts) else "minus")
            why = _SAID if taken else "their amounts are written so"
            self._decide("fee rows", self._fee_rows, why, SURE if taken else 90)

    def fee_rows(self) -> dict[str, str]:
        """Return what [amounts] says of rows of fees, once the types are known."""
        return {"fee_rows": self._fee_rows} if self._fee_rows == "plus" else {}

    def no_goods(self) -> list[str]:
        """Return the words by which rows are no goods: rows that name no SKU, or no order."""
        table = self.table
        found = list(self.said.set_aside)
        if found:
            self._decide("set aside", ", ".join(found), _SAID)
        told: list[str] = []
        for row in table.rows:
            meaning = self._meaning(row)
            if (table.cell(row, "sku") and table.cell(row, "order")) or meaning in (
                "set aside",
                "fees",
                "shipping",
            ):
                continue
            texts = [table.text(row, name) for name in ("title", "variant", "sku", "type")]
            told.extend(
                word for word in no_goods_words(texts, NO_GOODS) if word not in told and word not in found
            )
        if told:
            self._decide(
                "set aside", ", ".join(told), "their rows have no SKU or no order: they are no goods", 90
            )
        return [*found, *told]

    def _is_minus(self, name: str) -> bool:
        """Return whether a column is written with a minus: where a sale has a number, it is below zero."""
        if name in self.said.minus:
            return True
        signs = []
        for row in self.table.sampled():
            if "refunded" in name or not self._is_given_back(row):
                signs += [number < 0 for number in self.table.numbers(row, name) if number]
        return bool(signs) and all(signs)

    def _is_given_back(self, row: Sequence[Cell]) -> bool:
        """Return whether a minus says that a row is no sale."""
        values = (self.table.number(row, "pieces"), self.table.money(row))
        return any(value is not None and value < 0 for value in values)

    def _is_below_zero(self, row: Sequence[Cell]) -> bool:
        """Return whether a row has pieces beside money below zero, and no type that says what it is."""
        pieces, money = self.table.number(row, "pieces"), self.table.money(row)
        if not pieces or pieces < 0 or money is None or money >= 0:
            return False
        return self._meaning(row) == "sale"

    def _stands_once(self, name: str) -> bool:
        """Return whether a column repeats one number on every row of an order; asked where it looks so."""
        if name in self.said.per_order:
            self._decide(
                f"{name.replace('_', ' ')} once per order", str(self.said.per_order[name]).lower(), _SAID
            )
            return self.said.per_order[name]
        orders: dict[str, list[Fraction]] = {}
        for row in self.table.sampled():
            order = self.table.text(row, "order")
            if order and self._meaning(row) == "sale" and not self._is_given_back(row):
                own = sum(self.table.numbers(row, name), Fraction(0))
                orders.setdefault(order, []).append(own)
        several = {order: values for order, values in orders.items() if len(values) > 1 and any(values)}
        alike = [order for order, values in several.items() if len(set(values)) == 1]
        if alike and len(alike) == len(several):
            words = name.replace("_", " ")
            text = f"Every row of order {alike[0]} has the same {words}: is it once for the whole order?"
            answers = (f"per order {words}", f"per row {words}")
            self._ask(f"per order {words}", text, answers, f'per_order = ["{name}"] under [amounts], or not')
        return False

    def _discount_habit(self) -> str:
        """Return what pieces times unit price says of the discount, '' where it says nothing."""
        votes = {"taken off": 0, "to take off": 0}
        for row in self.table.sampled():
            values = [self.table.number(row, name) for name in ("pieces", "unit_price", "item_total")]
            values.append(self.table.in_all(row, "discount"))
            if None in values or not values[3]:
                continue
            pieces, price, total, off = (value or Fraction(0) for value in values)
            votes["taken off"] += total == pieces * price - abs(off)
            votes["to take off"] += total == pieces * price
        sure = [habit for habit, count in votes.items() if count and count == sum(votes.values())]
        return sure[0] if sure else ""

    def _check_price(self) -> None:
        """Ask which column counts where pieces times price is not the item total in most rows."""
        places = self.table.places
        if not {"pieces", "unit_price", "item_total"} <= places.keys():
            return
        fits = []
        for row in self.table.sampled():
            pieces, price = self.table.number(row, "pieces"), self.table.number(row, "unit_price")
            total, off = (
                self.table.number(row, "item_total"),
                self.table.in_all(row, "discount") or Fraction(0),
            )
            if pieces and price is not None and total is not None:
                product = abs(pieces * price)
                slack = abs(pieces) / 200
                fits.append(any(abs(abs(total) - each) <= slack for each in (product, product - abs(off))))
        if not fits or sum(fits) * 2 >= len(fits):
            return
        price_at, total_at = column_letters(places["unit_price"]), column_letters(places["item_total"])
        text = (
            f"{quoted(self.headings['item_total'])} is not pieces x {quoted(self.headings['unit_price'])} in "
            f"{len(fits) - sum(fits):,} of {len(fits):,} rows: which of them is what the goods were sold for?"
        )
        self._ask(
            "item total", text, (f"ignore {price_at}", f"ignore {total_at}"), "leave one out of [columns]"
        )

    def _choose(
        self, found: dict[str, Any], key: tuple[str, str], text: str, answers: tuple[str, ...]
    ) -> None:
        """Put what was said of a key, or ask."""
        value = self.said.setting(*key)
        if value:
            found[key[1]] = value
            self._decide(key[1], value, _SAID)
        else:
            self._ask(key[1], text, answers, f'{key[1]} = "…" under [{key[0]}]')

    def _decide(self, subject: str, taken_as: str, why: str, confidence: int = SURE) -> None:
        """Put down something that was decided beside the columns."""
        self.decisions.append(Decision(subject, taken_as, confidence, why))

    def _ask(self, subject: str, text: str, answers: tuple[str, ...], in_file: str) -> None:
        self.questions.append(SalesQuestion(subject, text, answers, in_file))
