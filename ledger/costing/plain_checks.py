"""What the plain engine refuses to begin with, and the order in which it walks through the rest."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from ledger.costing.facts import ARRIVES_FROM, CLASS_IN_DAY, FactLine, ShareFact, UndoFact
from ledger.costing.plain_figures import shown

Number = tuple[int, int]
"""A document and a line in it."""

STRAIGHT_TO_SUPPLIES = "supplies when bought"

_PLACE_IN_DAY = {"opening": 0, "receipt": 1, "make": 3, "take back": 4, "count": 6, "write down": 7}
_PLACE_OF_WHAT_LEAVES = 5
_ROLES_IN_A_JOB = ("component", "product", "labour")


def place_in_order(line: FactLine, lines: Mapping[Number, FactLine]) -> tuple[str | int, ...]:
    """Return what sorts a line: its date, its place within the day, then its number.

    What a job makes comes after all it uses. What a customer brings back on the day of the sale
    stands right after that sale.
    """
    if line.event == "take back":
        sale = lines[reference(line)]
        if sale.effect_date == line.effect_date:
            right_after = (1, line.document, line.line)
            return (line.effect_date, _PLACE_OF_WHAT_LEAVES, sale.document, 0, sale.line, *right_after)
    place_in_day = _PLACE_IN_DAY.get(line.event, _PLACE_OF_WHAT_LEAVES)
    after_its_components = 1 if line.role == "product" else 0
    return (line.effect_date, place_in_day, line.document, after_its_components, line.line, 0, 0, 0)


def reference(line: FactLine) -> Number:
    """Return the number of the line that a line refers to; (0, 0), which no line has, for none."""
    return line.ref_document or 0, line.ref_line or 0


def kept_milli(line: FactLine) -> int:
    """Return what of an arrival or a job makes its lot: all but the claimed and the normally lost part."""
    return line.quantity_milli - line.claimed_milli - line.normal_milli


def documents_out_of_the_costing(undos: Iterable[UndoFact]) -> set[int]:
    """Return the numbers of the undone documents and of the documents that undo them.

    Raises:
        ValueError: an undo's path is unknown.
    """
    gone: set[int] = set()
    for undo in undos:
        if undo.path != "dropped":
            raise ValueError(f"document {undo.document}: an undo by the path '{undo.path}' is not known.")
        gone |= {undo.document, undo.undoes}
    return gone


def refuse_bad_lines(lines: Mapping[Number, FactLine]) -> None:
    """Raise ValueError where a line's event is unknown, or contradicts itself or another line."""
    for line in lines.values():
        fault = (
            _fault_of_its_words(line) or _fault_of_its_figures(line) or _fault_of_its_reference(line, lines)
        )
        if fault:
            raise ValueError(f"document {line.document}, line {line.line}: {fault}")
    jobs = {line.document for line in lines.values() if line.event == "make"}
    made = Counter(line.document for line in lines.values() if line.role == "product")
    for document in sorted(jobs):
        if made[document] != 1:
            raise ValueError(
                f"document {document}: a job has one product line, this one has {made[document]}."
            )


def _fault_of_its_words(line: FactLine) -> str:
    """Return what is wrong with a line's event, role and tax class; empty where nothing is."""
    if line.event not in CLASS_IN_DAY:
        return f"the event '{line.event}' is not known."
    if (line.role in _ROLES_IN_A_JOB) != (line.event == "make"):
        return f"a line of the event '{line.event}' cannot have the role '{line.role}'."
    if line.event == "opening" and line.tax_class == STRAIGHT_TO_SUPPLIES:
        return f"{line.sku} is deducted when bought, so there is no opening stock of it."
    return ""


def _fault_of_its_figures(line: FactLine) -> str:
    """Return what is wrong with a line's quantities and amounts; empty where nothing is."""
    arrives = line.event in ARRIVES_FROM or line.role == "product"
    losses = (line.claimed_milli, line.normal_milli, line.expensed_milli)
    fault = ""
    if line.event == "write down":
        fault = f"a loss of {line.amount} is not above zero." if line.amount <= 0 else ""
    elif line.role == "labour":
        fault = f"{line.amount} for labour is below zero." if line.amount < 0 else ""
    elif line.event == "count":
        fault = f"{shown(line.quantity_milli)} counted is below zero." if line.quantity_milli < 0 else ""
    elif line.quantity_milli <= 0:
        fault = f"the quantity {shown(line.quantity_milli)} is not above zero."
    elif arrives and (min(losses) < 0 or sum(losses) > line.quantity_milli):
        fault = f"more is missing or damaged than the {shown(line.quantity_milli)} invoiced or made."
    elif line.role == "product" and line.claimed_milli != 0:
        fault = f"of what a job made nothing can be claimed, not {shown(line.claimed_milli)}."
    elif arrives and line.claimed_amount != 0 and line.claimed_milli == 0:
        fault = "an amount is claimed from the supplier, but no pieces."
    elif line.credit is not None and line.credit < 0:
        fault = f"a credit of {line.credit} is below zero."
    return fault


def _fault_of_its_reference(line: FactLine, lines: Mapping[Number, FactLine]) -> str:
    """Return what is wrong with the line that a line refers to; empty where nothing is."""
    document, number = reference(line)
    other = lines.get((document, number))
    if line.event == "take back" and (other is None or other.event != "sale" or other.sku != line.sku):
        return f"there is no sale line {document}.{number} of {line.sku} to take back from."
    if line.event == "send back" and document and (other is None or other.event not in ARRIVES_FROM):
        return f"there is no receipt or opening line {document}.{number} to send back from."
    return ""


def refuse_bad_shares(shares: Iterable[ShareFact], lines: Mapping[Number, FactLine]) -> None:
    """Raise ValueError where a charge's path is unknown, or its receipt line is not there or kept nothing."""
    for share in shares:
        where = f"document {share.document}, line {share.line}, share {share.position}"
        receipt = lines.get((share.receipt_document, share.receipt_line))
        if share.path != "with receipt":
            raise ValueError(f"{where}: a charge by the path '{share.path}' is not known.")
        if receipt is None or receipt.event != "receipt":
            raise ValueError(
                f"{where}: there is no receipt line {share.receipt_document}.{share.receipt_line} to charge."
            )
        if receipt.tax_class != STRAIGHT_TO_SUPPLIES and share.amount != 0 and kept_milli(receipt) == 0:
            raise ValueError(
                f"{where}: nothing of receipt line {receipt.document}.{receipt.line} was kept "
                "that could bear a charge."
            )
