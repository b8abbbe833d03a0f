"""Names of countries that blanks and supplies often come from, for telling the code of a name typed."""

from __future__ import annotations

from types import MappingProxyType

from ledger.catalogue._words import fold, near_choices

_NAMES = """
AE United Arab Emirates;AR Argentina;AT Austria;AU Australia;BD Bangladesh;BE Belgium;BG Bulgaria;BR Brazil;CA Canada
CH Switzerland;CL Chile;CN China;CO Colombia;CR Costa Rica;CZ Czechia;DE Germany;DK Denmark;DO Dominican Republic
EC Ecuador;EE Estonia;EG Egypt;ES Spain;ET Ethiopia;FI Finland;FR France;GB United Kingdom;GR Greece;GT Guatemala
HK Hong Kong;HN Honduras;HR Croatia;HT Haiti;HU Hungary;ID Indonesia;IE Ireland;IL Israel;IN India;IT Italy;JO Jordan
JP Japan;KE Kenya;KH Cambodia;KR South Korea;LA Laos;LK Sri Lanka;LS Lesotho;LT Lithuania;LU Luxembourg;LV Latvia
MA Morocco;MG Madagascar;MM Myanmar;MO Macao;MU Mauritius;MX Mexico;MY Malaysia;NI Nicaragua;NL Netherlands;NO Norway
NP Nepal;NZ New Zealand;PE Peru;PH Philippines;PK Pakistan;PL Poland;PT Portugal;RO Romania;RS Serbia;SE Sweden
SG Singapore;SI Slovenia;SK Slovakia;SV El Salvador;TH Thailand;TN Tunisia;TR Turkey;TW Taiwan;UA Ukraine
US United States;UY Uruguay;VN Vietnam;ZA South Africa
"""

COUNTRY_NAMES = MappingProxyType(
    {
        name: code
        for each in _NAMES.strip().replace("\n", ";").split(";")
        for code, name in [each.split(" ", 1)]
    }
)
"""Codes by ISO 3166-1 alpha-2 of the names; not all there are. Source: ISO 3166, from memory."""


def country_hint(text: str) -> str:
    """Return ' Did you mean PT (Portugal)?' where a text is nearly the name of a country; else an empty text.

    The nearest of several is meant.

    >>> country_hint("Portugall"), country_hint("Irland"), country_hint("china")
    (' Did you mean PT (Portugal)?', ' Did you mean IE (Ireland)?', ' china is CN.')
    """
    near = near_choices(text, COUNTRY_NAMES)
    if not near:
        return ""
    code = COUNTRY_NAMES[near[0]]
    return (
        f" {text.strip()} is {code}." if fold(near[0]) == fold(text) else f" Did you mean {code} ({near[0]})?"
    )
