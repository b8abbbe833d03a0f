"""`blankbook items`: the catalogue, loaded from a sheet and listed."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Annotated

import typer

from ledger.book.catalogue_store import (
    find_items,
    find_kinds,
    find_ladders,
    find_packs,
    save_kind,
    save_ladder,
)
from ledger.book.connect import write_tx
from ledger.catalogue.items import Item, Kind, read_kind
from ledger.catalogue.sizes import LADDERS, Ladder, make_ladder, read_size
from ledger.cli import completing
from ledger.cli.common import DryRun, Json, Yes, reading, say, show, show_json, typed, writing
from ledger.cli.sheets import NewWorkbook, SheetJob, add_group, is_listing, load_sheet, write_workbook
from ledger.errors import Refused, UsageError, ValueProblem
from ledger.intake.items_file import plan_items, read_items_file, save_plan
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.views import catalogue
from ledger.views.tables import Table

LONGEST_KIND = 40


def register(app: typer.Typer) -> None:
    """Add the command and those under it."""
    add_group(app, "items", items, load, template, ladder, kind, ladders)


def items(
    context: typer.Context,
    kind: Annotated[
        str,
        typer.Option(
            "--kind", help="Only items of this kind: blank, vinyl, ink …", autocompletion=completing.kinds
        ),
    ] = "",
    style: Annotated[
        str, typer.Option("--style", help="Only the items of this style.", autocompletion=completing.styles)
    ] = "",
    json: Json = False,
) -> None:
    """List what the shop keeps in stock; load adds and amends items.

    \b
    Examples:
      blankbook items
      blankbook items --kind blank --json
      blankbook items load items.csv --dry-run
    """
    if not is_listing(context, ("--kind", kind), ("--style", style), ("--json", json)):
        return
    with reading(context) as connection:
        everything = find_items(connection)
        wanted = _wanted(everything, find_kinds(connection), kind, style)
        packs = find_packs(connection, [item.sku for item in wanted])
        listed = catalogue.in_order(wanted, find_ladders(connection))
    if json:
        show_json(catalogue.items_as_data(listed, packs))
    elif listed:
        show(catalogue.items_text(listed, packs))
    elif everything:
        say("No item of the book fits that. See all: blankbook items")
    else:
        say(
            "The book has no items yet. Write a sheet to fill in with: blankbook items template items.xlsx, "
            "then: blankbook items load items.xlsx"
        )


def _wanted(everything: dict[str, Item], kinds: dict[str, Kind], kind: str, style: str) -> list[Item]:
    """Return the items of the kind and style asked for.

    Raises UsageError where the book has no such style.
    """
    wanted = list(everything.values())
    if kind:
        name = read_kind(kind, kinds).name
        wanted = [item for item in wanted if item.kind == name]
    if style:
        styles = {item.style for item in everything.values() if item.style}
        if fold(style) not in {fold(each) for each in styles}:
            hint = did_you_mean(style, sorted(styles)) if styles else "It has no styles."
            raise UsageError(f"the book has no style {quoted(style)}. {hint}")
        wanted = [item for item in wanted if fold(item.style) == fold(style)]
    return wanted


def load(
    context: typer.Context,
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="An .xlsx or .csv: one row is one item, or a style.")
    ],
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Load an items sheet: add and amend.

    Adds the items of a sheet and amends those the book has; shows what changes, then asks.

    At least the columns sku, name, kind and unit; 'items template' writes a sheet with them all. A row with
    sizes or colours stands for a whole style. What the sheet has no column for stays as it is; an empty
    cell empties it. Loading the same sheet again changes nothing.

    \b
    Examples:
      blankbook items load items.csv --dry-run
      blankbook items load items.csv --yes
    """
    with reading(context) as connection:
        kinds, ladders = find_kinds(connection), find_ladders(connection)
        said = read_items_file(Path(file), kinds=kinds, own_ladders=ladders)
    job = SheetJob(
        said=said,
        plan=lambda connection: plan_items(connection, said),
        text=lambda plan: catalogue.items_plan_text(said.name, plan),
        as_data=lambda plan, is_posted: catalogue.items_plan_as_data(said.name, plan, posted=is_posted),
        save=save_plan,
        question="Load these items?",
    )
    saved = load_sheet(context, job, yes=yes, dry_run=dry_run, json=json)
    if saved is not None:
        say(f"Loaded {_items(len(saved.loaded))}. Next: blankbook receive --help, or look: blankbook items")
        for caution in catalogue.item_cautions(saved.loaded, kinds, ladders):
            say(caution)


def _items(count: int) -> str:
    return "1 item" if count == 1 else f"{count} items"


def template(file: NewWorkbook) -> None:
    """Write a blank items sheet to fill in.

    With lists to choose from and notes.

    \b
    Example:
      blankbook items template my-items.xlsx
    """
    write_workbook("items", file)


def ladder(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help="What the ladder is called.")],
    sizes: Annotated[
        str, typer.Argument(metavar="SIZES", help="Smallest first, with ; between; other spellings behind =.")
    ],
    childrens: Annotated[bool, typer.Option("--childrens", help="These are children's sizes.")] = False,
) -> None:
    """Keep a size ladder of the shop's own.

    It says which sizes there are, and in which order.

    A ladder of the same name is replaced.

    \b
    Example:
      blankbook items ladder waist "28; 30 = W30; 32; 34"
    """
    made = make_ladder(name, sizes, is_childrens=childrens)
    with writing(context) as connection, write_tx(connection):
        known = {fold(each.name): each for each in find_ladders(connection)}
        before = known.get(fold(made.name))
        if before is not None and _same(before, made):
            say(f"The book has the ladder {before.name} just like that already. Nothing was changed.")
            return
        if before is not None:
            # The book's spelling stays: items name it.
            made = Ladder(before.name, made.sizes, made.aliases, made.is_childrens)
        _check_items_fit(connection, made)
        save_ladder(connection, made)
    word = "Replaced" if before is not None else "Added"
    say(f"{word} the ladder {made.name}: {', '.join(made.sizes)}.")
    if childrens:
        say("Children's sizes: product-safety rules apply; check them.")


def kind(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help="What the shop calls it, like patches.")],
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="Anything worth keeping.")] = "",
) -> None:
    """Add a kind of item of the shop's own.

    \b
    Example:
      blankbook items kind patches --note "woven, sewn on"
    """
    word = fold(name)
    if not 1 <= len(word) <= LONGEST_KIND:
        raise ValueProblem(f"the name of a kind has 1 to {LONGEST_KIND} characters.")
    with writing(context) as connection, write_tx(connection):
        known = word in find_kinds(connection)
        save_kind(connection, word, note)
    say(
        f"{'Kept' if known else 'Added'} the kind {word}. Its items are loaded with: {typed(context, 'items load FILE')}"
    )


def ladders(context: typer.Context, json: Json = False) -> None:
    """List the size ladders, the shop's own among them.

    \b
    Example:
      blankbook items ladders
    """
    with reading(context) as connection:
        own = find_ladders(connection)
    if json:
        show_json(
            [{"ladder": one.name, "sizes": list(one.sizes), "own": one in own} for one in (*LADDERS, *own)]
        )
        return
    table = Table(["ladder", "sizes, smallest first", "remark"])
    for one in (*LADDERS, *own):
        remarks = [
            word for word, told in (("the shop's own", one in own), ("children's", one.is_childrens)) if told
        ]
        table.add(one.name, " ".join(one.sizes), ", ".join(remarks))
    show(table.text())


def _same(before: Ladder, after: Ladder) -> bool:
    # Ladder's own comparison leaves out nothing, but the name may be typed in other capitals.
    return (before.sizes, dict(before.aliases), before.is_childrens) == (
        after.sizes,
        dict(after.aliases),
        after.is_childrens,
    )


def _check_items_fit(connection: sqlite3.Connection, made: Ladder) -> None:
    """Refuse a ladder that has lost a size which items of the book stand on."""
    lost = []
    for item in find_items(connection).values():
        if item.ladder == made.name and item.size:
            try:
                read_size(item.size, made)
            except ValueProblem:
                lost.append(f"{item.sku} ({item.size})")
    if lost:
        raise Refused(
            f"the ladder {made.name} would have no size for {', '.join(lost)}. Keep those sizes on it. "
            "Nothing was changed."
        )
