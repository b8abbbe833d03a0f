"""One row of an invoice or packing list as shipment lines, every problem in it named."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.costing.spreading import spread
from ledger.errors import ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.rounding import round_fraction
from ledger.intake.nearest import fold, quoted
from ledger.intake.row_cells import FREE, MAX_UNIT_PRICE, RowCells
from ledger.intake.shipment import LOSSES, ShipmentLine
from ledger.intake.shipment_codes import PIECE_UNITS, Codes, RowWords, UnitMeaning

MAX_PIECES = 1_000_000
ITEM_CELLS = ("fibre", "customs_class", "origin")
IDENTITY = ("sku", "code", "style", "colour", "size", "description")
_PIECES_PER_PRICE = {"piece": 1, "dozen": 12, "hundred": 100}


@dataclass(frozen=True)
class LineHabits:
    """What holds for every row: the invoice's currency, and what becomes of missing and damaged pieces."""

    currency: str
    missing_as: str = "claimed"
    damaged_as: str = "claimed"

    def cents(self, amount: Fraction) -> int:
        """Return an amount in whole minor units, rounded half away from zero."""
        return round_fraction(amount * 10 ** exponent(self.currency))

    def money(self, minor: int) -> Fraction:
        """Return whole minor units as an amount."""
        return Fraction(minor, 10 ** exponent(self.currency))


@dataclass(frozen=True)
class _Part:
    """One size of a row: what it is, how many, and what a unit holds."""

    words: RowWords
    sku: str
    size: str
    quantity: Fraction
    meaning: UnitMeaning
    factor: Fraction | None
    column: str

    @property
    def pieces(self) -> Fraction | None:
        """The quantity in base units, None where the file does not tell."""
        return None if self.factor is None else self.quantity * self.factor


def lines_of_row(row: RowCells, codes: Codes, habits: LineHabits) -> list[ShipmentLine]:
    """Return the lines of a row: one, or one for every size that stands across.

    Problems are noted with the row; a row with problems gives no lines or unfinished ones.
    """
    words = RowWords(**{name: row.text(name) for name in IDENTITY})
    parts = _parts(row, words, codes)
    if not parts:
        return []
    parts = _with_pieces(row, parts)
    for part in parts:
        _check_quantity(row, part)
    lines = _priced(row, parts, codes, habits)
    lines = _with_measures(row, parts, lines)
    if not codes.profile.sizes_across:
        lines = [_with_losses(row, parts[0], lines[0], habits)]
    return lines


def _parts(row: RowCells, words: RowWords, codes: Codes) -> list[_Part]:
    if not codes.profile.sizes_across:
        if row.is_empty("quantity"):
            row.problem("quantity", "the quantity is empty.", "Write how many came, or name the row's label under [foot].")
            return []
        quantity = row.number("quantity")
        part = None if quantity is None else _part(row, words, quantity, codes, "quantity")
        return [part] if part else []
    parts: list[_Part | None] = []
    for size in codes.profile.sizes_across:
        column = f"size {size}"
        # A dash or a zero is how packing lists say that none of a size is there.
        if row.is_empty(column) or row.record.text(column) in ("-", "–", "—"):
            continue
        quantity = row.number(column)
        if quantity:
            parts.append(_part(row, replace(words, size=size), quantity, codes, column))
    return [part for part in parts if part is not None]


def _part(row: RowCells, words: RowWords, quantity: Fraction, codes: Codes, column: str) -> _Part | None:
    size = codes.size(words.size) if words.size else ""
    meaning = codes.unit(row.text("unit"), size)
    try:
        sku = codes.sku(words)
    except ValueProblem as problem:
        empty = [name for name in codes.profile.sku_parts() if row.is_empty(name) and name in row.record]
        row.problem(empty[0] if empty else codes.profile.sku_parts()[0], str(problem))
        return None
    return _Part(words, sku, size, quantity, meaning, codes.factor(sku, meaning), column)


def _with_pieces(row: RowCells, parts: list[_Part]) -> list[_Part]:
    """Return the parts, their packs checked against the pieces the row states, or taken from them."""
    stated = row.number("pieces")
    if stated is None:
        return parts
    known = [part.pieces for part in parts if part.pieces is not None]
    if len(known) == len(parts):
        total = sum(known, Fraction(0))
        if total != stated:
            counted = " + ".join(f"{_shown(part.quantity)} x {_shown(part.factor or Fraction(1))}" for part in parts)
            row.problem(
                "pieces",
                f"the row says {_shown(stated)} pieces, and {counted} is {_shown(total)}.",
                "Check the quantity, or what a pack holds under [packs] in the profile.",
            )
        return parts
    quantity = sum((part.quantity for part in parts), Fraction(0))
    if quantity <= 0 or stated <= 0:
        return parts
    return [replace(part, factor=stated / quantity, meaning=replace(part.meaning, stated=True)) for part in parts]


def _check_quantity(row: RowCells, part: _Part) -> None:
    shown = _shown(part.quantity)
    if part.quantity <= 0:
        row.problem(
            part.column,
            f"the quantity {shown} is not above zero.",
            "Goods sent back are no line of a shipment; delete the row or correct it.",
        )
        return
    in_pieces = part.factor is not None and part.meaning.base_unit in (*PIECE_UNITS, "")
    count = part.pieces if in_pieces and part.pieces is not None else part.quantity
    if count > MAX_PIECES:
        row.problem(
            part.column,
            f"{_shown(count)} pieces is more than {MAX_PIECES:,} in one line.",
            "Check the quantity and its unit.",
        )
    if part.meaning.base_unit in PIECE_UNITS and part.pieces is not None and part.pieces.denominator != 1:
        row.problem(part.column, f"{shown} {part.meaning.unit} is not a whole number of pieces.", "Check the quantity.")


def _priced(row: RowCells, parts: list[_Part], codes: Codes, habits: LineHabits) -> list[ShipmentLine]:
    """Return the parts as lines with their prices, the total the row states checked."""
    total = row.price("line_total")
    price = row.price("unit_price")
    percent = row.percent("discount_percent", 100) or Fraction(0)
    # A price that could not be read is a problem already; without it the total proves nothing.
    unread = any(
        value is None and not row.is_empty(name) for name, value in (("unit_price", price), ("line_total", total))
    )
    if price is None:
        return [replace(line, provisional=total is None) for line in _by_total(row, parts, codes, total, habits)]
    lines, nets = [], []
    for part in parts:
        unit_price = _unit_price(row, part, price, codes)
        gross = unit_price * part.quantity
        discount = gross * percent / 100
        nets.append(gross - discount)
        lines.append(replace(_line(row, part, codes), unit_price=unit_price, discount=discount))
    if total is None:
        return [
            replace(line, net=habits.money(habits.cents(net))) for line, net in zip(lines, nets, strict=True)
        ]
    expected, stated = habits.cents(sum(nets, Fraction(0))), habits.cents(total)
    if expected != stated and not unread:
        less = f" less {_shown(percent)}%" if percent else ""
        row.problem(
            "line_total",
            f"the row's total is {_shown(habits.money(stated))}, and quantity x price{less} is "
            f"{_shown(habits.money(expected))}.",
            "Correct the quantity, the price or the total; what a price is for stands under [prices] in the profile.",
        )
    shares = _split(stated, nets)
    return [replace(line, net=habits.money(share)) for line, share in zip(lines, shares, strict=True)]


def _by_total(
    row: RowCells, parts: list[_Part], codes: Codes, total: Fraction | None, habits: LineHabits
) -> list[ShipmentLine]:
    """Return the lines where only the row's total is known, or nothing (net zero)."""
    lines = [_line(row, part, codes) for part in parts]
    if total is None:
        return lines
    extras = [_surcharge(row, part, codes) * part.quantity for part in parts]
    quantity = sum((part.quantity for part in parts), Fraction(0))
    if quantity <= 0:
        return lines
    base = (total - sum(extras, Fraction(0))) / quantity
    weights = [base * part.quantity + extra for part, extra in zip(parts, extras, strict=True)]
    shares = _split(habits.cents(total), weights)
    return [replace(line, net=habits.money(share)) for line, share in zip(lines, shares, strict=True)]


def _split(cents: int, weights: Sequence[Fraction]) -> list[int]:
    """Return whole cents in proportion to exact weights, adding up; equal parts where all are zero."""
    if len(weights) == 1 or cents == 0:
        return [cents] + [0] * (len(weights) - 1)
    scale = 1
    for weight in weights:
        scale = scale * weight.denominator
    whole = [max(0, int(weight * scale)) for weight in weights]
    return spread(cents, whole if any(whole) else [1] * len(whole))


def _unit_price(row: RowCells, part: _Part, price: Fraction, codes: Codes) -> Fraction:
    """Return the price per unit of quantity, the size's surcharge in it."""
    per = codes.profile.price_per
    if price == 0:
        return price
    if per != "unit":
        price = price / _PIECES_PER_PRICE[per] * _factor(row, part, f"the price is per {per}")
    price += _surcharge(row, part, codes)
    if price > MAX_UNIT_PRICE:
        row.problem(
            "unit_price",
            f"{_shown(price)} for one {part.meaning.unit or 'unit'} is more than {MAX_UNIT_PRICE:,}.",
            "Check the decimal point, and decimal_comma under [numbers] in the profile.",
        )
    return price


def _surcharge(row: RowCells, part: _Part, codes: Codes) -> Fraction:
    """Return the size's surcharge per unit of quantity."""
    surcharge = codes.surcharge(part.size)
    return surcharge * _factor(row, part, f"{part.size} has a surcharge per piece") if surcharge else surcharge


def _factor(row: RowCells, part: _Part, why: str) -> Fraction:
    if part.factor is None:
        row.problem(
            "unit",
            f"{why}, and nothing says how many pieces one {quoted(part.meaning.unit)} holds.",
            f'Add {part.meaning.unit} = "72 each" (its real content) under [packs] in the profile.',
        )
        return Fraction(1)
    return part.factor


def _line(row: RowCells, part: _Part, codes: Codes) -> ShipmentLine:
    words = part.words
    given = {name: row.text(name) for name in ITEM_CELLS}
    return ShipmentLine(
        where=row.record.where,
        sku=part.sku,
        quantity=part.quantity,
        unit=part.meaning.unit,
        net=Fraction(0),
        code=words.code,
        style=codes.our_style(words),
        colour=words.colour,
        size=part.size,
        description=words.description,
        pack_factor=part.factor if part.meaning.stated or not part.meaning.unit else None,
        pack_base_unit=part.meaning.base_unit if part.meaning.stated else "",
        pack_content=part.meaning.content,
        expires_on=row.date("expires_on"),
        tax_paid=row.word("tax_paid", ("yes", "resale", "none"), codes.profile.default_tax_paid),
        note=row.text("note"),
        new_item=codes.new_item(words, part.sku, given),
    )


def _with_measures(row: RowCells, parts: list[_Part], lines: list[ShipmentLine]) -> list[ShipmentLine]:
    """Return the lines with the row's weight and volume, shared by pieces where sizes stand across."""
    counts = [part.pieces if part.pieces is not None else part.quantity for part in parts]
    total = sum(counts, Fraction(0))
    duty_percent = row.percent("duty_percent")
    lines = [replace(line, duty_percent=duty_percent) for line in lines]
    for column in ("weight_kg", "volume_m3"):
        measure = row.counted(column)
        if measure and total > 0:
            lines = [
                replace(line, **{column: measure * count / total})  # type: ignore[arg-type]
                for line, count in zip(lines, counts, strict=True)
            ]
    return lines


def _with_losses(row: RowCells, part: _Part, line: ShipmentLine, habits: LineHabits) -> ShipmentLine:
    missing, damaged = (row.counted(name) or Fraction(0) for name in ("missing", "damaged"))
    if part.pieces is not None and part.quantity > 0 and missing + damaged > part.pieces:
        row.problem(
            "missing" if missing else "damaged",
            f"{_shown(missing)} missing and {_shown(damaged)} damaged are more than the {_shown(part.pieces)} of the line.",
            "Both count pieces, not packs.",
        )
    duty = row.counted("duty")
    if duty is not None and line.duty_percent is not None:
        row.problem("duty", "the row has a duty and a duty percentage.", "Leave one of them empty.")
    return replace(
        line,
        missing=missing,
        damaged=damaged,
        missing_as=row.word("loss", LOSSES, habits.missing_as),
        damaged_as=row.word("loss", LOSSES, habits.damaged_as),
        duty=duty,
    )


def is_free(row: RowCells, column: str) -> bool:
    """Return whether a price cell says that nothing is paid."""
    return fold(row.record.text(column)) == FREE


def _shown(value: Fraction) -> str:
    """Return a number as people write it, at most six decimals."""
    return f"{float(value):.6f}".rstrip("0").rstrip(".") if value.denominator != 1 else str(value.numerator)
