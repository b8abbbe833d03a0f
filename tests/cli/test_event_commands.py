"""The commands for single events, and `blankbook post`, in this process."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
import typer
from book_builder import make_book, opened
from event_shop import HEADINGS, event_shop
from small_shop import Commands, Outcome

from ledger.cli import coming_back, leaving, making, post, stock, undo
from ledger.errors import InputErrors, Refused, UsageError

MATERIAL = (
    "01-01,opening,TEE-SAND-M,20,60.00",
    "01-01,opening,FILM-A3,50,25.00",
    "01-01,opening,INK-CYAN,200,10.00",
    "01-02,receive,TEE-SAND-M,10,50.00,,,Mill Lane,ML-204",
    "01-03,sell,TEE-SAND-M,4,40.00,,,,A-1",
)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with material, a receipt and a sale in it, made once."""
    path = tmp_path_factory.mktemp("filled") / "filled.blankbook"
    make_book(path)
    book = opened(path)
    event_shop(book).post(*MATERIAL)
    book.connection.close()
    return path


@pytest.fixture
def run(filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Outcome]:
    """Run a command with a book of its own; ``book`` may name another one."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")

    def register(app: typer.Typer) -> None:
        for module in (making, leaving, coming_back, post, stock, undo):
            module.register(app)

    def run(*words: str, book: str = "shop", typed: str = "") -> Outcome:
        path = tmp_path / f"{book}.blankbook"
        if not path.exists():
            path.write_bytes(filled.read_bytes())
        return Commands(register, path)(*words, typed=typed)

    return run


def sheet(*rows: str) -> str:
    """Write an events sheet; return its name."""
    width = HEADINGS.count(",")
    full = [f"2026-{row}{',' * (width - row.count(','))}" for row in rows]
    Path("events.csv").write_text("\n".join([HEADINGS, *full, ""]), encoding="utf-8")
    return "events.csv"


def everything(book: str) -> dict[str, list[tuple[object, ...]]]:
    """What was posted into a book and what follows from it, without where it was typed."""
    queries = {
        "documents": (
            "SELECT number, event, effect_date, party, reference, currency, rate, total, total_foreign, "
            "content_sha256, note FROM document ORDER BY number"
        ),
        "lines": (
            "SELECT document, line, role, sku, unit, quantity_milli, normal_milli, expensed_milli, amount, "
            "credit, lot_document, lot_line, short_allowed, shipping, fees, note FROM document_line "
            "ORDER BY document, line"
        ),
        "legs": "SELECT * FROM leg ORDER BY document, line, part",
    }
    connection = sqlite3.connect(f"{book}.blankbook")
    found = {name: connection.execute(query).fetchall() for name, query in queries.items()}
    connection.close()
    return found


TWINS: dict[str, tuple[Sequence[str], str]] = {
    "make": (
        ("make", "FOX-SAND-M", "4", "--labour", "2.00", "--reference", "job 7"),
        "01-10,make,FOX-SAND-M,4,2.00,,good,,job 7",
    ),
    "sell": (
        ("sell", "TEE-SAND-M", "2", "--amount", "24.00", "--shipping", "4.00", "--fees", "1.10", "--party",
         "Corner Cafe", "--reference", "A-2"),
        "01-10,sell,TEE-SAND-M,2,24.00,,,Corner Cafe,A-2,,,4.00,1.10",
    ),
    "sell, made to order": (
        ("sell", "FOX-SAND-M", "2", "--amount", "44.00"),
        "01-10,sell,FOX-SAND-M,2,44.00",
    ),
    "use": (("use", "INK-CYAN", "0.012", "--unit", "L", "--note", "head cleaning"),
            "01-10,use,INK-CYAN,0.012,,L,,,,,,,,head cleaning"),
    "spoil": (("spoil", "TEE-SAND-M", "1", "--kind", "abnormal"), "01-10,spoil,TEE-SAND-M,1,,,abnormal"),
    "own-use": (("own-use", "TEE-SAND-M", "1"), "01-10,own_use,TEE-SAND-M,1"),
    "sample": (
        ("sample", "TEE-SAND-M", "1", "--party", "Corner Cafe"),
        "01-10,sample,TEE-SAND-M,1,,,,Corner Cafe",
    ),
    "donate": (
        ("donate", "TEE-SAND-M", "6", "--party", "School fair"),
        "01-10,donate,TEE-SAND-M,6,,,,School fair",
    ),
    "take-back": (
        ("take-back", "TEE-SAND-M", "1", "--amount", "10.00", "--reference", "A-1"),
        "01-10,take_back,TEE-SAND-M,1,10.00,,,,A-1",
    ),
    "take-back of a sale": (
        ("take-back", "TEE-SAND-M", "1", "--of", "5"),
        "01-10,take_back,TEE-SAND-M,1,,,,,,5",
    ),
    "refund": (
        ("refund", "TEE-SAND-M", "3.00", "--reference", "A-1"),
        "01-10,refund,TEE-SAND-M,,3.00,,,,A-1",
    ),
    "send-back by receipt": (
        ("send-back", "TEE-SAND-M", "3", "--of", "Mill Lane/ML-204", "--credit", "14.00"),
        "01-10,send_back,TEE-SAND-M,3,14.00,,,,,Mill Lane/ML-204",
    ),
    "send-back by lot": (
        ("send-back", "TEE-SAND-M", "3", "--lot", "4.1"),
        "01-10,send_back,TEE-SAND-M,3,,,,,,,4.1",
    ),
    "write-down": (("write-down", "TEE-SAND-M", "5.00"), "01-10,write_down,TEE-SAND-M,,5.00"),
}  # fmt: skip


@pytest.mark.parametrize(("words", "row"), TWINS.values(), ids=TWINS)
def test_a_command_posts_what_its_row_posts(
    run: Callable[..., Outcome], words: Sequence[str], row: str
) -> None:
    """The same documents, lines and legs, by either way."""
    by_command = run(*words, "--date", "2026-01-10", "--yes", book="command")
    by_row = run("post", sheet(row), "--yes", book="row")
    assert (by_command.code, by_row.code) == (0, 0)
    assert everything("command") == everything("row")


@pytest.mark.parametrize(("words", "row"), TWINS.values(), ids=TWINS)
def test_what_a_command_posted_a_sheet_does_not_post_again(
    run: Callable[..., Outcome], words: Sequence[str], row: str
) -> None:
    """Typed on the day and in the month's sheet once more: refused, naming the document."""
    run(*words, "--date", "2026-01-10", "--yes")
    before = everything("shop")
    done = run("post", sheet(row), "--yes")
    assert isinstance(done.error, InputErrors)
    assert "row 2: this is in the book already, as " in str(done.error)
    assert everything("shop") == before


@pytest.mark.parametrize("command", ["use", "spoil", "own-use", "sample", "donate", "write-down"])
def test_the_same_once_more_is_posted_with_a_reference_of_its_own(
    run: Callable[..., Outcome], command: str
) -> None:
    """The way out that the refusal names is an option of the command that is refused."""
    words = (command, "TEE-SAND-M", "1", "--date", "2026-01-10", "--yes")
    assert run(*words).code == 0
    refused = run(*words)
    assert isinstance(refused.error, InputErrors)
    assert "give it a reference of its own: --reference" in str(refused.error)
    assert run(*words, "--reference", "a second one").code == 0


def test_spoiled_pieces_of_a_job_are_rows_of_their_own(run: Callable[..., Outcome]) -> None:
    """Good, normal and abnormal as options and as rows."""
    run(
        "make",
        "FOX-SAND-M",
        "4",
        "--normal",
        "1",
        "--abnormal",
        "2",
        "--date",
        "2026-01-10",
        "--yes",
        book="command",
    )
    rows = [
        f"01-10,make,FOX-SAND-M,{pieces},,,{kind}"
        for pieces, kind in ((4, "good"), (1, "normal"), (2, "abnormal"))
    ]
    run("post", sheet(*rows), "--yes", book="row")
    assert everything("command") == everything("row")


def test_a_short_is_let_through_and_settled_with_words(run: Callable[..., Outcome]) -> None:
    """The receipt after the sale says which document's cost changed and by how much."""
    refused = run("sell", "TEE-SAND-M", "30", "--date", "2026-01-10", "--yes")
    assert isinstance(refused.error, InputErrors)
    assert "Or let it stand for now with --short." in str(refused.error)
    assert run("sell", "TEE-SAND-M", "30", "--date", "2026-01-10", "--short", "--yes").code == 0
    done = run("post", sheet("01-20,receive,TEE-SAND-M,10,60.00"), "--yes", "--json")
    assert done.data["changes"] == [
        {"document": 6, "event": "sale", "sku": "TEE-SAND-M", "before": "118.00", "after": "122.00"}
    ]
    assert "sale 6, TEE-SAND-M: 118.00 before, 122.00 now" in done.err


def test_an_early_undo_says_which_costs_changed(run: Callable[..., Outcome]) -> None:
    """Without the sale of the 3rd, the later one takes the older lot's pieces."""
    run("sell", "TEE-SAND-M", "18", "--date", "2026-01-10", "--yes")
    done = run("undo", "5", "--why", "a test", "--yes")
    assert "sale 6, TEE-SAND-M: 58.00 before, 54.00 now" in done.out + done.err


def test_the_answer_as_data_has_documents_costs_and_changes(run: Callable[..., Outcome]) -> None:
    """What was posted, with numbers."""
    done = run("sell", "FOX-SAND-M", "2", "--amount", "44.00", "--date", "2026-01-10", "--yes", "--json")
    documents = [
        (one["document"], one["event"], one["amount"], one["cost"]) for one in done.data["documents"]
    ]
    assert documents == [(6, "make", "0.00", "0.00"), (7, "sale", "44.00", "7.25")]
    assert (done.data["changes"], done.data["currency"]) == ([], "USD")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("use", "INK-CYAN", "0"), "0 is not above zero"),
        (("use", "INK-CYAN", "many"), "many"),
        (("use", "INK-CYAN", "1.0004"), "finer than a thousandth"),
        (("use", "INK-CYAN", "0.0001"), "finer than a thousandth"),
        (("use", "--", "INK-CYAN", "-3"), "-3 is not above zero"),
        (("sell", "TEE-SAND-M", "1", "--amount", "1.005"), "more decimals than USD has"),
        (("sell", "TEE-SAND-M", "1", "--amount", "ten"), "--amount: "),
        (("sell", "TEE-SAND-M", "1", "--currency", "XXQ"), "--currency: "),
        (("sell", "TEE-SAN-M", "1"), "Did you mean 'TEE-SAND-M'?"),
        (("make", "FOX-SAND-XXL", "1"), "no bill of materials makes FOX-SAND-XXL"),
        (("make", "FOX-SAND-M", "1.5"), "not a whole number of pieces"),
        (("take-back", "TEE-SAND-M", "5"), "but only 4 are still out"),
        (("take-back", "TEE-SAND-M", "1", "--reference", "A-9"), "has the number A-9"),
        (("send-back", "TEE-SAND-M", "1", "--of", "5"), "'5' is no receipt"),
        (("send-back", "TEE-SAND-M", "1", "--lot", "2.1"), "lot 2.1 is no receipt's lot of TEE-SAND-M"),
    ],
)  # fmt: skip
def test_bad_values_are_told_and_nothing_is_posted(
    run: Callable[..., Outcome], words: Sequence[str], said: str
) -> None:
    """What is wrong, and with which option."""
    head, *rest = words
    done = run(head, "--date", "2026-01-10", "--yes", *rest)
    assert isinstance(done.error, InputErrors)
    assert said in str(done.error)
    assert len(everything("shop")["documents"]) == len(MATERIAL)


def test_all_bad_options_are_told_at_once(run: Callable[..., Outcome]) -> None:
    """Three numbers that are none, three problems."""
    done = run("sell", "TEE-SAND-M", "x", "--amount", "y", "--fees", "z", "--yes")
    assert isinstance(done.error, InputErrors)
    assert [problem.where for problem in done.error.problems] == ["QUANTITY", "--amount", "--fees"]


@pytest.mark.parametrize(
    "words",
    [
        ("send-back", "TEE-SAND-M", "1"),
        ("send-back", "TEE-SAND-M", "1", "--of", "4", "--lot", "4.1"),
        ("make", "FOX-SAND-M", "0"),
        ("spoil", "TEE-SAND-M", "1", "--kind", "sad"),
        ("post",),
    ],
)
def test_commands_that_say_too_little_or_too_much_are_bad_usage(
    run: Callable[..., Outcome], words: Sequence[str]
) -> None:
    """Neither receipt nor lot, both, no piece at all, an unknown word, no sheet."""
    assert isinstance(run(*words, "--yes").error, UsageError)


def test_a_dry_run_posts_nothing(run: Callable[..., Outcome]) -> None:
    """It shows what would be posted."""
    before = everything("shop") if Path("shop.blankbook").exists() else None
    done = run("sell", "FOX-SAND-M", "1", "--date", "2026-01-10", "--dry-run")
    assert ("make 6" in done.out, done.code, before) == (True, 0, None)
    assert len(everything("shop")["documents"]) == len(MATERIAL)


def test_without_an_answer_nothing_is_posted(run: Callable[..., Outcome]) -> None:
    """Nobody is there to say yes."""
    done = run("sell", "TEE-SAND-M", "1", "--date", "2026-01-10")
    assert isinstance(done.error, Refused)
    assert len(everything("shop")["documents"]) == len(MATERIAL)


def test_the_preview_shows_each_document(run: Callable[..., Outcome]) -> None:
    """Item, quantity, what was received and what it cost."""
    done = run("sell", "TEE-SAND-M", "2", "--amount", "24.00", "--date", "2026-01-10", "--yes")
    (shown,) = [text for text in done.out.splitlines() if text.startswith("sale 6")]
    assert shown.split() == ["sale", "6", "2026-01-10", "TEE-SAND-M", "2", "each", "24.00", "6.00"]


def test_a_blank_sheet_is_written(run: Callable[..., Outcome]) -> None:
    """With a name and nothing else."""
    assert (run("post", "--template", "blank.xlsx").code, Path("blank.xlsx").stat().st_size > 0) == (0, True)


def test_a_sheet_of_a_month_is_posted_as_a_whole(run: Callable[..., Outcome]) -> None:
    """One row that cannot be keeps the others out."""
    rows = ("01-10,sell,TEE-SAND-M,2,24.00", "01-11,sell,TEE-SAND-M,200,240.00", "01-12,use,FILM-A3,1")
    done = run("post", sheet(*rows), "--yes")
    assert isinstance(done.error, InputErrors)
    assert [problem.where for problem in done.error.problems] == ["row 3"]
    assert len(everything("shop")["documents"]) == len(MATERIAL)
