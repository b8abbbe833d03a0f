"""Who is cheapest landed, and why: offers and past receipts per base unit, in words and tables."""

from __future__ import annotations

from fractions import Fraction

from ledger.book.pack_rounding import WholePacks
from ledger.exact.numbers import show_fraction
from ledger.sourcing.comparison import PRICE, Contender, step_names, waterfall
from ledger.sourcing.landed_curve import BetterBuy
from ledger.sourcing.landed_estimate import HARBOR_FEE, PROCESSING_FEE, LandedEstimate
from ledger.sourcing.landed_words import units_words
from ledger.views import figures
from ledger.views.price_ranking import days_words, ranking_text, standing_words, why_text
from ledger.views.price_report import PriceReport, by_size, per, unit_text
from ledger.views.quotes import CUSTOMS_CAUTION
from ledger.views.tables import Table, paragraphs

MOST_COLUMNS = 5
"""How many offers the table of steps shows, the cheapest first; scripts get all."""


def report_text(report: PriceReport) -> str:
    """Return the whole report: the ranking, the steps, the reason, what more would change, cautions."""
    return paragraphs(
        [
            head_text(report),
            why_text(report),
            ranking_text(report),
            days_words(report),
            _steps(report),
            "\n".join(in_all_lines(report)),
            "\n".join(real_size_lines(report)),
            "\n".join(better_lines(report)),
            curve_text(report) if report.shows_curves else "",
            _left_out(report),
            "\n".join(remark_lines(report)),
            cautions(report),
        ]
    )


def head_text(report: PriceReport) -> str:
    """Return what was compared: the goods, how many, in which currency, entered when."""
    goods = report.comparison.market.goods
    wanted = show_fraction(report.comparison.wanted, 3)
    shares = f" Sizes: {goods.shares_from}." if goods.shares_from else ""
    entry = f", entry on {report.entry.isoformat()}" if report.entry else ""
    if report.is_foreign and not report.entry:
        entry = ", duty and fees of the day each offer's goods enter: today and its lead time (--entry sets another)"
    return f"{goods.label}: {wanted} {report.unit} ({report.wanted_from}), landed in {report.currency}{entry}.{shares}"


def _steps(report: PriceReport) -> str:
    table = steps_table(report)
    return "" if table is None else f"From price to landed cost{cut_words(report)}:\n{table.text()}"


def cut_words(report: PriceReport) -> str:
    """Return in words that the table of steps leaves offers out; nothing where it has all."""
    every = len(report.comparison.offers)
    return f", the first {MOST_COLUMNS} of {every} offers (--json has all)" if every > MOST_COLUMNS else ""


def steps_table(report: PriceReport) -> Table | None:
    """Return the way from price to landed cost, one column for each offer."""
    offers = report.comparison.offers[:MOST_COLUMNS]
    if not offers:
        return None
    found = [waterfall(each.quote, each.estimate) for each in offers if each.quote and each.estimate]
    ways = [{step.name: step.amount_minor for step in way} for way in found]
    table = Table([per(report.unit), *(f">{each.name}" for each in offers)])
    for name in step_names(found):
        table.add(name, *(_step_cell(name, way.get(name), report) for way in ways))
    table.total("landed", *(unit_text(each.unit_cost_minor, report) for each in offers))
    return table


def _step_cell(name: str, amount: Fraction | None, report: PriceReport) -> str:
    if amount is None:
        return ""
    text = unit_text(amount, report)
    return text if name == PRICE or amount < 0 else f"+{text}"


def in_all_lines(report: PriceReport) -> list[str]:
    """Return the parts of each order as a whole, with how each came about."""
    said = []
    for each in (*report.comparison.offers, *report.comparison.unquoted):
        if each.estimate is None:
            continue
        parts = []
        for part in each.estimate.parts:
            how = f" ({part.how})" if part.how else ""
            sign = "-" if part.amount_minor < 0 else ""
            parts.append(f"{part.name} {sign}{figures.money(abs(part.amount_minor), report.currency)}{how}")
        total = figures.money(each.estimate.total_minor, report.currency)
        known = f"{total} without {standing_words(each)}" if each in report.comparison.unquoted else total
        ordered = units_words(each.estimate.quantity, each.quote.unit if each.quote else "")
        said.append(f"{each.name}, {ordered} ordered: {'; '.join(parts)}; in all {known}.")
    return said


def real_size_lines(report: PriceReport) -> list[str]:
    """Return by how much a pack holds less or more than its name says."""
    goods = report.comparison.market.goods
    said = []
    for each in report.comparison.offers:
        pack = goods.pack(each.quote.unit) if each.quote and each.quote.unit else None
        if pack is not None and pack.nominal_factor and pack.nominal_factor != pack.factor:
            by = pack.nominal_factor / pack.factor - 1
            word = "dearer" if by > 0 else "cheaper"
            said.append(
                f"{each.name}: a {pack.name} sold as {pack.nominal} holds {show_fraction(pack.factor, 2)} "
                f"{report.unit}, not {show_fraction(pack.nominal_factor, 2)}: {show_fraction(abs(by) * 100, 1)}% "
                f"{word} than by its name. Landed costs here are by the real size."
            )
    return said


def size_lines(report: PriceReport) -> list[str]:
    """Return what the prepacks of each offer bring of each size."""
    offers = (*report.comparison.offers, *report.comparison.unquoted)
    return [
        f"{each.name}, {show_fraction(each.quantity, 3)}: {', '.join(f'{size} {count}' for size, count in sizes.items())}."
        for each in offers
        if (sizes := by_size(each))
    ]


def better_lines(report: PriceReport) -> list[str]:
    """Return what prepacks bring, what has to be ordered beyond what is wanted, and where more costs no more."""
    said = size_lines(report)
    for each in report.comparison.offers:
        quote, buying = each.quote, each.buying
        if quote is None or buying is None:
            continue
        unit = quote.unit or report.unit
        if buying.extra:
            why = f" ({', '.join(buying.reasons)})" if buying.reasons else ""
            said.append(
                f"{each.name}: {units_words(buying.quantity, unit)} for the {buying.wanted} wanted{why}."
            )
        said += [
            _better_words(each, better, unit, report.currency)
            for better in report.better.get(each.name, ())
            # Asked for as many as that, one buys them already.
            if better.quantity > buying.quantity
        ]
    said += [_rounded_words(each, report) for each in report.rounded]
    return said


def _rounded_words(rounded: WholePacks, report: PriceReport) -> str:
    """Return what whole packs of the cheapest offer would change."""
    best = report.comparison.offers[0]
    more = rounded.total_minor - best.total_minor
    each = rounded.unit_cost_minor - best.unit_cost_minor
    sizes = " of each size" if len(report.comparison.market.goods.items) > 1 else ""
    return (
        f"{best.name}, by the whole {rounded.pack}{sizes}: {show_fraction(rounded.quantity, 3)} {report.unit}, "
        f"{figures.money(abs(more), report.currency)} {'more' if more >= 0 else 'less'} in all and "
        f"{_more_or_less(each, report)} {per(report.unit)}."
    )


def _more_or_less(each: Fraction, report: PriceReport) -> str:
    """Return a difference of one unit's cost in words; one too small to be shown is none."""
    shown = unit_text(abs(each), report)
    if shown == unit_text(Fraction(0), report):
        return "the same"
    return f"{shown} {'more' if each > 0 else 'less'}"


def _better_words(each: Contender, better: BetterBuy, unit: str, currency: str) -> str:
    ordered = each.buying.quantity if each.buying else 0
    reaches = better.wanted_from <= ordered < better.quantity
    now = ""
    if reaches:
        saving = each.total_minor - better.total_minor
        more = better.quantity - ordered
        now = (
            ""
            if saving <= 0
            else f" For the {units_words(ordered, unit)} here: {units_words(more, unit)} more and {figures.money(saving, currency)} less in all."
        )
    return (
        f"{each.name}: {units_words(better.wanted_from, unit)} or more: buy {units_words(better.quantity, unit)}, "
        f"{figures.money(better.total_minor, currency)} in all, less than {units_words(better.wanted_from, unit)} cost.{now}"
    )


def curve_text(report: PriceReport) -> str:
    """Return landed unit costs by quantity as the screen shows them, one table for each offer."""
    return "\n\n".join(
        f"{name}, by quantity:\n{table.text()}" for name, table in curve_tables(report).items()
    )


def curve_tables(report: PriceReport) -> dict[str, Table]:
    """Return landed unit costs by quantity, one table for each offer by its name."""
    found = {}
    for name, points in report.curves.items():
        quote = next(each.quote for each in report.comparison.offers if each.name == name)
        unit = (quote.unit if quote else "") or report.unit
        table = Table([f">{unit}", f">landed {per(report.unit)}", ">in all", "what changes"])
        for point in points:
            table.add(
                f"{point.quantity:,}",
                unit_text(point.unit_cost_minor, report),
                figures.money(point.estimate.total_minor, report.currency),
                point.what,
            )
        found[name] = table
    return found


def _left_out(report: PriceReport) -> str:
    lines = [f"  {each}" for each in left_out_lines(report)]
    return "\n".join(["Not compared:", *lines]) if lines else ""


def left_out_lines(report: PriceReport) -> list[str]:
    """Return which offers are not compared, and why."""
    return [
        f"{each.name}: {each.reason.removeprefix(each.name + ': ')}" for each in report.comparison.left_out
    ]


def remark_lines(report: PriceReport) -> list[str]:
    """Return what to know before relying on the figures, and where fees and rates come from."""
    offers = (*report.comparison.offers, *report.comparison.unquoted)
    lines = [f"{each.name}: {remark}" for each in offers for remark in each.remarks]
    lines += [
        f"{each.name}: no entry fees are counted, for the table has those of the United States only: put yours "
        "into its brokerage."
        for each in offers
        if each.quote
        and each.quote.entry_fees is None
        and each.estimate
        and each.estimate.customs_value_minor
    ]
    sources: dict[str, list[str]] = {}
    for each in offers:
        if each.quote and each.quote.entry_fees and each.estimate and _pays_fees(each.estimate):
            sources.setdefault(each.quote.entry_fees.source, []).append(each.name)
    lines += [
        f"Entry fees by the table, source: {source} ({'; '.join(names)})."
        for source, names in sources.items()
    ]
    lines += [
        f"One {code} is taken as {show_fraction(rate.rate, 10)} {report.currency}: {rate.source}."
        for code, rate in report.rates.items()
    ]
    return list(dict.fromkeys(lines))


def _pays_fees(estimate: LandedEstimate) -> bool:
    return bool(estimate.amount_minor(PROCESSING_FEE) or estimate.amount_minor(HARBOR_FEE))


def cautions(report: PriceReport) -> str:
    """Return the caution about customs, once, where any offer is dutiable."""
    return CUSTOMS_CAUTION if report.is_foreign or report.comparison.left_out else ""
