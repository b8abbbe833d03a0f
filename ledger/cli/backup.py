"""`blankbook backup` and `blankbook restore`: a proved copy of the book, and one put in its place."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ledger.book.backing_up import (
    back_up,
    contents_of,
    prepare_restore,
    put_in_place,
    refuse_backup_place,
)
from ledger.book.drafts import discard_draft, free_name
from ledger.cli.common import (
    BOOK_SUFFIX,
    Json,
    agree,
    book_path,
    reading,
    say,
    say_of_place,
    show,
    show_json,
    typed,
)
from ledger.cli.waiting import working
from ledger.exact.words import typed_word
from ledger.intake.saved_profiles import profiles_folder
from ledger.views import backups as view


def register(app: typer.Typer) -> None:
    """Add both commands."""
    app.command()(backup)
    app.command()(restore)


def backup(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="The copy to make; it must not be there yet.")],
    yes: Annotated[
        bool, typer.Option("--yes", help="For scripts; a backup changes nothing and asks nothing.")
    ] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say what would be copied.")] = False,
    json: Json = False,
) -> None:
    """Copy the book, and prove the copy.

    Also while the book is in use. The copy is opened and proved whole before it gets its name, and nothing
    is written over.

    \b
    Examples:
      blankbook backup ../backups/shop-2026-04-02.blankbook
      blankbook --book shop.blankbook backup ../backups/shop.blankbook
    """
    del yes
    target = Path(file)
    refuse_backup_place(target)
    with reading(context) as connection:
        if dry_run:
            contents = contents_of(connection)
            say(f"{contents.documents:,} documents would be copied to {target} and proved.")
            say("Nothing was copied: this was a dry run.")
            return
        with working("Copying the book and proving the copy") as progress:
            made = back_up(connection, target, progress)
    if json:
        show_json(view.backup_as_data(made))
    else:
        show(view.backup_text(made))
    say(f"Wrote {target}. Put it back: {typed(context, f'restore {typed_word(file)}')}")
    _say_beside(context, target)


def _say_beside(context: typer.Context, target: Path) -> None:
    """Say what a backup does not hold, and what a second book in one folder means."""
    book = book_path(context, without=target)
    folder = profiles_folder(book)
    if folder.is_dir():
        say(f"The saved layouts in the folder {folder} are no part of it: copy that folder as well.")
    if target.suffix == BOOK_SUFFIX and target.parent.resolve() == book.parent.resolve():
        say(
            "Two books lie in this folder now: name the one you mean with --book, or keep backups in another "
            "folder, best on another disk."
        )


def restore(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="The backup; it stays as it is.")],
    yes: Annotated[bool, typer.Option("--yes", help="Restore without asking.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only show what would be restored.")] = False,
    json: Json = False,
) -> None:
    """Put a backup in the book's place.

    The backup is copied and proved first. The file that is there now is always kept, under a name that is
    told.

    \b
    Examples:
      blankbook --book shop.blankbook backup ../backups/shop-2026-04-02.blankbook --yes
      blankbook --book shop.blankbook restore ../backups/shop-2026-04-02.blankbook
      blankbook --book shop.blankbook restore ../backups/shop-2026-04-02.blankbook --dry-run
    """
    source = Path(file)
    book = book_path(context, without=source)
    say_of_place(book)
    with working("Copying the backup and proving the copy") as progress:
        ready = prepare_restore(source, book, progress)
    try:
        preview = view.restore_preview(ready, book, _as_typed(book, free_name(ready.place, "restore")))
        if json:
            say(preview)
        else:
            show(preview)
        go_on = not dry_run and agree(
            "Put the backup in the book's place?", yes=yes, dry_run=False, refused="nothing was restored"
        )
        kept = put_in_place(ready) if go_on else None
    finally:
        discard_draft(ready.draft)
    kept = kept and _as_typed(book, kept)
    if json:
        show_json(view.restored_as_data(ready, book, kept, done=go_on))
    say(view.restored_text(ready, book, kept) if go_on else "Nothing was restored: this was a dry run.")


def _as_typed(book: Path, beside: Path) -> Path:
    """Return a file beside the book the way the book was named, unless that is a link to elsewhere."""
    return book.with_name(beside.name) if book.parent.resolve() == beside.parent else beside
