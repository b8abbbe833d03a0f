"""Suppliers, customers, carriers, brokers: who the shop deals with."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.catalogue._words import fold, quoted, suggestion
from ledger.errors import ValueProblem
from ledger.exact.currencies import read_currency

ROLES = ("supplier", "customer", "carrier", "broker", "other")
LONGEST_NAME = 200

_CODES = (
    "AD AE AF AG AI AL AM AO AQ AR AS AT AU AW AX AZ BA BB BD BE BF BG BH BI BJ BL BM BN BO BQ BR BS "
    "BT BV BW BY BZ CA CC CD CF CG CH CI CK CL CM CN CO CR CU CV CW CX CY CZ DE DJ DK DM DO DZ EC EE "
    "EG EH ER ES ET FI FJ FK FM FO FR GA GB GD GE GF GG GH GI GL GM GN GP GQ GR GS GT GU GW GY HK HM "
    "HN HR HT HU ID IE IL IM IN IO IQ IR IS IT JE JM JO JP KE KG KH KI KM KN KP KR KW KY KZ LA LB LC "
    "LI LK LR LS LT LU LV LY MA MC MD ME MF MG MH MK ML MM MN MO MP MQ MR MS MT MU MV MW MX MY MZ NA "
    "NC NE NF NG NI NL NO NP NR NU NZ OM PA PE PF PG PH PK PL PM PN PR PS PT PW PY QA RE RO RS RU RW "
    "SA SB SC SD SE SG SH SI SJ SK SL SM SN SO SR SS ST SV SX SY SZ TC TD TF TG TH TJ TK TL TM TN TO "
    "TR TT TV TW TZ UA UG UM US UY UZ VA VC VE VG VI VN VU WF WS YE YT ZA ZM ZW "
)
COUNTRIES = frozenset(_CODES.split())
"""Country codes. Source: ISO 3166-1 alpha-2."""


@dataclass(frozen=True)
class Party:
    """Somebody the shop buys from, sells to or pays for carriage; country and currency may be empty."""

    name: str
    role: str = "supplier"
    country: str = ""
    currency: str = ""
    terms: str = ""
    note: str = ""

    def normal_name(self) -> str:
        """Return the name for matching: two spellings that differ in case and blanks are one party."""
        return normal_name(self.name)


def normal_name(name: str) -> str:
    """Return a party's name for matching, without case and without outer or doubled blanks.

    >>> normal_name("  North  Road Blanks ") == normal_name("north road blanks")
    True
    """
    return fold(name)


def read_country(text: str) -> str:
    """Return the ISO 3166-1 alpha-2 code in capitals; an empty text is no country.

    Raises ValueProblem where the text is no code of the standard.
    """
    code = text.strip().upper()
    if code and code not in COUNTRIES:
        hint = " The United Kingdom is GB." if code == "UK" else ""
        raise ValueProblem(
            f"{quoted(text)} is not a country code: use its two letters by ISO 3166, like US, CN or BD.{hint}"
        )
    return code


def read_role(text: str) -> str:
    """Return the role that the text names; an empty text is a supplier.

    Raises ValueProblem for an unknown role, naming those there are.
    """
    role = fold(text) or "supplier"
    if role not in ROLES:
        raise ValueProblem(f"{quoted(text)} is not a role: use {', '.join(ROLES)}.{suggestion(text, ROLES)}")
    return role


def check_party(party: Party) -> list[str]:
    """Return everything wrong with a party, in words; an empty list where nothing is."""
    problems = []
    if not 1 <= len(party.name.strip()) <= LONGEST_NAME:
        problems.append(f"the name must have 1 to {LONGEST_NAME} characters.")
    checks = [(read_role, party.role), (read_country, party.country)]
    if party.currency:
        checks.append((read_currency, party.currency))
    for read, value in checks:
        try:
            read(value)
        except ValueProblem as problem:
            problems.append(str(problem))
    return problems
