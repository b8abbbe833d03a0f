"""A look into a workbook before it is opened: is it safe, and what would a plain reading miss.

A workbook is a zip archive of XML parts. A small one can unpack into gigabytes, and the reading
library builds each row whole in memory, so the archive's list of parts is judged first and every part
that will be read is streamed through once. The same pass notes what the values alone do not tell:
hidden rows and columns, merged cells, formulas without a stored value.
"""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import dataclass
from xml.parsers import expat

from ledger.errors import InputErrors
from ledger.intake.scan_sheet import SAVE_AGAIN, SheetNotes, SheetScanner, damaged, safe_parser, too_much
from ledger.intake.table import refusal

MAX_FILE_BYTES = 50_000_000
MAX_PARTS = 5_000
MAX_UNPACKED_BYTES = 300_000_000
MAX_RATIO = 100
"""Unpacked bytes per packed byte; sheets of ordinary repetitive lines stay below 40."""

RATIO_FROM_BYTES = 5_000_000
"""Below this unpacked size no ratio does harm."""

MAX_TEXTS_BYTES = 60_000_000
MAX_OTHER_PART_BYTES = 8_000_000
"""For every part that is built whole in memory: styles, names, lists."""

MAX_TEXT_ELEMENTS = 3_000_000
MAX_OTHER_ELEMENTS = 200_000

SHARED_STRINGS = "xl/sharedStrings.xml"
_NOT_READ = (
    *("xl/worksheets/", "xl/media/", "xl/pivotCache/", "xl/pivotTables/", "xl/drawings/", "xl/embeddings/"),
    *("xl/charts/", "xl/externalLinks/", "xl/printerSettings/", "xl/comments", "xl/threadedComments/"),
    *("xl/calcChain.xml", "xl/tables/", "xl/queryTables/", "customXml/", "xl/revisions/"),
)
"""Sheets have a scanner of their own; the others are never opened."""

_BUILT_WHOLE = ("sharedStrings+xml", "styles+xml", "theme+xml", "sheet.main+xml")
_WORKBOOK = "xl/workbook.xml"
_CALCULATE = re.compile(rb"<(?:\w+:)?calcPr\b[^>]*\bfullCalcOnLoad=[\"'](?:1|true)[\"']")
_ENCRYPTED_BIT = 0x1


def open_package(name: str, content: bytes) -> zipfile.ZipFile:
    """Return the workbook's archive, once its list of parts has been found safe.

    Raises InputErrors where it is no archive, no workbook, password-protected or too large.
    """
    if len(content) > MAX_FILE_BYTES:
        raise refusal(
            name,
            f"the file has {len(content) / 1e6:.0f} MB; a workbook may have {MAX_FILE_BYTES / 1e6:.0f} MB.",
            "Save only the sheet you need into a new workbook, without pictures, and try again.",
        )
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
    except Exception:  # noqa: BLE001 - a broken archive raises whatever the unpacking code meets
        raise refusal(
            name, "the file is damaged or was cut short: it cannot be unpacked.", "Download or copy it again."
        ) from None
    parts = archive.infolist()
    _check_is_workbook(name, {part.filename for part in parts})
    if any(part.flag_bits & _ENCRYPTED_BIT for part in parts):
        raise password_protected(name)
    unpacked = sum(part.file_size for part in parts)
    if (
        len(parts) > MAX_PARTS
        or unpacked > MAX_UNPACKED_BYTES
        or (unpacked > RATIO_FROM_BYTES and unpacked > MAX_RATIO * len(content))
        or any(part.file_size > _most_bytes(part.filename) for part in parts)
    ):
        raise too_much(
            name, f"{len(parts)} parts and {unpacked / 1e6:.0f} MB from {len(content) / 1e6:.2f} MB"
        )
    return archive


def _most_bytes(part: str) -> int:
    if part.startswith(_NOT_READ) or part.endswith((".bin", ".png", ".jpeg", ".jpg", ".emf")):
        return MAX_UNPACKED_BYTES
    return MAX_TEXTS_BYTES if part == SHARED_STRINGS else MAX_OTHER_PART_BYTES


def password_protected(name: str) -> InputErrors:
    """Return the error for a file that nobody can read without its password."""
    return refusal(
        name,
        "the workbook is protected with a password.",
        "Open it in a spreadsheet program, save it without the password, and try again.",
    )


def inspect_sheet(name: str, archive: zipfile.ZipFile, part: str) -> SheetNotes:
    """Return the notes on one sheet's part.

    Raises InputErrors where its rows would be too much to read, out of order, or not read at all.
    """
    scanner = SheetScanner(name)
    _scan(name, archive, part, scanner.parser)
    scanner.finish()
    return scanner.notes


def sheet_parts(archive: zipfile.ZipFile) -> list[str]:
    """Return the parts that are sheets by their folder."""
    return [
        part
        for part in archive.namelist()
        if part.startswith("xl/worksheets/") and part.endswith(".xml") and "/_rels/" not in part
    ]


def check_parts(name: str, archive: zipfile.ZipFile) -> None:
    """Check the parts, other than sheets, that the reading library builds whole in memory.

    Raises InputErrors where one declares entities, or where there are too many texts or styles.
    """
    declared = _Declared(name)
    _scan(name, archive, "[Content_Types].xml", safe_parser(name, declared.start))
    for part in archive.namelist():
        if part.startswith(_NOT_READ) or not part.endswith((".xml", ".rels")):
            continue
        counter = _Counter(name, MAX_TEXT_ELEMENTS if part == SHARED_STRINGS else MAX_OTHER_ELEMENTS)
        _scan(name, archive, part, safe_parser(name, counter.start))


def macros_remark(archive: zipfile.ZipFile) -> tuple[str, ...]:
    """Return what is said of a workbook with macros in it: nothing ever runs them here."""
    if any(part.endswith("vbaProject.bin") for part in archive.namelist()):
        return ("the workbook holds macros; they were left alone, and only its values were read",)
    return ()


def wants_calculation(archive: zipfile.ZipFile) -> bool:
    """Return whether the workbook asks to be calculated when it is opened: stored values may be stale.

    The reading library takes a workbook that does not say so for one that does.
    """
    if _WORKBOOK not in archive.namelist():
        return False
    return _CALCULATE.search(archive.read(_WORKBOOK)) is not None


@dataclass
class _Declared:
    """Looks through the list of what each part is: nothing to be read may hide where nothing is checked."""

    name: str

    def start(self, _tag: str, attributes: dict[str, str]) -> None:
        part = attributes.get("PartName", "").lstrip("/")
        if part.startswith(_NOT_READ) and attributes.get("ContentType", "").endswith(_BUILT_WHOLE):
            raise damaged(self.name)


@dataclass
class _Counter:
    """Counts a part's elements."""

    name: str
    most: int
    counted: int = 0

    def start(self, _tag: str, _attributes: dict[str, str]) -> None:
        self.counted += 1
        if self.counted > self.most:
            raise too_much(self.name, "too many texts or styles")


def _check_is_workbook(name: str, names: set[str]) -> None:
    if "xl/workbook.bin" in names:
        raise refusal(name, "this is a binary workbook (.xlsb).", SAVE_AGAIN)
    if "content.xml" in names:
        raise refusal(name, "this is an OpenDocument file, not an .xlsx workbook.", SAVE_AGAIN)
    if "[Content_Types].xml" not in names or not any(part.startswith("xl/") for part in names):
        raise refusal(
            name,
            "this is a zip archive, but there is no workbook in it.",
            "If it holds a workbook or a csv file, unpack it and give that file.",
        )


def _scan(name: str, archive: zipfile.ZipFile, part: str, parser: expat.XMLParserType) -> None:
    try:
        with archive.open(part) as source:
            parser.ParseFile(source)
    except InputErrors:
        raise
    except Exception:  # noqa: BLE001 - a broken archive raises whatever the unpacking code meets
        raise damaged(name) from None
