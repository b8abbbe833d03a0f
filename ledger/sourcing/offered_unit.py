"""What an offer's unit holds of an item: one of its packs, a unit, or a content written out."""

from __future__ import annotations

import re
from collections.abc import Sequence

from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack, find_pack, read_pack, unit_factor

_CONTENT = re.compile(r"\s*\d")
_NAME = "one"


def offered_pack(text: str, item: Item, packs: Sequence[Pack]) -> Pack:
    """Return the pack that an offer's unit means, with its real and its nominal content in base units.

    ``text`` is a pack of the item (roll), a unit (dozen), a content written out (500 sheet; 11.8 in x
    5 yd (sold as 12 in x 5 yd)), or empty for the item's own unit.

    Raises ValueProblem where it is none of these.
    """
    known = find_pack(text, packs)
    if known is not None:
        return known
    if _CONTENT.match(text):
        return read_pack(f"{_NAME} = {text}", item.base_unit, item.density_g_per_ml, sku=item.sku)
    factor = unit_factor(text, item.base_unit, packs, item.density_g_per_ml)
    return Pack(item.sku, text or item.base_unit, factor)
