"""Landed prices as a page to keep, print or hand on: who is cheapest, why, and what that rests on."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.errors import ValueProblem
from ledger.exact.numbers import show_fraction
from ledger.sourcing.comparison import Contender, waterfall
from ledger.sourcing.duties import DutyLayer, layers_for
from ledger.sourcing.quote import Entry
from ledger.views.offer_facts import duty_table, given_text, offer_facts
from ledger.views.page import (
    Block,
    Caution,
    Fact,
    Facts,
    Page,
    Picture,
    Points,
    Respelled,
    Section,
    Text,
    from_table,
    write_page,
)
from ledger.views.pictures import LOOKS, drawn, svg_text
from ledger.views.pictures_prices import draw_curves, draw_way_down
from ledger.views.price_ranking import rankings, why_text
from ledger.views.price_report import PriceReport, days_told, per, unit_text
from ledger.views.prices import (
    better_lines,
    cautions,
    curve_tables,
    cut_words,
    head_text,
    in_all_lines,
    left_out_lines,
    real_size_lines,
    remark_lines,
    steps_table,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_ROW_INCHES = 0.27


def write_price_page(report: PriceReport, path: Path, respelled: Respelled | None = None) -> None:
    """Write the page of a comparison of landed prices; ``respelled`` as in `write_page`.

    Raises UsageError where the file is there already or cannot be written.
    """
    write_page(path, price_page(report), respelled=respelled)


def price_page(report: PriceReport) -> Page:
    """Return the page of a comparison: the answer, the ranking, the steps, the curves, what it rests on."""
    answer, *rest = why_text(report).split("\n")
    goods = report.comparison.market.goods
    return Page(
        title=f"Who is cheapest: {goods.label}",
        lead=answer,
        sections=[
            Section("What was compared", [Text("\n\n".join((head_text(report), *rest))), _words(report)]),
            Section("Who sells it, and what was paid before", _ranking(report)),
            Section("From price to landed cost", _steps(report)),
            Section("By how many are ordered at once", _curves(report)),
            Section("What another quantity would change", _points(better_lines(report))),
            Section("Not compared", _points(left_out_lines(report))),
            Section("What all this rests on", _rests_on(report)),
            Section("Read this with care", _care(report)),
        ],
        foot=f"Made by Blankbook from the book's quotes and receipts on {_today(report)}.",
    )


def _today(report: PriceReport) -> str:
    entries = report.comparison.market.entries.values()
    return next(
        (entry.today.isoformat() for entry in entries if entry.today is not None), "the day it was asked"
    )


def _words(report: PriceReport) -> Facts:
    unit = per(report.unit)
    return Facts(
        [
            Fact(
                "landed",
                "the price with everything needed to bring the goods in: freight, duty, fees, bad pieces",
            ),
            Fact(
                unit,
                f"for one {'piece' if unit == 'each' else report.unit}, as the stock counts it, whatever packs or rolls "
                "the offer is in",
            ),
            *_sizes(report),
            Fact("N or more: buy M", "from N on, M cost less in all than N would: the price breaks there"),
            Fact("in all", "what the whole order costs landed"),
            Fact(
                "days",
                "from order to shelf, as the offer states, or what enough of your own orders took; who says so stands "
                "with each offer below",
            ),
            Fact("price break", "the quantity from which each one is cheaper"),
        ]
    )


def _sizes(report: PriceReport) -> list[Fact]:
    """Return which sizes of a style were priced, with their shares, and which were not."""
    goods = report.comparison.market.goods
    if len(goods.items) < 2 or not sum(goods.shares):  # noqa: PLR2004
        return []
    by_size = list(zip(goods.items, goods.shares, strict=True))
    named = ", ".join(
        f"{item.size or item.sku} {show_fraction(Fraction(100 * share, sum(goods.shares)), 1)}%"
        for item, share in by_size
        if share
    )
    without = [item.size or item.sku for item, share in by_size if not share]
    rest = f"; not priced, for none of it was used: {', '.join(without)}" if without else ""
    return [Fact("sizes priced", f"{named} of the order{rest}", "Dearer sizes count by their part.")]


def _points(lines: list[str]) -> list[Block]:
    return [Points(lines)] if lines else []


def _ranking(report: PriceReport) -> list[Block]:
    caption = f"Offers for {report.wanted}, the cheapest first; money in {report.currency}"
    return [from_table(each.heading.rstrip(":") or caption, each.table) for each in rankings(report)]


def _steps(report: PriceReport) -> list[Block]:
    table = steps_table(report)
    if table is None:
        return []
    blocks: list[Block] = [
        from_table(
            f"Each step from the price to the landed cost, {report.currency} {per(report.unit)}{cut_words(report)}",
            table,
        )
    ]
    offers = report.comparison.offers[: len(LOOKS)]
    highest = max((float(each.unit_cost_minor) for each in offers), default=0.0)
    blocks += [_way(report, each, place, highest) for place, each in enumerate(offers)]
    return [*blocks, *_points([*in_all_lines(report), *real_size_lines(report)])]


def _way(report: PriceReport, each: Contender, place: int, highest_minor: float) -> Picture:
    assert each.quote is not None
    assert each.estimate is not None
    steps = waterfall(each.quote, each.estimate)
    landed = unit_text(each.unit_cost_minor, report)
    title = f"From price to landed cost: {each.name}"
    shows = "; ".join(f"{step.name} {unit_text(step.amount_minor, report)}" for step in steps)
    figure = drawn(
        lambda figure: draw_way_down(figure, report, steps, LOOKS[place], highest_minor),
        0.75 + _ROW_INCHES * (len(steps) + 1),
    )
    return Picture(
        svg_text(figure, title, f"{shows}; landed {landed} {report.currency} {per(report.unit)}."),
        f"{title}. Each bar begins where the one above ends; the hatched one is what it comes to, {landed} "
        f"{report.currency} {per(report.unit)}.",
    )


def _curves(report: PriceReport) -> list[Block]:
    tables = curve_tables(report)
    if not tables:
        return []
    offers = report.comparison.offers[: len(LOOKS)]

    def draw(figure: Figure) -> None:
        draw_curves(figure, report, offers)

    title = f"Landed cost {per(report.unit)} by quantity"
    names = " and ".join(each.name for each in offers)
    picture = Picture(
        svg_text(
            drawn(draw, 3.4), title, f"Landed cost by quantity of {names}; the tables below hold its points."
        ),
        f"{title}. Where a line drops at once there is a price break or another threshold: just below it an order costs "
        "more for each. The dotted line is the quantity compared for. The axis does not begin at 0.",
    )
    return [
        picture,
        *(from_table(f"{name}, by quantity, {report.currency}", table) for name, table in tables.items()),
    ]


def _rests_on(report: PriceReport) -> list[Block]:
    blocks: list[Block] = []
    entries = report.comparison.market.entries
    for each in (*report.comparison.offers, *report.comparison.unquoted):
        if each.quote is None:
            continue
        entry = entries[each.name]
        facts = [*offer_facts(each.quote, given_text(each.quote), entry), *_days(each, report)]
        blocks += [Text(f"The offer {each.name}:"), Facts(facts)]
        table = duty_table(each.name, entry, _layers(each, entry))
        blocks += [table] if table is not None else []
    if report.rates:
        blocks.append(
            Facts(
                [
                    Fact(
                        f"one {code}", f"{show_fraction(rate.rate, 10)} {report.currency}", f"{rate.source}."
                    )
                    for code, rate in report.rates.items()
                ]
            )
        )
    return blocks


def _days(each: Contender, report: PriceReport) -> Iterator[Fact]:
    told = days_told(each, report)
    if told is not None and told.days:
        yield Fact("days from order to shelf", told.days, f"{told.source}.")
    if each.quote is not None and not each.quote.is_domestic:
        yield Fact("duty and fees of the day", report.comparison.market.entries[each.name].on.isoformat())


def _layers(each: Contender, entry: Entry) -> tuple[DutyLayer, ...]:
    """Return the duty layers an offer was reckoned with, each once."""
    if each.quote is None or each.estimate is None:
        return ()
    known = each.quote.duty or entry.duty_layers
    found: list[DutyLayer] = []
    for line in each.estimate.duties:
        try:
            found += layers_for(known, line.customs_class, line.origin, entry.on)
        except ValueProblem:
            continue
    return tuple(dict.fromkeys(found))


def _care(report: PriceReport) -> list[Block]:
    blocks = _points(remark_lines(report))
    caution = cautions(report)
    return [*blocks, Caution(caution)] if caution else blocks
