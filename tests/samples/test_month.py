"""The sample shop's months through the real command: every cost is the one worked out apart from it."""

from __future__ import annotations

import csv
import json
from collections import Counter, defaultdict
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any

import pytest
from toured_shop import TOLD, SampleShop, copy_of_toured_shop

from ledger.catalogue.bom_sheet import read_way
from ledger.catalogue.boms import WAYS
from ledger.intake.events import EVENTS

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
FIGURES: dict[str, Any] = json.loads((SAMPLES / "figures.json").read_text("utf-8"))
MONTH: dict[str, Any] = FIGURES["month"]
OVERSEAS: dict[str, Any] = FIGURES["receipts"][-1]
PRICES: list[dict[str, Any]] = json.loads((SAMPLES / "price-figures.json").read_text("utf-8"))["figures"]

IN = ("purchases", "charges", "labour")
"""The accounts that add to the stock; all others take from it."""

Leg = dict[str, Any]


@dataclass(frozen=True)
class Shop(SampleShop):
    """The sample shop, asked for data as well."""

    def data(self, *words: str) -> Any:
        """Run a reading command and return its JSON."""
        return json.loads(self(*words, "--json"))


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """The tour's book with every step of the tour posted."""
    return Shop(copy_of_toured_shop(tmp_path_factory.mktemp("tour") / "samples"))


@pytest.fixture(scope="module")
def legs(shop: Shop) -> dict[int, list[Leg]]:
    """The legs of every document of the month, by its number."""
    numbers = {row["document"] for row in MONTH["rows"]} | {job["document"] for job in MONTH["jobs"]}
    numbers.add(MONTH["count"]["document"])
    return {number: shop.data("show", str(number))["legs"] for number in sorted(numbers)}


def total(legs: list[Leg], account: str, sku: str = "") -> Decimal:
    """Return what the legs of an account come to, of one SKU where it is named."""
    found = [Decimal(leg["amount"]) for leg in legs if leg["account"] == account and sku in ("", leg["sku"])]
    return sum(found, Decimal(0))


def cost(row: dict[str, Any], legs: list[Leg], kind: str) -> Decimal:
    """Return what a row of the sheet cost by its document's legs."""
    on_hand = total(legs, "on hand", row["sku"])
    if row["event"] == "make":
        shares = {"abnormal": total(legs, "spoilage"), "normal": Decimal(0)}
        return shares.get(kind, on_hand)
    return on_hand if row["event"] in ("receive", "take_back", "charge") else -on_hand


def summed(rows: list[dict[str, Any]], key: str) -> Decimal:
    """Return the sum of one column."""
    return sum((Decimal(row[key]) for row in rows), Decimal(0))


def test_every_row_of_the_sheet_costs_what_the_figures_say(legs: dict[int, list[Leg]]) -> None:
    """To the cent, by the double entry of the document that the row became part of; freight goes to its lots."""
    sheet = list(csv.DictReader((SAMPLES / MONTH["events_file"]).read_text("utf-8").splitlines()))
    freight = {row["document"]: Decimal(row["cost"]) for row in MONTH["rows"] if row["event"] == "charge"}
    wrong = []
    received: dict[int, Decimal] = defaultdict(Decimal)
    for row in MONTH["rows"]:
        typed = sheet[row["row"] - 2]
        found = cost(row, legs[row["document"]], typed["kind"])
        if row["event"] == "receive":
            received[row["document"]] += Decimal(row["cost"]) - found
        elif (found, typed["event"], typed["date"]) != (Decimal(row["cost"]), row["event"], row["date"]):
            wrong.append((row, found))
    assert (wrong, sum(received.values())) == ([], sum(freight.values()))


def test_what_is_sent_back_is_credited_without_its_freight(legs: dict[int, list[Leg]]) -> None:
    """The credit is the shirts' invoice cost."""
    (row,) = [row for row in MONTH["rows"] if row["event"] == "send_back"]
    assert total(legs[row["document"]], "returned to supplier") == Decimal(row["credit"])


@pytest.mark.parametrize("job", MONTH["jobs"], ids=lambda job: f"{job['document']}-{job['sku']}")
def test_every_job_uses_and_costs_what_the_figures_say(job: dict[str, Any], shop: Shop) -> None:
    """Each component's quantity and cost, the labour, the total."""
    found = shop.data("cost", f"make {job['document']}")
    used = [(line["sku"], line["quantity"], line["cost"]) for line in found["components"] if line["sku"]]
    labour = summed([line for line in found["components"] if not line["sku"]], "cost")
    assert (used, labour, found["cost"]) == (
        [(part["sku"], part["quantity"], part["cost"]) for part in job["components"]],
        Decimal(job["labour"]),
        job["total"],
    )


def test_one_shirt_of_every_way_costs_what_the_figures_say(shop: Shop) -> None:
    """The job's cost per good piece, to a hundredth of a cent."""
    found = {
        each["bill"]: shop.data("cost", f"make {each['document']}")["cost_per_piece"]
        for each in MONTH["one_shirt_of_each_way"]
    }
    rounded = {
        bill: str(Decimal(amount).quantize(Decimal("0.0001"), rounding=ROUND_HALF_UP))
        for bill, amount in found.items()
    }
    assert rounded == {each["bill"]: each["cost_each"] for each in MONTH["one_shirt_of_each_way"]}


def test_the_accounts_come_to_what_the_figures_say(legs: dict[int, list[Leg]]) -> None:
    """Pieces sold, used, spoilage, own use and the others, over all documents of the month."""
    every = [leg for each in legs.values() for leg in each]
    found = {account: total(every, account) for account in MONTH["accounts"]}
    signed = {account: -amount if account in IN else amount for account, amount in found.items()}
    assert signed == {account: Decimal(amount) for account, amount in MONTH["accounts"].items()}


def test_the_count_finds_what_the_figures_say(legs: dict[int, list[Leg]]) -> None:
    """The differences by item, in quantity and money."""
    found: dict[str, tuple[Decimal, Decimal]] = {}
    for leg in legs[MONTH["count"]["document"]]:
        if leg["account"] == "on hand":
            before = found.get(leg["sku"], (Decimal(0), Decimal(0)))
            found[leg["sku"]] = (before[0] + Decimal(leg["quantity"]), before[1] + Decimal(leg["amount"]))
    assert found == {
        line["sku"]: (Decimal(line["difference"]), Decimal(line["amount"]))
        for line in MONTH["count"]["lines"]
        if line["difference"] != "0"
    }


def test_the_stock_at_the_months_end_is_what_the_figures_say(shop: Shop) -> None:
    """Quantity and value of every SKU."""
    keys = ("sku", "kind", "unit", "quantity", "value")
    found = sorted(tuple(row[key] for key in keys) for row in shop.data("stock", "--on", FIGURES["as_of"]))
    assert found == sorted(tuple(row[key] for key in keys) for row in MONTH["stock"]["items"])


def test_every_lot_holds_what_the_figures_say(shop: Shop) -> None:
    """What came in, what is left, and what both stand at; lots that are empty too."""
    keys = ("lot", "sku", "quantity_received", "quantity_on_hand", "landed_cost", "value_on_hand")
    found = sorted(tuple(row[key] for key in keys) for row in shop.data("lots", "--all"))
    assert found == sorted(tuple(row[key] for key in keys) for row in MONTH["lots"])


def with_year(told: dict[str, Any], figures: dict[str, Any]) -> dict[str, Any]:
    """Return what a month's statement tells of what the figures name, and of its year to date."""
    year = {key: told["year_to_date"][key] for key in figures["year_to_date"]}
    month = {key: told[key] for key in figures if key not in ("document", "year_to_date")}
    return {**month, "document": told["document"], "year_to_date": year}


@pytest.mark.parametrize("figures", FIGURES["closes"], ids=lambda figures: figures["month"])
def test_every_month_comes_to_what_the_figures_say(figures: dict[str, Any], shop: Shop) -> None:
    """Opening, what came in, closing with what is under way, the parts of the cost, the form, the year to date."""
    assert with_year(shop.data("close", figures["month"], "--show"), figures) == figures


@pytest.mark.parametrize("moment", ["at_the_month_end", "on_the_eve"])
def test_what_is_under_way_stands_at_what_the_figures_say(moment: str, shop: Shop) -> None:
    """At the invoice's part with its insurance at the month's end; on the eve of the arrival with its freight."""
    told = FIGURES["shipment"]
    rows = shop.data("stock", "--under-way", "--on", told[moment])
    found = {(row["sku"], row["quantity"], row["value"]) for row in rows}
    assert {row["shipment"] for row in rows} == {told["document"]}
    assert found == {(line["sku"], line["quantity"], line[f"value_{moment}"]) for line in told["lines"]}


@pytest.mark.parametrize(
    "charge", OVERSEAS["charges"], ids=lambda charge: f"{charge['document']}-{charge['kind']}"
)
def test_every_charge_on_the_overseas_shirts_is_spread_as_the_figures_say(
    charge: dict[str, Any], shop: Shop
) -> None:
    """Share by share: over what was sent while it is under way, over the good pieces once they are there."""
    number = str(charge["document"])
    found: dict[str, Decimal] = defaultdict(Decimal)
    for leg in shop.data("show", number)["legs"]:
        if leg["account"] in ("under way", "on hand"):
            found[leg["sku"]] += Decimal(leg["amount"])
    assert found == {line["sku"]: Decimal(line["charge_shares"][number]) for line in OVERSEAS["lines"]}


def test_nothing_is_under_way_once_the_shirts_are_there(shop: Shop) -> None:
    """The order is complete, with the two missing pieces."""
    (line,) = [line for line in OVERSEAS["lines"] if "normal" in line]
    assert shop.data("stock", "--under-way") == []
    assert (shop.data("order", str(FIGURES["shipment"]["order"]))["state"], line["normal"]) == (
        "complete",
        "2",
    )


def test_two_months_are_closed_and_march_is_open(shop: Shop) -> None:
    """What the tour leaves for the maker to close."""
    state = {row["month"]: row["closed"] for row in shop.data("months")}
    assert state == {each["month"]: each["document"] is not None for each in FIGURES["closes"]}


def test_the_tours_price_question_gives_the_sample_quotes_figure(shop: Shop) -> None:
    """The mill is cheapest for black shirts, at the landed cost worked out for the quotes."""
    (look,) = [look for look in TOLD.looks if "--prices" in look.command]
    quantity = look.command[look.command.index("--quantity") + 1]
    (figure,) = [each for each in PRICES if str(each["quantity"]) == quantity]
    first = shop.data(*look.command)["contenders"][0]
    assert (first["name"], first["total"], first["landed_per_unit"]) == (
        *(figure["offer"], figure["total"], figure["landed_per_unit"]),
    )


def test_whom_a_job_is_for_is_a_customer(shop: Shop) -> None:
    """The club is named first by a job, and is no supplier."""
    roles = {party["name"]: party["role"] for party in shop.data("suppliers")}
    assert roles["Larkhill Climbing Club"] == "customer"


def test_the_book_is_whole_after_the_month(shop: Shop) -> None:
    """Every check of the book holds."""
    assert shop.data("prove")["findings"] == []


@pytest.mark.parametrize("look", TOLD.looks, ids=lambda look: " ".join(look.command))
def test_every_look_of_the_tour_answers(look: Any, shop: Shop) -> None:
    """Also those that the tour does not print."""
    assert shop(*look.command).strip()


def test_the_tours_traced_lot_is_behind_its_traced_sale(shop: Shop) -> None:
    """The two looks tell one story: the lot that was bought in March is among what the club's shirts came from."""
    traced = [look.command[1] for look in TOLD.looks if look.command[0] == "trace"]
    assert traced[0] in shop("trace", traced[1])


def test_the_month_foots() -> None:
    """What was there, and came in, less what left, is what is there."""
    signed = [
        Decimal(amount) if account in IN else -Decimal(amount)
        for account, amount in MONTH["accounts"].items()
    ]
    assert Decimal(MONTH["opening_stock"]) + sum(signed) == Decimal(MONTH["stock"]["total"])


def test_the_months_follow_one_another() -> None:
    """Each opens with what the one before left, what is under way in it; the last ends with the shelf."""
    each = FIGURES["closes"]
    assert [one["opening_stock"] for one in each[1:]] == [one["closing_stock"] for one in each[:-1]]
    assert each[-1]["closing_stock"] == MONTH["stock"]["total"]
    under_way = sum(
        (Decimal(line["value_at_the_month_end"]) for line in FIGURES["shipment"]["lines"]), Decimal(0)
    )
    assert Decimal(each[1]["under_way"]) == under_way


def test_the_month_begins_where_the_receipts_end() -> None:
    """The stock before the sheet is what the receipts left on the shelf."""
    assert MONTH["opening_stock"] == FIGURES["stock"]["total"]


def test_the_lots_add_up_to_the_stock() -> None:
    """By SKU, in quantity and value, and in all."""
    lots: dict[str, list[Decimal]] = defaultdict(lambda: [Decimal(0), Decimal(0)])
    for lot in MONTH["lots"]:
        lots[lot["sku"]][0] += Decimal(lot["quantity_on_hand"])
        lots[lot["sku"]][1] += Decimal(lot["value_on_hand"])
    held = {sku: tuple(sums) for sku, sums in lots.items() if sums[0]}
    items = MONTH["stock"]["items"]
    assert (held, summed(items, "value")) == (
        {item["sku"]: (Decimal(item["quantity"]), Decimal(item["value"])) for item in items},
        Decimal(MONTH["stock"]["total"]),
    )


def test_every_job_adds_up() -> None:
    """Components and labour are the total."""
    wrong = [
        job["document"]
        for job in MONTH["jobs"]
        if summed(job["components"], "cost") + Decimal(job["labour"]) != Decimal(job["total"])
    ]
    assert wrong == []


def test_the_jobs_share_out_to_their_rows() -> None:
    """What the rows of a job say together is what the job cost."""
    by_row: Counter[int] = Counter()
    for row in MONTH["rows"]:
        if row["event"] == "make":
            by_row[row["document"]] += int(Decimal(row["cost"]) * 100)
    in_sheet = [job for job in MONTH["jobs"] if not job["made_to_order"]]
    assert by_row == {job["document"]: int(Decimal(job["total"]) * 100) for job in in_sheet}


def test_the_sheet_tells_every_event_but_opening() -> None:
    """A shop that begins with the book's first month has no opening stock."""
    assert {row["event"] for row in MONTH["rows"]} == set(EVENTS) - {"opening"}


def test_the_jobs_are_in_every_way() -> None:
    """All ways of decorating, the bought-in transfer among them."""
    assert {read_way(job["way"]) for job in MONTH["jobs"]} == set(WAYS)


def test_the_jobs_have_both_kinds_of_spoiled_pieces_and_paid_labour() -> None:
    """Normal, abnormal, and labour beyond the bill's."""
    jobs = MONTH["jobs"]
    kinds = (any(job["normal"] != "0" for job in jobs), any(job["abnormal"] != "0" for job in jobs))
    assert (*kinds, any(job["labour"] == "18.00" for job in jobs)) == (True, True, True)


def test_finished_shirts_are_sold_at_what_such_shirts_fetch() -> None:
    """18 to 28 dollars a piece; only decorating a customer's own garment is less."""
    sheet = csv.DictReader((SAMPLES / MONTH["events_file"]).read_text("utf-8").splitlines())
    prices = {
        row["sku"]: Decimal(row["amount"]) / Decimal(row["quantity"])
        for row in sheet
        if row["event"] == "sell"
    }
    odd = {sku: price for sku, price in prices.items() if not 18 <= price <= 28}
    assert odd == {"WAVES-OWN": 12}


@pytest.fixture(scope="module")
def unsuited(shop: Shop) -> Shop:
    """The shop with a bill that sublimates on cotton, of any colour."""
    bill = shop.folder / "unsuited.csv"
    bill.write_text(
        "bill,name,way,blank,finished,sku,per_piece,least_polyester,light_only\n"
        'TIDE,Tide,"sublimation, one panel",Wren,TIDE-{colour}-{size},PAP-SUB-A4,1,65,yes\n'
        "TIDE,,,,,INK-SUB-M,0.2,,\n",
        "utf-8",
    )
    shop("boms", "load", "unsuited.csv", "--yes")
    return shop


@pytest.mark.parametrize("words", [("boms", "show", "TIDE"), ("cost", "TIDE")], ids=lambda words: words[0])
@pytest.mark.parametrize(
    ("colour", "warned"),
    [("Black", (True, True)), ("White", (True, False))],
)
def test_a_bill_that_does_not_suit_its_blank_warns_where_it_is_shown(
    words: tuple[str, ...], colour: str, warned: tuple[bool, bool], unsuited: Shop
) -> None:
    """Too little polyester, and dark cloth."""
    out = unsuited(*words, "--colour", colour, "--size", "M")
    warnings = [line for line in out.splitlines() if line.startswith("Warning")]
    found = tuple(any(word in line for line in warnings) for word in ("polyester", "dark"))
    assert found == warned


@pytest.mark.parametrize(
    "words", [("boms", "show", "HARBOUR"), ("cost", "HARBOUR")], ids=lambda words: words[0]
)
@pytest.mark.parametrize(("today", "warned"), [("2026-04-18", False), ("2026-04-19", True)])
def test_a_bill_that_needs_expired_ink_warns_where_it_is_shown(
    words: tuple[str, ...], today: str, shop: Shop, *, warned: bool
) -> None:
    """The magenta is good until the end of 18 April."""
    out = shop(*words, "--colour", "White", "--size", "M", today=today)
    assert any("INK-SUB-M" in line and "expired" in line for line in out.splitlines()) == warned
