"""Every parser of words as a target, with samples of what it understands."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import partial
from random import Random

from book_builder import ITEMS
from fuzz_book import Target, book
from hostile_words import text

from ledger.book.references import document_number, receipts_named, returned_lot
from ledger.catalogue import bom_sheet, fibres, items, packs, parties, sheets, sizes, terms, units
from ledger.cli import closing, common, start
from ledger.exact import currencies, money, numbers
from ledger.intake import (
    answers,
    carton_ranges,
    charge_words,
    column_values,
    currency_marks,
    events,
    nearest,
    order_lines,
    pack_content,
    paying_rates,
    sales_answers,
    sales_currency,
    values,
    variant_words,
)
from ledger.intake.table import Cell
from ledger.sourcing import closures, duty_columns, quote_columns


def _cell(read: Callable[[Cell], object]) -> Callable[[str], object]:
    return lambda given: read(Cell(given, "row 1, column Qty"))


_ADULT = sizes.find_ladder("adult")

WORDS: tuple[tuple[str, Callable[[str], object], Sequence[str]], ...] = (
    (
        "charge",
        charge_words.read_charge,
        (
            "freight 182.40 by weight",
            "duty 14.9% on TEE-*, INK-CYAN",
            "entry_fee 0.3464% min 33.58 max 651.50",
            'brokerage 900 CNY from "Harrow Gull" ref B-77 by quantity',
        ),
    ),
    (
        "order line",
        lambda given: order_lines.minor_amount(order_lines.read_line(given, "--line 1"), "USD"),
        ("TEE-SAND-M 2 case at 129.60", "INK-CYAN 500 mL for 12"),
    ),
    (
        "loss",
        lambda given: order_lines.read_loss(given, "--missing-line 1", "claimed"),
        ("TEE-SAND-M 2 claimed", "X 1 expensed"),
    ),
    ("number", numbers.read_decimal, ("182.40", "-0.5")),
    ("money", lambda given: money.read_money(given, "USD"), ("182.40", "12")),
    ("yen", lambda given: money.read_money(given, "JPY"), ("1200",)),
    ("number in a cell", _cell(values.read_number), ("$1,234.50", "(12)")),
    ("number with a comma", _cell(partial(values.read_number, decimal_comma=True)), ("1.234,50 €",)),
    ("number to be guessed", _cell(partial(column_values.number_of, decimal_comma=False)), ("$1,234.50",)),
    ("date, day first", _cell(partial(values.read_date, order="day month year")), ("31.1.26", "3 May 2026")),
    ("date, month first", _cell(partial(values.read_date, order="month day year")), ("1/31/2026",)),
    ("cartons", _cell(carton_ranges.count_cartons), ("1-12", "3, 5-9")),
    (
        "content",
        lambda given: pack_content.read_content(given, {"case": "72 each"}),
        ("500 mL", "11.8 in x 5 yd"),
    ),
    ("typed date", common.read_date, ("2026-03-31",)),
    ("typed month", closing.read_month, ("2026-03",)),
    ("first month", start._read_month, ("2026-03",)),
    ("currency", currencies.read_currency, ("USD", "eur")),
    ("currencies in words", sales_currency.currencies_in, ("Total (USD)", "C$ 5")),
    ("currency marks", _cell(currency_marks.marks_of), ("US$ 5", "12 EUR")),
    ("unit", units.read_unit, ("mL", "each")),
    ("base unit", units.read_base_unit, ("mL", "yards")),
    ("pack", lambda given: packs.read_pack(given, "each"), ("case = 72 each", "dozen = 12")),
    (
        "pack of vinyl",
        lambda given: packs.read_pack(given, "cm2"),
        ("roll = 11.8 in x 5 yd (sold as 12 in x 5 yd)",),
    ),
    (
        "pack of ink",
        lambda given: packs.read_pack(given, "mL", Fraction(1)),
        ("bottle = 1 kg", "can = 500 mL"),
    ),
    ("dimensions", sheets.read_dimensions, ("11.8 in x 5 yd", "A4")),
    ("size", lambda given: sizes.read_size(given, _ADULT), ("xxl", "Small")),
    ("sizes", lambda given: sizes.read_size_list(given, _ADULT), ("XS; M-XXL", "S-3XL")),
    ("ladder", lambda given: sizes.make_ladder("waist", given), ("28; 30 = W30, thirty; 32",)),
    ("sizes of a style", items.read_style_sizes, ("S-XL", "28; 30")),
    ("size order", sizes.size_sort_key, ("XL", "28")),
    ("variant", variant_words.split_variant, ("M / Black", "Size: M, Colour: Sand")),
    ("SKU", items.read_sku, ("TEE-SAND-M",)),
    (
        "SKU pattern",
        lambda given: items.sku_from_pattern(given, {"style": "T", "colour": "Sand", "size": "M"}),
        ("{style}-{colour}-{size}",),
    ),
    ("kind", items.read_kind, ("blank", "inks")),
    ("tax class", items.read_tax_class, ("goods", "customer’s")),
    ("customs class", items.read_customs_class, ("6109.10.0012",)),
    ("fibre", fibres.chief_fibre, ("60% cotton 40% polyester", "50/50 cotton/polyester")),
    ("colours", items.read_colours, ("Black; Heather Navy = HNV",)),
    ("way", bom_sheet.read_way, ("direct to film", "screen")),
    ("country", parties.read_country, ("CN", "us")),
    ("role", parties.read_role, ("supplier", "broker")),
    ("party", parties.normal_name, ("Alder Yard Blanks",)),
    ("terms", terms.read_terms, ("FOB Port Rellan", "prepaid")),
    ("closures", lambda given: closures.read_closures(given.split(";")), ("CN; 2027-01-25..2027-02-22",)),
    ("rates", lambda given: paying_rates.read_typed_rates([given], "USD"), ("CNY=0.14",)),
    ("answers", lambda given: answers.read_answers([given]), answers.FORMS),
    (
        "answers about sales",
        lambda given: sales_answers.read_sales_answers([given]),
        sales_answers.SALES_FORMS,
    ),
    ("document", lambda given: document_number(given, "receipt"), ("receipt 12", "7")),
    ("receipts", lambda given: receipts_named(book(), [given], ()), ("1", "Alder Yard Blanks/R-1")),
    ("lot", lambda given: returned_lot(book(), "TEE-SAND-M", given, (), ()), ("1.1", "12.3")),
    ("event", events.event_name, ("receive", "take back")),
    ("nearest", lambda given: nearest.did_you_mean(given, [item.sku for item in ITEMS]), ("TEE-SAND-L",)),
    ("duty heading", duty_columns.read_duty_heading, ("customs class", "rate")),
    *(
        (f"quote's {name}", getattr(quote_columns, name), samples)
        for name, samples in (
            ("amount", ("12.50",)),
            ("percentage", ("30%",)),
            ("part_of_all", ("2%",)),
            ("bad_part", ("2%",)),
            ("count", ("12",)),
            ("positive_count", ("12",)),
            ("day", ("2026-03-31",)),
            ("words", ("ocean",)),
            ("listed", ("S; M",)),
            ("origin", ("CN",)),
            ("prices", ("1 = 4.35; 72 = 3.85",)),
            ("prepack", ("S = 1; M = 2",)),
            ("lead_days", ("35", "30-40")),
            ("terms", ("FOB Port Rellan",)),
        )
    ),
)


def _made(samples: Sequence[str]) -> Callable[[Random], str]:
    return lambda random: text(random, samples)


WORD_TARGETS = tuple(Target(name, _made(samples), read, 1450) for name, read, samples in WORDS)
