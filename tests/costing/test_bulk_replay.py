"""Whole columns against the loop: the same takings, lots and open layers, or the loop decides."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence

import pytest
from drawn import drawn
from hypothesis import event, given
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from ledger.costing import bulk_replay as bulk_module
from ledger.costing import replay as replay_module
from ledger.costing.bulk_replay import LARGEST, bulk_replay
from ledger.costing.layers import OpenLayer
from ledger.costing.replay import Movements, replay, replay_one_by_one
from ledger.errors import NotEnoughStock, Refused

ENGINE = drawn(150)
SKUS = ("tee-sand-m", "tee-plum-l", "film-sheet")
START_DOCUMENT = 900

Drawn = tuple[tuple[OpenLayer, ...], Movements]


def add(movements: Movements, sku: str, *, amount: int | None = None, milli: int, expensed: int = 0) -> None:
    """Append an arrival, or without an amount a line that leaves."""
    arrives = amount is not None
    movements.document.append(len(movements) + 1)
    movements.line.append(1 + len(movements) % 3)
    movements.effect_date.append("2026-01-05")
    movements.sku.append(sku)
    movements.arrives.append(arrives)
    movements.account.append("purchases" if arrives else "pieces sold")
    movements.quantity.append(milli)
    movements.amount.append(amount or 0)
    movements.expensed.append(expensed)


def history(*steps: tuple[int, int | None]) -> Movements:
    """Return movements of one SKU: thousandths, and the amount of what arrives (None: it leaves)."""
    movements = Movements()
    for milli, amount in steps:
        add(movements, "tee-sand-m", amount=amount, milli=milli)
    return movements


def amounts() -> SearchStrategy[int]:
    """Nothing, little (where rounding shows), and much: near what a product of 64 bits bears, or beyond."""
    near = LARGEST // (2 * 9000)
    return st.one_of(st.just(0), st.integers(0, 60), st.integers(near // 2, near + near // 2))


@st.composite
def start_layers(draw: DrawFn) -> tuple[OpenLayer, ...]:
    """Layers open before: some lots in several layers, some layers used in part, some wholly."""
    layers = []
    for number in range(draw(st.integers(0, 6))):
        quantity = draw(st.integers(1, 9000))
        lot = START_DOCUMENT + number // 2
        used = draw(st.one_of(st.just(0), st.just(quantity), st.integers(0, quantity)))
        sku = SKUS[lot % len(SKUS)]
        layers.append(OpenLayer(sku, lot, 1, 1 + number % 2, quantity, draw(amounts()), used))
    return tuple(layers)


@st.composite
def histories(draw: DrawFn, *, most_greedy: int = 0) -> Drawn:
    """Layers and movements in which nothing leaves that is not there, but by up to ``most_greedy``."""
    start = draw(start_layers())
    on_hand = dict.fromkeys(SKUS, 0)
    for layer in start:
        on_hand[layer.sku] += layer.left
    movements = Movements()
    for _ in range(draw(st.integers(0, 25))):
        sku = draw(st.sampled_from(SKUS))
        most = max(on_hand[sku], 0) + draw(st.integers(0, most_greedy))
        if most and draw(st.booleans()):
            milli = draw(st.one_of(st.just(most), st.integers(1, most)))
            add(movements, sku, milli=milli)
            on_hand[sku] -= milli
        else:
            milli = draw(st.integers(1, 9000))
            expensed = draw(st.one_of(st.just(0), st.just(0), st.just(milli), st.integers(0, milli)))
            add(movements, sku, amount=draw(amounts()), milli=milli, expensed=expensed)
            on_hand[sku] += milli - expensed
    return start, movements


def can_pass_64_bits(start: Sequence[OpenLayer], movements: Movements) -> bool:
    """Whether the rounding rule's largest product could."""
    arrived = zip(movements.quantity, movements.amount, movements.arrives, strict=True)
    both = [(layer.quantity, layer.amount) for layer in start]
    both += [(quantity, amount) for quantity, amount, arrives in arrived if arrives]
    quantity = max((one for one, _ in both), default=0)
    return 2 * max((one for _, one in both), default=0) * quantity + quantity > LARGEST


@ENGINE
@given(histories())
def test_whole_columns_find_what_the_loop_finds(drawn: Drawn) -> None:
    """Takings in costing order, lots and open layers are the same, or the figures could be too large."""
    start, movements = drawn
    found = bulk_replay(start, movements)
    if can_pass_64_bits(start, movements):
        event("too large")
        assert found is None
    else:
        event("costed")
        assert found == replay_one_by_one(start, movements)


@ENGINE
@given(histories(most_greedy=2000))
def test_a_shortage_is_left_to_the_loop(drawn: Drawn) -> None:
    """What takes more than is there, or takes it before it comes, is never costed in columns."""
    start, movements = drawn
    try:
        expected = replay_one_by_one(start, movements)
    except NotEnoughStock:
        event("short")
        assert bulk_replay(start, movements) is None
    else:
        assert bulk_replay(start, movements) in (expected, None)


@pytest.mark.parametrize(
    "movements",
    [
        pytest.param(history((5000, 100), (6000, None)), id="too little ever came"),
        pytest.param(history((5000, 100), (6000, None), (9000, 100)), id="the rest comes later"),
        pytest.param(history((5000, None), (9000, 100)), id="all comes later"),
        pytest.param(history((5000, -1), (1000, None)), id="a cost below zero"),
        pytest.param(history((5000, 100), (0, None)), id="a quantity of zero"),
        pytest.param(history((2**40, 2**23), (1000, None)), id="a product of 64 bits and more"),
        pytest.param(history((2**64, 1), (1000, None)), id="a quantity of 64 bits and more"),
        pytest.param(history((2**62, 0), (2**62, 0), (1000, None)), id="a sum of 64 bits and more"),
    ],
)
def test_what_is_not_plain_is_left_to_the_loop(movements: Movements) -> None:
    """The loop decides, by its own words or with its own numbers."""
    assert bulk_replay((), movements) is None


def test_the_largest_product_that_fits_is_costed_in_columns() -> None:
    """Just below the guard the sums are exact."""
    amount = (LARGEST - 2**20) // (2 * 2**20)
    movements = history((2**20, amount), (2**20 - 1, None), (1, None))
    found = bulk_replay((), movements)
    assert found is not None
    assert list(found.takings.amount) == [amount - amount // 2**20 - 1, amount // 2**20 + 1]


def test_a_piece_of_every_layer_in_between(monkeypatch: pytest.MonkeyPatch) -> None:
    """One line empties several lots, and its takings stand in the order of the lots."""
    monkeypatch.setattr(replay_module, "BULK_MOVEMENTS", 0)
    movements = history((1000, 10), (1000, 20), (1000, 30), (2500, None))
    takings = replay((), movements).takings
    assert (list(takings.lot), list(takings.amount)) == ([0, 1, 2], [10, 20, 15])


def test_a_long_history_goes_through_the_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    """Above the limit the loop is not asked."""
    monkeypatch.setattr(replay_module, "BULK_MOVEMENTS", 1)
    monkeypatch.setattr(replay_module, "replay_one_by_one", None)
    assert list(replay((), history((2000, 10), (1000, None))).takings.amount) == [5]


def test_a_short_history_does_not_go_through_the_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    """At the limit the loop is asked alone."""
    monkeypatch.setattr(replay_module, "BULK_MOVEMENTS", 2)
    monkeypatch.setattr(bulk_module, "bulk_replay", None)
    assert list(replay((), history((2000, 10), (1000, None))).takings.amount) == [5]


def test_a_long_history_with_a_shortage_is_refused_in_the_same_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """The document that goes short is named, however many movements there are."""
    movements = history((5000, 100), (6000, None), (9000, 100))
    with pytest.raises(NotEnoughStock, match="tee-sand-m: document 2 takes 6") as short:
        replay((), movements)
    monkeypatch.setattr(replay_module, "BULK_MOVEMENTS", 0)
    with pytest.raises(NotEnoughStock) as long:
        replay((), movements)
    assert str(long.value) == str(short.value)


def test_a_long_history_with_a_cost_below_zero_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """The arrival is named as in a short one."""
    monkeypatch.setattr(replay_module, "BULK_MOVEMENTS", 0)
    with pytest.raises(Refused, match="document 1, line 2"):
        replay((), history((5000, -1)))


def test_start_layers_may_come_from_a_generator(monkeypatch: pytest.MonkeyPatch) -> None:
    """They are read once, and the loop still has them where the columns give up."""
    monkeypatch.setattr(replay_module, "BULK_MOVEMENTS", 0)
    layer = OpenLayer("tee-sand-m", 1, 1, 1, 3000, 100, 1000)
    movements = history((2**64, 0), (2000, None))
    assert list(replay((one for one in [layer]), movements).takings.amount) == [67]


def test_open_layers_stand_in_the_order_their_items_first_appear() -> None:
    """Two runs of the program give the same list, whatever the hashes of the SKUs."""
    movements = Movements()
    for sku in ("b", "c", "a"):
        add(movements, sku, amount=1, milli=1000)
    start = (OpenLayer("z", 1, 1, 1, 1000, 5),)
    assert [layer.sku for layer in replay(start, movements).open_layers] == ["z", "b", "c", "a"]


def test_an_ordinary_history_never_loads_numpy() -> None:
    """A posting of a few lines does not wait for a library it has no use for."""
    program = (
        "import sys; from ledger.costing.replay import Movements, replay; replay((), Movements()); "
        "import ledger.costing.bulk_replay; print('numpy' in sys.modules)"
    )
    ended = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True, text=True)
    assert ended.stdout.strip() == "False"
