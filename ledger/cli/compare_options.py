"""The options of `blankbook compare`, apart from what answers them: reading them must not be slow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import typer

DEFAULT_FUTURES = 2000
DEFAULT_SEED = 1

Prices = Annotated[
    str,
    typer.Option(
        "--prices", metavar="SKU-or-STYLE", help="Who is cheapest landed for it, and why; asks the book."
    ),
]
Quantity = Annotated[
    str,
    typer.Option(
        "--quantity", metavar="N", help="How many: 144, or '5 pack'. Without it as many as came last time."
    ),
]
Colour = Annotated[
    str,
    typer.Option(
        "--colour", help="Which colour of a style. Else its first with --prices, all of them for a decision."
    ),
]
Entry = Annotated[
    str,
    typer.Option(
        "--entry",
        metavar="DATE",
        help="The day of customs entry, which picks duty and fees. Else today and each offer's lead time.",
    ),
]
Rate = Annotated[
    list[str] | None,
    typer.Option("--rate", metavar="CUR=RATE", help="The book's currency for one unit: CNY=0.14."),
]
Curve = Annotated[bool, typer.Option("--curve", help="Landed cost by quantity, with every break.")]
BillCode = Annotated[
    str, typer.Option("--bill", metavar="BILL", help="Print this bill, or buy the transfer --prices names?")
]
Picture = Annotated[str, typer.Option("--picture", metavar="FILE", help="Draw it: a .png or .svg.")]
Workbook = Annotated[
    str, typer.Option("--workbook", metavar="FILE", help="Write an .xlsx: figures, formulas, charts.")
]
Report = Annotated[
    str, typer.Option("--report", metavar="FILE.html", help="Write all of it as a page to keep or print.")
]
Afterwards = Annotated[
    bool, typer.Option("--afterwards", help="What each order was expected to cost and take, and did.")
]


@dataclass(frozen=True)
class Files:
    """The files one call asks for, of landed prices or of a decision; empty where they were not given."""

    picture: str = ""
    workbook: str = ""
    report: str = ""

    @property
    def given(self) -> dict[str, str]:
        """The files that are asked for, by their options."""
        named = {"--picture": self.picture, "--workbook": self.workbook, "--report": self.report}
        return {option: name for option, name in named.items() if name}

    @property
    def typed(self) -> tuple[str, ...]:
        """The options that were given, as they are typed."""
        return tuple(self.given)


NO_FILES = Files()


@dataclass(frozen=True)
class Asked:
    """What the options of one call ask for; empty where they were not given.

    ``bill`` asks whether to print that bill or buy the transfer that ``what`` names.
    """

    what: str = ""
    quantity: str = ""
    colour: str = ""
    entry: str = ""
    rates: tuple[str, ...] = ()
    with_curve: bool = False
    bill: str = ""
    files: Files = NO_FILES
    afterwards: bool = False

    @property
    def is_about_prices(self) -> bool:
        """Whether any option of this mode was given."""
        return self != Asked()

    @property
    def typed(self) -> tuple[str, ...]:
        """The options of this mode that were given, as they are typed."""
        given = {
            "--prices": self.what,
            "--quantity": self.quantity,
            "--colour": self.colour,
            "--entry": self.entry,
            "--rate": self.rates,
            "--curve": self.with_curve,
            "--bill": self.bill,
            "--afterwards": self.afterwards,
        }
        return (*(option for option, value in given.items() if value), *self.files.typed)


WriteStudy = Annotated[
    str,
    typer.Option(
        "--write-study",
        metavar="FILE.toml",
        help="Write the study the book gives, to change a figure and run.",
    ),
]
Against = Annotated[
    str,
    typer.Option("--against", metavar="FILE.toml", help="Another study: which figures moved the answer."),
]


Template = Annotated[
    str,
    typer.Option(
        "--template",
        metavar="FILE.toml",
        help="Write a study to fill in, its keys explained, and do nothing else.",
    ),
]


Keep = Annotated[
    bool, typer.Option("--keep", help="Keep the decision in the book, to look back at: blankbook review.")
]
Why = Annotated[str, typer.Option("--why", help="With --keep: what else led to it, in your words.")]


@dataclass(frozen=True)
class KeepWish:
    """Whether a decision is to be kept in the book, and the words kept with it."""

    is_wanted: bool = False
    why: str = ""
    yes: bool = False
    dry_run: bool = False

    @property
    def typed(self) -> tuple[str, ...]:
        """The options that were given, as they are typed."""
        given = {"--keep": self.is_wanted, "--why": self.why, "--yes": self.yes, "--dry-run": self.dry_run}
        return tuple(option for option, value in given.items() if value)


NOT_KEPT = KeepWish()


@dataclass(frozen=True)
class DecisionWish:
    """What one call asks the buying decision for.

    ``subject`` is a study's file, an SKU or a style; ``colour`` and ``rates`` go with the latter two.
    ``files`` are what to write besides.
    """

    subject: str
    colour: str = ""
    rates: tuple[str, ...] = ()
    write_study: str = ""
    against: str = ""
    seed: int = DEFAULT_SEED
    futures: int = DEFAULT_FUTURES
    explain: bool = False
    keep: KeepWish = NOT_KEPT
    files: Files = NO_FILES

    @property
    def typed(self) -> tuple[str, ...]:
        """The options that only go with a decision and were given, as they are typed."""
        given = {
            "--write-study": self.write_study,
            "--against": self.against,
            "--explain": self.explain,
            "--seed": self.seed != DEFAULT_SEED,
            "--futures": self.futures != DEFAULT_FUTURES,
        }
        return (*(option for option, value in given.items() if value), *self.keep.typed)

    @property
    def is_file(self) -> bool:
        """Whether the subject is a study's file."""
        return self.subject.lower().endswith(".toml")
