"""Published first-in, first-out, return, count and job examples through the real command, to the cent.

Each example is an events sheet that `post` posts into a new book, in processes of their own; what it
costs is read from `post --json` and `show --json`, what is left from `stock --json`. The comment
above each example is its source. Prices are in whole currency units of the source.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from command_line import Runner

HEADINGS = "date,event,sku,quantity,unit,amount,kind,applies_to,reference,party"

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


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Runner:
    """A book that knows the items and bills of the examples, made by the command."""
    folder = tmp_path_factory.mktemp("published")
    run = Runner(folder, folder / "shop.blankbook", {"BLANKBOOK_TODAY": "2026-12-31"})
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


@pytest.fixture
def shop(template: Runner, tmp_path: Path) -> Shop:
    """The real command, with a new book that knows the items."""
    assert template.book is not None
    book = tmp_path / "shop.blankbook"
    book.write_bytes(template.book.read_bytes())
    return Shop(Runner(tmp_path, book, template.variables))


@dataclass(frozen=True)
class Example:
    """A published example: rows (day, event, quantity, amount), and what its source says."""

    rows: Sequence[tuple[str, str, int, int]]
    costs: Sequence[int]
    left: tuple[int, int]
    revenue: int = 0
    sku: str = "GOODS"
    unit: str = "each"
    gross_profit: int | None = field(default=None)

    def sheet(self) -> list[str]:
        """The rows as an events sheet has them; each has a reference of its own."""
        return [
            f"2026-{day},{event},{self.sku},{quantity},{self.unit},{amount or ''},,,row {number},"
            for number, (day, event, quantity, amount) in enumerate(self.rows, start=1)
        ]


FIFO = {
    # Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 9.1.
    "two shirts": Example(
        rows=[("01-05", "receive", 1, 50), ("01-06", "receive", 1, 70), ("01-07", "sell", 1, 110)],
        costs=[50],
        left=(1, 70),
        gross_profit=60,
    ),
    # Source: Hoyle & Skender, Financial Accounting, Saylor open text, sections 9.4 and 9.5.
    "bathtubs, perpetual": Example(
        rows=[
            ("01-01", "opening", 4, 4 * 110),
            ("02-02", "sell", 3, 600),
            ("02-06", "receive", 3, 3 * 120),
            ("06-08", "sell", 3, 750),
            ("06-13", "receive", 3, 3 * 130),
            ("09-09", "sell", 2, 600),
            ("09-22", "receive", 2, 2 * 149),
        ],
        costs=[330, 350, 250],
        left=(4, 558),
        gross_profit=1_020,
    ),
    # Source: Hoyle & Skender, Financial Accounting, Saylor open text, sections 9.4 and 9.5.
    "bathtubs, periodic": Example(
        rows=[
            ("01-01", "opening", 4, 4 * 110),
            ("02-06", "receive", 3, 3 * 120),
            ("06-13", "receive", 3, 3 * 130),
            ("09-22", "receive", 2, 2 * 149),
            ("12-31", "sell", 8, 1_950),
        ],
        costs=[930],
        left=(4, 558),
        gross_profit=1_020,
    ),
    # Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 9.3.
    "petrol": Example(
        rows=[
            ("01-01", "opening", 10_000, 10_000),
            ("01-05", "receive", 1_000_000, 2_000_000),
            ("01-06", "sell", 1_000_000, 0),
        ],
        costs=[1_990_000],
        left=(10_000, 20_000),
    ),
    # second-hand, source not read
    "four purchases, 107 sold": Example(
        rows=[
            ("01-05", "receive", 13, 13 * 117),
            ("01-06", "receive", 46, 46 * 120),
            ("01-07", "receive", 60, 60 * 121),
            ("01-08", "receive", 21, 21 * 122),
            ("01-09", "sell", 107, 0),
        ],
        costs=[12_849],
        left=(33, 4_014),
    ),
    # second-hand, source not read
    "four purchases, 880 sold": Example(
        rows=[
            ("01-05", "receive", 200, 2_000),
            ("01-06", "receive", 350, 5_250),
            ("01-07", "receive", 450, 9_000),
            ("01-08", "receive", 100, 2_500),
            ("01-09", "sell", 880, 35_200),
        ],
        costs=[13_850],
        left=(220, 4_900),
        gross_profit=21_350,
    ),
    # second-hand, source not read
    "four purchases, 80 left": Example(
        rows=[
            ("01-05", "receive", 50, 50 * 124),
            ("01-06", "receive", 50, 50 * 134),
            ("01-07", "receive", 30, 30 * 142),
            ("01-08", "receive", 70, 70 * 146),
            ("01-31", "sell", 120, 0),
        ],
        costs=[15_740],
        left=(80, 11_640),
    ),
    # from memory (it is in OpenStax, Principles of Accounting 1, section 10.3)
    "two sales between three purchases": Example(
        rows=[
            ("01-05", "receive", 150, 150 * 21),
            ("01-06", "sell", 120, 0),
            ("01-07", "receive", 225, 225 * 27),
            ("01-08", "sell", 180, 0),
            ("01-09", "receive", 210, 210 * 33),
        ],
        costs=[2_520, 4_680],
        left=(285, 8_955),
    ),
}


def units(amount: int) -> str:
    """An amount in whole currency units as JSON has it."""
    return f"{amount}.00"


@pytest.mark.parametrize("example", FIFO.values(), ids=FIFO)
def test_published_first_in_first_out(shop: Shop, example: Example) -> None:
    """Every sale costs, and what is left is worth, what the source says; so does the gross profit."""
    sales = [document for document in shop.post(*example.sheet()) if document["event"] == "sale"]
    assert [sale["cost"] for sale in sales] == [units(cost) for cost in example.costs]
    assert shop.entry(sales[-1], "pieces sold")[1] == example.costs[-1]
    quantity, value = example.left
    assert shop.on_hand() == {example.sku: (str(quantity), units(value))}
    if example.gross_profit is not None:
        profit = sum(Decimal(sale["amount"]) - Decimal(sale["cost"]) for sale in sales)
        assert profit == example.gross_profit


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, sections 9.4 and 9.5.
def test_bathtubs_left_are_the_two_youngest_lots(shop: Shop) -> None:
    """Two at 130 and two at 149 are left."""
    shop.post(*FIFO["bathtubs, perpetual"].sheet())
    lots = [(lot["quantity_on_hand"], lot["value_on_hand"]) for lot in shop.answer("lots", "GOODS")]
    assert lots == [("2", "260.00"), ("2", "298.00")]


# Source of the purchases and the sale: Walther, Current Assets. The answer: from memory
def test_three_fills_by_weight(shop: Shop) -> None:
    """Three fills of 100 lb for 100, 110 and 120; 160 lb sold cost 166, what is left is worth 164."""
    documents = shop.post(
        "2026-01-05,receive,POWDER,100,lb,100,,,fill 1,",
        "2026-01-06,receive,POWDER,100,lb,110,,,fill 2,",
        "2026-01-07,receive,POWDER,100,lb,120,,,fill 3,",
        "2026-01-08,sell,POWDER,160,lb,,,,,",
    )
    assert (documents[-1]["cost"], shop.on_hand()["POWDER"][1]) == ("166.00", "164.00")


# second-hand, source not recorded; recomputed
def test_net_cost_of_purchases(shop: Shop) -> None:
    """110,000 less discounts of 15,000 and returns and allowances of 7,000, plus freight-in of 3,000: 91,000."""
    documents = shop.post(
        "2026-01-05,receive,GOODS,1000,,110000,,,INV-1,Alder Yard Blanks",
        "2026-01-05,charge,,,,15000,discount,Alder Yard Blanks/INV-1,,",
        "2026-01-05,charge,,,,3000,freight,Alder Yard Blanks/INV-1,,",
        "2026-01-06,send_back,GOODS,70,,7000,,Alder Yard Blanks/INV-1,,",
    )
    back = next(one for one in documents if one["event"] == "send back")
    assert shop.entry(back, "returned to supplier") == (70, 7000)
    bought = sum(
        -shop.entry(one, account)[1]
        for one in documents
        for account in ("purchases", "charges", "returned to supplier")
    )
    assert bought == 91_000


# second-hand, source not recorded; recomputed
def test_a_return_to_the_supplier_before_the_cash_discount(shop: Shop) -> None:
    """500 at 12, 40 sent back: 5,520 is owed; less the discount of 276, 5,244 is paid.

    The source has 460 pieces at 11.40. A discount typed for the whole receipt lies on all 500 of it,
    as our rules have it: the 40 take 22.08 of it along, which is told as a supplier price difference.
    """
    documents = shop.post(
        "2026-01-05,receive,GOODS,500,,6000,,,INV-1,Alder Yard Blanks",
        "2026-01-06,send_back,GOODS,40,,,,Alder Yard Blanks/INV-1,,",
        "2026-01-15,charge,,,,276,discount,Alder Yard Blanks/INV-1,,",
    )
    receipt, back, discount = documents
    owed = -shop.entry(receipt, "purchases")[1] - shop.entry(back, "returned to supplier")[1]
    assert (owed, owed - shop.entry(discount, "charges")[1]) == (5520, 5244)
    difference = shop.entry(back, "supplier price differences")[1]
    assert (difference, Decimal(shop.on_hand()["GOODS"][1]) + difference) == (
        Decimal("-22.08"),
        460 * Decimal("11.40"),
    )


# second-hand, source not read
def test_sales_return_comes_back_at_its_original_cost(shop: Shop) -> None:
    """Of 1,500 sold out of 3,000 at 12, 150 come back: stock goes up by 1,800."""
    back = shop.post(
        "2026-01-05,receive,GOODS,3000,,36000,,,,",
        "2026-01-06,sell,GOODS,1500,,,,,A-1,",
        "2026-01-07,take_back,GOODS,150,,,,,A-1,",
    )[-1]
    assert shop.entry(back, "on hand") == (150, 1800)
    assert shop.on_hand() == {"GOODS": ("1650", "19800.00")}


# second-hand, source not read. The rule is the source's; the figures are our own.
def test_an_allowance_on_goods_the_customer_keeps_changes_no_stock(shop: Shop) -> None:
    """Money goes back, and neither quantity nor value of the stock moves."""
    sold = ("2026-01-05,receive,GOODS,3000,,36000,,,,", "2026-01-06,sell,GOODS,1500,,30000,,,A-1,")
    shop.post(*sold)
    before = shop.on_hand()
    refund = shop.post("2026-01-07,refund,GOODS,,,500,,,A-1,")[-1]
    assert (shop.on_hand(), shop.answer("show", str(refund["document"]))["legs"]) == (before, [])


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 8.3. The rule is the
# source's: bought free on board destination, goods are the buyer's when they arrive. Days moved.
def test_goods_bought_free_on_board_destination_are_stock_once_they_arrive(shop: Shop) -> None:
    """Shipped before the end of the month and received after it: not in the month's stock."""
    shop.post("2026-02-04,receive,GOODS,10,,100,,,,")
    assert (shop.on_hand("--on", "2026-01-31"), shop.on_hand("--on", "2026-02-04")) == (
        {},
        {"GOODS": ("10", "100.00")},
    )


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 8.1: a repair needed for the
# sale and known at purchase is cost; the same repair caused by carelessness is an expense.
# The rule is the source's; the figures are our own.
def test_what_was_known_at_purchase_is_cost_and_carelessness_an_expense(shop: Shop) -> None:
    """A repair billed with the goods raises their cost; a piece ruined later leaves the others' alone."""
    documents = shop.post(
        "2026-01-05,receive,GOODS,10,,100,,,INV-1,Alder Yard Blanks",
        "2026-01-05,charge,,,,20,other,Alder Yard Blanks/INV-1,,",
        "2026-01-06,spoil,GOODS,1,,,abnormal,,,",
    )
    spoiled = next(one for one in documents if one["event"] == "spoil")
    assert (shop.entry(spoiled, "spoilage"), shop.on_hand()) == ((1, 12), {"GOODS": ("9", "108.00")})


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 7.5.
def test_a_foreign_invoice_stays_at_the_rate_of_its_purchase(shop: Shop) -> None:
    """100,000 at 0.08 are 8,000, whatever a later invoice is converted at."""
    sheet = shop.run.folder / "foreign.csv"
    sheet.write_text(
        "date,event,sku,quantity,amount,currency,rate\n"
        "2026-01-05,receive,FIRST,1,100000,MXN,0.08\n"
        "2026-02-05,receive,SECOND,1,1000,MXN,0.09\n",
        encoding="utf-8",
    )
    done = shop.run("post", "foreign.csv", "--yes", "--json")
    assert (done.returncode, shop.on_hand()) == (
        0,
        {"FIRST": ("1", "8000.00"), "SECOND": ("1", "90.00")},
    )


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 8.5.
def test_count_below_the_book_is_a_loss_at_cost(shop: Shop) -> None:
    """65 at 70 in the book, 63 counted: 140 is lost."""
    count = shop.post("2026-01-05,receive,GOODS,65,,4550,,,,", "2026-01-31,count,GOODS,63,,,,,,")[-1]
    assert (count["cost"], shop.entry(count, "count differences")) == ("140.00", (2, 140))
    assert shop.on_hand() == {"GOODS": ("63", "4410.00")}


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 8.4.
@pytest.mark.parametrize(("cost", "loss", "left"), [(260, 50, 210), (380, 30, 350), (560, 80, 480)])
def test_write_down_takes_the_loss_off_the_cost(shop: Shop, cost: int, loss: int, left: int) -> None:
    """What is worth less than it cost is carried at the lower value."""
    document = shop.post(
        f"2026-01-05,receive,GOODS,1,,{cost},,,,", f"2026-01-31,write_down,GOODS,,,{loss},,,,"
    )[-1]
    assert shop.entry(document, "write-downs") == (0, loss)
    assert shop.on_hand() == {"GOODS": ("1", units(left))}


# from memory (it is in IRS Publication 538, on lower of cost or market)
def test_lower_of_cost_and_market_is_taken_item_by_item(shop: Shop) -> None:
    """300 against 500, 200 against 100, 450 against 200: 600 in all."""
    shop.post(
        "2026-01-05,receive,FIRST,1,,300,,,,",
        "2026-01-05,receive,SECOND,1,,200,,,,",
        "2026-01-05,receive,THIRD,1,,450,,,,",
        "2026-01-31,write_down,SECOND,,,100,,,,",
        "2026-01-31,write_down,THIRD,,,250,,,,",
    )
    assert sum(Decimal(value) for _, value in shop.on_hand().values()) == 600


# Source: Heisinger & Hoyle, Managerial Accounting, Saylor open text, sections 2.2 and 2.3.
def test_job_50_costs_its_materials_labour_and_overhead(shop: Shop) -> None:
    """Materials of 240 and 130, labour 90, overhead 180: the job costs 640.

    The book knows no overhead of a job: it is typed with the labour here.
    """
    job = shop.post(
        "2026-01-05,receive,WOOD,1,,240,,,,",
        "2026-01-05,receive,FABRIC,1,,130,,,,",
        f"2026-01-06,make,DESK-M,1,,{90 + 180},,,job 50,",
    )[-1]
    assert shop.entry(job, "labour") == (0, -270)
    assert shop.on_hand() == {"DESK-M": ("1", "640.00")}


# Source: Heisinger & Hoyle, Managerial Accounting, Saylor open text, section 1.8.
def test_materials_flow_into_work(shop: Shop) -> None:
    """25,000 and 15,000 less 19,000 left are 21,000 used, 3,000 of it outside the jobs."""
    documents = shop.post(
        "2026-01-01,opening,INPUT,25,,25000,,,,",
        "2026-01-05,receive,INPUT,15,,15000,,,,",
        "2026-01-20,make,OUTPUT-M,18,,,,,,",
        "2026-01-21,use,INPUT,3,,,,,,",
        "2026-01-31,count,INPUT,19,,,,,,",
    )
    cost = {one["event"]: one["cost"] for one in documents}
    on_hand = shop.on_hand()
    assert (on_hand["OUTPUT-M"][1], cost["use"], cost["count"], on_hand["INPUT"][1]) == (
        "18000.00",
        "3000.00",
        "0.00",
        "19000.00",
    )


# Source: Heisinger & Hoyle, Managerial Accounting, Saylor open text, section 1.8.
def test_finished_goods_flow_into_what_is_sold(shop: Shop) -> None:
    """90,000 there and 161,000 made less 116,000 left are 135,000 of pieces sold.

    Of the work in process (35,000 there, 154,000 put in, 28,000 left) the book keeps nothing between
    jobs: what goes into the job here are the 161,000 of the work that was finished.
    """
    sale = shop.post(
        "2026-01-01,opening,OUTPUT-M,90,,90000,,,,",
        "2026-01-05,receive,INPUT,161,,161000,,,,",
        "2026-01-20,make,OUTPUT-M,161,,,,,,",
        "2026-01-21,sell,OUTPUT-M,135,,,,,,",
    )[-1]
    assert (sale["cost"], shop.on_hand()) == ("135000.00", {"OUTPUT-M": ("116", "116000.00")})


# Source: ACCA F2, Management Accounting, text on process costing, normal and abnormal loss.
def test_normal_loss_is_borne_by_the_good_pieces(shop: Shop) -> None:
    """1,000 in for 20,700, of which 100 are lost as usual: 900 good ones at 23.00."""
    job = shop.post(
        "2026-01-05,receive,INPUT,1000,,20700,,,,",
        "2026-01-06,make,OUTPUT-M,900,,,good,,batch 1,",
        "2026-01-06,make,OUTPUT-M,100,,,normal,,batch 1,",
    )[-1]
    stock = shop.answer("stock")
    assert [(row["quantity"], row["value"], row["unit_cost"]) for row in stock] == [
        ("900", "20700.00", "23.000000")
    ]
    assert shop.entry(job, "spoilage") == (0, 0)


# Source: ACCA F2, Management Accounting, text on process costing, normal and abnormal loss.
def test_abnormal_loss_is_expensed_at_the_cost_of_a_good_piece(shop: Shop) -> None:
    """20,700 less 180 for scrap over 900: 800 good at 22.80 are 18,240, 100 lost beyond the usual 2,280."""
    job = shop.post(
        f"2026-01-05,receive,INPUT,1000,,{20_700 - 180},,,,",
        "2026-01-06,make,OUTPUT-M,800,,,good,,batch 1,",
        "2026-01-06,make,OUTPUT-M,100,,,normal,,batch 1,",
        "2026-01-06,make,OUTPUT-M,100,,,abnormal,,batch 1,",
    )[-1]
    assert shop.on_hand() == {"OUTPUT-M": ("800", "18240.00")}
    assert shop.entry(job, "spoilage") == (100, 2280)
