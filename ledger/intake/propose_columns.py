"""Deciding what each column is: its heading, what its values look like, and what adds up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from ledger.errors import InputErrors, Problem
from ledger.intake.column_values import ColumnFacts, column_facts, is_size
from ledger.intake.heading_words import heading_scores, reason_not_read
from ledger.intake.nearest import quoted
from ledger.intake.proposal import IGNORED, SURE, Answers, CatalogueWords, ColumnDecision, Question
from ledger.intake.propose_sums import HALF, Numbers, Product, product_of
from ledger.intake.propose_table import FoundTable
from ledger.intake.table import column_letters

MEASURED = (
    "quantity",
    "pieces",
    "unit_price",
    "line_total",
    "missing",
    "damaged",
    "cartons",
    "per_carton",
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
    "variant",
    "code",
    "unit",
    "content",
    "discount_percent",
    "pieces",
    "missing",
    "damaged",
    "cartons",
    "per_carton",
    "duty",
    "duty_percent",
)
"""Columns of which two equally good ones are asked about; of others the first is taken, and said."""
PERCENTS = ("discount_percent", "duty_percent")
TEXTS = ("unit", "colour", "variant", "description", "origin", "fibre", "note")
MULTIPLIED = ("quantity", "unit_price", "line_total")
_EQUAL = 4
_FEWEST_ACROSS = 2
MOSTLY = Fraction(3, 5)
SURE_AGREEMENT = Fraction(4, 5)


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
    settled: set[int] = field(default_factory=set)
    """Columns that are left out for a reason that needs no question."""
    carton_pieces: Numbers | None = None
    """Cartons x pieces per carton by line, where that is the quantity and no column holds it."""
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


def columns_by_heading(
    table: FoundTable, words: CatalogueWords, answers: Answers, *, decimal_comma: bool
) -> Columns:
    """Return the columns that a person, a heading or the kind of value tells, and what has to be asked."""
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
    return columns


def _as_told(columns: Columns) -> None:
    for letters, meaning in columns.answers.columns.items():
        place = next((p for p in columns.facts if column_letters(p) == letters), None)
        if place is None:
            last = column_letters(max(columns.facts, default=0))
            what = f"the table has no column {letters}."
            raise InputErrors(
                "what you said of the file",
                [Problem(f"column {letters}", what, f"Its columns are A to {last}.")],
            )
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
        if facts.filled and facts.share(facts.known_skus) >= MOSTLY and columns.place_of("sku") is None:
            meaning = "code" if columns.across() else "sku"
            count = f"{facts.known_skus} of {facts.filled} are SKUs of the book"
            columns.take(place, meaning, 97, count)
    for place in columns.free():
        facts = columns.facts[place]
        is_known = facts.filled and facts.share(facts.known_codes) >= MOSTLY
        if is_known and columns.place_of("code") is None:
            columns.take(place, "code", 97, f"{facts.known_codes} of {facts.filled} are codes the book knows")


def _scores(columns: Columns, place: int) -> dict[str, int]:
    """Return how well each meaning fits the column by heading, values that rule it out considered."""
    heading, facts = columns.table.headings[place], columns.facts[place]
    if reason_not_read(heading, facts.numbers):
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
    tests = {
        **dict.fromkeys(MEASURED, facts.share(facts.number_count) >= MOSTLY),
        # Of two lines one may have its quantity in words: an error at that cell, not another column.
        **dict.fromkeys(("quantity", "pieces"), facts.share(facts.number_count) >= HALF),
        **dict.fromkeys(PERCENTS, facts.share(max(facts.number_count, facts.percents)) >= MOSTLY),
        **dict.fromkeys(TEXTS, facts.share(facts.number_count) < HALF),
        "expires_on": facts.share(facts.dates) >= HALF,
    }
    return tests.get(meaning, True)


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
                    columns.settled.add(place)
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
        columns.settled.add(place)
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
            rows >= 1 and Fraction(agree, rows) >= SURE_AGREEMENT
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
        if not facts.filled or reason_not_read(heading, facts.numbers):
            continue
        said = f"headed {quoted(heading)}" if heading else "without a heading"
        if facts.are_mostly(facts.sizes) and columns.place_of("size") is None and not columns.across():
            columns.take(place, "size", 75, f"{said}, but the values are sizes")
        elif columns.place_of("colour") is None and _are_colours(facts):
            columns.take(place, "colour", 70, f"{said}, but the values are colours")


def _are_colours(facts: ColumnFacts) -> bool:
    if facts.share(facts.colours) < MOSTLY or facts.number_count:
        return False
    return len(facts.example.split()) <= 3  # noqa: PLR2004 - a colour has few words, a description more


def finish_columns(columns: Columns) -> None:
    """Say of every column that is not read why it is not."""
    for place in columns.free():
        heading, facts = columns.table.headings[place], columns.facts[place]
        if not heading and not facts.filled:
            continue
        reason = reason_not_read(heading, facts.numbers)
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
