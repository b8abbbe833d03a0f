"""Writing a file whole or not at all, and never over another one without being told."""

from __future__ import annotations

import os
from pathlib import Path

from ledger.errors import UsageError


def write_whole(path: Path, content: bytes, *, replace: bool = False) -> None:
    """Write a file beside its place under another name, then give it its name.

    Args:
        path: the file; its folder must be there.
        content: all of it.
        replace: whether a file of that name may go; without it, it is left as it is.

    Raises UsageError where the file is there and may not go, or cannot be written.
    """
    refuse_existing(path, replace=replace)
    draft = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        with draft.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if replace:
            draft.replace(path)
        else:
            _name(draft, path)
    except FileExistsError:
        raise _there_already(path) from None
    except OSError as error:
        raise UsageError(f"{path} cannot be written: {error.strerror}. Name another place.") from None
    finally:
        draft.unlink(missing_ok=True)


def refuse_existing(path: Path, *, replace: bool) -> None:
    """Raise UsageError where a file cannot be written there: ask it before long work."""
    if path.is_dir():
        raise UsageError(f"{path} is a folder. Name a file in it.")
    if path.exists() and not replace:
        raise _there_already(path)
    if not path.parent.is_dir():
        raise UsageError(f"the folder {path.parent} does not exist. Make it first, or name another place.")


def _there_already(path: Path) -> UsageError:
    return UsageError(
        f"{path} is there already and was left as it is. Name another file, or add --replace to replace it."
    )


def _name(draft: Path, path: Path) -> None:
    """Give the draft its name; raises FileExistsError where somebody took it meanwhile."""
    try:
        os.link(draft, path)
    except FileExistsError:
        raise
    except OSError:
        # A file system without hard links: the check is a moment older, the rename still whole.
        if path.exists():
            raise FileExistsError from None
        draft.rename(path)
