"""Files made to hurt: each maker writes one, small or large, as its attacker or its accident would."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import openpyxl

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET = "xl/worksheets/sheet1.xml"
TEXTS = "xl/sharedStrings.xml"
LAUGHS = (
    '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">'
    '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;"><!ENTITY d "&c;&c;&c;&c;&c;&c;&c;&c;&c;&c;">]>'
)
OUTSIDE = '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]>'
COMPOUND = bytes.fromhex("d0cf11e0a1b11ae1") + bytes(600)


@dataclass(frozen=True, slots=True)
class Hostile:
    """One case: its name as the table and the tests show it, its file's name, its maker, what is said.

    ``refusal`` is a part of the message; empty where the file is read all the same. ``factor`` scales
    the size: the makers are called with it.
    """

    name: str
    file: str
    make: Callable[[Path, float], None]
    refusal: str


def a_workbook() -> bytes:
    """Return a small workbook's file with one row."""
    made = openpyxl.Workbook()
    made.active.append(["sku", "quantity"])
    buffer = io.BytesIO()
    made.save(buffer)
    return buffer.getvalue()


def packed(path: Path, changes: dict[str, bytes | Iterable[bytes]]) -> None:
    """Write a small workbook with parts changed or added; a part may come in pieces."""
    with (
        zipfile.ZipFile(io.BytesIO(a_workbook())) as old,
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as new,
    ):
        for name in [*old.namelist(), *(name for name in changes if name not in old.namelist())]:
            content = changes.get(name, old.read(name) if name in old.namelist() else b"")
            with new.open(name, "w", force_zip64=True) as part:
                for piece in [content] if isinstance(content, bytes) else content:
                    part.write(piece)


def sheet(rows: Iterable[bytes], prologue: str = "", after: bytes = b"") -> Iterable[bytes]:
    """Yield a sheet's part around raw rows, gathered to pieces worth packing."""
    yield f'<?xml version="1.0"?>{prologue}<worksheet xmlns="{MAIN}"><sheetData>'.encode()
    pieces: list[bytes] = []
    for row in rows:
        pieces.append(row)
        if len(pieces) >= 1000:
            yield b"".join(pieces)
            pieces.clear()
    yield b"".join(pieces)
    yield b"</sheetData>" + after + b"</worksheet>"


def texts(prologue: str, items: Iterable[bytes]) -> Iterable[bytes]:
    """Yield the part with the workbook's texts."""
    yield f'<?xml version="1.0"?>{prologue}<sst xmlns="{MAIN}">'.encode()
    yield from items
    yield b"</sst>"


def _entities(prologue: str, part: str) -> Callable[[Path, float], None]:
    def make(path: Path, _factor: float) -> None:
        if part == SHEET:
            row = b'<row r="1"><c r="A1" t="inlineStr"><is><t>&a;</t></is></c></row>'
            packed(path, {part: sheet([row], prologue)})
        elif part == TEXTS:
            packed(path, {part: texts(prologue, [b"<si><t>&a;</t></si>"])})
        else:
            packed(path, {part: f'<?xml version="1.0"?>{prologue}<styleSheet xmlns="{MAIN}"/>'.encode()})

    return make


def _rows(row: Callable[[int], bytes], count: int, after: bytes = b"") -> Callable[[Path, float], None]:
    def make(path: Path, factor: float) -> None:
        numbers = range(1, max(2, int(count * factor)) + 1)
        packed(path, {SHEET: sheet((row(number) for number in numbers), after=after)})

    return make


def _content(content: bytes) -> Callable[[Path, float], None]:
    def make(path: Path, _factor: float) -> None:
        path.write_bytes(content)

    return make


def _repeated(start: bytes, piece: bytes, times: int) -> Callable[[Path, float], None]:
    def make(path: Path, factor: float) -> None:
        left = int(times * factor)
        with path.open("wb") as file:
            file.write(start)
            while left > 0:
                file.write(piece * min(left, 100_000))
                left -= 100_000

    return make


def _bomb(path: Path, factor: float) -> None:
    megabytes = max(20, int(1000 * factor))
    packed(path, {SHEET: (bytes(1_000_000) for _ in range(megabytes))})


def _many_parts(path: Path, _factor: float) -> None:
    packed(path, {f"xl/media/{number}.png": b"" for number in range(6000)})


def _macros(path: Path, _factor: float) -> None:
    packed(path, {"xl/vbaProject.bin": COMPOUND})


def _hidden_texts(path: Path, _factor: float) -> None:
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"
    entry = f'<Override PartName="/xl/media/t.xml" ContentType="{kind}"/></Types>'.encode()
    with zipfile.ZipFile(io.BytesIO(a_workbook())) as old:
        types = old.read("[Content_Types].xml").replace(b"</Types>", entry)
    packed(path, {"[Content_Types].xml": types, "xl/media/t.xml": b"".join(texts(LAUGHS, [b"<si/>"]))})


def _many_texts(path: Path, factor: float) -> None:
    items = (b"<si><t>%08d</t></si>" % number for number in range(int(2_500_000 * factor)))
    packed(path, {TEXTS: texts("", items)})


def _long_row(path: Path, factor: float) -> None:
    cell = b'<c t="inlineStr"><is><t>' + b"x" * 30_000 + b"</t></is></c>"
    packed(path, {SHEET: sheet([b"<row>", *([cell] * int(5_000 * factor)), b"</row>"])})


def _large_styles(path: Path, factor: float) -> None:
    fonts = b'<font><sz val="11"/></font>' * int(400_000 * factor)
    start = f'<?xml version="1.0"?><styleSheet xmlns="{MAIN}"><fonts>'.encode()
    packed(path, {"xl/styles.xml": start + fonts + b"</fonts></styleSheet>"})


def _merged(path: Path, factor: float) -> None:
    areas = b"".join(
        b'<mergeCell ref="A%d:A%d"/>' % (row, row + 1) for row in range(1, int(400_000 * factor), 2)
    )
    after = b"<mergeCells>" + areas + b"</mergeCells>"
    packed(path, {SHEET: sheet([b'<row r="1"><c r="A1"><v>1</v></c></row>'], after=after)})


def _large_csv(path: Path, factor: float) -> None:
    _repeated(
        b"sku,name,colour,size,quantity,price\n",
        b"TEE-180-HNV-M,Heavy tee,Heather Navy,M,24,4.10,a remark of some length that makes the line longer than most lines are,2026-03-14,white\n",
        195_000,
    )(path, factor)


def _full_row(number: int) -> bytes:
    cells = b"".join(
        b'<c r="%c%d"><v>%d</v></c>' % (65 + column, number, number * 31 + column) for column in range(20)
    )
    return b'<row r="%d">' % number + cells + b"</row>"


def _styled(number: int) -> bytes:
    return b'<row r="%d"><c r="XFD%d" s="0"/></row>' % (number, number)


def _wide(number: int) -> bytes:
    return b'<row r="%d"><c r="A%d"><v>1</v></c><c r="XFD%d" s="0"/></row>' % (number, number, number)


def _blank_cells(number: int) -> bytes:
    return b'<row r="%d">' % number + b"<c/>" * 30 + b"</row>"


CASES = (
    Hostile("entities that multiply, in a sheet", "a.xlsx", _entities(LAUGHS, SHEET), "declares entities"),
    Hostile("entities that multiply, in the texts", "a.xlsx", _entities(LAUGHS, TEXTS), "declares entities"),
    Hostile("an entity from outside, in a sheet", "a.xlsx", _entities(OUTSIDE, SHEET), "declares entities"),
    Hostile(
        "an entity from outside, in the styles",
        "a.xlsx",
        _entities(OUTSIDE, "xl/styles.xml"),
        "declares entities",
    ),
    Hostile("texts hidden among the pictures", "a.xlsx", _hidden_texts, "damaged"),
    Hostile("a gigabyte of nothing in 1 MB", "a.xlsx", _bomb, "unpacks into far more"),
    Hostile("6,000 parts", "a.xlsx", _many_parts, "unpacks into far more"),
    Hostile("2,500,000 texts", "a.xlsx", _many_texts, "unpacks into far more"),
    Hostile("a row of 150 MB", "a.xlsx", _long_row, "unpacks into far more"),
    Hostile("400,000 styles", "a.xlsx", _large_styles, "unpacks into far more"),
    Hostile("200,000 merged areas", "a.xlsx", _merged, "unpacks into far more"),
    Hostile("a workbook cut short", "a.xlsx", _content(a_workbook()[:-200]), "cut short"),
    Hostile("a web page as .xlsx", "a.xlsx", _content(b"<!DOCTYPE html><html>Sign in</html>"), "web page"),
    Hostile("an old binary workbook as .xlsx", "a.xlsx", _content(COMPOUND), "old binary kind"),
    Hostile(
        "a workbook with a password",
        "a.xlsx",
        _content(COMPOUND + "EncryptedPackage".encode("utf-16-le")),
        "password",
    ),
    Hostile("a workbook with macros", "a.xlsm", _macros, ""),
    Hostile(
        "a million blank rows in a workbook", "a.xlsx", _rows(lambda n: b'<row r="%d"/>' % n, 1_000_000), ""
    ),
    Hostile("a million rows with a format only", "a.xlsx", _rows(_styled, 1_000_000), ""),
    Hostile("200,000 rows with a format in the last column", "a.xlsx", _rows(_wide, 200_000), ""),
    Hostile(
        "6,000,000 blank cells with a format", "a.xlsx", _rows(_blank_cells, 200_000), "unpacks into far more"
    ),
    Hostile(
        "a million hidden rows", "a.xlsx", _rows(lambda n: b'<row r="%d" hidden="1"/>' % n, 1_000_000), ""
    ),
    Hostile("NUL bytes in a csv", "a.csv", _content(b"sku,quantity\nA,\x001\n"), "not a text file"),
    Hostile("a csv line of 200 MB", "a.csv", _repeated(b"a,b\n", b"xxxxxxx,", 25_000_000), "the limit is"),
    Hostile("a csv line of 96 MB", "a.csv", _repeated(b"a,b\n", b"xxxxxxx,", 12_000_000), "characters"),
    Hostile("a million blank csv rows", "a.csv", _repeated(b"a,b\n", b"\n", 1_000_000), ""),
    Hostile("90 million blank csv rows", "a.csv", _repeated(b"a,b\n", b"\n", 90_000_000), "lines"),
    Hostile(
        "a quotation mark never closed",
        "a.csv",
        _repeated(b'a,b\n"', b"some more text\n", 2_000_000),
        "quotation mark",
    ),
    Hostile(
        "a csv of too many cells",
        "a.csv",
        _repeated(b"a,b\n", b"1,2,3,4,5,6,7,8,9,0,1,2,3,4,5,6,7,8,9,0,1,2,3,4,5,6,7,8,9,0\n", 190_000),
        "cells",
    ),
)
"""What must be refused, or read, in bounded time and memory."""

LARGE = (
    Hostile("a sound csv of 25 MB", "large.csv", _large_csv, ""),
    Hostile("a sound workbook of 1,900,000 cells", "large.xlsx", _rows(_full_row, 95_000), ""),
)
"""What is sound and as large as anything may be."""
