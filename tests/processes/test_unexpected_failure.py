"""The real command fails where nobody foresaw it: one line, exit code 1, a report without data."""

from __future__ import annotations

import subprocess
import sys

from command_line import Runner
from receiving_command import receive

BROKEN = """
import sys
from ledger.book import looking
def fail(*arguments, **options):
    customer = "Odile Marchbank"
    raise LookupError(customer + " bought " + repr(arguments))
looking.stock = fail
from ledger.cli.main import run
sys.argv = ["blankbook", *sys.argv[1:]]
run()
"""


def test_one_line_and_a_report(run: Runner) -> None:
    """The line has no value of the error in it, and the report beside the book none of the book."""
    run(*receive(), "--yes")
    done = subprocess.run(
        [sys.executable, "-c", BROKEN, "--book", str(run.book), "stock", "--kind", "blank"],
        cwd=run.folder,
        capture_output=True,
        text=True,
        check=False,
        env=run.environment,
    )
    assert (done.returncode, done.stdout, len(done.stderr.splitlines())) == (1, "", 1)
    (report,) = run.folder.glob("blankbook-failure-*.txt")
    text = report.read_text(encoding="utf-8")
    assert "command: stock\noptions: --book --kind\n" in text
    assert "ledger.cli.stock.stock, line " in text
    for secret in ("Odile", "TEE-SAND-M", str(run.folder), "Traceback"):
        assert secret not in text + done.stderr.replace(str(report), "")
