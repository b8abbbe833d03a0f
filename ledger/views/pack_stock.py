"""The pack's tables of stock: roll-forwards by kind and SKU, quantities, lots, and value by month."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ledger.book.month_tables import Held, HeldLot, KnownItem
from ledger.book.roll_forward import ItemRow
from ledger.costing.invariants import MADE_IN_JOBS, PASSED_ON, USED_IN_JOBS, RollForward
from ledger.costing.month_statement import (
    OF_WHICH_ACCOUNTS,
    MonthStatement,
    StatementLines,
    tax_group,
)
from ledger.views.pack import Adds, Column, Divides, Gathers, Kind, Table, Value, per_unit

MONEY, QUANTITY = Kind.MONEY, Kind.QUANTITY


@dataclass(frozen=True, slots=True)
class Flow:
    """A column of the roll-forwards: the account it reads, and whether that brings stock in or takes it."""

    key: str
    heading: str
    account: str
    brings: bool


SHORT = {"count_differences": "count diff."}

FLOWS = (
    Flow("purchases", "purchases", "purchases", brings=True),
    Flow("charges_in", "charges in", "charges", brings=True),
    Flow("labour", "labour", "labour", brings=True),
    Flow("made_in_jobs", "made in jobs", MADE_IN_JOBS, brings=True),
    Flow("used_in_jobs", "used in jobs", USED_IN_JOBS, brings=False),
    Flow("sent_back", "sent back", "returned to supplier", brings=False),
    Flow("own_use", "own use", "own use", brings=False),
    *(
        Flow(key, SHORT.get(key, account), account, brings=False)
        for key, account in OF_WHICH_ACCOUNTS.items()
        if key not in {"late_charges_on_used", "supplies_when_bought", "supplier_price_differences"}
    ),
    Flow("late_charges_on_used", "late charges on used", "late charges on used stock", brings=False),
    Flow("supplies_when_bought", "supplies when bought", "supplies", brings=False),
    Flow("supplier_price_differences", "price diff.", "supplier price differences", brings=False),
)
"""What moves stock, between opening and closing; opening entries are part of the opening stock."""

IN_COLUMNS = ("opening_stock", *(flow.key for flow in FLOWS if flow.brings))
OUT_COLUMNS = tuple(flow.key for flow in FLOWS if not flow.brings)
ALWAYS_SHOWN = frozenset({"purchases", "charges_in", "pieces_sold", "used_in_jobs", "made_in_jobs"})

BY_SKU, BY_KIND = "value_by_sku", "value_by_kind"
ALL_KINDS, OTHER_KINDS = "all kinds", "other kinds"

MOST_KINDS = 7
"""How many kinds a chart tells apart; the smaller ones are one."""


def _columns(kind: Kind, *, gathers: str = "") -> list[Column]:
    """Return opening, flows and closing as columns; ``gathers`` is the column they are gathered by."""
    formula = Gathers(BY_SKU, gathers) if gathers else None
    summed = kind is MONEY
    flows = [
        Column(
            flow.key, flow.heading, kind, summed, flow.key not in ALWAYS_SHOWN or kind is QUANTITY, formula
        )
        for flow in FLOWS
    ]
    closing = Adds(IN_COLUMNS, OUT_COLUMNS)
    return [
        Column("opening_stock", "opening stock", kind, summed, formula=formula),
        *flows,
        Column("closing_stock", "closing stock", kind, summed, formula=closing),
    ]


def _amounts(rolled: RollForward) -> list[int]:
    moved = {each.account: each.amount for each in rolled.movements}
    return _values(rolled.opening_amount, moved, rolled.closing_amount)


def _quantities(rolled: RollForward) -> list[int]:
    moved = {each.account: each.quantity_milli for each in rolled.movements}
    return _values(rolled.opening_quantity_milli, moved, rolled.closing_quantity_milli)


def _values(opening: int, moved: Mapping[str, int], closing: int) -> list[int]:
    flows = {flow.key: moved.get(flow.account, 0) * (1 if flow.brings else -1) for flow in FLOWS}
    # As the statement does: a late charge that followed the goods stands with the jobs they went through.
    late = moved.get(PASSED_ON, 0)
    flows["made_in_jobs"] += max(late, 0)
    flows["used_in_jobs"] += max(-late, 0)
    return [opening, *flows.values(), closing]


def value_by_sku(months: Iterable[Sequence[ItemRow]]) -> Table:
    """Return the roll-forward of every SKU in money, from the rows of each month of a span, in order."""
    columns = (
        Column("sku", "SKU"),
        Column("kind", "kind"),
        Column("reported_as", "reported as"),
        *_columns(MONEY),
    )
    names: dict[str, tuple[str, str, str]] = {}
    sums: dict[str, list[int]] = {}
    for rows in months:
        for row in rows:
            names[row.sku] = (row.sku, row.kind, tax_group(row.kind, row.tax_class))
            amounts = _amounts(row.rolled)
            sums[row.sku] = _followed(sums[row.sku], amounts) if row.sku in sums else amounts
    note = "Closing stock is opening stock plus what came in less what left. Change a figure and it follows."
    listed: list[tuple[Value, ...]] = [(*names[sku], *sums[sku]) for sku in sorted(names)]
    return Table(BY_SKU, "Value by SKU", note, columns, listed)


def _followed(earlier: Sequence[int], later: Sequence[int]) -> list[int]:
    """Return a later month's amounts added to those before it; opening and closing stock are its ends."""
    # What the later month opens with beyond what was left was entered as opening stock in it.
    entered = later[0] - earlier[-1]
    flows = [one + other for one, other in zip(earlier[1:-1], later[1:-1], strict=True)]
    return [earlier[0] + entered, *flows, later[-1]]


def value_by_kind(statement: MonthStatement) -> Table:
    """Return the roll-forward of every kind in money, gathered from the SKUs."""
    columns = (Column("kind", "kind"), *_columns(MONEY, gathers="kind"))
    note = (
        "Gathered from the sheet Value by SKU. Jobs move cost between kinds; over all kinds that cancels out."
    )
    rows: list[tuple[Value, ...]] = [(group.name, *_of_lines(group.lines)) for group in statement.by_kind]
    return Table(BY_KIND, "Value by kind", note, columns, rows)


def _of_lines(lines: StatementLines) -> list[int]:
    """Return the amounts of a statement's lines in the order of the columns."""
    flows = [getattr(lines.of_which if flow.key in OF_WHICH_ACCOUNTS else lines, flow.key) for flow in FLOWS]
    return [lines.opening_stock, *flows, lines.closing_stock]


def quantity_by_sku(rows: Iterable[ItemRow]) -> Table:
    """Return the roll-forward of every SKU in base units; units differ, so there is no total."""
    columns = (
        Column("sku", "SKU"),
        Column("name", "name"),
        Column("unit", "unit"),
        *_columns(QUANTITY),
    )
    listed: list[tuple[Value, ...]] = [
        (row.sku, row.name, row.base_unit, *_quantities(row.rolled)) for row in rows
    ]
    note = "In each item's own unit. What charges and labour add has no quantity."
    return Table("quantity_by_sku", "Quantity by SKU", note, columns, listed)


def lots(
    held: Sequence[HeldLot], items: Mapping[str, KnownItem], at_end: Mapping[str, Held], currency: str
) -> Table:
    """Return the lots with something left, and what stands outside lots where shorts are open."""
    columns = (
        Column("lot", "lot"),
        Column("sku", "SKU"),
        Column("unit", "unit"),
        Column("received_on", "received", Kind.DATE),
        Column("party", "supplier", is_optional=True),
        Column("reference", "reference", is_optional=True),
        Column("quantity_received", "received quantity", QUANTITY),
        Column("invoice_cost", "invoice cost", MONEY),
        Column("charges", "charges", MONEY),
        Column("landed_cost", "landed cost", MONEY, formula=Adds(("invoice_cost", "charges"))),
        Column("unit_cost", "per unit", Kind.PER_UNIT, formula=Divides("landed_cost", "quantity_received")),
        Column("late_charges", "late charges", MONEY, is_optional=True),
        Column("quantity_on_hand", "quantity left", QUANTITY),
        Column("value_on_hand", "value left", MONEY, is_summed=True),
        Column("expires_on", "expires", Kind.DATE, is_optional=True),
    )
    rows: list[tuple[Value, ...]] = []
    rest = {sku: [one.quantity_milli, one.amount] for sku, one in at_end.items()}
    for lot in held:
        rest[lot.sku][0] -= lot.quantity_held
        rest[lot.sku][1] -= lot.value_held
        landed = lot.invoice_cost + lot.charges
        head = (f"{lot.document}.{lot.line}", lot.sku, items[lot.sku].base_unit, lot.received_on)
        cost = (lot.quantity_received, lot.invoice_cost, lot.charges, landed)
        each = per_unit(landed, lot.quantity_received, currency)
        left = (lot.late_charges, lot.quantity_held, lot.value_held, lot.expires_on or None)
        rows.append((*head, lot.party, lot.reference, *cost, each, *left))
    for sku, (quantity, value) in sorted(rest.items()):
        if quantity or value:
            what = "used before entered" if quantity < 0 else "outside lots"
            unknown = (None,) * 6
            rows.append((what, sku, items[sku].base_unit, None, "", "", *unknown, quantity, value, None))
    note = (
        "Landed cost is the invoice and the charges that came with it; late charges are what later bills put on "
        "what was left. The oldest lot of an item leaves first."
    )
    return Table("lots", "Lots", note, columns, rows, keys=2)


def stock_by_month(months: Sequence[tuple[str, Mapping[str, Held]]], items: Mapping[str, KnownItem]) -> Table:
    """Return what stock was worth at the end of each month, by kind; the largest kinds stand first.

    Beyond `MOST_KINDS` the smaller ones are also summed up as other kinds, which a chart can show.
    """
    worth: list[dict[str, int]] = []
    for _, held in months:
        by_kind: dict[str, int] = {}
        for sku, one in held.items():
            by_kind[items[sku].kind] = by_kind.get(items[sku].kind, 0) + one.amount
        worth.append(by_kind)
    most = {kind: max(one.get(kind, 0) for one in worth) for by_kind in worth for kind in by_kind}
    kinds = sorted((kind for kind in most if most[kind]), key=lambda kind: (-most[kind], kind))
    large, small = (kinds, []) if len(kinds) <= MOST_KINDS + 1 else (kinds[:MOST_KINDS], kinds[MOST_KINDS:])
    other = [Column(OTHER_KINDS, "other kinds", MONEY, formula=Adds(tuple(small)))] if small else []
    columns = (
        Column("month", "month"),
        *(Column(kind, kind, MONEY) for kind in large),
        *other,
        *(Column(kind, kind, MONEY) for kind in small),
        Column(ALL_KINDS, "all kinds", MONEY, formula=Adds(tuple(kinds))),
    )
    rows: list[tuple[Value, ...]] = []
    for (month, _), values in zip(months, worth, strict=True):
        others = [sum(values.get(kind, 0) for kind in small)] if small else []
        ordered = [[values.get(kind, 0) for kind in some] for some in (large, small)]
        in_all = sum(values.get(kind, 0) for kind in kinds)
        rows.append((month, *ordered[0], *others, *ordered[1], in_all))
    note = "At the end of each month, what is under way included."
    return Table("stock_by_month", "Stock value by month and kind", note, columns, rows)
