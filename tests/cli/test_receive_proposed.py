"""`blankbook receive` of a file whose layout no profile knows, in this process."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from small_shop import Commands, Outcome, new_book

from ledger.book.catalogue_store import save_items
from ledger.book.connect import open_reading, open_writing, write_tx
from ledger.catalogue.items import Item
from ledger.catalogue.packs import read_pack
from ledger.cli import receive
from ledger.errors import InputErrors, Refused, UsageError
from ledger.intake.profile import load_profile

CLEAR = (
    "Invoice no.,ML-7,,Date,2026-03-14\n"
    "Item,Description,Qty,Price,Amount\n"
    "K7-B-M,Tee black M,12,3.10,37.20\nK7-S-L,Tee sand L,4,3.25,13.00\n"
    ",,,Subtotal,50.20\n,,,Shipping,6.00\n,,,Total,56.20\n"
)
UNCLEAR = CLEAR.replace("2026-03-14", "03/04/2026")
SKUS = {"K7-B-M": "TEE-BLK-M", "K7-S-L": "TEE-SND-L"}


def item(sku: str, colour: str, size: str) -> Item:
    """A blank of the book."""
    return Item(sku, f"Heron tee, {colour}, {size}", "blank", "goods", "each", "Heron", colour, size, "adult")


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The command with a book that knows two blanks and what Mill Lane calls them."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-04-30")
    path = new_book(tmp_path / "shop.blankbook")
    connection = open_writing(path)
    with write_tx(connection):
        save_items(connection, [item("TEE-BLK-M", "Black", "M"), item("TEE-SND-L", "Sand", "L")], [])
        connection.execute("INSERT INTO party (name) VALUES ('Mill Lane')")
        connection.executemany("INSERT INTO supplier_code VALUES ('Mill Lane', ?, ?)", SKUS.items())
    connection.close()
    return Commands(receive.register, path)


@pytest.fixture
def asking(monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody sits at a terminal."""
    for module in ("common", "receive", "receive_proposed", "saved_layout"):
        monkeypatch.setattr(f"ledger.cli.{module}.is_asking", lambda: True)


def file(text: str = CLEAR, name: str = "list.csv") -> str:
    """Write the supplier's file and return its name."""
    Path(name).write_text(text, "utf-8")
    return name


def accepted(blankbook: Commands, *words: str, text: str = CLEAR) -> Outcome:
    """Receive the file, taking its proposal as it is."""
    return blankbook("receive", file(text), "--party", "Mill Lane", "--accept", "--yes", *words)


def receipts(blankbook: Commands) -> int:
    """How many receipts the book has."""
    connection = open_reading(blankbook.book)
    try:
        return int(connection.execute("SELECT count(*) FROM document WHERE event = 'receipt'").fetchone()[0])
    finally:
        connection.close()


SAVED = Path("shop.profiles/mill-lane.toml")


def test_an_accepted_proposal_is_posted(blankbook: Commands) -> None:
    """Two lines and the shipping, under the number the file says."""
    outcome = accepted(blankbook)
    assert (outcome.error, receipts(blankbook)) == (None, 1)
    assert "Posted receipt 1, charges 2: 2 lots." in outcome.err


def test_an_accepted_proposal_is_saved_under_the_partys_name(blankbook: Commands) -> None:
    """Beside the book, as a profile that can be loaded."""
    accepted(blankbook)
    profile = load_profile(SAVED)
    assert (profile.party, profile.foot["Shipping"]) == ("Mill Lane", "freight by value")


def test_the_next_file_of_the_party_is_read_by_the_saved_profile(blankbook: Commands) -> None:
    """Without any question, saying so."""
    accepted(blankbook)
    second = file(CLEAR.replace("ML-7", "ML-8"), "second.csv")
    outcome = blankbook("receive", second, "--party", "Mill Lane", "--yes")
    assert (outcome.error, receipts(blankbook)) == (None, 2)
    assert "Reading second.csv as saved for Mill Lane" in outcome.err


def second(text: str) -> str:
    """Write a later invoice of the same supplier and return its name."""
    return file(text.replace("ML-7", "ML-8"), "second.csv")


SHORT = CLEAR.replace("Price,Amount\n", "Price,Amount,Short\n").replace("37.20\n", "37.20,2\n")


def test_a_new_column_stops_the_next_file_until_it_is_answered(blankbook: Commands) -> None:
    """Two of the twelve did not come; the answer is kept for the third file."""
    accepted(blankbook)
    words = ("receive", second(SHORT), "--party", "Mill Lane", "--yes")
    refused = blankbook(*words)
    assert isinstance(refused.error, Refused)
    assert ("--as F=missing or --as 'ignore F'" in str(refused.error), receipts(blankbook)) == (True, 1)
    posted = blankbook(*words, "--as", "F=missing")
    assert (posted.error, "TEE-BLK-M: 2 claimed" in posted.out) == (None, True)
    third = file(SHORT.replace("ML-7", "ML-9"), "third.csv")
    assert "TEE-BLK-M: 2 claimed" in blankbook("receive", third, "--party", "Mill Lane", "--yes").out


@pytest.mark.parametrize(
    "text",
    ["Currency,EUR\n" + CLEAR, CLEAR.replace(",3.10,", ",€3.10,"), CLEAR.replace("Total,", "Total EUR,")],
)
def test_another_currency_stops_the_next_file(blankbook: Commands, text: str) -> None:
    """It is asked in which the prices are; --currency answers for this file alone."""
    accepted(blankbook)
    words = ("receive", second(text), "--party", "Mill Lane", "--yes", "--rate", "1.1")
    refused = blankbook(*words)
    assert isinstance(refused.error, Refused)
    assert "--currency EUR or --currency USD" in str(refused.error)
    assert (blankbook(*words, "--currency", "EUR").error, load_profile(SAVED).currency) == (None, "USD")


def test_a_date_that_has_another_label_stops_the_next_file(blankbook: Commands) -> None:
    """Today is not taken for it."""
    accepted(blankbook)
    words = ("receive", second(CLEAR.replace(",Date,", ",Raised,")), "--party", "Mill Lane", "--yes")
    refused = blankbook(*words)
    assert "No date was found beside 'Date' above the lines" in str(refused.error)
    assert "2026-03-20" in blankbook(*words, "--date", "2026-03-20").out


def test_the_order_of_dates_is_told_of_a_saved_layout(blankbook: Commands) -> None:
    """The first file had its year first; the option works on the next one and is kept."""
    accepted(blankbook)
    words = ("receive", second(UNCLEAR), "--party", "Mill Lane", "--accept", "--yes")
    assert isinstance(blankbook(*words).error, InputErrors)
    assert "2026-04-03" in blankbook(*words, "--date-order", "day month year").out
    assert load_profile(SAVED).date_order == "day month year"


def test_another_layout_of_a_known_supplier_is_looked_at_afresh(blankbook: Commands) -> None:
    """It says so, keeps what is known of units, and takes the place of the saved one once posted."""
    accepted(blankbook)
    text = "Date,2026-03-15,\nArt no,How many,Unit price\nK7-B-M,12,3.10\n"
    refused = blankbook("receive", second(text), "--party", "Mill Lane", "--yes")
    assert "is not laid out as files of Mill Lane were so far" in refused.err
    assert "--propose --save FILE" in refused.err
    assert (type(refused.error), "--accept" in str(refused.error)) == (Refused, True)
    posted = blankbook("receive", "second.csv", "--party", "Mill Lane", "--accept", "--yes")
    assert (posted.error, load_profile(SAVED).columns["quantity"]) == (None, ("How many",))


def test_the_same_shipment_under_another_name_is_said(blankbook: Commands) -> None:
    """It may be right, so it is no refusal."""
    accepted(blankbook)
    codes = CLEAR.replace("K7-B-M", "TEE-BLK-M").replace("K7-S-L", "TEE-SND-L")
    outcome = blankbook("receive", file(codes, "other.csv"), "--party", "Hill Top", "--accept", "--yes")
    assert outcome.error is None
    assert "in the book already, as receipt 1 of Mill Lane of the same day" in outcome.out


def test_options_of_a_single_line_are_refused_beside_a_file(blankbook: Commands) -> None:
    """They would change nothing."""
    outcome = accepted(blankbook, "--unit", "dozen")
    assert isinstance(outcome.error, UsageError)
    assert '--as "unit bottle"' in str(outcome.error)


def test_what_is_nothing_a_column_can_be_is_answered_with_what_it_can_be(blankbook: Commands) -> None:
    """The whole list."""
    outcome = accepted(blankbook, "--as", "C=pack count")
    assert "A column can be: sku, style, colour" in str(outcome.error)


def test_a_rate_is_no_meaning_of_a_label(blankbook: Commands) -> None:
    """The amount stands in the file; the word is discount."""
    outcome = accepted(blankbook, "--as", 'label "Shipping" = 3% off')
    assert "What lowers the price of the lines is: discount." in str(outcome.error)


def test_an_amount_below_zero_is_offered_as_a_discount(blankbook: Commands) -> None:
    """Nothing else lowers the cost."""
    text = CLEAR.replace(",,,Shipping,6.00\n", ",,,Loyal customers,-6.00\n").replace("56.20", "44.20")
    assert 'label "Loyal customers" = discount' in str(accepted(blankbook, text=text).error)


def test_the_party_of_the_head_is_stated(blankbook: Commands) -> None:
    """Whose file it is taken for stands on the screen."""
    outcome = blankbook("receive", file("Supplier,Mill Lane\n" + CLEAR), "--accept", "--yes")
    assert "The supplier is Mill Lane, as the file says." in outcome.err


@pytest.mark.usefixtures("asking")
def test_the_party_of_the_head_is_asked(blankbook: Commands) -> None:
    """Enter takes it, another name replaces it."""
    text = "Supplier,Mill Lane Ltd\n" + CLEAR
    outcome = blankbook("receive", file(text), typed="Mill Lane\n\ny\n")
    assert (outcome.error, load_profile(SAVED).party) == (None, "Mill Lane")


@pytest.mark.usefixtures("asking")
def test_a_person_answers_what_is_new_in_a_later_file(blankbook: Commands) -> None:
    """What is not understood is asked again."""
    blankbook("receive", file(), "--party", "Mill Lane", typed="\ny\n")
    typed = "F=much\n\nF=missing\ny\n"
    outcome = blankbook("receive", second(SHORT), "--party", "Mill Lane", typed=typed)
    assert (outcome.error, "TEE-BLK-M: 2 claimed" in outcome.out) == (None, True)
    assert load_profile(SAVED).columns["missing"] == ("Short",)


def test_the_only_saved_profile_that_fits_needs_no_name(blankbook: Commands) -> None:
    """The party stands in the profile."""
    accepted(blankbook)
    outcome = blankbook("receive", file(CLEAR.replace("ML-7", "ML-8"), "second.csv"), "--yes")
    assert (outcome.error, "as saved for Mill Lane" in outcome.err) == (None, True)


def test_an_unconfirmed_proposal_is_refused_where_nobody_can_be_asked(blankbook: Commands) -> None:
    """--yes posts what is known; it does not take a proposal."""
    outcome = blankbook("receive", file(), "--party", "Mill Lane", "--yes")
    assert isinstance(outcome.error, Refused)
    assert ("--accept" in str(outcome.error), receipts(blankbook), SAVED.exists()) == (True, 0, False)


def test_an_open_question_is_refused_naming_the_options_that_answer_it(blankbook: Commands) -> None:
    """03/04/2026 is asked, whatever else was said."""
    outcome = accepted(blankbook, text=UNCLEAR)
    assert isinstance(outcome.error, Refused)
    assert "--date-order 'day month year' or --date-order 'month day year'" in str(outcome.error)
    assert (receipts(blankbook), SAVED.exists()) == (0, False)


@pytest.mark.parametrize(
    ("order", "day"), [("day month year", "2026-04-03"), ("month-day-year", "2026-03-04")]
)
def test_the_order_of_dates_is_answered_by_an_option(blankbook: Commands, order: str, day: str) -> None:
    """The receipt has the day that was meant."""
    outcome = accepted(blankbook, "--date-order", order, text=UNCLEAR)
    assert (outcome.error, day in outcome.out) == (None, True)


def test_a_correction_is_answered_by_an_option(blankbook: Commands) -> None:
    """Two columns of one heading: the right one is named, and the profile keeps it by its place."""
    text = "Date,2026-03-14,,\nItem,Qty,Qty,Price\nK7-B-M,12,10,3.10\nK7-S-L,4,4,3.25\n"
    refused = accepted(blankbook, text=text)
    outcome = accepted(blankbook, "--as", "C=quantity", text=text)
    assert ("--as B=quantity or --as C=quantity" in str(refused.error), outcome.error) == (True, None)
    assert load_profile(SAVED).columns["quantity"] == ("column C",)


def test_the_proposal_is_shown_as_a_table_with_three_lines(blankbook: Commands) -> None:
    """Column, heading, what it is taken as, how sure, an example, and why."""
    out = blankbook("receive", file(), "--party", "Mill Lane", "--propose").out
    assert "column  heading      taken as" in out
    assert "C       Qty          quantity      99%  12" in out
    assert "the first lines" in out


def test_propose_only_shows(blankbook: Commands) -> None:
    """Nothing is posted and nothing saved."""
    outcome = blankbook("receive", file(), "--party", "Mill Lane", "--propose")
    assert (outcome.error, receipts(blankbook), SAVED.exists()) == (None, 0, False)


def test_a_proposal_is_written_down_to_edit(blankbook: Commands) -> None:
    """And is a profile like any other."""
    blankbook("receive", file(), "--party", "Mill Lane", "--propose", "--save", "mine.toml")
    outcome = blankbook("receive", "list.csv", "--profile", "mine.toml", "--party", "Mill Lane", "--yes")
    assert (outcome.error, receipts(blankbook)) == (None, 1)


def test_a_proposal_with_an_open_question_is_no_profile_yet(blankbook: Commands) -> None:
    """It is written with a question mark, and refused until somebody decides."""
    blankbook("receive", file(UNCLEAR), "--party", "Mill Lane", "--propose", "--save", "mine.toml")
    outcome = blankbook("receive", "list.csv", "--profile", "mine.toml", "--yes")
    assert isinstance(outcome.error, InputErrors)
    assert "date_order" in str(outcome.error)


def test_a_file_that_is_there_is_not_written_over(blankbook: Commands) -> None:
    """Somebody may have edited it."""
    Path("mine.toml").write_text("mine", "utf-8")
    outcome = blankbook("receive", file(), "--propose", "--save", "mine.toml")
    assert (type(outcome.error), Path("mine.toml").read_text("utf-8")) == (UsageError, "mine")


def test_a_proposal_as_json_is_one_document(blankbook: Commands) -> None:
    """The table goes to the person, the data to the program."""
    data = blankbook("receive", file(UNCLEAR), "--propose", "--json").data
    assert [each["taken_as"] for each in data["columns"]] == [
        "code",
        "description",
        "quantity",
        "unit_price",
        "line_total",
    ]
    assert data["questions"][0]["answers"] == ["date order day month year", "date order month day year"]


def test_a_dry_run_reads_by_the_proposal_and_saves_nothing(blankbook: Commands) -> None:
    """The preview is shown without accepting anything."""
    outcome = blankbook("receive", file(), "--party", "Mill Lane", "--dry-run")
    assert (outcome.error, "TEE-BLK-M" in outcome.out, SAVED.exists()) == (None, True, False)


def test_a_correction_of_a_saved_profile_is_kept_once_posted(blankbook: Commands) -> None:
    """The next file is read by it; until then the layout stays as it was."""
    accepted(blankbook)
    second = file(CLEAR.replace("ML-7", "ML-8"), "second.csv")
    words = ("receive", second, "--party", "Mill Lane", "--as", 'label "Shipping" = freight by quantity')
    looked = blankbook(*words, "--dry-run")
    before = load_profile(SAVED).foot["Shipping"]
    posted = blankbook(*words, "--accept", "--yes")
    assert (looked.error, before, posted.error) == (None, "freight by value", None)
    assert "What you said of it was not saved" in looked.err
    assert load_profile(SAVED).foot["Shipping"] == "freight by quantity"


def test_corrections_beside_a_named_profile_are_refused(blankbook: Commands) -> None:
    """The profile says how the file is read."""
    outcome = blankbook("receive", file(), "--profile", "one-row-per-size", "--accept")
    assert isinstance(outcome.error, UsageError)


def test_a_party_is_needed_to_save_under(blankbook: Commands) -> None:
    """The file names none."""
    outcome = blankbook("receive", file(), "--accept", "--yes")
    assert isinstance(outcome.error, Refused)
    assert "Add --party NAME" in str(outcome.error)


def test_a_party_the_head_names_is_taken(blankbook: Commands) -> None:
    """The label is found, and the profile is saved under its value."""
    blankbook("receive", file("Supplier,Mill Lane\n" + CLEAR), "--accept", "--yes")
    assert load_profile(SAVED).party == "Mill Lane"


def test_the_profile_of_another_party_under_the_same_file_name_is_refused(blankbook: Commands) -> None:
    """'Mill Lane' and 'Mill-Lane!' would share a file."""
    accepted(blankbook)
    outcome = blankbook("receive", "list.csv", "--party", "Mill-Lane!", "--yes")
    assert isinstance(outcome.error, Refused)
    assert "is the profile of Mill Lane" in str(outcome.error)


def test_a_fill_in_sheet_needs_no_proposal(blankbook: Commands) -> None:
    """What --template writes is read as such."""
    blankbook("receive", "--template", "filled.xlsx")
    outcome = blankbook("receive", "filled.xlsx", "--yes")
    assert "taken as" not in outcome.out
    assert isinstance(outcome.error, InputErrors)


@pytest.mark.usefixtures("asking")
def test_a_person_corrects_a_line_and_takes_the_rest(blankbook: Commands) -> None:
    """The order of dates, Enter, yes to posting."""
    outcome = blankbook(
        "receive", file(UNCLEAR), "--party", "Mill Lane", typed="\ndate order day month year\n\ny\n"
    )
    assert (outcome.error, receipts(blankbook), "2026-04-03" in outcome.out) == (None, 1, True)
    assert "Still open:" in outcome.err


@pytest.mark.usefixtures("asking")
def test_a_correction_that_is_not_understood_is_asked_again(blankbook: Commands) -> None:
    """With how it is written."""
    outcome = blankbook("receive", file(), "--party", "Mill Lane", typed="C=blah\n\ny\n")
    assert (outcome.error, "nothing a column can be" in outcome.err) == (None, True)


@pytest.mark.usefixtures("asking")
def test_a_person_may_stop(blankbook: Commands) -> None:
    """Nothing is posted or saved."""
    outcome = blankbook("receive", file(), "--party", "Mill Lane", typed="stop\n")
    assert (type(outcome.error), receipts(blankbook), SAVED.exists()) == (Refused, 0, False)


NAMES = "Date,2026-03-14,\nProduct,Qty,Price\nK7 Blck M,12,3.10\nK7 Sand L,4,3.25\n"


def test_an_unknown_name_is_refused_with_the_nearest_and_how_to_teach_it(blankbook: Commands) -> None:
    """The command can be typed as it stands."""
    outcome = accepted(blankbook, text=NAMES)
    assert isinstance(outcome.error, InputErrors)
    assert "blankbook aliases add 'Mill Lane' 'K7 Blck M' TEE-BLK-M" in str(outcome.error)


@pytest.mark.usefixtures("asking")
def test_a_person_tells_what_an_unknown_name_is_once(blankbook: Commands) -> None:
    """The first by its number, the second by its SKU; the book has learned both."""
    outcome = blankbook("receive", file(NAMES), "--party", "Mill Lane", typed="\n1\nTEE-SND-L\ny\n")
    connection = open_reading(blankbook.book)
    codes = dict(connection.execute("SELECT code, sku FROM supplier_code WHERE code LIKE 'K7 %'").fetchall())
    connection.close()
    assert (outcome.error, codes) == (None, {"K7 Blck M": "TEE-BLK-M", "K7 Sand L": "TEE-SND-L"})


@pytest.mark.usefixtures("asking")
def test_a_dry_run_asks_and_teaches_nothing(blankbook: Commands) -> None:
    """What is only looked at changes nothing."""
    before = blankbook.book.read_bytes()
    blankbook("receive", file(NAMES), "--party", "Mill Lane", "--dry-run", typed="\n1\n2\n")
    assert blankbook.book.read_bytes() == before


def test_json_of_a_posting_stays_one_document(blankbook: Commands) -> None:
    """The proposal goes to the person."""
    assert isinstance(json.loads(accepted(blankbook, "--json").out), dict)


def test_a_second_suppliers_shirts_come_in_as_new_blanks_when_told(blankbook: Commands) -> None:
    """Without --add-items they are refused: each may be an old item under another name."""
    text = "Date,2026-03-14,,,\nStyle,Colour,Size,Qty,Price\nNS-7,Moss,XL,4,5.00\nNS-7,Moss,2XL,3,5.00\n"
    refused = accepted(blankbook, text=text)
    outcome = accepted(blankbook, "--add-items", text=text)
    assert ("--add-items" in str(refused.error), outcome.error, receipts(blankbook)) == (True, None, 1)


MEASURED = (
    "Date,2026-03-14,,,\nItem,Qty,UOM,Price,Amount\n"
    "INK-BLK,6,bottles,18.00,108.00\nVIN-RED,4,rolls,22.00,88.00\nTRF,2,packs,30.00,60.00\n"
)


@pytest.fixture
def inks(blankbook: Commands) -> Commands:
    """The same book with an ink, a vinyl and a transfer, each with its packs."""
    kinds = {"INK-BLK": ("ink", "mL"), "VIN-RED": ("vinyl", "cm2"), "TRF": ("transfer", "each")}
    packs = {"INK-BLK": "bottle = 125 mL", "VIN-RED": "roll = 11.8 in x 5 yd", "TRF": "pack = 25 each"}
    connection = open_writing(blankbook.book)
    with write_tx(connection):
        made = [Item(sku, sku, kind, "goods", unit) for sku, (kind, unit) in kinds.items()]
        found = [read_pack(packs[sku], unit, sku=sku) for sku, (_, unit) in kinds.items()]
        save_items(connection, made, found)
    connection.close()
    return blankbook


def quantities(outcome: Outcome) -> dict[str, str]:
    """What came in of each SKU, in its base unit."""
    return {lot["sku"]: lot["quantity_received"] for lot in outcome.data["lots"]}


def test_an_items_own_packs_are_read(inks: Commands) -> None:
    """Bottles, rolls and packs need no word of explanation."""
    outcome = accepted(inks, "--json", text=MEASURED)
    assert outcome.error is None
    assert quantities(outcome) == {"INK-BLK": "750", "VIN-RED": "54812.794", "TRF": "50"}


def test_a_quantity_without_a_unit_of_what_is_measured_is_refused(inks: Commands) -> None:
    """Six bottles are not taken for six millilitres; what may be meant is named with its option."""
    outcome = accepted(inks, "--as", "ignore C", text=MEASURED)
    assert isinstance(outcome.error, Refused)
    assert "row 3: INK-BLK is kept in mL, and no unit says what 6 of it are." in str(outcome.error)
    assert "--as 'unit of INK-BLK = bottle'" in str(outcome.error)
    assert receipts(inks) == 0


def test_what_an_item_comes_in_is_answered_by_an_option(inks: Commands) -> None:
    """The answers that the refusal names get the file in."""
    said = (
        "--as",
        "unit of INK-BLK = bottle",
        "--as",
        "unit of VIN-RED = roll",
        "--as",
        "unit of TRF = pack",
    )
    outcome = accepted(inks, "--as", "ignore C", *said, "--json", text=MEASURED)
    assert quantities(outcome) == {"INK-BLK": "750", "VIN-RED": "54812.794", "TRF": "50"}
    assert load_profile(SAVED).units_by_item == {"INK-BLK": "bottle", "VIN-RED": "roll", "TRF": "pack"}


def test_a_missing_bottle_is_no_missing_millilitre(inks: Commands) -> None:
    """Of what is measured the row's own unit is missing."""
    text = MEASURED.replace("Price,Amount\n", "Price,Amount,Short\n").replace("108.00\n", "108.00,1\n")
    outcome = accepted(inks, "--json", text=text)
    assert quantities(outcome)["INK-BLK"] == "625"


def test_a_new_unit_column_stops_the_next_file(inks: Commands) -> None:
    """A litre is no bottle."""
    head = MEASURED.replace(",UOM", "").replace(",bottles", "").replace(",rolls", "").replace(",packs", "")
    said = ("unit of INK-BLK = bottle", "unit of VIN-RED = roll", "unit of TRF = pack")
    accepted(inks, *(word for line in said for word in ("--as", line)), text=head)
    text = MEASURED.replace("UOM", "Unit").replace("bottles", "litre").replace("03-14", "03-15")
    words = ("receive", file(text, "second.csv"), "--party", "Mill Lane", "--yes", "--json")
    refused = inks(*words)
    assert "Column C ('Unit') would be left out, and it holds litre" in str(refused.error)
    assert quantities(inks(*words, "--as", "C=unit"))["INK-BLK"] == "6000"


def test_a_profile_without_a_unit_is_refused_row_by_row(inks: Commands) -> None:
    """A saved profile says nothing of the unit: the rows and the ways out are named."""
    accepted(inks, text=MEASURED)
    text = MEASURED.replace("bottles", "").replace("rolls", "").replace("03-14", "03-15")
    outcome = inks("receive", file(text, "second.csv"), "--party", "Mill Lane", "--yes")
    assert isinstance(outcome.error, InputErrors)
    assert [problem.where for problem in outcome.error.problems] == ["row 3", "row 4"]
    assert '"INK-BLK" = "bottle" under [defaults.units]' in str(outcome.error)


def test_a_single_line_of_what_is_measured_needs_its_unit(inks: Commands) -> None:
    """--quantity 6 of an ink is no six millilitres either."""
    refused = inks("receive", "--sku", "INK-BLK", "--quantity", "6", "--amount", "9", "--yes")
    posted = inks(
        "receive", "--sku", "INK-BLK", "--quantity", "6", "--unit", "mL", "--amount", "9", "--yes", "--json"
    )
    assert "no unit says what 6 of it are" in str(refused.error)
    assert quantities(posted) == {"INK-BLK": "6"}


@pytest.mark.parametrize("more", [("--dry-run",), ("--currency", "EUR", "--rate", "-1")])
def test_nothing_is_saved_until_the_receipt_is_posted(blankbook: Commands, more: tuple[str, ...]) -> None:
    """Neither on a dry run nor where the file is refused; and it is said."""
    outcome = accepted(blankbook, *more)
    assert (receipts(blankbook), SAVED.exists()) == (0, False)
    when = "the same without --dry-run posts and saves" if more[0] == "--dry-run" else "that happens once"
    assert f"How it is read was not saved: {when}" in outcome.err


@pytest.mark.usefixtures("asking")
def test_what_was_typed_is_said_again_where_nothing_was_posted(blankbook: Commands) -> None:
    """Nobody types the same corrections twice."""
    outcome = blankbook("receive", file(), "--party", "Mill Lane", "--dry-run", typed="B=note\n\n")
    assert "--as B=note" in outcome.err


def test_a_file_without_a_date_is_asked_for_it(blankbook: Commands) -> None:
    """Today is not taken for it: the option is named, and a date said outright is enough."""
    text = CLEAR.replace(",Date,2026-03-14", "")
    refused = accepted(blankbook, text=text)
    assert isinstance(refused.error, Refused)
    assert ("--date YEAR-MONTH-DAY" in str(refused.error), receipts(blankbook)) == (True, 0)
    outcome = accepted(blankbook, "--as", "date = 2026-03-20", text=text)
    assert (outcome.error, "Receipt: Mill Lane, ML-7, 2026-03-20" in outcome.out) == (None, True)


def test_a_date_that_was_given_needs_no_remark(blankbook: Commands) -> None:
    """Somebody said when it came."""
    text = CLEAR.replace(",Date,2026-03-14", "")
    assert "No date was found" not in accepted(blankbook, "--date", "2026-03-20", text=text).out


def test_the_marked_copys_absence_is_explained(blankbook: Commands) -> None:
    """An open question is no wrong cell."""
    outcome = accepted(blankbook, "--errors", "marked.xlsx", text=UNCLEAR)
    assert "marked.xlsx was not written: no cell of list.csv was found wrong" in outcome.err


def test_a_quantity_in_words_is_marked_in_the_copy(blankbook: Commands) -> None:
    """The cell is wrong, and nothing is asked."""
    outcome = accepted(blankbook, "--errors", "marked.xlsx", text=CLEAR.replace(",12,", ",twelve,"))
    assert isinstance(outcome.error, InputErrors)
    assert [problem.where for problem in outcome.error.problems] == ["row 3, column Qty"]
    assert Path("marked.xlsx").exists()
