"""Options that say how a file of an unknown layout is read; light to import."""

from __future__ import annotations

from typing import Annotated

import typer

Profile = Annotated[
    str | None, typer.Option("--profile", help="How to read the file: a carried name or a .toml file.")
]
As = Annotated[
    list[str] | None,
    typer.Option(
        "--as",
        help="Say how a file is read, also one whose layout is saved; repeat as needed. "
        'A column: "F=unit price", "H=missing", "ignore G". A label under the lines: \'label "Rebate" = discount\'. '
        'The head: "date = 2026-01-31", "reference = cell B2". A unit: "pack CS = 72 each", '
        '"unit of INK-7 = bottle". Also "currency EUR", "price per dozen", "header row 5", "sheet Invoice". '
        "The README lists what each can be.",
    ),
]
Order = Annotated[str, typer.Option("--date-order", help='How the file writes its dates: "day month year".')]
Comma = Annotated[
    bool | None,
    typer.Option("--decimal-comma/--decimal-point", help="How the file writes numbers: 4,10 or 4.10."),
]
Accept = Annotated[
    bool,
    typer.Option("--accept", help="Take a proposal without open questions; it is saved once this is posted."),
]
Propose = Annotated[bool, typer.Option("--propose", help="Only show how the file would be read.")]
Save = Annotated[
    str, typer.Option("--save", metavar="FILE", help="With --propose: write the profile there, to edit it.")
]
