"""The place of what comes back to a lot: in front of what the lot still holds."""

from __future__ import annotations

from ledger.costing.shelf import Layer, Portion, Shelf, ShelfLot, Taken


def shelf_with(*layers: Layer) -> Shelf:
    """Return a shelf with one lot of these layers."""
    shelf = Shelf("TEE-SAND-M")
    shelf.put(ShelfLot(("2026-01-05", 1, 1, 1), 12_000, 5412, list(layers)))
    return shelf


def test_emptied_layers_do_not_number_what_comes_back() -> None:
    """A replay that begins at a close knows no emptied layers, and one from the first day numbers alike."""
    layer = Layer(1, 12_000, 5412, used=3000)
    emptied = Layer(0, 1000, 451, used=1000)
    for shelf in (shelf_with(emptied, layer), shelf_with(layer)):
        shelf.take_back(Taken([Portion((1, 1), 1000, 451)]), 1000)
        assert [(one.position, one.left) for one in shelf.lots[0].open_layers()] == [(0, 1000), (1, 9000)]


def test_what_comes_back_leaves_before_what_came_back_earlier() -> None:
    """Two returns stand one before the other."""
    shelf = shelf_with(Layer(1, 12_000, 5412, used=3000))
    for _ in range(2):
        shelf.take_back(Taken([Portion((1, 1), 1000, 451)]), 1000)
    assert [one.position for one in shelf.lots[0].open_layers()] == [-1, 0, 1]
