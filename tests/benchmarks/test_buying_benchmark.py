"""The benchmark of the buying decision still runs, and its yardstick does the same work."""

from __future__ import annotations

import numpy as np
import pytest
from bare_simulation import BareShape, bare
from buying_decision import main, simulate

SMALL = BareShape(futures=300, weeks=30, sizes=4)


def test_a_tiny_run_prints_every_row(capsys: pytest.CaptureFixture[str]) -> None:
    """Simulations, memory, and the closed forms where there is something to hold them against."""
    main(["--tiny"])
    printed = capsys.readouterr().out
    for what in (
        "large simulation",
        "usual simulation",
        "large decision",
        "usual decision",
        "peak of arrays",
    ):
        assert what in printed


def test_the_yardstick_counts_every_cell() -> None:
    """Each future, week and size stands in the counts of each offer once."""
    *counts, _ = bare(SMALL)
    assert [int(each.sum()) for each in counts] == [300 * 30 * 4] * 4


def test_both_use_about_as_many_pieces() -> None:
    """The measured simulation and the yardstick draw the same kind of demand."""
    many_sizes = BareShape(futures=300, weeks=30, sizes=24)
    used, ours = bare(many_sizes)[-1], simulate(many_sizes)
    # The yardstick orders 25 of each size twice, the other 20 and 25; few futures ask for more.
    assert int(np.sum(used)) == pytest.approx(ours, rel=0.1)
