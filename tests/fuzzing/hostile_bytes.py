"""Files made to hurt: workbooks changed in their bytes, their zip archive and their parts, and texts in any encoding."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Sequence
from functools import cache
from random import Random

import openpyxl
from hostile_words import DATES, FORMULAS, KNOWN, NUMBERS, ODD, changed, column, piece

ENCODINGS = (
    "utf-8",
    "utf-8-sig",
    "utf-16",
    "utf-16-le",
    "utf-16-be",
    "cp1252",
    "latin-1",
    "utf-32",
    "cp037",
    "utf-7",
)

_TAG = re.compile(rb"<[^<>]{1,400}>")
_VALUE = re.compile(rb'(?<=")[^"<>]{0,60}(?=")')
_INNER = re.compile(rb"(?<=>)[^<>]{1,80}(?=<)")
_VALUES = (
    b"", b"0", b"-1", b"1", b"XFD1048576", b"XFE1", b"A0", b"A1048577", b"ZZZZZZ99999999999", b"A1:XFD1048576", b"s", b"str",
    b"b", b"e", b"d", b"n", b"inlineStr", b"99999999999999999999", b"1e308", b"1E9999", b"NaN", b"-", b"true", b"rId99",
    b"../../etc/hostname", b"/xl/worksheets/sheet1.xml", b"http://x.invalid/a.xml", b"External", b"hidden", b"&#0;", b"&#x1b;",
    b"&a;", b"A1:B2 C3:D4", b"_x0000_", b"2958466", b"-657435", b"0.1", b"60",
)  # fmt: skip
_PIECES = (
    b"<!DOCTYPE x [<!ENTITY a 'ha'>]>", b"<c r='A1' t='s'><v>9999</v></c>", b"<row r='1'/>", b"<row r='0'><c/></row>",
    b"<c><f>1+1</f></c>", b"<c r='B2' t='inlineStr'><is><t>=1+1</t></is></c>", b"<mergeCell ref='A1:XFD9'/>", b"</row>", b"<v>",
    b"<c t='e'><v>#REF!</v></c>", b"<c t='d'><v>2026-99-99</v></c>", b"<c t='b'><v>7</v></c>", b"<![CDATA[<x>]]>", b"<!--", b"\xff",
    b"<?xml version='1.1' encoding='utf-7'?>", b"<c s='4294967296'><v>1</v></c>", b"<si><t>\xe2\x80\xae</t></si>", b"<x:y/>",
    b"<sheet name='../x' sheetId='1' r:id='rId1'/>", b"<numFmt numFmtId='164' formatCode='[h]:mm\"'/>", b"<f t='shared' si='0'/>",
)  # fmt: skip


def packed(parts: Sequence[tuple[str, bytes]]) -> bytes:
    """Return a zip archive of these parts, doubled names and all."""
    made = io.BytesIO()
    with (
        warnings.catch_warnings(),
        zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
    ):
        warnings.simplefilter("ignore")
        for name, content in parts:
            archive.writestr(zipfile.ZipInfo(name, (2026, 1, 1, 0, 0, 0)), content)
    return made.getvalue()


@cache
def parts_of(workbook: bytes) -> tuple[tuple[str, bytes], ...]:
    """Return the parts of a sound workbook."""
    with zipfile.ZipFile(io.BytesIO(workbook)) as archive:
        return tuple((name, archive.read(name)) for name in archive.namelist())


def hostile_workbook(random: Random, samples: Sequence[bytes]) -> bytes:
    """Return a workbook changed in its bytes, in its archive, or in one or two of its parts."""
    sample = random.choice(samples)
    doing = random.randrange(10)
    if doing == 0:
        return _bytes_changed(random, sample)
    parts = list(parts_of(sample))
    if doing <= 2:
        return _archive_changed(random, parts)
    for _ in range(random.choice((1, 1, 2))):
        sheets = [
            place
            for place, (name, _) in enumerate(parts)
            if re.search(r"sheet\d|shared|styles|workbook", name)
        ]
        place = random.choice(sheets)
        parts[place] = (parts[place][0], _xml_changed(random, parts[place][1]))
    return packed(parts)


def _bytes_changed(random: Random, content: bytes) -> bytes:
    made = bytearray(content)
    for _ in range(random.choice((1, 2, 4, 8))):
        place = random.randrange(len(made))
        made[place] = random.randrange(256)
    if not random.randrange(3):
        return bytes(made[: random.randrange(len(made))])
    return bytes(made)


def _archive_changed(random: Random, parts: list[tuple[str, bytes]]) -> bytes:
    place = random.randrange(len(parts))
    name, content = parts[place]
    doing = random.randrange(7)
    if doing == 0:
        del parts[place]
    elif doing == 1:
        parts[place] = (
            random.choice(("../up.xml", "/up.xml", "..\\up.xml", name.upper(), "x" * 200)),
            content,
        )
    elif doing == 2:
        parts.append((name, random.choice(parts)[1]))
    elif doing == 3:
        parts[place] = (name, random.choice((b"", b"\0" * 5_000, b"<" * 999, b"PK\3\4", b"<a>" * 30_000)))
    elif doing == 4:
        parts.append(
            (random.choice(("xl/vbaProject.bin", "xl/externalLinks/externalLink1.xml", "../../up.txt")), b"x")
        )
    elif doing == 5:
        made = bytearray(packed(parts))
        start = made.rfind(b"PK\1\2")
        for _ in range(6):
            made[start + random.randrange(46)] = random.choice((0, 1, 8, 9, 99, 255))
        return bytes(made)
    else:
        other = random.randrange(len(parts))
        parts[place], parts[other] = (name, parts[other][1]), (parts[other][0], content)
    return packed(parts)


def _xml_changed(random: Random, content: bytes) -> bytes:
    for _ in range(random.choice((1, 1, 2, 4))):
        doing = random.randrange(6)
        found = list((_TAG, _TAG, _VALUE, _VALUE, _INNER, _INNER)[doing].finditer(content))
        if not found:
            continue
        match = random.choice(found)
        if doing == 0:
            new = b""
        elif doing == 1:
            new = match.group() + random.choice(_PIECES)
        elif doing in {2, 3}:
            new = random.choice(_VALUES)
        else:
            words = random.choice((piece(random), random.choice(NUMBERS), random.choice(FORMULAS)))
            new = words.encode("utf-8", "replace").replace(b"&", b"&amp;").replace(b"<", b"&lt;")
        content = content[: match.start()] + new + content[match.end() :]
    return content


def hostile_table(random: Random, headings: Sequence[str], samples: Sequence[str]) -> bytes:
    """Return a text of rows under headings, or a sample that was changed, in some encoding."""
    if samples and random.randrange(2):
        made = changed(random, random.choice(samples))
    else:
        made = _rows(random, headings)
    encoding = "utf-8" if random.randrange(3) else random.choice(ENCODINGS)
    content = made.encode(encoding, "replace")
    doing = random.randrange(20)
    if doing == 0 and content:
        return _bytes_changed(random, content)
    if doing == 1:
        return content + b"x" * random.choice((100_000, 1_100_000))
    if doing == 2:
        return (
            random.choice(
                (b"\xff\xfe", b"\xfe\xff", b"\xef\xbb\xbf", b"\0", b"%PDF", b"<html>", b"\xd0\xcf\x11\xe0")
            )
            + content
        )
    return content


def _rows(random: Random, headings: Sequence[str]) -> str:
    separator = random.choice((",", ",", ",", ";", "\t", "|", "   "))
    width = random.randrange(1, min(len(headings), 12) + 1)
    chosen = (
        [column(random, headings) for _ in range(width)] if random.randrange(2) else list(headings)[:width]
    )
    lines = [separator.join(chosen)]
    rows = random.randrange(1, 7)
    widths = (width, width, width + 1)
    lines.extend(
        separator.join(_cell(random, separator) for _ in range(random.choice(widths))) for _ in range(rows)
    )
    return random.choice(("\n", "\n", "\r\n", "\r")).join(lines) + random.choice(("", "\n"))


def _cell(random: Random, separator: str) -> str:
    made = random.choice(
        random.choice((KNOWN, KNOWN, NUMBERS, DATES, ODD, FORMULAS, ("", "1", "TEE-SAND-M")))
    )
    if separator in made or "\n" in made:
        return '"' + made.replace('"', '""') + '"'
    return made


@cache
def made_workbook() -> bytes:
    """Return a workbook with dates, errors, merged cells, a hidden row and texts in every style."""
    made = openpyxl.Workbook()
    sheet = made.active
    assert sheet is not None
    sheet.title = "Invoice"
    for row in (
        ["Invoice no.", "R-77", None, "Date", "2026-02-03"],
        [],
        ["Style", "Colour", "Size", "Qty", "Unit price", "Amount"],
        ["Alder", "Sand", "M", 12, 3.10, 37.20],
        ["Alder", "Plum", "L", 24, "3.10", 74.40],
        ["Alder", "Sand", "S", True, "#N/A", -1],
        [None, None, None, None, "Total", 111.60],
    ):
        sheet.append(row)
    sheet.merge_cells("A4:A6")
    sheet.row_dimensions[6].hidden = True
    sheet["D4"].number_format = "0.00"
    made.create_sheet("Other").append(["sku", "quantity", "counted"])
    content = io.BytesIO()
    made.save(content)
    return content.getvalue()
