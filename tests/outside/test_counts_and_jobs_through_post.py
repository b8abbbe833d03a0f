"""Published examples of counts, write-downs and jobs through the real command, to the cent.

What a shortage or a lower value costs, and how materials, labour and losses flow into what is made. The
comment above each example is its source. Prices are in whole currency units of the source.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from published_shop import Shop, units


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
