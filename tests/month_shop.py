"""Small shops with a month or a year in them, made by the command in this process, for tests of reports."""

from __future__ import annotations

import json
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from typer.testing import CliRunner

from ledger.book.connect import open_reading
from ledger.book.month_report import MonthReport, read_report
from ledger.cli.main import app
from ledger.errors import BlankbookError

WORKED_ITEMS = """sku,name,kind,unit,tax_class,style,colour,size
TEE,Plain tee,blank,each,goods,Tee,Plain,M
VIN,Vinyl,vinyl,sheet,goods,,,
PAPER,Cover paper,paper,sheet,supplies when used,,,
CLEANER,Cleaner,chemical,each,supplies when bought,,,
"""

WORKED_BILLS = """bill,name,way,blank,finished,sku,per_piece
FIN,Finished shirt,heat transfer vinyl,Tee,FIN-{size},VIN,1
FIN,,,,,PAPER,1
"""

WORKED_EVENTS = """date,event,sku,quantity,amount,kind,applies_to,reference,party
2026-03-01,opening,TEE,40,128.00,,,,
2026-03-01,opening,VIN,20,20.00,,,,
2026-03-01,opening,PAPER,50,5.00,,,,
2026-03-01,opening,FIN-M,10,52.00,,,,
2026-03-03,receive,TEE,60,186.00,,,AY-1,Alder Yard Blanks
2026-03-03,receive,VIN,40,36.00,,,AY-1,Alder Yard Blanks
2026-03-03,charge,,,22.20,freight,Alder Yard Blanks/AY-1,,
2026-03-05,own_use,TEE,1,,,,,
2026-03-06,sample,FIN-M,1,,,,,
2026-03-10,receive,TEE,20,70.00,,,AY-2,Alder Yard Blanks
2026-03-10,receive,PAPER,100,12.00,,,AY-2,Alder Yard Blanks
2026-03-10,receive,CLEANER,1,18.00,,,AY-2,Alder Yard Blanks
2026-03-10,charge,,,10.00,freight,Alder Yard Blanks/AY-2,,
2026-03-12,make,FIN-M,50,19.86,good,,spring fair,
2026-03-12,make,FIN-M,1,,abnormal,,spring fair,
2026-03-12,make,FIN-M,3,,normal,,spring fair,
2026-03-20,sell,FIN-M,45,900.00,,,A-1,
2026-03-24,take_back,FIN-M,1,20.00,,,A-1,
2026-03-31,count,TEE,63,,,,,
"""
"""The worked month without its late bill: what that bill put on stock is in the opening stock."""


@dataclass(frozen=True)
class MonthShop:
    """A book, and the command around it in this process."""

    folder: Path
    today: str

    @property
    def book(self) -> Path:
        """The book's file."""
        return self.folder / "shop.blankbook"

    def __call__(self, *words: str) -> str:
        """Run the command and return what it prints."""
        result = CliRunner().invoke(
            app, ["--book", str(self.book), *words], env={"BLANKBOOK_TODAY": self.today}
        )
        assert result.exit_code == 0, f"{words}: {result.exception} {result.output}"
        return result.stdout

    def refused(self, *words: str) -> str:
        """Run a command that must be refused, and return what is said."""
        result = CliRunner().invoke(
            app, ["--book", str(self.book), *words], env={"BLANKBOOK_TODAY": self.today}
        )
        assert isinstance(result.exception, BlankbookError), f"{words}: {result.output}"
        return str(result.exception)

    def data(self, *words: str) -> Any:
        """Run a reading command and return its JSON."""
        return json.loads(self(*words, "--json"))

    def post(self, events: str) -> None:
        """Post an events sheet."""
        sheet = self.folder / "events.csv"
        sheet.write_text(events, encoding="utf-8")
        self("post", str(sheet), "--yes")

    def report(self, month: str) -> MonthReport:
        """Read the report of a month from the book."""
        with closing(open_reading(self.book)) as connection:
            return read_report(connection, month)


def month_shop(folder: Path, items: str, bills: str, *start: str, today: str = "2026-03-31") -> MonthShop:
    """Return a shop with a new book that knows items and bills; ``start`` are more words for starting it."""
    shop = MonthShop(folder, today)
    shop("start", "--name", "Month shop", "--currency", "USD", *start, "--yes")
    for command, text in (("items", items), ("boms", bills)):
        if text:
            sheet = folder / f"{command}.csv"
            sheet.write_text(text, encoding="utf-8")
            shop(command, "load", str(sheet), "--yes")
    return shop
