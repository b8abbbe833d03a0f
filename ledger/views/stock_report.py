"""The shop's stock as a page to keep: what is there, what it is worth, what is coming, what lies idle."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from ledger.book.looking import ExpiryRow, StockRow
from ledger.book.margin import SLOW_DAYS
from ledger.book.stock_by_month import StockByMonth
from ledger.book.stock_state import EXPIRY_DAYS, StockState
from ledger.costing.month_statement import FINISHED
from ledger.exact.words import how_many
from ledger.views import figures, tables
from ledger.views import stock as stock_view
from ledger.views import under_way as under_way_view
from ledger.views.lead_times_picture import lead_times_figure
from ledger.views.margin import percent, slow_table
from ledger.views.orders import INFORMATION, payments_table
from ledger.views.pack_notes import METHOD
from ledger.views.page import Block, Caution, Fact, Facts, Page, Picture, Section, Table, Text, from_table
from ledger.views.pictures import svg_text
from ledger.views.shop_pictures import MOST_MONTHS, StockValueChart, stock_value_chart, stock_value_figure
from ledger.views.stock_to_do import to_do

_NOT_TOLD = "'Not told' is no fault: no payment was entered; it is late only where 'overdue' stands."

_OF_A_MONTH = ("workbook",)
"""What is said of how figures are made that does not hold for a page."""


def how_made() -> list[Fact]:
    """Return how every figure of a page was made, for a reader who was not there."""
    return [Fact(what, said) for what, said in METHOD if what not in _OF_A_MONTH]


def stock_page(state: StockState) -> Page:
    """Return the page of the shop's stock."""
    held = [row for row in state.rows if row.quantity_milli or row.value]
    day = state.on.isoformat()
    sections = (
        Section("What to do", to_do(state)),
        Section("By kind", _by_kind(state, held)),
        Section("Month by month", _by_month(state)),
        Section("Sizes and colours", _grids(state, held)),
        Section("Used before it was entered", _shorts(state)),
        Section(f"What expires within {EXPIRY_DAYS} days, or has", _expiring(state)),
        Section("Under way and expected", _coming(state)),
        Section(f"Nothing sold or used for {SLOW_DAYS} days or more", _slow(state)),
        Section("How long orders took", _lead_times(state)),
        Section("How it is valued", [Facts([*how_made(), *_of_book(state)])]),
        Section("Every item", _items(state, held)),
    )
    when = f"on {day}" if state.is_now else f"at the end of {day}"
    return Page(
        title=f"Stock of {state.shop.name}, {day}",
        lead=_lead(state, held, when),
        sections=sections,
        foot=f"Written by Blankbook from the book of {state.shop.name}, {when}. Every figure is in the book: "
        "what was entered later or changed since is not on this page.",
    )


def _lead(state: StockState, held: Sequence[StockRow], when: str) -> str:
    currency = state.shop.currency
    if not held:
        return f"Nothing is on hand {when}."
    kinds = _values_by_kind(held)
    first, worth = max(kinds.items(), key=lambda kind: kind[1])
    said = f"{_worth(state.value_minor, currency)} of stock is on hand {when}: {_items_of(held)}"
    if len(kinds) > 1:
        said += f"; {first} is worth the most, {_worth(worth, currency)}"
    if state.under_way_minor:
        said += f". Another {_worth(state.under_way_minor, currency)} is under way and the shop's already"
    return f"{said}."


def _worth(minor: int, currency: str) -> str:
    return f"{figures.money(minor, currency)} {currency}"


def _items_of(rows: Sequence[StockRow]) -> str:
    kinds = how_many(len({row.kind for row in rows}), "kind")
    return f"{how_many(len(rows), 'item')} of {kinds}"


def _values_by_kind(rows: Iterable[StockRow]) -> dict[str, int]:
    """Return the value of each kind in minor units, the most first."""
    values: dict[str, int] = {}
    for row in rows:
        values[row.kind] = values.get(row.kind, 0) + row.value
    return dict(sorted(values.items(), key=lambda kind: (-kind[1], kind[0])))


def _by_kind(state: StockState, held: Sequence[StockRow]) -> list[Block]:
    if not held:
        return []
    currency, whole = state.shop.currency, state.value_minor
    table = tables.Table(["kind", ">items", f">value {currency}", ">percent of value"])
    for kind, value in _values_by_kind(held).items():
        count = sum(row.kind == kind for row in held)
        table.add(kind, str(count), figures.money(value, currency), _share(value, whole))
    table.total("all stock", str(len(held)), figures.money(whole, currency), _share(whole, whole))
    return [from_table(f"What is on hand, by kind, in {currency}", table)]


def _share(value: int, whole: int) -> str:
    return percent(Fraction(100 * value, whole)) if whole else ""


def _by_month(state: StockState) -> list[Block]:
    stock = state.by_month
    if stock is None or not stock.kinds:
        return []
    is_so_far = state.is_now and state.on.isoformat()[:7] == stock.months[-1]
    return stock_months(stock, is_last_so_far=is_so_far)


def stock_months(stock: StockByMonth, *, is_last_so_far: bool) -> list[Block]:
    """Return the picture of stock by month and kind, and its figures beside it."""
    chart = stock_value_chart(stock, is_last_so_far=is_last_so_far)
    first, last = chart.months[0], chart.months[-1]
    span = first if first == last else f"{first} to {last}"
    ends = chart.totals_minor
    described = (
        f"One bar for each month from {span}, its kinds upon one another. "
        f"The last, {last}, comes to {_worth(ends[-1], chart.currency)}; "
        f"the highest to {_worth(max(ends), chart.currency)}. The table below has every figure."
    )
    caption = "Stock on hand and under way at the end of each month, at landed cost"
    if is_last_so_far:
        caption += f"; {last} as it stands so far"
        if len(ends) > 1 and ends[-1] == ends[-2]:
            caption += ", worth the same as at the end of the month before"
    if len(stock.months) > MOST_MONTHS:
        caption += f"; the last {MOST_MONTHS} months"
    svg = svg_text(stock_value_figure(chart), "Stock value by month and kind", described)
    return [Picture(svg, f"{caption}."), _months_table(stock, chart)]


def _months_table(stock: StockByMonth, chart: StockValueChart) -> Table:
    """Return months down, the kinds of the picture across, and the whole: the closing stock of each month."""
    currency = stock.currency
    heads = ["month", *(f">{band.name}" for band in chart.bands), ">closing stock"]
    coming = stock.latest(MOST_MONTHS).under_way_minor
    if any(coming):
        heads.append(">of it under way")
    table = tables.Table(heads)
    for place, month in enumerate(chart.months):
        cells = [figures.money(band.amounts_minor[place], currency) for band in chart.bands]
        cells.append(figures.money(chart.totals_minor[place], currency))
        if any(coming):
            cells.append(figures.money(coming[place], currency))
        table.add(month, *cells)
    return from_table(f"Stock at the end of each month, in {currency}", table)


def _grids(state: StockState, held: Sequence[StockRow]) -> list[Block]:
    """Return the grid of every style that has something on hand; what is finished stands in one."""
    currency, blocks = state.shop.currency, list[Block]()
    there = {(row.style, row.kind == FINISHED) for row in held if row.style}
    for style, is_finished in sorted(there, key=lambda one: one[0].casefold()):
        if not is_finished:
            own = [row for row in state.rows if row.style == style]
            blocks.append(
                from_table(
                    f"{style}: pieces by colour and size, and their value",
                    stock_view.grid_table(own, currency),
                    stock_view.grid_note(own),
                )
            )
    finished = [
        replace(row, colour=f"{row.style} {row.colour}".strip())
        for row in state.rows
        if (row.style, True) in there
    ]
    if finished:
        table = stock_view.grid_table(finished, currency)
        table.headings = ["design and colour", *table.headings[1:]]
        blocks.append(from_table("Finished pieces by design, colour and size, and their value", table))
    if blocks:
        mark = stock_view.GAP_MARK
        blocks.insert(0, Text(f"A 0 is a size that is sold out, a {mark} one that the colour does not have."))
    return blocks


def _shorts(state: StockState) -> list[Block]:
    if not state.shorts:
        return []
    table = tables.Table(["SKU", ">quantity", "unit", "since"])
    for row in state.shorts:
        table.add(row.sku, figures.quantity(row.quantity_milli), row.base_unit, row.since)
    return [
        Text("More of these was used than was entered. Enter the receipt, or count them."),
        from_table("Used before it was entered", table),
    ]


def _expiring(state: StockState) -> list[Block]:
    if not state.expiring:
        return []
    table = tables.Table(["expires", "when", "SKU", "name", ">quantity", "unit", "lot"])
    for row in state.expiring:
        table.add(row.expires_on, stock_view.expires_when(row, state.on), *_lot_cells(row))
    return [from_table("Lots with something left, the soonest first", table), Caution(stock_view.CHEMICALS)]


def _lot_cells(row: ExpiryRow) -> list[str]:
    quantity = figures.quantity(row.quantity_on_hand)
    return [row.sku, row.name, quantity, row.base_unit, f"{row.document}.{row.line}"]


def _coming(state: StockState) -> list[Block]:
    currency = state.shop.currency
    blocks: list[Block] = []
    if state.under_way:
        blocks += [
            Text(
                "Goods that are the shop's already and not on the shelf yet. They are part of closing stock."
            ),
            from_table(
                f"Under way, in {currency}", under_way_view.under_way_table(state.under_way, currency)
            ),
        ]
    if state.expected:
        table = under_way_view.expected_table(state.expected, state.on)
        blocks.append(from_table("Expected, by week", table))
    if state.outstanding:
        table = payments_table(state.outstanding, state.on)
        blocks.append(
            from_table("Deposits and balances not told to be paid", table, f"{_NOT_TOLD} {INFORMATION}")
        )
    return blocks


def _slow(state: StockState) -> list[Block]:
    if not state.slow:
        return []
    caption = f"On hand and not sold or used for {SLOW_DAYS} days or more, the most valuable first"
    return [from_table(caption, slow_table(state.slow, state.shop.currency))]


def _lead_times(state: StockState) -> list[Block]:
    if not state.took:
        return []
    rows = under_way_view.by_stage(state.took)
    described = " ".join(
        f"{party or 'no supplier'}, {stage}: {how_many(len(own), 'order')}."
        for (party, stage), own in rows.items()
    )
    svg = svg_text(lead_times_figure(state.took), "Lead times of the shop's own orders", described)
    return [
        Picture(svg, "How many days the shop's own orders took to be shipped, and to arrive."),
        from_table(
            "Lead times of the shop's own orders, in days",
            under_way_view.lead_times_table(state.took),
            under_way_view.SPREAD_WORDS,
        ),
    ]


def _items(state: StockState, held: Sequence[StockRow]) -> list[Block]:
    if not held:
        return []
    table = stock_view.stock_table(held, state.shop.currency)
    # The sums by kind stand at the top of the page already.
    table.totals = table.totals[-1:]
    return [from_table(f"Every item on hand, at landed cost in {state.shop.currency}", table)]


def _of_book(state: StockState) -> list[Fact]:
    closed = state.shop.closed_through
    is_none = closed < state.shop.first_day
    return [
        Fact("currency", state.shop.currency),
        Fact(
            "closed months",
            "none yet: every figure may still change" if is_none else f"through {closed}",
            "" if is_none else "what is later may still change",
        ),
    ]
