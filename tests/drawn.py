"""How many cases drawn tests look at: few and always the same ones by default, many new ones on demand.

``BLANKBOOK_DRAWN=20`` draws twenty times as many, other ones in every run.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

TIMES = int(os.environ.get("BLANKBOOK_DRAWN", "1"))
USUAL = 60

# A busy machine draws slowly and says nothing about the program; what a test asserts stays as it is.
settings.register_profile(
    "patient",
    max_examples=USUAL * TIMES,
    derandomize=TIMES == 1,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("patient")


def drawn(examples: int) -> settings:
    """Return the settings of a test that wants another number of cases than the usual one."""
    return settings(max_examples=examples * TIMES)
