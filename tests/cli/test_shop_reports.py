"""`stock --report`, `close --report` and pictures: the page's tables are the figures the commands give."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import typer
from month_shop import WORKED_BILLS, WORKED_ITEMS, MonthShop, month_shop
from pack_shop import hard_shop, worked_shop
from page_reader import ReadPage, read_page

from ledger.cli import closing
from ledger.costing.tax_lines import TaxPolicies
from ledger.exact.words import typed_word
from ledger.views import months as months_view
from ledger.views import stock as stock_view
from ledger.views.close_report import MOST_DOCUMENTS, TOGETHER, line_sources


@pytest.fixture
def shop(tmp_path: Path) -> MonthShop:
    """A copy of the worked shop, of its own for a test."""
    return copied(worked_shop(), tmp_path)


def copied(source: MonthShop, folder: Path) -> MonthShop:
    """A shop with a copy of another one's book."""
    made = MonthShop(folder, source.today)
    shutil.copyfile(source.book, made.book)
    return made


def stock_page(shop: MonthShop, *words: str) -> ReadPage:
    """The page that `stock --report` writes."""
    path = shop.folder / "stock.html"
    shop("stock", "--report", str(path), *words)
    return read_page(path)


def month_page(shop: MonthShop, month: str, *words: str) -> ReadPage:
    """The page that `close --report` writes."""
    path = shop.folder / f"{month}.html"
    shop("close", month, "--report", str(path), *words)
    return read_page(path)


def plain(shown: str) -> str:
    """A figure as scripts have it."""
    return shown.replace(",", "")


def test_the_stock_page_has_every_item_of_the_list(shop: MonthShop) -> None:
    """The same quantities and values as `stock --json`, and their sum in the first sentence."""
    page = stock_page(shop)
    rows = shop.data("stock")
    table = page.table("Every item on hand")
    shown = {row[0]: (plain(row[3]), row[4], plain(row[5])) for row in table.rows}
    assert shown == {row["sku"]: (row["quantity"], row["unit"], row["value"]) for row in rows}
    whole = table.totals[0][5]
    assert page.table("What is on hand, by kind").totals[0][2] == whole
    assert page.texts["p"][0].startswith(f"{whole} USD of stock is on hand on 2026-03-31: {len(rows)} items")


def test_the_stock_page_has_the_closing_stock_of_each_month(tmp_path: Path) -> None:
    """The figures beside the picture are those of `months` and of each month's statement."""
    shop = copied(hard_shop(), tmp_path)
    table = stock_page(shop).table("Stock at the end of each month")
    assert [plain(cell) for cell in table.column("closing stock")] == [
        row["closing_stock"] for row in shop.data("months")
    ]
    for month, amount in zip(table.column("month"), table.column("closing stock"), strict=True):
        assert plain(amount) == shop.data("close", month, "--show")["closing_stock"]


def test_the_stock_page_shows_the_grid_of_a_style(shop: MonthShop) -> None:
    """Sizes across and colours down, as `stock --grid` has them."""
    grid = stock_page(shop).table("Tee: pieces by colour and size")
    printed = shop("stock", "--grid", "Tee").splitlines()[4].split()
    assert grid.heads == ["colour", "M", "pieces", "value USD"]
    assert grid.rows == [printed]


def test_a_page_of_an_earlier_day_says_what_was_there_then(tmp_path: Path) -> None:
    """At the end of January: its stock, what was under way, and nothing of what was only known later."""
    shop = copied(hard_shop(), tmp_path)
    page = stock_page(shop, "--on", "2026-01-31")
    assert "at the end of 2026-01-31" in page.texts["p"][0]
    there = {row["sku"]: row["value"] for row in shop.data("stock", "--on", "2026-01-31")}
    assert {row[0]: plain(row[5]) for row in page.table("Every item on hand").rows} == there
    assert len(page.table("Under way").rows) == len(shop.data("stock", "--under-way", "--on", "2026-01-31"))
    assert page.table("Stock at the end of each month").column("month") == ["2026-01"]
    assert "Expected, by week" not in page.words


def test_chemicals_are_cautioned_once(shop: MonthShop) -> None:
    """Where something expires, and nowhere else on the page."""
    assert stock_view.CHEMICALS not in stock_page(shop).words
    shop.post(
        "date,event,sku,quantity,amount,party,expires_on\n2026-03-31,receive,VIN,5,5.00,Alder Yard Blanks,2026-04-20\n"
    )
    (shop.folder / "stock.html").unlink()
    page = stock_page(shop)
    assert page.table("Lots with something left").column("when") == ["in 20 days"]
    assert page.words.count(stock_view.CHEMICALS) == 1


def test_an_empty_shop_has_a_page(tmp_path: Path) -> None:
    """Nothing on hand is a sentence, not a failure."""
    shop = month_shop(tmp_path, WORKED_ITEMS, "", "--first-month", "2026-03")
    page = stock_page(shop)
    assert page.texts["p"][0] == "Nothing is on hand on 2026-03-31."
    assert page.tables == []


@pytest.mark.parametrize(
    "words",
    [("--grid", "Tee"), ("--kind", "blank"), ("--all",), ("--under-way",), ("--json",)],
)
def test_a_stock_page_is_of_all_stock(shop: MonthShop, words: tuple[str, ...]) -> None:
    """What asks for a part is refused, and nothing is written."""
    path = shop.folder / "stock.html"
    assert "show all of the stock" in shop.refused("stock", "--report", str(path), *words)
    assert not path.exists()


def test_a_page_is_never_written_over_another(shop: MonthShop) -> None:
    """What is there stays, and the message says what to do."""
    stock_page(shop)
    said = shop.refused("stock", "--report", str(shop.folder / "stock.html"))
    assert said.endswith("is there already and was left as it is: name another file.")


def test_the_page_of_a_month_has_its_statement(shop: MonthShop) -> None:
    """Every line of the statement, of where the cost went, by kind and of the form, as `close --json` has them."""
    page, data = month_page(shop, "2026-03", "--show"), shop.data("close", "2026-03", "--show")
    came = page.table("What came in")
    lines = [plain(row[1]) for row in (*came.rows, *came.totals)]
    keys = ("opening_stock", "purchases", "charges_in", "labour", "sent_back", "own_use", "closing_stock")
    assert lines == [data[key] for key in (*keys, "cost_of_goods_sold")]
    went = {row[0]: plain(row[1]) for row in page.table("Where the cost went").rows}
    assert went == {
        dict(months_view.OF_WHICH)[name]: amount
        for name, amount in data["of_which"].items()
        if amount != "0.00"
    }
    tax = page.table("Schedule C")
    assert dict(zip(tax.column("line"), map(plain, tax.column("month")), strict=True)) == data["tax_form"]
    kinds = page.table("From opening to closing")
    assert dict(zip(kinds.column("kind"), map(plain, kinds.column("closing")), strict=True)) == {
        one["kind"]: one["closing_stock"] for one in data["by_kind"]
    }


def test_documents_of_a_figure_come_to_the_figure(shop: MonthShop) -> None:
    """Where a figure has several documents their sum stands below them, and is the statement's."""
    page, data = month_page(shop, "2026-03", "--show"), shop.data("close", "2026-03", "--show")
    figure, sums = "", {}
    for row in page.table("Figures and their documents").rows:
        figure = row[0] or figure
        if row[0] or row[1] == TOGETHER:
            sums[figure] = plain(row[4])
    assert sums["purchases"] == data["purchases"]
    assert sums["freight, duty and fees"] == data["charges_in"]
    assert sums["pieces sold"] == data["of_which"]["pieces_sold"]
    assert sums["closing stock"] == data["closing_stock"]


def test_many_documents_of_a_figure_are_told_together(shop: MonthShop) -> None:
    """A month of hundreds of sales does not fill the page with them."""
    count = MOST_DOCUMENTS + 1
    rows = [f"2026-03-2{place % 9},sell,FIN-M,1,20.00,,,B-{place}," for place in range(count)]
    shop.post("\n".join(["date,event,sku,quantity,amount,kind,applies_to,reference,party", *rows, ""]))
    page = month_page(shop, "2026-03", "--show")
    told = [row for row in page.table("Figures and their documents").rows if row[1].startswith("sale")]
    assert len(told) == 1
    assert f"sale: {count + 1} documents" in told[0][1]


def test_a_draft_says_so_and_a_closed_month_has_its_seal(shop: MonthShop) -> None:
    """The state stands below the main sentence; the fingerprint is the book's, and it is said what it is."""
    draft = month_page(shop, "2026-03", "--show")
    assert draft.texts["p"][1].startswith("A draft.")
    assert "The seal" not in draft.texts["h2"]
    (shop.folder / "2026-03.html").unlink()
    sealed = month_page(shop, "2026-03", "--yes")
    fingerprint = shop.data("months")[0]["fingerprint"]
    assert sealed.texts["p"][1].startswith("Closed on 2026-03-31 by document")
    assert fingerprint in sealed.words
    assert "A SHA-256 over every document" in sealed.words
    assert "To settle before it is closed" not in sealed.texts["h2"]


def test_the_page_after_a_close_is_the_page_of_the_closed_month(shop: MonthShop) -> None:
    """Written with the close or asked for later: the same page of the same day."""
    month_page(shop, "2026-03", "--yes")
    later = shop.folder / "later.html"
    shop("close", "2026-03", "--show", "--report", str(later))
    assert later.read_bytes() == (shop.folder / "2026-03.html").read_bytes()


def test_the_caution_stands_once(shop: MonthShop) -> None:
    """Not tax advice, said once on a page."""
    page = month_page(shop, "2026-03", "--show")
    assert page.words.count(months_view.CAUTION) == 1
    assert page.words.count("not tax advice") == 1


def test_a_shop_elsewhere_has_no_lines_of_a_form(tmp_path: Path) -> None:
    """The lines of the US form are for a shop that files it."""
    shop = month_shop(tmp_path, WORKED_ITEMS, WORKED_BILLS, "--country", "DE", "--first-month", "2026-03")
    page = month_page(shop, "2026-03", "--show")
    assert "Lines of the tax return" not in page.texts["h2"]
    assert "Schedule C" not in page.words


def test_the_report_of_a_month_can_be_replaced(shop: MonthShop) -> None:
    """As the workbook is: only when it is said."""
    month_page(shop, "2026-03", "--show")
    path = str(shop.folder / "2026-03.html")
    assert "--replace" in shop.refused("close", "2026-03", "--show", "--report", path)
    shop("close", "2026-03", "--show", "--report", path, "--replace")


def test_a_report_that_cannot_be_written_closes_nothing(shop: MonthShop) -> None:
    """The file's name is looked at before the month is closed."""
    assert "ends in .html" in shop.refused("close", "2026-03", "--report", "march.pdf", "--yes")
    assert [row["closed"] for row in shop.data("months")] == [False]


def test_lines_say_what_they_are_made_of_by_the_policies() -> None:
    """Freight moves to line 36 and supplies into stock where the policies say so."""
    first, other = line_sources(TaxPolicies()), line_sources(TaxPolicies(True, True, True))  # noqa: FBT003
    assert set(first) == set(other) == {str(number) for number in range(35, 43)}
    assert (first["39"], other["39"]) == ("freight, duty and fees on goods", "nothing: it is in line 36")
    assert "supplies" not in first["41"]
    assert "and supplies" in other["41"]
    assert first["38"] == "supplies used, and supplies when bought"
    assert other["38"] == "supplies when bought"


@contextmanager
def _not_for_writing(_context: typer.Context) -> Iterator[None]:
    pytest.fail("the book was opened for writing")
    yield


def test_a_look_at_a_month_only_reads(shop: MonthShop, monkeypatch: pytest.MonkeyPatch) -> None:
    """A book on a medium that cannot be written can be looked at, also with its page and its workbook."""
    monkeypatch.setattr(closing, "writing", _not_for_writing)
    before = shop.book.read_bytes()
    files = ("--report", str(shop.folder / "m.html"), "--workbook", str(shop.folder / "m.xlsx"))
    shop("close", "2026-03", "--show", *files)
    assert shop.book.read_bytes() == before


ESTIMATED = """sku,name,kind,unit,tax_class,use_estimated
INK,Ink,ink,mL,supplies when used,yes
"""


def test_a_look_at_what_a_close_would_correct_changes_nothing(tmp_path: Path) -> None:
    """An estimated use that ran ahead is counted at nothing in the page of the draft, and not in the book."""
    shop = month_shop(tmp_path, ESTIMATED, "", "--first-month", "2026-03")
    shop.post(
        "date,event,sku,quantity,amount,party\n2026-03-02,receive,INK,100,10.00,Mill\n2026-03-09,use,INK,120,,\n"
    )
    documents = len(shop.data("history"))
    page = month_page(shop, "2026-03", "--show")
    assert "The close counts them at nothing" in page.words
    assert "INK: 20 mL" in page.words
    assert page.table("What came in").rows[-1][1] == "0.00"
    assert len(shop.data("history")) == documents


def test_the_picture_of_an_item_stands_beside_its_history(shop: MonthShop) -> None:
    """The list is printed as ever, and the picture written."""
    path = shop.folder / "tee.png"
    assert shop("history", "TEE", "--picture", str(path)) == shop("history", "TEE")
    assert path.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("history", "--picture", "a.png"), "name its SKU"),
        (("history", "TEE", "--picture", "a.jpg"), "ends in .png or .svg"),
        (("history", "CLEANER", "--picture", "a.png"), "never came in"),
        (("stock", "--picture", "a.png", "--on", "2026-03-01"), "leave --on out"),
        (("stock", "--picture", "a.gif"), "ends in .png or .svg"),
    ],
)
def test_pictures_that_cannot_be_are_refused(shop: MonthShop, words: tuple[str, ...], why: str) -> None:
    """In words, before anything is written."""
    assert why in shop.refused(*words)


def test_stock_of_every_month_is_drawn(shop: MonthShop) -> None:
    """As SVG by the ending of the name."""
    path = shop.folder / "stock.svg"
    shop("stock", "--picture", str(path))
    assert path.read_text(encoding="utf-8").lstrip().startswith("<?xml")


def test_months_tell_their_closing_stock(tmp_path: Path) -> None:
    """Beside each month, and without bars where nobody looks at a terminal."""
    shop = copied(hard_shop(), tmp_path)
    printed = shop("months")
    for row in shop.data("months"):
        (line,) = (line for line in printed.splitlines() if line.startswith(row["month"]))
        assert plain(line).split()[-2 if row["fingerprint"] else -1] == row["closing_stock"]
    assert "█" not in printed
    assert "#" not in printed


def test_commands_on_a_page_name_the_book_that_was_named(shop: MonthShop) -> None:
    """What a page says can be typed from where it was made, as what is printed can."""
    named = f"blankbook --book {typed_word(str(shop.book))} "
    month, stock = month_page(shop, "2026-03", "--show"), stock_page(shop)
    assert f"Look at one with: {named}show, and its number." in month.words
    for page, command in ((month, "policies"), (stock, "plan")):
        assert f"{named}{command}" in page.words
        assert f"blankbook {command}" not in page.words.replace(named, "")
