"""What the plain engine refuses to begin with, and the order in which it walks through the rest."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping

from ledger.costing.facts import ARRIVES_FROM, LEAVES_TO, FactLine, ShareFact, UndoFact
from ledger.costing.plain_figures import shown

Number = tuple[int, int]
"""A document and a line in it."""

STRAIGHT_TO_SUPPLIES = "supplies when bought"

_PLACE_IN_DAY = {
    "opening": 0,
    "ship": 1,
    "receipt": 1,
    "make": 3,
    "take back": 4,
    "send back": 5,
    "count": 6,
    "write down": 7,
}
_PLACE_OF_LATE_SHARES = 2
_PLACE_OF_WHAT_COMES_BACK = 4
_PLACE_OF_WHAT_LEAVES = 5
_ROLES_IN_A_JOB = ("component", "product", "labour")


def place_in_order(line: FactLine, lines: Mapping[Number, FactLine]) -> tuple[str | int, ...]:
    """Return what sorts a line: its date, its place within the day, then its number.

    What a job makes comes after all it uses. What a customer brings back on the day of the sale
    stands right after that sale. A reversal brings back what left with what customers bring back,
    and takes away what came in with what leaves.
    """
    if line.event == "reversal":
        original = lines[reference(line)]
        came_in = original.event in ARRIVES_FROM or original.role == "product"
        place = _PLACE_OF_WHAT_LEAVES if came_in else _PLACE_OF_WHAT_COMES_BACK
        return (line.effect_date, place, line.document, 0, line.line, 0, 0, 0)
    if line.event == "take back":
        sale = lines[reference(line)]
        if sale.effect_date == line.effect_date:
            right_after = (1, line.document, line.line)
            return (line.effect_date, _PLACE_OF_WHAT_LEAVES, sale.document, 0, sale.line, *right_after)
    place_in_day = _PLACE_IN_DAY.get(line.event, _PLACE_OF_WHAT_LEAVES)
    after_its_components = 1 if line.role == "product" else 0
    return (line.effect_date, place_in_day, line.document, after_its_components, line.line, 0, 0, 0)


def place_of_a_late_share(share: ShareFact) -> tuple[str | int, ...]:
    """Return what sorts a late share among the lines: after all that came in that day, before its jobs."""
    return (share.effect_date, _PLACE_OF_LATE_SHARES, share.document, 0, share.line, share.position, 0, 0)


def is_arrival(line: FactLine) -> bool:
    """Return whether a line brings in what was under way."""
    return line.event == "receipt" and line.ref_document is not None


def reference(line: FactLine) -> Number:
    """Return the number of the line that a line refers to; (0, 0), which no line has, for none."""
    return line.ref_document or 0, line.ref_line or 0


def kept_milli(line: FactLine) -> int:
    """Return what of an arrival or a job makes its lot: all but the claimed and the normally lost part."""
    return line.quantity_milli - line.claimed_milli - line.normal_milli


def documents_out_of_the_costing(undos: Iterable[UndoFact]) -> set[int]:
    """Return the numbers of the documents that dropped out, and of the documents that undo them.

    With the other paths both documents stay, and the undoing one brings facts of its own.

    Raises:
        ValueError: an undo's path is unknown.
    """
    gone: set[int] = set()
    for undo in undos:
        if undo.path not in {"dropped", "credit", "reversal"}:
            raise ValueError(f"document {undo.document}: an undo by the path '{undo.path}' is not known.")
        if undo.path == "dropped":
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
    made = Counter(
        line.document for line in lines.values() if line.event == "make" and line.role == "product"
    )
    for document in sorted(jobs):
        if made[document] != 1:
            raise ValueError(
                f"document {document}: a job has one product line, this one has {made[document]}."
            )


def _fault_of_its_words(line: FactLine) -> str:
    """Return what is wrong with a line's event, role and tax class; empty where nothing is."""
    if line.event == "reversal":
        # Its role is that of the line it reverses.
        return ""
    if line.event not in _PLACE_IN_DAY and line.event not in LEAVES_TO:
        return f"the event '{line.event}' is not known."
    if (line.role in _ROLES_IN_A_JOB) != (line.event == "make"):
        return f"a line of the event '{line.event}' cannot have the role '{line.role}'."
    if line.event == "opening" and line.tax_class == STRAIGHT_TO_SUPPLIES:
        return f"{line.sku} is deducted when bought, so there is no opening stock of it."
    return ""


def _fault_of_its_figures(line: FactLine) -> str:
    """Return what is wrong with a line's quantities and amounts; empty where nothing is."""
    fault = ""
    if line.event == "reversal":
        # Its figures are held against those of the line it reverses.
        return ""
    if line.event == "write down":
        fault = f"a loss of {line.amount} is not above zero." if line.amount <= 0 else ""
    elif line.role == "labour":
        fault = f"{line.amount} for labour is below zero." if line.amount < 0 else ""
    elif line.event == "count":
        fault = f"{shown(line.quantity_milli)} counted is below zero." if line.quantity_milli < 0 else ""
    elif line.quantity_milli <= 0:
        fault = f"the quantity {shown(line.quantity_milli)} is not above zero."
    elif line.credit is not None and line.credit < 0:
        fault = f"a credit of {line.credit} is below zero."
    elif line.event in ARRIVES_FROM or line.event == "ship" or line.role == "product":
        fault = _fault_of_its_losses(line)
    return fault


def _fault_of_its_losses(line: FactLine) -> str:
    """Return what is wrong with what was lost of what comes in; empty where nothing is."""
    losses = (line.claimed_milli, line.normal_milli, line.expensed_milli)
    fault = ""
    if line.event == "ship" and any((*losses, line.claimed_amount)):
        fault = "what is lost of a shipment is told when it arrives, not when it is shipped."
    elif min(losses) < 0 or sum(losses) > line.quantity_milli:
        fault = f"more is missing or damaged than the {shown(line.quantity_milli)} invoiced or made."
    elif is_arrival(line) and line.amount != 0:
        fault = (
            f"what arrives costs what its shipment did, so it has no amount of its own, not {line.amount}."
        )
    elif line.role == "product" and line.claimed_milli != 0:
        fault = f"of what a job made nothing can be claimed, not {shown(line.claimed_milli)}."
    elif line.claimed_amount != 0 and line.claimed_milli == 0:
        fault = "an amount is claimed from the supplier, but no pieces."
    return fault


def _fault_of_its_reference(line: FactLine, lines: Mapping[Number, FactLine]) -> str:
    """Return what is wrong with the line that a line refers to; empty where nothing is."""
    document, number = reference(line)
    other = lines.get((document, number))
    if line.event == "take back" and (other is None or other.event != "sale" or other.sku != line.sku):
        return f"there is no sale line {document}.{number} of {line.sku} to take back from."
    if line.event == "send back" and document and (other is None or other.event not in ARRIVES_FROM):
        return f"there is no receipt or opening line {document}.{number} to send back from."
    if is_arrival(line):
        return _fault_of_an_arrival(line, other)
    if line.event == "reversal":
        return _fault_of_a_reversal(line, other)
    return ""


def _fault_of_an_arrival(line: FactLine, shipped: FactLine | None) -> str:
    """Return what is wrong with the shipment's line that arrives; empty where nothing is."""
    named = f"{line.ref_document}.{line.ref_line}"
    if shipped is None or shipped.event != "ship" or shipped.sku != line.sku:
        return f"there is no shipment's line {named} of {line.sku} that could arrive."
    if shipped.tax_class != line.tax_class:
        return (
            f"{line.sku} was shipped as '{shipped.tax_class}' in line {named}, but arrives as "
            f"'{line.tax_class}'."
        )
    return ""


def _fault_of_a_reversal(line: FactLine, original: FactLine | None) -> str:
    """Return what is wrong with the line that is reversed; empty where nothing is."""
    named = f"{line.ref_document}.{line.ref_line}"
    if original is None or original.sku != line.sku or original.role != line.role:
        return f"there is no line {named} of {line.sku} in the role '{line.role}' to reverse."
    fault = ""
    if is_arrival(original):
        fault = f"line {named} is an arrival of a shipment, which cannot be reversed."
    elif original.event not in {*LEAVES_TO, *ARRIVES_FROM, "make"}:
        fault = f"line {named} is of the event '{original.event}', which cannot be reversed."
    elif original.effect_date >= line.effect_date:
        fault = f"it reverses line {named} of {original.effect_date}, which is not before {line.effect_date}."
    elif original.quantity_milli != line.quantity_milli:
        fault = (
            f"it reverses {shown(line.quantity_milli)} of {line.sku}, but line {named} has "
            f"{shown(original.quantity_milli)}."
        )
    elif line.amount not in {0, original.amount}:
        fault = f"its amount is {line.amount}, but that of line {named} is {original.amount}."
    return fault


def refuse_bad_reversals(lines: Mapping[Number, FactLine], undos: Iterable[UndoFact]) -> None:
    """Raise ValueError where reversed lines are not just those of the documents that are undone by reversal."""
    reversed_lines: dict[int, list[Number]] = defaultdict(list)
    lines_of_document: dict[int, list[Number]] = defaultdict(list)
    for number, line in lines.items():
        if line.event == "reversal":
            reversed_lines[line.document].append(reference(line))
        lines_of_document[line.document].append(number)
    undone_by = {undo.document: undo.undoes for undo in undos if undo.path == "reversal"}
    for document in sorted(reversed_lines.keys() | undone_by.keys()):
        undone = lines_of_document[undone_by[document]] if document in undone_by else []
        if sorted(reversed_lines[document]) != sorted(undone):
            raise ValueError(
                f"document {document}: it does not reverse each line of the document that it undoes once."
            )
    if len(set(undone_by.values())) < len(undone_by):
        raise ValueError("a document is undone by more than one reversal.")


def refuse_bad_shares(shares: Iterable[ShareFact], lines: Mapping[Number, FactLine]) -> None:
    """Raise ValueError where a charge's path is unknown, or its receipt line cannot bear it."""
    for share in shares:
        fault = _fault_of_a_share(share, lines.get((share.receipt_document, share.receipt_line)))
        if fault:
            where = f"document {share.document}, line {share.line}, share {share.position}"
            raise ValueError(f"{where}: {fault}")


def _fault_of_a_share(share: ShareFact, charged: FactLine | None) -> str:
    """Return what is wrong with a share of a charge; empty where nothing is."""
    named = f"{share.receipt_document}.{share.receipt_line}"
    if share.path not in {"with receipt", "late"}:
        return f"a charge by the path '{share.path}' is not known."
    if charged is None or charged.event not in {"receipt", "ship"}:
        return f"there is no receipt line {named} to charge."
    if share.path == "late" and charged.effect_date > share.effect_date:
        return f"it comes late, on {share.effect_date}, to line {named} of {charged.effect_date}, which is later."
    if charged.tax_class != STRAIGHT_TO_SUPPLIES and share.amount != 0 and kept_milli(charged) == 0:
        return f"nothing of receipt line {named} was kept that could bear a charge."
    return ""
