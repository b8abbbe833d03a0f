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
from sample_costs import CostLine, cents, money, plain
from sample_month import month_figures
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
            weight_mg=costs.whole(Fraction(row.net_kg * 1_000_000) * (pieces - row.short) / row.total_pieces),
        )
        for row in shop.PACKING_ROWS
        for size, pieces in row.pieces.items()
    ]
    costs.convert(lines, shop.OVERSEAS_RATE)
    return lines


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
class Receipt:
    """One receipt of the tour as it is typed, with the charges in their order."""

    file: str
    document: int
    date: dt.date
    party: str
    reference: str
    currency: str
    rate: str
    charges: tuple[SampleCharge, ...]
    later: tuple[tuple[int, SampleCharge], ...] = ()


RECEIPTS = (
    Receipt(
        "domestic-blanks.xlsx",
        1,
        shop.DOMESTIC_RECEIVED,
        shop.DOMESTIC,
        shop.DOMESTIC_REFERENCE,
        "USD",
        "1",
        (SampleCharge("freight", "weight", amount=shop.DOMESTIC_FREIGHT),),
    ),
    Receipt(
        "consumables.csv",
        3,
        shop.CONSUMABLES_RECEIVED,
        shop.CONSUMABLES,
        shop.CONSUMABLES_REFERENCE,
        "USD",
        "1",
        (
            SampleCharge("freight", "value", amount=shop.CONSUMABLES_FREIGHT),
            SampleCharge("tax", "value", amount=shop.SALES_TAX, only=shop.TAXED),
        ),
    ),
    Receipt(
        "print-supplies.csv",
        6,
        sample_print.RECEIVED,
        sample_print.HOUSE,
        sample_print.REFERENCE,
        "USD",
        "1",
        (
            SampleCharge("freight", "value", amount=sample_print.FREIGHT),
            SampleCharge("tax", "value", amount=sample_print.SALES_TAX, only=sample_print.TAXED),
        ),
    ),
    Receipt(
        "overseas-packing-list.xlsx",
        9,
        shop.OVERSEAS_RECEIVED,
        shop.OVERSEAS,
        shop.OVERSEAS_REFERENCE,
        "CNY",
        shop.OVERSEAS_RATE,
        shop.OVERSEAS_CHARGES,
        ((17, shop.BROKER_CHARGE),),
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
    return {
        "shop": shop.SHOP,
        "currency": "USD",
        "first_month": shop.FIRST_MONTH,
        "as_of": shop.LAST_DAY.isoformat(),
        "receipts": receipts,
        "bills": _bills([line for lines in lines_of for line in lines]),
        "stock": _stock([line for lines in lines_of for line in lines]),
        "expires_within_30_days": _expiring(),
        "month": month_figures(
            ((receipt.document, place), receipt.date, line)
            for receipt, lines in zip(RECEIPTS, lines_of, strict=True)
            for place, line in enumerate(lines, start=1)
        ),
    }


def _receipt(receipt: Receipt, lines: list[CostLine]) -> dict[str, Any]:
    numbered = [(receipt.document + place, charge) for place, charge in enumerate(receipt.charges, start=1)]
    numbered += receipt.later
    amounts = [costs.add_charge(lines, charge) for _, charge in numbered]
    charges: list[dict[str, Any]] = [
        {"document": number, "kind": charge.kind, "basis": charge.basis, "amount": money(amount)}
        for (number, charge), amount in zip(numbered, amounts, strict=True)
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
