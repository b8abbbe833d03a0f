"""What a piece costs and what a job did cost, as people and scripts see it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ledger.book.costs import BillCost, JobCost, JobRow
from ledger.catalogue.boms import Bill
from ledger.catalogue.items import Item
from ledger.costing.piece_cost import (
    PIECE_PLACES,
    RUN_LABOUR,
    RUN_MATERIAL,
    AtPrice,
    CostColumn,
    Costed,
    Fee,
    Left,
)
from ledger.exact.money import show_money
from ledger.exact.numbers import show_fraction, show_scaled
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import round_fraction
from ledger.views import figures
from ledger.views.tables import Table, paragraphs

UNKNOWN = "not known"
"""Stands where an item has no cost yet."""


@dataclass(frozen=True)
class ShownCost:
    """The cost of one bill, with what is said beside it; ``at`` is the price asked for, after ``fees``."""

    costed: BillCost
    finished_sku: str
    currency: str
    fees: tuple[Fee, ...] = ()
    at: AtPrice | None = None
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def bill_cost_text(shown: ShownCost) -> str:
    """Return what a piece costs: by component, what to know about it, what is left, warnings and cautions."""
    bill, blank, cost = shown.costed.bill, shown.costed.blank, shown.costed.cost
    made_of = f"of {blank.sku}" if blank else "on the customer's own garment"
    run = "alone" if cost.pieces == 1 else f"in a run of {figures.quantity(cost.pieces * 1000)}"
    head = (
        f"{bill.code}: {bill.name} ({bill.way})\n"
        f"One piece of {shown.finished_sku}, {made_of}, made {run}, in {shown.currency}:"
    )
    warnings = "\n".join(f"Warning: {warning}" for warning in shown.warnings)
    return paragraphs(
        [head, _cost_table(shown), _notes(shown), _price_text(shown), warnings, "\n".join(shown.cautions)]
    )


def _cost_table(shown: ShownCost) -> str:
    cost, currency = shown.costed.cost, shown.currency
    is_run = cost.pieces > 1

    def cells(fifo: Costed | None, replacement: Costed | None) -> list[str]:
        pieces = [piece(fifo), piece(replacement)]
        return [*pieces, _run(fifo, currency), _run(replacement, currency)] if is_run else pieces

    runs = [">run, FIFO", ">run, replacement"] if is_run else []
    uses = ">run uses" if is_run else ">uses"
    table = Table(["part", "SKU", uses, "unit", ">FIFO", ">replacement", *runs])
    for row in cost.rows:
        item = shown.costed.items.get(row.sku)
        table.add(
            row.part,
            row.sku,
            figures.quantity(row.quantity_milli) if item else "",
            item.base_unit if item else "",
            *cells(row.fifo, row.replacement),
        )
    whole = "cost, without what is not known" if cost.unknown else "cost"
    table.total(whole, "", "", "", *cells(cost.fifo.total, cost.replacement.total))
    if shown.costed.bill.misprint_percent:
        rate = show_fraction(shown.costed.bill.misprint_percent, 3)
        table.total(
            f"misprints {rate}%, planning only",
            "",
            "",
            "",
            *cells(cost.fifo.misprints, cost.replacement.misprints),
        )
        table.total("planned", "", "", "", *cells(cost.fifo.planned, cost.replacement.planned))
    return table.text()


def piece(costed: Costed | None) -> str:
    """Return a cost per piece with four decimals."""
    return UNKNOWN if costed is None else _piece(costed.piece)


def _piece(amount: int) -> str:
    return show_scaled(amount, PIECE_PLACES)


def _run(costed: Costed | None, currency: str) -> str:
    return UNKNOWN if costed is None else figures.money(costed.run, currency)


def _notes(shown: ShownCost) -> str:
    cost, currency = shown.costed.cost, shown.currency
    said = [
        "FIFO: out of the lots on hand, the oldest first. Replacement: at each item's latest landed cost.",
        "Your own work is not in it.",
    ]
    lacking = _amounts(cost.missing_milli, shown.costed.items, cost.unknown)
    if lacking:
        said.append(f"Not on hand, at the latest landed cost instead: {lacking}.")
    if cost.unknown:
        said.append(f"No cost is known of {', '.join(cost.unknown)}: none ever came in or was made.")
    once = [row.fifo for row in cost.rows if row.part in {RUN_MATERIAL, RUN_LABOUR} and row.fifo]
    if once:
        amount = f"{figures.money(sum(each.run for each in once), currency)} {currency}"
        said.append(
            f"One piece bears the whole run's {amount} here: --pieces 24 shares it out."
            if cost.pieces == 1
            else f"The run's {amount} is shared out over its {figures.quantity(cost.pieces * 1000)} pieces."
        )
    if cost.job_cost is not None and cost.job_cost != cost.fifo.total.run:
        size = "one piece" if cost.pieces == 1 else f"{figures.quantity(cost.pieces * 1000)} pieces"
        said.append(
            f"A job of {size} is charged {figures.money(cost.job_cost, currency)}: "
            f"what leaves each lot is charged in steps of {figures.money(1, currency)}."
        )
    return "\n".join(said)


def _amounts(missing_milli: Mapping[str, int], items: Mapping[str, Item], unknown: Sequence[str]) -> str:
    return ", ".join(
        f"{figures.quantity(milli)} {items[sku].base_unit} of {sku}"
        for sku, milli in missing_milli.items()
        if sku not in unknown
    )


def _price_text(shown: ShownCost) -> str:
    at, currency, cost = shown.at, shown.currency, shown.costed.cost
    if at is None:
        return ""
    table = Table([f"at a price of {figures.money(at.price, currency)}", ">FIFO", ">", ">replacement", "> "])
    for fee, amount in zip(shown.fees, at.fees, strict=True):
        taken = figures.money(-amount, currency)
        table.add(f"fee {fee.words}", taken, "", taken, "")
    table.add("cost", _piece(-cost.fifo.total.piece), "", _piece(-cost.replacement.total.piece), "")
    left = (at.fifo, at.replacement)
    table.total("left", *(cell for each in left for cell in (_piece(each.amount), _percent(each.percent))))
    if shown.costed.bill.misprint_percent:
        planned = (at.fifo_planned, at.replacement_planned)
        table.total(
            "left, misprints planned for",
            *(cell for each in planned for cell in (_piece(each.amount), _percent(each.percent))),
        )
    return table.text()


def _percent(value: Fraction | None) -> str:
    return "" if value is None else f"{show_scaled(round_fraction(value * 10), 1)}%"


def all_costs_text(shown: Sequence[ShownCost], pieces: int) -> str:
    """Return what one piece of each design costs, a line each; then what is missing, and the cautions once."""
    if not shown:
        return "The book has no bills of materials yet."
    run = "" if pieces == 1 else f", in runs of {figures.quantity(pieces * 1000)}"
    has_price = shown[0].at is not None
    left = [">left", ">of the price"] if has_price else []
    table = Table(["bill", "name", "way", "blank", ">FIFO", ">replacement", ">planned", *left])
    for each in shown:
        cost, at = each.costed.cost, each.at
        mark = " and more" if cost.unknown else ""
        table.add(
            each.costed.bill.code,
            each.costed.bill.name,
            each.costed.bill.way,
            each.costed.blank.sku if each.costed.blank else "the customer's",
            piece(cost.fifo.total) + mark,
            piece(cost.replacement.total) + mark,
            piece(cost.replacement.planned) + mark,
            *(
                (_piece(at.replacement_planned.amount), _percent(at.replacement_planned.percent))
                if at
                else ()
            ),
        )
    notes = [
        "Planned: at replacement, with the allowance for misprints"
        + (
            f"; left: of {figures.money(shown[0].at.price, shown[0].currency)}, planned."
            if shown[0].at
            else "."
        ),
        *_lacking(shown),
    ]
    cautions = dict.fromkeys(line for each in shown for line in each.cautions)
    warnings = [f"Warning: {each.costed.bill.code}: {line}" for each in shown for line in each.warnings]
    head = f"One piece of each design{run}, in {shown[0].currency}:"
    return paragraphs([head, table.text(), "\n".join(notes), "\n".join(warnings), "\n".join(cautions)])


def _lacking(shown: Sequence[ShownCost]) -> Iterator[str]:
    for each in shown:
        cost, code = each.costed.cost, each.costed.bill.code
        lacking = _amounts(cost.missing_milli, each.costed.items, cost.unknown)
        if lacking:
            yield f"{code}: not on hand, at the latest landed cost instead: {lacking}."
        if cost.unknown:
            yield f"{code}: no cost is known of {', '.join(cost.unknown)}."


def bill_cost_as_data(shown: ShownCost) -> dict[str, Any]:
    """Return the cost of a bill as scripts take it: money as decimals in text, per piece with four."""
    bill, blank, cost, currency = shown.costed.bill, shown.costed.blank, shown.costed.cost, shown.currency
    items = shown.costed.items
    return {
        "bill": bill.code,
        "name": bill.name,
        "way": bill.way,
        "blank": blank.sku if blank else None,
        "finished": shown.finished_sku,
        "pieces": cost.pieces,
        "currency": currency,
        "components": [
            {
                "part": row.part,
                "sku": row.sku or None,
                "unit": items[row.sku].base_unit if row.sku else None,
                "quantity": show_quantity(row.quantity_milli) if row.sku else None,
                "fifo": _costed_as_data(row.fifo, currency),
                "replacement": _costed_as_data(row.replacement, currency),
            }
            for row in cost.rows
        ],
        "fifo": _column_as_data(cost.fifo, currency),
        "replacement": _column_as_data(cost.replacement, currency),
        "misprint_percent": show_fraction(bill.misprint_percent),
        "job_cost": None if cost.job_cost is None else show_money(cost.job_cost, currency),
        "not_on_hand": [
            {"sku": sku, "unit": items[sku].base_unit, "quantity": show_quantity(milli)}
            for sku, milli in cost.missing_milli.items()
        ],
        "cost_unknown": list(cost.unknown),
        "at_price": _price_as_data(shown),
        "warnings": list(shown.warnings),
        "cautions": list(shown.cautions),
    }


def _costed_as_data(costed: Costed | None, currency: str) -> dict[str, str] | None:
    if costed is None:
        return None
    return {"per_piece": _piece(costed.piece), "run": show_money(costed.run, currency)}


def _column_as_data(column: CostColumn, currency: str) -> dict[str, Any]:
    return {
        "total": _costed_as_data(column.total, currency),
        "misprints_planning_only": _costed_as_data(column.misprints, currency),
        "planned": _costed_as_data(column.planned, currency),
    }


def _price_as_data(shown: ShownCost) -> dict[str, Any] | None:
    at = shown.at
    if at is None:
        return None

    def left(each: Left) -> dict[str, str | None]:
        percent = None if each.percent is None else show_scaled(round_fraction(each.percent * 100), 2)
        return {"left": _piece(each.amount), "percent": percent}

    return {
        "price": show_money(at.price, shown.currency),
        "fees": [
            {"fee": fee.words, "amount": show_money(amount, shown.currency)}
            for fee, amount in zip(shown.fees, at.fees, strict=True)
        ],
        "fifo": left(at.fifo),
        "replacement": left(at.replacement),
        "fifo_planned": left(at.fifo_planned),
        "replacement_planned": left(at.replacement_planned),
    }


def job_cost_text(job: JobCost, currency: str) -> str:
    """Return what a job used and cost, beside the bill as it is now."""
    head = [
        f"make {job.document.number} of {job.document.effect_date}: {_spoiled(job)} of {job.sku}"
        + (f", for {job.document.party or job.document.reference}" if _whom(job) else ""),
        _bill_words(job.bill),
    ]
    against = job.bill is not None
    more = [">bill now", ">more used", f">bill {currency}", f">more {currency}"] if against else []
    table = Table(["SKU", "unit", ">used", f">cost {currency}", *more])
    for row in job.rows:
        table.add(*_job_cells(row, currency, against=against))
    known = [row.bill_cost for row in job.rows if row.bill_cost is not None]
    extra = ["", "", figures.money(sum(known), currency), figures.money(job.cost - sum(known), currency)]
    table.total("total", "", "", figures.money(job.cost, currency), *(extra if against else []))
    return paragraphs(["\n".join(head), table.text(), _per_piece(job, currency)])


def _whom(job: JobCost) -> str:
    return job.document.party or job.document.reference


def _spoiled(job: JobCost) -> str:
    words = [f"{figures.quantity(job.good_milli)} good"]
    if job.normal_milli:
        words.append(f"{figures.quantity(job.normal_milli)} normally spoiled")
    if job.abnormal_milli:
        words.append(f"{figures.quantity(job.abnormal_milli)} abnormally spoiled")
    return ", ".join(words)


def _bill_words(bill: Bill | None) -> str:
    if bill is None:
        return "No bill of materials makes it now: there is nothing to compare with."
    return (
        f"Against the bill {bill.code} as it is now, every piece counted, at what this job paid for each item "
        "(else the latest landed cost):"
    )


def _job_cells(row: JobRow, currency: str, *, against: bool) -> list[str]:
    is_item = bool(row.sku)

    def amount(milli: int) -> str:
        return figures.quantity(milli) if is_item else ""

    cells = [
        row.sku or "labour",
        row.base_unit,
        amount(row.quantity_milli),
        figures.money(row.cost, currency),
    ]
    if not against:
        return cells
    by_bill = UNKNOWN if row.bill_cost is None else figures.money(row.bill_cost, currency)
    more = UNKNOWN if row.more_cost is None else figures.money(row.more_cost, currency)
    return [*cells, amount(row.bill_milli), amount(row.more_milli), by_bill, more]


def _per_piece(job: JobCost, currency: str) -> str:
    total = f"{figures.money(job.cost, currency)} {currency}"
    if not job.bearing_milli:
        return f"All pieces were normally spoiled: the whole {total} went to spoilage."
    each = figures.per_unit(job.cost, job.bearing_milli, currency)
    borne_by = "good and abnormally spoiled" if job.abnormal_milli else "good"
    borne = "; they bear those spoiled as usual" if job.normal_milli else ""
    return (
        f"One piece cost {each} {currency}: {total} over {figures.quantity(job.bearing_milli)} "
        f"{borne_by} pieces{borne}."
    )


def job_cost_as_data(job: JobCost, currency: str) -> dict[str, Any]:
    """Return what a job used and cost, as scripts take it."""

    def money(minor: int | None) -> str | None:
        return None if minor is None else show_money(minor, currency)

    against = job.bill is not None
    return {
        "document": job.document.number,
        "date": job.document.effect_date,
        "sku": job.sku,
        "bill": job.bill.code if job.bill else None,
        "blank": job.blank.sku if job.blank else None,
        "pieces": show_quantity(job.pieces_milli),
        "good": show_quantity(job.good_milli),
        "normal": show_quantity(job.normal_milli),
        "abnormal": show_quantity(job.abnormal_milli),
        "components": [
            {
                "sku": row.sku or None,
                "part": "material" if row.sku else "labour",
                "unit": row.base_unit or None,
                "quantity": show_quantity(row.quantity_milli) if row.sku else None,
                "cost": money(row.cost),
                "bill_quantity": show_quantity(row.bill_milli) if against and row.sku else None,
                "bill_cost": money(row.bill_cost) if against else None,
                "more_quantity": show_quantity(row.more_milli) if against and row.sku else None,
                "more_cost": money(row.more_cost) if against else None,
            }
            for row in job.rows
        ],
        "cost": money(job.cost),
        "cost_per_piece": figures.unit_cost(job.cost, job.bearing_milli, currency),
        "currency": currency,
    }
