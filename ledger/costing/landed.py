"""What a shipment's lines cost landed: discounts, conversion, losses and charges, spread exactly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.costing.facts import SUPPLIES_WHEN_BOUGHT
from ledger.costing.spreading import spread
from ledger.errors import Problem
from ledger.exact.money import convert_minor
from ledger.exact.rounding import divide_round, round_fraction

BASES = ("value", "quantity", "weight", "volume")
"""What a charge can be spread by; 'line' stands for amounts given line by line."""
CHARGE_KINDS = (
    "freight",
    "insurance",
    "duty",
    "entry_fee",
    "brokerage",
    "terminal",
    "delivery",
    "bank_fee",
    "tax",
    "discount",
    "goods",
    "other",
)


@dataclass(frozen=True, slots=True)
class InvoiceLine:
    """One line of an invoice in base units, before the invoice discount and before charges.

    ``net_foreign`` is in minor units of the invoice's currency, net of the line's own discount.
    ``weight_mg`` and ``volume_mm3`` are those of the whole line's good pieces, None where unknown.
    """

    label: str
    tax_class: str
    quantity_milli: int
    net_foreign: int
    claimed_milli: int = 0
    normal_milli: int = 0
    expensed_milli: int = 0
    weight_mg: int | None = None
    volume_mm3: int | None = None

    @property
    def kept_milli(self) -> int:
        """What enters the lot: good pieces, and those expensed at once."""
        return self.quantity_milli - self.claimed_milli - self.normal_milli

    @property
    def good_milli(self) -> int:
        """Pieces that are on the shelf afterwards."""
        return self.kept_milli - self.expensed_milli

    def as_sent(self) -> InvoiceLine:
        """Return the line with nothing missing or damaged, its weight and volume those of all its pieces.

        What was ordered or handed to a carrier is not yet less for what later turns out to be missing.
        """
        good = self.good_milli

        def whole(measure: int | None) -> int | None:
            if measure is None or not good:
                return None
            return round_fraction(Fraction(measure * self.quantity_milli, good))

        return replace(
            self,
            claimed_milli=0,
            normal_milli=0,
            expensed_milli=0,
            weight_mg=whole(self.weight_mg),
            volume_mm3=whole(self.volume_mm3),
        )


@dataclass(frozen=True, slots=True)
class ChargeWish:
    """A charge as it was asked for.

    Either ``amount`` in minor units of the book's currency (negative lowers cost), or ``percent``
    of the lines' value with an optional minimum and maximum, or ``by_line``: an amount for every
    line, as on a customs entry (basis 'line'). ``only`` limits it to lines by their place
    (0-based) in the list; None means all. A bill in another currency keeps its amount in that
    currency's minor units and the rate it was converted at.
    """

    kind: str
    basis: str
    amount: int | None = None
    percent: Fraction | None = None
    minimum: int | None = None
    maximum: int | None = None
    by_line: tuple[int, ...] | None = None
    only: tuple[int, ...] | None = None
    reference: str = ""
    party: str = ""
    currency: str = ""
    amount_foreign: int | None = None
    rate: str = "1"
    rate_source: str = ""


@dataclass(frozen=True, slots=True)
class ChargeSpread:
    """A charge with its amount worked out and its share for every line (0 where it bears none)."""

    wish: ChargeWish
    amount: int
    weights: tuple[int, ...]
    shares: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class LandedLine:
    """A line's cost in minor units of the book's currency.

    ``amount`` is the invoice's part with the claimed share in it; ``lot_cost`` what enters the
    lot before charges; ``landed`` the same with all charges.
    """

    amount: int
    amount_foreign: int
    claimed_amount: int
    lot_cost: int
    charges: int
    landed: int


@dataclass(frozen=True, slots=True)
class Landing:
    """A whole shipment at landed cost; every column adds up to its total."""

    lines: tuple[LandedLine, ...]
    charges: tuple[ChargeSpread, ...]
    total_foreign: int
    total_invoice: int
    total_charges: int
    total_landed: int


@dataclass(frozen=True, slots=True)
class Conversion:
    """From the invoice's currency into the book's: units of ``target`` per unit of ``source``."""

    source: str
    target: str
    rate: Fraction = Fraction(1)


def land(
    lines: Sequence[InvoiceLine],
    charges: Sequence[ChargeWish],
    conversion: Conversion,
    invoice_discount_foreign: int = 0,
) -> Landing:
    """Return the landed cost of every line of a shipment.

    The invoice discount (positive, in the invoice's minor units) is spread by value; the total
    is converted once and spread over the lines; the claimed pieces' part leaves; each charge is
    spread over what stays. Call `check_charges` first and show its problems: here a missing or
    zero weight is only a ValueError.
    Source: Treas. Reg. 1.471-3(b): invoice price less discounts plus the necessary charges of
    acquiring possession; the order of steps and the rounding are our own rule.
    """
    nets = [line.net_foreign for line in lines]
    if invoice_discount_foreign:
        cuts = spread(invoice_discount_foreign, nets)
        nets = [net - cut for net, cut in zip(nets, cuts, strict=True)]
    total_foreign = sum(nets)
    total = convert_minor(total_foreign, conversion.rate, conversion.source, conversion.target)
    amounts = spread(total, nets) if total_foreign else [0] * len(nets)
    claimed = [
        divide_round(amount * line.claimed_milli, line.quantity_milli) if line.claimed_milli else 0
        for amount, line in zip(amounts, lines, strict=True)
    ]
    costs = [amount - part for amount, part in zip(amounts, claimed, strict=True)]
    spreads = tuple(spread_charge(wish, lines, costs) for wish in charges)
    landed_lines = []
    for place in range(len(lines)):
        charged = sum(one.shares[place] for one in spreads)
        landed_lines.append(
            LandedLine(
                amount=amounts[place],
                amount_foreign=nets[place],
                claimed_amount=claimed[place],
                lot_cost=costs[place],
                charges=charged,
                landed=costs[place] + charged,
            )
        )
    return Landing(
        lines=tuple(landed_lines),
        charges=spreads,
        total_foreign=total_foreign,
        total_invoice=total,
        total_charges=sum(one.amount for one in spreads),
        total_landed=sum(line.landed for line in landed_lines),
    )


def bears_charges(line: InvoiceLine) -> bool:
    """Whether a line takes part in spreading: something of it was kept, and it is the shop's own."""
    return line.kept_milli > 0 and line.tax_class != "customer's"


def charge_weights(wish: ChargeWish, lines: Sequence[InvoiceLine], costs: Sequence[int]) -> list[int | None]:
    """Return each line's spreading weight: 0 where it bears none, None where it is unknown.

    Value is the line net of discounts without what is claimed back (minor units); quantity
    the good pieces (thousandths); weight in milligrams; volume in cubic millimetres.
    """
    if wish.by_line is not None:
        return list(wish.by_line)
    weights: list[int | None] = []
    for place, line in enumerate(lines):
        if not bears_charges(line) or (wish.only is not None and place not in wish.only):
            weights.append(0)
        elif wish.basis == "value":
            weights.append(costs[place] or None)
        elif wish.basis == "quantity":
            weights.append(line.good_milli or None)
        elif wish.basis == "weight":
            weights.append(line.weight_mg or None)
        else:
            weights.append(line.volume_mm3 or None)
    return weights


def check_charges(
    charges: Sequence[ChargeWish], lines: Sequence[InvoiceLine], costs: Sequence[int]
) -> list[Problem]:
    """Return what stands in the way of spreading: lines whose basis is missing or zero.

    ``costs`` are the lines' costs before charges, in minor units (or any amounts that are zero
    where the cost is zero). Each problem names the lines and offers the bases that would work.
    """
    problems = []
    for wish in charges:
        where = f"charge '{wish.kind} by {wish.basis}'"
        if wish.by_line is not None:
            problems += _check_by_line(wish.by_line, lines, where)
            continue
        bearers = [
            place
            for place, line in enumerate(lines)
            if bears_charges(line) and (wish.only is None or place in wish.only)
        ]
        if not bearers:
            problems.append(Problem(where, "no line is left that could bear it."))
            continue
        missing = _without_weight(wish, lines, costs)
        if missing:
            names = ", ".join(sorted({lines[place].label for place in missing}))
            others = [
                basis
                for basis in BASES
                if basis != wish.basis and not _without_weight(_with_basis(wish, basis), lines, costs)
            ]
            way_out = f"Spread it by {' or '.join(others)} instead" if others else "Fill in what is missing"
            if wish.basis in ("weight", "volume"):
                way_out += f", or give these items a {wish.basis} (blankbook items load)"
            problems.append(Problem(where, f"no {wish.basis} is known for {names}.", way_out + "."))
    return problems


def _check_by_line(amounts: Sequence[int], lines: Sequence[InvoiceLine], where: str) -> list[Problem]:
    """Return which lines are given an amount that nothing of theirs could bear."""
    return [
        Problem(
            where,
            f"{line.label} is given an amount, but nothing of it was kept that could bear it.",
            "Leave it out on that line, or give it to the lines it was paid for.",
        )
        for amount, line in zip(amounts, lines, strict=True)
        if amount and not bears_charges(line)
    ]


def _with_basis(wish: ChargeWish, basis: str) -> ChargeWish:
    return ChargeWish(kind=wish.kind, basis=basis, amount=0, only=wish.only)


def _without_weight(wish: ChargeWish, lines: Sequence[InvoiceLine], costs: Sequence[int]) -> list[int]:
    weights = charge_weights(wish, lines, costs)
    return [place for place, weight in enumerate(weights) if weight is None or weight < 0]


def charge_amount(wish: ChargeWish, value: int) -> int:
    """Return what a charge comes to, in minor units, on lines worth ``value`` minor units.

    >>> from fractions import Fraction
    >>> charge_amount(ChargeWish("entry_fee", "value", percent=Fraction("0.3464")), 1050000)
    3637
    """
    if wish.by_line is not None:
        return sum(wish.by_line)
    if wish.amount is not None:
        return wish.amount
    if wish.percent is None:
        raise ValueError("a charge has an amount or a percentage")
    amount = round_fraction(value * wish.percent / 100)
    if wish.minimum is not None:
        amount = max(amount, wish.minimum)
    if wish.maximum is not None:
        amount = min(amount, wish.maximum)
    return -amount if wish.kind == "discount" else amount


def spread_charge(wish: ChargeWish, lines: Sequence[InvoiceLine], costs: Sequence[int]) -> ChargeSpread:
    """Return a charge with its amount and every line's share.

    ``costs`` are the lines' costs before charges, in minor units. A percentage is of the value of
    the lines that bear the charge. Raises ValueError where a weight is missing or all are zero:
    call `check_charges` first.
    """
    weights = charge_weights(wish, lines, costs)
    if any(weight is None for weight in weights):
        raise ValueError(f"charge {wish.kind}: a weight is missing; call check_charges first")
    known = [weight or 0 for weight in weights]
    value = sum(
        cost
        for place, (cost, line) in enumerate(zip(costs, lines, strict=True))
        if bears_charges(line) and (wish.only is None or place in wish.only)
    )
    amount = charge_amount(wish, value)
    return ChargeSpread(wish, amount, tuple(known), tuple(spread(amount, known)))


def is_stocked(tax_class: str) -> bool:
    """Whether a line of this tax class becomes a lot; supplies when bought are an expense at once."""
    return tax_class != SUPPLIES_WHEN_BOUGHT
