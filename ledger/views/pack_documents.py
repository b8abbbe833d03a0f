"""The pack's tables of what happened: receipts, charges, jobs, sales, what left unsold, counts, the journal."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from ledger.book.bought import PurchaseRow
from ledger.book.month_tables import (
    ChargeRow,
    CountRow,
    EarningRow,
    Held,
    JobProduct,
    JournalRow,
    KnownItem,
)
from ledger.views import figures
from ledger.views.pack import Adds, Column, Divides, Kind, Table, Value, per_unit

MONEY, QUANTITY, DATE = Kind.MONEY, Kind.QUANTITY, Kind.DATE

BROUGHT_FORWARD = "brought forward"
_PASSING_THROUGH = frozenset(
    {"on hand", "under way", "work in process", "made", "purchases", "charges", "labour", "opening balance"}
)
_SHOWN_ELSEWHERE = frozenset({"pieces sold", "count differences"})


def purchases(rows: Iterable[PurchaseRow], items: Mapping[str, KnownItem], currency: str) -> Table:
    """Return what was bought, line by line, with what each came to landed."""
    landed = Adds(("amount", "charges"), ("claimed_amount",))
    columns = (
        Column("date", "date", DATE),
        Column("document", "document"),
        Column("party", "supplier"),
        Column("reference", "reference"),
        Column("sku", "SKU"),
        Column("unit", "unit"),
        Column("quantity", "invoiced quantity", QUANTITY),
        Column("claimed", "claimed back", QUANTITY, is_optional=True),
        Column("lost", "normally lost", QUANTITY, is_optional=True),
        Column("good", "kept", QUANTITY, formula=Adds(("quantity",), ("claimed", "lost"))),
        Column("expensed", "of it lost, an expense", QUANTITY, is_optional=True),
        Column("amount", "invoice", MONEY, is_summed=True),
        Column("claimed_amount", "claimed amount", MONEY, is_summed=True, is_optional=True),
        Column("charges", "charges", MONEY, is_summed=True),
        Column("landed_cost", "landed cost", MONEY, is_summed=True, formula=landed),
        Column("unit_cost", "per unit", Kind.PER_UNIT, formula=Divides("landed_cost", "good")),
        Column("tax_paid", "sales tax", is_optional=True),
        Column("remark", "remark", is_optional=True),
    )
    listed: list[tuple[Value, ...]] = []
    for row in rows:
        moved = (row.quantity_milli, row.claimed_milli, row.normal_milli, row.expensed_milli)
        invoiced, claimed, lost, expensed = (row.sign * milli for milli in moved)
        amount, claim = row.sign * row.amount, row.sign * row.claimed_amount
        good, cost = invoiced - claimed - lost, amount - claim + row.charges
        listed.append(
            (
                *(row.effect_date, f"{row.event} {row.document}", row.party, row.reference),
                *(row.sku, items[row.sku].base_unit),
                *(invoiced, claimed, lost, good, expensed),
                *(amount, claim, row.charges, cost, per_unit(cost, good, currency)),
                *(row.tax_paid, _purchase_remark(row)),
            )
        )
    note = (
        "What the suppliers invoiced, and the freight, duty and fees that took effect with it. Goods that are "
        "the shop's once shipped stand here then; what later comes with their arrival is on Charges and Not sold."
    )
    return Table("purchases", "Purchases", note, columns, listed, keys=2)


def _purchase_remark(row: PurchaseRow) -> str:
    if row.is_correction:
        return "price of goods of a closed month"
    return "price provisional" if row.provisional else ""


def charges(legs: Iterable[JournalRow], heads: Mapping[int, ChargeRow], currency: str) -> Table:
    """Return the charges with what each put on goods in the span."""
    columns = (
        Column("date", "effect", DATE),
        Column("document", "document"),
        Column("bill_date", "bill of", DATE),
        Column("kind", "charge"),
        Column("basis", "spread by"),
        Column("path", "path"),
        Column("party", "from", is_optional=True),
        Column("reference", "reference", is_optional=True),
        Column("receipts", "on receipts"),
        Column("foreign", "in its currency", is_optional=True),
        Column("rate", "rate", is_optional=True),
        Column("amount", "amount", MONEY, is_summed=True),
    )
    sums: dict[int, list[JournalRow]] = defaultdict(list)
    for leg in legs:
        if leg.account == "charges":
            sums[leg.document].append(leg)
    rows = []
    for document, own in sums.items():
        head = heads[document]
        is_foreign = head.currency != currency
        foreign = f"{head.currency} {figures.money(head.total_foreign, head.currency)}" if is_foreign else ""
        rows.append(
            (
                *(
                    own[0].effect_date,
                    f"{head.event} {document}",
                    head.document_date,
                    head.kind.replace("_", " "),
                ),
                *(head.basis, head.path, head.party, head.reference, head.receipts),
                *(foreign, head.rate if is_foreign else ""),
                -sum(leg.amount for leg in own),
            )
        )
    note = "Late: the bill came after the month of its receipt was closed, and takes effect on its own date."
    return Table("charges", "Charges", note, columns, rows, keys=2)


_JOB_COLUMNS = (
    Column("date", "date", DATE),
    Column("document", "document"),
    Column("reference", "reference", is_optional=True),
    Column("sku", "SKU"),
    Column("unit", "unit"),
    Column("pieces", "pieces", QUANTITY),
    Column("normal", "spoiled, normal", QUANTITY),
    Column("abnormal", "spoiled, abnormal", QUANTITY),
    Column("bearing", "bear the cost", QUANTITY, formula=Adds(("pieces",), ("normal",))),
    Column("materials", "materials", MONEY, is_summed=True),
    Column("labour", "labour paid", MONEY, is_summed=True),
    Column("cost", "cost", MONEY, is_summed=True, formula=Adds(("materials", "labour"))),
    Column("unit_cost", "per piece", Kind.PER_UNIT, formula=Divides("cost", "bearing")),
)


def jobs(
    products: Iterable[JobProduct],
    legs: Iterable[JournalRow],
    items: Mapping[str, KnownItem],
    currency: str,
) -> Table:
    """Return the jobs with what each used, what was paid for work on it, and what one piece cost."""
    in_process: dict[tuple[int, int], int] = defaultdict(int)
    put_in: dict[int, int] = defaultdict(int)
    paid: dict[int, int] = defaultdict(int)
    for leg in legs:
        if leg.account == "labour":
            paid[leg.document] -= leg.amount
        elif leg.account == "work in process":
            in_process[leg.document, leg.line] += leg.amount
            put_in[leg.document] += leg.amount
    rows = []
    for job in products:
        # What all lines but the product's put into the work in process.
        cost = put_in[job.document] - in_process[job.document, job.line]
        labour = paid[job.document]
        pieces, normal, abnormal = (
            job.sign * milli for milli in (job.pieces_milli, job.normal_milli, job.abnormal_milli)
        )
        rows.append(
            (
                *(job.effect_date, f"{job.event} {job.document}", job.reference, job.sku),
                *(items[job.sku].base_unit, pieces, normal, abnormal, pieces - normal),
                *(cost - labour, labour, cost, per_unit(cost, pieces - normal, currency)),
            )
        )
    note = (
        "Normally spoiled pieces have no cost of their own: the good ones and the abnormally spoiled bear it."
    )
    return Table("jobs", "Jobs", note, _JOB_COLUMNS, rows, keys=2)


def sales(rows: Iterable[EarningRow], legs: Iterable[JournalRow], items: Mapping[str, KnownItem]) -> Table:
    """Return sales, customer returns and refunds with what they cost and what was left."""
    left = Adds(("amount", "shipping"), ("fees", "cost"))
    columns = (
        Column("date", "date", DATE),
        Column("document", "document"),
        Column("party", "customer or channel", is_optional=True),
        Column("reference", "reference", is_optional=True),
        Column("sku", "SKU"),
        Column("unit", "unit"),
        Column("quantity", "quantity", QUANTITY),
        Column("amount", "items", MONEY, is_summed=True),
        Column("shipping", "shipping charged", MONEY, is_summed=True),
        Column("fees", "fees", MONEY, is_summed=True),
        Column("cost", "cost", MONEY, is_summed=True),
        Column("left", "left", MONEY, is_summed=True, formula=left),
    )
    cost: dict[tuple[int, int], int] = defaultdict(int)
    for leg in legs:
        if leg.account == "pieces sold":
            cost[leg.document, leg.line] += leg.amount
    listed = []
    for row in rows:
        amount, shipping, fees = row.sign * row.amount, row.sign * row.shipping, row.sign * row.fees
        own = cost[row.document, row.line]
        listed.append(
            (
                *(row.effect_date, f"{row.event} {row.document}", row.party, row.reference),
                *(row.sku, items[row.sku].base_unit if row.sku else "", row.sign * row.quantity_milli),
                *(amount, shipping, fees, own, amount + shipping - fees - own),
            )
        )
    note = "Without sales tax. What came back or was paid back stands with a minus."
    return Table("sales", "Sales", note, columns, listed, keys=2)


def not_sold(legs: Iterable[JournalRow], items: Mapping[str, KnownItem]) -> Table:
    """Return what left the shelf unsold, or was written off it: own use, samples, donations and the rest."""
    columns = (
        Column("date", "date", DATE),
        Column("document", "document"),
        Column("what", "what"),
        Column("sku", "SKU"),
        Column("unit", "unit"),
        Column("quantity", "quantity", QUANTITY),
        Column("party", "party", is_optional=True),
        Column("reference", "reference", is_optional=True),
        Column("amount", "amount", MONEY, is_summed=True),
    )
    sums: dict[tuple[int, int, str, str], list[int]] = defaultdict(lambda: [0, 0])
    heads: dict[tuple[int, int, str, str], JournalRow] = {}
    for leg in legs:
        if leg.account in _PASSING_THROUGH or leg.account in _SHOWN_ELSEWHERE:
            continue
        if leg.account == "used" and leg.in_job:
            continue
        key = (leg.document, leg.line, leg.account, leg.sku)
        heads.setdefault(key, leg)
        sums[key][0] += leg.quantity_milli
        sums[key][1] += leg.amount
    rows = [
        (
            *(leg.effect_date, f"{leg.event} {leg.document}", leg.account),
            *(leg.sku, items[leg.sku].base_unit, quantity, leg.party, leg.reference, amount),
        )
        for leg, (quantity, amount) in zip(heads.values(), sums.values(), strict=True)
        if quantity or amount
    ]
    rows.sort(key=lambda row: str(row[2]))
    note = "At cost. What jobs used is on the sheet Jobs; what counts found is on the sheet Counts."
    return Table("not_sold", "Not sold", note, columns, rows, keys=2)


def counts(rows: Iterable[CountRow], legs: Iterable[JournalRow], items: Mapping[str, KnownItem]) -> Table:
    """Return what was counted beside what the book had, with what the difference cost."""
    columns = (
        Column("date", "end of", DATE),
        Column("document", "document"),
        Column("sku", "SKU"),
        Column("name", "name"),
        Column("unit", "unit"),
        Column("expected", "in the book", QUANTITY),
        Column("counted", "counted", QUANTITY),
        Column("difference", "difference", QUANTITY, formula=Adds(("counted",), ("expected",))),
        Column("amount", "loss (gain -)", MONEY, is_summed=True),
    )
    found: dict[tuple[int, int], list[int]] = defaultdict(lambda: [0, 0])
    for leg in legs:
        if leg.account == "count differences":
            found[leg.document, leg.line][0] += leg.quantity_milli
            found[leg.document, leg.line][1] += leg.amount
    listed = []
    for row in rows:
        lost, amount = found[row.document, row.line]
        item = items[row.sku]
        head = (row.effect_date, f"count {row.document}", row.sku, item.name, item.base_unit)
        listed.append((*head, row.counted_milli + lost, row.counted_milli, -lost, amount))
    note = "What was there at the end of the day. A receipt entered later changes what the book expected."
    return Table("counts", "Counts", note, columns, listed, keys=2)


def journal(
    legs: Sequence[JournalRow], opening: Mapping[str, Held], first_day: str, items: Mapping[str, KnownItem]
) -> Table:
    """Return every leg of the span as debit and credit, after what was brought forward on hand and under way."""
    columns = (
        Column("date", "date", DATE),
        Column("document", "document"),
        Column("account", "account"),
        Column("sku", "SKU"),
        Column("unit", "unit"),
        Column("lot", "lot"),
        Column("quantity", "quantity", QUANTITY),
        Column("debit", "debit", MONEY, is_summed=True),
        Column("credit", "credit", MONEY, is_summed=True),
    )
    rows: list[tuple[Value, ...]] = []
    for sku, held in sorted(opening.items()):
        way = (held.under_way_milli, held.under_way_amount)
        shelf = (held.quantity_milli - way[0], held.amount - way[1])
        for account, (milli, amount) in (("on hand", shelf), ("under way", way)):
            if milli or amount:
                head = (first_day, BROUGHT_FORWARD, account, sku, items[sku].base_unit, "")
                rows.append((*head, milli, *_sides(amount)))
    if rows:
        head = (first_day, BROUGHT_FORWARD, BROUGHT_FORWARD, "", "", "")
        rows.append((*head, None, *_sides(-sum(held.amount for held in opening.values()))))
    for leg in legs:
        lot = "" if leg.lot_document is None else f"{leg.lot_document}.{leg.lot_line}"
        head = (
            leg.effect_date,
            f"{leg.event} {leg.document}",
            leg.account,
            leg.sku,
            items[leg.sku].base_unit,
            lot,
        )
        rows.append((*head, leg.quantity_milli, *_sides(leg.amount)))
    note = "Every line of every document's double entry. What comes into an account is a debit, what leaves it a credit."
    return Table("journal", "Journal", note, columns, rows, keys=2)


def _sides(amount: int) -> tuple[int | None, int | None]:
    """Return an amount as debit and credit."""
    return (amount, None) if amount >= 0 else (None, -amount)
