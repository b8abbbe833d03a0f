"""Options that ordering, shipping and receiving share, in the same words; light to import."""

from __future__ import annotations

from typing import Annotated

import typer

InvoiceNumber = Annotated[str, typer.Option("--reference", help="The invoice's number.")]
InvoiceRate = Annotated[str, typer.Option("--rate", help="Book currency per unit of the invoice's.")]
Charges = Annotated[
    list[str] | None,
    typer.Option("--charge", help='A charge in words: "freight 182.40 by weight". Repeat as needed.'),
]
TaxPaid = Annotated[str, typer.Option("--tax-paid", help="Sales tax: yes, resale or none.")]
AddItems = Annotated[bool, typer.Option("--add-items", help="Add items the book does not know.")]
