"""The profile that tests of reading invoices share."""

from __future__ import annotations

from pathlib import Path

import pytest
from shipment_files import PLAIN, made_profile

from ledger.intake.profile import Profile


@pytest.fixture
def plain(tmp_path: Path) -> Profile:
    """Return a profile with one row per size."""
    return made_profile(tmp_path, PLAIN)
