"""What is said of backups: a copy that was made, and one that is to take the book's place."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ledger.book.backing_up import Backup, Contents, Restoration
from ledger.exact.words import how_many
from ledger.views.tables import Table

_KIB = 1024
_MIB = _KIB * _KIB


def size_in_words(byte_count: int) -> str:
    """Return a file's size as people say it.

    >>> size_in_words(458_752), size_in_words(45_875_200)
    ('448 KiB', '43.8 MiB')
    """
    return f"{byte_count / _MIB:.1f} MiB" if byte_count >= _MIB else f"{-(-byte_count // _KIB)} KiB"


def backup_text(made: Backup) -> str:
    """Return the sentence for a copy that was proved."""
    proof = made.proof
    last = f", the last recorded {_moment(made.contents.last_recorded)}" if made.contents.documents else ""
    return (
        f"The copy is whole: {how_many(made.contents.documents, 'document')}{last}, {proof.legs} movements and {proof.lots} lots, "
        f"{size_in_words(made.byte_count)}."
    )


def backup_as_data(made: Backup) -> dict[str, Any]:
    """Return the same for --json."""
    return {
        "backup": str(made.path),
        "bytes": made.byte_count,
        **_contents_as_data(made.contents),
        "proved": made.proof.is_whole,
    }


def restore_preview(ready: Restoration, book: Path, kept: Path) -> str:
    """Return what would happen: both states side by side, and where the present one goes."""
    table = Table(["", "shop", ">documents", "last recorded", "closed through"])
    table.add("the backup", *_cells(ready.contents))
    if ready.there:
        table.add("the book now", *_cells(ready.there))
    lines = [
        f"Restore {ready.source} in the place of {book}:",
        "",
        table.text(),
        "",
        "The backup proves whole.",
    ]
    if ready.was_version < ready.contents.version:
        lines.append(
            f"It is of version {ready.was_version} and becomes one of version {ready.contents.version}; the "
            "backup itself stays as it is."
        )
    return "\n".join([*lines, *_about_the_book_now(ready, book, kept)])


def _about_the_book_now(ready: Restoration, book: Path, kept: Path) -> list[str]:
    if ready.there is None and not ready.place.exists():
        return [f"There is no book at {book} now: nothing is replaced."]
    lines = []
    if ready.there is None:
        lines.append(f"What stands at {book} could not be looked at: {ready.why_unread}.")
    elif ready.there.shop != ready.contents.shop:
        lines.append("The two are books of different shops: look twice.")
    elif ready.there.documents > ready.contents.documents:
        missing = ready.there.documents - ready.contents.documents
        lines.append(f"The book now has {how_many(missing, 'document')} more, which the backup lacks.")
    return [*lines, f"The file that is there now is kept as {kept}."]


def restored_text(ready: Restoration, book: Path, kept: Path | None) -> str:
    """Return what was done."""
    if kept is None:
        return f"Restored {book} from {ready.source}. There was no book before."
    return (
        f"Restored {book} from {ready.source}. The file that was there is kept as {kept}; delete it once you are "
        "sure that nothing in it is missing."
    )


def restored_as_data(ready: Restoration, book: Path, kept: Path | None, *, done: bool) -> dict[str, Any]:
    """Return the same for --json."""
    return {
        "book": str(book),
        "restored_from": str(ready.source),
        "done": done,
        "kept": None if kept is None else str(kept),
        **_contents_as_data(ready.contents),
        "backup_version": ready.was_version,
        "book_before": _contents_as_data(ready.there) if ready.there else None,
    }


def _contents_as_data(contents: Contents) -> dict[str, Any]:
    return {
        "shop": contents.shop,
        "version": contents.version,
        "documents": contents.documents,
        "last_recorded": contents.last_recorded or None,
        "closed_through": contents.closed_through or None,
    }


def _cells(contents: Contents) -> tuple[str, str, str, str]:
    return (
        contents.shop,
        f"{contents.documents:,}",
        _moment(contents.last_recorded),
        contents.closed_through or "none",
    )


def _moment(recorded_at: str) -> str:
    """Return a moment of ISO 8601 as people read it; the zone is that of the record, UTC."""
    return f"{recorded_at[:10]} {recorded_at[11:16]} UTC" if recorded_at else "none"
