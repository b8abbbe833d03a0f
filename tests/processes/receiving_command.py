"""Words for the real command that receives goods, and what the book holds afterwards."""

from __future__ import annotations

import json
import subprocess

from command_line import Runner

PROFILE = """
currency = "USD"
[columns]
sku = "SKU"
quantity = "Qty"
unit = "Unit"
line_total = "Amount"
expires_on = "Best before"
description = "Text"
[items]
kind = "blank"
name = "{description}"
"""


def receive(sku: str = "TEE-SAND-M", quantity: str = "10", amount: str = "41.00", *more: str) -> list[str]:
    """The words that receive one line."""
    return [
        "receive",
        "--sku",
        sku,
        "--quantity",
        quantity,
        "--amount",
        amount,
        "--date",
        "2026-01-05",
        *more,
    ]


def sheet(run: Runner, name: str, *rows: str) -> list[str]:
    """Write a csv of the profile's shape; return the words that receive it."""
    (run.folder / name).write_text(
        "\n".join(["SKU,Qty,Unit,Amount,Best before,Text", *rows, ""]), encoding="utf-8"
    )
    return [
        "receive",
        name,
        "--profile",
        "plain.toml",
        "--party",
        "Alder Yard Blanks",
        "--date",
        "2026-01-05",
    ]


def documents(run: Runner) -> list[dict[str, object]]:
    """Every document in the book."""
    answer: list[dict[str, object]] = json.loads(run("history", "--json").stdout)
    return answer


def is_whole(run: Runner) -> bool:
    """Whether the book proves whole."""
    return bool(json.loads(run("prove", "--json").stdout)["ok"])


def no_traceback(done: subprocess.CompletedProcess[str]) -> bool:
    """Whether a maker saw words only."""
    return "Traceback" not in done.stdout + done.stderr
