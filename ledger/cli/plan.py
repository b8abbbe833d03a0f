"""`blankbook plan`: what to order now, from whom, by when; and placing such an order."""

from __future__ import annotations

import datetime
import math
import sqlite3
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.book.catalogue_store import find_items, find_kinds
from ledger.book.shop import Shop, read_shop
from ledger.book.standing import last_day_told
from ledger.catalogue._words import fold, suggestion
from ledger.catalogue.items import read_kind
from ledger.cli.common import DryRun, Json, Yes, day_option, reading, say, show, show_json, today, typed
from ledger.cli.drawing import terminal_bars
from ledger.errors import Refused, UsageError, ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.money import grouped_money, read_money
from ledger.exact.numbers import read_decimal
from ledger.exact.rounding import round_fraction
from ledger.exact.words import typed_word

if TYPE_CHECKING:
    from ledger.book.plan_facts import PlanFacts
    from ledger.intake.paying_rates import PayingRates
    from ledger.sourcing.supplier_orders import PlannedOrder
    from ledger.sourcing.ways_to_buy import PlanTerms
    from ledger.views.plan_report import Assumption, PlanReport

SERVICE, CAPITAL, ORDER_COST, LINE_COST = "95%", "12%", "5", "0.5"
"""What is assumed where nothing is typed: our own starting values, to be replaced by the shop's."""

LONGEST_AHEAD = 366
AHEAD, LEAD_DAYS = 14, 7.0
WHOLE = Fraction(1)


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(plan)


@dataclass(frozen=True)
class PlanWish:
    """What the command line asks of a plan, as typed."""

    kind: str
    skus: tuple[str, ...]
    on: datetime.date
    service: str
    capital: str
    order_cost: str
    line_cost: str
    ahead: int
    lead_days: float
    rates: tuple[str, ...]
    shows_all: bool


def plan(
    context: typer.Context,
    kind: Annotated[str, typer.Option("--kind", help="Show only this kind: blank, ink, vinyl, …")] = "",
    sku: Annotated[
        list[str] | None, typer.Option("--sku", help="Show only this item. Repeat as needed.")
    ] = None,
    on: Annotated[
        str | None, typer.Option("--on", metavar="DATE", help="Plan for that day; else today.")
    ] = None,
    all_items: Annotated[bool, typer.Option("--all", help="Also what needs nothing now.")] = False,
    explain: Annotated[
        bool, typer.Option("--explain", help="Also how each 'order at' was found, with its figures.")
    ] = False,
    order: Annotated[
        str,
        typer.Option(
            "--order",
            metavar="SUPPLIER",
            help="Place what is planned with it; a beginning of its name will do.",
        ),
    ] = "",
    terms: Annotated[
        str, typer.Option("--terms", help="With --order: the delivery terms, where no offer says them.")
    ] = "",
    reference: Annotated[
        str, typer.Option("--reference", help="With --order: the order's number with the supplier.")
    ] = "",
    service: Annotated[
        str, typer.Option("--service", help="The chance not to run out before an order is there (95%).")
    ] = "",
    capital: Annotated[
        str, typer.Option("--capital", help="What a year on the shelf costs, of the landed cost (12%).")
    ] = "",
    order_cost: Annotated[
        str, typer.Option("--order-cost", help="What placing and putting away an order costs (5.00).")
    ] = "",
    line_cost: Annotated[
        str, typer.Option("--line-cost", help="What each further line of an order costs (0.50).")
    ] = "",
    ahead: Annotated[
        int, typer.Option("--ahead", min=0, max=LONGEST_AHEAD, help="Plan what is due within so many days.")
    ] = AHEAD,
    lead_days: Annotated[
        float, typer.Option("--lead-days", min=0.5, max=365, help="Days to arrive where nobody told any.")
    ] = LEAD_DAYS,
    rate: Annotated[
        list[str] | None, typer.Option("--rate", help="A rate of exchange to reckon with: CNY=0.14.")
    ] = None,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Say what to order now, from whom, and by when.

    From the use of each item, what is there and under way, what expires, and how long suppliers take.
    Items of one supplier go together where that costs less; each added piece has its reason.

    \b
    Examples:
      blankbook plan
      blankbook plan --kind ink --all
      blankbook plan --sku VIN-WHT --explain
      blankbook plan --order "Tarnwick Blank Goods" --dry-run
    """
    if (yes or dry_run or terms or reference) and not order:
        raise UsageError("--yes, --dry-run, --terms and --reference belong to --order SUPPLIER.")
    if order and (kind or sku or all_items or on or explain):
        raise UsageError(
            "--order places all of a supplier's lines, today: leave --kind, --sku, --all, --on and --explain out."
        )
    if math.isnan(lead_days):
        raise UsageError("--lead-days 'nan' is not a number of days: write one like 7.")
    wish = PlanWish(
        kind=kind,
        skus=tuple(sku or ()),
        on=day_option(on) or today(),
        service=service,
        capital=capital,
        order_cost=order_cost,
        line_cost=line_cost,
        ahead=ahead,
        lead_days=lead_days,
        rates=tuple(rate or ()),
        shows_all=all_items,
    )
    from ledger.views import plan as view  # noqa: PLC0415  (the help waits for nothing)
    from ledger.views.plan_data import plan_as_data  # noqa: PLC0415
    from ledger.views.plan_explain import explained_data, explained_text  # noqa: PLC0415
    from ledger.views.tables import paragraphs  # noqa: PLC0415

    with reading(context) as connection:
        report = _report(connection, wish)
    if order:
        from ledger.cli.plan_order import Placing, place_planned  # noqa: PLC0415  (posts: slower to load)

        place_planned(context, report, Placing(order, terms, reference, yes=yes, dry_run=dry_run, json=json))
    elif json:
        show_json({**plan_as_data(report), **({"explained": explained_data(report)} if explain else {})})
    else:
        commands = view.PlanCommands(
            place=lambda order: _place_words(context, order, wish),
            compare=lambda goods: typed(context, f"compare {typed_word(goods)}"),
            close=lambda number: typed(context, f'order {number} --close --why "…"'),
        )
        show(paragraphs([view.plan_text(report, commands), explained_text(report) if explain else ""]))
        if not report.facts.wishes:
            say("Nothing was ever used or sold yet: a plan begins with the first job, sale or use.")


def _place_words(context: typer.Context, order: PlannedOrder, wish: PlanWish) -> str:
    """Return the command that places a planned order, with what was typed for this plan and is needed."""
    words = ["plan --order", typed_word(order.way.supplier)]
    terms = order.way.quote.terms
    words += [] if terms else ["--terms destination"]
    for option, text in (
        ("--service", wish.service),
        ("--capital", wish.capital),
        ("--order-cost", wish.order_cost),
        ("--line-cost", wish.line_cost),
        ("--ahead", "" if wish.ahead == AHEAD else str(wish.ahead)),
        ("--lead-days", "" if wish.lead_days == LEAD_DAYS else f"{wish.lead_days:g}"),
        *(("--rate", rate) for rate in wish.rates),
    ):
        words += [option, typed_word(text)] if text else []
    when = "Place it" if wish.on == today() else f"Place it on {wish.on.isoformat()}, when this is still so"
    found = f"{when}: {typed(context, ' '.join(words))}"
    if terms:
        return found
    return (
        f"{found}\nNobody told the delivery terms: with destination the supplier bears the risk until it arrives;\n"
        '  write "shipping point" where the goods are yours once handed over.'
    )


def _report(connection: sqlite3.Connection, wish: PlanWish) -> PlanReport:
    from ledger.book.plan_facts import Asking, plan_facts  # noqa: PLC0415
    from ledger.intake.paying_rates import PayingRates, read_typed_rates  # noqa: PLC0415
    from ledger.sourcing.supplier_orders import plan_orders  # noqa: PLC0415
    from ledger.views.plan import assumed_leads  # noqa: PLC0415
    from ledger.views.plan_report import PlanReport  # noqa: PLC0415

    shop = read_shop(connection)
    asked = _asked(connection, wish)
    kind = read_kind(wish.kind, find_kinds(connection)).name if wish.kind else ""
    _check_day(connection, wish.on)
    terms = _terms(shop, wish)
    try:
        given = read_typed_rates(list(wish.rates), shop.currency)
    except ValueProblem as problem:
        raise UsageError(f"--rate: {problem}") from problem
    rates = PayingRates(connection, shop.currency, wish.on, given, {})
    facts = plan_facts(connection, shop, Asking(wish.on, wish.lead_days, rates.rate_of))
    found = plan_orders(facts.wishes, terms)
    return PlanReport(
        facts=facts,
        plan=found,
        terms=terms,
        assumptions=_assumptions(wish, terms, facts, assumed_leads(found), rates),
        shop=shop.name,
        shows=lambda item: (not kind or item.kind == kind) and (not asked or item.sku in asked),
        shows_all=wish.shows_all,
        kind=kind,
        asked=asked,
        bars=terminal_bars(),
    )


def _terms(shop: Shop, wish: PlanWish) -> PlanTerms:
    """Return what the plan assumes. Raises UsageError naming the option that cannot be read."""
    from ledger.sourcing.ways_to_buy import PlanTerms  # noqa: PLC0415

    service = _fraction("--service", wish.service or SERVICE)
    if service >= WHOLE:
        raise UsageError(f"--service '{wish.service}': nothing is certain; write less than 100%, like 95%.")
    return PlanTerms(
        today=wish.on,
        currency=shop.currency,
        service_level=float(service),
        capital_per_year=float(_fraction("--capital", wish.capital or CAPITAL)),
        order_cost_minor=_amount("--order-cost", wish.order_cost or ORDER_COST, shop.currency),
        line_cost_minor=_amount("--line-cost", wish.line_cost, shop.currency)
        if wish.line_cost
        else _amount("--line-cost", LINE_COST, shop.currency, is_default=True),
        ahead_days=wish.ahead,
    )


def _fraction(option: str, text: str) -> Fraction:
    """Return 95% or 0.95 as a fraction above 0. Raises UsageError."""
    is_percent = text.strip().endswith("%")
    try:
        number = read_decimal(text.strip().removesuffix("%").strip(), what="percentage")
    except ValueProblem as problem:
        raise UsageError(f"{option}: {problem}") from problem
    value = number / 100 if is_percent else number
    if not 0 < value <= WHOLE:
        raise UsageError(f"{option} '{text}': write a percentage above 0 and not above 100, like 12%.")
    return value


def _amount(option: str, text: str, currency: str, *, is_default: bool = False) -> int:
    """Return an amount in minor units; a default is rounded up to what the currency has. Raises UsageError."""
    try:
        if is_default:
            return max(1, int(round_fraction(read_decimal(text) * 10 ** exponent(currency))))
        amount = read_money(text, currency)
    except ValueProblem as problem:
        raise UsageError(f"{option}: {problem}") from problem
    if amount < 0:
        raise UsageError(f"{option} '{text}': a cost must not be below zero.")
    return amount


def _check_day(connection: sqlite3.Connection, on: datetime.date) -> None:
    """Raise Refused where the book already tells of days after the plan's."""
    last = last_day_told(connection)
    if last is not None and last > on.isoformat():
        raise Refused(
            f"a plan looks at the book as it stands, which tells of {last} already: {on.isoformat()} is before "
            "that. Leave --on out, or name a later day."
        )


def _asked(connection: sqlite3.Connection, wish: PlanWish) -> tuple[str, ...]:
    """Return the items that were named, as the book spells them. Raises Refused for one it does not have."""
    if not wish.skus:
        return ()
    known = {fold(sku): sku for sku in find_items(connection)}
    for text in wish.skus:
        if fold(text) not in known:
            near = suggestion(text, known.values())
            raise Refused(f"the book has no item '{text}'.{near} See what there is with: blankbook items")
    return tuple(dict.fromkeys(known[fold(text)] for text in wish.skus))


def _assumptions(
    wish: PlanWish, terms: PlanTerms, facts: PlanFacts, without_lead: list[str], rates: PayingRates
) -> tuple[Assumption, ...]:
    """Return what the plan takes for granted, each with where it comes from."""
    from ledger.views.plan_report import Assumption  # noqa: PLC0415

    def said(typed_text: str, option: str) -> str:
        return "as typed" if typed_text else f"our starting value; change it with {option}"

    found = [
        Assumption("chance not to run out", f"{terms.service_level:.1%}", said(wish.service, "--service")),
        Assumption(
            "a year on the shelf, of landed cost",
            f"{terms.capital_per_year:.1%}",
            said(wish.capital, "--capital"),
        ),
        Assumption(
            "cost of placing an order",
            grouped_money(terms.order_cost_minor, terms.currency),
            said(wish.order_cost, "--order-cost"),
        ),
        Assumption(
            "cost of each line in it",
            grouped_money(terms.line_cost_minor, terms.currency),
            said(wish.line_cost, "--line-cost"),
        ),
        Assumption("planned when due within", f"{terms.ahead_days} days", "--ahead"),
    ]
    if facts.first_month:
        span = f"{facts.first_month}-01 to {facts.through}"
        found.append(Assumption("use", span, "the book; days without stock left out"))
    if without_lead:
        names = ", ".join(without_lead)
        found.append(
            Assumption(f"days to arrive from {names}", f"{wish.lead_days:g}", "nobody told; --lead-days")
        )
    found += [
        Assumption(f"one {currency} in {terms.currency}", f"{float(used.rate):g}", used.source)
        for currency, used in rates.used.items()
    ]
    return tuple(found)
