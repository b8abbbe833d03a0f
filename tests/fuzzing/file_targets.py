"""Every reader of files as a target: workbooks, texts, pasted tables and TOML, as the commands read them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache, partial
from pathlib import Path
from random import Random
from typing import Any

from book_builder import NOW, TODAY
from fuzz_book import FIRST, Target, book, put
from hostile_bytes import hostile_table, hostile_workbook, made_workbook
from hostile_words import changed

from ledger.book.connect import trial_tx
from ledger.book.posting import post_entries
from ledger.errors import BlankbookError, InputErrors
from ledger.intake import boms_file, duties_file, items_file, quotes_file, suppliers_file
from ledger.intake.count_sheet_reading import count_day, read_count_sheet
from ledger.intake.events_file import read_events
from ledger.intake.marked_copy import marked_copy
from ledger.intake.profile import load_profile
from ledger.intake.proposal import CatalogueWords
from ledger.intake.propose import propose_profile
from ledger.intake.propose_sales import propose_sales
from ledger.intake.read_file import read_content, read_pasted
from ledger.intake.read_sales import read_sales
from ledger.intake.read_shipment import ShipmentOptions, read_shipment
from ledger.intake.resolve_events import EventOptions, resolve_events
from ledger.intake.sales_profile import load_sales_profile
from ledger.intake.sales_rows import SalesOptions
from ledger.intake.study_file import read_content as read_study_tables
from ledger.intake.study_file import study_from
from ledger.intake.table import SourceFile
from ledger.intake.write_profile import proposal_text

ROOT = Path(__file__).resolve().parents[2]
EVENTS = [
    "date",
    "event",
    "sku",
    "quantity",
    "amount",
    "party",
    "reference",
    "applies_to",
    "kind",
    "unit",
    "currency",
    "rate",
    "basis",
    "lot",
    "tax_paid",
    "expires_on",
    "shipping",
    "fees",
    "note",
]
SHIPMENT = [
    "Style",
    "Colour",
    "Size",
    "Qty",
    "Unit price",
    "Amount",
    "Unit",
    "Disc %",
    "Item",
    "Cartons",
    "Per carton",
]
SALES = [
    "Date",
    "Order",
    "Line",
    "SKU",
    "Title",
    "Pieces",
    "Item total",
    "Variant",
    "Shipping",
    "Fees",
    "Refunded",
    "Type",
]
ITEMS = [
    "sku",
    "name",
    "kind",
    "unit",
    "style",
    "colour",
    "size",
    "sizes",
    "colours",
    "sku_pattern",
    "fibre",
    "weight_g",
    "packs",
    "tax_class",
]
SUPPLIERS = ["name", "role", "country", "currency", "terms", "note"]
BILLS = [
    "bill",
    "name",
    "way",
    "blank",
    "finished",
    "sku",
    "per_piece",
    "per_run",
    "unit",
    "waste",
    "uses",
    "colours",
]
QUOTES = [
    "supplier",
    "offer",
    "sku",
    "style",
    "sizes",
    "prices",
    "unit",
    "currency",
    "minimum",
    "terms",
    "origin",
    "lead_days",
    "deposit",
    "prepack",
]
DUTIES = ["program", "customs_class", "origin", "rate", "from", "until", "source", "checked_on", "example"]
COUNTS = ["sku", "counted", "unit", "note"]

SALES_ROWS = (
    "Date,Order,SKU,Title,Pieces,Item total,Shipping,Fees\n"
    "2026-03-04,A-1,TEE-SAND-M,Fox tee,2,48.00,4.75,2.26\n2026-03-05,A-2,TEE-SAND-M,Owl tee,1,24.00,,1.10\n"
)
BILL = (
    "bill,name,way,blank,finished,sku,per_piece,per_run\n"
    "FOX,A fox,direct to film,Alder,FOX-{colour}-{size},FILM-A3,1,\nFOX,,,,,INK-CYAN,,5\n"
)
OFFERED = (
    "supplier,offer,sku,style,prices,currency,minimum,terms,origin,lead_days,deposit\n"
    "Alder Yard Blanks,,TEE-SAND-M,,1 = 4.35; 72 = 3.85,USD,12,shipping point,US,4,\n"
    "Far Mill,big,,Alder,300 = 1.20; 600 = 1.10,USD,300,FOB,CN,35,30%\n"
)
COUNTED = "sku,counted\nTEE-SAND-M,12\nINK-CYAN,480.5\n"
PASTED = (
    "Style  Colour  Size  Qty  Price  Amount\nAlder  Sand    M     12   3.10   37.20\nAlder  Plum    L      6   3.25   19.50\n",
    "Item\tQty\tPrice\nTEE-SAND-M\t12\t3.10\n",
    "| Item | Qty | Price |\n|---|---|---|\n| TEE-SAND-M | 12 | 3.10 |\n",
)
EVENT_ROWS = (
    f"{FIRST.replace('R-1', 'R-9')}2026-01-06,receive,INK-CYAN,500,20,Alder Yard Blanks,R-2\n",
    (
        "date,event,sku,quantity,amount,kind,applies_to,lot,party\n"
        "2026-01-09,sell,TEE-SAND-M,2,30,,,,\n"
        "2026-01-09,charge,,,12.40,freight,Alder Yard Blanks/R-1,,\n2026-01-10,send_back,TEE-SAND-M,1,3,,,1.1,\n"
        "2026-01-11,count,TEE-SAND-M,36,,,,,\n2026-01-12,write_down,TEE-SAND-M,,4,,,,\n2026-01-12,use,TEE-SAND-M,1,,,,,\n"
    ),
)


@cache
def sample_texts(*names: str) -> tuple[str, ...]:
    """Return the beginnings of sample files, by their path from the top."""
    return tuple(
        "\n".join((ROOT / name).read_text(encoding="utf-8").splitlines()[:12]) + "\n" for name in names
    )


@cache
def sample_workbooks() -> tuple[bytes, ...]:
    """Return sound workbooks: the samples, the templates, and made ones."""
    paths = [*sorted((ROOT / "samples").glob("*.xlsx")), *sorted((ROOT / "imports").glob("*.xlsx"))]
    return (made_workbook(), made_workbook(), *(path.read_bytes() for path in paths))


def _of_a_table(headings: Sequence[str], *samples: str) -> Callable[[Random], bytes]:
    return lambda random: hostile_table(random, headings, samples)


def _of_samples(headings: Sequence[str], *names: str) -> Callable[[Random], bytes]:
    return lambda random: hostile_table(random, headings, sample_texts(*names))


def _of_toml(*names: str) -> Callable[[Random], bytes]:
    def make(random: Random) -> bytes:
        whole = random.choice([(ROOT / name).read_text(encoding="utf-8") for name in names])
        return changed(random, whole).encode("utf-8", "surrogatepass")

    return make


def _file(content: bytes) -> SourceFile:
    is_workbook = content.startswith(b"PK")
    return read_content(f"list.{'xlsx' if is_workbook else 'csv'}", "", content)


def _post(content: bytes, *, short: bool = True) -> None:
    file = _file(content)
    try:
        rows = read_events(file, book_currency="USD")
        entries = resolve_events(book(), rows, EventOptions(allow_short=short, source="events.csv"))
        post_entries(book(), entries, today=TODAY, now=NOW, source="events.csv", keep=False)
    except InputErrors as errors:
        marked_copy(content, file, errors.problems)
        raise


def _receive(file: SourceFile) -> None:
    proposal = propose_profile(file, CatalogueWords(currency="USD"))
    proposal_text(proposal)
    read_shipment(file, proposal.profile, options=ShipmentOptions(default_currency="USD"))


def _sell(file: SourceFile) -> None:
    proposal = propose_sales(file, party="Harbour Fair", currency="USD")
    proposal.to_toml()
    draft = read_sales(file, proposal.to_profile(), SalesOptions(party="Harbour Fair"))
    entries = resolve_events(book(), draft.rows, EventOptions(allow_short=True, source="sales.csv"))
    post_entries(book(), entries, today=TODAY, now=NOW, source="sales.csv", keep=False)


def _count(content: bytes) -> None:
    file = _file(content)
    count_day(file)
    read_count_sheet(file)


def _workbook(content: bytes) -> None:
    """Read a workbook by everything that may be given it."""
    file = _file(content)
    refused: list[BlankbookError] = []
    readers = (_receive, _sell, partial(read_events, book_currency="USD"), read_count_sheet)
    for read in readers:
        try:
            read(file)
        except BlankbookError as error:
            refused.append(error)
    for error in refused[:1]:
        if isinstance(error, InputErrors):
            marked_copy(content, file, error.problems)
    if len(refused) == len(readers):
        raise refused[0]


def _load(
    read: Callable[[Path], Any], plan: Callable[..., Any], save: Callable[..., None]
) -> Callable[[bytes], None]:
    def load(content: bytes) -> None:
        path = put(f"sheet.{'xlsx' if content.startswith(b'PK') else 'csv'}", content)
        planned = plan(book(), read(path))
        with trial_tx(book()):
            save(book(), planned)

    return load


def _path(read: Callable[[Path], object]) -> Callable[[bytes], object]:
    return lambda content: read(put("file.toml", content))


_quotes = _load(
    quotes_file.read_quotes_file, quotes_file.plan_quotes, partial(quotes_file.save_plan, now=NOW)
)
_duties = _load(
    duties_file.read_duties_file, duties_file.plan_duties, partial(duties_file.save_plan, now=NOW)
)
_items = _load(items_file.read_items_file, items_file.plan_items, items_file.save_plan)
_boms = _load(boms_file.read_bills_file, boms_file.plan_bills, boms_file.save_plan)
_suppliers = _load(
    suppliers_file.read_suppliers_file, suppliers_file.plan_suppliers, suppliers_file.save_plan
)

FILE_TARGETS = (
    Target("workbook", lambda random: hostile_workbook(random, sample_workbooks()), _workbook, 300),
    Target("events", _of_a_table(EVENTS, *EVENT_ROWS), _post, 500),
    Target("events of the sample", _of_samples(EVENTS, "samples/march-events.csv"), _post, 100),
    Target(
        "shipment",
        _of_samples(
            SHIPMENT, "samples/consumables.csv", "samples/print-supplies.csv", "samples/overseas-order.csv"
        ),
        lambda content: _receive(_file(content)),
        500,
    ),
    Target(
        "pasted",
        _of_a_table(SHIPMENT, *PASTED),
        lambda content: _receive(read_pasted("the pasted text", content)),
        500,
    ),
    Target("sales", _of_a_table(SALES, SALES_ROWS), lambda content: _sell(_file(content)), 500),
    Target("count", _of_a_table(COUNTS, COUNTED), _count, 500),
    Target("items", _of_samples(ITEMS, "samples/items.csv"), _items, 400),
    Target("suppliers", _of_samples(SUPPLIERS, "samples/suppliers.csv"), _suppliers, 400),
    Target("bills", _of_a_table(BILLS, BILL, *sample_texts("samples/bills.csv")), _boms, 300),
    Target(
        "quotes", _of_a_table(QUOTES, OFFERED, OFFERED, *sample_texts("samples/quotes.csv")), _quotes, 300
    ),
    Target("duties", _of_samples(DUTIES, "samples/duties.csv"), _duties, 300),
    Target(
        "profile",
        _of_toml(
            "imports/consumables.toml", "imports/sizes-across.toml", "imports/nine-sparrows-packing-list.toml"
        ),
        _path(load_profile),
        800,
    ),
    Target(
        "sales profile",
        _of_toml("imports/sales-one-row-per-item.toml", "imports/sales-one-row-per-movement.toml"),
        _path(load_sales_profile),
        800,
    ),
    Target(
        "study",
        _of_toml("imports/study.toml", "samples/wren-study.toml"),
        _path(lambda path: study_from(read_study_tables(path), path.name, TODAY)),
        1000,
    ),
)
