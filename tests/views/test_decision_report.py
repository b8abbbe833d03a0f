"""The page of a decision: the verdict first, tables as on the screen, pictures with the same figures, all of it safe."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from page_reader import ReadPage, read_page

from ledger.errors import UsageError
from ledger.intake.study_file import content_of, study_from
from ledger.intake.study_sources import StudySources, sources_of_file
from ledger.sourcing.charts import DecisionCharts, charts_of
from ledger.sourcing.decide import Decision, decide
from ledger.views.decision import CAUTION, sentence
from ledger.views.decision_figures import fixed, money_text, unit_text
from ledger.views.decision_pictures import decision_pictures, sheet, write_decision_picture
from ledger.views.decision_report import decision_page, picture_block, write_decision_report
from ledger.views.page import page_html
from ledger.views.pictures import drawn, picture_bytes

STUDY = Path(__file__).resolve().parents[2] / "samples" / "wren-study.toml"
TODAY = datetime.date(2026, 3, 31)


@dataclass(frozen=True)
class Made:
    """A decision with its sources, its chart data and its page."""

    decision: Decision
    sources: StudySources
    charts: DecisionCharts
    html: str

    @property
    def page(self) -> ReadPage:
        """The page as a reader finds it."""
        return read_page(self.html)


def made(text: str, futures: int = 300) -> Made:
    """What a study's text gives."""
    content = content_of(text, "wren-study.toml")
    study = study_from(content, "wren-study.toml", TODAY)
    decision = decide(study, futures, 1)
    sources, charts = sources_of_file("wren-study.toml", content, study), charts_of(decision)
    return Made(decision, sources, charts, page_html(decision_page(decision, sources, charts)))


@pytest.fixture(scope="module")
def wren() -> Made:
    """The sample study."""
    return made(STUDY.read_text("utf-8"))


def test_the_verdict_stands_first(wren: Made) -> None:
    """The sentence of the screen is the first paragraph, right after the title."""
    assert wren.page.texts["p"][0] == sentence(wren.decision)
    assert wren.page.texts["h1"] == ["Where to buy: wren-study"]


def test_the_page_is_whole(wren: Made) -> None:
    """Everything opened is closed; there is no script, nothing from outside, and nothing that is not a number."""
    page = wren.page
    assert page.unclosed == []
    assert {tag for tag, _ in page.elements}.isdisjoint({"script", "link", "img", "iframe", "a", "form"})
    assert "http:" not in wren.html.replace("http-equiv", "")
    assert "https:" not in wren.html
    for wrong in ("nan", "None", "inf "):
        assert wrong not in re.sub(r"[a-z]*(nan|inf)[a-z]+", "", page.words)


def test_the_ways_to_buy_are_those_of_the_decision(wren: Made) -> None:
    """Each alternative's figures, told as on the screen."""
    table = wren.page.table("The ways to buy")
    for held in wren.decision.alternatives:
        told = dict(zip(table.column("alternative"), table.column(held.name), strict=True))
        assert told["pieces"] == f"{held.quantity:,}"
        assert told["saves"] == money_text(wren.decision, held.expected_saving)
        assert told["worst tenth"] == money_text(wren.decision, held.worst_tenth)
        assert told["cash tied up"] == money_text(wren.decision, held.cash_peak)


def test_total_cost_on_the_page_is_that_of_the_picture(wren: Made) -> None:
    """The table holds every point, and the drawn line goes through them in the same proportions."""
    chart = wren.charts.volume
    assert chart is not None
    table = wren.page.table("Total cost in 12 months")
    assert table.column("asked for a month") == [fixed(volume, 1) for volume in chart.per_month]
    for place, line in enumerate(chart.lines, start=1):
        assert [row[place] for row in table.rows] == [
            money_text(wren.decision, each) for each in line.totals_minor
        ]
    lines = lines_of(svg(wren, "What it costs in all"), len(chart.per_month))
    assert len(lines) >= len(chart.lines)
    for line, points in zip(chart.lines, lines, strict=False):
        assert in_proportion(points[:, 0], chart.per_month)
        assert in_proportion(points[:, 1], [-each for each in line.totals_minor])


def test_cash_and_stock_on_the_page_are_those_of_the_pictures(wren: Made) -> None:
    """Every fourth week of both bands stands in the table; the middle line is drawn through all weeks."""
    cash, stock = wren.charts.cash, wren.charts.stock
    assert cash is not None
    assert stock is not None
    table = wren.page.table("Cash (saved less paid")
    for row in table.rows:
        week = int(row[0])
        assert row[1:4] == [
            money_text(wren.decision, each[week])
            for each in (cash.band.low, cash.band.middle, cash.band.high)
        ]
        assert row[4:] == [
            fixed(each[week], 0) for each in (stock.band.low, stock.band.middle, stock.band.high)
        ]
    assert [row[0] for row in table.rows][-2:] == ["48", "52"]
    for beginning, band in (("The money tied up", cash.band), ("The shelf", stock.band)):
        drawn_lines = lines_of(svg(wren, beginning), len(band.middle))
        assert any(in_proportion(points[:, 1], [-each for each in band.middle]) for points in drawn_lines)


def test_savings_on_the_page_are_those_of_the_picture(wren: Made) -> None:
    """Every bar stands in the table, and all futures are in it."""
    chart = wren.charts.saving
    assert chart is not None
    table = wren.page.table("In how many futures the saving lies there")
    for place, spread in enumerate(chart.spreads, start=2):
        assert [row[place] for row in table.rows] == [f"{count:,}" for count in spread.counts]
        assert table.totals[0][place] == "300"


def test_bars_are_as_high_as_they_count(wren: Made) -> None:
    """The picture itself holds the counts of the chart data, bar by bar, the mean and the worst tenth."""
    chart = wren.charts.saving
    assert chart is not None
    each = next(
        one for one in decision_pictures(wren.decision, wren.charts) if one.title.startswith("How much")
    )
    figure = drawn(each.draw, each.height_inches)
    for axes, spread in zip(figure.axes, chart.spreads, strict=True):
        assert [patch.get_height() for patch in axes.patches] == list(spread.counts)
        marks = [line.get_xdata()[0] for line in axes.lines if line.get_linestyle() == "None"]
        assert marks == [spread.mean_minor / 100, spread.worst_tenth_minor / 100]


def test_landed_costs_on_the_page_are_those_of_the_offers(wren: Made) -> None:
    """The orders of the tables and both sides of each break, for every offer."""
    table = wren.page.table("Landed cost a piece by how many are ordered")
    told = {(row[0], row[1]): row[2] for row in table.rows}
    for plan in wren.decision.plans:
        quantity = plan.order_quantity
        assert quantity is not None
        assert told[plan.offer.name, f"{quantity:,}"] == unit_text(wren.decision, plan.curve.unit(quantity))
    assert ("Tarnwick Blank Goods, Wren", "71") in told
    assert ("Tarnwick Blank Goods, Wren", "72") in told


def test_pictures_do_not_overlap_their_own_words(wren: Made) -> None:
    """No two words of a picture lie on one another, in none of the pictures."""
    for each in decision_pictures(wren.decision, wren.charts):
        figure = drawn(each.draw, each.height_inches)
        figure.draw_without_rendering()
        for axes in figure.axes:
            ticks = (*axes.get_xticklabels(), *axes.get_yticklabels())
            every = (*axes.texts, axes.xaxis.label, axes.yaxis.label, *ticks)
            texts = [text for text in every if text.get_text()]
            boxes = [text.get_window_extent() for text in texts]
            assert not [
                (texts[at].get_text(), texts[other].get_text())
                for at in range(len(boxes))
                for other in range(at)
                if boxes[at].overlaps(boxes[other])
            ]


def test_no_value_of_a_tornado_stands_on_the_line_at_nothing(wren: Made) -> None:
    """A bar that ends near the line has its value beyond it; all stay within the axes."""
    (each,) = (
        one
        for one in decision_pictures(wren.decision, wren.charts)
        if one.title.startswith("What the saving")
    )
    figure = drawn(each.draw, each.height_inches)
    figure.draw_without_rendering()
    (axes,) = figure.axes
    at_nothing, inside = axes.transData.transform((0, 0))[0], axes.get_window_extent()
    boxes = [text.get_window_extent() for text in axes.texts]
    assert len(boxes) == 12
    for box in boxes:
        assert not box.x0 < at_nothing < box.x1
        assert inside.x0 < box.x0
        assert box.x1 < inside.x1


def test_every_cost_of_the_way_is_an_assumption_too(wren: Made) -> None:
    """Who pays the carriage and what it costs, with its limit; each amount at home; prices with their decimals."""
    words = " ".join(wren.page.words.split())
    assert "you pay it: 9.80 CNY a kg (by weight, as the items have it) (ocean)" in words
    assert "you pay it: 14.00 USD an order; free where the goods come to 200.00 USD or more (ground)" in words
    for paid in ("brokerage 140.00", "terminal 61.00", "delivery to the door 92.50", "bank fee 35.00"):
        assert f"{paid} USD" in words
    assert "from 300: 11.20; from 600: 10.40 CNY" in words


def test_the_order_that_the_break_even_is_of_is_named(wren: Made) -> None:
    """At the list of switch points and at the picture it is the same order and the same figure."""
    held, points = wren.decision.focus, wren.decision.break_even
    assert held is not None
    assert points is not None
    assert points.units_per_month is not None
    words = " ".join(wren.page.words.split())
    named = f"the recommended order, {held.quantity:,} from {held.offer_name}"
    assert f"The saving of {named} would be nothing" in words
    assert f"at {fixed(points.units_per_month, 1)} a month: there {named} costs as much" in words


def test_every_assumption_has_its_source_and_date(wren: Made) -> None:
    """Duties with where and when they were read and that they are examples; the rate; limits; seed and futures."""
    words = " ".join(wren.page.words.split())
    duty = wren.page.table("Duty on goods from Nine Sparrows Knitting Mill")
    assert duty.column("read where")[0] == "customs ruling NY N352158"
    assert set(duty.column("checked on")) == {"2026-03-20"}
    assert all("an example, as you typed it: no fact" in cell for cell in duty.column("levied under"))
    for told in (
        "0.1462 USD as the study states it; it gives no date.",
        "300 futures from seed 1",
        "1,800.00 USD",
        "from 600: 10.40 CNY",
        "353 left in 6 months with stock",
        "from the study wren-study.toml",
        "Made by Blankbook from the study wren-study.toml on 2026-03-31",
    ):
        assert told in words


def test_what_nobody_stated_is_marked(wren: Made) -> None:
    """A figure that the study leaves out is told as taken, not as stated."""
    text = STUDY.read_text("utf-8").replace("salvage_fraction = 0.2", "# nothing said of leftovers: 0.2")
    words = " ".join(made(text, 50).page.words.split())
    assert "0.0% of the lower of landed and home cost assumed, for nobody said." in words
    assert "20.0% of the lower of landed and home cost the study wren-study.toml." in " ".join(
        wren.page.words.split()
    )


def test_the_caution_stands_once(wren: Made) -> None:
    """And not at all where nothing crosses a border."""
    assert wren.page.words.count(CAUTION) == 1
    head, _, home = STUDY.read_text("utf-8").split("[[offer]]")
    assert CAUTION not in made(f"{head}[[offer]]{home}", 50).page.words


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", 'Knit & "Sew" \'n <b>Co', "a$b$^2_{x}\\frac"])
def test_names_stay_words(name: str) -> None:
    """Whatever a supplier is called, the page and its pictures only show it."""
    written = name.replace("\\", "\\\\").replace('"', '\\"')
    text = STUDY.read_text("utf-8").replace("Nine Sparrows Knitting Mill, knit to order", written)
    found = made(text, 50)
    assert {tag for tag, _ in found.page.elements}.isdisjoint({"script", "b"})
    assert name in found.page.words
    assert name in " ".join(found.page.texts["text"])


def test_the_same_study_gives_the_same_page(wren: Made) -> None:
    """To the byte, pictures and all."""
    assert made(STUDY.read_text("utf-8")).html == wren.html


@pytest.mark.parametrize(
    ("change", "missing"),
    [
        (("per_month = 0.0", ""), {"svg"}),
        (("per_month = 60.0\nsd_per_month = 0", ""), set()),
    ],
)
def test_a_page_of_little_is_still_a_page(change: tuple[str, str], missing: set[str]) -> None:
    """No demand, or no chance: sections without contents are left out, nothing breaks."""
    head, rest = STUDY.read_text("utf-8").split("[demand]")
    _, money = rest.split("[money]")
    found = made(f"{head}[demand]\n{change[0]}\n[money]{money}", 50)
    tags = {tag for tag, _ in found.page.elements}
    assert not tags & missing
    assert found.page.unclosed == []


def test_no_page_is_written_over_another(wren: Made, tmp_path: Path) -> None:
    """Neither a page nor a sheet of pictures."""
    page, picture = tmp_path / "a.html", tmp_path / "a.svg"
    write_decision_report(wren.decision, wren.sources, page)
    write_decision_picture(wren.decision, picture)
    kept = (page.read_bytes(), picture.read_bytes())
    with pytest.raises(UsageError, match="there already"):
        write_decision_report(wren.decision, wren.sources, page)
    with pytest.raises(UsageError, match="there already"):
        write_decision_picture(wren.decision, picture)
    assert (page.read_bytes(), picture.read_bytes()) == kept


def test_the_sheet_holds_every_picture(wren: Made) -> None:
    """With its title; and the same sheet every time."""
    pictures = decision_pictures(wren.decision, wren.charts)
    figure = sheet(pictures)
    assert [part.get_suptitle() for part in figure.subfigs][: len(pictures)] == [
        each.title for each in pictures
    ]
    assert picture_bytes(figure, ".svg") == picture_bytes(sheet(pictures), ".svg")


def svg(wren: Made, beginning: str) -> str:
    """The picture of the page whose title begins so."""
    (each,) = (
        one for one in decision_pictures(wren.decision, wren.charts) if one.title.startswith(beginning)
    )
    text = picture_block(each).svg
    assert text in wren.html
    return text


def lines_of(text: str, points: int) -> list[np.ndarray]:
    """The lines of a picture that have so many points, as they are drawn."""
    found = []
    for line in re.findall(r'<path d="([^"]*)"[^>]*fill: none', text):
        numbers = re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", line)
        if len(numbers) == points:
            found.append(np.array(numbers, dtype=float))
    return found


def in_proportion(drawn_at: np.ndarray, values: object) -> bool:
    """Whether places on the page are a straight function of values, rising with them."""
    given = np.asarray(values, dtype=float)
    slope, start = np.polyfit(given, drawn_at, 1)
    return bool(slope > 0 and np.allclose(slope * given + start, drawn_at, atol=0.02))
