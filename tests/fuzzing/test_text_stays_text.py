"""Names, notes and references stay what they are: no formula in a file that is written, no statement in the book.

Source: the public list of weaknesses, CWE-1236 (formulas in a csv file) and CWE-89 (SQL injection), from memory.
"""

# ruff: noqa: S311  (inputs are drawn anew from a seed, not kept secret)
from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from contextlib import closing
from random import Random

import openpyxl
import pytest
from hostile_bytes import hostile_table, made_workbook, packed, parts_of
from hostile_shop import (
    COLOUR,
    CUSTOMER,
    NAMES,
    NOTE,
    REFERENCE,
    SHOP,
    STYLE,
    SUPPLIER,
    TOKEN,
    make_hostile_shop,
)
from hostile_words import FORMULAS, STATEMENTS, text
from hypothesis import given, settings
from hypothesis import strategies as st
from month_shop import MonthShop
from page_reader import read_page
from typer.testing import CliRunner

from ledger.book.connect import open_reading
from ledger.cli.main import app
from ledger.errors import BlankbookError, InputErrors, Problem
from ledger.intake.marked_copy import marked_copy
from ledger.intake.read_file import read_content
from ledger.views.csv_bundle import safe_text

STARTS = ("=", "+", "-", "@", "\t", "\r")
PLAIN_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?", re.ASCII)
QUOTED = re.compile(r"\"(?:[^\"]|\"\")*\"|'(?:[^']|'')*'")
FILES = ("pack.xlsx", "draft.xlsx", "count.xlsx", "across.xlsx", "prices.xlsx", "decision.xlsx", "study.xlsx")
PAGES = ("month.html", "stock.html", "prices.html", "decision.html")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> MonthShop:
    """The hostile shop, after every command that writes a file was run."""
    folder = tmp_path_factory.mktemp("hostile")
    made = make_hostile_shop(folder)

    def to(name: str) -> str:
        return str(folder / name)

    month = ("--csv", to("draft"), "--report", to("month.html"))
    made("close", "2026-01", "--show", "--workbook", to("draft.xlsx"), *month)
    made("count", "--sheet", to("count.xlsx"), "--layout", "list")
    made("count", "--sheet", to("across.xlsx"))
    made("close", "2026-01", "--yes", "--workbook", to("pack.xlsx"), "--csv", to("pack"))
    made("stock", "--report", to("stock.html"))
    prices = ("--workbook", to("prices.xlsx"), "--report", to("prices.html"))
    made("compare", "--prices", STYLE, "--quantity", "300", *prices)
    decision = ("--workbook", to("decision.xlsx"), "--report", to("decision.html"))
    made("compare", STYLE, "--futures", "200", *decision, "--write-study", to("study.toml"))
    made("compare", to("study.toml"), "--futures", "200", "--workbook", to("study.xlsx"))
    return made


def live(workbook: openpyxl.Workbook) -> list[str]:
    """Return the formulas in which a hostile name stands outside quotation marks."""
    formulas = [
        str(cell.value)
        for sheet in workbook
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    ]
    formulas += [str(name.attr_text) for name in workbook.defined_names.values()]
    return [formula for formula in formulas if TOKEN in QUOTED.sub("", formula)]


@pytest.mark.parametrize("name", FILES)
def test_no_workbook_calculates_a_name(shop: MonthShop, name: str) -> None:
    """Names stand in text cells, and in formulas only inside quotation marks; there are some in each file."""
    workbook = openpyxl.load_workbook(shop.folder / name)
    texts = [str(cell.value) for sheet in workbook for row in sheet.iter_rows() for cell in row]
    assert (any(TOKEN in each for each in texts), live(workbook)) == (True, [])


@pytest.mark.parametrize("folder", ["draft", "pack"])
def test_no_csv_cell_begins_a_formula(shop: MonthShop, folder: str) -> None:
    """Every cell of the csv files is a plain number, or begins with nothing a spreadsheet calculates."""
    cells = [
        cell
        for path in (shop.folder / folder).glob("*.csv")
        for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig"), newline=""))
        for cell in row
    ]
    assert any(TOKEN in cell for cell in cells)
    assert [cell for cell in cells if cell.startswith(STARTS) and not PLAIN_NUMBER.fullmatch(cell)] == []


@pytest.mark.parametrize("name", PAGES)
def test_no_name_becomes_markup(shop: MonthShop, name: str) -> None:
    """A page has no script, no link outside, and no attribute that a name was closed into."""
    page = read_page((shop.folder / name).read_text(encoding="utf-8"))
    assert not [tag for tag, _ in page.elements if tag in {"script", "iframe", "object", "embed", "form"}]
    assert not [
        (tag, attribute)
        for tag, attributes in page.elements
        for attribute, value in attributes.items()
        if attribute.startswith("on") or (attribute in {"href", "src"} and TOKEN in (value or ""))
    ]


def test_every_field_holds_what_was_typed(shop: MonthShop) -> None:
    """What looks like a statement or a formula stands in the book letter by letter, and every check holds."""
    with closing(open_reading(shop.book)) as connection:

        def column(query: str) -> set[str]:
            return {str(row[0]) for row in connection.execute(query)}

        assert column("SELECT name FROM shop") == {SHOP}
        assert column("SELECT name FROM item") == set(NAMES)
        assert column("SELECT style || colour FROM item WHERE style <> ''") == {STYLE + COLOUR}
        assert column("SELECT name FROM party") == {SUPPLIER, CUSTOMER}
        assert column("SELECT note FROM document WHERE note <> ''") == {NOTE}
        assert {REFERENCE, f"{REFERENCE}4"} <= column(
            "SELECT reference FROM document WHERE reference IS NOT NULL"
        )
        assert column("SELECT supplier FROM quote") == {SUPPLIER, CUSTOMER}
    assert shop.data("prove")["ok"] is True


@pytest.mark.parametrize("word", [*STATEMENTS, SUPPLIER, CUSTOMER, STYLE])
def test_looking_for_a_statement_finds_no_more_than_its_words(shop: MonthShop, word: str) -> None:
    """Asked for by such a name, a command answers or refuses, and the book stays whole."""
    before = shop.book.read_bytes()
    for command in (
        ("history", word),
        ("cost", word),
        ("stock", "--kind", word),
        ("lots", word),
        ("trace", word),
    ):
        done = CliRunner().invoke(
            app, ["--book", str(shop.book), *command], env={"BLANKBOOK_TODAY": shop.today}
        )
        is_answered = done.exit_code == 0
        assert is_answered or isinstance(done.exception, BlankbookError), (command, done.exception)
    assert shop.book.read_bytes() == before


@given(st.one_of(st.sampled_from(FORMULAS), st.text(), st.randoms(use_true_random=False).map(text)))
def test_a_csv_text_never_begins_a_formula(words: str) -> None:
    """Whatever the text, the written cell begins with nothing a spreadsheet calculates, or is a number."""
    safe = safe_text(words)
    assert not safe.startswith(STARTS) or PLAIN_NUMBER.fullmatch(safe)


def with_cell(kind: str, words: str) -> bytes:
    """Return a workbook whose cell B5 holds words as text of a kind of the file format."""
    quoted = words.replace("&", "&amp;").replace("<", "&lt;").replace("\t", "&#9;").replace("\r", "&#13;")
    cell = {
        "inlineStr": f'<c r="B5" t="inlineStr"><is><t>{quoted}</t></is></c>',
        "str": f'<c r="B5" t="str"><v>{quoted}</v></c>',
    }[kind]
    parts = []
    for name, content in parts_of(made_workbook()):
        changed = (
            re.sub(rb'<c r="B5".*?</c>', lambda _: cell.encode(), content) if "sheet1" in name else content
        )
        parts.append((name, changed))
    return packed(parts)


def with_shared(words: str) -> bytes:
    """Return a workbook whose shared texts hold the words."""
    book = openpyxl.load_workbook(io.BytesIO(made_workbook()))
    cell = book["Invoice"]["B5"]
    cell.value, cell.data_type = words.replace("\r", " "), "s"
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


MAKERS: tuple[Callable[[str], bytes], ...] = (
    with_shared,
    lambda words: with_cell("inlineStr", words),
    lambda words: with_cell("str", words),
    lambda words: f'sku,quantity\n"{words.replace(chr(34), chr(34) * 2)}",1\n'.encode(),
)


@pytest.mark.parametrize("words", FORMULAS)
@pytest.mark.parametrize("make", MAKERS, ids=["shared text", "text in the cell", "result text", "csv"])
def test_a_marked_copy_calculates_no_text(make: Callable[[str], bytes], words: str) -> None:
    """Text of the file stays text in its marked copy, and so do the words of each problem."""
    content = make(words)
    file = read_content("list", "", content)
    place = "sheet Invoice, cell B5" if content.startswith(b"PK") else "row 2"
    copy = marked_copy(content, file, [Problem(place, words, words)])
    assert copy is not None
    cells = [
        cell
        for sheet in openpyxl.load_workbook(io.BytesIO(copy.content))
        for row in sheet.iter_rows()
        for cell in row
    ]
    assert [cell.value for cell in cells if cell.data_type == "f"] == []
    assert any(words.strip() in str(cell.value) for cell in cells)


@settings(max_examples=15, database=None)
@given(seed=st.integers(0, 2**32))
def test_a_marked_copy_of_any_text_calculates_nothing(seed: int) -> None:
    """A text has no formulas, so its copy has none, whatever stands in it."""
    content = hostile_table(Random(seed), ("sku", "quantity", "note"), ())
    try:
        file = read_content("list.csv", ".csv", content)
    except InputErrors:
        return
    copy = marked_copy(content, file, [Problem("row 2", "wrong", "mend")])
    assert copy is not None
    book = openpyxl.load_workbook(io.BytesIO(copy.content))
    assert [
        cell.value for sheet in book for row in sheet.iter_rows() for cell in row if cell.data_type == "f"
    ] == []
