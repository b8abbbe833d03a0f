"""A buying decision as a page to keep, print or hand on: the answer first, then why, then what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ledger.intake.study_sources import StudySources
from ledger.sourcing.charts import DecisionCharts, charts_of
from ledger.sourcing.decide import Decision
from ledger.sourcing.verdict import BASE_AND_TOP_UP, BULK, DOMESTIC, NEED_DATA, TOO_CLOSE
from ledger.views import tables
from ledger.views.decision import (
    CAUTION,
    alternatives_table,
    flip_lines,
    offers_table,
    sentence,
    tornado_table,
    year_text,
)
from ledger.views.decision_answers import (
    good_words,
    order_words,
    quantity_words,
    there_words,
    until_words,
)
from ledger.views.decision_chart_tables import chart_tables
from ledger.views.decision_figures import counted, fixed, money_text, percent, unit_text
from ledger.views.decision_pictures import DecisionPicture, Shows, decision_pictures
from ledger.views.decision_rests_on import rests_on
from ledger.views.decision_sizes import sizes_table
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
    Table,
    Text,
    from_table,
    write_page,
)
from ledger.views.pictures import drawn, svg_text
from ledger.views.trial_order import trial_text, waiting_text

_MEANS = {
    BULK: "BULK: buy one large order from afar now, enough for as long as it pays to hold it.",
    DOMESTIC: "DOMESTIC: go on buying at home. An order from afar does not pay, or breaks one of your limits.",
    BASE_AND_TOP_UP: (
        "BASE AND TOP-UP: buy the certain part from afar in one order now (the base), and the rest at home as it is "
        "asked for (the top-up)."
    ),
    TOO_CLOSE: "TOO CLOSE: the ways cost about the same; chance makes more difference than the choice.",
    NEED_DATA: "NEED DATA: too little is known to recommend a change.",
}


def write_decision_report(
    decision: Decision, sources: StudySources, path: Path, respelled: Respelled | None = None
) -> None:
    """Write the page of a decision; ``respelled`` as in `write_page`.

    Raises UsageError where the file is there already or cannot be written.
    """
    write_page(path, decision_page(decision, sources, charts_of(decision)), respelled=respelled)


def decision_page(decision: Decision, sources: StudySources, charts: DecisionCharts) -> Page:
    """Return the page of a decision: the verdict, the ways to buy, the reasons, what it rests on."""
    shown = _Shown(decision_pictures(decision, charts))
    return Page(
        title=f"Where to buy: {sources.label}",
        lead=sentence(decision),
        sections=[
            Section("What the answer means", _meaning(decision)),
            Section("The ways to buy, held against one another", _alternatives(decision, shown)),
            Section("How many of each", _sizes(decision)),
            Section("Why", _why(decision)),
            Section("What would turn the answer", _turns(decision, shown)),
            Section("Each offer by itself", _offers(decision, shown)),
            Section("Money and shelf, week by week", shown.take(Shows.CASH, Shows.SHELF)),
            Section("What all this rests on", rests_on(decision, sources)),
            Section("Read this with care", _care(decision)),
            Section("The figures behind the pictures", chart_tables(decision, charts)),
        ],
        foot=(
            f"Made by Blankbook from {sources.made_from} on {decision.study.today.isoformat()}. The same figures and "
            f"the same seed ({decision.seed}) give the same page."
        ),
    )


class _Shown:
    """The pictures of a page, each drawn once, where its section stands."""

    def __init__(self, pictures: Sequence[DecisionPicture]) -> None:
        self.pictures = pictures

    def take(self, *wanted: Shows) -> list[Block]:
        """Return the pictures of these, in that order; those a decision has."""
        return [picture_block(each) for one in wanted for each in self.pictures if each.of is one]


def picture_block(picture: DecisionPicture) -> Picture:
    """Return a picture as it stands on a page, with its title and how it is read below it."""
    figure = drawn(picture.draw, picture.height_inches)
    return Picture(svg_text(figure, picture.title, picture.shows), f"{picture.title}. {picture.reading}")


def _meaning(decision: Decision) -> list[Block]:
    study, facts = decision.study, []
    text = [_MEANS.get(decision.verdict.word, "")]
    home = decision.home
    if home is not None and home.order_quantity is not None and decision.bulk_plan is not None:
        text.append(
            "Here 'at home' is an offer whose goods cross no border, 'from afar' one whose goods do. Saving always "
            f"means against buying everything at home, at {home.offer.name}, "
            f"{counted(decision, home.order_quantity)} at a time."
        )
    text += [until_words(decision), there_words(decision)]
    if decision.futures > 1 and decision.bulk_plan is not None:
        facts += [
            Fact(
                "a future",
                f"one imagined course of the {study.horizon_months} months ahead: how many are asked for each week and "
                f"when goods arrive. {decision.futures:,} of them were drawn from what is known, the same for every way "
                "to buy.",
            ),
            Fact(
                "expected to save",
                "the mean over all futures; the figure after ± says how far it may be off because no more futures were "
                "drawn (one standard error).",
            ),
            Fact(
                "ties up at most",
                "the most cash that is out in any future before what is saved brings it back.",
            ),
        ]
    if decision.order_by is not None:
        facts.append(Fact(f"by {decision.order_by.isoformat()}", _order_by_words(decision)))
    return [Text("\n\n".join(filter(None, text))), *([Facts(facts)] if facts else [])]


def _order_by_words(decision: Decision) -> str:
    """Return what the day to order by means."""
    study, notes = decision.study, decision.order_date.notes
    if notes:
        return f"the last day to order on: {notes[0]}"
    until = (
        f"they are needed by {study.need_by.isoformat()}."
        if study.need_by is not None
        else "before the first of the chief sizes runs out."
    )
    return (
        f"the last day to order on, so that the goods are there in time in {percent(study.money.service_level)} of "
        f"cases: {until}"
    )


def _turned(table: tables.Table) -> tables.Table:
    """Return a table with its rows across and its columns down: few ways fit where many figures do not."""
    heads = [heading.removeprefix(">") for heading in table.headings]
    turned = tables.Table([heads[0], *(f">{row[0]}" for row in table.rows)])
    for place, head in enumerate(heads[1:], 1):
        turned.add(head, *(row[place] for row in table.rows))
    return turned


def _alternatives(decision: Decision, shown: _Shown) -> list[Block]:
    table = alternatives_table(decision)
    if table is None:
        return []
    study = decision.study
    meanings = Facts(
        [
            Fact("domestic, bulk, base and top-up", "all bought at home ('domestic'); all in one order from afar; one order from afar for the "
                 "certain part and the rest at home"),
            Fact("landed", f"what one costs {study.of_one} with everything needed to bring it in: freight, duty, fees"),
            Fact("saves, ±", f"the mean saving in {study.horizon_months} months, and its standard error"),
            Fact("cheaper in", "the part of the futures in which that way costs less than all at home"),
            Fact("worst tenth", "the mean saving of the worst tenth of futures: what a bad course costs"),
            Fact("left over", f"pieces of the order still there after {study.horizon_months} months, on average"),
            Fact("weeks of cover", "how long the order lasts at the demand expected"),
            Fact("cash tied up", "the most money that is out at once, in any future"),
            Fact("back in weeks", "when the money is back in half of the futures"),
            Fact("each sold", "what one that is really used or sold costs in the end: those pay for the leftovers, too"),
        ]
    )  # fmt: skip
    return [
        from_table(f"The ways to buy; money in {study.currency}", _turned(table), quantity_words(decision)),
        meanings,
        *shown.take(Shows.COST_BY_DEMAND, Shows.SAVING),
    ]


def _sizes(decision: Decision) -> list[Block]:
    table = sizes_table(decision)
    if table is None:
        return []
    return [
        Text(
            "The order from afar is split so that each further piece goes to the size that is most likely to use it. "
            "An order at home is split so that all sizes last equally long."
        ),
        from_table(f"{decision.study.unit_words} of each size".capitalize(), table),
    ]


def _why(decision: Decision) -> list[Block]:
    year = year_text(decision)
    words = "\n\n".join(filter(None, (good_words(decision), year)))
    return [Points(decision.verdict.reasons), *([Text(words)] if words else [])]


def _turns(decision: Decision, shown: _Shown) -> list[Block]:
    table, blocks = tornado_table(decision), list[Block]()
    flips = flip_lines(decision)
    if flips:
        blocks += [
            Text(f"The saving of {order_words(decision)} would be nothing, all else as it is, at:"),
            Points(flips),
            Text(
                "Paying quantities are those whose saving is above nothing on average over all futures; the smallest is "
                "no less than the offer takes. Your limits may still forbid some of them."
            ),
        ]
    if table is not None and decision.focus is not None:
        blocks += [
            Text(
                f"Each line changes one assumption alone, for the order of {counted(decision, decision.focus.quantity)} "
                "from afar. 'Landed unit cost' is what one of it costs from afar, 'domestic unit price' what one costs at "
                "home. Demand and lead time (the days from order to shelf) are moved as far as is believed possible "
                "in eight of ten cases where they are uncertain; prices by a tenth; the rest as shown. Capital per year "
                "is what a year on the shelf costs as a part of the landed cost; the salvage fraction is what a leftover "
                "still fetches, as a part of the lower of landed and home cost."
            ),
            from_table(f"What the saving would be; money in {decision.study.currency}", table),
            *shown.take(Shows.ASSUMPTIONS),
        ]
    words = "\n\n".join(filter(None, (waiting_text(decision), trial_text(decision))))
    return [*blocks, *([Text(words)] if words else [])]


def _offers(decision: Decision, shown: _Shown) -> list[Block]:
    table = offers_table(decision)
    if table is None:
        return []
    blocks: list[Block] = [
        Text(
            "Each offer as if everything were bought there, ordered again and again: the order quantity that costs least "
            "in a year, and what the year costs. 'Order again at' is the stock at which the next order has to go out so "
            f"that the shelf lasts in {percent(decision.study.money.service_level)} of cases; 'safety stock' is the part "
            "of it that is there for chance; the textbook's formula stands beside it for comparison. 'Holding' is what stock on the shelf costs, 'paid early' what it costs to "
            "pay before the goods arrive, 'running short' what the dearer way out costs when the shelf is empty."
        ),
        from_table(f"Each offer by itself; money in {decision.study.currency}", table),
        *shown.take(Shows.COST_BY_QUANTITY),
    ]
    return [*blocks, *_landed(decision)]


def _landed(decision: Decision) -> list[Block]:
    """Return how one order of each offer comes to its landed cost, part by part."""
    blocks: list[Block] = []
    for plan in decision.plans:
        if plan.order_quantity is None:
            continue
        estimate = plan.curve.at(plan.order_quantity)
        rows = [(part.name, money_text(decision, part.amount_minor), part.how) for part in estimate.parts]
        total = ("in all", money_text(decision, estimate.total_minor), "")
        good = float(estimate.good_units)
        each = (
            f"{decision.study.of_one}, landed",
            unit_text(decision, plan.curve.unit(plan.order_quantity)),
            "" if good == plan.order_quantity else f"of {fixed(good, 1)} expected to be good",
        )
        blocks.append(
            Table(
                f"An order of {counted(decision, plan.order_quantity)} from {plan.offer.name}, {decision.study.currency}",
                ("part", "amount", "how it came about"),
                rows,
                frozenset({1}),
                (total, each),
            )
        )
    return blocks


def _care(decision: Decision) -> list[Block]:
    blocks: list[Block] = [Points(decision.warnings)] if decision.warnings else []
    if any(not plan.offer.is_domestic for plan in decision.plans):
        blocks.append(Caution(CAUTION))
    return blocks
