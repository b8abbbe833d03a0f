"""A book for published examples, made once by the real command, and a shop with a copy of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_line import Runner, RunnerHere
from published_shop import Shop

ITEMS = """sku,name,kind,unit,style,colour,size
GOODS,Goods,blank,each,,,
POWDER,Goods by weight,powder,g,,,
FIRST,First article,blank,each,,,
SECOND,Second article,blank,each,,,
THIRD,Third article,blank,each,,,
WOOD,Wood for a desk,blank,each,Wood,Plain,M
FABRIC,Fabric for a desk,tape,each,,,
INPUT,What a process starts from,blank,each,Input,Plain,M
"""
BILLS = """bill,name,way,blank,finished,sku,per_piece
DESK,A desk,screen print,Wood,DESK-{size},FABRIC,1
OUTPUT,What a process makes,screen print,Input,OUTPUT-{size},,
"""


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Runner:
    """A book that knows the items and bills of the examples, made by the command."""
    folder = tmp_path_factory.mktemp("published")
    run = RunnerHere(folder, folder / "shop.blankbook", {"BLANKBOOK_TODAY": "2026-12-31"})
    (folder / "items.csv").write_text(ITEMS, encoding="utf-8")
    (folder / "bills.csv").write_text(BILLS, encoding="utf-8")
    for words in (
        ("start", "--name", "Published", "--currency", "USD", "--first-month", "2026-01", "--yes"),
        ("items", "load", "items.csv", "--yes"),
        ("boms", "load", "bills.csv", "--yes"),
    ):
        done = run(*words)
        assert done.returncode == 0, done.stderr
    return run


@pytest.fixture
def shop(template: Runner, tmp_path: Path) -> Shop:
    """The real command, with a new book that knows the items."""
    assert template.book is not None
    book = tmp_path / "shop.blankbook"
    book.write_bytes(template.book.read_bytes())
    return Shop(RunnerHere(tmp_path, book, template.variables))
