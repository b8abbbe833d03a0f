"""Where the files that come with Blankbook are, in a checkout and in an installed package."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def carried(*parts: str) -> Path:
    """Return the path of a carried file or folder, like ``carried("imports", "items.xlsx")``.

    An installed package carries them inside itself; in a checkout they stand at the top level.
    Nothing is said about whether the file is there.
    """
    inside = _PACKAGE / "_carried"
    root = inside if inside.is_dir() else _PACKAGE.parent
    return root.joinpath(*parts)
