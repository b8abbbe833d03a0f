"""Reading a sales export by its profile: sales, refunds and goods that came back, with every problem at once."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from ledger.errors import InputErrors, Problem
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.records import MAX_HEADER_DEPTH, Header, find_header, normal_heading, records
from ledger.intake.sales import SalesDraft
from ledger.intake.sales_cells import is_money, more_names
from ledger.intake.sales_currency import currencies_told, other_currency
from ledger.intake.sales_profile import MORE_COLUMNS, SALES_COLUMNS, SalesProfile
from ledger.intake.sales_rows import SalesOptions, SalesRows
from ledger.intake.sales_unread import ReadColumns, problems_of_unread, unread_columns
from ledger.intake.table import Cell, Record, Sheet, SourceFile, refusal

__all__ = ["SalesOptions", "read_sales"]

_REQUIRED = ("date", "order")


def read_sales(file: SourceFile, profile: SalesProfile, options: SalesOptions | None = None) -> SalesDraft:
    """Return the sales, refunds and returns a file holds, and the rows that are no goods.

    The channel is the one the caller names, else the profile's; where neither does, the party column.
    Amounts are exact, and whole minor units of their currency.

    Raises InputErrors with everything wrong in the file, each with its cell: columns that are missing,
    values that cannot be read, dates whose order is not said, titles without a SKU, rows that clash.
    """
    chosen = options or SalesOptions()
    if chosen.currency:
        profile = replace(profile, currency=chosen.currency)
    sheet = _choose_sheet(file, profile)
    header = _header(sheet, profile)
    party = chosen.party or profile.party
    if not party and "party" not in header.columns:
        what = "nothing says through whom these sales were made."
        raise InputErrors(file.name, [Problem("", what, "Give it with --party, or as party in the profile.")])
    reading = SalesRows(sheet, profile, chosen, party)
    found = records(sheet, header)
    problems = _unread(sheet, profile, header, chosen) + _currencies(sheet, profile, (header, found), chosen)
    reading.read(found, header)
    if problems or reading.problems:
        raise InputErrors(file.name, [*problems, *reading.problems])
    if not reading.rows and not reading.set_aside:
        raise refusal(file.name, "there are no rows under the headings.", "Check that it is the right file.")
    return SalesDraft(
        source_name=file.name,
        party=party,
        rows=tuple(reading.rows),
        set_aside=tuple(reading.set_aside),
        remarks=(*file.remarks, *_sheets_left(file, sheet), *_absent(profile, header), *reading.remarks()),
        rows_read=reading.goods,
        rows_skipped=len(reading.doubled),
        names=reading.names,
    )


def _header(sheet: Sheet, profile: SalesProfile) -> Header:
    """Return the row of headings. Raises InputErrors with each column that is missing, and how it is said."""
    wanted, needed = _wanted(profile), _required(sheet, profile)
    try:
        return find_header(sheet, wanted, needed, header_row=profile.header_row, by_name=False)
    except InputErrors as errors:
        problems = []
        for problem in errors.problems:
            name = next((each for each in needed if f"the column {each} is missing" in problem.what), "")
            said = name.replace("_", " ")
            more = (
                f' Where its heading is new, say which it is: --as "E={said}", with its letters.'
                if name
                else ""
            )
            problems.append(replace(problem, next_step=f"{problem.next_step}{more}"))
        raise InputErrors(errors.source, problems) from None


def _wanted(profile: SalesProfile) -> dict[str, tuple[str, ...]]:
    """Return the headings of each column; what several columns are has a name for each of them."""
    wanted: dict[str, tuple[str, ...]] = {}
    for name in SALES_COLUMNS:
        headings = profile.columns.get(name, ())
        if name in MORE_COLUMNS:
            wanted |= {each: (text,) for each, text in zip(more_names(profile, name), headings, strict=True)}
        elif headings:
            wanted[name] = headings
    return wanted


def _unread(sheet: Sheet, profile: SalesProfile, header: Header, options: SalesOptions) -> list[Problem]:
    """Return the refusal of columns that the profile does not read though they may hold money."""
    if options.is_sample:
        return []
    row = sheet.rows[header.row_index]
    read = ReadColumns(
        header=row,
        places=header.columns,
        ignored=profile.ignored,
        decimal_comma=profile.decimal_comma,
        currency=profile.currency or options.book_currency,
    )
    unread = unread_columns(sheet.rows[header.row_index + 1 :], read)
    return problems_of_unread(unread, sheet, header.row_number)


def _currencies(
    sheet: Sheet, profile: SalesProfile, table: tuple[Header, Sequence[Record]], options: SalesOptions
) -> list[Problem]:
    """Return the refusal of amounts whose heading or sign says another currency than they are read in."""
    header, found = table
    money = [name for name in header.columns if is_money(name)]
    usual = profile.currency or options.book_currency
    cells: dict[str, list[Cell]] = {}
    for record in found:
        used = record.text("currency").upper() or usual
        cells.setdefault(used, []).extend(record.cells[name] for name in money if name in record.cells)
    headings = [
        Cell(header.headings[name], sheet.cell_place(header.row_number, place, header.headings[name]))
        for name, place in header.columns.items()
        if name in money
    ]
    return [
        other_currency(told, used)
        for used, own in cells.items()
        for told in currencies_told([*headings, *own])
        if used not in told.codes
    ]


def _choose_sheet(file: SourceFile, profile: SalesProfile) -> Sheet:
    """Return the sheet the profile names, else the one with the most of its headings."""
    if not file.sheets:
        raise refusal(file.name, "there is no visible sheet in it.", "Show the sheet, save and try again.")
    if profile.sheet:
        for sheet in file.sheets:
            if fold(sheet.name) == fold(profile.sheet):
                return sheet
        names = [sheet.name for sheet in file.sheets]
        raise refusal(
            file.name, f"there is no sheet {quoted(profile.sheet)}.", did_you_mean(profile.sheet, names)
        )
    wanted = {normal_heading(text) for texts in profile.columns.values() for text in texts}

    def headings(sheet: Sheet) -> int:
        rows = sheet.rows[:MAX_HEADER_DEPTH]
        return max((len({normal_heading(cell.text) for cell in row} & wanted) for row in rows), default=0)

    return max(file.sheets, key=headings)


def _required(sheet: Sheet, profile: SalesProfile) -> Collection[str]:
    """Return the columns the file must have: of those that say the same, the one it has."""
    there = {normal_heading(cell.text) for row in sheet.rows[:MAX_HEADER_DEPTH] for cell in row}

    def has(name: str) -> bool:
        return any(normal_heading(text) in there for text in profile.columns.get(name, ()))

    goods = next((name for name in ("sku", "title") if name in profile.columns and has(name)), "")
    goods = goods or ("sku" if "sku" in profile.columns else "title")
    total: tuple[str, ...] = ("unit_price", "pieces")
    if "item_total" in profile.columns and (has("item_total") or "unit_price" not in profile.columns):
        total = ("item_total",)
    inside = ("tax",) if profile.tax == "inside" else ()
    off = ("discount",) if profile.discount == "to take off" else ()
    return (*_REQUIRED, goods, *total, *inside, *off)


def _sheets_left(file: SourceFile, sheet: Sheet) -> list[str]:
    others = [each.name for each in file.sheets if each is not sheet]
    return [f"only the sheet {sheet.name} was read, not {', '.join(others)}"] if others else []


def _absent(profile: SalesProfile, header: Header) -> list[str]:
    there = {each.rstrip("0123456789").rstrip("_") for each in header.columns}
    absent = [name.replace("_", " ") for name in profile.columns if name not in there]
    return [f"the file has no column for: {', '.join(absent)}"] if absent else []
