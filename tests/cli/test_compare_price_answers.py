"""`blankbook compare --prices` in this process: the reasons, the advice, the curve, the picture and the workbook."""

from __future__ import annotations

import re
import zipfile
from itertools import combinations
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from price_shop import BILLS, FAR, HOME, RATES, loaded, offered, price_shop, prices, received
from small_shop import Commands

from ledger.errors import UsageError
from ledger.views import pictures_prices


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book that has a catalogue, run in an empty folder."""
    return price_shop(tmp_path, monkeypatch)


def test_what_buying_more_would_change_is_told(blankbook: Commands) -> None:
    """Sixty-four or more: buy seventy-two."""
    offered(blankbook, HOME)
    out = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "66").out
    assert (
        "64 or more: buy 72, 259.20 in all, less than 64 cost. For the 66 here: 6 more and 11.40 less in all."
        in out
    )


def test_more_is_advised_only_from_what_is_wanted_on(blankbook: Commands) -> None:
    """Who wants a hundred is past the break at seventy-two."""
    offered(blankbook, HOME)
    assert "or more: buy" not in blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "100").out


def test_whole_packs_are_told_with_what_they_change(blankbook: Commands) -> None:
    """Two and a half packs of sheets sold singly: three packs cost as much a sheet, and more in all."""
    offered(blankbook, "Near,,PAPER,,,0.10,,USD,,,,,,,,,,,,")
    data = prices(blankbook, "PAPER", "--quantity", "250")
    assert data["whole_packs"] == [
        {"pack": "pack", "packs": 3, "quantity": "300", "total": "30.00", "landed_per_unit": "0.100000"}
    ]
    out = blankbook("compare", "--prices", "PAPER", "--quantity", "250").out
    assert "by the whole pack: 300 sheet, 5.00 more in all and the same per sheet." in out


def test_what_costs_least_for_what_is_wanted_alone_is_told(blankbook: Commands) -> None:
    """The cheaper sheet comes by the two thousand; five hundred are wanted."""
    offered(
        blankbook,
        "Near,,PAPER,,,14.90,pack,USD,,,,,,,,,,,,",
        "Far,,PAPER,,,50,500 sheet,USD,,,4,,,,,,,,,",
    )
    why = prices(blankbook, "PAPER", "--quantity", "500")["why"]
    assert "Near, PAPER is the only one that sells about 500 sheet today: 74.50 in all" in why
    assert "Far, PAPER costs less per sheet, but only from 2000 on: 0.1000 per sheet, 200.00 in all." in why


def test_the_reason_names_the_three_largest_differences(blankbook: Commands) -> None:
    """What makes it cheaper first, what does not after 'though'; the table of steps has them all."""
    offered(blankbook, HOME, FAR)
    loaded(blankbook, "duties", RATES)
    why = prices(blankbook, "WREN-BLK-M", "--quantity", "120")["why"]
    assert "mostly freight 1.2500 less; brokerage 1.1667 less, though price 1.8000 more." in why


def test_print_it_or_buy_the_transfer(blankbook: Commands) -> None:
    """Five millilitres of ink at 20 a bottle against transfers at 0.15, at 24 pieces and at the break."""
    loaded(blankbook, "boms", BILLS)
    received(
        blankbook,
        "--sku",
        "INK",
        "--unit",
        "bottle",
        "--quantity",
        "1",
        "--amount",
        "20",
        "--date",
        "2026-02-01",
    )
    offered(blankbook, "Near,,TRANSFER,,,1 = 0.25; 100 = 0.15,,USD,,,,,,,,,,,,")
    found = prices(blankbook, "TRANSFER", "--bill", "FOX", "--quantity", "24")["print_or_buy"]
    assert [(row["pieces"], row["print_each"], row["transfer_each"]) for row in found["by_quantity"]] == [
        (24, "0.200000", "0.250000"),
        (100, "0.200000", "0.150000"),
    ]
    out = blankbook("compare", "--prices", "TRANSFER", "--bill", "fox", "--quantity", "24").out
    assert ("printing" in out, "the transfer" in out) == (True, True)


def test_the_curve_has_both_sides_of_the_break(blankbook: Commands) -> None:
    """As a table, and in the data."""
    offered(blankbook, HOME)
    out = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "66", "--curve").out
    assert "last below the break" in out
    curve = prices(blankbook, "WREN-BLK-M", "--quantity", "66", "--curve")["contenders"][0]["curve"]
    totals = {point["quantity"]: point["total"] for point in curve}
    assert (totals[71], totals[72]) == ("291.10", "259.20")


@pytest.mark.parametrize(("name", "start"), [("p.png", b"\x89PNG"), ("p.svg", b"<?xml")])
def test_a_picture_is_written(blankbook: Commands, name: str, start: bytes) -> None:
    """PNG or SVG by the name's ending; it is never written over."""
    offered(blankbook, HOME)
    words = ("compare", "--prices", "WREN-BLK-M", "--quantity", "66", "--picture", name)
    assert blankbook(*words).code == 0
    assert Path(name).read_bytes().startswith(start)
    assert isinstance(blankbook(*words).error, UsageError)


def test_the_same_picture_is_the_same_file(blankbook: Commands) -> None:
    """No clock and no random name leaves a trace."""
    offered(blankbook, HOME)
    for name in ("one.svg", "two.svg"):
        assert blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "66", "--picture", name).code == 0
    assert Path("one.svg").read_bytes() == Path("two.svg").read_bytes()


def _drawn(blankbook: Commands, quantity: str) -> Any:
    """Return the figure that the picture of a comparison is written from."""
    drawn: list[Any] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("ledger.views.pictures_prices.save", lambda figure, _: drawn.append(figure))
        words = ("compare", "--prices", "WREN-BLK-M", "--quantity", quantity, "--picture", "p.png")
        assert blankbook(*words).code == 0
    return drawn[0]


def test_each_curve_has_a_mark_where_one_would_buy(blankbook: Commands) -> None:
    """66 at 4.10 of the one; the other sells 108 at least, by dozens, and its mark stands there."""
    loaded(blankbook, "duties", RATES)
    offered(blankbook, HOME, FAR)
    below = _drawn(blankbook, "66").axes[1]
    marks = {line.get_color(): line for line in below.lines if line.get_gid() == "bought"}
    places = sorted(
        (float(line.get_xdata()[0]), round(float(line.get_ydata()[0]), 4)) for line in marks.values()
    )
    data = prices(blankbook, "WREN-BLK-M", "--quantity", "66")["contenders"]
    assert [place for place, _ in places] == [66, 108]
    assert places == sorted(
        (float(each["quantity"]), round(float(each["landed_per_unit"]), 4)) for each in data
    )


def test_a_picture_says_that_it_leaves_offers_out(blankbook: Commands) -> None:
    """Four can be told apart; of five the fifth is missing, and that is said."""
    offered(blankbook, *(HOME.replace("Mill Lane", f"Mill {name}") for name in "ABCD"))
    assert "offers" not in _drawn(blankbook, "66").get_suptitle()
    offered(blankbook, HOME.replace("Mill Lane", "Mill E"))
    assert "the first 4 of 5 offers" in _drawn(blankbook, "66").get_suptitle()


def test_lines_of_the_workbooks_chart_go_straight(blankbook: Commands) -> None:
    """Every line says so itself: a program's own choice would be to round them off."""
    offered(blankbook, HOME, HOME.replace("Mill Lane", "Mill B"))
    words = ("compare", "--prices", "WREN-BLK-M", "--quantity", "120", "--workbook", "straight.xlsx")
    assert blankbook(*words).code == 0
    with zipfile.ZipFile("straight.xlsx") as parts:
        text = parts.read("xl/charts/chart1.xml").decode()
    lines = re.findall(r"<ser>.*?</ser>", text, re.DOTALL)
    assert len(lines) == 2
    assert all(re.search(r'<smooth val="0"\s*/>', line) for line in lines)


def test_figures_of_a_picture_do_not_overlap(blankbook: Commands) -> None:
    """Whatever stands in the panel of steps keeps clear of the rest."""
    offered(blankbook, HOME, FAR, FAR.replace("Sparrow", "Finch"))
    loaded(blankbook, "duties", RATES)
    drawn: list[Any] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("ledger.views.pictures_prices.save", lambda *_: None)
        real = pictures_prices.price_figure
        patch.setattr(
            "ledger.views.pictures_prices.price_figure", lambda report: drawn.append(real(report)) or drawn[0]
        )
        words = ("compare", "--prices", "WREN-BLK-M", "--quantity", "120", "--picture", "p.png")
        assert blankbook(*words).code == 0
    above = drawn[0].axes[0]
    boxes = [text.get_window_extent() for text in above.texts]
    assert len(boxes) == 3 + 2 + 2 * 6
    assert not [1 for one, other in combinations(boxes, 2) if one.overlaps(other)]


def test_the_workbook_has_a_native_chart(blankbook: Commands) -> None:
    """One series for each offer; the steps add up to the landed cost."""
    offered(blankbook, HOME, FAR)
    loaded(blankbook, "duties", RATES)
    words = ("compare", "--prices", "WREN-BLK-M", "--quantity", "120", "--workbook", "w.xlsx")
    assert blankbook(*words).code == 0
    workbook = openpyxl.load_workbook("w.xlsx")
    chart = workbook["By quantity"]._charts[0]
    assert (type(chart).__name__, len(chart.series)) == ("ScatterChart", 2)
    steps = workbook["Steps"]
    last = steps.max_row
    landed = workbook["Ranking"].cell(2, 5).value
    assert sum(steps.cell(row, 2).value for row in range(2, last)) == pytest.approx(landed)
    assert steps.cell(last, 2).value == f"=SUM(B2:B{last - 1})"
