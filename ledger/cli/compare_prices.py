"""`blankbook compare --prices`: who is cheapest landed for an item or a style, and why."""

from __future__ import annotations

import datetime
import re
import sqlite3
from collections.abc import Callable
from fractions import Fraction
from functools import partial
from typing import TypeVar

import typer

from ledger.book import buying
from ledger.book.afterwards import outcomes
from ledger.book.pack_rounding import whole_packs
from ledger.book.price_comparison import Comparison, compare, usual_quantity
from ledger.book.print_or_buy import print_or_buy
from ledger.book.shop import Shop, read_shop
from ledger.catalogue.packs import find_pack
from ledger.cli.common import day_option, reading, say, show, show_json, today, typed
from ledger.cli.compare_files import check_files, write_price_files
from ledger.cli.compare_options import NO_FILES, Asked, DecisionWish
from ledger.errors import Refused, UsageError, ValueProblem
from ledger.exact.numbers import read_decimal, show_fraction
from ledger.exact.quantity import check_step, to_base
from ledger.intake.paying_rates import PayingRates, read_typed_rates
from ledger.sourcing.comparison import Contender
from ledger.sourcing.landed_curve import BetterBuy, CurvePoint, MakeOrder, Reach, better_buys, curve
from ledger.sourcing.quote import PER_SKU, Quote
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

MANY = {"hundred": Fraction(100), "thousand": Fraction(1000)}
"""Numbers that may stand where a unit does: 2 hundred."""

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
    """Print who is cheapest landed; write the picture, the workbook and the page where they were asked for.

    Raises Refused where nobody offers the goods and nothing was ever paid for them.
    """
    check_files(asked.files)
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
    write_price_files(asked.files, report)


def show_afterwards(context: typer.Context, *, json: bool) -> None:
    """Print what each order was expected to cost and cost, and how long it took."""
    with reading(context) as connection:
        shop = read_shop(connection)

        def rate_on(currency: str, day: datetime.date) -> Fraction:
            return PayingRates(connection, shop.currency, day, typed={}, used={}).rate_of(currency)

        found = outcomes(connection, shop, rate_on)
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
    needs_curve = asked.with_curve or asked.files != NO_FILES
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
        factor = _factor(market.goods, match[2].strip())
    except ValueProblem as problem:
        raise UsageError(f"--quantity: {problem}") from problem
    if number <= 0:
        raise UsageError("--quantity must be above zero.")
    try:
        check_step(number, factor)
        to_base(number, factor)
    except ValueProblem as problem:
        raise UsageError(f"--quantity '{asked.quantity}': {problem}") from problem
    unit = market.goods.first.base_unit
    if unit in WHOLE_UNITS and (number * factor).denominator != 1:
        raise UsageError(
            f"--quantity '{asked.quantity}': {market.goods.label} is counted by the {PIECE.get(unit, unit)}, so "
            "write a whole number."
        )
    return number * factor, "as asked"


def _factor(goods: buying.Goods, unit: str) -> Fraction:
    """Return the base units in a unit asked for; hundred and thousand count where they are no pack.

    Raises ValueProblem where it is no unit of the goods, or a pack of one size where several are asked for.
    """
    pack = find_pack(unit, goods.packs.get(goods.first.sku, ()))
    if pack is not None and len(goods.items) > 1:
        pieces = show_fraction(pack.factor)
        raise ValueProblem(
            f"a {pack.name} of {goods.label} holds {pieces} of one size, and {len(goods.items)} sizes are compared: write "
            f"how many pieces in all, or name one SKU."
        )
    by_number = MANY.get(unit.casefold().removesuffix("s"))
    if pack is None and by_number is not None:
        return by_number
    return goods.pack(unit).factor


def _reach(found: Comparison, each: Contender, times: int) -> Reach:
    """Return the quoted units to look at: to the last break, which by SKU every size has to reach."""
    quote = each.quote
    assert quote is not None
    last = max((each.from_quantity for group in quote.prices for each in group.breaks), default=1)
    if quote.break_scope == PER_SKU:
        last *= len(found.market.goods.items)
    wanted = int(found.wanted / quote.unit_factor) * times
    most = max(last, wanted, quote.rules.minimum * 2, 10)
    return Reach(most, 0 if each.buying is None else each.buying.quantity)


def _by_offer(found: Comparison, make: Callable[[Comparison, Contender, Quote], Made]) -> dict[str, Made]:
    """Return what is made of each offer, by its name."""
    return {each.name: make(found, each, each.quote) for each in found.offers if each.quote is not None}


def _better(found: Comparison, each: Contender, quote: Quote) -> tuple[BetterBuy, ...]:
    entry = found.market.entries[quote.name]
    return better_buys(quote, entry, _reach(found, each, 2), _orders(found, quote))


def _curve(found: Comparison, each: Contender, quote: Quote) -> tuple[CurvePoint, ...]:
    entry = found.market.entries[quote.name]
    return curve(quote, entry, _reach(found, each, CURVE_REACHES), _orders(found, quote))


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
