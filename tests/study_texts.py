"""Studies that stand in a test as text."""

from __future__ import annotations

import datetime

from ledger.intake.study_file import content_of, study_from
from ledger.sourcing.study import Study


def study_of(text: str, source: str, today: datetime.date) -> Study:
    """The study a text holds; ``source`` names it in messages."""
    return study_from(content_of(text, source), source, today)
