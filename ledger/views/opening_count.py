"""The preview of an opening count: each row with its cost, what is guessed, and the total by kind."""

from __future__ import annotations

from collections.abc import Mapping

from ledger.book.documents import NewLine
from ledger.book.guessed_costs import GUESSED
from ledger.book.posting import Posted
from ledger.intake.opening_columns import GUESS, PAID
from ledger.views import figures
from ledger.views.tables import Table, paragraphs

GUESS_CAUTION = (
    "A guessed cost is recorded as you say it, and marked as a guess. Ask whoever prepares your taxes which "
    "cost may stand, or find the bills."
)


def opening_text(posted: Posted, currency: str, units: Mapping[str, str]) -> str:
    """Return the preview of one opening of many rows; ``units`` are the base units by SKU."""
    lines = [line for document in posted.documents for line in document.lines]
    day = posted.documents[0].effect_date
    table = Table(["item", ">quantity", "unit", ">cost each", f">cost {currency}", "cost is", "expires"])
    for line in lines:
        table.add(
            line.sku or "",
            figures.quantity(line.quantity_milli),
            units.get(line.sku or "", ""),
            figures.per_unit(line.amount, line.quantity_milli, currency),
            figures.money(line.amount, currency),
            GUESS if _is_guessed(line) else PAID,
            line.expires_on or "",
        )
    heading = f"Opening stock, what the shop has on {day}:"
    return paragraphs([heading, table.text(), _by_kind(lines, currency), _guesses(lines, currency)])


def _is_guessed(line: NewLine) -> bool:
    return line.note == GUESSED or line.note.startswith(f"{GUESSED}; ")


def _by_kind(lines: list[NewLine], currency: str) -> str:
    table = Table(["kind", ">rows", f">cost {currency}", f">of it guessed {currency}"])
    for kind in dict.fromkeys(line.kind for line in lines):
        table.add(kind, *_sums([line for line in lines if line.kind == kind], currency))
    table.total("total", *_sums(lines, currency))
    return table.text()


def _sums(lines: list[NewLine], currency: str) -> tuple[str, str, str]:
    guessed = sum(line.amount for line in lines if _is_guessed(line))
    return (
        str(len(lines)),
        figures.money(sum(line.amount for line in lines), currency),
        figures.money(guessed, currency),
    )


def _guesses(lines: list[NewLine], currency: str) -> str:
    guessed = [line for line in lines if _is_guessed(line)]
    if not guessed:
        return ""
    value = figures.money(sum(line.amount for line in guessed), currency)
    rows = "1 row is a guess" if len(guessed) == 1 else f"{len(guessed)} rows are guesses"
    return f"{rows}, {value} {currency} of the total. {GUESS_CAUTION}"
