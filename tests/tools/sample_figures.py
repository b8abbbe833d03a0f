"""The figures the sample files must give, as one plain structure that goes into figures.json."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

import sample_costs as costs
import sample_print
import sample_shop as shop
from sample_bills import BILLS, used_by
from sample_catalogue import base_unit_of, kind_of
from sample_closes import Bought, closes, last_day
from sample_costs import CostLine, cents, money, plain
from sample_month import Month, month_figures
from sample_shop import BlankRow, PackingRow, SampleCharge, SupplyRow

CENT = Decimal("0.01")


def _discounted(gross: Decimal, percent: int) -> Decimal:
    return (gross * (100 - percent) / 100).quantize(CENT, rounding=ROUND_HALF_UP)


def blank_pieces(row: BlankRow) -> int:
    """Return the pieces of a row of the domestic invoice."""
    if row.unit == "EA":
        return row.quantity
    return row.quantity * (shop.LARGE_CASE_PIECES if row.size in shop.SURCHARGES else shop.CASE_PIECES)


def blank_net(row: BlankRow) -> Decimal:
    """Return the amount of a row of the domestic invoice, its discount taken off, in dollars."""
    price = row.price + shop.SURCHARGES.get(row.size, Decimal(0))
    return _discounted(price * blank_pieces(row), row.discount_percent)


def packing_amount(row: PackingRow) -> Decimal:
    """Return the amount of a row of the packing list, in yuan."""
    return row.price * row.total_pieces


def supply_net(row: SupplyRow) -> Decimal:
    """Return the amount of a row of an invoice of supplies, its discount taken off, in dollars."""
    return _discounted(row.price * row.quantity, row.discount_percent)


def domestic_lines() -> list[CostLine]:
    """Return the domestic invoice's lines: missing pieces claimed, damaged ones an expense."""
    lines = []
    for row in shop.blank_rows():
        size = shop.YOUTH_SIZES.get(row.size, row.size)
        pieces = blank_pieces(row)
        lines.append(
            CostLine(
                sku=f"{row.style.upper()}-{shop.COLOUR_CODES[row.colour]}-{size}",
                quantity_milli=pieces * 1000,
                net_foreign=cents(blank_net(row)),
                kind="blank",
                claimed=row.short,
                expensed=row.damaged,
                weight_mg=shop.STYLE_WEIGHT_MG[row.style] * (pieces - row.short - row.damaged),
            )
        )
    costs.take_discount(lines, cents(shop.DOMESTIC_DISCOUNT))
    costs.convert(lines)
    return lines


def overseas_lines() -> list[CostLine]:
    """Return the packing list's lines, one per size: missing pieces are borne by the good ones."""
    lines = [
        CostLine(
            sku=f"PLOVER-{shop.PACKING_COLOURS[row.colour]}-{size}",
            quantity_milli=pieces * 1000,
            net_foreign=cents(row.price * pieces),
            kind="blank",
            normal=row.short,
            weight_mg=_row_weight_mg(row, pieces - row.short),
            sent_weight_mg=_row_weight_mg(row, pieces),
        )
        for row in shop.PACKING_ROWS
        for size, pieces in row.pieces.items()
    ]
    costs.convert(lines, shop.OVERSEAS_RATE)
    return lines


def _row_weight_mg(row: PackingRow, pieces: int) -> int:
    """Return what some of a row's pieces weigh, by the net weight printed for the row."""
    return costs.whole(Fraction(row.net_kg * 1_000_000) * pieces / row.total_pieces)


def supply_lines(rows: Sequence[SupplyRow]) -> list[CostLine]:
    """Return the lines of an invoice of supplies in base units."""
    lines = [
        CostLine(
            sku=row.sku,
            quantity_milli=costs.whole(Fraction(row.quantity) * row.per_unit * 1000),
            net_foreign=cents(supply_net(row)),
            kind=kind_of(row.sku),
            is_stocked=row.is_stocked,
        )
        for row in rows
    ]
    costs.convert(lines)
    return lines


@dataclass(frozen=True)
class Billed:
    """A charge with its document and the day it takes effect."""

    document: int
    on: dt.date
    charge: SampleCharge


@dataclass(frozen=True)
class Receipt:
    """One receipt of the tour as it is typed, with the charges in their order."""

    file: str
    document: int
    date: dt.date
    party: str
    reference: str
    charges: tuple[Billed, ...]
    currency: str = "USD"
    rate: str = "1"


def _with_it(document: int, on: dt.date, *charges: SampleCharge) -> tuple[Billed, ...]:
    """Return charges that are posted together with a document, behind it."""
    return tuple(Billed(document + place, on, charge) for place, charge in enumerate(charges, start=1))


ORDER, SHIPMENT, ARRIVAL = 3, 8, 15
"""The documents of the overseas order, of its shipment and of its arrival; 4 and 13 are the two closes."""
CLOSES = {"2026-01": 4, "2026-02": 13}

RECEIPTS = (
    Receipt(
        "domestic-blanks.xlsx",
        1,
        shop.DOMESTIC_RECEIVED,
        shop.DOMESTIC,
        shop.DOMESTIC_REFERENCE,
        _with_it(1, shop.DOMESTIC_RECEIVED, SampleCharge("freight", "weight", amount=shop.DOMESTIC_FREIGHT)),
    ),
    Receipt(
        "consumables.csv",
        5,
        shop.CONSUMABLES_RECEIVED,
        shop.CONSUMABLES,
        shop.CONSUMABLES_REFERENCE,
        _with_it(
            5,
            shop.CONSUMABLES_RECEIVED,
            SampleCharge("freight", "value", amount=shop.CONSUMABLES_FREIGHT),
            SampleCharge("tax", "value", amount=shop.SALES_TAX, only=shop.TAXED),
        ),
    ),
    Receipt(
        "print-supplies.csv",
        10,
        sample_print.RECEIVED,
        sample_print.HOUSE,
        sample_print.REFERENCE,
        _with_it(
            10,
            sample_print.RECEIVED,
            SampleCharge("freight", "value", amount=sample_print.FREIGHT),
            SampleCharge("tax", "value", amount=sample_print.SALES_TAX, only=sample_print.TAXED),
        ),
    ),
    Receipt(
        "overseas-packing-list.xlsx",
        ARRIVAL,
        shop.OVERSEAS_RECEIVED,
        shop.OVERSEAS,
        shop.OVERSEAS_REFERENCE,
        (
            *_with_it(SHIPMENT, shop.ON_BOARD, shop.INSURANCE),
            Billed(14, shop.FREIGHT_DATE, shop.FREIGHT),
            *_with_it(ARRIVAL, shop.OVERSEAS_RECEIVED, *shop.ARRIVAL_CHARGES),
            # The arrival's month is open: the bill takes effect with it.
            Billed(21, shop.OVERSEAS_RECEIVED, shop.BROKER_CHARGE),
        ),
        "CNY",
        shop.OVERSEAS_RATE,
    ),
)


def figures() -> dict[str, Any]:
    """Return everything the sample files must give, amounts and quantities as decimal text."""
    lines_of = (
        domestic_lines(),
        supply_lines(shop.SUPPLY_ROWS),
        supply_lines(sample_print.ROWS),
        overseas_lines(),
    )
    receipts = [_receipt(receipt, lines) for receipt, lines in zip(RECEIPTS, lines_of, strict=True)]
    month = Month(
        ((receipt.document, place), receipt.date, line)
        for receipt, lines in zip(RECEIPTS, lines_of, strict=True)
        for place, line in enumerate(lines, start=1)
    )
    bought = [
        Bought(
            shop.ON_BOARD if receipt.document == ARRIVAL else receipt.date,
            receipt.date,
            lines,
            [billed.on for billed in receipt.charges],
        )
        for receipt, lines in zip(RECEIPTS, lines_of, strict=True)
    ]
    return {
        "shop": shop.SHOP,
        "currency": "USD",
        "first_month": shop.FIRST_MONTH,
        "as_of": shop.LAST_DAY.isoformat(),
        "receipts": receipts,
        "bills": _bills([line for lines in lines_of for line in lines]),
        "stock": _stock([line for lines in lines_of for line in lines]),
        "expires_within_30_days": _expiring(),
        "shipment": _shipment(bought[-1]),
        "month": month_figures(month),
        "closes": closes(bought, month, CLOSES),
    }


def _receipt(receipt: Receipt, lines: list[CostLine]) -> dict[str, Any]:
    amounts = [costs.add_charge(lines, billed.charge) for billed in receipt.charges]
    charges: list[dict[str, Any]] = [
        {
            "document": billed.document,
            "kind": billed.charge.kind,
            "basis": billed.charge.basis,
            "amount": money(amount),
        }
        for billed, amount in zip(receipt.charges, amounts, strict=True)
    ]
    return {
        "file": receipt.file,
        "document": receipt.document,
        "date": receipt.date.isoformat(),
        "party": receipt.party,
        "reference": receipt.reference,
        "currency": receipt.currency,
        "rate": receipt.rate,
        "total_foreign": money(sum(line.net_foreign for line in lines)),
        "total_amount": money(sum(line.amount for line in lines)),
        "total_claimed": money(sum(line.claimed_amount for line in lines)),
        "total_invoice": money(sum(line.invoice_cost for line in lines)),
        "total_charges": money(sum(amounts)),
        "total_landed": money(sum(line.landed for line in lines)),
        "charges": charges,
        "lines": [_line(receipt.document, place, line, charges) for place, line in enumerate(lines, start=1)],
    }


def _shipment(bought: Bought) -> dict[str, Any]:
    """Return what is under way at the end of February, and with its freight on the eve of its arrival."""
    eve = bought.on_shelf_from - dt.timedelta(days=1)
    days = {"at_the_month_end": last_day("2026-02"), "on_the_eve": eve}
    return {
        "order": ORDER,
        "document": SHIPMENT,
        "shipped_on": shop.SHIPPED.isoformat(),
        "the_shops_from": bought.the_shops_from.isoformat(),
        **{name: day.isoformat() for name, day in days.items()},
        "lines": [
            {"lot": f"{SHIPMENT}.{place}", "sku": line.sku, "quantity": plain(line.quantity_milli)}
            | {f"value_{name}": money(bought.value(line, day)) for name, day in days.items()}
            for place, line in enumerate(bought.lines, start=1)
        ],
    }


def _line(document: int, place: int, line: CostLine, charges: Sequence[dict[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {
        "lot": f"{document}.{place}",
        "sku": line.sku,
        "is_stocked": line.is_stocked,
        "quantity_invoiced": plain(line.quantity_milli),
        "quantity_received": plain(line.kept_milli),
        "quantity_on_hand": plain(line.good_milli) if line.is_stocked else "0",
    }
    losses = {"claimed": line.claimed, "normal": line.normal, "expensed": line.expensed}
    found |= {name: str(pieces) for name, pieces in losses.items() if pieces}
    if line.claimed:
        found["claimed_amount"] = money(line.claimed_amount)
    if line.expensed:
        found["expensed_cost"] = money(line.expensed_cost)
    return found | {
        "amount_foreign": money(line.net_foreign),
        "invoice_cost": money(line.invoice_cost),
        "charges": money(sum(line.shares)),
        "charge_shares": {
            str(charge["document"]): money(share) for charge, share in zip(charges, line.shares, strict=True)
        },
        "landed_cost": money(line.landed),
        "value_on_hand": money(line.value_on_hand),
    }


def _bills(lines: Sequence[CostLine]) -> list[dict[str, Any]]:
    """Return what jobs of one and of twelve pieces use, and their cost at the lots' landed unit cost."""
    each = {line.sku: Fraction(line.landed, line.kept_milli) for line in lines}
    found = []
    for bill in BILLS:
        for pieces in (1, 12):
            used = used_by(bill, pieces)
            found.append(
                {
                    "bill": bill.code,
                    "blank": bill.shown,
                    "pieces": pieces,
                    "components": [{"sku": sku, "quantity": plain(milli)} for sku, milli in used.items()],
                    "cost": money(costs.whole(sum(milli * each[sku] for sku, milli in used.items()))),
                }
            )
    return found


def _stock(lines: Sequence[CostLine]) -> dict[str, Any]:
    quantities: dict[str, int] = defaultdict(int)
    values: dict[str, int] = defaultdict(int)
    kinds: dict[str, int] = defaultdict(int)
    for line in lines:
        if line.is_stocked:
            quantities[line.sku] += line.good_milli
            values[line.sku] += line.value_on_hand
            kinds[line.kind] += line.value_on_hand
    return {
        "total": money(sum(values.values())),
        "by_kind": {kind: money(value) for kind, value in sorted(kinds.items())},
        "items": [
            {
                "sku": sku,
                "kind": kind_of(sku),
                "unit": base_unit_of(sku),
                "quantity": plain(quantities[sku]),
                "value": money(values[sku]),
            }
            for sku in sorted(quantities)
        ],
    }


def _expiring() -> list[dict[str, str]]:
    last = shop.LAST_DAY + dt.timedelta(days=30)
    return [
        {"sku": row.sku, "expires_on": row.best_before.isoformat()}
        for row in (*shop.SUPPLY_ROWS, *sample_print.ROWS)
        if row.best_before and row.best_before <= last
    ]
