"""Decisions and their workbooks for tests: the sample's study, and invented ones that use every kind of cost."""

from __future__ import annotations

import datetime
import io
import tomllib
from decimal import Decimal
from functools import cache
from pathlib import Path

import openpyxl
from openpyxl.workbook.workbook import Workbook

from ledger.carried import carried
from ledger.intake.study_file import study_from
from ledger.intake.study_sources import sources_of_file
from ledger.sourcing.decide import Decision, decide
from ledger.views.decision_workbook import decision_workbook_bytes

TODAY = datetime.date(2026, 4, 2)

HARD = """
currency = "USD"
destination = "US"
[demand]
low = 60
likely = 90
high = 140
sizes = {S = 0.2, M = 0.5, L = 0.3}
[money]
capital_per_year = 0.18
cost_per_order = "7.50"
[[offer]]
name = "=1+1 & Mill <b>"
origin = "PT"
currency = "EUR"
exchange_rate = "1.0837"
breaks = [{from = 1, price = "2.615"}, {from = 250, price = "2.405"}, {from = 800, price = "2.2375"}]
discount = "incremental"
minimum = 100
terms = "EXW"
duty_base = "CIF"
insurance = {rate = "0.0043", uplift = "1.1", minimum = "12"}
freight = {per_kg = "3.15", volumetric_cm3_per_kg = 6000, weight_step_g = 500, minimum = "45", inland = "60.35", mode = "air", currency = "GBP", exchange_rate = "1.271"}
weight_g = "163"
volume_cm3 = "1210"
duty = [{rate = "0.165", program = "general", note = "invented"}, {rate = "0.10", program = "more", note = "invented"}]
entry_fees = {rate = "0.003464", minimum = "33.58", maximum = "651.5", informal = "2.69", formal_above = "800", harbor_rate = "0.00125"}
brokerage = "95"
bond = "40"
assist = "80"
assist_per_unit = "0.035"
sample = "33.33"
bank_fee = "28"
defect_rate = 0.03
claim_returns = 0.6
lead_time = {mean_days = 30, sd_days = 8}
deposit = {fraction = 0.4, days_before_shipping = 15}
[[offer]]
name = "Sizes by price"
origin = "VN"
currency = "USD"
prices = [{sizes = ["S", "M"], breaks = [{from = 1, price = "2.31"}, {from = 300, price = "2.12"}]}, {sizes = ["L"], breaks = [{from = 1, price = "2.61"}]}]
terms = "CIF"
included_freight = "150"
duty = [{rate = "0.165", note = "invented"}]
terminal = "70"
delivery = "55.55"
lead_time = {mean_days = 60}
minimum = 200
[[offer]]
name = "By measure"
origin = "MX"
currency = "MXN"
exchange_rate = "0.0543"
breaks = [{from = 200, price = "44.5"}]
terms = "FOB"
freight = {per_revenue_ton = "1900", minimum_revenue_tons = "0.5", per_unit = "0.35", per_order = "120", mode = "ocean"}
weight_g = 160
volume_cm3 = 1300
duty = [{rate = "0.05", note = "invented"}]
lead_time = {mean_days = 25}
[[offer]]
name = "Home"
origin = "domestic"
breaks = [{from = 1, price = "4.10"}, {from = 72, price = "3.85"}]
freight = {per_order = "14", free_above = "300"}
lead_time = {mean_days = 4, sd_days = 1}
"""
"""Every kind of freight, insurance, fee and price that a study knows, in four currencies."""

CERTAIN = """
currency = "USD"
[demand]
per_year = {per_year}
sd_per_month = 0
[money]
capital_per_year = {capital}
[[offer]]
name = "Afar"
origin = "PT"
breaks = [{{from = 1, price = "{afar}"}}]
brokerage = "{fixed}"
duty = [{{rate = "0", note = "invented"}}]
terms = "FOB"
freight = {{per_order = "0"}}
lead_time = {{mean_days = 7}}
[[offer]]
name = "Home"
breaks = [{{from = 1, price = "{home}"}}]
lead_time = {{mean_days = 1}}
"""
"""Nothing is uncertain: one price here, another there and something fixed for each order."""


def decided(text: str, name: str = "case.toml", futures: int = 300) -> tuple[Decision, bytes]:
    """Return the decision on a study and its workbook."""
    content = tomllib.loads(text, parse_float=Decimal)
    study = study_from(content, name, TODAY)
    decision = decide(study, futures, 1)
    return decision, decision_workbook_bytes(decision, sources_of_file(name, content, study))


@cache
def sample() -> tuple[Decision, bytes]:
    """The decision of the samples' study and its workbook."""
    path = Path(str(carried("samples", "wren-study.toml")))
    return decided(path.read_text(encoding="utf-8"), path.name)


@cache
def hard() -> tuple[Decision, bytes]:
    """The same of the study that uses every kind of cost."""
    return decided(HARD)


def opened(content: bytes, *, values: bool = False) -> Workbook:
    """Return a workbook with its formulas, or with the values kept beside them."""
    return openpyxl.load_workbook(io.BytesIO(content), data_only=values)
