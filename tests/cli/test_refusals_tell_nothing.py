"""What is refused is told without the book's contents: no other party, price, note or number stands in a refusal."""

from __future__ import annotations

import importlib
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
import typer
from month_shop import MonthShop, month_shop
from typer.testing import CliRunner

from ledger.cli import main
from ledger.cli.main import MODULES, app, run
from ledger.errors import BlankbookError

SUPPLIER, CUSTOMER, NOTE = "Vexley Quarrington Mills", "Odile Marchbank", "paid in eggs"
REFERENCE, AMOUNT, PRICE = "QX-90817", "731.19", "88.37"
NAME = "Secret plum hooded sweater"
SECRETS = (
    "Vexley",
    "Quarrington",
    "Odile",
    "Marchbank",
    "eggs",
    "90817",
    "731.19",
    "731",
    "88.37",
    NAME,
    "Hidden Attic",
)

ITEMS = f"sku,name,kind,unit,style,colour,size\nTEE-M,{NAME},blank,each,Tee,Plum,M\nINK,Ink of our own,ink,mL,,,\n"
EVENTS = f"""date,event,sku,quantity,amount,kind,applies_to,party,reference,note
2026-01-05,receive,TEE-M,40,{AMOUNT},,,{SUPPLIER},{REFERENCE},{NOTE}
2026-01-06,charge,,,9.11,freight,{SUPPLIER}/{REFERENCE},Carrier,F-1,{NOTE}
2026-01-09,sell,TEE-M,3,{PRICE},,,{CUSTOMER},S-1,{NOTE}
"""
BAD_EVENTS = """date,event,sku,quantity,amount,party,reference
2026-01-10,sell,TEE-M,900,20,Nobody,N-1
2026-01-35,sell,TEE-M,1,20,Nobody,N-2
2026-01-10,sell,TEE-L,1,20,Nobody,N-3
2026-01-10,jump,TEE-M,one,20,Nobody,N-4
2025-01-10,use,TEE-M,1,,,
2026-01-10,send_back,TEE-M,1,,,
"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> MonthShop:
    """A shop with a closed month, whose parties, amounts and notes nobody else should see."""
    folder = tmp_path_factory.mktemp("secrets")
    made = month_shop(folder, ITEMS, "", "--first-month", "2026-01", today="2026-02-20")
    made.post(EVENTS)
    made("close", "2026-01", "--yes")
    (folder / "bad.csv").write_text(BAD_EVENTS, encoding="utf-8")
    (folder / "bad.xlsx").write_bytes(b"PK\x03\x04 broken")
    (folder / "bad.toml").write_text("currency = [", encoding="utf-8")
    (folder / "nul.csv").write_bytes(b"a\0b\xff\xfe")
    return made


REFUSED = (
    ("post", "bad.csv", "--yes"),
    ("post", "bad.xlsx", "--yes"),
    ("post", "nul.csv", "--yes"),
    ("post", "nowhere.csv", "--yes"),
    ("post", "bad.csv", "--profile", "bad.toml", "--yes"),
    ("receive", "bad.csv", "--yes"),
    ("receive", "bad.xlsx", "--party", "Nobody", "--yes"),
    ("items", "load", "bad.csv", "--yes"),
    ("suppliers", "load", "bad.xlsx", "--yes"),
    ("boms", "load", "bad.csv", "--yes"),
    ("quotes", "load", "bad.csv", "--yes"),
    ("duties", "load", "bad.csv", "--yes"),
    ("count", "bad.csv", "--yes"),
    ("compare", "bad.toml"),
    ("compare", "TEE-X"),
    ("sell", "TEE-M", "900", "--amount", "20", "--date", "2026-02-10", "--yes"),
    ("sell", "TEE-M", "1", "--amount", "20", "--date", "2026-01-20", "--yes"),
    ("sell", "TEE-MM", "1", "--amount", "20", "--yes"),
    ("use", "INK", "5", "--yes"),
    ("spoil", "TEE-M", "38", "--yes"),
    ("make", "FOX-M", "2", "--yes"),
    ("send-back", "TEE-M", "90", "--lot", "1.1", "--yes"),
    ("take-back", "TEE-M", "9", "--reference", "S-1", "--yes"),
    ("refund", "TEE-M", "--amount", "5", "--reference", "S-9", "--yes"),
    ("charge", "freight 5", "--on", "77", "--yes"),
    ("charge", "nonsense", "--on", "1", "--yes"),
    ("undo", "77", "--why", "no", "--yes"),
    ("undo", "1", "--why", "no", "--yes"),
    ("show", "77"),
    ("trace", "77"),
    ("history", "TEE-MM"),
    ("cost", "FOX"),
    ("close", "2026-01", "--yes"),
    ("close", "2026-05", "--yes"),
    ("reopen", "2025-12", "--why", "no", "--yes"),
    ("order", "--line", "TEE-X 5 at 2", "--party", "Nobody", "--yes"),
    ("ship", "77", "--yes"),
    ("review", "77"),
    ("plan", "--sku", "TEE-X"),
    ("backup", "shop.blankbook"),
    ("restore", "bad.xlsx", "--yes"),
)


def said(
    shop: MonthShop, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, book: Path | None = None
) -> str:
    """Return all that a command that must fail says."""
    monkeypatch.chdir(shop.folder)
    result = CliRunner().invoke(
        app, ["--book", str(book or shop.book), *words], env={"BLANKBOOK_TODAY": shop.today}
    )
    assert result.exit_code != 0, f"{words}: {result.output}"
    assert isinstance(result.exception, BlankbookError | SystemExit), f"{words}: {result.exception!r}"
    return f"{result.output}{result.stderr}{result.exception}"


@pytest.mark.parametrize("words", REFUSED, ids=" ".join)
def test_a_refusal_names_nothing_that_was_not_asked(
    shop: MonthShop, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Parties, amounts, notes, references and names of the book are in no refusal."""
    text = said(shop, words, monkeypatch)
    assert [secret for secret in SECRETS if secret in text] == []


@pytest.mark.parametrize(
    ("statement", "reading"),
    [
        ("DROP TABLE balance", ("stock",)),
        ("ALTER TABLE document RENAME COLUMN party TO somebody", ("history",)),
        ("PRAGMA application_id = 7", ("stock",)),
        ("PRAGMA user_version = 99", ("stock",)),
    ],
)
def test_a_damaged_book_is_told_without_what_is_in_it(
    shop: MonthShop, statement: str, reading: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A table that is gone or is another's: the refusal says so, and nothing of the rows."""
    damaged = tmp_path / "damaged.blankbook"
    damaged.write_bytes(shop.book.read_bytes())
    with closing(sqlite3.connect(damaged)) as connection:
        connection.execute(statement)
        connection.commit()
    text = said(shop, reading, monkeypatch, damaged)
    assert [secret for secret in SECRETS if secret in text] == []


@pytest.mark.parametrize("keep", [50, 4096, 30000])
def test_a_torn_book_is_told_without_what_is_in_it(
    shop: MonthShop, keep: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that ends too early is refused in words."""
    torn = tmp_path / "torn.blankbook"
    torn.write_bytes(shop.book.read_bytes()[:keep])
    text = said(shop, ("stock",), monkeypatch, torn)
    assert [secret for secret in SECRETS if secret in text] == []


@pytest.mark.parametrize(
    ("words", "place"),
    [
        (("stock",), "ledger.book.looking.stock"),
        (("post", "bad.csv", "--yes"), "ledger.cli.post.find_source"),
        (("close", "2026-02", "--yes"), "ledger.cli.closing.read_month"),
        (("items",), "ledger.cli.items.find_items"),
        (("plan",), "ledger.cli.plan.reading"),
        (("undo", "1", "--why", "no", "--yes"), "ledger.cli.undo.writing"),
    ],
    ids=lambda given: given[0] if isinstance(given, tuple) else given.rpartition(".")[2],
)
def test_what_nobody_foresaw_leaves_one_line_and_a_report(
    shop: MonthShop,
    words: tuple[str, ...],
    place: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Whatever command meets it: exit code 1, one line, a report, and no word of the error in either."""

    def fail(*_arguments: object, **_options: object) -> None:
        raise LookupError(f"{CUSTOMER} owes {PRICE}")

    module, _, name = place.rpartition(".")
    monkeypatch.setattr(importlib.import_module(module), name, fail)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-02-20")
    monkeypatch.setattr("sys.argv", ["blankbook", "--book", str(shop.book), *words])
    with pytest.raises(SystemExit) as end:
        run()
    printed = capsys.readouterr()
    (report,) = tmp_path.glob("blankbook-failure-*.txt")
    told = printed.err.splitlines()[-1] + report.read_text(encoding="utf-8")
    assert (end.value.code, printed.out, "LookupError" in told) == (1, "", True)
    assert f"command: {words[0]}\n" in told
    assert [secret for secret in SECRETS if secret in told] == []


def test_every_command_is_called_where_failures_are_caught() -> None:
    """The one entry point catches what any command's module raises: no module runs a command line of its own."""
    room = Path(main.__file__).parent
    for module in sorted(set(MODULES.values())):
        text = (room / f"{module}.py").read_text(encoding="utf-8")
        assert "sys.exit" not in text, module
        assert callable(importlib.import_module(f"ledger.cli.{module}").register), module
    assert isinstance(app, typer.Typer)
