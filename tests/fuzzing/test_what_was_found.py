"""What hostile inputs once did, each by a small example."""

from __future__ import annotations

import io
from pathlib import Path

import openpyxl
import pytest
from fuzz_book import book
from openpyxl.comments import Comment
from typer.testing import CliRunner
from watching import fault_of

from ledger.book.references import returned_lot
from ledger.cli.common import read_date
from ledger.cli.main import app
from ledger.errors import BlankbookError, InputErrors, Problem, UsageError, ValueProblem
from ledger.intake.marked_copy import marked_copy
from ledger.intake.profile import load_profile
from ledger.intake.propose import propose_profile
from ledger.intake.read_file import read_content, read_pasted
from ledger.intake.read_shipment import ShipmentOptions, read_shipment
from ledger.intake.sales_profile import load_sales_profile

ODD = "a\x1b[2Jb\x00\u202ec\ufffed\x9b"


def test_a_message_shows_what_a_terminal_would_obey() -> None:
    """A cell that would clear the screen or turn the order of reading is quoted without its power."""
    message = str(ValueProblem(f"'{ODD}' is no number."))
    assert (fault_of(message), "\x1b" in message, "[2Jb" in message) == ("", False, True)


def test_a_message_cannot_be_flooded() -> None:
    """A cell of a million letters is cut, and of very many problems the first are told and the rest counted."""
    assert len(str(ValueProblem("x" * 1_000_000))) == 4_001
    lines = str(InputErrors("a.csv", [Problem(f"row {row}", "wrong.") for row in range(700)])).splitlines()
    assert (len(lines), lines[-1]) == (502, "  … and 200 more. Mend these first.")


def test_a_cell_cannot_forge_a_problem() -> None:
    """A line break inside a cell begins no line of the message."""
    errors = InputErrors("a.csv", [Problem("row 2", "'x\n  - row 9: all is well.' is no date.")])
    assert len(str(errors).splitlines()) == 2


def test_a_line_break_in_a_place_that_is_the_source() -> None:
    """The source is not said twice, and the problem stays one line."""
    errors = InputErrors("a.csv", [Problem("a.csv", "one\ntwo.", "Mend it.")])
    assert str(errors).splitlines()[1] == "  - one two. Mend it."


@pytest.mark.parametrize(
    "content", ["\N{NO-BREAK SPACE}a\N{NO-BREAK SPACE}b", "---  ---", "sku\n----  ----\n"]
)
def test_columns_are_not_told_by_what_is_no_column(content: str) -> None:
    """A blank that holds words together and a rule drawn across separate nothing."""
    with pytest.raises(InputErrors, match="nothing in it separates columns"):
        read_pasted("the pasted text", content.encode())


def test_a_lot_of_five_thousand_digits_is_no_lot() -> None:
    """Python refuses to read so long a number; the maker is told that there is no such lot."""
    with pytest.raises(ValueProblem, match="no receipt's lot"):
        returned_lot(book(), "TEE-SAND-M", f"{'9' * 5000}.1", (), ())


@pytest.mark.parametrize("load", [load_profile, load_sales_profile])
def test_a_profile_with_a_number_of_five_thousand_digits(load: object, tmp_path: Path) -> None:
    """It is no profile, and that is said."""
    path = tmp_path / "a.toml"
    path.write_text(f"a = {'9' * 5000}", encoding="utf-8")
    assert callable(load)
    with pytest.raises(InputErrors, match="no TOML"):
        load(path)


def test_a_pattern_without_a_column_is_refused_by_its_row() -> None:
    """Where no column makes the SKU and the pattern gives none, the row is named."""
    text = "Per carton,Style,Item,Per carton,Style,Per carton,Unit,Item\rS-XL,(12.00),TEE-SAND-M,1,9999-12-31,1,\x85,\u017f\r"
    text += "\x07,1.1,1,normal,cm2,2026-W05-1,polyester,1,CN\r1E400,TEE-*,0000-00-00,TEE-SAND-M,FOB,\u017f,$5,=1+1\n"
    file = read_content("list.csv", "", text.encode())
    with pytest.raises(BlankbookError):
        read_shipment(file, propose_profile(file).profile, options=ShipmentOptions(default_currency="USD"))


def test_a_marked_copy_of_letters_no_workbook_holds_can_be_opened() -> None:
    """Neither cells nor comments keep what would make the copy a damaged file."""
    content = f'sku,note\n"A","{ODD}"\n'.encode()
    file = read_content("list.csv", ".csv", content.replace(b"\x00", b""))
    copy = marked_copy(content, file, [Problem("row 2, column note", ODD, ODD)])
    assert copy is not None
    (first, *_) = openpyxl.load_workbook(io.BytesIO(copy.content)).worksheets
    comments = [
        cell.comment for row in first.iter_rows() for cell in row if isinstance(cell.comment, Comment)
    ]
    assert ["[2Jb" in comment.text for comment in comments] == [True]


def test_a_typed_date_is_quoted_without_its_power() -> None:
    """The command line's own words come to the screen too."""
    with pytest.raises(UsageError) as refused:
        read_date(ODD + "9" * 5000)
    assert fault_of(str(refused.value)) == ""


def test_half_a_letter_on_the_command_line_is_refused(tmp_path: Path) -> None:
    """Bytes in another encoding than UTF-8 reach the program as what no book can hold."""
    named = ("--book", str(tmp_path / "a.blankbook"))
    started = ("start", "--name", "Shop", "--currency", "USD", "--first-month", "2026-01", "--yes")
    assert CliRunner().invoke(app, [*named, *started]).exit_code == 0
    done = CliRunner().invoke(app, [*named, "sell", "TEE\udcff", "1", "--amount", "5", "--yes"])
    assert isinstance(done.exception, BlankbookError)
