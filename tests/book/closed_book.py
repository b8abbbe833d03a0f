"""A closed book in a file of its own, for tests of what opens, writes and migrates it."""

from __future__ import annotations

import shutil
from pathlib import Path


def closed_book(empty_book: Path, tmp_path: Path) -> Path:
    """A closed book with items and no document."""
    target = tmp_path / "shop.blankbook"
    shutil.copyfile(empty_book, target)
    return target
