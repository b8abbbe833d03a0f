"""Currencies and their minor units, by ISO 4217."""

from __future__ import annotations

from ledger.errors import ValueProblem

_TWO = (
    "AED AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF CHF "
    "CNY COP CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD "
    "HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD "
    "MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR "
    "RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY "
    "TTD TWD TZS UAH USD UYU UZS VES WST XCD YER ZAR ZMW"
)
_NONE = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
_THREE = "BHD IQD JOD KWD LYD OMR TND"

EXPONENTS: dict[str, int] = {
    **dict.fromkeys(_TWO.split(), 2),
    **dict.fromkeys(_NONE.split(), 0),
    **dict.fromkeys(_THREE.split(), 3),
}
"""Currency code to the number of decimals of its minor unit. Source: ISO 4217, list one."""


def read_currency(text: str) -> str:
    """Return the ISO 4217 code in upper case.

    >>> read_currency(" cny ")
    'CNY'

    Raises ValueProblem naming the text where it is no code of the standard's current list.
    """
    code = text.strip().upper()
    if code not in EXPONENTS:
        raise ValueProblem(
            f"'{text.strip()}' is not a currency: use its three-letter ISO 4217 code, like USD, EUR or CNY."
        )
    return code


def exponent(code: str) -> int:
    """Return how many decimals the currency's minor unit has: USD 2, JPY 0, KWD 3."""
    return EXPONENTS[code]
