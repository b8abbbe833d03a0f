"""Where a book lies: folders on a network or kept alike on several computers, recognised where they can be.

Nothing is refused for it. SQLite asks a book's disk for locks and for the order of what is written;
network file systems do not always keep either, and what copies a folder elsewhere while a command
writes may copy half a change. Source: SQLite's documentation, "How To Corrupt An SQLite Database File",
sections on locking and on backups of files in use (from memory); the words that are looked for are our own.
"""

from __future__ import annotations

import re
from pathlib import Path

MOUNTS = Path("/proc/mounts")

_NETWORK = re.compile(r"nfs\d?|cifs|smb\d?|smbfs|9p|fuse\..+")
"""File system types that stand for another computer, or for a program that plays a disk."""

_KEPT_ALIKE = frozenset({"sync", "synced", "syncing", "synchronised", "synchronized", "cloud"})
"""Words in a folder's name that say it is kept alike elsewhere."""

_CONFLICT = re.compile(r"conflict|konflikt|conflit", re.IGNORECASE)
"""Words in the names of the copies that are made where two computers changed one file."""

_PART = re.compile(r"[A-Z]?[a-z]+|[A-Z]+")


def place_warnings(book: Path, mounts: Path = MOUNTS) -> list[str]:
    """Return what is to be said about the place of a book that is being written to; empty where nothing is.

    Looks at one small file of the system and at one folder's names, so that no command waits for it.

    Args:
        book: the book's path; what it links to counts.
        mounts: the system's list of what is mounted where; a system without one is not asked.
    """
    real = book.resolve()
    found = []
    network = _network_type(real, mounts)
    if network:
        found.append(
            f"Note: {book} lies on a network drive or one that a program provides ({network}). {_NOT_SAFE_THERE}"
        )
    alike = next((part for part in real.parts[:-1] if _is_kept_alike(part)), None)
    if alike:
        found.append(
            f"Note: {book} lies in '{alike}', by its name a folder that is kept alike elsewhere. {_NOT_SAFE_THERE}"
        )
    return [*found, *_conflict_warning(real)]


_NOT_SAFE_THERE = (
    "A change may be copied or locked only in part there. Keep the book on a disk of this computer, "
    "and put backups there instead: blankbook backup."
)


def _network_type(real: Path, mounts: Path) -> str:
    """Return the type of the file system that holds a path where it is a network's; else nothing."""
    if str(real).startswith("\\\\"):
        return "a share"
    try:
        rows = [row.split(" ") for row in mounts.read_text("utf-8", errors="replace").splitlines()]
    except OSError:
        return ""
    kinds = {_unescaped(row[1]): row[2] for row in rows if len(row) > 2}  # noqa: PLR2004  (place and type)
    for folder in real.parents:
        kind = kinds.get(str(folder))
        if kind is not None:
            # What everything lies on is this computer's own, whatever carries it.
            return kind if str(folder) != real.anchor and _NETWORK.fullmatch(kind) else ""
    return ""


def _unescaped(place: str) -> str:
    """Return a mount's place with its blanks, which the system writes as octal numbers."""
    return re.sub(r"\\([0-7]{3})", lambda found: chr(int(found[1], 8)), place)


def _is_kept_alike(folder_name: str) -> bool:
    return any(part.casefold() in _KEPT_ALIKE for part in _PART.findall(folder_name))


def _conflict_warning(real: Path) -> list[str]:
    """Return a warning where a copy that says 'conflict' lies beside the book."""
    try:
        names = sorted(
            each.name
            for each in real.parent.iterdir()
            if each.name != real.name
            and each.name.startswith(real.stem)
            and _CONFLICT.search(each.name[len(real.stem) :])
        )
    except OSError:
        return []
    if not names:
        return []
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    told = (
        f"Note: '{names[0]}'{more} beside {real.name} looks like a copy made where two computers changed the "
        "book. Each may hold what the other lacks: look at both (blankbook --book FILE history) before going on."
    )
    return [told]
