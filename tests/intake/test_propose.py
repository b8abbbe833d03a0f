"""Profiles proposed for layouts that no profile knows, each made here."""

from __future__ import annotations

import datetime
from fractions import Fraction

import pytest
from shipment_files import Value, made_file

from ledger.errors import InputErrors, ValueProblem
from ledger.intake.answers import read_answers
from ledger.intake.nearest import fold
from ledger.intake.profile import Profile
from ledger.intake.proposal import Answers, CatalogueWords, Proposal
from ledger.intake.propose import propose_profile, sample_draft
from ledger.intake.read_csv import read_csv
from ledger.intake.read_shipment import ShipmentOptions, read_shipment
from ledger.intake.shipment import ShipmentDraft
from ledger.intake.table import SourceFile

Row = list[Value]
USD = CatalogueWords(currency="USD")


def words(**tables: set[str]) -> CatalogueWords:
    """The words of a catalogue in a book kept in dollars."""
    return CatalogueWords(
        currency="USD", **{name: frozenset(map(fold, each)) for name, each in tables.items()}
    )


def proposed(*rows: Row, known: CatalogueWords = USD, said: tuple[str, ...] = ()) -> Proposal:
    """Propose a profile for a workbook of these rows."""
    return propose_profile(made_file(*rows), known, answers=read_answers(said))


def of_text(text: str, known: CatalogueWords = USD) -> tuple[SourceFile, Proposal]:
    """Propose a profile for a csv of this text."""
    file = read_csv("list.csv", text.encode())
    return file, propose_profile(file, known)


def meanings(proposal: Proposal) -> dict[str, str]:
    """What each column that is read was taken as, by its letters."""
    return {each.letters: each.meaning for each in proposal.columns if each.meaning}


def read(file: SourceFile, profile: Profile) -> ShipmentDraft:
    """Read the whole file by the proposed profile."""
    return read_shipment(file, profile, options=ShipmentOptions(default_currency="USD"))


def subjects(proposal: Proposal) -> list[str]:
    """What is asked about."""
    return [each.subject for each in proposal.questions]


PER_SIZE: list[Row] = [
    ["Style no.", "Color", "Size", "Qty", "Unit price", "Amount"],
    ["T10", "Black", "M", 12, 3.10, 37.20],
    ["T10", "Black", "L", 24, 3.10, 74.40],
    ["T10", "Sand", "M", 6, 3.25, 19.50],
]
ACROSS: list[Row] = [
    ["Style", "Colour", "S", "M", "L", "Total pcs", "Price", "Amount"],
    ["T10", "Black", 4, 6, 2, 12, 3, 36],
    ["T10", "Sand", None, 8, 4, 12, 3.5, 42],
]


def test_one_row_per_size_is_read_by_its_headings() -> None:
    """Style, colour, size, quantity, price and amount are what they are headed."""
    proposal = proposed(*PER_SIZE)
    assert list(meanings(proposal).values()) == [
        "style",
        "colour",
        "size",
        "quantity",
        "unit_price",
        "line_total",
    ]


def test_a_proposed_profile_reads_the_file_it_was_proposed_for() -> None:
    """The lines of the draft are those of the rows."""
    draft = read(made_file(*PER_SIZE), proposed(*PER_SIZE).profile)
    assert [(line.sku, line.quantity, line.net) for line in draft.lines] == [
        ("T10-BLACK-M", 12, Fraction("37.2")),
        ("T10-BLACK-L", 24, Fraction("74.4")),
        ("T10-SAND-M", 6, Fraction("19.5")),
    ]


def test_a_product_confirms_quantity_price_and_amount() -> None:
    """The reason says in how many rows it adds up."""
    quantity = next(each for each in proposed(*PER_SIZE).columns if each.meaning == "quantity")
    assert (quantity.confidence, "quantity x price = amount in 3 of 3 rows" in quantity.why) == (99, True)


def test_sizes_across_are_found_with_the_pieces_beside_them() -> None:
    """Columns headed with sizes are sizes; their sum is the pieces."""
    proposal = proposed(*ACROSS)
    assert (proposal.profile.sizes_across, meanings(proposal)["F"]) == (("S", "M", "L"), "pieces")


def test_sizes_across_are_read() -> None:
    """An empty size is none."""
    draft = read(made_file(*ACROSS), proposed(*ACROSS).profile)
    assert [line.sku for line in draft.lines][-2:] == ["T10-SAND-M", "T10-SAND-L"]


def test_headings_over_two_rows_are_joined() -> None:
    """'Unit' over 'price' is the unit price, and the file is read so."""
    rows: list[Row] = [
        ["Style", "", "", "Pieces", "Unit", "Line"],
        ["number", "Colour", "Size", "shipped", "price", "total"],
        ["T10", "Black", "M", 12, 3.10, 37.20],
        ["T10", "Black", "L", 24, 3.10, 74.40],
    ]
    proposal = proposed(*rows)
    draft = read(made_file(*rows), proposal.profile)
    assert (proposal.profile.heading_rows, [line.net for line in draft.lines]) == (
        2,
        [Fraction("37.2"), Fraction("74.4")],
    )


def test_a_title_over_the_sizes_does_not_hide_them() -> None:
    """Where 'Sizes' stands above S, M and L, the sizes are the headings."""
    rows: list[Row] = [
        ["Style", "", "Sizes", "", "", "Unit"],
        ["number", "Colour", "S", "M", "L", "price"],
        ["T10", "Black", 4, 6, 2, 3],
        ["T10", "Sand", 1, 8, 4, 3.5],
    ]
    proposal = proposed(*rows)
    assert len(read(made_file(*rows), proposal.profile).lines) == 6


def test_german_headings_with_decimal_comma_and_semicolons() -> None:
    """A comma before two digits is a decimal comma; the words are dictionary words."""
    text = (
        "Artikel;Bezeichnung;Farbe;Größe;Menge;Einzelpreis;Betrag\n"
        "T10;Hemd;Schwarz;M;12;3,10;37,20\nT10;Hemd;Schwarz;L;400;3,10;1.240,00\n"
        ";;;;;Zwischensumme;1.277,20\n;;;;;Versand;15,00\n;;;;;Gesamtbetrag;1.292,20\n"
    )
    file, proposal = of_text(text)
    draft = read(file, proposal.profile)
    assert (proposal.profile.decimal_comma, draft.lines_total, draft.charges[0].amount) == (
        True,
        Fraction("1277.2"),
        15,
    )


def test_columns_apart_by_tabs() -> None:
    """A text with tabs is a table like any other."""
    file, proposal = of_text(
        "Item\tDescription\tQty\tPrice\n101\tOwl film\t3\t4.50\n102\tFox film\t2\t5.00\n"
    )
    assert [line.sku for line in read(file, proposal.profile).lines] == ["101", "102"]


def test_the_foot_is_told_from_the_lines_and_adds_up() -> None:
    """Subtotal, discount, freight, tax and total each get their meaning."""
    rows = [
        *PER_SIZE,
        ["", "", "", "", "Subtotal", 131.10],
        ["", "", "", "", "Trade discount", 10],
        ["", "", "", "", "Shipping & handling", 8.40],
        ["", "", "", "", "VAT 10%", 12.11],
        ["", "", "", "", "Amount due", 141.61],
    ]
    assert proposed(*rows).profile.foot == {
        "Subtotal": "lines total",
        "Trade discount": "discount",
        "Shipping & handling": "freight by value",
        "VAT 10%": "tax by value",
        "Amount due": "invoice total",
    }


def test_a_total_that_adds_up_to_the_lines_is_a_lines_total() -> None:
    """Its label alone would make it the invoice's; the charge under it makes that another sum."""
    rows = [*PER_SIZE, ["", "", "", "", "Total", 131.10], ["", "", "", "", "Freight", 9]]
    assert proposed(*rows).profile.foot["Total"] == "lines total"


def test_a_total_that_does_not_add_up_is_said() -> None:
    """What was expected stands in the reason."""
    decision = proposed(*PER_SIZE, ["", "", "", "", "Grand total", 140]).decision("row 'Grand total'")
    assert decision is not None
    assert (decision.confidence, decision.why) == (40, "it does not add up: 131.10 was expected")


def test_a_charge_nobody_knows_is_asked() -> None:
    """The answers are lines the person can give."""
    proposal = proposed(*PER_SIZE, ["", "", "", "", "Pallet deposit", 14])
    assert proposal.questions[0].answers == (
        'label "Pallet deposit" = other by value',
        'label "Pallet deposit" = ignore',
    )


def test_an_answer_about_a_label_settles_it() -> None:
    """The profile holds what was said."""
    proposal = proposed(
        *PER_SIZE, ["", "", "", "", "Pallet deposit", 14], said=('label "Pallet deposit" = ignore',)
    )
    assert (proposal.questions, proposal.profile.foot["Pallet deposit"]) == ((), "ignore")


def test_subtotals_in_between_are_no_lines() -> None:
    """A group's subtotal is checked, and the lines go on under it."""
    rows: list[Row] = [
        *PER_SIZE[:3],
        ["", "", "", "", "Subtotal", 111.60],
        PER_SIZE[3],
        ["", "", "", "", "Subtotal", 19.50],
        ["", "", "", "", "Total", 131.10],
    ]
    assert len(read(made_file(*rows), proposed(*rows).profile).lines) == 3


def test_letterhead_rows_stand_above_the_table() -> None:
    """Number, date and currency are found beside their labels."""
    rows: list[Row] = [
        ["Pebble & Thorn Garments"],
        ["14 Kiln Row"],
        ["Invoice no.", "PT-881", None, "Invoice date", datetime.date(2026, 3, 14)],
        ["Currency:", "EUR"],
        *PER_SIZE,
    ]
    draft = read(made_file(*rows), proposed(*rows).profile)
    assert (draft.reference, draft.invoice_date, draft.currency) == (
        "PT-881",
        datetime.date(2026, 3, 14),
        "EUR",
    )


def test_a_price_per_dozen_is_found_by_what_multiplies() -> None:
    """No heading says so; quantity x price / 12 is the amount."""
    rows: list[Row] = [
        ["Style", "Colour", "Size", "Pieces", "Price", "Amount"],
        ["T10", "Black", "M", 24, 36, 72],
        ["T10", "Black", "L", 36, 36, 108],
    ]
    draft = read(made_file(*rows), proposed(*rows).profile)
    assert (proposed(*rows).profile.price_per, draft.lines_total) == ("dozen", 180)


def test_a_price_headed_per_dozen_is_per_dozen() -> None:
    """Without amounts the heading tells."""
    rows: list[Row] = [["Item no", "Qty", "Price per dozen"], ["A1", 24, 36], ["B2", 12, 30]]
    assert proposed(*rows).profile.price_per == "dozen"


def test_dozens_at_a_price_per_dozen_are_not_divided_again() -> None:
    """Both are headed so, and one dozen costs the price."""
    rows: list[Row] = [["Item no", "Qty (doz)", "Price per dozen"], ["A1", 2, 36], ["B2", 3, 30]]
    draft = read(made_file(*rows), proposed(*rows).profile)
    assert [(line.unit, line.net) for line in draft.lines] == [("dozen", 72), ("dozen", 90)]


def test_a_price_per_piece_beside_cases_is_found_once_a_case_is_known() -> None:
    """What a case holds is asked; with the answer the pieces make the amount."""
    rows: list[Row] = [
        ["Item", "Qty", "Unit", "Price", "Amount"],
        ["A1", 2, "CS", 3, 432],
        ["B2", 3, "CS", 2, 432],
        ["C3", 5, "EA", 2, 10],
    ]
    before, after = proposed(*rows), proposed(*rows, said=("pack CS = 72 each",))
    assert (subjects(before), subjects(after), after.profile.price_per) == (["unit CS"], [], "piece")


def test_a_packing_list_without_prices_is_proposed_and_says_so() -> None:
    """Its lines come in without a price; its total of pieces is none of money."""
    rows: list[Row] = [
        ["Style", "Colour", "Size", "Qty"],
        ["T10", "Black", "M", 12],
        ["T10", "Black", "L", 9],
    ]
    proposal = proposed(*rows, ["Total", "", "", 21])
    prices = proposal.decision("prices")
    assert prices is not None
    assert (prices.taken_as, proposal.profile.foot) == ("none", {"Total": "ignore"})


def test_line_totals_alone_are_enough() -> None:
    """The price of one follows from them."""
    rows: list[Row] = [["Article", "Pcs", "Line total"], ["A1", 12, 36], ["B2", 5, 20]]
    draft = read(made_file(*rows), proposed(*rows).profile)
    assert [(line.quantity, line.net) for line in draft.lines] == [(12, 36), (5, 20)]


def dated(*dates: str, label: str = "Date") -> Proposal:
    """Propose for an invoice with best-before dates, its own being the first of these."""
    rows: list[Row] = [[label, dates[0]], ["Item", "Qty", "Price", "Best before"]]
    rows += [[f"A{n}", n + 1, 5, text] for n, text in enumerate(dates[1:], 1)]
    return proposed(*rows)


def test_a_date_that_can_be_read_in_two_ways_is_asked() -> None:
    """The third of April or the fourth of March: nothing in the file tells."""
    proposal = dated("03/04/2026", "05/06/2026", "01/02/2027")
    assert (subjects(proposal), proposal.questions[0].answers) == (
        ["date order"],
        ("date order day month year", "date order month day year"),
    )


@pytest.mark.parametrize(
    ("other", "order"), [("25/06/2026", "day month year"), ("06/25/2026", "month day year")]
)
def test_one_date_that_is_clear_tells_for_all(other: str, order: str) -> None:
    """There is no 25th month."""
    proposal = dated("03/04/2026", other)
    assert (proposal.questions, proposal.profile.date_order) == ((), order)


def test_dates_that_contradict_each_other_are_asked() -> None:
    """One points to the day first, one to the month first."""
    assert subjects(dated("03/04/2026", "25/06/2026", "06/25/2026")) == ["date order"]


def test_the_same_day_and_month_is_asked_as_well() -> None:
    """4 April reads the same either way, but the next file of the party would not."""
    assert subjects(dated("04/04/2026", "2027-01-31")) == ["date order"]


def test_dates_with_the_year_first_need_no_order() -> None:
    """What a later file writes in another way is refused then, not guessed."""
    proposal = dated("2026-04-03", "2027-01-31")
    assert (proposal.questions, proposal.profile.date_order) == ((), "year month day")


def test_a_thousand_or_a_fraction_is_asked() -> None:
    """1,250 alone does not tell which sign is the decimal one."""
    _, proposal = of_text('Item,Price,Qty\nA1,"1,250",\nB2,"3,500",2\n')
    assert "decimal sign" in subjects(proposal)


def test_what_multiplies_tells_a_thousand_from_a_fraction() -> None:
    """2 x 1.250 is 2.500 either way, but 4 x 0.750 is 3 only with a decimal comma."""
    _, proposal = of_text("Item;Qty;Price;Amount\nA1;2;1,250;2,5\nB2;4;1,750;7\n")
    assert (proposal.profile.decimal_comma, subjects(proposal)) == (True, [])


def test_both_decimal_signs_in_one_file_are_asked() -> None:
    """3,10 and 4.25 cannot both be meant."""
    _, proposal = of_text("Item;Qty;Price\nA1;2;3,10\nB2;4;4.25\n")
    assert subjects(proposal) == ["decimal sign"]


def test_the_books_currency_is_proposed_and_said_where_the_file_names_none() -> None:
    """With a low confidence and the reason."""
    decision = proposed(*PER_SIZE).decision("currency")
    assert decision is not None
    assert (decision.taken_as, "the book's own is proposed" in decision.why) == ("USD", True)


@pytest.mark.parametrize(
    ("heading", "currency"),
    [("Amount (EUR)", "EUR"), ("Amount GBP", "GBP"), ("Total in CNY", "CNY"), ("CHF total", "CHF")],
)
def test_a_currency_in_a_heading_is_the_currency(heading: str, currency: str) -> None:
    """Its ISO 4217 code stands there."""
    rows = [[*PER_SIZE[0][:-1], heading], *PER_SIZE[1:]]
    assert proposed(*rows).profile.currency == currency


def test_two_currencies_are_asked() -> None:
    """Prices in one, the total in the other: nobody knows which is meant."""
    rows = [[*PER_SIZE[0][:-1], "Amount (EUR)"], *PER_SIZE[1:], ["", "", "", "", "Total USD", 131.10]]
    assert "currency" in subjects(proposed(*rows))


def test_a_dollar_sign_is_asked_in_a_book_of_another_currency() -> None:
    """It may be any of several dollars."""
    _, proposal = of_text("Item,Qty,Price\nA1,2,$3.10\nB2,4,$4.25\n", CatalogueWords(currency="EUR"))
    assert subjects(proposal) == ["currency"]


def test_two_equally_good_columns_are_asked() -> None:
    """Neither quantity can be told from the other where nothing multiplies."""
    rows: list[Row] = [["Item", "Qty", "Quantity", "Note"], ["A1", 12, 10, ""], ["B2", 5, 5, ""]]
    proposal = proposed(*rows)
    assert (subjects(proposal), proposal.questions[0].answers) == (
        ["quantity"],
        ("B=quantity", "C=quantity"),
    )


def test_what_multiplies_tells_equally_good_columns_apart() -> None:
    """Only one of the two makes the amount."""
    rows: list[Row] = [
        ["Item", "Qty", "Quantity", "Price", "Amount"],
        ["A1", 12, 10, 2, 20],
        ["B2", 6, 5, 3, 15],
    ]
    proposal = proposed(*rows)
    assert (proposal.questions, proposal.meaning("C"), proposal.meaning("B")) == ((), "quantity", "")


def test_two_columns_of_one_heading_are_told_by_their_place() -> None:
    """The answer names the column, and the profile reads it by its letters."""
    rows: list[Row] = [["Item", "Qty", "Qty", "Price"], ["A1", 12, 10, 2], ["B2", 6, 5, 3]]
    proposal = proposed(*rows, said=("C=quantity",))
    draft = read(made_file(*rows), proposal.profile)
    assert (proposal.questions, [line.quantity for line in draft.lines]) == ((), [10, 5])


def test_a_misspelt_heading_comes_near_enough() -> None:
    """'Quanttiy' and 'Descripton' are what they nearly are."""
    rows: list[Row] = [
        ["Item", "Descripton", "Quanttiy", "Unit prise"],
        ["A1", "Owl", 12, 2],
        ["B2", "Fox", 6, 3],
    ]
    assert list(meanings(proposed(*rows)).values()) == ["code", "description", "quantity", "unit_price"]


def test_a_column_without_a_heading_is_told_by_its_values() -> None:
    """Sizes and colours are known as such."""
    rows: list[Row] = [
        ["Style", "", "", "Qty", "Price"],
        ["T10", "Black", "M", 12, 3],
        ["T10", "Sand", "XL", 6, 3],
    ]
    proposal = proposed(*rows)
    draft = read(made_file(*rows), proposal.profile)
    assert [line.sku for line in draft.lines] == ["T10-BLACK-M", "T10-SAND-XL"]


def test_numbers_without_headings_are_told_by_what_multiplies() -> None:
    """Quantity, price and amount make each other out."""
    rows: list[Row] = [
        ["Style", "Colour", "Size", "", "", ""],
        ["T10", "Black", "M", 12, 3.10, 37.20],
        ["T10", "Black", "L", 24, 3.20, 76.80],
        ["T10", "Sand", "L", 7, 3.20, 22.40],
    ]
    assert [proposed(*rows).meaning(letter) for letter in "DEF"] == ["quantity", "unit_price", "line_total"]


def test_a_heading_its_values_contradict_is_not_believed() -> None:
    """Words under 'Qty' are no quantity: it is asked."""
    rows: list[Row] = [["Item", "Qty", "Price"], ["A1", "some", 2], ["B2", "many", 3]]
    assert "quantity" in subjects(proposed(*rows))


def test_our_own_skus_are_known_whatever_the_heading() -> None:
    """Values that are SKUs of the book are SKUs."""
    rows: list[Row] = [["Your reference", "Qty", "Price"], ["TEE-BLK-M", 12, 3], ["TEE-BLK-L", 6, 3]]
    proposal = proposed(*rows, known=words(skus={"TEE-BLK-M", "TEE-BLK-L"}))
    assert (proposal.meaning("A"), proposal.decision("SKU")) == ("sku", proposal.decision("SKU"))


def test_a_text_alone_is_the_suppliers_name_of_an_item() -> None:
    """Nothing else names it: it is looked up among the aliases."""
    rows: list[Row] = [["Description", "Qty", "Price"], ["K7 Hthr Navy 2X", 12, 3], ["K7 Hthr Navy XL", 6, 3]]
    draft = read(made_file(*rows), proposed(*rows).profile)
    assert [line.code for line in draft.lines] == ["K7 Hthr Navy 2X", "K7 Hthr Navy XL"]


def test_an_article_number_of_several_sizes_is_a_style() -> None:
    """The same number in rows of different sizes names no single item."""
    rows: list[Row] = [["Article", "Size", "Qty"], ["T10", "M", 12], ["T10", "L", 6]]
    assert proposed(*rows).profile.sku_pattern == "{style}-{size}"


def test_a_running_number_and_ordered_pieces_are_not_read() -> None:
    """Each says why."""
    rows: list[Row] = [
        ["Pos", "Item", "Ordered", "Shipped"],
        [1, "A1", 12, 10],
        [2, "B2", 6, 6],
        [3, "C3", 5, 5],
    ]
    assert meanings(proposed(*rows)) == {"B": "code", "D": "quantity"}


def test_new_skus_come_along_only_in_a_book_without_items() -> None:
    """On the first day everything is new; later a new name may be an old item."""
    new, old = proposed(*PER_SIZE), proposed(*PER_SIZE, known=words(skus={"TEE-BLK-M"}))
    assert (new.profile.new_item, old.profile.new_item) == ({"kind": "blank", "unit": "each"}, {})


def test_the_second_sheet_is_taken_where_it_alone_holds_a_table() -> None:
    """The profile names it."""
    cover = made_file(["Dear customer"], ["please find your list on the next page"])
    table = made_file(*PER_SIZE)
    first = cover.sheets[0].__class__("Letter", cover.sheets[0].rows, cover.sheets[0].row_numbers)
    file = SourceFile("two.xlsx", (first, table.sheets[0]))
    proposal = propose_profile(file, USD)
    assert (proposal.profile.sheet, len(read(file, proposal.profile).lines)) == ("Invoice", 3)


def test_a_file_without_a_table_is_refused_with_the_way_out() -> None:
    """There are no headings to begin with."""
    with pytest.raises(InputErrors, match="no row looks like the headings"):
        proposed(["Dear customer"], ["thank you"])


def test_the_first_three_lines_are_shown_as_they_would_be_read() -> None:
    """Not the whole file."""
    rows = [*PER_SIZE, ["T10", "Sand", "L", 1, 3, 3]]
    assert len(sample_draft(made_file(*rows), proposed(*rows)).lines) == 3


def test_what_a_person_says_comes_before_what_the_file_says() -> None:
    """The column is what was said, with full confidence."""
    proposal = proposed(*PER_SIZE, said=("ignore F", "E=line total"))
    assert (proposal.meaning("F"), proposal.meaning("E")) == ("", "line_total")


@pytest.mark.parametrize(
    "line",
    [
        "F=unit prize!",
        "date order backwards",
        "currency Kroner",
        "header row nought",
        "pack CS = 7 or 8",
        "hm",
    ],
)
def test_a_correction_that_is_not_understood_is_refused(line: str) -> None:
    """With how it is written."""
    with pytest.raises(InputErrors, match="--as 1"):
        read_answers([line])


def test_every_form_of_a_correction_is_understood() -> None:
    """What the prompt offers can be typed as it stands."""
    from ledger.intake.answers import FORMS  # noqa: PLC0415

    answers = read_answers(FORMS)
    assert answers == Answers(
        columns={"F": "unit_price", "G": "ignore"},
        foot={"Handling": "other by value"},
        head={"reference": "cell B2"},
        packs={"CS": "72 each"},
        units={"INK-7": "bottle"},
        default_unit="dozen",
        date_order="day month year",
        decimal_comma=True,
        currency="EUR",
        price_per="dozen",
        losses_in="pieces",
        header_row=5,
        sheet="Invoice",
        sku_pattern="{style}-{colour}-{size}",
        date=datetime.date(2026, 1, 31),
    )


def test_a_charge_without_a_kind_is_no_meaning_of_a_label() -> None:
    """What an amount is must be one of the kinds of charge."""
    with pytest.raises(InputErrors, match="--as 1"):
        read_answers(['label "Handling" = goodwill'])
    assert issubclass(ValueProblem, Exception)


def test_a_long_foot_under_few_lines_is_still_the_foot() -> None:
    """The lines are the fullest rows, not the most; their discount is not taken for the labels under it."""
    rows: list[Row] = [
        ["Product code", "Product description", "Each", "Shipped", "Disc", "Net amount"],
        ["HF200", "Crew tee", 2.95, 24, "10%", 63.72],
        ["HF201", "Crew tee, long", 3.05, 12, None, 36.60],
        [None, None, None, None, "Merchandise total", 100.32],
        [None, None, None, None, "Carriage", 12.50],
        [None, None, None, None, "Fuel surcharge", 1.10],
        [None, None, None, None, "Balance due", 113.92],
    ]
    proposal = proposed(*rows)
    draft = read(made_file(*rows), proposal.profile)
    assert (proposal.questions, draft.lines_total, len(draft.charges)) == ((), Fraction("100.32"), 2)


@pytest.mark.parametrize(("heading", "meaning"), [("Garment colour", "colour"), ("Tax amount", "")])
def test_the_last_word_of_a_heading_makes_it_likely(heading: str, meaning: str) -> None:
    """But an amount of something else is another amount."""
    value: Value = "Black" if meaning else 3
    rows: list[Row] = [["Style", heading, "Qty"], ["T10", value, 12], ["T11", value, 6]]
    assert proposed(*rows).meaning("B") == meaning


GARMENTS: tuple[Row, ...] = (
    ["Style", "Colour", "Size", "Qty", "Price", "Amount"],
    ["OWL", "Black", "S", 12, "3.00", "36.00"],
    ["OWL", "Black", "M", 6, "3.00", "18.00"],
)


@pytest.mark.parametrize(
    ("quantity", "place"), [("twelve", "cell D4"), ("12 pcs", "cell D4"), (None, "row 4")]
)
def test_a_line_whose_quantity_is_no_number_is_still_a_line(quantity: str | None, place: str) -> None:
    """It is an error at its cell, not a label of the foot."""
    rows = (
        *GARMENTS,
        ["OWL", "Black", "L", quantity, "3.00", "36.00"],
        ["Freight", None, None, None, None, "5.00"],
    )
    proposal = proposed(*rows)
    assert (proposal.questions, len(proposal.line_indexes)) == ((), 3)
    with pytest.raises(InputErrors) as caught:
        read(made_file(*rows), proposal.profile)
    assert [problem.where for problem in caught.value.problems] == [f"sheet Invoice, {place}"]


@pytest.mark.parametrize(
    "row",
    [
        ["Pallet fee", None, None, None, None, "12.00"],
        ["Pallet fee", None, None, "one-off", None, "12.00"],
        ["Pallet fee", None, None, None, "12.00", "12.00"],
    ],
)
def test_a_charge_nobody_knows_is_not_taken_for_such_a_line(row: Row) -> None:
    """It names one thing only, and is asked."""
    assert subjects(proposed(*GARMENTS, row)) == ["Pallet fee"]


def test_a_discount_with_its_rate_is_no_line_of_the_sample() -> None:
    """The rate in its label does not make it an item."""
    rows: list[Row] = [
        ["Item", "Qty", "Price", "Amount"],
        ["K-1", 12, "3.10", "37.20"],
        ["K-2", 4, "3.25", "13.00"],
    ]
    rows.append(["Discount 5%", None, None, "-2.51"])
    assert proposed(*rows, known=words(skus={"k-1", "k-2"})).meaning("A") == "sku"
    assert "2 of 2 are SKUs" in next(
        each.why for each in proposed(*rows, known=words(skus={"k-1", "k-2"})).columns
    )


@pytest.mark.parametrize(
    "heading", ["Part", "Part #", "Art.", "Art. no.", "Article code", "Cat. no.", "Stock no.", "Item ref"]
)
def test_a_code_is_known_under_its_many_names(heading: str) -> None:
    """Whatever the supplier calls the number of an article."""
    assert proposed([heading, "Qty", "Price"], ["K-1", 12, "3.10"], ["K-2", 4, "3.25"]).meaning("A") == "code"


def test_a_style_number_alone_is_the_style() -> None:
    """Nothing else tells one item from another."""
    assert (
        proposed(["Style no.", "Qty", "Price"], ["K-1", 12, "3.10"], ["K-2", 4, "3.25"]).meaning("A")
        == "style"
    )
