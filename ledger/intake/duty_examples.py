"""Example rows of the duties sheet: they show the layout and are no facts to rely on.

Each has its source and the day it was read; rates change several times a year. A missing row is unknown,
never free. An importer asks a licensed broker.
"""

from __future__ import annotations

_READ = "2026-11-24"
_GENERAL = "general"
_RULING = "customs ruling NY"
_SECOND_HAND = "second-hand, source not read: Federal Register 2026-15181"

# program, customs_class, origin, rate, from, until, source, checked_on, example, note
DUTY_EXAMPLES: tuple[tuple[str, ...], ...] = (
    (_GENERAL, "6109.10", "any", "16.5%", "", "", f"{_RULING} N352158", _READ, "yes", "cotton T-shirts"),
    (_GENERAL, "6109.90.10", "any", "32%", "", "", f"{_RULING} N304245", _READ, "yes", "man-made-fibre T-shirts"),
    (_GENERAL, "3920.43.50", "any", "4.2%", "", "", f"{_RULING} L83836", _READ, "yes", "PVC vinyl; most garment vinyl is polyurethane, another class: ask"),
    (_GENERAL, "3920.62", "any", "4.2%", "", "", "tariff schedule", _READ, "yes", "PET film"),
    (_GENERAL, "3215.19", "any", "1.8%", "", "", "tariff schedule", _READ, "yes", "printing ink"),
    (_GENERAL, "4908.90", "any", "free", "", "", "tariff schedule", _READ, "yes", "transfers"),
    ("section 301 list 4A", "6109", "CN", "7.5%", "2020-02-14", "", "tariff schedule, chapter 99", _READ, "yes", ""),
    ("section 122", "any", "any", "10%", "2026-02-24", "2026-07-24", "tariff schedule, chapter 99", _READ, "yes", "ended"),
    ("section 301 note 52", "any", "CN", "12.5%", "2026-07-24", "", _SECOND_HAND, _READ, "yes", ""),
    ("section 301 note 52", "any", "VN", "12.5%", "2026-07-24", "", _SECOND_HAND, _READ, "yes", ""),
    ("section 301 note 52", "any", "BD", "10%", "2026-07-24", "", _SECOND_HAND, _READ, "yes", ""),
)  # fmt: skip
"""The rows, in the order of the sheet's columns; all of them say that they are examples."""
