"""Every caution where it belongs, once, and nowhere else: on screens, pages, workbooks and csv files."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import openpyxl
import pytest
from month_shop import MonthShop, month_shop
from page_reader import read_page
from price_shop import FAR, HEAD, HOME, RATES
from typer.testing import CliRunner

from ledger.cli.main import app
from ledger.views.receipts import HEAVY, arrival_cautions

ITEMS = """sku,name,kind,unit,style,sizes,colours,sku_pattern,packs,weight_g,customs_class,ladder,fibre
,Wren tee,blank,each,Wren,M-L,Black=BLK,{style}-{colour}-{size},case = 72 each,150,6109.10,adult,100% cotton
,Finch tee,blank,each,Finch,S-M,Black=BLK,{style}-{colour}-{size},,105,6109.10,youth,100% cotton
INK,Ink,ink,mL,,,,,bottle = 500 mL,,,,
POW,Powder,powder,g,,,,,,,,,
PRE,Pretreatment,chemical,mL,,,,,,,,,
STN,Stones,stones,each,,,,,,,,,
TRF,Ready transfer,transfer,each,,,,,,,,,
"""
BILLS = """bill,name,way,blank,finished,sku,per_piece
PLAIN,Plain,bought-in transfer,Wren,PLAIN-{size},TRF,1
FILM,Film,direct to film,Wren,FILM-{size},POW,2
FILM,,,,,INK,1
GARMENT,Garment,direct to garment,Wren,GARMENT-{size},PRE,2
STARS,Stars,stones,Wren,STARS-{size},STN,20
KIDS,Stars for children,stones,Finch,KIDS-{size},STN,20
"""
EVENTS = """date,event,sku,quantity,amount,party,reference,expires_on
2026-03-01,opening,INK,500,50.00,,,2026-04-20
2026-03-02,receive,WREN-BLK-M,20,60.00,Mill Lane,ML-1,
2026-03-05,use,INK,120,,,,
2026-03-12,use,INK,120,,,,
2026-03-19,use,INK,120,,,,
2026-03-26,use,INK,120,,,,
2026-03-26,own_use,WREN-BLK-M,1,,,,
2026-03-27,donate,WREN-BLK-M,1,,Larkhill Fair,,
"""
INK_OFFER = "Mill Lane,ink,INK,,,1 = 20.00,bottle,USD,shipping point,,,,,0,,,,4,2026-01-01,"
STUDY = """currency = "USD"
[demand]
per_month = 60
sd_per_month = 12
[[offer]]
name = "Mill Lane"
breaks = [{from = 1, price = "3.60"}]
lead_time = {mean_days = 4, sd_days = 1}
"""
STUDY_ABROAD = f"""{STUDY}
[[offer]]
name = "Sparrow Mill"
origin = "CN"
breaks = [{{from = 1, price = "1.80"}}]
minimum = 48
freight = {{per_order = "150"}}
duty = [{{rate = "0.165", checked = 2026-03-01}}]
lead_time = {{mean_days = 40, sd_days = 8}}
"""

CAUTIONS = {
    "tax": r"not tax advice|makes no election",
    "customs": r"importer's\s+responsibility|abroad\s+are\s+estimates",
    "chemicals": r"safety\s+data\s+sheet\s+with|dispose of chemicals by their label",
    "pretreatment": r"gloves",
    "heat": r"Heat:",
    "fumes": r"Fumes:",
    "dust": r"Powder dust:",
    "lifting": r"15 kg",
    "children": r"Children's sizes",
    "stones": r"Stones:",
    "labels": r"16 CFR 303",
}
"""What tells each caution, wherever its lines are broken."""

PRESSED = ("heat", "fumes")


def told(text: str) -> dict[str, int]:
    """Return how often each caution stands in a text, those that do not stand in it left out."""
    found = {name: len(re.findall(pattern, text)) for name, pattern in CAUTIONS.items()}
    return {name: times for name, times in found.items() if times}


def once(*names: str) -> dict[str, int]:
    """Each of these cautions once, and no other."""
    return dict.fromkeys(names, 1)


def said(shop: MonthShop, *words: str) -> str:
    """Run a command and return all it prints, on either stream."""
    result = CliRunner().invoke(
        app, ["--book", str(shop.book), *words], env={"BLANKBOOK_TODAY": shop.today}, catch_exceptions=False
    )
    assert result.exit_code == 0, (words, result.output)
    return result.output


def sheets_of(path: Path) -> Mapping[str, str]:
    """Return the words of each sheet of a workbook, by its title."""
    workbook = openpyxl.load_workbook(path)
    return {
        sheet.title: " ".join(str(cell) for row in sheet.iter_rows(values_only=True) for cell in row if cell)
        for sheet in workbook.worksheets
    }


def load(shop: MonthShop, kind: str, text: str) -> str:
    """Load a sheet, and return what is said."""
    sheet = shop.folder / f"{kind}-of-the-test.csv"
    sheet.write_text(text, encoding="utf-8")
    return said(shop, kind, "load", str(sheet), "--yes")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> MonthShop:
    """A shop with garments, chemicals, children's sizes, offers from near and far, and goods under way."""
    made = month_shop(tmp_path_factory.mktemp("cautions"), ITEMS, BILLS, "--first-month", "2026-03")
    made.post(EVENTS)
    load(made, "quotes", f"{HEAD}\n{HOME}\n{FAR}\n{INK_OFFER}\n")
    load(made, "duties", RATES)
    for name, text in (("home.toml", STUDY), ("abroad.toml", STUDY_ABROAD)):
        (made.folder / name).write_text(text, encoding="utf-8")
    made(
        *(
            "order",
            "--line",
            "WREN-BLK-M 144 at 2.00",
            "--line",
            "INK 1 bottle at 20.00",
            "--party",
            "Sparrow Mill",
        ),
        *(
            "--terms",
            "FOB Port Rellan",
            "--origin",
            "CN",
            "--reference",
            "spring",
            "--date",
            "2026-03-03",
            "--yes",
        ),
    )
    return made


def order_number(shop: MonthShop) -> str:
    """Return the number of the shop's order."""
    (order,) = shop.data("order")
    return str(order["order"])


SCREENS = {
    "a month": (("close", "2026-03", "--show"), once("tax")),
    "the months": (("months",), once()),
    "policies": (("policies",), once("tax")),
    "margin": (("margin",), once()),
    "stock that expires": (("stock",), once("chemicals")),
    "stock of an earlier day": (("stock", "--on", "2026-03-05"), once()),
    "stock that does not expire": (("stock", "--kind", "blank", "--on", "2026-03-30"), once()),
    "a bill without chemicals": (("boms", "show", "PLAIN"), once(*PRESSED)),
    "a bill with powder": (("boms", "show", "FILM"), once(*PRESSED, "dust", "chemicals")),
    "a bill with pretreatment": (("boms", "show", "GARMENT"), once(*PRESSED, "pretreatment", "chemicals")),
    "a bill with stones": (("boms", "show", "STARS"), once(*PRESSED, "stones")),
    "a bill of children's sizes": (("boms", "show", "KIDS"), once(*PRESSED, "children", "stones")),
    "offers": (("quotes",), once()),
    "duty rates": (("duties",), once("customs")),
    "prices from abroad": (("compare", "--prices", "WREN", "--quantity", "144"), once("customs")),
    "prices at home": (("compare", "--prices", "INK", "--quantity", "1 bottle"), once()),
    "a plan with nothing to order": (("plan", "--kind", "blank"), once()),
    "a plan with ink": (("plan", "--kind", "ink", "--ahead", "30"), once("customs", "chemicals")),
    "a light parcel": (
        ("receive", "--sku", "WREN-BLK-M", "--quantity", "20", "--amount", "60", "--dry-run"),
        once(),
    ),
    "a heavy carton": (
        (
            "receive",
            "--sku",
            "WREN-BLK-M",
            "--quantity",
            "2",
            "--unit",
            "case",
            "--amount",
            "500",
            "--dry-run",
        ),
        once("lifting"),
    ),
    "a parcel with duty": (
        (
            *("receive", "--sku", "WREN-BLK-M", "--quantity", "20", "--amount", "60"),
            *("--charge", "duty 9.00", "--charge", "entry_fee 2.00", "--dry-run"),
        ),
        once("customs"),
    ),
    "chemicals in a parcel": (
        ("receive", "--sku", "INK", "--quantity", "1", "--unit", "bottle", "--amount", "20", "--dry-run"),
        once("chemicals"),
    ),
}


@pytest.mark.parametrize("name", SCREENS)
def test_a_screen_has_its_cautions_once_and_no_others(shop: MonthShop, name: str) -> None:
    """What it shows calls for them; what it does not show does not."""
    words, expected = SCREENS[name]
    assert told(said(shop, *words)) == expected


@pytest.mark.parametrize(("kind", "expected"), [("duty", once("customs")), ("freight", once())])
def test_a_customs_bill_that_comes_later_has_its_caution(
    shop: MonthShop, kind: str, expected: dict[str, int]
) -> None:
    """As it would have with the goods; freight has none."""
    (lot,) = shop.data("lots", "WREN-BLK-M")
    receipt = str(lot["lot"]).split(".", maxsplit=1)[0]
    assert told(said(shop, "charge", f"{kind} 9.00 by value", "--on", receipt, "--dry-run")) == expected


@pytest.mark.parametrize(("charge", "customs"), [("duty 9.00 by value", 1), ("freight 9.00 by value", 0)])
def test_goods_from_abroad_bring_their_cautions_on_their_way(
    shop: MonthShop, charge: str, customs: int
) -> None:
    """Duty where it is paid; weight and chemicals where the cartons arrive."""
    order = order_number(shop)
    there = {"customs": customs} if customs else {}
    shipped = said(
        shop,
        "ship",
        order,
        "--date",
        "2026-03-10",
        "--on-board",
        "2026-03-11",
        "--charge",
        charge,
        "--dry-run",
    )
    assert told(shipped) == there
    arrived = said(
        shop,
        *("receive", "--order", order, "--shipped-on", "2026-03-10", "--on-board", "2026-03-11"),
        *("--date", "2026-03-30", "--charge", charge, "--dry-run"),
    )
    assert told(arrived) == there | once("lifting", "chemicals")


def test_a_carton_is_heavy_above_fifteen_kilograms() -> None:
    """Not at it, and not where the weight is not known."""
    assert arrival_cautions((), (15_000_000, None), ()) == []
    assert arrival_cautions((), (15_000_001,), ()) == [HEAVY]


def test_a_catalogue_sheet_says_what_its_items_call_for(shop: MonthShop) -> None:
    """Labels where no fibre content is given, children's sizes, and chemicals without a sheet."""
    head, adult, youth, ink, *_ = ITEMS.splitlines()
    bare = [
        row.replace(",100% cotton", ",").replace("Wren", "Owl").replace("Finch", "Lark")
        for row in (adult, youth)
    ]
    text = "\n".join([head, *bare, ink.replace("INK", "INK-TWO"), ""])
    sheet = shop.folder / "new-items.csv"
    sheet.write_text(text, encoding="utf-8")
    assert told(said(shop, "items", "load", str(sheet), "--yes")) == once("labels", "children", "chemicals")


def test_garments_added_with_a_receipt_call_for_their_labels(shop: MonthShop) -> None:
    """An invoice seldom says what its shirts are made of, and nobody loaded a sheet for them."""
    invoice = shop.folder / "invoice.csv"
    invoice.write_text(
        "Invoice no.,ML-9\nDate,03/28/2026\nStyle,Colour,Size,Quantity,Price,Amount\nOUZEL,Black,M,6,3.00,18.00\n",
        "utf-8",
    )
    words = (
        *("receive", str(invoice), "--profile", "one-row-per-size", "--party", "Mill Lane"),
        "--add-items",
    )
    assert told(said(shop, *words, "--dry-run")) == once("labels")


def test_duty_rates_are_loaded_with_the_caution(shop: MonthShop) -> None:
    """Where rates come in, not only where they are used."""
    assert told(load(shop, "duties", f"{RATES}added,6109,CN,7.5%,a ruling,2026-03-01\n")) == once("customs")


def test_a_months_files_have_the_tax_caution(shop: MonthShop) -> None:
    """Once on the page and in the csv files; in the workbook on the sheets that figures are taken from."""
    page, book, folder = (shop.folder / name for name in ("month.html", "month.xlsx", "month"))
    said(
        shop,
        "close",
        "2026-03",
        "--show",
        "--report",
        str(page),
        "--workbook",
        str(book),
        "--csv",
        str(folder),
    )
    assert told(read_page(page).words) == once("tax")
    assert told("\n".join(file.read_text("utf-8") for file in folder.iterdir())) == once("tax")
    sheets = sheets_of(book)
    assert {title: told(words) for title, words in sheets.items() if told(words)} == dict.fromkeys(
        ("Summary", "Tax lines", "Notes"), once("tax")
    )
    for title in ("Own use and gifts", "Late bills", "Write-downs to consider"):
        assert sheets[title].count("preparer") == 1, title


def test_the_page_of_the_stock_has_the_caution_about_chemicals(shop: MonthShop) -> None:
    """Beside what expires, and nowhere else on it."""
    page = shop.folder / "stock.html"
    said(shop, "stock", "--report", str(page))
    assert told(read_page(page).words) == once("chemicals")


@pytest.mark.parametrize(("what", "expected"), [("WREN", once("customs")), ("INK", once())])
def test_files_of_prices_have_the_customs_caution(
    shop: MonthShop, what: str, expected: dict[str, int]
) -> None:
    """Where anything comes from abroad, once in each file."""
    page, book = shop.folder / f"{what}.html", shop.folder / f"{what}.xlsx"
    said(
        shop, "compare", "--prices", what, "--quantity", "144", "--report", str(page), "--workbook", str(book)
    )
    assert told(read_page(page).words) == expected
    assert told("\n".join(sheets_of(book).values())) == expected


@pytest.mark.parametrize(("study", "expected"), [("abroad", once("customs")), ("home", once())])
def test_a_decision_and_its_files_have_the_customs_caution(
    shop: MonthShop, study: str, expected: dict[str, int]
) -> None:
    """On the screen, the page and in the workbook alike."""
    page, book = shop.folder / f"{study}.html", shop.folder / f"{study}.xlsx"
    source = str(shop.folder / f"{study}.toml")
    files = ("--report", str(page), "--workbook", str(book))
    assert told(said(shop, "compare", source, "--futures", "300", *files)) == expected
    assert told(read_page(page).words) == expected
    assert told("\n".join(sheets_of(book).values())) == expected


def test_a_decision_looked_back_at_has_the_customs_caution(shop: MonthShop) -> None:
    """It is decided again with estimates of the day."""
    said(shop, "compare", str(shop.folder / "abroad.toml"), "--futures", "300", "--keep", "--yes")
    assert told(said(shop, "review")) == once("customs")
    assert told(said(shop, "review", "1")) == once("customs")
