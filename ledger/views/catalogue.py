"""The catalogue as people and scripts see it: items, suppliers, and what loading a file would change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ledger.catalogue.fibres import chief_fibre
from ledger.catalogue.items import KINDS, Item, Kind
from ledger.catalogue.packs import Pack
from ledger.catalogue.parties import Party
from ledger.catalogue.sizes import LADDERS, Ladder, SortKey, find_ladder, size_sort_key
from ledger.errors import ValueProblem
from ledger.exact.numbers import show_fraction, show_scaled
from ledger.intake.items_file import ItemsPlan
from ledger.intake.suppliers_file import SuppliersPlan
from ledger.views import figures
from ledger.views.tables import Table

PREVIEWED = 20
"""How many items a preview shows."""
NAMED = 5
"""How many items a caution names."""
GARMENT_KINDS = ("blank", "finished")


def in_order(items: Iterable[Item], own_ladders: Sequence[Ladder] = ()) -> list[Item]:
    """Return the items by style or SKU, then colour, then size from small to large."""
    ladders = (*LADDERS, *own_ladders)

    def key(item: Item) -> tuple[str, str, SortKey, str]:
        try:
            ladder = find_ladder(item.ladder, own_ladders) if item.ladder else None
        except ValueProblem:
            ladder = None
        size = size_sort_key(item.size, ladder, ladders)
        return ((item.style or item.sku).casefold(), item.colour.casefold(), size, item.sku)

    return sorted(items, key=key)


def items_text(items: Sequence[Item], packs: Mapping[str, Sequence[Pack]]) -> str:
    """Return the items as a table, one line each."""
    table = Table(["SKU", "name", "kind", "unit", "tax class", "packs"])
    for item in items:
        held = "; ".join(_pack_text(pack) for pack in packs.get(item.sku, ()))
        table.add(item.sku, item.name, item.kind, item.base_unit, item.tax_class, held)
    return table.text()


def _pack_text(pack: Pack) -> str:
    sold = f" (sold as {pack.nominal})" if pack.nominal else ""
    return f"{pack.name} = {show_fraction(pack.factor, 3)}{sold}"


def items_as_data(items: Sequence[Item], packs: Mapping[str, Sequence[Pack]]) -> list[dict[str, Any]]:
    """Return the items as scripts take them; measures are decimals as text, null where not known."""
    return [
        {
            "sku": item.sku,
            "name": item.name,
            "kind": item.kind,
            "unit": item.base_unit,
            "tax_class": item.tax_class,
            "style": item.style,
            "colour": item.colour,
            "size": item.size,
            "ladder": item.ladder,
            "fibre": item.fibre_content,
            "chief_fibre": _chief_fibre(item.fibre_content),
            "weight_g": _thousandths(item.weight_mg),
            "volume_mL": _thousandths(item.volume_mm3),
            "density_g_per_mL": _thousandths(item.density_mg_per_ml),
            "customs_class": item.customs_class,
            "origin": item.origin,
            "shelf_life_days": item.shelf_life_days,
            "use_estimated": item.use_estimated,
            "safety_sheet": item.safety_sheet,
            "packs": [
                {"name": pack.name, "content": show_fraction(pack.factor), "sold_as": pack.nominal}
                for pack in packs.get(item.sku, ())
            ],
            "note": item.note,
        }
        for item in items
    ]


def _thousandths(value: int | None) -> str | None:
    return None if value is None else show_scaled(value, 3).rstrip("0").rstrip(".")


def _chief_fibre(content: str) -> dict[str, Any] | None:
    """Return which fibre weighs most, None where the content does not say. It picks no customs class."""
    if not content:
        return None
    try:
        chief = chief_fibre(content)
    except ValueProblem:
        return None
    return {"group": chief.group, "share": show_fraction(chief.share, 4), "tie": chief.is_tie}


def items_plan_text(source: str, plan: ItemsPlan) -> str:
    """Return what loading the file would do: the counts, and the first items."""
    lines = [_counts(source, "item", plan)]
    changes = {change.item.sku: change.columns for change in plan.changed}
    table = Table(["SKU", "name", "kind", "unit", "tax class", "what"])
    for item in plan.loaded[:PREVIEWED]:
        what = f"changed: {', '.join(changes[item.sku])}" if item.sku in changes else "new"
        table.add(item.sku, item.name, item.kind, item.base_unit, item.tax_class, what)
    lines += _with_rest(table, len(plan.loaded))
    if plan.kept_packs:
        lines += ["", f"Packs that the file does not name stay: {_some(plan.kept_packs)}."]
    return "\n".join(lines)


def suppliers_plan_text(source: str, plan: SuppliersPlan) -> str:
    """Return what loading the file would do: the counts, and the first names."""
    changes = {change.party.name: change.columns for change in plan.changed}
    table = Table(["name", "role", "country", "currency", "what"])
    for party in plan.loaded[:PREVIEWED]:
        what = f"changed: {', '.join(changes[party.name])}" if party.name in changes else "new"
        table.add(party.name, party.role, party.country, party.currency, what)
    return "\n".join([_counts(source, "name", plan), *_with_rest(table, len(plan.loaded))])


def _counts(source: str, noun: str, plan: ItemsPlan | SuppliersPlan) -> str:
    if plan.is_empty:
        count = len(plan.unchanged)
        stands = (
            f"the {noun} of this file stands" if count == 1 else f"all {count} {noun}s of this file stand"
        )
        return f"{source}: {stands} in the book as written here. Nothing changes."
    which = f" ({', '.join(plan.changed_columns)})" if plan.changed else ""
    return (
        f"{source}: {len(plan.new)} new, {len(plan.changed)} changed{which}, {len(plan.unchanged)} unchanged."
    )


def _with_rest(table: Table, count: int) -> list[str]:
    if not table.rows:
        return []
    rest = [f"… and {figures.quantity((count - PREVIEWED) * 1000)} more."] if count > PREVIEWED else []
    return ["", table.text(), *([""] if rest else []), *rest]


def _some(names: Sequence[str]) -> str:
    shown = ", ".join(names[:NAMED])
    return shown if len(names) <= NAMED else f"{shown} and {len(names) - NAMED} more"


def item_cautions(
    items: Iterable[Item], kinds: Mapping[str, Kind] = KINDS, own_ladders: Sequence[Ladder] = ()
) -> list[str]:
    """Return the cautions that items just loaded call for, each once, with the items meant."""
    loaded = list(items)
    no_sheet = [
        item.sku
        for item in loaded
        if item.kind in kinds and kinds[item.kind].has_safety_sheet and not item.safety_sheet
    ]
    no_fibre = [item.sku for item in loaded if item.kind in GARMENT_KINDS and not item.fibre_content]
    ladders = {ladder.name for ladder in (*LADDERS, *own_ladders) if ladder.is_childrens}
    childrens = [item.sku for item in loaded if item.ladder in ladders]
    said = []
    if no_sheet:
        said.append(
            f"No safety data sheet is named for {_some(no_sheet)}: ask the supplier for it and keep the "
            "safety data sheet with the item."
        )
    if no_fibre:
        said.append(
            f"No fibre content is given for {_some(no_fibre)}: fibre content, origin and responsible firm "
            "must stay with the garment (in the US, 16 CFR 303)."
        )
    if childrens:
        said.append(f"Children's sizes ({_some(childrens)}): product-safety rules apply; check them.")
    return said


def items_plan_as_data(source: str, plan: ItemsPlan, *, posted: bool) -> dict[str, Any]:
    """Return what loading an items file did, or would do, as scripts take it."""
    return {
        "file": source,
        "new": [item.sku for item in plan.new],
        "changed": [{"sku": change.item.sku, "columns": list(change.columns)} for change in plan.changed],
        "unchanged": len(plan.unchanged),
        "posted": posted,
    }


def suppliers_plan_as_data(source: str, plan: SuppliersPlan, *, posted: bool) -> dict[str, Any]:
    """Return what loading a suppliers file did, or would do, as scripts take it."""
    return {
        "file": source,
        "new": [party.name for party in plan.new],
        "changed": [{"name": change.party.name, "columns": list(change.columns)} for change in plan.changed],
        "unchanged": len(plan.unchanged),
        "posted": posted,
    }


def suppliers_text(parties: Sequence[Party]) -> str:
    """Return the parties as a table, one line each."""
    table = Table(["name", "role", "country", "currency", "terms", "note"])
    for party in parties:
        table.add(party.name, party.role, party.country, party.currency, party.terms, party.note)
    return table.text()


def suppliers_as_data(parties: Sequence[Party]) -> list[dict[str, Any]]:
    """Return the parties as scripts take them."""
    return [
        {
            "name": party.name,
            "role": party.role,
            "country": party.country,
            "currency": party.currency,
            "terms": party.terms,
            "note": party.note,
        }
        for party in parties
    ]
