"""Where the book stands, as `blankbook` alone says it: a few lines, then what is worth doing next."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ledger.book.at_a_glance import Glance
from ledger.book.looking import SOON_DAYS
from ledger.book.orders import Order, days_late
from ledger.exact.words import how_many
from ledger.views.figures import money
from ledger.views.prose import first_few, wrapped

MOST_NAMED = 3
"""How many things are named before the others are only counted."""

Typed = Callable[[str], str]
"""Returns a command as the maker would type it from here."""


def glance_text(glance: Glance, book: str, typed: Typed) -> str:
    """Return where the book stands and, numbered by what presses most, what is worth doing next."""
    lines = [f"{glance.shop.name}, the book {book} on {glance.on.isoformat()}", "", *_standing(glance)]
    steps = list(_next_steps(glance, typed))
    lines += ["", "Worth doing next:" if steps else "Nothing is waiting."]
    for what, command in steps:
        lines += [wrapped(f"- {what}", "  "), f"    {command}"]
    lines += ["", "All commands: blankbook --help"]
    return "\n".join(lines)


def _standing(glance: Glance) -> Iterator[str]:
    currency = glance.shop.currency
    if not glance.items:
        yield "The catalogue is empty: no item is known yet."
        return
    yield (
        f"On the shelf: {how_many(glance.items_with_stock, 'item')} of {glance.items} with stock, worth "
        f"{money(glance.on_hand_value, currency)} {currency} at landed cost."
    )
    if glance.under_way_value:
        yield f"Under way and the shop's: {money(glance.under_way_value, currency)} {currency}."
    closed = glance.shop.closed_through
    yield f"Closed through {closed}." if closed >= glance.shop.first_day else "No month is closed yet."
    if glance.last_entry is not None:
        last = glance.last_entry
        yield f"Last entry: {last.event} {last.number} of {last.effect_date}."


def _next_steps(glance: Glance, typed: Typed) -> Iterator[tuple[str, str]]:
    """Yield what is worth doing and the command for it, what presses most first."""
    if not glance.items:
        yield "Write a sheet of what you keep in stock and fill it in.", typed("items template items.xlsx")
        yield "Or receive a supplier's invoice: new items are added from it.", typed("receive INVOICE.xlsx")
        return
    if glance.last_entry is None:
        yield "Receive a shipment.", typed("receive INVOICE.xlsx")
        yield "Enter what is there already.", typed("count --opening --sheet opening.xlsx")
    if glance.shorts:
        named = _named([row.sku for row in glance.shorts])
        yield f"Used before it was entered: {named}. Enter where it came from, or count it.", typed("stock")
    for order in glance.late[:MOST_NAMED]:
        yield _late(glance, order), typed(f"order {order.number}")
    if glance.expired:
        named = _named([row.sku for row in glance.expired])
        yield f"Expired and still on the shelf: {named}. Write off what cannot be used.", typed("stock")
    yield from _closing(glance, typed)
    soon = [row for row in glance.expiring if row not in glance.expired]
    if soon:
        named = _named([f"{row.sku} on {row.expires_on}" for row in soon])
        yield f"Expires within {SOON_DAYS} days: {named}. Use it first.", typed("stock")
    if glance.last_entry is not None:
        yield "See what to order now, from whom and by when.", typed("plan")
    if glance.coming:
        yield _coming(glance.coming), typed("order --expected")


def _closing(glance: Glance, typed: Typed) -> Iterator[tuple[str, str]]:
    if not glance.months_over:
        return
    month = glance.months_over[0]
    more = len(glance.months_over) - 1
    waits = f" ({how_many(more, 'month')} more after it)" if more else ""
    if glance.blocking:
        first = glance.blocking[0]
        points = how_many(len(glance.blocking), "point")
        what = f"{month} cannot be closed yet{waits}: {points} to settle first. {first.what} ({first.where})"
        yield what, typed(f"close {month} --show")
        return
    advice = f"; {how_many(len(glance.points), 'point')} to look at before" if glance.points else ""
    yield f"{month} is over and open{waits}: look at it and close it{advice}.", typed(f"close {month} --show")


def _late(glance: Glance, order: Order) -> str:
    days = how_many(days_late(order.next_expected, glance.on), "day")
    whom = f" from {order.party}" if order.party else ""
    return f"Order {order.number}{whom} is {days} late: expected on {order.next_expected}. Enter its arrival, or ask for it."


def _coming(orders: tuple[Order, ...]) -> str:
    first = min(orders, key=lambda order: order.next_expected)
    whom = f" from {first.party}" if first.party else ""
    return f"Expected next: order {first.number}{whom} on {first.next_expected}."


def _named(names: list[str]) -> str:
    return first_few(names, MOST_NAMED)
