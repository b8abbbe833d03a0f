"""The decision's workbook read back: the answer first, words stay words, the caution once, charts over the tables."""

from __future__ import annotations

from pathlib import Path

import pytest
from decision_books import CERTAIN, decided, hard, opened, sample
from openpyxl.utils import range_boundaries
from openpyxl.utils.cell import coordinate_from_string
from openpyxl.workbook.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from ledger.errors import UsageError
from ledger.intake.study_sources import StudySources
from ledger.sourcing.chart_data import drawn_again, name_of, saving_chart, tornado_chart, volume_chart
from ledger.sourcing.decide import Decision
from ledger.views.decision import CAUTION, sentence
from ledger.views.decision_workbook import write_decision_workbook
from ledger.views.workbook_print import LETTER

ALL_SHEETS = [
    "Answer", "What goes in", "Screen", "Landed by quantity", "Cost by volume", "How it may turn out", "What if",
]  # fmt: skip


def sheets(book: Workbook) -> list[Worksheet]:
    """The sheets of a workbook."""
    return [sheet for sheet in book.worksheets if isinstance(sheet, Worksheet)]


def words_of(sheet: Worksheet) -> list[str]:
    """Every text of a sheet, in its order."""
    return [str(cell.value) for row in sheet.iter_rows() for cell in row if cell.data_type == "s"]


def values(book: Workbook, reference: str) -> list[float]:
    """The values of the cells a chart speaks of."""
    sheet, _, cells = reference.rpartition("!")
    left, top, right, bottom = range_boundaries(cells.replace("$", ""))
    rows = book[sheet.strip("'")].iter_rows(top, bottom, left, right, values_only=True)
    return [row[0] for row in rows]


def test_the_order_that_what_flips_is_asked_of_is_a_row() -> None:
    """Where nothing pays it stands among the alternatives and the sizes, under the name the page gives it."""
    dear = """
[demand]
per_month = 50
sd_per_month = 0
sizes = {S = 0.5, M = 0.5}
[[offer]]
name = "Near"
breaks = [{price = "4.00"}]
lead_time = {mean_days = 7}
[[offer]]
name = "Far"
origin = "VN"
terms = "FOB"
breaks = [{price = "4.20"}]
duty = [{rate = 0, checked = 2026-11-20}]
lead_time = {mean_days = 50}
"""
    decision, content = decided(dear, futures=2)
    focus = decision.focus
    assert focus is not None
    assert focus.quantities not in [held.quantities for held in decision.alternatives]
    texts = words_of(sheets(opened(content))[0])
    assert texts.count(name_of(decision, focus)) == 2


def test_the_answer_comes_first() -> None:
    """The sheets in their order, and the sentence at the top of the first."""
    decision, content = sample()
    book = opened(content)
    assert book.sheetnames == ALL_SHEETS
    said = " ".join(words_of(sheets(book)[0])[2:5])
    assert sentence(decision)[:150] in said


def test_the_caution_stands_once() -> None:
    """On the first sheet and nowhere else."""
    book = opened(sample()[1])
    assert CAUTION in " ".join(words_of(sheets(book)[0]))
    told = [text for sheet in sheets(book) for text in words_of(sheet) if "not customs or tax advice" in text]
    assert len(told) == 1


def test_the_same_decision_gives_the_same_bytes() -> None:
    """No date of today's clock, no chance."""
    assert decided(CERTAIN_CASE)[1] == decided(CERTAIN_CASE)[1]


CERTAIN_CASE = CERTAIN.format(per_year=600, capital="0.2", afar="2.2", fixed="100", home="3.75")


def test_words_of_users_never_become_formulas() -> None:
    """An offer called =1+1 is text wherever it stands; every formula is one of ours."""
    book = opened(hard()[1])
    told = [text for sheet in sheets(book) for text in words_of(sheet) if "=1+1" in text]
    formulas = [
        str(cell.value)
        for sheet in sheets(book)
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    ]
    assert len(told) > 2
    assert len(formulas) > 1000
    assert not any("1+1" in formula or "Mill" in formula for formula in formulas)


def test_figures_are_there_without_a_calculator() -> None:
    """Each formula keeps the program's own value beside it, words and numbers."""
    content = sample()[1]
    book, kept = opened(content), opened(content, values=True)
    empty = [
        (sheet.title, cell.coordinate)
        for sheet in sheets(book)
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f" and kept[sheet.title][cell.coordinate].value is None
    ]
    assert empty == []


def test_every_input_has_unit_source_and_date() -> None:
    """No figure stands without saying where it comes from and as of when."""
    sheet = opened(sample()[1])["What goes in"]
    rows = [row for row in sheet.iter_rows(values_only=True) if isinstance(row[2], int | float)]
    assert len(rows) > 40
    assert all(row[3] and row[4] and row[5] for row in rows)


def test_duties_say_that_they_are_examples() -> None:
    """An example rate is no fact: its source says so, with the day it was checked."""
    sheet = opened(sample()[1])["What goes in"]
    rows = [row for row in sheet.iter_rows(values_only=True) if str(row[0]).startswith("duty: ")]
    assert [(str(row[4])[:10], row[5]) for row in rows] == [("an example", "2026-03-20")] * 3


@pytest.mark.parametrize("case", ["sample", "hard"])
def test_charts_draw_the_chart_data(case: str) -> None:
    """Read back through the charts' references: volumes, outcomes and the tornado are those of the pictures."""
    decision, content = sample() if case == "sample" else hard()
    book, kept = opened(content), opened(content, values=True)
    volumes, spread, tornado = (
        volume_chart(decision, drawn_again(decision)),
        saving_chart(decision),
        tornado_chart(decision),
    )
    assert volumes is not None
    assert spread is not None
    assert tornado is not None
    lines = book["Cost by volume"]._charts[0].series
    assert len(lines) == len(volumes.lines)
    for drawn, line in zip(lines, volumes.lines, strict=True):
        assert values(kept, drawn.xVal.numRef.f) == pytest.approx(list(volumes.per_month))
        assert values(kept, drawn.yVal.numRef.f) == pytest.approx(
            [each / 100 for each in line.totals_minor], abs=0.0051
        )
    bars = book["How it may turn out"]._charts[0].series
    assert [values(kept, each.val.numRef.f) for each in bars] == [
        list(each.counts) for each in spread.spreads
    ]
    low, high = book["What if"]._charts[0].series
    for drawn, savings in (
        (low, [swing.saving_low for swing in tornado.swings]),
        (high, [swing.saving_high for swing in tornado.swings]),
    ):
        assert values(kept, drawn.val.numRef.f) == pytest.approx([each / 100 for each in savings], abs=0.0051)


def test_landed_lines_draw_the_offers_costs() -> None:
    """Each line's values are the landed cost of its offer at the quantities beside them."""
    decision, content = sample()
    book, kept = opened(content), opened(content, values=True)
    lines = book["Landed by quantity"]._charts[0].series
    for drawn, plan in zip(lines, decision.plans, strict=True):
        quantities = values(kept, drawn.xVal.numRef.f)
        costs = [plan.curve.unit(int(quantity)) / 100 for quantity in quantities]
        assert len(quantities) > 10
        assert values(kept, drawn.yVal.numRef.f) == pytest.approx(costs)


def test_landed_lines_begin_where_a_piece_costs_twice_the_least() -> None:
    """As the sheet says above them: each first order is within that, and any that is left out is not."""
    content = sample()[1]
    book, kept = opened(content), opened(content, values=True)
    lines = book["Landed by quantity"]._charts[0].series
    least = min(min(values(kept, drawn.yVal.numRef.f)) for drawn in lines)
    left_out = []
    for drawn in lines:
        column, row = coordinate_from_string(
            drawn.yVal.numRef.f.rpartition("!")[2].replace("$", "").split(":")[0]
        )
        assert float(str(kept["Landed by quantity"][f"{column}{row}"].value)) <= 2 * least
        before = kept["Landed by quantity"][f"{column}{row - 1}"].value
        left_out += [before] if isinstance(before, float) else []
    assert left_out
    assert all(cost > 2 * least for cost in left_out)


def test_axes_are_drawn_and_named() -> None:
    """Every chart has its title; both axes are shown."""
    book = opened(sample()[1])
    charts = [chart for sheet in sheets(book) for chart in sheet._charts]
    assert len(charts) == 5
    for chart in charts:
        assert chart.title is not None
        assert (chart.x_axis.delete, chart.y_axis.delete) == (False, False)
        assert chart.y_axis.title is not None


def test_pages_fit_and_say_what_they_belong_to() -> None:
    """Letter where goods come to the United States, as wide as the page, with the study below."""
    for sheet in sheets(opened(sample()[1])):
        assert sheet.page_setup.paperSize == LETTER
        assert sheet.page_setup.fitToWidth == 1
        assert "wren-study, 2026-04-02" in str(sheet.oddFooter.left.text)


def test_what_cannot_be_shown_is_left_out() -> None:
    """Only an offer at home: no screen, no volumes, no outcomes; the answer and landed costs stay."""
    text = 'currency = "USD"\n[demand]\nper_month = 40\n[[offer]]\nname = "Home"\nbreaks = [{from = 1, price = "4"}]\n'
    book = opened(decided(text)[1])
    assert book.sheetnames == ["Answer", "What goes in", "Landed by quantity"]
    assert not any("Screen:" in text for text in words_of(sheets(book)[0]))


def test_no_demand_is_a_workbook_too() -> None:
    """Nothing is bought: the answer and what went in."""
    text = 'currency = "USD"\n[demand]\nper_month = 0\n[[offer]]\nname = "Home"\nbreaks = [{from = 1, price = "4"}]\n'
    assert opened(decided(text)[1]).sheetnames == ["Answer", "What goes in"]


def test_a_certain_study_has_no_outcomes() -> None:
    """One future only: nothing spreads; a screen that cannot pay says so in words."""
    text = CERTAIN.format(per_year=600, capital="0.3", afar="2.40", fixed="400", home="3.20")
    decision, content = decided(text)
    kept = opened(content, values=True)
    assert "How it may turn out" not in kept.sheetnames
    assert decision.screen is not None
    assert not decision.screen[1].can_pay
    assert "cannot pay at this volume" in words_of(kept["Screen"])


def test_never_over_a_file_that_is_there(tmp_path: Path) -> None:
    """What is there stays as it was."""
    path = tmp_path / "w.xlsx"
    path.write_text("mine", encoding="utf-8")
    decision: Decision = sample()[0]
    with pytest.raises(UsageError, match="is there already"):
        write_decision_workbook(decision, StudySources("case", "the study case.toml"), path)
    assert path.read_text(encoding="utf-8") == "mine"
