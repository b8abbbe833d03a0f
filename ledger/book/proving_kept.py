"""The figures kept beside the legs: balances, lots on hand, layers, month totals and balances."""

from __future__ import annotations

import sqlite3

from ledger.costing.invariants import Finding

KEPT_FIGURES = 6
"""Balances, lots and layers are part of 'facts never change and what follows from them is kept'."""

_KEPT: tuple[tuple[str, str], ...] = (
    (
        "the balance of {0} is kept as {1} and {2}, under way {3} and {4}; its movements say {5} and {6}, {7} and {8}",
        """
        SELECT i.sku, coalesce(b.quantity_milli, 0), coalesce(b.amount, 0), coalesce(b.under_way_milli, 0),
            coalesce(b.under_way_amount, 0), coalesce(l.q, 0), coalesce(l.a, 0), coalesce(l.uq, 0),
            coalesce(l.ua, 0)
        FROM item AS i LEFT JOIN balance AS b ON b.sku = i.sku
        LEFT JOIN (SELECT sku, sum(iif(account = 'on hand', quantity_milli, 0)) AS q,
            sum(iif(account = 'on hand', amount, 0)) AS a, sum(iif(account = 'under way', quantity_milli, 0)) AS uq,
            sum(iif(account = 'under way', amount, 0)) AS ua FROM leg
            WHERE account IN ('on hand', 'under way') GROUP BY sku) AS l ON l.sku = i.sku
        WHERE coalesce(b.quantity_milli, 0) <> coalesce(l.q, 0) OR coalesce(b.amount, 0) <> coalesce(l.a, 0)
            OR coalesce(b.under_way_milli, 0) <> coalesce(l.uq, 0)
            OR coalesce(b.under_way_amount, 0) <> coalesce(l.ua, 0)
        """,
    ),
    (
        "lot {0} of {1} keeps {2} and {3} on hand, its movements say {4} and {5}",
        """
        SELECT lot.document || '.' || lot.line, lot.sku, lot.quantity_on_hand, lot.value_on_hand,
            coalesce(l.q, 0), coalesce(l.a, 0)
        FROM lot LEFT JOIN (SELECT lot_document, lot_line, sum(quantity_milli) AS q, sum(amount) AS a FROM leg
            WHERE account = 'on hand' GROUP BY lot_document, lot_line) AS l
            ON l.lot_document = lot.document AND l.lot_line = lot.line
        WHERE lot.quantity_on_hand <> coalesce(l.q, 0) OR lot.value_on_hand <> coalesce(l.a, 0)
        """,
    ),
    (
        "lot {0} of {1} is kept as good until {2}, its line says {3}",
        """
        SELECT lot.document || '.' || lot.line, lot.sku, coalesce(lot.expires_on, 'no day'),
            coalesce(d.expires_on, 'no day')
        FROM lot JOIN document_line AS d ON d.document = lot.document AND d.line = lot.line
        WHERE lot.expires_on IS NOT d.expires_on
        """,
    ),
    (
        "the layers of lot {0} hold {1}, its movements say {2}",
        """
        SELECT lot.document || '.' || lot.line, coalesce(y.q, 0), coalesce(l.q, 0)
        FROM lot LEFT JOIN (SELECT lot_document, lot_line, sum(quantity - used) AS q FROM layer
            GROUP BY lot_document, lot_line) AS y ON y.lot_document = lot.document AND y.lot_line = lot.line
        LEFT JOIN (SELECT lot_document, lot_line, sum(quantity_milli) AS q FROM leg
            WHERE account IN ('on hand', 'under way') GROUP BY lot_document, lot_line) AS l
            ON l.lot_document = lot.document AND l.lot_line = lot.line
        WHERE coalesce(y.q, 0) <> coalesce(l.q, 0)
        """,
    ),
    (
        "the total of {0} in {1} on '{2}' is kept as {3} and {4}, its movements say {5} and {6}",
        """
        WITH l AS (SELECT substr(effect_date, 1, 7) AS month, sku, account, sum(quantity_milli) AS q,
            sum(amount) AS a FROM leg WHERE sku IS NOT NULL GROUP BY 1, 2, 3)
        SELECT l.sku, l.month, l.account, coalesce(t.quantity_milli, 0), coalesce(t.amount, 0), l.q, l.a
        FROM l LEFT JOIN month_total AS t ON t.month = l.month AND t.sku = l.sku AND t.account = l.account
        WHERE coalesce(t.quantity_milli, 0) <> l.q OR coalesce(t.amount, 0) <> l.a
        UNION ALL
        SELECT t.sku, t.month, t.account, t.quantity_milli, t.amount, 0, 0
        FROM month_total AS t LEFT JOIN l ON t.month = l.month AND t.sku = l.sku AND t.account = l.account
        WHERE l.sku IS NULL AND (t.quantity_milli <> 0 OR t.amount <> 0)
        """,
    ),
    (
        "{0} at the end of {1}: kept are {2} and {3}, under way {4} and {5}, its totals say {6} and {7}, {8} and {9}",
        """
        WITH m AS (SELECT sku, month, sum(iif(account = 'on hand', quantity_milli, 0)) AS q,
            sum(iif(account = 'on hand', amount, 0)) AS a, sum(iif(account = 'under way', quantity_milli, 0)) AS uq,
            sum(iif(account = 'under way', amount, 0)) AS ua FROM month_total GROUP BY sku, month),
        r AS (SELECT sku, month, sum(q) OVER w AS q, sum(a) OVER w AS a, sum(uq) OVER w AS uq,
            sum(ua) OVER w AS ua FROM m WINDOW w AS (PARTITION BY sku ORDER BY month))
        SELECT r.sku, r.month, coalesce(b.quantity_milli, 0), coalesce(b.amount, 0),
            coalesce(b.under_way_milli, 0), coalesce(b.under_way_amount, 0), r.q, r.a, r.uq, r.ua
        FROM r LEFT JOIN month_balance AS b ON b.sku = r.sku AND b.month = r.month
        WHERE b.sku IS NULL OR b.quantity_milli <> r.q OR b.amount <> r.a OR b.under_way_milli <> r.uq
            OR b.under_way_amount <> r.ua
        """,
    ),
)


def kept_findings(connection: sqlite3.Connection) -> list[Finding]:
    """Return the kept figures that differ; quantities are in thousandths, amounts in minor units."""
    return [
        Finding(KEPT_FIGURES, words.format(*row), str(row[0]))
        for words, query in _KEPT
        for row in connection.execute(query).fetchmany(20)
    ]
