"""Deciding what each column is: its heading, what its values look like, and what adds up."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from ledger.catalogue.units import find_unit
from ledger.intake.column_values import ColumnFacts, column_facts, is_size
from ledger.intake.heading_words import heading_scores, price_unit, why_not_read
from ledger.intake.nearest import fold, quoted
from ledger.intake.proposal import IGNORED, SURE, Answers, CatalogueWords, ColumnDecision, Question
from ledger.intake.propose_sums import HALF, Numbers, Product, agreement, find_products, product_of, row_sums
from ledger.intake.propose_table import FoundTable
from ledger.intake.table import column_letters

MEASURED = (
    "quantity",
    "pieces",
    "unit_price",
    "line_total",
    "missing",
    "damaged",
    "duty",
    "weight_kg",
    "volume_m3",
)
CRITICAL = (
    "quantity",
    "unit_price",
    "line_total",
    "style",
    "colour",
    "size",
    "code",
    "unit",
    "discount_percent",
)
"""Columns of which two equally good ones are asked about; of others the first is taken, and said."""
MULTIPLIED = ("quantity", "unit_price", "line_total")
_EQUAL = 4
_FEWEST_ACROSS = 2
_MOSTLY = Fraction(3, 5)
_SURE_AGREEMENT = Fraction(4, 5)


@dataclass
class Columns:
    """The columns while they are being decided."""

    table: FoundTable
    words: CatalogueWords
    answers: Answers
    decimal_comma: bool
    facts: dict[int, ColumnFacts] = field(default_factory=dict)
    taken: dict[int, ColumnDecision] = field(default_factory=dict)
    questions: list[Question] = field(default_factory=list)
    price_per: str = "unit"
    price_why: str = ""
    product: Product | None = None

    def place_of(self, meaning: str) -> int | None:
        """Return the column taken for a meaning, None where there is none."""
        return next((place for place, each in self.taken.items() if each.meaning == meaning), None)

    def across(self) -> list[int]:
        """Return the columns of sizes that stand across."""
        return sorted(place for place, each in self.taken.items() if each.meaning.startswith("size "))

    def take(self, place: int, meaning: str, confidence: int, why: str) -> None:
        """Note what a column is."""
        facts = self.facts.get(place)
        heading = self.table.headings[place]
        example = facts.example if facts else ""
        self.taken[place] = ColumnDecision(place, heading, meaning, confidence, why, example)

    def free(self) -> list[int]:
        """Return the columns nothing was decided about."""
        return [place for place in self.facts if place not in self.taken]

    def numbers(self, place: int) -> Numbers:
        """Return a column's numbers by line."""
        return self.facts[place].numbers


def decide_columns(
    table: FoundTable, words: CatalogueWords, answers: Answers, *, decimal_comma: bool
) -> Columns:
    """Return every column of the table with what it is taken as, and what has to be asked."""
    columns = Columns(table, words, answers, decimal_comma)
    for place in range(len(table.headings)):
        cells = table.column(place, table.sample)
        columns.facts[place] = column_facts(cells, words, decimal_comma=decimal_comma)
    _as_told(columns)
    _sizes_across(columns)
    _known_codes(columns)
    scores = {place: _scores(columns, place) for place in columns.free()}
    _by_heading(columns, scores)
    _by_values(columns)
    _by_product(columns)
    _pieces(columns)
    _price_per(columns)
    _rest(columns)
    return columns


def _as_told(columns: Columns) -> None:
    for letters, meaning in columns.answers.columns.items():
        place = next((p for p in columns.facts if column_letters(p) == letters), None)
        if place is not None:
            columns.take(place, "" if meaning == IGNORED else meaning, SURE, "as you said")


def _sizes_across(columns: Columns) -> None:
    """Take columns headed with a size for sizes across, where there are several and they hold counts."""
    if any(each.meaning == "quantity" for each in columns.taken.values()):
        return
    places = [
        place
        for place in columns.free()
        if is_size(columns.table.headings[place], columns.words)
        and (columns.facts[place].filled == 0 or _holds_counts(columns.facts[place]))
    ]
    if len(places) + len(columns.across()) < _FEWEST_ACROSS:
        return
    for place in places:
        columns.take(
            place, f"size {columns.table.headings[place].strip()}", 95, "a size, with pieces under it"
        )


def _holds_counts(facts: ColumnFacts) -> bool:
    """Return whether a column holds counts, dashes for none among them."""
    return all(number is None or (number >= 0 and number.denominator == 1) for number in facts.numbers) and (
        facts.number_count > 0
    )


def _known_codes(columns: Columns) -> None:
    """Take a column that holds our own SKUs or the supplier's known codes for that, whatever its heading."""
    for place in columns.free():
        facts = columns.facts[place]
        if facts.filled and facts.share(facts.known_skus) >= _MOSTLY and columns.place_of("sku") is None:
            meaning = "code" if columns.across() else "sku"
            count = f"{facts.known_skus} of {facts.filled} are SKUs of the book"
            columns.take(place, meaning, 97, count)
    for place in columns.free():
        facts = columns.facts[place]
        is_known = facts.filled and facts.share(facts.known_codes) >= _MOSTLY
        if is_known and columns.place_of("code") is None:
            columns.take(place, "code", 96, f"{facts.known_codes} of {facts.filled} are codes the book knows")


def _scores(columns: Columns, place: int) -> dict[str, int]:
    """Return how well each meaning fits the column by heading, values that rule it out considered."""
    heading, facts = columns.table.headings[place], columns.facts[place]
    if why_not_read(heading):
        return {}
    scores = heading_scores(heading)
    if columns.across():
        scores = {
            ("pieces" if name == "quantity" else name): score
            for name, score in scores.items()
            if name != "size"
        }
    return {name: score for name, score in scores.items() if _is_plausible(name, facts)}


def _is_plausible(meaning: str, facts: ColumnFacts) -> bool:
    """Return whether the values can be what the heading says; an empty column can be anything."""
    if facts.filled == 0:
        return meaning not in ("quantity", "style", "code")
    if meaning in ("quantity", "pieces"):
        return facts.are_numbers
    if meaning in MEASURED:
        return facts.share(facts.number_count) >= _MOSTLY
    if meaning in ("discount_percent", "duty_percent"):
        return facts.share(max(facts.number_count, facts.percents)) >= _MOSTLY
    if meaning == "expires_on":
        return facts.share(facts.dates) >= HALF
    if meaning in ("unit", "colour", "description", "origin", "fibre", "note"):
        return facts.share(facts.number_count) < HALF
    return True


def _by_heading(columns: Columns, scores: Mapping[int, Mapping[str, int]]) -> None:
    """Take the best heading for each meaning; where two are equally good, let the sums tell, or ask."""
    pairs = sorted(
        ((score, -place, name) for place, each in scores.items() for name, score in each.items()),
        reverse=True,
    )
    asked: set[str] = set()
    for score, negative, name in pairs:
        place = -negative
        if place in columns.taken or columns.place_of(name) is not None or name in asked:
            continue
        rivals = [
            other
            for other in columns.free()
            if other != place
            and scores.get(other, {}).get(name, 0) >= score - _EQUAL
            and scores[other][name] == max(scores[other].values())
        ]
        if not rivals:
            columns.take(place, name, min(score, 96), _heading_why(columns, place))
            continue
        if not _settled(columns, name, [place, *rivals], scores):
            asked.add(name)


def _heading_why(columns: Columns, place: int) -> str:
    return f"headed {quoted(columns.table.headings[place])}"


def _settled(columns: Columns, name: str, rivals: list[int], scores: Mapping[int, Mapping[str, int]]) -> bool:
    """Take one of equally good columns where the sums tell which, or it costs nothing; else ask."""
    rivals = sorted(rivals)
    letters = [column_letters(place) for place in rivals]
    if name in MULTIPLIED:
        fitting = _fitting(columns, name, rivals, scores)
        if len(fitting) == 1:
            why = f"of {' and '.join(letters)} only this one makes quantity x price = amount"
            columns.take(fitting[0], name, 90, why)
            for place in rivals:
                if place != fitting[0]:
                    columns.take(
                        place, "", 80, f"{column_letters(fitting[0])} is the {name.replace('_', ' ')}"
                    )
            return True
    if name not in CRITICAL:
        columns.take(rivals[0], name, 70, f"the first of {' and '.join(letters)}")
        for place in rivals[1:]:
            columns.take(place, "", 70, f"{letters[0]} was taken for the {name.replace('_', ' ')}")
        return True
    words = name.replace("_", " ")
    headings = [quoted(columns.table.headings[place]) for place in rivals]
    text = f"Columns {' and '.join(letters)} ({' and '.join(headings)}) are equally good for the {words}."
    columns.questions.append(Question(words, text, tuple(f"{letter}={words}" for letter in letters)))
    for place in rivals:
        columns.take(place, "", 0, f"the {words}? {' or '.join(letters)}: asked below")
    return False


def _fitting(
    columns: Columns, name: str, rivals: list[int], scores: Mapping[int, Mapping[str, int]]
) -> list[int]:
    """Return those of the columns that fit quantity x price = amount with what else may be these."""
    choices: dict[str, list[int]] = {}
    for other in MULTIPLIED:
        taken = columns.place_of(other)
        likely = [place for place, each in scores.items() if other in each] if taken is None else [taken]
        choices[other] = rivals if other == name else likely
    fitting = []
    for place in rivals:
        trial = {**choices, name: [place]}
        if any(
            rows >= 1 and Fraction(agree, rows) >= _SURE_AGREEMENT
            for quantity in trial["quantity"]
            for price in trial["unit_price"]
            for amount in trial["line_total"]
            if len({quantity, price, amount}) == 3  # noqa: PLR2004 - three different columns
            for _, agree, rows in [product_of(*(columns.numbers(p) for p in (quantity, price, amount)))]
        ):
            fitting.append(place)
    return fitting


def _by_values(columns: Columns) -> None:
    """Take columns whose heading says nothing by what stands in them."""
    for place in columns.free():
        facts, heading = columns.facts[place], columns.table.headings[place]
        if not facts.filled or why_not_read(heading):
            continue
        said = f"headed {quoted(heading)}" if heading else "without a heading"
        if facts.are_mostly(facts.sizes) and columns.place_of("size") is None and not columns.across():
            columns.take(place, "size", 75, f"{said}, but the values are sizes")
        elif facts.share(facts.colours) >= _MOSTLY and not facts.number_count and _is_short(facts):
            if columns.place_of("colour") is None and columns.place_of("description") != place:
                columns.take(place, "colour", 70, f"{said}, but the values are colours")


def _is_short(facts: ColumnFacts) -> bool:
    return len(facts.example.split()) <= 3  # noqa: PLR2004 - a colour has few words, a description more


def _by_product(columns: Columns) -> None:
    """Confirm quantity, price and amount by multiplying, and find those that no heading names."""
    fixed = {name: place for name in MULTIPLIED if (place := columns.place_of(name)) is not None}
    discount = columns.place_of("discount_percent")
    numbers: dict[int, Numbers] = {}
    for place in [*fixed.values(), *columns.free()]:
        facts = columns.facts[place]
        is_known = why_not_read(columns.table.headings[place]) and place not in fixed.values()
        if (
            facts.filled
            and facts.share(facts.number_count) >= _MOSTLY
            and not facts.counts_up
            and not is_known
        ):
            numbers[place] = facts.numbers
    if columns.across():
        sums = row_sums([columns.numbers(place) for place in columns.across()])
        numbers[-1] = sums
        fixed["quantity"] = -1
    if any(place not in numbers for place in fixed.values()):
        return
    open_subjects = {question.subject.replace(" ", "_") for question in columns.questions}
    if open_subjects & set(MULTIPLIED):
        return
    products = find_products(numbers, None if discount is None else columns.numbers(discount), fixed)
    if not products:
        return
    best = products[0]
    others = [each for each in products[1:] if each.rate == best.rate and each.per == best.per]
    new = {name: place for name, place in _named(best).items() if name not in fixed and place >= 0}
    if new and others:
        return
    columns.product = best
    why = f"quantity x price{'' if best.per == 1 else f' / {best.per}'} = amount in {best.agree} of {best.rows} rows"
    for name, place in _named(best).items():
        if place < 0:
            continue
        before = columns.taken.get(place)
        if before is not None and before.confidence == SURE:
            continue
        words = why if name in new else f"{before.why if before else ''}; {why}"
        columns.take(place, name, min(99, 60 + round(39 * best.rate)) if name in new else 99, words)


def _named(product: Product) -> dict[str, int]:
    return {"quantity": product.quantity, "unit_price": product.price, "line_total": product.amount}


def _pieces(columns: Columns) -> None:
    """Take a column of pieces for the quantity where there is no other, or check it against the sizes."""
    pieces = columns.place_of("pieces")
    if columns.across():
        sums = row_sums([columns.numbers(place) for place in columns.across()])
        if pieces is not None and agreement(sums, columns.numbers(pieces)) < _SURE_AGREEMENT:
            if columns.taken[pieces].confidence < SURE and columns.place_of("unit") is None:
                columns.take(pieces, "", 70, "it is not what the sizes add up to")
        return
    asked = any(question.subject == "quantity" for question in columns.questions)
    if pieces is not None and columns.place_of("quantity") is None and not asked:
        columns.take(
            pieces, "quantity", 88, f"{columns.taken[pieces].why}, and no other column is the quantity"
        )


def _price_per(columns: Columns) -> None:
    """Find out what the price is for: what multiplies tells, else the heading."""
    if columns.answers.price_per:
        columns.price_per, columns.price_why = columns.answers.price_per, "as you said"
        return
    price = columns.place_of("unit_price")
    if price is None:
        return
    if _is_by_piece(columns, price):
        columns.price_per, columns.price_why = "piece", "so the packs' pieces x price make the amount"
        return
    heading = columns.table.headings[price]
    said = price_unit(heading)
    pieces, amount = columns.place_of("pieces"), columns.place_of("line_total")
    if columns.product is not None and columns.product.amount == amount:
        columns.price_per = {1: "unit", 12: "dozen", 100: "hundred"}[columns.product.per]
        columns.price_why = f"so quantity and price make the amount in {columns.product.agree} rows"
        return
    if pieces is not None and amount is not None:
        columns_of = [columns.numbers(place) for place in (pieces, price, amount)]
        per, agree, rows = product_of(*columns_of)
        if rows and Fraction(agree, rows) >= HALF:
            columns.price_per = {1: "piece", 12: "dozen", 100: "hundred"}[per]
            columns.price_why = f"so pieces and price make the amount in {agree} rows"
            return
    quantity = columns.place_of("quantity")
    counted = columns.table.headings[quantity] if quantity is not None else ""
    if said and said != quantity_unit(counted):
        columns.price_per, columns.price_why = said, f"the price is headed {quoted(heading)}"


def _is_by_piece(columns: Columns, price: int) -> bool:
    """Return whether prices are for one piece where rows count packs: quantity x content x price = amount."""
    unit, quantity, amount = (columns.place_of(name) for name in ("unit", "quantity", "line_total"))
    if unit is None or quantity is None or amount is None:
        return False
    packs = {fold(word): content for word, content in columns.answers.packs.items()}
    contents: list[Fraction | None] = []
    for cell in columns.table.column(unit, columns.table.sample):
        word = "" if cell is None else cell.text
        found = find_unit(word)
        match = re.match(r"\d+", packs.get(fold(word), ""))
        content = Fraction(match[0]) if match else (found.factor if found else None)
        contents.append(content if content != 1 else None)
    counts = columns.numbers(quantity)
    pieces = [None if a is None or b is None else a * b for a, b in zip(counts, contents, strict=True)]
    packs_only = [None if b is None else a for a, b in zip(counts, contents, strict=True)]
    place = columns.place_of("discount_percent")
    discount = None if place is None else columns.numbers(place)
    others = (columns.numbers(price), columns.numbers(amount), discount)
    by_piece, by_pack = (product_of(each, *others) for each in (pieces, packs_only))
    return by_piece[0] == 1 and by_piece[2] > 0 and by_piece[1] > by_pack[1]


def quantity_unit(heading: str) -> str:
    """Return the unit that a quantity's heading counts in, empty where it names none.

    >>> quantity_unit("Qty (doz.)"), quantity_unit("Cases"), quantity_unit("Qty")
    ('dozen', 'case', '')
    """
    words = re.findall(r"[a-z]+", heading.casefold())
    if any(word in ("doz", "dozen", "dozens", "dz") for word in words):
        return "dozen"
    return "case" if "cases" in words else ""


def _rest(columns: Columns) -> None:
    for place in columns.free():
        heading, facts = columns.table.headings[place], columns.facts[place]
        if not heading and not facts.filled:
            continue
        reason = why_not_read(heading)
        own = max(heading_scores(heading).items(), key=lambda each: each[1], default=("", 0))[0]
        if reason:
            why = f"{reason}: not needed"
        elif own and columns.place_of(own) is not None:
            why = f"{column_letters(columns.place_of(own) or 0)} was taken for the {own.replace('_', ' ')}"
        elif own:
            why = f"headed like {own.replace('_', ' ')}, but its values are not"
        else:
            why = "nothing is known under this heading"
        columns.take(place, "", 60 if own else 80, why)
