"""What sales exports head their columns with, in English and the commonest German, French and Spanish words."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from ledger.intake.heading_words import plain
from ledger.intake.sales_currency import currencies_in


def _words(text: str) -> tuple[str, ...]:
    """Return the words of a text, a semicolon between each."""
    return tuple(" ".join(word.split()) for word in text.split(";") if word.strip())


def _set(text: str) -> frozenset[str]:
    """Return the words of a text, blanks between them."""
    return frozenset(text.split())


HEADINGS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "date": _words(
            """date; order date; sold on; sale date; day; created at; paid on; transaction date; booked on; booked;
            ordered on; date sold; sold; datum; bestelldatum; verkaufsdatum; kaufdatum; buchungsdatum; tag;
            bestellt am; verkauft am; date de commande; date de vente; fecha; fecha de venta; fecha del pedido"""
        ),
        "order": _words(
            """order; order no; order number; order id; sale number; sale id; receipt number; order ref;
            order reference; bestellung; bestellnummer; bestell nr; auftrag; auftragsnummer; bestellnr; commande;
            numéro de commande; n de commande; pedido; número de pedido; n de pedido"""
        ),
        "line": _words(
            "line; line no; line number; line id; item number; position; pos; zeile; ligne; línea"
        ),
        "type": _words(
            """type; transaction type; kind; row type; status; order status; payment status; vorgang; typ; art;
            bestellstatus; zahlungsstatus; statut; état; estado; tipo"""
        ),
        "sku": _words(
            """sku; stock code; own sku; item code; item sku; product code; article; artikelnummer; artikel nr; artikelnr; art nr;
            référence; référence article; référence produit; código; código de artículo"""
        ),
        "title": _words(
            """title; item; product; item name; product name; item title; description; listing; what;
            article name; listing title; artikel; produkt; artikelname; artikelbezeichnung; bezeichnung; titel;
            produktname; produit; titre; nom du produit; désignation; producto; título; artículo; descripción"""
        ),
        "variant": _words(
            """variant; variation; options; option; choice; product options; size and colour; variante;
            merkmale; ausführung; optionen; variation du produit; déclinaison; opciones; variación"""
        ),
        "pieces": _words(
            """pieces; quantity; qty; items sold; units; quantity sold; count; units sold; qty sold; menge;
            anzahl; stück; stk; quantité; qté; cantidad; cant; unidades"""
        ),
        "unit_price": _words(
            """unit price; price; item price; price each; each; preis; einzelpreis; stückpreis; artikelpreis;
            prix; prix unitaire; precio; precio unitario"""
        ),
        "item_total": _words(
            """item total; net sales; line total; total without tax; subtotal; amount; net; sales; items total;
            betrag; umsatz; artikelsumme; positionssumme; zwischensumme; montant; sous total; importe; ventas"""
        ),
        "tax": _words(
            """tax; sales tax; vat; tax collected; item tax; gst; mwst; umsatzsteuer; ust; steuer; tva; taxe; iva;
            impuesto"""
        ),
        "discount": _words(
            """discount; discounts; coupon; discount amount; price off; promo; promotion; promotions; voucher;
            vouchers; rebate; coupon amount; promo amount; promo discount; seller discount; rabatt; gutschein;
            nachlass; remise; réduction; bon de réduction; descuento; cupón"""
        ),
        "shipping": _words(
            """shipping; shipping charged; postage; delivery; shipping paid; postage charged; postage paid;
            postage and packing; p&p; postage & packing; shipping and handling; shipping & handling;
            shipping & handling charged; handling; handling charged; handling billed; carriage; carriage charged;
            delivery charged; delivery paid; delivery charge; shipping charge; shipping price; shipping income;
            versand; versandkosten; porto; versandgebühr; frais de port; port; livraison; frais de livraison;
            envío; gastos de envío"""
        ),
        "fees": _words(
            """fees; fee; selling fee; commission; marketplace fee; kept; charges; marketplace charges;
            selling charges; marketplace fees; total fees; seller fee; platform fee; commissions; fees charged;
            gebühr; gebühren; provision; verkaufsgebühr; frais; frais de vente; comisión; comisiones; tarifa"""
        ),
        "other_fees": _words(
            """payment fee; processing fee; card fee; transaction fee; processing; payment processing;
            processing charge; zahlungsgebühr; frais de paiement; comisión de pago"""
        ),
        "refunded": _words(
            """refunded; refund; refund amount; refunded amount; given back; amount refunded; total refunded;
            refunds; refund total; refunded total; refund issued; money back; erstattet; erstattung;
            rückerstattung; erstattungsbetrag; remboursé; remboursement; reembolso; reembolsado"""
        ),
        "refunded_tax": _words("refunded tax; tax refunded; refund tax; erstattete steuer"),
        "refunded_shipping": _words(
            """refunded shipping; shipping refunded; refunded postage; postage refunded; erstatteter versand"""
        ),
        "refunded_on": _words(
            """refunded on; refund date; date refunded; given back on; erstattet am; erstattungsdatum;
            remboursé le; fecha de reembolso"""
        ),
        "returned": _words(
            """returned; returned pieces; returned quantity; came back; items returned; qty returned;
            quantity returned; retourniert; zurückgegeben; retour; retourné; devuelto; devueltos"""
        ),
        "currency": _words("currency; currency code; währung; devise; monnaie; moneda; divisa"),
    }
)
"""The words of a heading, by what the column is."""

NO_AMOUNT_WORDS = _set(
    """id ids no nr number numbers ref reference code zip postcode postal plz phone tel telephone mobile ean gtin
    upc barcode isbn weight gewicht kg gram grams oz lb width height length year month week hour rating stars age
    balance saldo solde kontostand row line pos position index nummer numéro número telefon teléfono téléphone percent % rate"""
)
"""Words of headings over numbers that are no amount of money: numbers of orders, places, weights, rates."""

PIECES_WORDS = _set(
    "quantity qty pieces items units count menge anzahl stück stk quantité cantidad ordered sold"
)
"""Words of headings over numbers of pieces."""

SUM_WORDS = _set(
    """total totals sum paid net payout gross amount earnings revenue gesamt summe netto brutto auszahlung
    montant neto bruto importe"""
)
"""Words of headings over what may be a sum of other columns."""

_LIKELY: tuple[tuple[str, frozenset[str]], ...] = (
    (
        "refunded",
        _set(
            "refund refunded refunds reversed reversal credit credits credited goodwill rückerstattet erstattet remboursé"
        ),
    ),
    ("returned", _set("returned retourniert devuelto")),
    (
        "discount",
        _set("discount discounts promo promotion promotional coupon voucher rebate deal off rabatt remise"),
    ),
    ("tax", _set("tax taxes vat gst hst pst mwst steuer tva iva")),
    (
        "shipping",
        _set(
            """shipping ship shipped postage post p&p packing packaging carriage delivery handling freight courier
            gift wrap versand porto livraison envío"""
        ),
    ),
    (
        "fees",
        _set(
            """fee fees charge charges charged commission commissions processing kept deducted deduction deductions
            cost costs advertising ads gebühr gebühren provision frais comisión"""
        ),
    ),
)
_WITH_REFUNDS = {"tax": "refunded_tax", "shipping": "refunded_shipping"}


def plain_heading(text: str) -> str:
    """Return a heading for comparing, without its currency.

    >>> plain_heading("Amount_eur"), plain_heading("Fees (USD)"), plain_heading("Net €")
    ('amount', 'fees', 'net')
    """
    words = plain(text).split()
    return " ".join(word for word in words if not currencies_in(word)) or " ".join(words)


def likely_meaning(heading: str) -> str:
    """Return what a column with this heading may be by a word that stands in it, '' where none says it.

    >>> likely_meaning("Handling billed"), likely_meaning("Shipping refunded"), likely_meaning("Mood")
    ('shipping', 'refunded_shipping', '')
    """
    words = set(plain_heading(heading).split())
    found = [name for name, known in _LIKELY if not words.isdisjoint(known)]
    if found[:1] == ["refunded"]:
        return next((_WITH_REFUNDS[name] for name in found if name in _WITH_REFUNDS), "refunded")
    return found[0] if found else ""
