"""Published examples of purchases, returns and allowances through the real command, to the cent.

What belongs to the cost of goods, when they are the shop's, and what changes when they go back. The
comment above each example is its source. Prices are in whole currency units of the source.
"""

from __future__ import annotations

from decimal import Decimal

from published_shop import Shop


# second-hand, source not recorded; recomputed
def test_net_cost_of_purchases(shop: Shop) -> None:
    """110,000 less discounts of 15,000 and returns and allowances of 7,000, plus freight-in of 3,000: 91,000."""
    documents = shop.post(
        "2026-01-05,receive,GOODS,1000,,110000,,,AY-1,Alder Yard Blanks",
        "2026-01-05,charge,,,,15000,discount,Alder Yard Blanks/AY-1,,",
        "2026-01-05,charge,,,,3000,freight,Alder Yard Blanks/AY-1,,",
        "2026-01-06,send_back,GOODS,70,,7000,,Alder Yard Blanks/AY-1,,",
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
        "2026-01-05,receive,GOODS,500,,6000,,,AY-1,Alder Yard Blanks",
        "2026-01-06,send_back,GOODS,40,,,,Alder Yard Blanks/AY-1,,",
        "2026-01-15,charge,,,,276,discount,Alder Yard Blanks/AY-1,,",
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
        "2026-01-05,receive,GOODS,10,,100,,,AY-1,Alder Yard Blanks",
        "2026-01-05,charge,,,,20,other,Alder Yard Blanks/AY-1,,",
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
