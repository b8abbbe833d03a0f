"""The words of layouts: what headings and labels of invoices and packing lists are commonly called.

They are dictionary words of the trade in English, with the commonest German, French and Spanish ones.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType


def _words(text: str) -> Mapping[str, tuple[str, ...]]:
    """Return a table of lines like ``size = size; size name``; an indented line goes on with the one above."""
    lines: dict[str, list[str]] = {}
    name = ""
    for line in filter(None, map(str.strip, text.splitlines())):
        start, equals, rest = line.partition(" = ")
        if equals:
            name = start
        lines.setdefault(name, []).append(rest if equals else line)
    return MappingProxyType(
        {
            key: tuple(word.strip() for word in " ".join(parts).split(";") if word.strip())
            for key, parts in lines.items()
        }
    )


HEADINGS: Mapping[str, tuple[str, ...]] = _words(
    """
    style = style; style no; style number; style code; model; design; modell; modele; modelo
    colour = colour; color; colour name; color name; shade; farbe; couleur
    size = size; size name; garment size; grosse; größe; groesse; taille; talla
    variant = variant; variants; variation; variations; option; options; colour size; color size; size colour;
        size color; colour and size; color and size; variante; farbe größe; farbe groesse; couleur taille
    code = code; item; item no; item number; item code; item #; item ref; article; article no; article
        number; article code; art; art no; art #; art code; part; part no; part #; part code; part number;
        product ref; product id; product code; product no; prod no; prod code; stock code; stock no; stock
        number; cat no; cat #; catalogue no; catalogue number; sku; ref; supplier code; artikel; artikel nr;
        artikelnummer; art nr; référence; código; reference
    description = description; product description; what; item description; product; product name; goods; description of goods;
        name; title; text; details; particulars; beschreibung; bezeichnung; désignation; descripción; produit;
        producto
    quantity = quantity; qty; how many; total dozens; total doz; qty shipped; quantity shipped; shipped; qty
        delivered; delivered; quantity delivered; supplied; qty supplied; despatched; dispatched; sent; qty sent; units; no of units; count; order qty; cases; cartons shipped; menge; anzahl; stück;
        quantité; qté; cantidad; dozens; qty dozens; qty doz; number of packs; packs;
        packs shipped; no of packs
    unit = unit; uom; unit of measure; units of measure; packed as; sold by; pack; pack type; pack size;
        type of pack; packaging; per; einheit; me; mengeneinheit; unité;
        unidad
    content = content; contents; pack content; pack contents; unit content; net content; net contents; pack size;
        inhoud; inhalt; contenu; contenido
    pieces = pieces; total pieces; pcs; total pcs; pc; total units; total qty; total quantity; row total
        pieces; pieces total; gesamtmenge; total pièces; piezas
    unit_price = unit price; price; price each; cost each; each; net price; unit cost; cost; rate; price per unit;
        price per piece; price per dozen; price per hundred; price pc; price doz; price dozen; unit net;
        einzelpreis; preis; stückpreis; prix; prix unitaire; precio; precio unitario; u price; ea; price ea;
        unit value; our price; your price; net unit price; net cost
    line_total = amount; line total; total; extended; extended price; ext price; extension; net amount;
        total price; line amount; value; total amount; total value; line value; sum; betrag; gesamt;
        gesamtpreis; summe; montant; montant ht; importe
    discount_percent = discount %; disc %; % discount; discount percent; rabatt %; remise %; % off; disc;
        rebate %; % rebate; rebate percent; off %; less %
    missing = missing; short; short shipped; shortage; shortages; pieces missing; not shipped; not received;
        not delivered; undelivered; did not come; lost; fehlmenge; fehlt; manquant; faltante
    damaged = damaged; pieces damaged; damages; defective; defects; faulty; broken; dmg; rejected; rejects;
        beschädigt; abîmé; dañado
    cartons = cartons; ctns; no of cartons; number of cartons; carton qty; no of ctns; total cartons; total ctns;
        boxes; no of boxes; kartons; anzahl kartons
    carton_numbers = carton no; c no; c nos; case no; case nos; ctn no; carton nos; ctn nos; carton numbers; carton number; carton #; ctn #;
        cartons from to; box no; box nos; karton nr
    per_carton = qty per carton; quantity per carton; pcs per carton; pieces per carton; units per carton; pcs ctn;
        qty ctn; pieces carton; doz ctn; dozens per carton; doz per carton; each carton; per carton; per ctn;
        pcs per ctn; qty per ctn; pcs box; qty per box; pcs per box; pieces per box; stück pro karton
    duty = duty; duty amount; customs duty
    duty_percent = duty %; duty rate; duty percent; % duty
    weight_kg = weight kg; net kg; net weight kg; kg; n w kg; gewicht kg; net weight; nw kg
    volume_m3 = cbm; volume m3; m3; cubic metres; volume cbm; measurement cbm
    expires_on = best before; expiry; expiry date; expires on; use by; keeps until; haltbar bis
    fibre = fibre; fiber; fibre content; fiber content; composition; material; fabric
    customs_class = hs code; tariff number; customs class; customs code; commodity code; hts code; hts;
        hs
    origin = origin; country of origin; made in; coo; ursprungsland
    note = note; remark; remarks; comment; notes
    """
)
"""What a column is to what it is headed with."""

NOT_READ: Mapping[str, tuple[str, ...]] = _words(
    """
    a running number = pos; position; line; line no; no; nr; row; #; s no; sr no; serial no; lfd nr
    what was ordered, not what came = ordered; qty ordered; quantity ordered; order quantity; bestellt
    what is still to come = backordered; back order; qty backordered; b o; open; outstanding; balance
    how the goods were packed = carton; ctn; box; pallet; pallet no
    the weight with its packing = gross weight; gross kg; g w kg; gross weight kg; gw kg
    a price that is not paid = list price; retail price; rrp; msrp; recommended retail price
    a bar code = barcode; bar code; ean; gtin; upc
    the sales tax of the line = tax; vat; vat %; tax %; sales tax; mwst; ust; tva; iva; tax rate
    where an order stands = status; warehouse; location; order no; order number; po; po no
    """
)
"""Columns that are known and not read, by the reason."""

PRICE_CANDIDATES = _words(
    """
    what it costs = trade; trade price; fob; fob price; cif; exw; ex works; wholesale; wholesale price; net; net
        ea; dealer; dealer price; retail; retail price; list; list price; rrp; msrp; special; contract; base;
        gross; gross price; value ea; new price; old price; sale price
    """
)["what it costs"]
"""Headings that may be the price that is paid, or another one: asked, unless what multiplies tells."""

HEAD_LABELS: Mapping[str, tuple[str, ...]] = _words(
    """
    reference = invoice no; invoice number; invoice; invoice ref; invoice id; invoice nr; invoice #; inv no;
        inv #; bill no; bill number; document no; document number; packing list no; delivery note no;
        packing slip no; rechnung nr; rechnungsnummer; rechnung; facture no; numéro de facture; facture;
        factura no; factura; order no; order number; order #; order ref; order; sales order; reference; ref;
        reference no; our reference; packing list; packing slip; delivery note; purchase order; po no; po
        number; po; your reference
    date = invoice date; date; date of invoice; document date; issued; date issued; issue date; issued on;
        bill date; dated; date of issue; issue; date of bill; tax point; fecha de factura; date d émission; order date; shipped; shipped on; date shipped; dispatched;
        rechnungsdatum; datum; date de facture; fecha; ship date; delivery date
    party = supplier; seller; from; vendor; sold by; shipper; exporter; lieferant; fournisseur; proveedor
    currency = currency; invoice currency; currency of invoice; währung; devise; moneda
    """
)
"""The fields of the head to what stands before their values, the better label first."""

FOOT_LABELS: Mapping[str, tuple[str, ...]] = _words(
    """
    lines total = subtotal; sub total; goods; goods total; merchandise; merchandise total; zwischensumme;
        sous total; net goods; lines total; total goods; warenwert
    invoice total = total; grand total; invoice total; total due; amount due; to pay; balance due; total
        amount; total invoice; total payable; gesamtbetrag; gesamt; gesamtsumme; rechnungsbetrag; total
        ttc; importe total; totals
    discount = discount; invoice discount; less discount; trade discount; volume discount; quantity discount;
        loyalty discount; rebate; trade rebate; rabatt; nachlass; skonto; remise; descuento;
        prompt payment discount
    freight by value = freight; shipping; carriage; postage; delivery; shipping and handling; shipping
        handling; freight charge; delivery charge; shipping charge; transport; ocean freight; air
        freight; sea freight; road freight; freight cost; freight costs; freight and packing; shipping costs;
        shipping cost; shipping fee; delivery fee; delivery costs; carriage and packing; postage and packing;
        postage packing; postage packaging; postage and packaging; post and packing; p p; p and p; carriage paid;
        fracht; frachtkosten; seefracht; luftfracht; versand; versandkosten; frais de port; port; portes; courier;
        courier fee
    insurance by value = insurance; cargo insurance; versicherung; assurance
    tax by value = sales tax; tax; vat; gst; value added tax; mwst; umsatzsteuer; tva; iva
    duty by value = duty; customs duty; import duty; zoll
    brokerage by value = brokerage; customs brokerage; clearance
    bank_fee by value = bank fee; bank charge; bank charges; wire fee; transfer fee
    other by value = handling; handling fee; packing; small order fee; surcharge; setup fee; fuel
        surcharge; documentation fee; verpackung
    """
)
"""What an amount under the table is to what its row is labelled with."""
