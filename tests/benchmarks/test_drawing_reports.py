"""The benchmark of the decision's page still runs."""

from __future__ import annotations

import pytest
from drawing_reports import main


def test_a_tiny_run_prints_every_row(capsys: pytest.CaptureFixture[str]) -> None:
    """The page alone, and with the decision it is about."""
    main(["--tiny"])
    printed = capsys.readouterr().out
    assert "page of a decision, 60 futures" in printed
    assert "decision and page, 60 futures" in printed
