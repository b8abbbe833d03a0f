"""What the numbers of missing and damaged count, where quantities count dozens or packs."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.intake.heading_words import loss_unit
from ledger.intake.nearest import quoted
from ledger.intake.proposal import SURE, Answers, Decision, Question
from ledger.intake.propose_columns import Columns
from ledger.intake.propose_units import counts_packs

_LOSSES = ("missing", "damaged")
_SUBJECT = "losses"


@dataclass(frozen=True)
class LossHabit:
    """What losses count, one of LOSS_UNITS or '', with the decision or the question about it."""

    counted_in: str = ""
    decisions: tuple[Decision, ...] = ()
    questions: tuple[Question, ...] = ()


def decide_losses(columns: Columns, told: Answers, default_unit: str) -> LossHabit:
    """Return what the numbers in the columns of losses count.

    A heading that names the unit tells; else a person; else pieces where rows count pieces, or where a
    row lost more than it has packs, and packs where half of one is lost. Otherwise it is asked.

    Arguments:
        columns: what the columns were taken as.
        told: what a person said.
        default_unit: what quantities count in rows without a unit; '' where nothing says.
    """
    places = [place for name in _LOSSES if (place := columns.place_of(name)) is not None]
    units = {place: loss_unit(columns.table.headings[place]) for place in places}
    bare = [place for place, unit in units.items() if not unit]
    if not bare:
        # Kept for the next file, whose heading may be bare.
        both = set(units.values())
        return LossHabit(both.pop() if len(both) == 1 else "")
    if told.losses_in:
        return LossHabit(told.losses_in, (Decision(_SUBJECT, told.losses_in, SURE, "as you said"),))
    packed = counts_packs(columns, default_unit)
    lost = [
        (number, index)
        for place in bare
        for index, number in enumerate(columns.numbers(place))
        if number and packed[index]
    ]
    if not lost:
        return LossHabit()
    quantity = columns.place_of("quantity")
    counts = columns.numbers(quantity) if quantity is not None else (None,) * len(packed)
    unit = "dozens" if default_unit == "dozen" else "packs"
    if any(number.denominator != 1 for number, _ in lost):
        why = "a part of one is lost, and a piece is lost whole"
        return LossHabit(unit, (Decision(_SUBJECT, unit, 90, why),))
    if any(number > (counts[index] or number) for number, index in lost):
        why = "a row lost more than the dozens or packs it has"
        return LossHabit("pieces", (Decision(_SUBJECT, "pieces", 90, why),))
    names = " and ".join(quoted(columns.table.headings[place]) for place in bare)
    text = (
        f"The quantities count {'dozens' if unit == 'dozens' else 'packs of several pieces'}, and the heading "
        f"{names} does not say what is lost: is the {lost[0][0]} there pieces or {unit}?"
    )
    return LossHabit("", (), (Question(_SUBJECT, text, ("losses in pieces", f"losses in {unit}")),))
