"""A shop that compares prices: its catalogue, offers and duty rates, and the commands around them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import typer
from small_shop import Commands, new_book

from ledger.cli import boms, compare, duties, items, quotes, receive

ITEMS = (
    "sku,name,kind,unit,style,sizes,colours,sku_pattern,packs,weight_g,customs_class\n"
    ",Wren tee,blank,each,Wren,S-2XL,Black=BLK; Moss=MOS,{style}-{colour}-{size},,150,6109.10\n"
    "PAPER,Paper A4,paper,sheet,,,,,pack = 100 sheet,,\n"
    "VINYL,Vinyl,vinyl,cm2,,,,,roll = 11.8 in x 5 yd (sold as 12 in x 5 yd),,\n"
    "INK,Ink,ink,mL,,,,,bottle = 500 mL,,\n"
    "TRANSFER,Ready transfer,transfer,each,,,,,,,\n"
)
BILLS = "bill,name,way,blank,finished,sku,per_piece,unit\nFOX,Fox,direct to film,Wren,,INK,5,mL\n"
HEAD = (
    "supplier,offer,sku,style,sizes,prices,unit,currency,terms,origin,minimum,multiple,valid_until,"
    "freight_per_order,free_above,freight_per_kg,brokerage,lead_days,quoted_on,prepack"
)
HOME = "Mill Lane,,,Wren,,1 = 4.10; 72 = 3.60,,USD,shipping point,,,,,0,,,,4,2026-01-01,"
FAR = "Sparrow Mill,,,Wren,,1 = 1.80,,USD,FOB,CN,100,12,,150,,,140,45,2026-01-01,"
DUTY_HEAD = "program,customs_class,origin,rate,source,checked_on\n"
RATES = DUTY_HEAD + "general,6109.10,any,16.5%,a ruling,2026-03-01\n"


def register(app: typer.Typer) -> None:
    """Add the commands these tests run."""
    for module in (items, quotes, duties, boms, receive, compare):
        module.register(app)


def price_shop(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book that has a catalogue, run in an empty folder."""
    monkeypatch.chdir(folder)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    commands = Commands(register, new_book(folder / "shop.blankbook"))
    loaded(commands, "items", ITEMS)
    return commands


def loaded(commands: Commands, kind: str, text: str) -> None:
    """Load a sheet of that kind."""
    Path(f"{kind}.csv").write_text(text, "utf-8")
    outcome = commands(kind, "load", f"{kind}.csv", "--yes")
    assert outcome.code == 0, outcome.error


def offered(commands: Commands, *rows: str) -> None:
    """Load these offers."""
    loaded(commands, "quotes", "\n".join([HEAD, *rows, ""]))


def prices(commands: Commands, *words: str) -> dict[str, Any]:
    """Return what the comparison says as data."""
    outcome = commands("compare", "--prices", *words, "--json")
    assert outcome.code == 0, outcome.error
    data: dict[str, Any] = outcome.data
    return data


def received(commands: Commands, *words: str) -> None:
    """Post a receipt."""
    outcome = commands("receive", *words, "--yes")
    assert outcome.code == 0, outcome.error
