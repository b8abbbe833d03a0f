"""A disk that does not confirm a commit: the message does not say that nothing was posted."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from ledger.book.connect import explain


def test_an_unconfirmed_commit_is_told_as_unknown() -> None:
    """The journal is gone, so the change stands; only the folder's state was not confirmed."""
    error = sqlite3.OperationalError("disk I/O error")
    error.sqlite_errorname = "SQLITE_IOERR_DIR_FSYNC"
    told = str(explain(error, Path("shop.blankbook")))
    assert "may or may not be in the book" in told
    assert "Nothing was posted" not in told
