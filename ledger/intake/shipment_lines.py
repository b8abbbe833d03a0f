"""One row of an invoice or packing list as shipment lines, every problem in it named."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.catalogue.units import find_unit
from ledger.errors import ValueProblem
from ledger.intake.carton_ranges import count_cartons
from ledger.intake.nearest import fold, quoted
from ledger.intake.pack_content import read_content
from ledger.intake.profile import counts_cartons
from ledger.intake.row_cells import MAX_PIECES, RowCells
from ledger.intake.shipment import LOSSES, ShipmentLine
from ledger.intake.shipment_codes import PIECE_UNITS, Codes, RowWords, UnitMeaning
from ledger.intake.shipment_prices import LineHabits, LinePrice, Part, line_prices, shown
from ledger.intake.variant_words import Variant, split_variant

MAX_MEASURED = 10**9
"""The most of a measured unit (cm2, mL) in one line."""
MAX_WEIGHT_KG = 1_000_000
MAX_VOLUME_M3 = 10_000
ITEM_CELLS = ("fibre", "customs_class", "origin")
IDENTITY = ("sku", "code", "style", "colour", "size", "description")
_REST = ("missing", "damaged", "loss", "duty", "duty_percent", "weight_kg", "volume_m3")
_SIZE_LOSS = re.compile(r"(?P<size>.*?)[\s:]+(?P<pieces>[0-9]{1,7})", re.ASCII)
_NONE = Fraction(0)


@dataclass(frozen=True)
class _Rest:
    """What a row says beside quantity and price, for each of its parts or for all of them."""

    missing: list[Fraction]
    damaged: list[Fraction]
    loss: str
    duty: Fraction | None
    duty_percent: Fraction | None
    weights_kg: list[Fraction | None]
    volumes_m3: list[Fraction | None]


def lines_of_row(row: RowCells, codes: Codes, habits: LineHabits) -> list[ShipmentLine]:
    """Return the lines of a row: one, or one for every size that stands across.

    Problems are noted with the row; a row with problems gives no lines or unfinished ones.
    """
    words = _words(row)
    parts = _parts(row, words, codes)
    if not parts:
        return []
    parts = _with_pieces(row, parts)
    for part in parts:
        _check_quantity(row, part)
    prices = line_prices(row, parts, codes, habits)
    rest = _rest(row, parts, codes, habits)
    return [
        _line(row, parts[place], codes, place=place, price=price, rest=rest, habits=habits)
        for place, price in enumerate(prices)
    ]


def _words(row: RowCells) -> RowWords:
    """Return the row's words; a colour and a size in one cell each for what no column of its own tells."""
    words = RowWords(**{name: row.text(name) for name in IDENTITY})
    variant = row.read("variant", lambda cell: split_variant(cell.text), Variant())
    return replace(words, colour=words.colour or variant.colour, size=words.size or variant.size)


def _parts(row: RowCells, words: RowWords, codes: Codes) -> list[Part]:
    if not codes.profile.sizes_across:
        quantity = _quantity(row, codes)
        part = None if quantity is None else _part(row, words, quantity, codes, "quantity")
        return [part] if part else []
    parts: list[Part | None] = []
    cartons = _cartons(row, codes) if _counts_cartons(codes) else Fraction(1)
    if cartons is None:
        return []
    for size in codes.profile.sizes_across:
        column = f"size {size}"
        # A dash or a zero is how packing lists say that none of a size is there.
        if row.is_empty(column) or row.record.text(column) in ("-", "–", "—"):
            continue
        quantity = row.number(column)
        if quantity:
            parts.append(_part(row, replace(words, size=size), quantity * cartons, codes, column))
    if not parts and row.total("line_total"):
        row.problem("line_total", "the row has a total, and no size has a quantity.", "Write how many came.")
    return [part for part in parts if part is not None]


def _counts_cartons(codes: Codes) -> bool:
    return "cartons" in codes.profile.columns or "carton_numbers" in codes.profile.columns


def _cartons(row: RowCells, codes: Codes) -> Fraction | None:
    """Return how many cartons the row is, by their count, else by their numbers; problems are noted."""
    name = "cartons" if "cartons" in codes.profile.columns else "carton_numbers"
    if row.is_empty(name):
        row.problem(name, "the cartons are empty.", "Write how many there are, or their numbers.")
        return None
    return row.counted(name) if name == "cartons" else row.read(name, count_cartons, None)


def _quantity(row: RowCells, codes: Codes) -> Fraction | None:
    """Return the row's quantity: as it stands, checked against its cartons, or made of them; problems are noted."""
    has_cartons = counts_cartons(codes.profile.columns) and not row.is_empty("per_carton")
    if row.is_empty("quantity") and not has_cartons:
        is_made = counts_cartons(codes.profile.columns)
        row.problem(
            "per_carton" if is_made else "quantity",
            "what a carton holds is empty." if is_made else "the quantity is empty.",
            "Write how many came, or name the row's label under [foot].",
        )
        return None
    stated = None if row.is_empty("quantity") else row.number("quantity")
    if not has_cartons or (stated is None and not row.is_empty("quantity")):
        return stated
    cartons, held = _cartons(row, codes), row.number("per_carton")
    if cartons is None or held is None:
        return None
    if stated is not None and stated != cartons * held:
        what = f"the quantity is {shown(stated)}, and {shown(cartons)} cartons of {shown(held)} are {shown(cartons * held)}."
        row.problem("quantity", what, "Correct the quantity or the cartons.")
        return None
    return cartons * held


def _part(row: RowCells, words: RowWords, quantity: Fraction, codes: Codes, column: str) -> Part | None:
    size = codes.size(words.size) if words.size else ""
    try:
        sku = codes.sku(words)
    except ValueProblem as problem:
        empty = [name for name in codes.profile.sku_parts() if row.is_empty(name) and name in row.record]
        advice = "Where the row is no item, name its label under [foot] in the profile." if empty else ""
        # A pattern without a placeholder takes its SKU from no column.
        row.problem(next(iter((*empty, *codes.profile.sku_parts())), "sku"), str(problem), advice)
        return None
    meaning = codes.unit(codes.unit_word(row.text("unit"), words, sku), size)
    meaning = _with_content(row, meaning, codes)
    return Part(words, sku, size, quantity, meaning, codes.factor(sku, meaning), column)


def _with_content(row: RowCells, meaning: UnitMeaning, codes: Codes) -> UnitMeaning:
    """Return what the row's unit is with the content that the row states for one; what contradicts is noted."""
    profile = codes.profile
    content = row.read(
        "content",
        lambda cell: read_content(cell.text, profile.packs, decimal_comma=profile.decimal_comma),
        None,
    )
    if content is None:
        return meaning
    unit = find_unit(meaning.unit)
    is_each = unit is not None and unit.name == "each" and content.base_unit not in PIECE_UNITS
    base_unit = meaning.base_unit if unit is None else unit.base_unit
    factor = meaning.factor if unit is None else unit.factor
    is_known = bool(base_unit) and factor is not None and not is_each
    if not meaning.unit and content.base_unit in PIECE_UNITS and content.factor != 1:
        what = f"no unit says whether the quantity counts packs of {content.text}, or pieces."
        row.problem("content", what, 'Write the unit, or under [defaults] in the profile: unit = "pack".')
    if is_known and (base_unit, factor) != (content.base_unit, content.factor):
        what = f"one {quoted(meaning.unit)} is {shown(factor or Fraction(1))} {base_unit}, and the row says {quoted(content.text)}."
        row.problem("content", what, "Correct one of them, or leave the column out of the profile.")
    if is_known:
        return meaning
    return UnitMeaning(
        meaning.unit, content.factor, content.base_unit, content.text, stated=True, is_of_row=True
    )


def _with_pieces(row: RowCells, parts: list[Part]) -> list[Part]:
    """Return the parts, their packs checked against the pieces the row states, or taken from them."""
    stated = row.counted("pieces", MAX_PIECES)
    if stated is None:
        return parts
    known = [part.pieces for part in parts if part.pieces is not None]
    if len(known) == len(parts):
        total = sum(known, _NONE)
        if total != stated:
            counted = " + ".join(
                f"{shown(part.quantity)} x {shown(part.factor or Fraction(1))}" for part in parts
            )
            row.problem(
                "pieces",
                f"the row says {shown(stated)} pieces, and {counted} is {shown(total)}.",
                "Check the quantity, or what a pack holds under [packs] in the profile.",
            )
        return parts
    quantity = sum((part.quantity for part in parts), _NONE)
    if quantity <= 0 or stated <= 0:
        return parts
    return [
        replace(part, factor=stated / quantity, meaning=replace(part.meaning, stated=True)) for part in parts
    ]


def _check_quantity(row: RowCells, part: Part) -> None:
    if part.quantity <= 0:
        row.problem(
            part.column,
            f"the quantity {shown(part.quantity)} is not above zero.",
            "Goods sent back are no line of a shipment; delete the row or correct it.",
        )
        return
    is_count = part.meaning.base_unit in PIECE_UNITS or not part.meaning.unit
    count = part.pieces if is_count and part.pieces is not None else part.quantity
    unit = find_unit(part.meaning.unit)
    is_measure = unit is not None and unit.base_unit not in PIECE_UNITS
    most = MAX_MEASURED if is_measure else MAX_PIECES
    if count > most:
        row.problem(
            part.column,
            f"{shown(count)} is more than {most:,} in one line.",
            "Check the quantity; where it counts no pieces, name its unit, like cm2.",
        )
    # By the word's own content: what the catalogue keeps by area has sheets of a broken number of cm2.
    if part.meaning.base_unit not in PIECE_UNITS:
        return
    pieces = part.quantity * (part.meaning.factor or 1)
    if pieces.denominator != 1:
        row.problem(
            part.column,
            f"{shown(part.quantity)} {part.meaning.unit} is not a whole number of pieces.",
            "Check the quantity.",
        )


def _rest(row: RowCells, parts: list[Part], codes: Codes, habits: LineHabits) -> _Rest:
    if all(map(row.is_empty, _REST)):
        none: list[Fraction | None] = [None] * len(parts)
        zero = [_NONE] * len(parts)
        return _Rest(zero, zero, "", None, None, none, none)
    counts = [part.pieces if part.pieces is not None else part.quantity for part in parts]
    duty, percent = row.counted("duty"), row.percent("duty_percent")
    if duty is not None and percent is not None:
        row.problem("duty", "the row has a duty and a duty percentage.", "Leave one of them empty.")
    if duty and len(parts) > 1:
        advice = 'Give it for the whole shipment, like --charge "duty 12.40 on TEE-*".'
        row.problem("duty", f"{shown(duty)} is for {len(parts)} sizes together.", advice)
    rest = _Rest(
        missing=_lost_pieces(row, "missing", parts, codes, habits.missing_in),
        damaged=_lost_pieces(row, "damaged", parts, codes, habits.damaged_in),
        loss=row.word("loss", LOSSES, ""),
        duty=duty,
        duty_percent=percent,
        weights_kg=_shared(row.counted("weight_kg", MAX_WEIGHT_KG), counts),
        volumes_m3=_shared(row.counted("volume_m3", MAX_VOLUME_M3), counts),
    )
    for part, missing, damaged in zip(parts, rest.missing, rest.damaged, strict=True):
        if part.pieces is not None and part.quantity > 0 and missing + damaged > part.pieces:
            row.problem(
                "missing" if missing else "damaged",
                f"{shown(missing)} missing and {shown(damaged)} damaged are more than the "
                f"{shown(part.pieces)} of the line.",
                "Check them, and what they count: losses_in under [defaults] in the profile.",
            )
    return rest


def _shared(measure: Fraction | None, counts: list[Fraction]) -> list[Fraction | None]:
    """Return a row's weight or volume shared by pieces; None where there is none."""
    total = sum(counts, _NONE)
    if not measure or total <= 0:
        return [None] * len(counts)
    return [measure * count / total for count in counts] if len(counts) > 1 else [measure]


def _line(
    row: RowCells,
    part: Part,
    codes: Codes,
    *,
    place: int,
    price: LinePrice,
    rest: _Rest,
    habits: LineHabits,
) -> ShipmentLine:
    words, meaning = part.words, part.meaning
    given = {name: row.text(name) for name in ITEM_CELLS}
    return ShipmentLine(
        where=row.record.where,
        sku=part.sku,
        quantity=part.quantity,
        unit=meaning.unit,
        net=price.net,
        code=words.code,
        style=codes.our_style(words),
        colour=words.colour,
        size=part.size,
        description=words.description,
        pack_factor=part.factor if meaning.stated or not meaning.unit else None,
        pack_base_unit=meaning.base_unit if meaning.stated else "",
        pack_content=meaning.content,
        is_content_of_row=meaning.is_of_row,
        unit_price=price.unit_price,
        discount=price.discount,
        missing=rest.missing[place],
        damaged=rest.damaged[place],
        missing_as=rest.loss or habits.missing_as,
        damaged_as=rest.loss or habits.damaged_as,
        duty=rest.duty,
        duty_percent=rest.duty_percent,
        weight_kg=rest.weights_kg[place],
        volume_m3=rest.volumes_m3[place],
        expires_on=row.date("expires_on"),
        tax_paid=row.word("tax_paid", ("yes", "resale", "none"), codes.profile.default_tax_paid),
        provisional=price.is_provisional,
        note=row.text("note"),
        new_item=codes.new_item(words, part.sku, given),
    )


def _lost_pieces(
    row: RowCells, column: str, parts: list[Part], codes: Codes, counted_in: str
) -> list[Fraction]:
    """Return the lost pieces of every part; of what is measured its own units, as they are lost whole."""
    losses = _loss_by_part(row, column, parts)
    if counted_in in ("pieces", "") or not any(losses):
        return losses
    if counted_in in ("dozens", "hundreds"):
        return [loss * (12 if counted_in == "dozens" else 100) for loss in losses]
    held: Fraction | None = Fraction(1)
    if counted_in == "cartons" and "per_carton" in codes.profile.columns:
        held = row.number("per_carton")
    pieces = []
    for part, loss in zip(parts, losses, strict=True):
        factor = Fraction(1) if codes.is_measured(part.sku, part.meaning) else part.factor
        if loss and (held is None or factor is None):
            step = "Write the pieces that are lost, or what one holds under [packs] in the profile."
            row.problem(column, f"nothing says how many pieces {shown(loss)} {counted_in} hold.", step)
        pieces.append(loss * (held or 1) * (factor or 1))
    return pieces


def _loss_by_part(row: RowCells, column: str, parts: list[Part]) -> list[Fraction]:
    """Return the pieces of a loss cell for every part: a number, or with sizes across 'M 2; XL 1'."""
    if len(parts) == 1:
        return [row.counted(column) or _NONE]
    losses = dict.fromkeys((part.words.size for part in parts), _NONE)
    by_fold = {fold(size): size for size in losses}
    for piece in filter(None, map(str.strip, row.text(column).split(";"))):
        match = _SIZE_LOSS.fullmatch(piece)
        size = by_fold.get(fold(match["size"])) if match else None
        if match is None or size is None:
            row.problem(
                column,
                f"{quoted(piece)} does not say of which size of the row.",
                f"Write the size and the pieces, like {parts[0].words.size} 2, with ; between.",
            )
            continue
        losses[size] += int(match["pieces"])
    return list(losses.values())
