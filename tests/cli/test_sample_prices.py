"""The sample quotes give, through the program, the figures worked out apart from it."""

from __future__ import annotations

import importlib
import json
import shutil
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from small_shop import Commands, new_book

from ledger.cli import compare, duties, items, quotes, receive, suppliers

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "samples"
FIGURES: dict[str, Any] = json.loads((SAMPLES / "price-figures.json").read_text("utf-8"))

each_figure = pytest.mark.parametrize(
    "figure",
    FIGURES["figures"],
    ids=lambda figure: f"{figure['offer']} {figure['what']} {figure['quantity']}",
)


@pytest.fixture
def tool(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The tool that writes the samples."""
    monkeypatch.syspath_prepend(str(ROOT / "tests" / "tools"))
    return importlib.import_module("sample_quotes")


@pytest.fixture(scope="module")
def sample_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with the sample catalogue, suppliers, quotes and duties.

    A bottle of ink once came from each maker abroad, so that no order is the first and no sample is paid.
    """
    book = new_book(tmp_path_factory.mktemp("prices") / "shop.blankbook")
    for module, name in (
        (items, "items"),
        (suppliers, "suppliers"),
        (quotes, "quotes"),
        (duties, "duties"),
    ):
        done = Commands(module.register, book)(name, "load", str(SAMPLES / f"{name}.csv"), "--yes")
        assert done.code == 0, done.error
    for party in ("Nine Sparrows Knitting Mill", "Lanternfish Print Materials"):
        done = Commands(receive.register, book)(
            "receive", "--sku", "INK-SUB-C", "--quantity", "1", "--unit", "bottle", "--amount", "16", "--party", party,
            "--date", "2026-03-02", "--yes",
        )  # fmt: skip
        assert done.code == 0, done.error
    return book


@pytest.mark.parametrize("name", ["quotes.csv", "duties.csv", "price-figures.json"])
def test_committed_file_is_what_the_tool_writes(tool: ModuleType, tmp_path: Path, name: str) -> None:
    """A file in samples/ equals a fresh one."""
    tool.write_quotes(tmp_path)
    assert (tmp_path / name).read_bytes() == (SAMPLES / name).read_bytes()


@each_figure
def test_an_offer_costs_landed_what_was_worked_out(
    figure: dict[str, Any], sample_book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every part, the total and the unit cost, through the command."""
    monkeypatch.setenv("BLANKBOOK_TODAY", FIGURES["today"])
    book = Path(shutil.copy(sample_book, tmp_path))
    data = Commands(compare.register, book)(
        "compare", "--prices", figure["what"], "--quantity", str(figure["quantity"]),
        "--entry", FIGURES["entry"], "--rate", f"CNY={FIGURES['rates']['CNY']}", "--json",
    ).data  # fmt: skip
    offer = next(each for each in data["contenders"] if each["name"] == figure["offer"])
    parts = {part["name"]: part["amount"] for part in offer["parts"]}
    assert (parts, offer["quantity"]) == (figure["parts"], str(figure["buys"]))
    assert (offer["total"], offer["landed_per_unit"]) == (figure["total"], figure["landed_per_unit"])
