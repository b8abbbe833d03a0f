"""What the sample shop's months come to, worked out from its papers and from March, document by document.

A month's statement is plain sums: what is there at its beginning, what came in, what is there at its
end. What the cost of goods sold consists of is summed apart from it, and both must be the same.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sample_catalogue import tax_class_of
from sample_costs import CostLine, money
from sample_month import Month

GOODS, WHEN_BOUGHT = "goods", "supplies when bought"
EVENTS_MONTH = "2026-03"

_IN = ("purchases", "charges_in", "labour")
_OUT = ("sent_back", "own_use")
_STANDING = ("opening_stock", "closing_stock", "under_way", "supplies_on_hand")
_PARTS = (
    *("pieces_sold", "used", "samples", "donations", "spoilage", "count_differences", "write_downs"),
    *("late_charges_on_used", "supplies_when_bought", "supplier_price_differences"),
)
_OF_ACCOUNT = {
    "purchases": "purchases",
    "charges": "charges_in",
    "labour": "labour",
    "returned to supplier": "sent_back",
    "own use": "own_use",
    "pieces sold": "pieces_sold",
    "used": "used",
    "samples": "samples",
    "donations": "donations",
    "spoilage": "spoilage",
    "count differences": "count_differences",
    "write-downs": "write_downs",
    "supplier price differences": "supplier_price_differences",
}

Sums = Counter[tuple[str, str]]
"""Cents by the statement's line and the tax class."""


@dataclass(frozen=True)
class Bought:
    """One purchase: whose it is from when, and the days its lines' charges take effect."""

    the_shops_from: dt.date
    on_shelf_from: dt.date
    lines: Sequence[CostLine]
    charge_days: Sequence[dt.date]

    def charges(self, line: CostLine, month: str) -> int:
        """Return what a month's charges put on a line."""
        pairs = zip(line.shares, self.charge_days, strict=True)
        return sum(share for share, day in pairs if day.isoformat().startswith(month))

    def value(self, line: CostLine, on: dt.date) -> int:
        """Return what a line stands at that is under way, at the end of a day."""
        pairs = zip(line.shares, self.charge_days, strict=True)
        return line.invoice_cost + sum(share for share, day in pairs if day <= on)


def last_day(month: str) -> dt.date:
    """Return the last day of a month."""
    year, number = map(int, month.split("-"))
    return dt.date(year, number, calendar.monthrange(year, number)[1])


def closes(bought: Sequence[Bought], month: Month, documents: Mapping[str, int]) -> list[dict[str, Any]]:
    """Return January, February and March: what ``close --show`` must say; ``documents`` are the closes."""
    found: list[dict[str, Any]] = []
    opening: Sums = Counter()
    year: Sums = Counter()
    for name in (*documents, EVENTS_MONTH):
        sums = _of_purchases(bought, name)
        if name == EVENTS_MONTH:
            sums.update(_of_events(month))
            closing = _shelf_of(month)
        else:
            closing = _shelf_at(bought, last_day(name))
        year.update(sums)
        found.append(
            {
                "month": name,
                "document": documents.get(name),
                **_statement(sums, opening, closing),
                "year_to_date": _statement(year, Counter(), closing),
            }
        )
        opening = Counter({("on hand", tax_class): cents for (_, tax_class), cents in _all(closing)})
    return found


def _all(sums: Sums) -> Iterator[tuple[tuple[str, str], int]]:
    """Yield what is on hand and under way, together by tax class."""
    together: Sums = Counter()
    for (_, tax_class), cents in sums.items():
        together["on hand", tax_class] += cents
    yield from together.items()


def _of_purchases(bought: Sequence[Bought], month: str) -> Sums:
    """Sum up what was bought, charged, claimed back, expensed at arrival or deducted at once in a month."""
    sums: Sums = Counter()
    for one in bought:
        is_bought = one.the_shops_from.isoformat().startswith(month)
        arrives = one.on_shelf_from.isoformat().startswith(month)
        for line in one.lines:
            tax_class = tax_class_of(line.sku)
            sums["charges_in", tax_class] += one.charges(line, month)
            if is_bought:
                sums["purchases", tax_class] += line.amount
            if arrives:
                sums["sent_back", tax_class] += line.claimed_amount
                sums["spoilage", tax_class] += line.expensed_cost
                if tax_class == WHEN_BOUGHT:
                    sums["supplies_when_bought", tax_class] += line.landed
    return sums


def _of_events(month: Month) -> Sums:
    """Sum up the sheet and the count: what they bought, sent back and took home were goods."""
    return Counter({(_OF_ACCOUNT[account], GOODS): cents for account, cents in month.accounts.items()})


def _shelf_at(bought: Sequence[Bought], day: dt.date) -> Sums:
    """Return what is the shop's at the end of a day before anything of it was used."""
    sums: Sums = Counter()
    for one in bought:
        for line in one.lines:
            tax_class = tax_class_of(line.sku)
            if one.on_shelf_from <= day:
                sums["on hand", tax_class] += line.value_on_hand
            elif one.the_shops_from <= day:
                sums["under way", tax_class] += one.value(line, day)
    return sums


def _shelf_of(month: Month) -> Sums:
    """Return what is on the shelf after the count."""
    sums: Sums = Counter()
    for sku, lots in month.lots.items():
        sums["on hand", tax_class_of(sku)] += sum(lot.value for lot in lots)
    return sums


def _statement(sums: Sums, opening: Sums, closing: Sums) -> dict[str, Any]:
    """Return a statement; what came in less what is left must be what the parts add up to."""
    lines = {name: _total(sums, name) for name in (*_IN, *_OUT)}
    parts = {name: _total(sums, name) for name in _PARTS}
    under_way = _total(closing, "under way")
    lines |= {
        "opening_stock": sum(opening.values()),
        "closing_stock": sum(closing.values()),
        "under_way": under_way,
        "supplies_on_hand": sum(cents for (_, tax_class), cents in closing.items() if tax_class != GOODS),
        "samples": parts["samples"],
        "donations": parts["donations"],
    }
    sold = lines["opening_stock"] + sum(lines[name] for name in _IN)
    sold -= sum(lines[name] for name in _OUT) + lines["closing_stock"]
    assert sold == sum(parts.values()), f"{sold} is not {sum(parts.values())}"
    form = _form(sums, opening, closing)
    assert form["42"] == sold, f"line 42 is {form['42']}, not {sold}"
    return {
        **{name: money(cents) for name, cents in lines.items()},
        "cost_of_goods_sold": money(sold),
        "of_which": {name: money(cents) for name, cents in parts.items()},
        "tax_form": {name: money(cents) for name, cents in form.items()},
    }


def _total(sums: Sums, name: str) -> int:
    return sum(cents for (line, _), cents in sums.items() if line == name)


def _form(sums: Sums, opening: Sums, closing: Sums) -> dict[str, int]:
    """Return the form's lines: goods by purchase and charge, supplies as what was used of them or deducted."""

    def goods(one: Sums, *names: str) -> int:
        return sum(one[name, GOODS] for name in names)

    def supplies(one: Sums, *names: str) -> int:
        return sum(cents for (name, tax_class), cents in one.items() if name in names and tax_class != GOODS)

    shelf = ("on hand", "under way")
    form = {
        "35": goods(opening, *shelf),
        "36": goods(sums, "purchases") - goods(sums, *_OUT),
        "37": goods(sums, "labour"),
        "38": supplies(opening, *shelf)
        + supplies(sums, "purchases", "charges_in")
        - supplies(closing, *shelf),
        "39": goods(sums, "charges_in"),
    }
    form["40"] = sum(form.values())
    form["41"] = goods(closing, *shelf)
    form["42"] = form["40"] - form["41"]
    return form
