"""The first sheet of a decision's workbook: the answer, the alternatives, the reasons, and what is where."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from ledger.exact.currencies import exponent
from ledger.intake.study_sources import StudySources
from ledger.sourcing.alternatives import Alternative
from ledger.sourcing.decide import Decision
from ledger.views.decision import CAUTION, demand_text, drawn_text, flip_lines, sentence
from ledger.views.decision_figures import each_sold, landed_unit, rounded, shown_alternatives
from ledger.views.decision_sizes import THERE, pieces_by_size
from ledger.views.offer_cells import CHANCE_FORMAT, COUNT_FORMAT, exact
from ledger.views.workbook_cells import STRONG, UNIT_FORMAT, WHOLE_FORMAT, money_format
from ledger.views.workbook_formulas import column_letter
from ledger.views.workbook_rows import NOTHING_THERE, Put, Rows

WIDTHS = (24, 13, 16, 15, 12, 11, 12, 10, 10, 13, 12, 11)


def money(minor: float, currency: str) -> Decimal:
    """Return an amount as the tables show it, rounded to the minor unit, in currency units."""
    return Decimal(rounded(minor)).scaleb(-exponent(currency))


def write_answer(
    rows: Rows, decision: Decision, sources: StudySources, sheets: Sequence[tuple[str, str]]
) -> None:
    """Write the answer; ``sheets`` are the others by title, with what each holds."""
    study = decision.study
    rows.head(f"Where to buy: {sources.label}", f"{study.today.isoformat()}, {study.currency}")
    rows.prose(sentence(decision), STRONG)
    rows.part("Why")
    for reason in decision.verdict.reasons:
        rows.prose(reason)
    if len(decision.alternatives) > 1:
        _write_alternatives(rows, decision)
    if len(study.demand.sizes) > 1:
        _write_sizes(rows, decision)
    lines = flip_lines(decision)
    if lines:
        rows.part("The saving is nothing at (all else as it is)")
        for line in lines:
            rows.prose(line)
    rows.part("To know")
    for line in (*decision.warnings, demand_text(decision), drawn_text(decision)):
        if line:
            rows.prose(line[:1].upper() + line[1:])
    if any(not plan.offer.is_domestic for plan in decision.plans):
        rows.prose(CAUTION, STRONG)
    rows.part("The other sheets")
    for title, what in sheets:
        rows.prose(f"{title}: {what}")


def _write_alternatives(rows: Rows, decision: Decision) -> None:
    rows.part("The alternatives, held against the same futures")
    rows.headings(
        "alternative", decision.study.unit_words, "landed, each", "saves", "±", "cheaper in", "worst tenth saves",
        "left over", "weeks of cover", "cash tied up", "back in weeks", "each sold",
    )  # fmt: skip
    for name, held in shown_alternatives(decision).items():
        rows.add(Put(name), *_alternative(decision, held))


def _alternative(decision: Decision, held: Alternative) -> tuple[Put, ...]:
    """Return the figures of an alternative, behind its name."""
    currency = decision.study.currency
    scale, cents = 10 ** exponent(currency), money_format(currency)

    def each(minor: float | None) -> Put:
        return NOTHING_THERE if minor is None else Put(exact(minor / scale), UNIT_FORMAT)

    def amount(minor: float) -> Put:
        return Put(money(minor, currency), cents)

    chance = held.probability_cheaper
    back = (
        Put("never", is_figure=True)
        if held.payback_weeks is None
        else Put(Decimal(held.payback_weeks), WHOLE_FORMAT)
    )
    return (
        Put(Decimal(held.quantity), WHOLE_FORMAT),
        each(landed_unit(decision, held)),
        amount(held.expected_saving),
        amount(held.standard_error),
        NOTHING_THERE if chance is None else Put(exact(chance), CHANCE_FORMAT),
        amount(held.worst_tenth),
        Put(exact(held.expected_left), COUNT_FORMAT),
        Put(exact(held.weeks_of_cover), COUNT_FORMAT),
        amount(held.cash_peak),
        back if held.quantity else NOTHING_THERE,
        each(each_sold(decision, held)),
    )


def _write_sizes(rows: Rows, decision: Decision) -> None:
    """Write how many of each size: sizes down, the orders across, with their sums."""
    sizes = decision.study.demand.sizes
    columns = {**pieces_by_size(decision), THERE: tuple(size.on_hand for size in sizes)}
    rows.part("How many of each size")
    rows.headings("size", *columns)
    first = rows.next_row
    for at, size in enumerate(sizes):
        rows.add(Put(size.name), *(Put(Decimal(pieces[at]), WHOLE_FORMAT) for pieces in columns.values()))
    sums = []
    for at, pieces in enumerate(columns.values(), 1):
        letter = column_letter(at)
        sums.append(
            Put(Decimal(sum(pieces)), WHOLE_FORMAT, f"SUM({letter}{first}:{letter}{rows.next_row - 1})")
        )
    rows.add(Put("all"), *sums, look=STRONG)
