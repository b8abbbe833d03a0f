"""`blankbook post` with a sales export that no profile was named for: proposed, taken, saved, used again."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_shop import Commands, Outcome, new_book

from ledger.cli import aliases, items, post
from ledger.errors import InputErrors, Refused, UsageError

EXPORT = (
    "Order ID,Date,Item title,Variant,SKU,Qty,Item total,Shipping charged,Fees\n"
    "M-1,2026-03-01,Fox tee,Black / M,FOX-BLK-M,1,22.00,5.00,1.79\n"
    "M-2,2026-03-02,Fox tee,Black / M,FOX-BLK-M,2,44.00,5.00,2.79\n"
    "M-3,2026-03-02,Shipping label,,,1,4.10,,\n"
)
OPENING = "date,event,sku,quantity,amount\n2026-01-01,opening,FOX-BLK-M,90,360\n"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """`post` in a folder with a book that has 90 shirts, and an export."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    book = new_book(tmp_path / "shop.blankbook")
    Path("items.csv").write_text("sku,name,kind,unit\nFOX-BLK-M,Fox tee,finished,each\n", encoding="utf-8")
    Path("opening.csv").write_text(OPENING, encoding="utf-8")
    Path("market.csv").write_text(EXPORT, encoding="utf-8")
    assert Commands(items.register, book)("items", "load", "items.csv", "--yes").code == 0
    post_command = Commands(post.register, book)
    assert post_command("post", "opening.csv", "--yes").code == 0
    return post_command


def refusal(outcome: Outcome) -> str:
    """The words of a refusal."""
    assert isinstance(outcome.error, Refused)
    return str(outcome.error)


def test_a_proposal_is_not_posted_until_it_is_taken(run: Commands) -> None:
    """It is shown with its rows, and the ways to take it are named."""
    outcome = run("post", "market.csv", "--party", "Harbour Fair", "--yes")
    assert "not confirmed" in refusal(outcome)
    assert "the heading is near 'item total'" in outcome.out
    assert not Path("shop.profiles").exists()


def test_a_taken_proposal_is_saved_and_posted(run: Commands) -> None:
    """Two sales are posted, the label is set aside, the profile stands beside the book."""
    outcome = run("post", "market.csv", "--party", "Harbour Fair", "--accept", "--yes", "--json")
    assert [one["event"] for one in outcome.data["documents"]] == ["sale", "sale"]
    assert Path("shop.profiles/sales-harbour-fair.toml").is_file()


def test_the_next_export_needs_no_questions(run: Commands) -> None:
    """The saved profile is used, and rows that are in the book are skipped."""
    run("post", "market.csv", "--party", "Harbour Fair", "--accept", "--yes")
    outcome = run("post", "market.csv", "--party", "Harbour Fair", "--yes")
    assert (outcome.code, "as saved for Harbour Fair" in outcome.err) == (0, True)
    assert "2 of 2 rows are in the book already" in outcome.err


def test_a_proposal_can_be_written_down_to_edit(run: Commands) -> None:
    """The written profile reads the export when it is named."""
    run("post", "market.csv", "--party", "Harbour Fair", "--propose", "--save", "mine.toml")
    outcome = run(
        "post", "market.csv", "--profile", "mine.toml", "--party", "Harbour Fair", "--yes", "--json"
    )
    assert len(outcome.data["documents"]) == 2


def test_a_sheet_of_events_takes_no_channel(run: Commands) -> None:
    """--party on a sheet of events is a wrong command line."""
    outcome = run("post", "opening.csv", "--party", "Harbour Fair")
    assert isinstance(outcome.error, UsageError)


def test_a_name_without_letters_names_no_profile(run: Commands) -> None:
    """What cannot name a file is refused, and no path leaves the folder."""
    outcome = run("post", "market.csv", "--party", "../..", "--accept", "--yes")
    assert isinstance(outcome.error, UsageError)


SAVED = Path("shop.profiles/sales-harbour-fair.toml")
TAKEN = ("--party", "Harbour Fair", "--accept", "--yes")
UNKNOWN = (
    "Order ID,Date,Item title,Variant,SKU,Qty,Item total\n"
    "M-1,2026-03-01,Fox tee,,FOX-BLK-MM,1,22.00\n"
    "M-2,2026-03-02,Fox tee,,FOX-BLK-M,1,22.00\n"
    "M-3,2026-03-02,Fox tee,,FOX-BLK-MM,2,44.00\n"
)
TYPED = (
    "Type,Order ID,Date,SKU,Qty,Price,Kept\n"
    "Order,M-1,2026-03-01,FOX-BLK-M,2,22.00,1.79\n"
    "Exchange,M-1,2026-03-02,FOX-BLK-M,1,0.00,\n"
    "Refund (returned),M-1,2026-03-03,FOX-BLK-M,1,-22.00,\n"
    "Refund,M-1,2026-03-04,FOX-BLK-M,1,-5.00,\n"
    "Subscription,,,,,9.00,\n"
)


@pytest.fixture
def asking(monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody sits at a terminal."""
    for module in ("common", "post_proposed", "post_sales"):
        monkeypatch.setattr(f"ledger.cli.{module}.is_asking", lambda: True)


def export(text: str, name: str = "other.csv") -> str:
    """Write an export and return its name."""
    Path(name).write_text(text, "utf-8")
    return name


def taught(run: Commands) -> list[tuple[str, str]]:
    """Return what the book knows of the channel's names."""
    found = Commands(aliases.register, run.book)("aliases", "--json").data
    return [(each["word"], each["meaning"]) for each in found]


def test_a_refused_export_saves_no_profile(run: Commands) -> None:
    """Accepted, but with an item nobody knows: how it is read is not kept."""
    outcome = run("post", export(UNKNOWN), *TAKEN)
    assert isinstance(outcome.error, InputErrors)
    assert not SAVED.exists()


def test_more_than_there_is_saves_no_profile(run: Commands) -> None:
    """The book refuses what cannot leave the shelf; the profile waits for a posting."""
    outcome = run("post", export(EXPORT.replace("M,1,22.00", "M,100,2200.00")), *TAKEN)
    assert (isinstance(outcome.error, InputErrors), SAVED.exists()) == (True, False)


def test_an_accepted_dry_run_shows_the_posting_and_saves_nothing(run: Commands) -> None:
    """The documents are shown as they would be."""
    outcome = run("post", "market.csv", "--party", "Harbour Fair", "--accept", "--dry-run", "--json")
    assert (outcome.code, len(outcome.data["documents"]), SAVED.exists()) == (0, 2, False)


def test_corrections_are_given_on_the_command_line(run: Commands) -> None:
    """A column, a type that nobody knows; refunds and returns are told by their words, signs do not matter."""
    said = ("--as", "G=fees", "--as", 'type "Exchange" = set aside')
    outcome = run("post", export(TYPED), *TAKEN, *said, "--json")
    assert outcome.code == 0, outcome.error
    lines = [(one["event"], one["amount"]) for one in outcome.data["documents"]]
    assert lines == [("sale", "44.00"), ("take back", "22.00"), ("refund", "5.00")]
    assert [one["rule"] for one in outcome.data["sales"]["set_aside"]] == ["Exchange", "Subscription"]


def test_open_questions_name_the_options_that_answer_them(run: Commands) -> None:
    """The maker copies one of them."""
    told = refusal(run("post", export(TYPED), *TAKEN))
    assert "1 question is open" in told
    assert "--as 'type \"Exchange\" = sale'" in told


def test_a_correction_that_is_not_understood_is_told(run: Commands) -> None:
    """With the forms there are."""
    outcome = run("post", "market.csv", *TAKEN, "--as", "the fees are in G")
    assert "is not understood" in str(outcome.error)


def test_a_saved_profile_is_corrected_and_kept(run: Commands) -> None:
    """What is said of a later export stands in the profile once that is posted, and not before."""
    run("post", "market.csv", *TAKEN)
    later = EXPORT.replace("M-1", "M-8").replace("M-2", "M-9").replace(",Fees", ",Kept")
    said = ("--party", "Harbour Fair", "--as", "I=fees", "--yes", "--json")
    run("post", export(later), *said, "--dry-run")
    assert "Kept" not in SAVED.read_text("utf-8")
    outcome = run("post", export(later), *said)
    assert outcome.data["sales"]["totals"][0]["fees"] == "4.58"
    assert 'fees = ["Fees", "Kept"]' in SAVED.read_text("utf-8")


def test_a_named_profile_takes_no_corrections(run: Commands) -> None:
    """One of the two is meant."""
    outcome = run("post", "market.csv", "--profile", "sales-one-row-per-item", "--as", "ignore I", "--yes")
    assert isinstance(outcome.error, UsageError)


@pytest.mark.usefixtures("asking")
def test_corrections_are_typed_until_the_proposal_is_taken(run: Commands) -> None:
    """A wrong line is told, a right one shows the proposal anew, Enter takes it, yes posts it."""
    typed = 'what\nG=fees\ntype "Exchange" = set aside\n\ny\n'
    outcome = run("post", export(TYPED), "--party", "Harbour Fair", typed=typed)
    assert (outcome.code, SAVED.is_file()) == (0, True), outcome.error
    assert "is not understood" in outcome.err


@pytest.mark.usefixtures("asking")
def test_a_posting_that_is_declined_saves_nothing(run: Commands) -> None:
    """The proposal was taken, the posting was not."""
    outcome = run("post", "market.csv", "--party", "Harbour Fair", typed="\nn\n")
    assert (isinstance(outcome.error, Refused), SAVED.exists()) == (True, False)


def test_an_unknown_sku_is_told_once_with_its_rows(run: Commands) -> None:
    """With what comes near and the command that teaches it."""
    outcome = run("post", export(UNKNOWN), *TAKEN)
    assert isinstance(outcome.error, InputErrors)
    (problem,) = outcome.error.problems
    assert (problem.where, problem.also) == ("row 2, column SKU", ("row 4, column SKU",))
    assert 'blankbook aliases add "Harbour Fair" FOX-BLK-MM FOX-BLK-M' in problem.next_step


def test_every_row_of_an_unknown_sku_is_marked_in_the_copy(run: Commands) -> None:
    """Both cells have the comment."""
    openpyxl = pytest.importorskip("openpyxl")
    outcome = run("post", export(UNKNOWN), *TAKEN, "--errors", "marked.xlsx")
    sheet = openpyxl.load_workbook("marked.xlsx")["other.csv"]
    assert "2 cells are marked" in outcome.err
    assert [sheet[f"E{row}"].comment is not None for row in (2, 3, 4)] == [True, False, True]


def test_open_questions_write_no_copy_and_say_why(run: Commands) -> None:
    """No cell is wrong: the layout is not known."""
    outcome = run("post", export(TYPED), *TAKEN, "--errors", "marked.xlsx")
    assert ("marked.xlsx was not written" in outcome.err, Path("marked.xlsx").exists()) == (True, False)


def test_a_wrong_profile_writes_no_copy_and_says_why(run: Commands) -> None:
    """What is wrong stands in the profile, not in the export."""
    Path("bad.toml").write_text('kind = "sales"\n[columns]\ndate = "Date"\n', "utf-8")
    outcome = run("post", "market.csv", "--profile", "bad.toml", "--yes", "--errors", "marked.xlsx")
    assert "marked.xlsx was not written: what is wrong does not stand in market.csv" in outcome.err


def test_a_learned_name_is_used(run: Commands) -> None:
    """What was taught with the command of aliases is known in a sales export."""
    teach = Commands(aliases.register, run.book)
    assert teach("aliases", "add", "Harbour Fair", "FOX-BLK-MM", "FOX-BLK-M").code == 0
    outcome = run("post", export(UNKNOWN), *TAKEN, "--json")
    assert {line["sku"] for one in outcome.data["documents"] for line in one["lines"]} == {"FOX-BLK-M"}


def test_a_posted_export_teaches_its_titles(run: Commands) -> None:
    """A later export without SKUs is read by the titles of an earlier one with them."""
    run("post", "market.csv", *TAKEN)
    assert ("Fox tee | Black / M", "FOX-BLK-M") in taught(run)
    outcome = run("post", export(EXPORT.replace("FOX-BLK-M", "").replace("M-1", "M-9")), *TAKEN, "--json")
    assert [one["lines"][0]["sku"] for one in outcome.data["documents"]] == ["FOX-BLK-M"]


def test_a_refused_export_teaches_nothing(run: Commands) -> None:
    """As nothing of it is in the book."""
    run("post", export(UNKNOWN.replace(",,FOX-BLK-M,", ',"Black, M",FOX-BLK-M,')), *TAKEN)
    assert taught(run) == []


@pytest.mark.usefixtures("asking")
def test_somebody_is_asked_once_what_a_name_means(run: Commands) -> None:
    """The answer stands for all its rows and is learned when the export is posted."""
    outcome = run("post", export(UNKNOWN), "--party", "Harbour Fair", typed="\n1\ny\n")
    assert (outcome.code, ("FOX-BLK-MM", "FOX-BLK-M") in taught(run)) == (0, True), outcome.error


@pytest.mark.usefixtures("asking")
def test_an_answer_is_not_learned_where_nothing_is_posted(run: Commands) -> None:
    """A dry run changes nothing in the book."""
    run("post", export(UNKNOWN), "--party", "Harbour Fair", "--dry-run", typed="\n1\n")
    assert taught(run) == []


def test_a_proposal_is_one_json_document(run: Commands) -> None:
    """Columns, decisions, questions and the first rows."""
    found = run("post", export(TYPED), "--party", "Harbour Fair", "--propose", "--json").data
    assert found["columns"][0]["taken_as"] == "type"
    assert [each["subject"] for each in found["questions"]] == ["type Exchange"]
