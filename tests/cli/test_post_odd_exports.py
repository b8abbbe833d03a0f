"""Sales exports of odd layouts, from nothing but the file to the book, their sums worked out apart."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from small_shop import Commands, new_book

from ledger.book.connect import open_reading
from ledger.cli import aliases, boms, items, post, proving

ITEMS = (
    "sku,name,kind,unit,style,sizes,colours,ladder\n"
    ",Fox tee,finished,each,Fox,S-L,Black=BLK; White=WHT,adult\n"
    ",Owl tee,finished,each,Owl,S-L,Black=BLK,adult\n"
    "MUG-FOX,Fox mug,finished,each,,,,\n"
)
OPENED = ("FOX-BLK-S", "FOX-BLK-M", "FOX-WHT-M", "OWL-BLK-L", "MUG-FOX")
OPENING = "date,event,sku,quantity,amount\n" + "".join(f"2026-01-01,opening,{sku},50,200\n" for sku in OPENED)


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """`post` in a folder with a book that has fifty of each."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-06-01")
    book = new_book(tmp_path / "shop.blankbook")
    Path("items.csv").write_text(ITEMS, "utf-8")
    Path("opening.csv").write_text(OPENING, "utf-8")
    assert Commands(items.register, book)("items", "load", "items.csv", "--yes").code == 0
    command = Commands(post.register, book)
    assert command("post", "opening.csv", "--yes").code == 0
    return command


def teach(run: Commands, *names: tuple[str, str]) -> None:
    """Teach what the channel calls our items."""
    for word, sku in names:
        assert Commands(aliases.register, run.book)("aliases", "add", "Fair", word, sku).code == 0


def posted(run: Commands, name: str, *more: str) -> dict[str, Decimal]:
    """Post an export, check that the book is whole, and return what the export came to."""
    outcome = run("post", name, "--party", "Fair", "--yes", "--json", *more)
    assert outcome.code == 0, outcome.error
    assert Commands(proving.register, run.book)("prove").code == 0
    (total,) = outcome.data["sales"]["totals"]
    return {key: Decimal(total[key]) for key in ("items", "shipping", "fees", "paid_back", "in_all")}


def on_hand(run: Commands) -> dict[str, int]:
    """Return how many of each of our items the book has, those that are as they were left out."""
    connection = open_reading(run.book)
    try:
        rows = connection.execute("SELECT sku, quantity_milli / 1000 FROM balance").fetchall()
    finally:
        connection.close()
    return {sku: count for sku, count in rows if count != 50}


MOVEMENTS = """Statement of the fair

Booked\tKind\tOrder no.\tWhat\tChoice\tQty\tAmount (USD)\tBalance
04/13/2026\tSale\tH-1\tFox tee – “Night”\tBlack, M\t1\t22.00\t22.00
04/13/2026\tDelivery paid by buyer\tH-1\t\t\t\t4.95\t26.95
04/13/2026\tCommission\tH-1\t\t\t\t-1.43\t25.52
04/13/2026\tPayment processing fee\tH-1\t\t\t\t-0.91\t24.61
04/14/2026\tSale\tH-2\tOwl tee\tBlack, L\t2\t44.00\t68.61
04/14/2026\tCommission\tH-2\t\t\t\t-2.86\t65.75
04/14/2026\tListing fee\t\tOwl tee\t\t\t-0.20\t65.55
04/15/2026\tShipping label\tH-2\tLabel bought\t\t\t-4.10\t61.45
04/20/2026\tRefund\tH-1\t\t\t\t-5.00\t56.45
04/21/2026\tReturn\tH-2\tOwl tee\tBlack, L\t-1\t-22.00\t34.45
04/21/2026\tCommission\tH-2\t\t\t\t1.43\t35.88
04/22/2026\tPayout\t\t\t\t\t-30.00\t5.88
"""
FAIR_NAMES = (("Fox tee – “Night” | Black, M", "FOX-BLK-M"), ("Owl tee | Black, L", "OWL-BLK-L"))


def test_a_list_of_money_movements_is_posted(run: Commands) -> None:
    """Fees, shipping, refunds and returns in rows of their own, parted by tabs, in Windows-1252."""
    Path("fair.txt").write_bytes(MOVEMENTS.replace("\n", "\r\n").encode("cp1252"))
    teach(run, *FAIR_NAMES)
    found = posted(run, "fair.txt", "--accept")
    amounts = {
        "in": ("22.00", "44.00", "4.95"),
        "out": ("-1.43", "-0.91", "-2.86", "-5.00", "-22.00", "1.43"),
    }
    assert found["in_all"] == sum(Decimal(each) for side in amounts.values() for each in side)
    assert (found["items"], found["fees"], found["paid_back"]) == (66, Decimal("3.77"), 27)
    assert on_hand(run) == {"FOX-BLK-M": 49, "OWL-BLK-L": 49}


def test_a_list_that_overlaps_an_earlier_one_adds_what_is_new(run: Commands) -> None:
    """The April rows are known again, with their fees; the one of May is posted."""
    Path("fair.txt").write_bytes(MOVEMENTS.encode("cp1252"))
    teach(run, *FAIR_NAMES)
    posted(run, "fair.txt", "--accept")
    more = (
        "05/02/2026\tSale\tH-3\tOwl tee\tBlack, L\t3\t66.00\t\n05/02/2026\tCommission\tH-3\t\t\t\t-4.29\t\n"
    )
    Path("fair2.txt").write_bytes((MOVEMENTS + more).encode("cp1252"))
    assert posted(run, "fair2.txt")["in_all"] == Decimal("66.00") - Decimal("4.29")
    assert on_hand(run) == {"FOX-BLK-M": 49, "OWL-BLK-L": 46}


SHOP = (
    "Order number;Order date;Payment status;Item name;Options;Item SKU;Quantity;Item price;Discount amount;"
    "Shipping;Total;Refunded amount;Delivery address\r\n"
    'W-100;03.05.2026;Paid;Fox tee;"Black / M";FOX-BLK-M;2;22,00;4,00;4,95;55,95;;"Anna M\xfcller\r\nNorwell"\r\n'
    "W-100;;;Fox mug;;MUG-FOX;1;11,00;;;;;\r\n"
    'W-101;04.05.2026;Paid;Owl tee;"Black / L";OWL-BLK-L;1;24,00;;4,95;28,95;12,00;"part ""of"" it"\r\n'
    'W-102;05.05.2026;Cancelled;Owl tee;"Black / L";OWL-BLK-L;1;24,00;;4,95;28,95;28,95;\r\n'
    'W-103;14.05.2026;Refunded;Fox tee;"White / M";FOX-WHT-M;1;1.022,00;;0,00;1.022,00;22,00;\r\n'
)


def test_a_web_shops_orders_of_several_rows_are_posted(run: Commands) -> None:
    """Date and status on an order's first row alone, decimal commas, line breaks in quotation marks."""
    Path("web.csv").write_bytes(SHOP.encode("cp1252"))
    said = ("--as", "discount to take off", "--as", "refunds on sale date")
    found = posted(run, "web.csv", "--accept", *said)
    items_sold = 2 * Decimal(22) - 4 + 11 + 24 + 1022
    assert found["items"] == items_sold
    assert found["in_all"] == items_sold + 2 * Decimal("4.95") - 12 - 22
    assert on_hand(run) == {"FOX-BLK-M": 48, "MUG-FOX": 49, "OWL-BLK-L": 49, "FOX-WHT-M": 49}


STALL = (
    "Sold on,Order ref,Listing,Variation,Units,Price each,Postage,Selling fee,Card fee,Tax collected,Buyer note\n"
    "2026-05-20,Q-9,Owl tee,Black / L,1,-6.00,,0.39,,,\n"
    '2026-05-19,Q-8,Fox tee,White / M,-1,-22.00,-4.95,1.43,0.20,-1.76,"came back\nunworn"\n'
    '2026-05-12,Q-9,Owl tee,Black / L,2,24.00,4.95,-3.12,-0.66,4.23,"gift, ""wrap"""\n'
    "2026-05-11,Q-8,Fox tee,White / M,1,22.00,4.95,-1.43,-0.90,2.16,\n"
    "2026-05-11,Q-7,Fox tee,Black / S,3,22.00,4.95,-4.29,-1.90,5.28,\n"
    "2026-05-11,Q-7,Fox mug,,1,11.00,4.95,-0.72,0.00,0.88,\n"
    "Totals,,,,7,,15.00,,,,\n"
)
STALL_NAMES = (
    ("Owl tee | Black / L", "OWL-BLK-L"),
    ("Fox tee | White / M", "FOX-WHT-M"),
    ("Fox tee | Black / S", "FOX-BLK-S"),
    ("Fox mug", "MUG-FOX"),
)


def test_an_export_that_tells_by_signs_is_posted(run: Commands) -> None:
    """Newest first, no types, fees with a minus and given back with a plus, a row of totals."""
    Path("stall.csv").write_text(STALL, "utf-8")
    teach(run, *STALL_NAMES)
    said = ("tax apart", "money below zero is refund", "per order shipping")
    found = posted(run, "stall.csv", "--accept", *(word for line in said for word in ("--as", line)))
    sold = 2 * Decimal(24) + 22 + 3 * Decimal(22) + 11
    fees = sum(map(Decimal, ("3.12", "0.66", "1.43", "0.90", "4.29", "1.90", "0.72")))
    fees_back = sum(map(Decimal, ("0.39", "1.43", "0.20")))
    shipping = 3 * Decimal("4.95") - Decimal("4.95")
    assert (found["items"], found["fees"], found["shipping"]) == (sold, fees - fees_back, shipping)
    assert found["in_all"] == sold + shipping - (fees - fees_back) - 6 - 22
    assert on_hand(run) == {"OWL-BLK-L": 48, "FOX-BLK-S": 47, "MUG-FOX": 49}


def test_an_export_that_tells_by_signs_asks_what_they_do_not_tell(run: Commands) -> None:
    """Whether tax is inside, whether goods came back, whether the postage counts once."""
    Path("stall.csv").write_text(STALL, "utf-8")
    outcome = run("post", "stall.csv", "--party", "Fair", "--accept", "--yes")
    assert "3 questions are open" in str(outcome.error)


def test_a_plain_profile_reads_a_list_of_money_movements(run: Commands) -> None:
    """The carried one, with its types, and the names that the book has learned."""
    rows = (
        '2026-04-13,Sale,H-1,Fox tee,"Black, M",1,22.00\n2026-04-13,Commission,H-1,,,,-1.43\n'
        "2026-04-14,Chargeback,H-1,,,,-22.00\n2026-04-15,Subscription,,,,,-5.00\n"
    )
    Path("fair.csv").write_text(f"Date,Type,Order,Item,Options,Qty,Amount\n{rows}", "utf-8")
    teach(run, ("Fox tee | Black, M", "FOX-BLK-M"))
    found = posted(run, "fair.csv", "--profile", "sales-one-row-per-movement")
    assert found["in_all"] == Decimal("22.00") - Decimal("1.43") - Decimal("22.00")


def test_the_next_size_of_a_listing_needs_no_teaching(run: Commands) -> None:
    """The words of the one that was taught are known in the other."""
    teach(run, ("Night fox | Black, M", "FOX-BLK-M"))
    text = 'Order,Date,Item,Options,Qty,Amount\n1,2026-04-13,Night fox,"Black, S",2,44.00\n'
    Path("fair.csv").write_text(text, "utf-8")
    posted(run, "fair.csv", "--accept")
    assert on_hand(run) == {"FOX-BLK-S": 48}


def test_what_no_job_has_made_yet_can_be_taught(run: Commands) -> None:
    """It is made to order when the export is posted."""
    Path("blank.csv").write_text(
        "sku,name,kind,unit,style,colour,size\nRAW-BLK-M,Raw,blank,each,RAW,Black,M\n", "utf-8"
    )
    bill = (
        "bill,name,way,blank,finished,sku,per_piece\nSUN,Sun,screen print,RAW,SUN-{colour}-{size},MUG-FOX,1\n"
    )
    Path("bills.csv").write_text(bill, "utf-8")
    opening = "date,event,sku,quantity,amount\n2026-01-01,opening,RAW-BLK-M,9,18\n"
    Path("more.csv").write_text(opening, "utf-8")
    assert Commands(items.register, run.book)("items", "load", "blank.csv", "--yes").code == 0
    loaded = Commands(boms.register, run.book)("boms", "load", "bills.csv", "--yes")
    assert loaded.code == 0, loaded.error
    assert run("post", "more.csv", "--yes").code == 0
    teach(run, ("Sun shirt", "SUN-BLK-M"))
    text = "Order,Date,Item,Qty,Amount\n1,2026-04-13,Sun shirt,2,44.00\n"
    Path("fair.csv").write_text(text, "utf-8")
    posted(run, "fair.csv", "--accept")
    assert (on_hand(run)["RAW-BLK-M"], on_hand(run)["MUG-FOX"]) == (7, 48)
