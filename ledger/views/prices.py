"""Who is cheapest landed, and why: offers and past receipts per base unit, in words and tables."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.buying import Comparison
from ledger.book.pack_rounding import WholePacks
from ledger.exact.currencies import exponent
from ledger.exact.numbers import show_fraction, show_scaled
from ledger.exact.rounding import round_fraction
from ledger.intake.paying_rates import PayingRate
from ledger.sourcing.comparison import DEFECTS, PAID, PRICE, Contender, waterfall, why_cheaper
from ledger.sourcing.landed_curve import BetterBuy, CurvePoint
from ledger.sourcing.landed_estimate import HARBOR_FEE, PROCESSING_FEE, LandedEstimate
from ledger.views import figures
from ledger.views.quotes import CUSTOMS_CAUTION
from ledger.views.tables import Table, paragraphs

LARGER: Mapping[str, tuple[str, Fraction]] = {
    "sheet": ("hundred", Fraction(100)),
    "mL": ("L", Fraction(1000)),
    "g": ("kg", Fraction(1000)),
    "cm": ("m", Fraction(100)),
    "cm2": ("m2", Fraction(10_000)),
}
"""The larger measure in which what is cheap by its base unit is told too."""

_LAST_HEADINGS = (">in all", ">days", "when", "terms")

MOST_COLUMNS = 5
"""How many offers the table of steps shows, the cheapest first; scripts get all."""

SCRIPT_PLACES = 4
"""Decimals beyond the currency's own in which scripts get a unit cost."""


@dataclass(frozen=True)
class PriceReport:
    """What one question found: the comparison, what buying more would change, the curves, the rates.

    ``wanted_from`` says where the quantity was taken from: as asked, or as many as came last time;
    ``rounded`` is the cheapest offer for whole packs.
    """

    comparison: Comparison
    wanted_from: str
    entry: datetime.date
    better: Mapping[str, tuple[BetterBuy, ...]]
    curves: Mapping[str, tuple[CurvePoint, ...]]
    rates: Mapping[str, PayingRate]
    shows_curves: bool = False
    rounded: tuple[WholePacks, ...] = ()

    @property
    def currency(self) -> str:
        """The book's."""
        return self.comparison.market.currency

    @property
    def places(self) -> int:
        """How many decimals unit costs are told with: more where a unit costs next to nothing."""
        cheapest = min((each.unit_cost_minor for each in self.comparison.contenders), default=Fraction(0))
        is_small = cheapest < Fraction(10 ** exponent(self.currency), 100)
        return figures.SMALL_UNIT_PLACES if is_small else figures.SHOWN_UNIT_PLACES

    @property
    def unit(self) -> str:
        """The base unit of the goods."""
        return self.comparison.market.goods.first.base_unit


def per(unit: str) -> str:
    """Return 'each' or 'per sheet', as a price is told."""
    return unit if unit == "each" else f"per {unit}"


def unit_text(cost_minor: Fraction, report: PriceReport) -> str:
    """Return an exact unit cost with four decimals, six where a unit costs less than a hundredth."""
    value = cost_minor / 10 ** exponent(report.currency)
    places = max(report.places, exponent(report.currency))
    return show_scaled(round_fraction(value * 10**places), places)


def report_text(report: PriceReport) -> str:
    """Return the whole report: the ranking, the steps, the reason, what more would change, cautions."""
    return paragraphs(
        [
            _head(report),
            _ranking(report),
            why_text(report),
            _steps(report),
            _in_all(report),
            _real_sizes(report),
            _better(report),
            curve_text(report) if report.shows_curves else "",
            _left_out(report),
            _remarks(report),
            cautions(report),
        ]
    )


def _head(report: PriceReport) -> str:
    goods = report.comparison.market.goods
    wanted = show_fraction(report.comparison.wanted, 3)
    shares = f" Sizes: {goods.shares_from}." if goods.shares_from else ""
    return (
        f"{goods.label}: {wanted} {report.unit} ({report.wanted_from}), landed in {report.currency}, "
        f"entry on {report.entry.isoformat()}.{shares}"
    )


def _ranking(report: PriceReport) -> str:
    currency = report.currency
    larger = LARGER.get(report.unit)
    headings = ["", "who", "kind", ">buys", f">price {per(report.unit)}", f">landed {per(report.unit)}"]
    table = Table([*headings, *([f">landed per {larger[0]}"] if larger else []), *_LAST_HEADINGS])
    for place, each in enumerate(report.comparison.contenders, start=1):
        by_larger = [unit_text(each.unit_cost_minor * larger[1], report)] if larger else []
        table.add(
            str(place),
            each.name,
            each.what,
            show_fraction(each.quantity, 3),
            unit_text(each.price_minor, report),
            unit_text(each.unit_cost_minor, report),
            *by_larger,
            figures.money(total_minor(each), currency),
            _days(each),
            each.date,
            each.quote.terms if each.quote else f"receipt {each.document}",
        )
    return table.text() if table.rows else ""


def _days(each: Contender) -> str:
    """Return the days from order to shelf, by the offer or the mean of the shop's own orders."""
    lead = each.quote.lead_time if each.quote else None
    if lead is None:
        return ""
    if lead.samples:
        return f"{sum(lead.samples) / len(lead.samples):.0f} ({len(lead.samples)} own)"
    return f"{lead.mean_days:g}" if lead.mean_days else ""


def total_minor(each: Contender) -> int:
    """Return what the whole purchase comes to, in minor units."""
    if each.estimate is not None:
        return each.estimate.total_minor
    return round_fraction(each.unit_cost_minor * each.quantity)


def why_text(report: PriceReport) -> str:
    """Return in words which offer is cheapest, by how much and why, and how that stands to what was paid."""
    offers = report.comparison.offers
    paid = [each for each in report.comparison.contenders if each.what == PAID]
    if not offers:
        return f"Nobody offers it today. {_least_paid(paid, report)}".rstrip()
    best = offers[0]
    cost = f"{unit_text(best.unit_cost_minor, report)} {per(report.unit)} landed"
    said = f"{best.name} is cheapest today: {cost}"
    if len(offers) == 1:
        said = f"{best.name} is the only offer today: {cost}."
    elif offers[1].unit_cost_minor == best.unit_cost_minor:
        said = f"{said}; {offers[1].name} costs the same."
    else:
        gap = unit_text(offers[1].unit_cost_minor - best.unit_cost_minor, report)
        said = f"{said}, {gap} less than {offers[1].name}: {_because(best, offers[1], report)}."
    least = min(offers, key=total_minor)
    if best.buying and best.buying.extra and total_minor(least) < total_minor(best):
        in_all = figures.money(total_minor(least), report.currency)
        said += f" For what is wanted alone {least.name} costs least in all: {in_all}."
    if not paid:
        return said
    change = best.unit_cost_minor - paid[0].unit_cost_minor
    percent = show_fraction(abs(change) / paid[0].unit_cost_minor * 100, 1) if paid[0].unit_cost_minor else ""
    word = "more" if change > 0 else "less"
    than = f" Today's cheapest is {percent} % {word}." if change and percent else ""
    return f"{said}\n{_least_paid(paid, report)}{than}"


def _least_paid(paid: Sequence[Contender], report: PriceReport) -> str:
    if not paid:
        return ""
    least = paid[0]
    return (
        f"The least that was paid: {unit_text(least.unit_cost_minor, report)} landed, to {least.name} on "
        f"{least.date}."
    )


def _because(best: Contender, other: Contender, report: PriceReport) -> str:
    return "; ".join(f"{each.name} {_signed(each.amount_minor, report)}" for each in why_cheaper(best, other))


def _signed(amount: Fraction, report: PriceReport) -> str:
    text = unit_text(abs(amount), report)
    return f"{text} less" if amount < 0 else f"{text} more"


def _steps(report: PriceReport) -> str:
    """Return the way from price to landed cost, one column for each offer."""
    offers = report.comparison.offers[:MOST_COLUMNS]
    if not offers:
        return ""
    ways = [
        {step.name: step.amount_minor for step in waterfall(each.quote, each.estimate)}
        for each in offers
        if each.quote and each.estimate
    ]
    table = Table([per(report.unit), *(f">{each.name}" for each in offers)])
    for name in _step_names(ways):
        table.add(name, *(_step_cell(name, way.get(name), report) for way in ways))
    table.total("landed", *(unit_text(each.unit_cost_minor, report) for each in offers))
    return f"From price to landed cost:\n{table.text()}"


def _step_names(ways: Sequence[Mapping[str, Fraction]]) -> list[str]:
    named = dict.fromkeys(name for way in ways for name in way)
    return [
        PRICE,
        *(name for name in named if name not in {PRICE, DEFECTS}),
        *([DEFECTS] if DEFECTS in named else []),
    ]


def _step_cell(name: str, amount: Fraction | None, report: PriceReport) -> str:
    if amount is None:
        return ""
    text = unit_text(amount, report)
    return text if name == PRICE or amount < 0 else f"+{text}"


def _in_all(report: PriceReport) -> str:
    """Return the parts of each order as a whole, with how each came about."""
    said = []
    for each in report.comparison.offers:
        if each.estimate is None:
            continue
        parts = []
        for part in each.estimate.parts:
            how = f" ({part.how})" if part.how else ""
            sign = "-" if part.amount_minor < 0 else ""
            parts.append(f"{part.name} {sign}{figures.money(abs(part.amount_minor), report.currency)}{how}")
        total = figures.money(each.estimate.total_minor, report.currency)
        said.append(f"{each.name}, {each.estimate.quantity} ordered: {'; '.join(parts)}; in all {total}.")
    return "\n".join(said)


def _real_sizes(report: PriceReport) -> str:
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
                f"{report.unit}, not {show_fraction(pack.nominal_factor, 2)}: {show_fraction(abs(by) * 100, 1)} % "
                f"{word} than by its name. Landed costs here are by the real size."
            )
    return "\n".join(said)


def _better(report: PriceReport) -> str:
    """Return what has to be ordered beyond what is wanted, and where more costs no more."""
    said = []
    for each in report.comparison.offers:
        quote, buying = each.quote, each.buying
        if quote is None or buying is None:
            continue
        unit = quote.unit or report.unit
        if buying.extra:
            why = f" ({', '.join(buying.reasons)})" if buying.reasons else ""
            said.append(f"{each.name}: {_units(buying.quantity, unit)} for the {buying.wanted} wanted{why}.")
        said += [
            _better_words(each, better, unit, report.currency) for better in report.better.get(each.name, ())
        ]
    said += [_rounded_words(each, report) for each in report.rounded]
    return "\n".join(said)


def _rounded_words(rounded: WholePacks, report: PriceReport) -> str:
    """Return what whole packs of the cheapest offer would change."""
    best = report.comparison.offers[0]
    more = rounded.total_minor - total_minor(best)
    each = rounded.unit_cost_minor - best.unit_cost_minor
    return (
        f"{best.name}, by the whole {rounded.pack}: {show_fraction(rounded.quantity, 3)} {report.unit}, "
        f"{figures.money(abs(more), report.currency)} {'more' if more >= 0 else 'less'} in all and "
        f"{unit_text(abs(each), report)} {'more' if each > 0 else 'less'} {per(report.unit)}."
    )


def _units(count: int, unit: str) -> str:
    """Return so many of a unit, which may be a content of its own: 4 x 500 sheet; pieces stay bare."""
    if unit == "each":
        return str(count)
    return f"{count} x {unit}" if unit[:1].isdigit() else f"{count} {unit}"


def _better_words(each: Contender, better: BetterBuy, unit: str, currency: str) -> str:
    ordered = each.buying.quantity if each.buying else 0
    reaches = better.wanted_from <= ordered < better.quantity
    now = ""
    if reaches:
        saving = total_minor(each) - better.total_minor
        more = better.quantity - ordered
        now = f" For the {ordered} here: {_units(more, unit)} more and {figures.money(saving, currency)} less in all."
    return (
        f"{each.name}: {better.wanted_from} or more: buy {_units(better.quantity, unit)}, "
        f"{figures.money(better.total_minor, currency)} in all.{now}"
    )


def curve_text(report: PriceReport) -> str:
    """Return landed unit costs by quantity, one table for each offer."""
    said = []
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
        said.append(f"{name}, by quantity:\n{table.text()}")
    return "\n\n".join(said)


def _left_out(report: PriceReport) -> str:
    lines = [
        f"  {each.name}: {each.reason.removeprefix(each.name + ': ')}" for each in report.comparison.left_out
    ]
    return "\n".join(["Not compared:", *lines]) if lines else ""


def _remarks(report: PriceReport) -> str:
    lines = [f"{each.name}: {remark}" for each in report.comparison.offers for remark in each.remarks]
    lines += [
        f"{each.name}: no entry fees are counted, for the table has those of the United States only: put yours "
        "into its brokerage."
        for each in report.comparison.offers
        if each.quote
        and each.quote.entry_fees is None
        and each.estimate
        and each.estimate.customs_value_minor
    ]
    lines += [
        f"{each.name}: entry fees by the table, source: {each.quote.entry_fees.source}."
        for each in report.comparison.offers
        if each.quote and each.quote.entry_fees and each.estimate and _pays_fees(each.estimate)
    ]
    lines += [
        f"One {code} is taken as {show_fraction(rate.rate, 10)} {report.currency}: {rate.source}."
        for code, rate in report.rates.items()
    ]
    return "\n".join(dict.fromkeys(lines))


def _pays_fees(estimate: LandedEstimate) -> bool:
    return bool(estimate.amount_minor(PROCESSING_FEE) or estimate.amount_minor(HARBOR_FEE))


def cautions(report: PriceReport) -> str:
    """Return the caution about customs, once, where any offer is dutiable."""
    is_foreign = any(each.estimate and each.estimate.customs_value_minor for each in report.comparison.offers)
    return CUSTOMS_CAUTION if is_foreign or report.comparison.left_out else ""


def script_cost(cost_minor: Fraction, currency: str) -> str:
    """Return an exact unit cost as scripts take it: exponent + 4 decimals."""
    places = exponent(currency) + SCRIPT_PLACES
    return show_scaled(round_fraction(cost_minor * 10**SCRIPT_PLACES), places)
