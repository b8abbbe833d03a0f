"""Options that say how a file of an unknown layout is read; light to import."""

from __future__ import annotations

from typing import Annotated

import typer

As = Annotated[
    list[str] | None,
    typer.Option("--as", help='Correct how an unknown layout is read: "F=unit price". Repeat as needed.'),
]
Order = Annotated[str, typer.Option("--date-order", help='Of an unknown layout: "day month year".')]
Comma = Annotated[
    bool | None,
    typer.Option("--decimal-comma/--decimal-point", help="Of an unknown layout: 4,10 or 4.10."),
]
Accept = Annotated[
    bool,
    typer.Option("--accept", help="Take a proposal without open questions; it is saved once this is posted."),
]
Propose = Annotated[bool, typer.Option("--propose", help="Only show how the file would be read.")]
Save = Annotated[
    str, typer.Option("--save", metavar="FILE", help="With --propose: write the profile there, to edit it.")
]
