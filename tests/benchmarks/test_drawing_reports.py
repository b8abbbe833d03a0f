"""The benchmark of the decision's page prints its table; `test_benchmarks_run.py` measures with it."""

from __future__ import annotations

import pytest
from drawing_reports import main
from measuring import Row


def test_run_alone_it_prints_its_rows(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As many futures and rounds as are asked for."""
    monkeypatch.setattr(
        "drawing_reports.rows",
        lambda futures, rounds: [Row(f"page of {futures}", rounds, 1.0, "s", "its plots")],
    )
    main(60, 2)
    (row,) = capsys.readouterr().out.splitlines()[1:]
    assert row.split()[:5] == ["page", "of", "60", "2.00", "s"]
