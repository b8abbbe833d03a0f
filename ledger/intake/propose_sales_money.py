"""What a proposal for a sales export asks so that no money is lost: its currency, and columns that nothing reads."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ledger.intake.nearest import quoted
from ledger.intake.proposal import Decision, Question
from ledger.intake.sales_currency import currencies_told
from ledger.intake.sales_profile import MONEY_COLUMNS
from ledger.intake.sales_table import LOOKED_AT, SalesQuestion, SalesTable
from ledger.intake.sales_unread import ReadColumns, unread_columns
from ledger.intake.table import Cell

_TOLD = 95


@dataclass(frozen=True)
class ProposedCurrency:
    """The currency of a profile, '' where a column or a person has to say it; with why, or the question."""

    code: str
    decision: Decision | None = None
    question: Question | None = None


def proposed_currency(table: SalesTable, header: Sequence[Cell], book_currency: str) -> ProposedCurrency:
    """Return the currency that headings and signs tell, else the book's; '' where a column says it."""
    if "currency" in table.places:
        return ProposedCurrency("")
    places = [place for name, place in table.places.items() if name in MONEY_COLUMNS]
    places += [place for several in table.more.values() for place in several]
    cells = [cell for place in places for cell in (header[place], *table.cells(place, LOOKED_AT))]
    told = currencies_told(cells)
    common = set.intersection(*(set(each.codes) for each in told)) if told else set()
    if not common or book_currency in common:
        return ProposedCurrency(book_currency)
    first = told[0]
    if len(common) == 1:
        (code,) = common
        return ProposedCurrency(code, Decision("currency", code, _TOLD, f"{quoted(first.text)} says it"))
    choices = tuple(f"currency {code}" for code in first.codes if code in common)
    text = f"{quoted(first.text)}, {first.where}: in which currency is it?"
    return ProposedCurrency("", question=SalesQuestion("currency", text, choices, 'currency = "…"'))


def unread_questions(
    table: SalesTable,
    header: Sequence[Cell],
    ignored: Sequence[str],
    currency: str,
    asked: Sequence[Question],
) -> list[Question]:
    """Return a question for every column that is not read and could hold money.

    ``ignored`` are the headings that somebody said to leave out, ``asked`` the questions there are already.
    """
    read = ReadColumns(
        header=header,
        places={**table.places, **_numbered(table.more)},
        ignored=tuple(ignored),
        decimal_comma=table.decimal_comma,
        currency=currency,
    )
    answers = [answer for question in asked for answer in question.answers]
    found: list[Question] = []
    for each in unread_columns(table.rows, read):
        if any(answer.startswith(f"{each.letters}=") for answer in answers):
            continue
        text = f"{each.text[:1].upper()}{each.text[1:]} {each.what_to_say}"
        in_file = f'{each.likely or "fees"} = "{each.name}", or ignore = ["{each.name}"], under [columns]'
        found.append(SalesQuestion(f"column {each.letters}", text, each.answers, in_file))
    return found


def _numbered(more: Mapping[str, Sequence[int]]) -> dict[str, int]:
    """Return where what several columns are stands, each under a name of its own."""
    return {
        f"{name}_{number}": place for name, places in more.items() for number, place in enumerate(places, 1)
    }
