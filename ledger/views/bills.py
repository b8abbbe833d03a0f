"""Bills of materials as people and scripts see them: the list, one exploded, what loading a file would change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ledger.catalogue.boms import Bill, BillLine, Component
from ledger.catalogue.items import KINDS, Item, Kind
from ledger.catalogue.sizes import LADDERS, Ladder
from ledger.exact.money import show_money
from ledger.exact.numbers import show_fraction
from ledger.exact.quantity import show_quantity
from ledger.intake.boms_file import BillsPlan
from ledger.views import figures
from ledger.views.tables import Table, paragraphs

PREVIEWED = 20
"""How many bills a preview shows."""


@dataclass(frozen=True)
class ExplodedBill:
    """A bill for a job of so many pieces: what it consumes, what is on hand of it, what speaks against it.

    ``labour`` is in minor units of ``currency``; ``planned`` is how many pieces to start for that many
    good ones; ``items`` are those of the components.
    """

    bill: Bill
    blank: Item | None
    finished: Item
    pieces: int
    planned: int
    components: tuple[Component, ...]
    items: Mapping[str, Item]
    on_hand_milli: Mapping[str, int]
    labour: int
    currency: str
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def bills_text(bills: Iterable[Bill]) -> str:
    """Return the bills as a table, one line each."""
    table = Table(["bill", "name", "way", "blank", "makes", ">lines", ">misprints"])
    for bill in bills:
        table.add(
            bill.code,
            bill.name,
            bill.way,
            bill.blank or "the customer's",
            bill.finished,
            str(len(bill.lines)),
            f"{show_fraction(bill.misprint_percent, 3)}%",
        )
    return table.text()


def bills_as_data(bills: Iterable[Bill]) -> list[dict[str, Any]]:
    """Return the bills as scripts take them: amounts are decimals as text, in the unit beside them."""
    return [
        {
            "bill": bill.code,
            "name": bill.name,
            "way": bill.way,
            "blank": bill.blank,
            "finished": bill.finished,
            "misprints": show_fraction(bill.misprint_percent),
            "labour_per_piece": format(bill.labour_per_piece, "f"),
            "labour_per_run": format(bill.labour_per_run, "f"),
            "least_polyester": bill.least_polyester_percent,
            "light_only": bill.light_only,
            "lines": [_line_as_data(line) for line in bill.lines],
            "note": bill.note,
        }
        for bill in bills
    ]


def _line_as_data(line: BillLine) -> dict[str, Any]:
    return {
        "sku": line.sku,
        "per_piece": show_fraction(line.per_piece),
        "per_run": show_fraction(line.per_run),
        "unit": line.unit,
        "waste": show_fraction(line.waste_percent),
        "uses": line.uses,
        "colours": list(line.colours),
        "note": line.note,
    }


def bills_plan_text(source: str, plan: BillsPlan) -> str:
    """Return what loading the file would do: the counts, and the first bills."""
    if plan.is_empty:
        count = len(plan.unchanged)
        stands = "the bill of this file stands" if count == 1 else f"all {count} bills of this file stand"
        return f"{source}: {stands} in the book as written here. Nothing changes."
    which = f" ({', '.join(plan.changed_columns)})" if plan.changed else ""
    counts = (
        f"{source}: {len(plan.new)} new, {len(plan.changed)} changed{which}, {len(plan.unchanged)} unchanged."
    )
    changes = {change.bill.code: change.columns for change in plan.changed}
    table = Table(["bill", "name", "way", "blank", "makes", "what"])
    for bill in plan.loaded[:PREVIEWED]:
        what = f"changed: {', '.join(changes[bill.code])}" if bill.code in changes else "new"
        table.add(bill.code, bill.name, bill.way, bill.blank or "the customer's", bill.finished, what)
    rest = len(plan.loaded) - PREVIEWED
    return paragraphs([counts, table.text(), f"… and {rest} more." if rest > 0 else ""])


def bills_plan_as_data(source: str, plan: BillsPlan, *, posted: bool) -> dict[str, Any]:
    """Return what loading a bills file did, or would do, as scripts take it."""
    return {
        "file": source,
        "new": [bill.code for bill in plan.new],
        "changed": [{"bill": change.bill.code, "columns": list(change.columns)} for change in plan.changed],
        "unchanged": len(plan.unchanged),
        "posted": posted,
    }


def bill_text(exploded: ExplodedBill) -> str:
    """Return an exploded bill: what a job consumes, what is on hand, warnings, and the cautions once."""
    bill, blank = exploded.bill, exploded.blank
    pieces = "1 piece" if exploded.pieces == 1 else f"{figures.quantity(exploded.pieces * 1000)} pieces"
    made_of = f"of {blank.sku}" if blank else "on the customer's own garment"
    head = [
        f"{bill.code}: {bill.name} ({bill.way})",
        f"{pieces} of {exploded.finished.sku}, {made_of}, use:",
    ]
    table = Table(["SKU", "name", "kind", ">uses", "unit", ">on hand"])
    for component in exploded.components:
        item = exploded.items[component.sku]
        table.add(
            item.sku,
            item.name,
            item.kind,
            figures.quantity(component.quantity_milli),
            item.base_unit,
            figures.quantity(exploded.on_hand_milli.get(item.sku, 0)),
        )
    return paragraphs(["\n".join(head), table.text(), _remarks(exploded), _bullets(exploded)])


def _remarks(exploded: ExplodedBill) -> str:
    bill = exploded.bill
    said = []
    if exploded.labour:
        said.append(
            f"Paid labour: {figures.money(exploded.labour, exploded.currency)} {exploded.currency}, "
            "paid to others; your own work is not in it."
        )
    if exploded.planned > exploded.pieces > 1:
        rate = show_fraction(bill.misprint_percent, 3)
        said.append(
            f"At {rate}% misprints, plan {exploded.planned} pieces for {exploded.pieces} good ones; each of "
            "them uses the bill."
        )
    if bill.note:
        said.append(f"Note: {bill.note}")
    return "\n".join(said)


def _bullets(exploded: ExplodedBill) -> str:
    warnings = [f"Warning: {warning}" for warning in exploded.warnings]
    return "\n".join([*warnings, *([""] if warnings and exploded.cautions else []), *exploded.cautions])


def bill_as_data(exploded: ExplodedBill) -> dict[str, Any]:
    """Return an exploded bill as scripts take it."""
    return {
        "bill": exploded.bill.code,
        "name": exploded.bill.name,
        "way": exploded.bill.way,
        "blank": exploded.blank.sku if exploded.blank else None,
        "finished": exploded.finished.sku,
        "pieces": exploded.pieces,
        "planned_pieces": exploded.planned,
        "components": [
            {
                "sku": component.sku,
                "kind": exploded.items[component.sku].kind,
                "unit": exploded.items[component.sku].base_unit,
                "quantity": show_quantity(component.quantity_milli),
                "on_hand": show_quantity(exploded.on_hand_milli.get(component.sku, 0)),
            }
            for component in exploded.components
        ],
        "labour": show_money(exploded.labour, exploded.currency),
        "currency": exploded.currency,
        "warnings": list(exploded.warnings),
        "cautions": list(exploded.cautions),
    }


def bill_cautions(
    used: Iterable[Item],
    blank: Item | None,
    kinds: Mapping[str, Kind] = KINDS,
    own_ladders: Sequence[Ladder] = (),
) -> tuple[str, ...]:
    """Return the usual cautions that a bill's items call for, each once; they are no advice."""
    items = list(used)
    there = {item.kind for item in items}
    said = [
        "Heat: presses, dryers and fresh prints burn; let them cool before you touch them.",
        "Fumes: pressing and curing give them off; work with moving air, away from children and pets.",
    ]
    if "powder" in there:
        said.append("Powder dust: wear a mask, keep the air moving, and keep dust from flames and sparks.")
    if {"chemical", "emulsion"} & there:
        said.append(
            "Pretreatment and other chemicals: gloves and eye protection, no spray in the air you breathe; "
            "store and use them by their label."
        )
    if any(item.kind in kinds and kinds[item.kind].has_safety_sheet for item in items):
        said.append(
            "Keep the safety data sheet with each item. Do not use expired chemicals, inks or powders; "
            "dispose of them by the label and local rules."
        )
    childrens = {ladder.name for ladder in (*LADDERS, *own_ladders) if ladder.is_childrens}
    if blank is not None and blank.ladder in childrens:
        said.append("Children's sizes: product-safety rules apply; check them.")
    if "stones" in there:
        said.append("Stones: product-safety rules apply, on children's sizes above all; check them.")
    return tuple(said)
