"""A shop whose book the real command keeps, for published examples: what it posts, and what its answers say."""

from __future__ import annotations

import json
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from command_line import Runner

HEADINGS = "date,event,sku,quantity,unit,amount,kind,applies_to,reference,party"


@dataclass(frozen=True)
class Shop:
    """The command with a book of its own, and what its answers say."""

    run: Runner

    def post(self, *rows: str) -> list[dict[str, Any]]:
        """Post rows of an events sheet; return the documents they became."""
        sheet = self.run.folder / "events.csv"
        sheet.write_text("\n".join([HEADINGS, *rows, ""]), encoding="utf-8")
        done = self.run("post", "events.csv", "--yes", "--json")
        assert done.returncode == 0, done.stderr
        documents: list[dict[str, Any]] = json.loads(done.stdout)["documents"]
        return documents

    def answer(self, *words: str) -> Any:
        """The JSON that a reading command gives."""
        done = self.run(*words, "--json")
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    def on_hand(self, *words: str) -> dict[str, tuple[str, str]]:
        """Quantity and value of each item in stock."""
        return {row["sku"]: (row["quantity"], row["value"]) for row in self.answer("stock", *words)}

    def entry(self, document: dict[str, Any], account: str) -> tuple[Decimal, Decimal]:
        """Quantity and amount that a document brings to an account."""
        legs = self.answer("show", str(document["document"]))["legs"]
        own = [leg for leg in legs if leg["account"] == account]
        return (
            sum((Decimal(leg["quantity"]) for leg in own), Decimal(0)),
            sum((Decimal(leg["amount"]) for leg in own), Decimal(0)),
        )


def units(amount: int) -> str:
    """An amount in whole currency units as JSON has it."""
    return f"{amount}.00"
