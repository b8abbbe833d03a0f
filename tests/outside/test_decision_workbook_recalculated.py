"""The decision's workbook, worked out again by LibreOffice, and moved as the closed form says.

Source: LibreOffice's own arithmetic on the file as it is handed over; the window's closed form in exact
fractions here, apart from the program. The studies are invented; published figures are marked.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from decision_books import CERTAIN, decided, hard, opened, sample
from defusedxml import ElementTree
from office_books import Books, different_cells, needs_office, recalculated_together
from openpyxl.utils import range_boundaries

from ledger.carried import carried

CHARTS = "{http://schemas.openxmlformats.org/drawingml/2006/chart}"


CHANGES: Mapping[str, Mapping[str, float]] = {
    "home at 3.20": {"price_at_home": 3.20},
    "home at 4.50": {"price_at_home": 4.50},
    "demand of 29": {"demand_per_month": 29},
    "demand of 5": {"demand_per_month": 5},
    "duty of 30%": {"offer_1_duty_1": 0.30},
}
"""The cells of the sample's workbook that are changed, one at a time."""

INDIFFERENCE = {"1000": ("50", "40", "10000"), "16000": ("8", "5.5", "40000")}
"""Published: at home, afar, fixed; by the quantity at which they cost the same."""


@cache
def written() -> dict[str, bytes]:
    """Every workbook that LibreOffice is given, by name."""
    template = Path(str(carried("imports", "study.toml"))).read_text(encoding="utf-8")
    found = {"sample": sample()[1], "hard": hard()[1], "template": decided(template)[1]}
    for published, (home, afar, fixed) in INDIFFERENCE.items():
        per_year = 3 * int(published)
        text = CERTAIN.format(per_year=per_year, capital="0", afar=afar, fixed=fixed, home=home)
        found[published] = decided(text)[1]
    return found | {name: changed(cells) for name, cells in CHANGES.items()}


def changed(cells: Mapping[str, float]) -> bytes:
    """The sample's workbook with other values in named cells; the values kept beside formulas go."""
    book = opened(sample()[1])
    for name, value in cells.items():
        sheet, cell = place_of(book, name)
        assert not str(book[sheet][cell].value).startswith("="), f"{name} is a formula"
        book[sheet][cell].value = value
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


@dataclass(frozen=True)
class Office:
    """What LibreOffice made of every workbook, and the folder its files are in."""

    folder: Path
    books: Mapping[str, Books]

    def __getitem__(self, name: str) -> Books:
        return self.books[name]


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Office:
    """All workbooks with LibreOffice's values, calculated in one start of it."""
    folder = tmp_path_factory.mktemp("office")
    shown = recalculated_together(written(), folder)
    books = {name: Books(opened(content), shown[name]) for name, content in written().items()}
    return Office(folder / "out", books)


def place_of(book: Any, name: str) -> tuple[str, str]:
    """The sheet and cell of a name."""
    sheet, cell = str(book.defined_names[name].attr_text).replace("$", "").replace("'", "").split("!")
    return sheet, cell


def shown(books: Books, name: str) -> object:
    """What a named cell shows, words too."""
    sheet, cell = place_of(books.formulas, name)
    return books.shown[sheet][cell].value


@needs_office
@pytest.mark.parametrize(
    ("name", "at_least"), [("sample", 600), ("hard", 1200), ("template", 500), ("1000", 300)]
)
def test_every_formula_gives_the_programs_own_figure(name: str, at_least: int, office: Office) -> None:
    """LibreOffice, trusting no kept value, comes to what the program worked out, cell by cell, words too.

    The hard study has incremental prices, chargeable weight, weight or measure, insurance, assists, fees by
    formal entry, prices by size, four currencies.
    """
    assert different_cells(written()[name], office[name]) == []
    assert len(office[name].formula_cells()) > at_least


@needs_office
@pytest.mark.parametrize("name", ["sample", "hard", *CHANGES])
def test_no_cell_is_an_error(name: str, office: Office) -> None:
    """Nothing divides by zero or speaks of a name that is not there, also after a change."""
    errors = [
        (sheet.title, cell.coordinate, cell.value)
        for sheet in office[name].shown.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "e"
    ]
    assert errors == []


Q, NEAR = 600, 667


def cents(value: Decimal) -> Decimal:
    """Half away from zero to the cent, as a bill is."""
    return value.quantize(Decimal("0.01"), ROUND_HALF_UP)


def landed(quantity: int, duty: str = "0.34", price: str = "10.4") -> Decimal:
    """What so many of the sample's mill cost landed, by its study's figures; worked out here."""
    rate = Decimal("0.1462")
    goods = cents(quantity * Decimal(price) * rate)
    freight = cents(quantity * Decimal("0.15") * Decimal("9.8") * rate)
    informal = goods <= 2500
    fee = Decimal("2.69") if informal else max(cents(goods * Decimal("0.003464")), Decimal("33.58"))
    harbor = cents(goods * Decimal("0.00125"))
    home = Decimal(140) + Decimal(61) + Decimal("92.5") + Decimal(35) + (0 if informal else 80)
    claim = cents(goods * Decimal("0.02") * Decimal("0.5"))
    return goods + freight + cents(goods * Decimal(duty)) + fee + harbor + home - claim


@cache
def given(duty: str = "0.34", price: str = "10.4") -> dict[str, Decimal]:
    """The screen's figures for the sample's order of 600: c, F and t."""
    total, good = landed(Q, duty, price), Decimal(Q) * Decimal("0.98")
    slope = (total - landed(NEAR, duty, price)) / (Q - NEAR)
    days = [early(1), early(2)]
    paid = Decimal("0.3") * days[0] + Decimal("0.7") * days[1]
    goods = cents(Q * Decimal(price) * Decimal("0.1462"))
    return {"c": slope * Q / good, "F": 6 + total - slope * Q, "t": goods * paid / 365 / total}


def early(number: int) -> Decimal:
    """How many days before arrival a payment falls: lead times are drawn, so this is read from its cell."""
    book = opened(sample()[1])
    sheet, cell = place_of(book, f"offer_1_early_{number}")
    return Decimal(str(book[sheet][cell].value))


def window(
    at_home: Decimal, per_month: Decimal, c: Decimal, fixed: Decimal, t: Decimal
) -> list[Decimal] | None:
    """The closed form: from, to, best; None where no quantity pays."""
    i = Decimal("0.12")
    # What is fixed in the landed cost, all but the 6.00 for ordering, is paid early and carried like the rest.
    carried, yearly = fixed - 6, 12 * per_month
    gain, shelf = at_home - c * (1 + i * t) - i * carried / (2 * yearly), i * c / (2 * yearly)
    under = gain * gain - 4 * shelf * (6 + carried * (1 + i * t))
    if gain <= 0 or under < 0:
        return None
    return [(gain - under.sqrt()) / (2 * shelf), (gain + under.sqrt()) / (2 * shelf), gain / (2 * shelf)]


def cell(name: str) -> Decimal:
    """An input of the sample's workbook as it is handed over."""
    book = opened(sample()[1])
    sheet, place = place_of(book, name)
    return Decimal(str(book[sheet][place].value))


def agrees(books: Books, expected: list[Decimal] | None) -> None:
    """The window and the best quantity that LibreOffice shows are the closed form's."""
    assert expected is not None
    found = [books.named(name) for name in ("pays_from", "pays_to", "best_quantity")]
    assert found == pytest.approx([float(each) for each in expected], rel=1e-6)


@needs_office
def test_the_window_is_the_closed_form(office: Office) -> None:
    """Landed costs, the part for each piece, the fixed part and the window, all worked out apart."""
    books, now = office["sample"], given()
    assert books.named("landed_in_all") == pytest.approx(float(landed(Q)))
    assert books.named("landed_each") == pytest.approx(float(now["c"]))
    carried = now["F"] - 6
    assert books.named("fixed_and_carried") == pytest.approx(float(carried))
    fixed = 6 + carried * (1 + Decimal("0.12") * now["t"])
    assert books.named("fixed_for_a_shipment") == pytest.approx(float(fixed))
    assert books.named("paid_early_years") == pytest.approx(float(now["t"]))
    agrees(books, window(cell("price_at_home"), cell("demand_per_month"), now["c"], now["F"], now["t"]))


@needs_office
@pytest.mark.parametrize("price", ["3.20", "4.50"])
def test_another_price_at_home_moves_the_window(price: str, office: Office) -> None:
    """One cell changed; the window is what the closed form gives for it, the landed cost stays."""
    books, now = office[f"home at {price}"], given()
    agrees(books, window(Decimal(price), cell("demand_per_month"), now["c"], now["F"], now["t"]))
    assert books.named("landed_in_all") == pytest.approx(float(landed(Q)))


@needs_office
def test_another_demand_moves_the_window(office: Office) -> None:
    """Half as much is asked for: the window narrows as the closed form says."""
    now = given()
    agrees(office["demand of 29"], window(cell("price_at_home"), Decimal(29), now["c"], now["F"], now["t"]))


@needs_office
def test_too_little_demand_cannot_pay(office: Office) -> None:
    """Below the demand at which B squared is 4 A F the sheet says so in words."""
    now, books = given(), office["demand of 5"]
    assert window(cell("price_at_home"), Decimal(5), now["c"], now["F"], now["t"]) is None
    assert shown(books, "can_it_pay") == "cannot pay at this volume"
    names = ("pays_from", "pays_to", "best_quantity", "best_saving")
    assert [shown(books, name) for name in names] == ["none"] * 4


@needs_office
def test_another_duty_moves_landed_cost_and_window(office: Office) -> None:
    """The general rate becomes 30%: duty, landed cost and window follow."""
    books, now = office["duty of 30%"], given(duty="0.475")
    assert books.named("landed_in_all") == pytest.approx(float(landed(Q, "0.475")))
    agrees(books, window(cell("price_at_home"), cell("demand_per_month"), now["c"], now["F"], now["t"]))


@needs_office
@pytest.mark.parametrize("published", sorted(INDIFFERENCE))
def test_published_indifference(published: str, office: Office) -> None:
    """50 against 40 and 10,000: 1,000 pieces; 8 against 5.5 and 40,000: 16,000. With a free shelf there is no end.

    Source: second-hand, source not recorded; recomputed.
    """
    books = office[published]
    assert books.named("naive_break_even") == pytest.approx(int(published))
    assert books.named("pays_from") == pytest.approx(int(published))
    assert shown(books, "pays_to") == "no end"


@needs_office
def test_charts_show_the_tables_cells(office: Office) -> None:
    """What LibreOffice keeps of each chart's values are the cells of the table that the chart is drawn over."""
    path = office.folder / "sample.xlsx"
    book = openpyxl.load_workbook(path, data_only=True)
    found = {}
    with zipfile.ZipFile(path) as packed:
        for part in packed.namelist():
            if part.startswith("xl/charts/chart"):
                found |= kept_values(packed.read(part))
    assert {sheet_of(reference) for reference in found} == {
        "Screen", "Landed by quantity", "Cost by volume", "How it may turn out", "What if",
    }  # fmt: skip
    for reference, values in found.items():
        assert cells_of(book, reference) == pytest.approx(values)


def kept_values(content: bytes) -> dict[str, list[float]]:
    """The numbers a chart keeps, by the cells they came from."""
    found = {}
    for reference in ElementTree.fromstring(content).iter(f"{CHARTS}numRef"):
        values = [float(str(each.text)) for each in reference.iter(f"{CHARTS}v")]
        found[str(reference.findtext(f"{CHARTS}f"))] = values
    return found


def sheet_of(reference: str) -> str:
    """The sheet that a reference speaks of."""
    return reference.rpartition("!")[0].strip("'")


def cells_of(book: Any, reference: str) -> list[float]:
    """The values of a reference's cells."""
    left, top, right, bottom = range_boundaries(reference.rpartition("!")[2].replace("$", ""))
    sheet = book[sheet_of(reference)]
    return [row[0] for row in sheet.iter_rows(top, bottom, left, right, values_only=True)]
