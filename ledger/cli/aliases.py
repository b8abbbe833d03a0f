"""`blankbook aliases`: what each supplier calls our items, taught once."""

from __future__ import annotations

import sqlite3
from typing import Annotated

import typer

from ledger.book.alias_store import (
    CODE,
    PARTS,
    Alias,
    alias_changes,
    change_aliases,
    find_aliases,
    undo_aliases,
)
from ledger.book.bill_store import find_made
from ledger.book.catalogue_store import ensure_party, find_items, find_ladders, find_parties, save_items
from ledger.book.connect import write_tx
from ledger.cli import completing
from ledger.cli.common import Json, check_number, now, reading, say, show, show_json, writing
from ledger.errors import Refused, UsageError
from ledger.intake.aliases import Matcher
from ledger.intake.nearest import did_you_mean, fold
from ledger.views.tables import Table

LONGEST_WORD = 200

Party = Annotated[str, typer.Argument(metavar="PARTY", help="The supplier's or marketplace's name.")]


def register(app: typer.Typer) -> None:
    """Add the command and those under it."""
    group = typer.Typer(no_args_is_help=False, rich_markup_mode=None)
    group.callback(invoke_without_command=True)(aliases)
    group.command()(add)
    group.command(name="add-word")(add_word)
    group.command()(remove)
    group.command()(undo)
    app.add_typer(group, name="aliases")


def aliases(
    context: typer.Context,
    party: Annotated[
        str,
        typer.Option(
            "--party", help="Only this supplier's or marketplace's.", autocompletion=completing.parties
        ),
    ] = "",
    changes: Annotated[
        bool, typer.Option("--changes", help="What was taught and taken back, latest first.")
    ] = False,
    json: Json = False,
) -> None:
    """List what suppliers and marketplaces call our items.

    A code stands for one SKU; a word for a style, colour or size, in any code it stands in.
    Codes are also learned when goods are received or sales are posted.

    \b
    Examples:
      blankbook aliases
      blankbook aliases --party "Tarnwick Blank Goods" --json
      blankbook aliases add "Tarnwick Blank Goods" "K7 Hthr Navy 2X" WREN-HNV-2XL
    """
    if context.invoked_subcommand is not None:
        if json or party or changes:
            raise UsageError(
                f"--party, --changes and --json before '{context.invoked_subcommand}' belong to the plain list: "
                f"write them behind, as 'blankbook aliases {context.invoked_subcommand} --help' says."
            )
        return
    with reading(context) as connection:
        if changes:
            _show_changes(connection, json=json)
            return
        found = find_aliases(connection, party or None)
        parties = find_parties(connection)
    if party and not found and party.strip().casefold() not in {name.casefold() for name in parties}:
        raise Refused(
            f"the book knows nobody called {party}. {did_you_mean(party, parties)} See: blankbook suppliers"
        )
    if json:
        show_json([{"party": a.party, "part": a.part, "word": a.word, "meaning": a.meaning} for a in found])
    elif not found:
        whose = f"{party} has" if party else "The book has"
        say(f"{whose} no aliases yet. Teach one: blankbook aliases add PARTY CODE SKU")
    else:
        table = Table(["party", "part", "calls it", "which is"])
        for each in found:
            table.add(each.party, each.part, each.word, each.meaning)
        show(table.text())


def _show_changes(connection: sqlite3.Connection, *, json: bool) -> None:
    found = alias_changes(connection)
    if json:
        names = ("step", "party", "part", "word", "before", "after")
        show_json([{name: getattr(each, name) for name in names} for each in found])
        return
    if not found:
        say("Nothing was taught or taken back yet. Teach an alias: blankbook aliases add PARTY CODE SKU")
        return
    table = Table([">change", "party", "part", "calls it", "before", "after"])
    for each in found:
        table.add(str(each.step), each.party, each.part, each.word, each.before, each.after)
    show(table.text())


def add(
    context: typer.Context,
    party: Party,
    code: Annotated[
        str, typer.Argument(metavar="CODE", help="What the supplier calls it, as the file says.")
    ],
    sku: Annotated[str, typer.Argument(metavar="SKU", help="The item of the book.")],
    json: Json = False,
) -> None:
    """Teach the book what a supplier's code is.

    Where the code names size and colour as words, these are learned as well: the next size of the
    same shirt needs no teaching.

    \b
    Example:
      blankbook aliases add "Tarnwick Blank Goods" "K7 Hthr Navy 2X" WREN-HNV-2XL
    """
    with writing(context) as connection, write_tx(connection):
        items = find_items(connection)
        if sku not in items:
            # What no job has made yet comes from its bill, and can be called something all the same.
            made = find_made(connection)
            if sku not in made:
                near = did_you_mean(sku, [*items, *made])
                raise Refused(f"the book has no item {sku}. {near} See: blankbook items".replace("  ", " "))
            save_items(connection, [made[sku].item], [])
            items = find_items(connection)
        is_new = _is_new(connection, party)
        name = ensure_party(connection, _word(party))
        known = find_aliases(connection, name)
        matcher = Matcher(items, known, find_ladders(connection))
        taught = [_spelled(alias, known) for alias in matcher.learned(name, _word(code), sku)]
        step = change_aliases(connection, taught, now())
        _say_new(name, is_new=is_new)
        _finish(taught, step, json=json)


def add_word(
    context: typer.Context,
    party: Party,
    part: Annotated[str, typer.Argument(metavar="PART", help="style, colour or size.")],
    word: Annotated[str, typer.Argument(metavar="WORD", help="The supplier's word.")],
    meaning: Annotated[str, typer.Argument(metavar="MEANING", help="The word of our catalogue.")],
    json: Json = False,
) -> None:
    """Teach the book what a supplier's word for a style, colour or size means.

    \b
    Example:
      blankbook aliases add-word "Tarnwick Blank Goods" colour "Hthr Navy" "Heather Navy"
    """
    chosen = fold(part).replace("color", "colour")
    if chosen not in PARTS:
        raise UsageError(f"'{part}': a word is for {', '.join(PARTS)}.")
    with writing(context) as connection, write_tx(connection):
        known = {
            fold(text): text for item in find_items(connection).values() if (text := getattr(item, chosen))
        }
        if fold(meaning) not in known:
            raise Refused(
                f"no item has the {chosen} {meaning}. {did_you_mean(meaning, known.values())}".rstrip()
            )
        is_new = _is_new(connection, party)
        name = ensure_party(connection, _word(party))
        alias = Alias(name, chosen, _word(word), known[fold(meaning)])
        taught = [_spelled(alias, find_aliases(connection, name))]
        step = change_aliases(connection, taught, now())
        _say_new(name, is_new=is_new)
        _finish(taught, step, json=json)


def remove(
    context: typer.Context,
    party: Party,
    code: Annotated[str, typer.Argument(metavar="CODE", help="The supplier's code or word.")],
    json: Json = False,
) -> None:
    """Take away what a supplier's code or word was taught to mean. What was received by it stays.

    \b
    Example:
      blankbook aliases remove "Dunnoway Craft Supply" 2101
    """
    with writing(context) as connection, write_tx(connection):
        known = find_aliases(connection, party)
        found = [alias for alias in known if fold(alias.word) == fold(code)]
        if not found:
            near = did_you_mean(code, [alias.word for alias in known])
            raise Refused(f"{party} has no alias '{code}'. {near} See: blankbook aliases".replace("  ", " "))
        gone = [Alias(each.party, each.part, each.word, "") for each in found]
        _finish(gone, change_aliases(connection, gone, now()), json=json)


def undo(
    context: typer.Context,
    change: Annotated[
        int | None, typer.Argument(metavar="CHANGE", help="Its number; the latest if left out.")
    ] = None,
    json: Json = False,
) -> None:
    """Take back one change of aliases: what was taught is gone, what was removed is there again.

    \b
    Examples:
      blankbook aliases undo
      blankbook aliases undo 3
    """
    check_number(change, "CHANGE")
    with writing(context) as connection, write_tx(connection):
        changes = undo_aliases(connection, now(), change)
    if json:
        show_json({"undone": changes[0].step, "changes": len(changes)})
    for each in changes:
        what = f"is {each.before} again" if each.before else "is not known any more"
        say(f"{each.party}'s {each.part} '{each.word}' {what}.")


def _word(text: str) -> str:
    word = " ".join(text.split())
    if not word or len(word) > LONGEST_WORD:
        raise UsageError(f"a code or word has 1 to {LONGEST_WORD} characters.")
    return word


def _is_new(connection: sqlite3.Connection, typed: str) -> bool:
    """Whether the book has no party of that name."""
    return fold(_word(typed)) not in {fold(each) for each in find_parties(connection)}


def _say_new(name: str, *, is_new: bool) -> None:
    if is_new:
        say(f"{name} is new in the book and was added.")


def _spelled(alias: Alias, known: list[Alias]) -> Alias:
    """Return the alias under the spelling the book has it already, so that it is amended, not doubled."""
    same = (each for each in known if each.part == alias.part and fold(each.word) == fold(alias.word))
    found = next(same, None)
    return alias if found is None else Alias(alias.party, alias.part, found.word, alias.meaning)


def _finish(taught: list[Alias], step: int, *, json: bool) -> None:
    if json:
        rows = [{"party": a.party, "part": a.part, "word": a.word, "meaning": a.meaning} for a in taught]
        show_json({"change": step or None, "aliases": rows})
    if not step:
        say("Nothing changes: the book knows this already.")
        return
    for alias in taught:
        said = f"is {alias.meaning}" if alias.meaning else "is taken away"
        kind = "" if alias.part == CODE else f"{alias.part} "
        say(f"{alias.party}'s {kind}'{alias.word}' {said}.")
    say(f"Take it back: blankbook aliases undo {step}")
