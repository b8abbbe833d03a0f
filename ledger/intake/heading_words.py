"""What headings and labels of invoices and packing lists are commonly called, and how near a text comes.

The words are dictionary words of the trade in English, with the commonest German, French and Spanish
ones; a heading need only come near one of them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from ledger.exact.currencies import EXPONENTS

HEADINGS: Mapping[str, tuple[str, ...]] = {
    "style": (
        "style",
        "style no",
        "style number",
        "style code",
        "model",
        "design",
        "modell",
        "modele",
        "modelo",
    ),
    "colour": ("colour", "color", "colour name", "color name", "shade", "farbe", "couleur"),
    "size": ("size", "size name", "garment size", "grosse", "größe", "groesse", "taille", "talla"),
    "code": (
        *("code", "item", "item no", "item number", "item code", "article", "article no", "article number"),
        *("part no", "part number", "product code", "product no", "stock code", "catalogue no", "sku", "ref"),
        *(
            "supplier code",
            "artikel",
            "artikel nr",
            "artikelnummer",
            "art nr",
            "référence",
            "código",
            "reference",
        ),
    ),
    "description": (
        *("description", "item description", "product", "product name", "goods", "description of goods"),
        *("name", "title", "details", "particulars", "beschreibung", "bezeichnung", "désignation"),
        *("descripción", "produit", "producto"),
    ),
    "quantity": (
        *("quantity", "qty", "qty shipped", "quantity shipped", "shipped", "qty delivered", "delivered"),
        *("quantity delivered", "units", "no of units", "count", "order qty", "cases", "cartons shipped"),
        *(
            "menge",
            "anzahl",
            "stück",
            "quantité",
            "qté",
            "cantidad",
            "dozens",
            "qty dozens",
            "qty doz",
            "number of packs",
        ),
    ),
    "unit": (
        "unit",
        "uom",
        "unit of measure",
        "units of measure",
        "packed as",
        "sold by",
        "pack",
        "per",
        "einheit",
        "unité",
        "unidad",
    ),
    "pieces": (
        *("pieces", "total pieces", "pcs", "total pcs", "pc", "total units", "total qty", "total quantity"),
        *("row total pieces", "pieces total", "gesamtmenge", "total pièces", "piezas"),
    ),
    "unit_price": (
        *(
            "unit price",
            "price",
            "price each",
            "each",
            "net price",
            "unit cost",
            "cost",
            "rate",
            "price per unit",
        ),
        *(
            "price per piece",
            "price per dozen",
            "price per hundred",
            "price pc",
            "price doz",
            "price dozen",
            "unit net",
        ),
        *(
            "einzelpreis",
            "preis",
            "stückpreis",
            "prix",
            "prix unitaire",
            "precio",
            "precio unitario",
            "u price",
        ),
    ),
    "line_total": (
        *(
            "amount",
            "line total",
            "total",
            "extended",
            "extended price",
            "ext price",
            "extension",
            "net amount",
        ),
        *("total price", "line amount", "value", "total amount", "total value", "line value", "sum"),
        *("betrag", "gesamt", "gesamtpreis", "summe", "montant", "montant ht", "importe"),
    ),
    "discount_percent": (
        "discount %",
        "disc %",
        "% discount",
        "discount percent",
        "rabatt %",
        "remise %",
        "% off",
        "disc",
    ),
    "missing": ("missing", "short", "short shipped", "shortage", "pieces missing", "fehlmenge"),
    "damaged": ("damaged", "pieces damaged", "defective", "beschädigt"),
    "duty": ("duty", "duty amount", "customs duty"),
    "duty_percent": ("duty %", "duty rate", "duty percent", "% duty"),
    "weight_kg": (
        "weight kg",
        "net kg",
        "net weight kg",
        "kg",
        "n w kg",
        "gewicht kg",
        "net weight",
        "nw kg",
    ),
    "volume_m3": ("cbm", "volume m3", "m3", "cubic metres", "volume cbm", "measurement cbm"),
    "expires_on": (
        "best before",
        "expiry",
        "expiry date",
        "expires on",
        "use by",
        "keeps until",
        "haltbar bis",
    ),
    "fibre": ("fibre", "fiber", "fibre content", "fiber content", "composition", "material", "fabric"),
    "customs_class": (
        "hs code",
        "tariff number",
        "customs class",
        "customs code",
        "commodity code",
        "hts code",
        "hts",
        "hs",
    ),
    "origin": ("origin", "country of origin", "made in", "coo", "ursprungsland"),
    "note": ("note", "remark", "remarks", "comment", "notes"),
}
"""What a column is to what it is headed with."""

NOT_READ: Mapping[str, tuple[str, ...]] = {
    "a running number": (
        "pos",
        "position",
        "line",
        "line no",
        "no",
        "nr",
        "row",
        "#",
        "s no",
        "sr no",
        "serial no",
        "lfd nr",
    ),
    "what was ordered, not what came": (
        "ordered",
        "qty ordered",
        "quantity ordered",
        "order quantity",
        "bestellt",
    ),
    "what is still to come": (
        "backordered",
        "back order",
        "qty backordered",
        "b o",
        "open",
        "outstanding",
        "balance",
    ),
    "how the goods were packed": (
        "carton",
        "carton no",
        "ctn",
        "ctn no",
        "carton nos",
        "box",
        "box no",
        "pallet",
        "cartons",
        "ctns",
    ),
    "the weight with its packing": ("gross weight", "gross kg", "g w kg", "gross weight kg", "gw kg"),
    "a price that is not paid": ("list price", "retail price", "rrp", "msrp", "recommended retail price"),
    "a bar code": ("barcode", "bar code", "ean", "gtin", "upc"),
    "the sales tax of the line": (
        "tax",
        "vat",
        "vat %",
        "tax %",
        "sales tax",
        "mwst",
        "ust",
        "tva",
        "iva",
        "tax rate",
    ),
    "where an order stands": ("status", "warehouse", "location", "order no", "order number", "po", "po no"),
}
"""Columns that are known and not read, by the reason."""

HEAD_LABELS: Mapping[str, tuple[str, ...]] = {
    "reference": (
        *(
            "invoice no",
            "invoice number",
            "invoice",
            "invoice ref",
            "invoice id",
            "document no",
            "packing list no",
        ),
        *("delivery note no", "order no", "order number", "reference", "our reference", "rechnung nr"),
        *("rechnungsnummer", "rechnung", "facture no", "numéro de facture", "factura no", "packing list"),
    ),
    "date": (
        *("invoice date", "date", "date of invoice", "document date", "issued", "date issued", "order date"),
        *("rechnungsdatum", "datum", "date de facture", "fecha", "ship date", "delivery date"),
    ),
    "party": (
        "supplier",
        "seller",
        "from",
        "vendor",
        "sold by",
        "shipper",
        "exporter",
        "lieferant",
        "fournisseur",
        "proveedor",
    ),
    "currency": ("currency", "invoice currency", "currency of invoice", "währung", "devise", "moneda"),
}
"""The fields of the head to what stands before their values, the better label first."""

FOOT_LABELS: Mapping[str, tuple[str, ...]] = {
    "lines total": (
        "subtotal",
        "sub total",
        "goods",
        "goods total",
        "merchandise",
        "merchandise total",
        "zwischensumme",
        "sous total",
        "net goods",
        "lines total",
        "total goods",
        "warenwert",
    ),
    "invoice total": (
        *(
            "total",
            "grand total",
            "invoice total",
            "total due",
            "amount due",
            "to pay",
            "balance due",
            "total amount",
        ),
        *(
            "total invoice",
            "total payable",
            "gesamtbetrag",
            "gesamt",
            "gesamtsumme",
            "rechnungsbetrag",
            "total ttc",
            "importe total",
            "totals",
        ),
    ),
    "discount": (
        "discount",
        "invoice discount",
        "less discount",
        "trade discount",
        "rabatt",
        "remise",
        "descuento",
        "prompt payment discount",
    ),
    "freight by value": (
        *(
            "freight",
            "shipping",
            "carriage",
            "postage",
            "delivery",
            "shipping and handling",
            "shipping handling",
        ),
        *(
            "freight charge",
            "delivery charge",
            "shipping charge",
            "transport",
            "ocean freight",
            "air freight",
        ),
        *("fracht", "versand", "versandkosten", "frais de port", "port", "portes", "courier"),
    ),
    "insurance by value": ("insurance", "cargo insurance", "versicherung", "assurance"),
    "tax by value": (
        "sales tax",
        "tax",
        "vat",
        "gst",
        "value added tax",
        "mwst",
        "umsatzsteuer",
        "tva",
        "iva",
    ),
    "duty by value": ("duty", "customs duty", "import duty", "zoll"),
    "brokerage by value": ("brokerage", "customs brokerage", "clearance"),
    "bank_fee by value": ("bank fee", "bank charge", "bank charges", "wire fee", "transfer fee"),
    "other by value": (
        "handling",
        "handling fee",
        "packing",
        "small order fee",
        "surcharge",
        "setup fee",
        "fuel surcharge",
        "documentation fee",
        "verpackung",
    ),
}
"""What an amount under the table is to what its row is labelled with."""

_PER = {
    "dozen": ("per dozen", "per doz", "per dz", "price doz", "price dozen", "/doz", "/dz", "/dozen"),
    "hundred": ("per hundred", "per 100", "/100"),
    "piece": ("per piece", "per pc", "price pc", "/pc", "/pcs", "/piece", "price piece", "price each"),
}
_NEAR = 80
_SHORTEST_FUZZY = 4
_CURRENCY = re.compile(r"\b[A-Z]{3}\b")
_BRACKETS = re.compile(r"[(\[].*?[)\]]")
_FIGURES = re.compile(r"[\d.,]+ ?%?")
_OTHER = re.compile(r"[^\w%#]+|_")


def plain(text: str) -> str:
    """Return a heading for comparing: without case, brackets, currencies and punctuation.

    >>> plain("Unit-Price (USD)"), plain("Amount EUR:"), plain("Disc. %")
    ('unit price', 'amount', 'disc %')
    """
    kept = _CURRENCY.sub(lambda match: "" if match[0] in EXPONENTS else match[0], _BRACKETS.sub(" ", text))
    words = _OTHER.sub(" ", kept.casefold()).split()
    if words or not text.strip():
        return " ".join(words)
    return " ".join(_OTHER.sub(" ", text.casefold()).split())


@lru_cache(maxsize=4096)
def likeness(text: str, word: str) -> int:
    """Return from 0 to 100 how near a plain text comes to a word; short ones must be the same.

    Order does not count: 'price unit' is 'unit price'.
    """
    from rapidfuzz import fuzz  # noqa: PLC0415  (only needed where a layout is unknown)

    if text == word:
        return 100
    if min(len(text), len(word)) < _SHORTEST_FUZZY:
        return 0
    # The first letter is seldom mistyped, and 'rate' is not 'date'.
    score = max(fuzz.ratio(text, word), fuzz.token_sort_ratio(text, word))
    if {*text} and text[0] != word[0] and sorted(text.split()) != sorted(word.split()):
        score -= 15
    return min(99, round(score))


def nearest_word(text: str, words: tuple[str, ...]) -> tuple[int, str]:
    """Return how near a plain text comes to the nearest of the words, and that word."""
    return max(((likeness(text, plain(word)), word) for word in words), default=(0, ""))


def heading_scores(heading: str) -> dict[str, int]:
    """Return how well a heading fits each column it comes near to, 80 to 100."""
    text = plain(heading)
    scores = {name: nearest_word(text, words)[0] for name, words in HEADINGS.items()} if text else {}
    return {name: score for name, score in scores.items() if score >= _NEAR}


def why_not_read(heading: str) -> str:
    """Return the reason why a column with this heading is known and not read; empty where it is not so."""
    text = plain(heading)
    best = max(((nearest_word(text, words)[0], why) for why, words in NOT_READ.items()), default=(0, ""))
    own = max(heading_scores(heading).values(), default=0)
    return best[1] if text and best[0] >= _NEAR + 10 and best[0] >= own else ""


def label_meaning(label: str, labels: Mapping[str, tuple[str, ...]]) -> tuple[str, int]:
    """Return what a label means of these, and how near it comes; nothing and 0 where it comes near none.

    >>> label_meaning("Freight:", FOOT_LABELS)
    ('freight by value', 100)
    """
    # A rate or a date beside the word does not count: 'VAT 19%'.
    text = plain(_FIGURES.sub(" ", label))
    found = max(((nearest_word(text, words)[0], name) for name, words in labels.items()), default=(0, ""))
    return (found[1], found[0]) if text and found[0] >= _NEAR + 5 else ("", 0)


def price_unit(heading: str) -> str:
    """Return what a price's heading says it is for: 'dozen', 'hundred', 'piece', or nothing.

    >>> price_unit("Price per dozen"), price_unit("USD/doz."), price_unit("Price")
    ('dozen', 'dozen', '')
    """
    text = " ".join(heading.casefold().replace(".", "").split())
    for name, words in _PER.items():
        if any(re.search(rf"{re.escape(word)}\b", text) for word in words):
            return name
    return ""
