"""`python -m ledger`: the command line without its installed script."""

from __future__ import annotations

from ledger.cli.main import run

if __name__ == "__main__":
    run()
