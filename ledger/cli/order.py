"""`blankbook order`: what is ordered, when it is expected, and how long orders take."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from ledger.book.order_offers import told_offer
from ledger.book.order_store import find_order, find_orders
from ledger.book.under_way import days_taken, expected, outstanding
from ledger.cli import completing
from ledger.cli.common import DryRun, Json, Yes, read_date, reading, say, show, show_json, today, typed
from ledger.cli.document_options import AddItems
from ledger.cli.layout_options import Accept, As, Comma, Order, Profile
from ledger.cli.source_file import STANDARD_INPUT, Errors
from ledger.errors import Refused, UsageError
from ledger.views import order_data
from ledger.views import orders as view
from ledger.views import under_way as under_way_view

TOLD = "--expect, --ships, --deposit-due, --deposit-paid, --balance-due and --balance-paid"
TAKEN_BACK = "none"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(order)


def order(
    context: typer.Context,
    what: Annotated[
        str | None,
        typer.Argument(
            metavar="[FILE or ORDER]", help="A supplier's file to order by; or an order's number."
        ),
    ] = None,
    line: Annotated[
        list[str] | None,
        typer.Option("--line", help='What is ordered: "TEE-BLK-M 2 case at 129.60". Repeat as needed.'),
    ] = None,
    party: Annotated[
        str, typer.Option("--party", help="The supplier.", autocompletion=completing.parties)
    ] = "",
    reference: Annotated[str, typer.Option("--reference", help="The order's number with the supplier.")] = "",
    date: Annotated[str, typer.Option("--date", help="The day it was ordered; else today.")] = "",
    currency: Annotated[str, typer.Option("--currency", help="The order's currency.")] = "",
    terms: Annotated[
        str,
        typer.Option(
            "--terms", help='"FOB Port Rellan" (Incoterms 2020), "shipping point" or "destination".'
        ),
    ] = "",
    title: Annotated[
        str,
        typer.Option(
            "--title", help="Where the contract says otherwise: the shop's at shipping, on board or arrival."
        ),
    ] = "",
    offer: Annotated[
        str, typer.Option("--offer", help="The supplier's offer it is placed under, as in 'quotes'.")
    ] = "",
    origin: Annotated[str, typer.Option("--origin", help="The country it comes from, like CN.")] = "",
    deposit: Annotated[str, typer.Option("--deposit", help="Paid in advance: 450.00 or 30%.")] = "",
    deposit_due: Annotated[str, typer.Option("--deposit-due", metavar="DATE", help="When it is due.")] = "",
    deposit_paid: Annotated[
        str, typer.Option("--deposit-paid", metavar="DATE", help="When it was paid.")
    ] = "",
    balance_due: Annotated[
        str, typer.Option("--balance-due", metavar="DATE", help="When the rest is due.")
    ] = "",
    balance_paid: Annotated[
        str, typer.Option("--balance-paid", metavar="DATE", help="When the rest was paid.")
    ] = "",
    ships: Annotated[str, typer.Option("--ships", metavar="DATE", help="When it is to be shipped.")] = "",
    expect: Annotated[
        str, typer.Option("--expect", metavar="DATE", help="When it is to arrive; none takes a day back.")
    ] = "",
    working_days: Annotated[
        int | None, typer.Option("--working-days", min=0, max=1000, help="Working days to make it.")
    ] = None,
    transit_days: Annotated[
        int | None, typer.Option("--transit-days", min=0, max=1000, help="Days on the way.")
    ] = None,
    closures: Annotated[
        list[str] | None,
        typer.Option(
            "--closures", help="Its holidays by country, CN, or closed days 2026-01-25..2026-02-22."
        ),
    ] = None,
    note: Annotated[str, typer.Option("--note", help="Anything else.")] = "",
    is_closed: Annotated[
        bool, typer.Option("--close", help="Close an order by hand: the rest will not come.")
    ] = False,
    why: Annotated[str, typer.Option("--why", help="Why it is closed.")] = "",
    all_orders: Annotated[bool, typer.Option("--all", help="Also orders that are done.")] = False,
    expected_: Annotated[
        bool, typer.Option("--expected", help="What is still to come, week by week.")
    ] = False,
    lead_times: Annotated[
        bool, typer.Option("--lead-times", help="How long the shop's own orders took.")
    ] = False,
    picture: Annotated[
        str, typer.Option("--picture", metavar="FILE", help="With --lead-times: draw them as a .png or .svg.")
    ] = "",
    another: Annotated[
        bool, typer.Option("--another", help="Another order under a number that is there already.")
    ] = False,
    add_items: AddItems = False,
    profile: Profile = None,
    errors: Errors = "",
    as_: As = None,
    date_order: Order = "",
    decimal_comma: Comma = None,
    accept: Accept = False,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Order goods, and follow orders.

    Without anything it lists the open orders; with a number it shows one.

    An order costs nothing yet. Its delivery terms say from where the goods are the shop's and under way;
    'ship' and 'receive --order' do the rest. Days that are told later go by its number.

    \b
    Examples:
      blankbook order --line "WREN-BLK-M 1 case at 276.00" --party "Tarnwick Blank Goods" --terms destination
      blankbook order overseas-order.csv --party "Nine Sparrows Knitting Mill" --reference "SA 2026-2" --terms "FOB Port Rellan"
      blankbook order 3
      blankbook order --lead-times --picture lead-times.png
    """
    dates = {
        "deposit due": deposit_due,
        "deposit paid": deposit_paid,
        "balance due": balance_due,
        "balance paid": balance_paid,
        "ships": ships,
        "arrives": expect,
    }
    days = read_days(dates)
    number = _number(what)
    reading_it: dict[str, object] = {
        "--profile": profile,
        "--as": as_,
        "--accept": accept,
        "--errors": errors,
    }
    reading_it |= {"--date-order": date_order, "--decimal-comma": decimal_comma is not None}
    of_new: dict[str, object] = {
        "--line": line,
        "--party": party,
        "--reference": reference,
        "--date": date,
        "--note": note,
    }
    of_new |= {"--currency": currency, "--terms": terms, "--title": title, "--origin": origin}
    of_new |= {"--offer": offer}
    of_new |= {"--deposit": deposit, "--closures": closures, "--another": another, "--add-items": add_items}
    of_new |= {"--working-days": working_days is not None, "--transit-days": transit_days is not None}
    of_one: dict[str, object] = {"the days": days, "--close": is_closed, "--why": why}
    lists = {"--lead-times": lead_times, "--expected": expected_, "--all": all_orders}
    if picture and not lead_times:
        raise UsageError("--picture draws the lead times: add --lead-times.")
    _refuse_beside_a_list(lists, {"the FILE or ORDER": what, **of_new, **of_one, **reading_it})
    if lead_times:
        _lead_times(context, picture, json=json)
        return
    if expected_:
        _expected(context, json=json)
        return
    if number is not None:
        _refuse_new({**of_new, **reading_it})
        _refuse_both(is_closed=is_closed, why=why, is_told=bool(days), dry_run=dry_run)
        if is_closed or days:
            _tell(context, number, days, why=why if is_closed else None, answers=(yes, dry_run, json))
        else:
            _show(context, number, json=json)
        return
    _refuse_without(what, line, {**of_new, "the days": days, **reading_it}, of_one)
    if what is None and not line:
        _list(context, all_orders=all_orders, json=json)
        return
    _refuse_no_file(what, reading_it)
    from ledger.cli.layout_choice import ProposedOptions  # noqa: PLC0415
    from ledger.cli.order_new import NewOrder, place_order  # noqa: PLC0415  (reads files: slower to load)

    layout = ProposedOptions(
        party=party,
        corrections=tuple(as_ or ()),
        date_order=date_order,
        decimal_comma=decimal_comma,
        currency=currency,
        accept=accept,
        yes=yes,
        dry_run=dry_run,
        json=json,
    )
    new = NewOrder(
        file=what,
        lines=tuple(line or ()),
        reference=reference,
        date=date,
        terms=terms,
        title=title,
        origin=origin,
        deposit=deposit,
        days=days,
        working_days=working_days,
        transit_days=transit_days,
        closures=tuple(closures or ()),
        note=note,
        offer=offer,
        another=another,
        add_items=add_items,
        profile=profile,
        errors=errors,
        layout=layout,
    )
    place_order(context, new)


def read_days(texts: Mapping[str, str]) -> dict[str, datetime.date | None]:
    """Return the days that were told; None for one that is taken back."""
    return {
        what: None if text.strip().casefold() == TAKEN_BACK else read_date(text)
        for what, text in texts.items()
        if text
    }


def _number(what: str | None) -> int | None:
    """Return the number in '12' or 'order 12'; None for a file, or nothing."""
    word = (what or "").strip().casefold().removeprefix("order ").strip()
    return int(word) if word.isascii() and word.isdecimal() and len(word) < 16 else None  # noqa: PLR2004


def _tell(
    context: typer.Context,
    number: int,
    days: Mapping[str, datetime.date | None],
    *,
    why: str | None,
    answers: tuple[bool, bool, bool],
) -> None:
    """Close the order, where it is said why, or record its days; ``answers`` are --yes, --dry-run, --json."""
    from ledger.cli.order_told import close, tell  # noqa: PLC0415  (posts: slower to load)

    yes, dry_run, json = answers
    if why is None:
        tell(context, number, days, json=json)
    else:
        close(context, number, why, yes=yes, dry_run=dry_run, json=json)


def named(options: Mapping[str, object]) -> list[str]:
    """Return the names of the options that were given."""
    return [name for name, value in options.items() if value]


def _refuse_beside_a_list(lists: Mapping[str, bool], others: Mapping[str, object]) -> None:
    """Refuse what would have no effect beside a list of all orders."""
    asked = named(lists)
    if len(asked) > 1:
        raise UsageError(f"{' and '.join(asked)} are lists of their own: ask for one at a time.")
    if asked and named(others):
        raise UsageError(f"{asked[0]} is a list of all orders: leave {', '.join(named(others))} out.")


def _refuse_new(options: Mapping[str, object]) -> None:
    """Refuse what only a new order can be told."""
    given = named(options)
    if given:
        raise UsageError(
            f"an order does not change once it is posted ({', '.join(given)}): undo it and order anew, or place "
            "another order. A number goes with --expect and the other days, or with --close."
        )


def _refuse_without(
    what: str | None,
    line: list[str] | None,
    of_new: Mapping[str, object],
    of_one: Mapping[str, object],
) -> None:
    """Refuse what closes an order where none is named, and what makes one where nothing is ordered."""
    if of_one["--close"] or of_one["--why"]:
        raise UsageError('name the order to close: blankbook order 12 --close --why "…"')
    if what is None and not line and named(of_new):
        raise UsageError(f'name a FILE, --line "SKU 72 at 2.20", or an order\'s number for {TOLD}.')


def _refuse_no_file(what: str | None, reading_it: Mapping[str, object]) -> None:
    """Refuse a file that is not there, and what says how one is read where none is named."""
    if what is None and named(reading_it):
        raise UsageError(f"{', '.join(named(reading_it))} says how a FILE is read, and none is named.")
    if what not in (None, STANDARD_INPUT) and not Path(str(what)).exists():
        raise UsageError(
            f"'{what}' is neither a file nor an order's number. See the orders: blankbook order --all"
        )


def _refuse_both(*, is_closed: bool, why: str, is_told: bool, dry_run: bool) -> None:
    if is_closed and is_told:
        raise UsageError("--close goes alone: tell the days first, then close the order.")
    if why and not is_closed:
        raise UsageError("--why says why an order is closed: add --close.")
    if is_told and dry_run:
        raise UsageError("a day is told at once and can be told anew: leave --dry-run out.")


def _list(context: typer.Context, *, all_orders: bool, json: bool) -> None:
    with reading(context) as connection:
        known = find_orders(connection)
    orders = [one for one in known if all_orders or one.is_waiting]
    if json:
        show_json(order_data.orders_as_data(orders, today()))
        return
    show(view.orders_text(orders, today()))
    # What has arrived is to be paid all the same.
    waiting = under_way_view.outstanding_text([row for one in known for row in outstanding(one)], today())
    if waiting:
        show("\n" + waiting)
    if not orders and not all_orders:
        say(f"Earlier orders: {typed(context, 'order --all')}. Place one: blankbook order --help")


def _show(context: typer.Context, number: int, *, json: bool) -> None:
    with reading(context) as connection:
        found, offer = find_order(connection, number), told_offer(connection, number)
    if json:
        show_json(order_data.order_as_data(found, today(), offer))
    else:
        show(view.order_text(found, today(), offer))


def _expected(context: typer.Context, *, json: bool) -> None:
    with reading(context) as connection:
        rows = expected(find_orders(connection), today())
    if json:
        show_json(under_way_view.expected_as_data(rows))
    else:
        show(under_way_view.expected_text(rows, today()) or "Nothing is expected.")


def _lead_times(context: typer.Context, picture: str, *, json: bool) -> None:
    with reading(context) as connection:
        took = days_taken(connection)
    if json:
        show_json(under_way_view.lead_times_as_data(took))
    else:
        show(under_way_view.lead_times_text(took))
    if picture:
        if not took:
            raise Refused("no order was shipped yet, so there is nothing to draw.")
        from ledger.cli.order_told import draw  # noqa: PLC0415  (needs a slow library)

        draw(took, picture)
