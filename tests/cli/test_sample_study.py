"""The offers of the sample study are those that the sample quotes give, as the program writes them down."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from small_shop import Commands, new_book

from ledger.cli import compare, duties, items, quotes, receive, suppliers

SAMPLES = Path(__file__).resolve().parents[2] / "samples"


def test_the_sample_studys_offers_are_the_sample_quotes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A shirt of each size is there, and came from the mill, so that no paid sample goes before an order."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    book = new_book(tmp_path / "shop.blankbook")
    for module, name in (
        (items, "items"),
        (suppliers, "suppliers"),
        (quotes, "quotes"),
        (duties, "duties"),
    ):
        done = Commands(module.register, book)(name, "load", str(SAMPLES / f"{name}.csv"), "--yes")
        assert done.code == 0, done.error
    for size in ("M", "L", "XL"):
        done = Commands(receive.register, book)(
            "receive", "--sku", f"WREN-HNV-{size}", "--quantity", "1", "--amount", "3.60", "--party",
            "Nine Sparrows Knitting Mill", "--date", "2026-03-12", "--yes",
        )  # fmt: skip
        assert done.code == 0, done.error
    written = Commands(compare.register, book)(
        "compare", "Wren", "--colour", "Heather Navy", "--rate", "CNY=0.1462", "--write-study", "wren.toml"
    )
    assert written.code == 0, written.error
    mine, sample = (
        tomllib.loads(path.read_text("utf-8")) for path in (Path("wren.toml"), SAMPLES / "wren-study.toml")
    )
    assert mine["offer"] == sample["offer"]
