"""How many base units a shipment line's quantity is, once its item is known."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack, find_pack, read_pack, unit_factor
from ledger.catalogue.units import convert, read_unit
from ledger.errors import ValueProblem
from ledger.exact.numbers import show_fraction
from ledger.intake.shipment import ShipmentLine
from ledger.intake.shipment_codes import PIECE_UNITS


def line_factor(line: ShipmentLine, item: Item, packs: Sequence[Pack]) -> Fraction:
    """Return how many base units one of the line's units is.

    Six of what is kept in mL are six bottles more often than six millilitres: without a unit nobody knows.

    Raises ValueProblem where the unit is missing of what is measured, unknown, or of something else.
    """
    if not line.unit and not line.pack_content and item.base_unit not in PIECE_UNITS:
        raise ValueProblem(_without_unit(line, item, packs))
    if line.pack_content:
        factor = read_pack(f"pack = {line.pack_content}", item.base_unit, item.density_g_per_ml).factor
        own = find_pack(line.unit, packs) if line.is_content_of_row else None
        if own is not None and own.factor != factor:
            raise ValueProblem(
                f"{item.sku}: the file says that one {line.unit} holds {line.pack_content}, and its pack "
                f"{own.name} holds {show_fraction(own.factor, 2)} {item.base_unit}. Correct the pack of the "
                "item, or give this one an item of its own."
            )
        return factor
    if line.pack_factor is None:
        return unit_factor(line.unit, item.base_unit, packs, item.density_g_per_ml)
    unit = line.pack_base_unit
    if not unit or unit == item.base_unit:
        return line.pack_factor
    return convert(line.pack_factor, read_unit(unit), item.base_unit, item.density_g_per_ml)


def _without_unit(line: ShipmentLine, item: Item, packs: Sequence[Pack]) -> str:
    """Return what is said of a quantity without a unit, with the words that may be meant."""
    word, base = line.code or item.sku, item.base_unit
    names = ", ".join(f"{pack.name} ({show_fraction(pack.factor)} {base})" for pack in packs)
    example = packs[0].name if packs else base
    return (
        f"{item.sku} is kept in {base}, and no unit says what {show_fraction(line.quantity)} of it are. "
        f"{f'Its packs: {names}. ' if names else ''}"
        f"Name the unit in its column, or say of a file's layout: "
        f'--as "unit of {word} = {example}"; of a single line without a file: --unit; in a profile: "{word}" = "{example}" under [defaults.units].'
    )
