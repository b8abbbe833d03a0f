"""The catalogue in the book: items, packs, suppliers' codes, parties, size ladders."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import asdict, fields
from fractions import Fraction

from ledger.catalogue.items import KINDS, Item, Kind
from ledger.catalogue.packs import Pack
from ledger.catalogue.parties import Party
from ledger.catalogue.sizes import Ladder, make_ladder
from ledger.errors import Refused

_ITEM_COLUMNS = tuple(field.name for field in fields(Item))


def find_items(connection: sqlite3.Connection, skus: Iterable[str] | None = None) -> dict[str, Item]:
    """Return items by SKU: those named that exist, or all where ``skus`` is None."""
    names = ", ".join(_ITEM_COLUMNS)
    query = f"SELECT {names} FROM item"  # noqa: S608  (column names of our own dataclass)
    if skus is None:
        rows = connection.execute(query + " ORDER BY sku").fetchall()
    else:
        rows = []
        for sku in sorted(set(skus)):
            rows.extend(connection.execute(query + " WHERE sku = ?", (sku,)).fetchall())
    return {row[0]: _item(row) for row in rows}


def _item(row: Sequence[object]) -> Item:
    values = dict(zip(_ITEM_COLUMNS, row, strict=True))
    values["use_estimated"] = bool(values["use_estimated"])
    return Item(**values)  # type: ignore[arg-type]


def find_packs(connection: sqlite3.Connection, skus: Iterable[str] | None = None) -> dict[str, list[Pack]]:
    """Return the packs of items, by SKU."""
    query = (
        "SELECT sku, name, numerator, denominator, nominal, nominal_numerator, nominal_denominator FROM pack"
    )
    wanted = None if skus is None else set(skus)
    packs: dict[str, list[Pack]] = {}
    for row in connection.execute(query + " ORDER BY sku, name"):
        if wanted is None or row[0] in wanted:
            nominal = Fraction(row[5], row[6]) if row[5] else None
            packs.setdefault(row[0], []).append(
                Pack(row[0], row[1], Fraction(row[2], row[3]), row[4], nominal)
            )
    return packs


def find_parties(connection: sqlite3.Connection) -> dict[str, Party]:
    """Return everyone the shop deals with, by name."""
    rows = connection.execute("SELECT name, role, country, currency, terms, note FROM party ORDER BY name")
    return {row[0]: Party(*row) for row in rows}


def find_supplier_codes(connection: sqlite3.Connection, party: str) -> dict[str, str]:
    """Return what a supplier calls things: its code to the shop's SKU."""
    rows = connection.execute("SELECT code, sku FROM supplier_code WHERE party = ?", (party,))
    return dict(rows.fetchall())


def find_kinds(connection: sqlite3.Connection) -> dict[str, Kind]:
    """Return the kinds of item: every shop's, and this shop's own."""
    own = connection.execute("SELECT name FROM kind").fetchall()
    return {**KINDS, **{name: Kind(name) for (name,) in own if name not in KINDS}}


def find_ladders(connection: sqlite3.Connection) -> tuple[Ladder, ...]:
    """Return the shop's own size ladders."""
    texts: dict[tuple[str, int], list[str]] = {}
    for ladder, size, aliases, childrens in connection.execute(
        "SELECT ladder, size, aliases, childrens FROM size_ladder ORDER BY ladder, position"
    ):
        texts.setdefault((ladder, childrens), []).append(f"{size} = {aliases}" if aliases else size)
    return tuple(
        make_ladder(name, "; ".join(sizes), is_childrens=bool(childrens))
        for (name, childrens), sizes in texts.items()
    )


def used_skus(connection: sqlite3.Connection, skus: Iterable[str]) -> set[str]:
    """Return those of the SKUs that stand in a posted document."""
    query = "SELECT 1 FROM document_line WHERE sku = ? LIMIT 1"
    return {sku for sku in skus if connection.execute(query, (sku,)).fetchone()}


def fixed_fields_changed(connection: sqlite3.Connection, items: Iterable[Item]) -> list[str]:
    """Return, in words, which items would change what is fixed once they were used."""
    wanted = {item.sku: item for item in items}
    known = find_items(connection, wanted)
    used = used_skus(connection, known)
    changes = []
    for sku in sorted(used):
        for name in ("kind", "tax_class", "base_unit"):
            before, after = getattr(known[sku], name), getattr(wanted[sku], name)
            if before != after:
                words = name.replace("_", " ")
                changes.append(f"{sku}: its {words} is {before} since it was first used, not {after}.")
    return changes


def save_items(connection: sqlite3.Connection, items: Sequence[Item], packs: Sequence[Pack]) -> None:
    """Add or amend items and packs, inside the caller's transaction.

    Raises Refused where an item that was used would change its kind, tax class or base unit.
    """
    from sqlite_utils import Database  # noqa: PLC0415  (slow, and only needed where the catalogue changes)

    changes = fixed_fields_changed(connection, items)
    if changes:
        raise Refused("\n".join([*changes, "Give the changed goods a new SKU."]))
    db = Database(connection, execute_plugins=False)
    kinds = sorted({item.kind for item in items})
    # An upsert would empty the note of a kind that has one.
    connection.executemany(
        "INSERT INTO kind (name) VALUES (?) ON CONFLICT (name) DO NOTHING", [(kind,) for kind in kinds]
    )
    rows = [{**asdict(item), "use_estimated": int(item.use_estimated)} for item in items]
    db.table("item").upsert_all(rows, pk="sku")
    db.table("pack").upsert_all([_pack_row(pack) for pack in packs], pk=("sku", "name"))


def _pack_row(pack: Pack) -> dict[str, object]:
    nominal = pack.nominal_factor
    return {
        "sku": pack.sku,
        "name": pack.name,
        "numerator": pack.factor.numerator,
        "denominator": pack.factor.denominator,
        "nominal": pack.nominal,
        "nominal_numerator": nominal.numerator if nominal else None,
        "nominal_denominator": nominal.denominator if nominal else None,
    }


def save_parties(connection: sqlite3.Connection, parties: Sequence[Party]) -> None:
    """Add or amend parties, inside the caller's transaction."""
    from sqlite_utils import Database  # noqa: PLC0415  (as above)

    db = Database(connection, execute_plugins=False)
    db.table("party").upsert_all([asdict(party) for party in parties], pk="name")


def save_kind(connection: sqlite3.Connection, name: str, note: str) -> None:
    """Add one of the shop's own kinds of item, or amend its note, inside the caller's transaction."""
    connection.execute(
        "INSERT INTO kind (name, note) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET note = excluded.note",
        (name, note),
    )


def save_ladder(connection: sqlite3.Connection, ladder: Ladder) -> None:
    """Add or replace one of the shop's own size ladders, inside the caller's transaction."""
    connection.execute("DELETE FROM size_ladder WHERE ladder = ?", (ladder.name,))
    aliases: dict[str, list[str]] = {}
    for alias, size in ladder.aliases.items():
        aliases.setdefault(size, []).append(alias)
    connection.executemany(
        "INSERT INTO size_ladder (ladder, size, position, aliases, childrens) VALUES (?, ?, ?, ?, ?)",
        [
            (ladder.name, size, position, ", ".join(aliases.get(size, [])), int(ladder.is_childrens))
            for position, size in enumerate(ladder.sizes)
        ],
    )


def ensure_party(connection: sqlite3.Connection, name: str, role: str = "supplier") -> str:
    """Return the party's name as the book spells it, adding it where it is new."""
    row = connection.execute("SELECT name FROM party WHERE name = ?", (name,)).fetchone()
    if row is not None:
        return str(row[0])
    connection.execute("INSERT INTO party (name, role) VALUES (?, ?)", (name, role))
    return name
