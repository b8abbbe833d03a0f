"""What a study's [demand] says: how much is wanted, of which sizes and colours, and what is on hand."""

from __future__ import annotations

from fractions import Fraction

from ledger.errors import ValueProblem
from ledger.intake import study_numbers as read
from ledger.intake.nearest import did_you_mean, quoted
from ledger.intake.toml_tables import Table
from ledger.sourcing.demand import Demand, demand_from_history, guessed_demand, stated_demand, with_sizes

DEMAND_KEYS = (
    "per_month", "per_year", "history", "days_out_of_stock", "days_outside", "low", "likely", "high", "sd_per_month",
    "sizes", "sizes_as_if_counted", "colours", "on_hand",
)  # fmt: skip
RATE_KEYS = ("per_month", "per_year", "history", "low", "likely", "high")
"""The keys of [demand] that say how much is wanted."""

MOST_SIZES = 400
MONTHS_PER_YEAR = 12
MOST_HAZARD = Fraction(100)
_SHARES_OFF = 0.005


def read_demand(top: Table, remarks: list[str]) -> Demand:
    """Return the demand a study states; what is wrong is noted, what is to be known goes to ``remarks``."""
    table = top.table("demand")
    table.known(DEMAND_KEYS)
    demand = _rate(table)
    shares = read.named_numbers(table, "sizes")
    if len(shares) > MOST_SIZES:
        table.note(
            "sizes", f"{len(shares)} sizes and colours are more than {MOST_SIZES}.", "Study them in parts."
        )
        shares = {}
    total = float(sum(shares.values()))
    if shares and total <= 0:
        table.note("sizes", "the shares are all 0.", "Write them like {S = 0.15, M = 0.30}.")
        shares = {}
    elif shares and abs(total - 1) > _SHARES_OFF:
        remarks.append(f"The size shares add up to {total:g}; they were scaled to 1.")
    hazards = _hazards(top, table, shares)
    usual = read.number(
        top.table("money"), "obsolescence_per_year", Fraction(0), least=Fraction(0), most=MOST_HAZARD
    )
    return with_sizes(
        demand,
        {name: float(share) for name, share in shares.items()},
        obsolescence_per_year=float(usual),
        obsolescence=hazards,
        on_hand=_on_hand(table, shares),
        colours=_colours(table, shares),
        counted_pieces=_counted(table),
    )


def _counted(table: Table) -> float | None:
    """Return from how many pieces the shares are said to be known, None where that is not said."""
    if not table.has("sizes_as_if_counted"):
        return None
    return float(read.whole(table, "sizes_as_if_counted", 0, least=1))


def _colours(table: Table, shares: dict[str, Fraction]) -> dict[str, str]:
    """Return the colour of each size; none where the study does not say."""
    if not table.has("colours"):
        return {}
    content, found = table.table("colours"), dict[str, str]()
    for colour in content.keys():  # noqa: SIM118 - no dict
        for size in content.texts(colour):
            if size not in shares:
                content.note(colour, f"{quoted(size)} is no size with a share.", did_you_mean(size, shares))
            elif size in found:
                content.note(colour, f"{quoted(size)} is of {found[size]} already.", "Name each size once.")
            else:
                found[size] = colour
    missing = [size for size in shares if size not in found]
    if missing:
        table.note(
            "colours", f"no colour is given for {', '.join(missing)}.", "Name every size under its colour."
        )
    return found


def _hazards(top: Table, table: Table, shares: dict[str, Fraction]) -> dict[str, float]:
    hazards = read.named_numbers(top, "obsolescence")
    inner = top.table("obsolescence")
    for name, hazard in hazards.items():
        if name not in shares:
            inner.note(name, "no size or colour of this name has a share.", did_you_mean(name, shares))
        if hazard > MOST_HAZARD:
            inner.note(name, f"{float(hazard):g} a year is more than {MOST_HAZARD}.")
    del table
    return {name: float(hazard) for name, hazard in hazards.items()}


def _on_hand(table: Table, shares: dict[str, Fraction]) -> dict[str, int]:
    """Return stock by size: a table by size, or one number split by the shares."""
    if not table.has("on_hand"):
        return {}
    if isinstance(table.raw("on_hand", 0), dict):
        stock = read.named_numbers(table, "on_hand")
        for name in stock:
            if name not in shares:
                table.note("on_hand", f"{quoted(name)} is no size with a share.", did_you_mean(name, shares))
        return {name: int(pieces) for name, pieces in stock.items()}
    pieces = read.whole(table, "on_hand", 0)
    if not shares:
        return {"": pieces}
    total = sum(shares.values())
    return {name: round(pieces * share / total) for name, share in shares.items()}


def _rate(table: Table) -> Demand:
    """Return demand by the one way the file states it."""
    ways = [key for key in ("per_month", "per_year", "history") if table.has(key)]
    if any(table.has(key) for key in ("low", "likely", "high")):
        ways.append("low, likely and high")
    if len(ways) != 1:
        said = "there is no demand" if not ways else f"{' and '.join(ways)} say the same thing twice"
        table.note("", f"{said}.", "Write one of per_month, per_year, history, or low, likely and high.")
        return stated_demand(0.0)
    nothing = Fraction(0)
    if ways == ["history"]:
        return _history(table)
    if len(ways[0].split()) > 1:
        return _guess(table)
    mean = read.number(table, ways[0], nothing, least=nothing)
    per_month = mean if ways == ["per_month"] else mean / MONTHS_PER_YEAR
    if not table.has("sd_per_month"):
        return stated_demand(float(per_month))
    return stated_demand(float(per_month), float(read.number(table, "sd_per_month", nothing, least=nothing)))


def _guess(table: Table) -> Demand:
    low, likely, high = (float(_needed(table, key)) for key in ("low", "likely", "high"))
    try:
        return guessed_demand(low, likely, high)
    except ValueProblem as problem:
        table.note("likely", str(problem))
        return stated_demand(0.0)


def _needed(table: Table, key: str) -> Fraction:
    if not table.has(key):
        table.note(key, "low, likely and high go together, and this one is missing.")
    return read.number(table, key, Fraction(0), least=Fraction(0))


def _history(table: Table) -> Demand:
    pieces = [float(each) for each in read.numbers(table, "history")]
    out, outside = (_days(table, key, len(pieces)) for key in ("days_out_of_stock", "days_outside"))
    days = [float(one + other) for one, other in zip(out, outside, strict=True)]
    try:
        return demand_from_history(pieces, days, days_outside=[float(each) for each in outside])
    except ValueProblem as problem:
        table.note("history", str(problem))
        return stated_demand(0.0)


def _days(table: Table, key: str, months: int) -> tuple[Fraction, ...]:
    """Return days of each month; one number stands for all of them."""
    nothing = (Fraction(0),) * months
    if not table.has(key):
        return nothing
    if not isinstance(table.raw(key, 0), list):
        return (read.number(table, key, Fraction(0), least=Fraction(0)),) * months
    days = read.numbers(table, key)
    if len(days) != months:
        table.note(
            key,
            f"{len(days)} figures stand beside {months} months.",
            "Give one for each month, or one for all: 0.",
        )
        return nothing
    return days
