"""`blankbook compare --prices`: who is cheapest landed for an item or a style, and why."""

from __future__ import annotations

import datetime
import re
import sqlite3
from collections.abc import Callable
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import TypeVar

import typer

from ledger.book import buying
from ledger.book.afterwards import outcomes
from ledger.book.pack_rounding import whole_packs
from ledger.book.price_comparison import Comparison, compare, usual_quantity
from ledger.book.print_or_buy import print_or_buy
from ledger.book.shop import Shop, read_shop
from ledger.cli.common import day_option, reading, say, show, show_json, today, typed
from ledger.cli.compare_options import Asked, DecisionWish
from ledger.errors import Refused, UsageError, ValueProblem
from ledger.exact.numbers import read_decimal
from ledger.intake.paying_rates import PayingRates, read_typed_rates
from ledger.sourcing.landed_curve import BetterBuy, CurvePoint, MakeOrder, better_buys, curve
from ledger.sourcing.quote import Quote
from ledger.views import price_extras as extras
from ledger.views import prices as view
from ledger.views.price_data import report_as_data
from ledger.views.price_report import PriceReport
from ledger.views.quotes import CUSTOMS_CAUTION

CURVE_REACHES = 4
"""How many times the quantity asked for a curve goes, at least to the offers' last price break."""

WHOLE_UNITS = ("each", "sheet")
"""The units of which there are only whole ones."""

PIECE = {"each": "piece"}

Made = TypeVar("Made")

_QUANTITY = re.compile(r"\s*([0-9.]+)\s*(.*)", re.DOTALL)


def answer_about_prices(context: typer.Context, asked: Asked, wish: DecisionWish, *, json: bool) -> None:
    """Answer what the options of this mode ask; ``wish`` is what the call says of a decision.

    Raises UsageError where they do not go together, or with a study.
    """
    if wish.subject:
        raise UsageError(
            "a study has its own offers: leave --prices, --afterwards and what belongs to them out."
        )
    if wish != DecisionWish("", wish.colour, wish.rates):
        raise UsageError(
            "--write-study, --against, --seed, --futures and --explain belong to a decision, not to landed prices: "
            "leave them out, or name a study or goods to decide on instead of --prices or --afterwards."
        )
    if asked.afterwards:
        if asked != Asked(afterwards=True):
            raise UsageError("--afterwards looks at all orders: leave the other options out.")
        show_afterwards(context, json=json)
    elif not asked.what:
        raise UsageError("say which goods the other options are for: --prices SKU-or-STYLE.")
    else:
        compare_prices(context, asked, json=json)


def compare_prices(context: typer.Context, asked: Asked, *, json: bool) -> None:
    """Print who is cheapest landed; write the picture and the workbook where they were asked for.

    Raises Refused where nobody offers the goods and nothing was ever paid for them.
    """
    for name, endings in ((asked.picture, (".png", ".svg")), (asked.workbook, (".xlsx",))):
        if name and Path(name).suffix.lower() not in endings:
            raise UsageError(f"let the name end in {' or '.join(endings)}, not '{name}'.")
    with reading(context) as connection:
        report = _report(connection, asked)
        market = report.comparison.market
        pieces = max(1, round(report.comparison.wanted))
        printed = print_or_buy(connection, market, asked.bill, pieces) if asked.bill else None
    if not report.comparison.contenders:
        raise Refused(_nothing(context, report))
    label = market.goods.label
    if json:
        data = report_as_data(report)
        if printed:
            data["print_or_buy"] = extras.print_or_buy_as_data(printed, label, report.currency)
        show_json(data)
    else:
        show(view.report_text(report))
        if printed:
            show(f"\n{extras.print_or_buy_text(printed, label, report.currency)}")
    if asked.picture:
        from ledger.views.pictures_prices import write_price_picture  # noqa: PLC0415  (slow to import)

        write_price_picture(report, Path(asked.picture))
        say(f"Wrote {asked.picture}.")
    if asked.workbook:
        from ledger.views.price_workbook import write_price_workbook  # noqa: PLC0415  (slow to import)

        write_price_workbook(report, Path(asked.workbook))
        say(f"Wrote {asked.workbook}.")


def show_afterwards(context: typer.Context, *, json: bool) -> None:
    """Print what each order was expected to cost and cost, and how long it took."""
    with reading(context) as connection:
        shop = read_shop(connection)
        found = outcomes(connection, shop)
    if json:
        show_json(extras.afterwards_as_data(found, shop.currency))
    elif found:
        show(extras.afterwards_text(found, shop.currency))
        say(CUSTOMS_CAUTION)
    else:
        say(
            "No receipt came under an offer of the book yet: offers count from the day they were quoted. "
            f"Enter them: {typed(context, 'quotes template quotes.xlsx')}"
        )


def _report(connection: sqlite3.Connection, asked: Asked) -> PriceReport:
    shop = read_shop(connection)
    now = today()
    day = buying.Day(now, day_option(asked.entry))
    rates = _rates(connection, shop, asked, now)
    goods = buying.find_goods(connection, asked.what, asked.colour)
    market = buying.find_market(connection, shop, goods, day, rates.rate_of)
    wanted, said = _wanted(asked, market)
    found = compare(market, wanted)
    best = next((each.quote for each in found.offers), None)
    needs_curve = asked.with_curve or bool(asked.picture or asked.workbook)
    return PriceReport(
        comparison=found,
        wanted_from=said,
        entry=day.entry,
        better=_by_offer(found, _better),
        curves=_by_offer(found, _curve) if needs_curve else {},
        shows_curves=asked.with_curve,
        rounded=whole_packs(market, best, wanted) if best else (),
        rates=rates.used,
    )


def _rates(connection: sqlite3.Connection, shop: Shop, asked: Asked, now: datetime.date) -> PayingRates:
    try:
        given = read_typed_rates(list(asked.rates), shop.currency)
    except ValueProblem as problem:
        raise UsageError(f"--rate: {problem}") from problem
    return PayingRates(connection, shop.currency, now, given, {})


def _wanted(asked: Asked, market: buying.Market) -> tuple[Fraction, str]:
    """Return how many base units to compare for, and in words where that was taken from.

    Raises UsageError where the quantity cannot be read.
    """
    if not asked.quantity:
        said = "as many as came last time" if market.past else "the least that all of them sell"
        return usual_quantity(market), said
    match = _QUANTITY.fullmatch(asked.quantity)
    if match is None:
        raise UsageError(
            f"--quantity '{asked.quantity}': write a number, with a unit where it is not the item's own."
        )
    try:
        number = read_decimal(match[1], what="quantity")
        factor = market.goods.pack(match[2].strip()).factor
    except ValueProblem as problem:
        raise UsageError(f"--quantity: {problem}") from problem
    if number <= 0:
        raise UsageError("--quantity must be above zero.")
    unit = market.goods.first.base_unit
    if unit in WHOLE_UNITS and (number * factor).denominator != 1:
        raise UsageError(
            f"--quantity '{asked.quantity}': {market.goods.label} is counted by the {PIECE.get(unit, unit)}, so "
            "write a whole number."
        )
    return number * factor, "as asked"


def _reach(found: Comparison, quote: Quote, times: int) -> int:
    """Return the most quoted units to look at."""
    last = max((each.from_quantity for group in quote.prices for each in group.breaks), default=1)
    return max(last, int(found.wanted / quote.unit_factor) * times, quote.rules.minimum * 2, 10)


def _by_offer(found: Comparison, make: Callable[[Comparison, Quote], Made]) -> dict[str, Made]:
    """Return what is made of each offer, by its name."""
    return {each.name: make(found, each.quote) for each in found.offers if each.quote is not None}


def _better(found: Comparison, quote: Quote) -> tuple[BetterBuy, ...]:
    return better_buys(
        quote, found.market.entries[quote.name], _reach(found, quote, 2), _orders(found, quote)
    )


def _curve(found: Comparison, quote: Quote) -> tuple[CurvePoint, ...]:
    return curve(
        quote, found.market.entries[quote.name], _reach(found, quote, CURVE_REACHES), _orders(found, quote)
    )


def _orders(found: Comparison, quote: Quote) -> MakeOrder:
    """Return what makes an order of so many units of an offer."""
    return partial(found.market.order, quote)


def _nothing(context: typer.Context, report: PriceReport) -> str:
    left_out = report.comparison.left_out
    label = report.comparison.market.goods.label
    if left_out:
        reasons = "\n".join(f"  - {each.name}: {each.reason}" for each in left_out)
        return f"no offer for {label} can be compared:\n{reasons}"
    return (
        f"nobody offers {label} and none was ever received. Enter offers: "
        f"{typed(context, 'quotes template quotes.xlsx')}"
    )
