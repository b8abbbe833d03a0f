"""Bars beside figures: as long as their amounts, and nothing where there is no terminal or no room."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from ledger.views.bars import EIGHTHS, WIDTH, Bars, beside
from ledger.views.tables import Table


def length(bar: str) -> int:
    """The length of a bar in eighths of a character."""
    return sum(EIGHTHS.index(char) + 1 for char in bar)


def test_bars_are_as_long_as_their_amounts() -> None:
    """A half, an eighth of a character, the whole; nothing is no bar."""
    bars = Bars(100)
    assert [bars.row(amount, 80, 10) for amount in (80, 40, 1, 0)] == ["█" * 10, "█" * 5, "▏", ""]


def test_without_blocks_bars_are_plain() -> None:
    """An encoding that has only ASCII gets signs that every terminal shows."""
    bars = Bars(100, has_blocks=False)
    assert [bars.row(amount, 80, 10) for amount in (80, 1, -40)] == ["#" * 10, "#", "-----"]


def test_below_zero_a_bar_has_another_look() -> None:
    """A loss is not taken for a gain."""
    assert Bars(100).row(-40, 80, 10) == "░" * 5


@given(st.integers(1, 10**9), st.integers(1, 10**9), st.integers(6, 40))
def test_a_bar_is_within_an_eighth_of_its_share(one: int, other: int, width: int) -> None:
    """No bar is longer than the longest, and each is its amount's share of it."""
    most = max(one, other)
    bar = Bars(200).row(one, most, width)
    assert abs(length(bar) - max(1, one * width * 8 / most)) <= 0.5
    assert len(bar) <= width


def table() -> Table:
    """Two rows and a total."""
    made = Table(["what", ">USD"])
    made.add("a", "10")
    made.add("b", "5")
    made.total("all", "15")
    return made


def test_bars_stand_at_the_end_of_their_rows() -> None:
    """The table is the same without them; its total has none."""
    drawn = beside(table(), [10, 5], Bars(80)).text().splitlines()
    assert [line.split("█")[0].rstrip() for line in drawn[2:4]] == table().text().splitlines()[2:4]
    assert [line.count("█") for line in drawn] == [0, 0, WIDTH, WIDTH // 2, 0, 0]


def test_bars_can_stand_below_the_line() -> None:
    """Sums by kind are below the line of a list of items."""
    drawn = beside(table(), [15], Bars(80), in_totals=True).text().splitlines()
    assert [line.count("█") for line in drawn] == [0, 0, 0, 0, 0, WIDTH]


def test_nothing_is_drawn_where_it_cannot_be_seen() -> None:
    """Without a terminal, without room, and where every amount is nothing, the table is as it was."""
    made = table()
    assert beside(made, [10, 5], None) is made
    assert beside(made, [10, 5], Bars(14)) is made
    assert beside(made, [0, 0], Bars(80)) is made


def test_bars_of_less_than_six_characters_are_left_out() -> None:
    """Two blanks and six characters beside a table of nine are drawn; a column less, and none is."""
    made = table()
    assert beside(made, [10, 5], Bars(17)).text().splitlines()[2].endswith("█" * 6)
    assert beside(made, [10, 5], Bars(16)) is made


def test_bars_are_shorter_where_there_is_less_room() -> None:
    """No line is longer than the terminal is wide."""
    drawn = beside(table(), [10, 5], Bars(20)).text().splitlines()
    assert max(map(len, drawn)) == 20
