"""Reading a sales export by its profile: sales, refunds and goods that came back, with every problem at once."""

from __future__ import annotations

from collections.abc import Collection

from ledger.errors import InputErrors, Problem
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.records import MAX_HEADER_DEPTH, Header, find_header, normal_heading, records
from ledger.intake.sales import SalesDraft
from ledger.intake.sales_profile import SALES_COLUMNS, SalesProfile
from ledger.intake.sales_rows import SalesOptions, SalesRows
from ledger.intake.table import Sheet, SourceFile, refusal

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
    sheet = _choose_sheet(file, profile)
    header = find_header(
        sheet,
        {name: profile.columns.get(name, ()) for name in SALES_COLUMNS if name in profile.columns},
        _required(sheet, profile),
        header_row=profile.header_row,
        by_name=False,
    )
    party = chosen.party or profile.party
    if not party and "party" not in header.columns:
        what = "nothing says through whom these sales were made."
        raise InputErrors(file.name, [Problem("", what, "Give it with --party, or as party in the profile.")])
    reading = SalesRows(sheet, profile, chosen, party)
    reading.read(records(sheet, header), header)
    if reading.problems:
        raise InputErrors(file.name, reading.problems)
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
    absent = [name.replace("_", " ") for name in profile.columns if name not in header.columns]
    return [f"the file has no column for: {', '.join(absent)}"] if absent else []
