"""`blankbook receive` of what is measured in this process: bottles, rolls and packs, and no unit guessed."""

from __future__ import annotations

from pathlib import Path

import pytest
from proposal_shop import SAVED, accepted, file, receipts, receive_shop
from small_shop import Commands, Outcome

from ledger.book.catalogue_store import save_items
from ledger.book.connect import open_writing, write_tx
from ledger.catalogue.items import Item
from ledger.catalogue.packs import read_pack
from ledger.errors import InputErrors, Refused
from ledger.intake.profile import load_profile

MEASURED = (
    "Date,2026-03-14,,,\nItem,Qty,UOM,Price,Amount\n"
    "INK-BLK,6,bottles,18.00,108.00\nVIN-RED,4,rolls,22.00,88.00\nTRF,2,packs,30.00,60.00\n"
)


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The command with a book that knows two blanks and what Mill Lane calls them."""
    return receive_shop(tmp_path, monkeypatch)


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
    assert '--as "unit of INK-BLK = bottle"' in str(outcome.error)
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
