"""A buying study from a TOML file: every problem in it named at once, unknown keys with the nearest right one."""

from __future__ import annotations

import datetime
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from ledger.errors import Problem, Refused, StudyErrors, UsageError, ValueProblem
from ledger.exact.currencies import read_currency
from ledger.intake import study_numbers as read
from ledger.intake.nearest import quoted
from ledger.intake.study_demand import RATE_KEYS, read_demand
from ledger.intake.study_history import history_table
from ledger.intake.study_offers import Circumstances, read_offer
from ledger.intake.toml_tables import Table
from ledger.sourcing.demand import Demand
from ledger.sourcing.own_history import OwnHistory, history_remarks
from ledger.sourcing.study import LONGEST_HORIZON_MONTHS, Limits, MoneyTerms, Study, StudyOffer

TOP_KEYS = (
    "currency", "horizon_months", "sku", "colour", "need_by", "destination", "unit", "demand", "money", "limits",
    "obsolescence", "offer",
)  # fmt: skip
MONEY_KEYS = (
    "capital_per_year", "storage_per_unit_month", "cost_per_order", "salvage_fraction", "lost_margin",
    "obsolescence_per_year", "service_level",
)  # fmt: skip
LIMIT_KEYS = ("probability", "worst_tenth", "cash", "weeks_of_cover", "space_units")

MOST_BYTES = 1_000_000


HistoryOf = Callable[[str, str], OwnHistory]
"""Returns the book's history of an SKU or style and a colour of it, or all; raises Refused where the book has neither."""


def read_content(path: Path) -> dict[str, Any]:
    """Return the tables of a study's file as they stand.

    Raises UsageError where the file cannot be read, StudyErrors where it is no TOML.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise UsageError(f"{path} is larger than a study can be ({MOST_BYTES:,} bytes).")
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise UsageError(f"{path} cannot be read: {error.strerror}. Name a study like study.toml.") from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{path} is not a text in UTF-8: save it as UTF-8 text.") from error
    return content_of(text, path.name)


def content_of(text: str, source: str) -> dict[str, Any]:
    """Return the tables of a TOML text; StudyErrors where it is none."""
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        problem = Problem(
            source,
            f"it is no TOML: {error}.",
            f"To begin with a whole one: blankbook compare --template {_other_name(source)}.",
        )
        raise StudyErrors(source, [problem]) from error


def _other_name(source: str) -> str:
    """Return a name for a new study that is not the name of the one at hand."""
    return "new-study.toml" if source == "study.toml" else "study.toml"


def study_from(
    content: Mapping[str, Any], source: str, today: datetime.date, history_of: HistoryOf | None = None
) -> Study:
    """Return the study that a TOML file's tables hold; StudyErrors names every problem in them."""
    problems: list[Problem] = []
    remarks: list[str] = []
    top = Table("", content, problems)
    try:
        if history_of is not None:
            top = Table("", _with_history(content, history_of, problems, remarks), problems)
        top.known(TOP_KEYS)
        study = replace(_study(top, today, remarks), name=source)
    except ValueProblem as problem:
        problems.append(Problem(source, str(problem)))
        study = None
    if problems or study is None:
        raise StudyErrors(source, problems)
    return study


def taken_from_history(content: Mapping[str, Any], history_of: HistoryOf) -> dict[str, Any]:
    """Return the keys of [demand] that the book's history gives a study which leaves them open, with their values."""
    filled = _with_history(content, history_of, [], [])
    said = content.get("demand", {})
    return {key: value for key, value in filled.get("demand", {}).items() if key not in said}


def _with_history(
    content: Mapping[str, Any], history_of: HistoryOf, problems: list[Problem], remarks: list[str]
) -> Mapping[str, Any]:
    """Return the tables with what [demand] leaves open taken from the book's history of ``sku``."""
    sku, demand = content.get("sku"), content.get("demand", {})
    if not isinstance(sku, str) or not sku.strip() or not isinstance(demand, dict):
        return content
    is_stated = any(key in demand for key in RATE_KEYS)
    try:
        found = history_of(sku.strip(), str(content.get("colour", "")).strip())
    except Refused as refusal:
        # A study may be of goods the book does not have yet, as long as it says what is wanted.
        if not is_stated:
            problems.append(Problem("sku", str(refusal)))
        return content
    more = history_table(found)
    if is_stated:
        more = {"on_hand": more["on_hand"]} if _fits(more["on_hand"], demand) else {}
    else:
        remarks += [f"{found.label}: {text}" for text in history_remarks(found)]
    taken = sorted(key for key in more if key not in demand)
    if taken:
        remarks.append(f"from the book, for {found.label} up to {found.through}: {', '.join(taken)}.")
    return {**content, "demand": {**more, **demand}}


def _fits(on_hand: object, demand: Mapping[str, Any]) -> bool:
    """Return whether the book's stock can be told by the sizes a study has."""
    sizes = demand.get("sizes")
    return (
        set(on_hand) <= set(sizes)
        if isinstance(on_hand, dict) and isinstance(sizes, dict)
        else not isinstance(on_hand, dict)
    )


def _study(top: Table, today: datetime.date, remarks: list[str]) -> Study:
    currency = _currency(top)
    money_table = top.table("money")
    money_table.known(MONEY_KEYS)
    demand = read_demand(top, remarks)
    money = _money(money_table, currency)
    shared = Circumstances(currency, top.text("destination", "US").upper(), today, money.cost_per_order_minor)
    return Study(
        currency=currency,
        horizon_months=read.whole(top, "horizon_months", 12, least=1, most=LONGEST_HORIZON_MONTHS),
        today=today,
        demand=demand,
        money=money,
        limits=_limits(top, currency),
        offers=tuple(_by_size(offer, demand) for offer in _offers(top, shared, remarks)),
        sku=top.text("sku"),
        need_by=read.day(top, "need_by"),
        is_stock_known=top.table("demand").has("on_hand"),
        remarks=tuple(remarks),
        unit=_unit(top),
    )


def _unit(top: Table) -> str:
    """Return what quantities are counted in, empty for pieces."""
    unit = top.text("unit")
    return "" if unit.casefold() in {"each", "piece", "pieces"} else unit


_WEIGHT_SCALE = 1_000_000


def _by_size(offer: StudyOffer, demand: Demand) -> StudyOffer:
    """Return an offer whose price depends on sizes with the shares that an order is split by."""
    offer = replace(offer, colours=len({size.colour for size in demand.sizes}))
    if not offer.is_priced_by_size or len(demand.sizes) == 1:
        return offer
    ratio = {share.size: share.pieces for share in offer.quote.rules.size_ratio}
    return replace(
        offer,
        sizes=tuple(size.name for size in demand.sizes),
        size_weights=tuple(
            ratio.get(size.name, 0) if ratio else round(size.share * _WEIGHT_SCALE) for size in demand.sizes
        ),
    )


def _currency(top: Table) -> str:
    text = top.text("currency", "USD")
    try:
        return read_currency(text)
    except ValueProblem as problem:
        top.note("currency", str(problem))
        return "USD"


def _offers(top: Table, shared: Circumstances, remarks: list[str]) -> tuple[StudyOffer, ...]:
    found = []
    for place, content in enumerate(read.rows(top, "offer"), 1):
        name = content.get("name")
        if not isinstance(name, str) or not name.strip():
            top.note(f"[[offer]] {place}", "it has no name.", 'Write name = "…".')
        found.append(read_offer(top.inner(f"offer {name or place}", content), shared))
        least = found[-1].quote.rules.minimum_per_colour
        if least > 1 and not top.table("demand").has("colours"):
            remarks.append(
                f"{name}: minimum_per_colour {least:,} is taken for one colour, as if all were of it: [demand] says no colours."
            )
        if "lead_time" not in content:
            remarks.append(f"{name} says no lead time: it is taken to deliver at once.")
    return tuple(found)


def _money(table: Table, currency: str) -> MoneyTerms:
    return MoneyTerms(
        capital_per_year=float(
            read.number(table, "capital_per_year", Fraction(0), least=Fraction(0), most=Fraction(10))
        ),
        storage_per_unit_month_minor=float(read.money(table, "storage_per_unit_month", currency)),
        cost_per_order_minor=float(read.money(table, "cost_per_order", currency)),
        salvage_fraction=float(_salvage(table)),
        lost_margin_minor=float(read.money(table, "lost_margin", currency)),
        service_level=float(_service(table)),
    )


def _salvage(table: Table) -> Fraction:
    value = read.number(table, "salvage_fraction", Fraction(0), least=Fraction(0))
    if value >= 1:
        table.note(
            "salvage_fraction",
            f"{quoted(str(table.raw('salvage_fraction', '')))} means a leftover fetches what it cost or more, so no "
            "order would be too large.",
            "Write what a leftover really fetches, as a fraction below 1 of the lower of landed and home cost.",
        )
        return Fraction(0)
    return value


def _service(table: Table) -> Fraction:
    value = read.number(table, "service_level", Fraction("0.95"))
    if not 0 < value < 1:
        table.note(
            "service_level",
            f"{quoted(str(table.raw('service_level', '')))} is not between 0 and 1.",
            "Write 95% as 0.95.",
        )
        return Fraction("0.95")
    return value


def _limits(top: Table, currency: str) -> Limits:
    table = top.table("limits")
    table.known(LIMIT_KEYS)
    weeks = read.number(table, "weeks_of_cover", Fraction(0), least=Fraction(0))
    return Limits(
        probability=float(read.fraction_of_one(table, "probability", Fraction("0.8"))),
        worst_tenth_minor=_float(read.optional_money(table, "worst_tenth", currency)),
        cash_minor=_float(read.optional_money(table, "cash", currency)),
        weeks_of_cover=float(weeks) if table.has("weeks_of_cover") else None,
        space_units=read.whole(table, "space_units", 0),
    )


def _float(value: Fraction | None) -> float | None:
    return None if value is None else float(value)
