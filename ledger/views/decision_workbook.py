"""A buying decision as a workbook: the answer, what goes in as cells, and the screen and landed costs as formulas."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.costing.tax_lines import COUNTRY_WITH_LINES
from ledger.intake.sheet_writing import workbook_bytes, write_new
from ledger.intake.study_sources import StudySources
from ledger.sourcing.chart_data import (
    SavingChart,
    TornadoChart,
    VolumeChart,
    drawn_again,
    saving_chart,
    tornado_chart,
    volume_chart,
)
from ledger.sourcing.decide import Decision
from ledger.views import decision_answer_sheet as answer
from ledger.views import decision_chart_sheets as simulated
from ledger.views import decision_screen_sheet as screen_sheet
from ledger.views import offer_input_sheet
from ledger.views.decision_inputs import input_sections, priced_offers
from ledger.views.decision_landed_sheet import landed_blocks, landed_widths, screened_order, write_landed
from ledger.views.decision_screen_sheet import screened_of
from ledger.views.workbook_cells import values_into
from ledger.views.workbook_print import A4, LETTER, Paper
from ledger.views.workbook_rows import Rows

if TYPE_CHECKING:
    from openpyxl.workbook.workbook import Workbook

ANSWER, INPUTS, SCREEN, LANDED = "Answer", "What goes in", "Screen", "Landed by quantity"
VOLUMES, OUTCOMES, WHAT_IF = "Cost by volume", "How it may turn out", "What if"
UPRIGHT = 145
"""The widest sheet that is printed upright: these sheets are longer than they are wide."""

MOST_IN_FOOTER = 80
"""A longer name is cut where it stands below every page: a file that holds more there is damaged."""


def write_decision_workbook(decision: Decision, sources: StudySources, path: Path) -> None:
    """Write a decision as a workbook.

    Raises UsageError where the file is there already or cannot be written.
    """
    write_new(path, decision_workbook_bytes(decision, sources))


def decision_workbook_bytes(decision: Decision, sources: StudySources) -> bytes:
    """Return the workbook's file, the same bytes for the same decision."""
    from openpyxl import Workbook  # noqa: PLC0415 - slow to import

    workbook = Workbook(write_only=True)
    workbook.properties.creator = "Blankbook"
    workbook.properties.title = f"Where to buy: {sources.label}"
    sheets = tuple(_Making(workbook, decision, sources).sheets())
    values = {f"xl/worksheets/sheet{at}.xml": rows.writer.values for at, rows in enumerate(sheets, 1)}

    def with_values(part: str, content: bytes) -> bytes:
        return values_into(content, values[part]) if part in values else content

    return workbook_bytes(workbook, with_values)


@dataclass(frozen=True, slots=True)
class _Making:
    """A workbook being made: its sheets in their order; where there is nothing to show, a sheet is left out."""

    workbook: Workbook
    decision: Decision
    sources: StudySources

    def sheets(self) -> Iterator[Rows]:
        """Write every sheet and return it."""
        decision, sources = self.decision, self.sources
        offers = priced_offers(decision, sources)
        order = screened_order(decision, offers)
        screened, blocks = screened_of(decision, order), landed_blocks(decision, offers, order)
        volumes = None
        if decision.bulk_plan is not None:
            volumes = volume_chart(decision, drawn_again(decision))
        outcomes, what_if = saving_chart(decision), tornado_chart(decision)
        there = {SCREEN: screened, LANDED: blocks, VOLUMES: volumes, OUTCOMES: outcomes, WHAT_IF: what_if}
        told = [(title, what) for title, what in _HOLDS.items() if there.get(title, True)]
        rows = self._rows(ANSWER, answer.WIDTHS)
        answer.write_answer(rows, decision, sources, told)
        yield rows
        rows = self._rows(INPUTS, offer_input_sheet.WIDTHS)
        offer_input_sheet.write_inputs(rows, input_sections(decision, sources, offers), offers)
        yield rows
        if screened is not None:
            rows = self._rows(SCREEN, screen_sheet.WIDTHS, on_one_page=True)
            screen_sheet.write_screen(rows, screened)
            yield rows
        if blocks:
            rows = self._rows(LANDED, landed_widths(blocks))
            write_landed(rows, decision, blocks, order)
            yield rows
        yield from self._simulated(volumes, outcomes, what_if)

    def _simulated(
        self, volumes: VolumeChart | None, outcomes: SavingChart | None, what_if: TornadoChart | None
    ) -> Iterator[Rows]:
        if volumes is not None:
            rows = self._rows(VOLUMES, simulated.volume_widths(volumes))
            simulated.write_volumes(rows, self.decision, volumes)
            yield rows
        if outcomes is not None:
            rows = self._rows(OUTCOMES, simulated.spread_widths(outcomes))
            simulated.write_outcomes(rows, self.decision, outcomes)
            yield rows
        if what_if is not None:
            rows = self._rows(WHAT_IF, simulated.WHAT_IF_WIDTHS)
            simulated.write_what_if(rows, self.decision, what_if)
            yield rows

    def _rows(self, title: str, widths: Sequence[float], *, on_one_page: bool = False) -> Rows:
        currency = self.decision.study.currency
        return Rows(self.workbook, title, widths, self._paper(), currency=currency, on_one_page=on_one_page)

    def _paper(self) -> Paper:
        """Return Letter where goods come to the United States, A4 elsewhere."""
        study = self.decision.study
        destinations = {offer.entry.destination for offer in study.offers}
        size = LETTER if destinations == {COUNTRY_WITH_LINES} else A4
        return Paper(size, f"{self.sources.label[:MOST_IN_FOOTER]}, {study.today.isoformat()}", None, UPRIGHT)


_HOLDS = {
    INPUTS: "every figure with its unit, source and date. Change one, and the two sheets of formulas follow.",
    SCREEN: "can one large order pay at all, from how many to how many? Formulas.",
    LANDED: "what an order of any size costs landed, with price breaks and limits. Formulas.",
    VOLUMES: "what the alternatives cost at other monthly volumes. Out of the simulation.",
    OUTCOMES: "in how many futures an order saves how much. Out of the simulation.",
    WHAT_IF: "which figure moves the saving most. Out of the simulation.",
}
"""What each sheet holds, in words."""
