"""The words in the rows of sales exports: what row types mean, which titles are no goods."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ledger.intake.heading_words import likeness, nearest_word, plain
from ledger.intake.nearest import fold

NEAR = 80
"""From this likeness on a heading or a type counts as one of the words."""

TYPE_WORDS: Mapping[str, tuple[str, ...]] = {
    "set aside": (
        *("payout", "label", "shipping label", "postage label", "subscription", "tax", "deposit", "transfer"),
        *("withdrawal", "cancelled", "canceled", "voided", "auszahlung", "storniert", "versandetikett"),
        *("annulé", "annulée", "cancelado", "virement"),
    ),
    "fees": (
        *("fee", "fees", "listing fee", "transaction fee", "processing fee", "commission", "gebühr"),
        *("gebühren", "provision", "frais", "comisión"),
    ),
    "take back": ("return", "returned", "goods returned", "rücksendung", "retoure", "retour", "devolución"),
    "refund": (
        *("refund", "refunded", "money back", "partial refund", "chargeback", "charge back", "erstattung"),
        *("rückerstattung", "teilerstattung", "remboursement", "reembolso"),
    ),
    "shipping": ("shipping", "postage", "shipping charged", "delivery", "versand", "porto", "envío"),
    "sale": (
        *("sale", "order", "sold", "purchase", "payment", "verkauf", "bestellung", "vente", "commande"),
        *("venta", "pedido"),
    ),
}
"""The words of a type column, by what its rows are; where a text has several, the first of these counts."""

STATUS_WORDS: Mapping[str, tuple[str, ...]] = {
    "set aside": (
        *("cancelled", "canceled", "voided", "failed", "declined", "storniert", "annulé", "annulée"),
        *("cancelado", "abgebrochen"),
    ),
    "sale": (
        *("paid", "complete", "completed", "shipped", "sent", "delivered", "fulfilled", "closed", "done"),
        *("bezahlt", "versandt", "verschickt", "abgeschlossen", "geliefert", "payé", "payée", "expédié"),
        *("livré", "terminé", "pagado", "enviado", "entregado", "completado"),
    ),
}
"""The words of a column that says how far an order is."""

STATUS_HEADINGS = (
    *("status", "order status", "state", "order state", "payment status", "bestellstatus", "zahlungsstatus"),
    *("statut", "état", "estado"),
)

NO_GOODS = (
    "shipping label",
    "postage label",
    "subscription",
    "payout",
    "deposit",
    "gift card",
    "listing fee",
    "adjustment",
)
"""Words in the titles of rows that a sales channel mixes in among the goods."""

_NOT = frozenset(["not", "no", "without", "keep", "kept"])
_WORD_NEAR = 85
_BY_A_WORD = 85


@dataclass(frozen=True, slots=True)
class TypeGuess:
    """What rows of a type are taken as, '' where nothing is near, with a confidence from 0 to 100."""

    meaning: str
    confidence: int
    why: str = ""


def type_guess(text: str) -> TypeGuess:
    """Return what a word of a type column means: as a whole, else by the words that stand in it.

    >>> type_guess("Refund (returned)").meaning, type_guess("Refund, not returned").meaning
    ('take back', 'refund')
    >>> type_guess("Order").meaning, type_guess("Exchange").meaning
    ('sale', '')
    """
    whole = fold(text)
    scores = {name: nearest_word(whole, words)[0] for name, words in TYPE_WORDS.items()}
    best = max(scores, key=lambda name: scores[name])
    if scores[best] >= NEAR:
        return TypeGuess(best, min(scores[best], 99), "the word is near it")
    # Brackets hold what matters: 'Refund (returned)'.
    words = plain(whole.replace("(", " ").replace(")", " ")).split()
    negated = not _NOT.isdisjoint(words)
    for name, known in TYPE_WORDS.items():
        if negated and name in ("take back", "set aside"):
            continue
        found = next((word for word in words for one in known if likeness(word, one) >= _WORD_NEAR), "")
        if found:
            return TypeGuess(name, _BY_A_WORD, f"'{found}' stands in it")
    return TypeGuess("", 0)


def status_guess(text: str, *, refunds_beside: bool) -> TypeGuess:
    """Return what a word of a status column means.

    ``refunds_beside`` says that what was paid back stands in a column of its own: then a refunded order
    is a sale all the same.
    """
    whole = fold(text)
    for name, words in STATUS_WORDS.items():
        score = nearest_word(plain(whole), words)[0]
        if score >= NEAR:
            return TypeGuess(name, min(score, 95), "the word is near it")
    if refunds_beside and type_guess(text).meaning in ("refund", "take back"):
        return TypeGuess("sale", _BY_A_WORD, "what was paid back stands in a column of its own")
    return TypeGuess("", 0)


def is_status_heading(text: str) -> bool:
    """Return whether a column's heading says that it tells how far an order is."""
    return nearest_word(plain(text), STATUS_HEADINGS)[0] >= NEAR


def no_goods_words(texts: Sequence[str], words: Sequence[str]) -> list[str]:
    """Return which of the words stand in the texts, in one or in several: 'shipping labels' is one of labels."""
    joined = " | ".join(map(fold, texts))
    return [word for word in words if re.search(rf"(?<!\w){re.escape(word)}s?(?!\w)", joined)]
