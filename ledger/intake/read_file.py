"""Reading a maker's file by what it is, not by what it is called.

Bounds: whatever the file, it is read or refused within a minute on an ordinary machine and in less than
300 MB of memory (a table of 25 MB in less than 200 MB); ``tests/benchmarks/hostile_files.py`` measures
both. The limits are constants of the readers: MAX_FILE_BYTES and those beside it.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ledger.intake import inspect_xlsx, read_csv, read_text, read_xlsx
from ledger.intake.lost_zeros import lost_zeros
from ledger.intake.table import SourceFile, refusal

WORKBOOK_SUFFIXES = (".xlsx", ".xlsm", ".xltx", ".xltm", ".xls")
TEXT_SUFFIXES = (".csv", ".txt", ".tsv")

STREAM_BYTES = inspect_xlsx.MAX_FILE_BYTES + 1
"""How much is taken from standard input before the limits refuse it."""

_ZIP = (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")
_COMPOUND_FILE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED_PACKAGE = "EncryptedPackage".encode("utf-16-le")
_PAGE_STARTS = (b"<!doctype", b"<html", b"<?xml", b"<table")


def read_file(path: Path) -> SourceFile:
    """Return the sheets of an .xlsx workbook or a csv file, whichever the content is.

    Raises InputErrors, in plain words, where the file is missing, empty, unreadable, protected, too
    large, or not what its name says.
    """
    return read_content(path.name, path.suffix.lower(), file_content(path))


def read_pasted(name: str, content: bytes) -> SourceFile:
    """Return what came through standard input: a table as plain text, or else a workbook.

    Arguments:
        name: what the maker calls it.
        content: at most STREAM_BYTES of it, which is one more than may be read.

    Raises InputErrors as `read_file` does, and where nothing separates the text's columns.
    """
    if not content.strip():
        raise refusal(name, "nothing came in.", "Paste the table with its headings, or give a file's name.")
    if content.startswith((_COMPOUND_FILE, *_ZIP)):
        return read_content(name, "", content)
    _refuse_other_kinds(name, "", content)
    return _with_lost_zeros(read_text.read_text(name, content))


def read_content(name: str, suffix: str, content: bytes) -> SourceFile:
    """Return the sheets of a file that was taken into memory.

    Arguments:
        name: the file's name as the maker knows it.
        suffix: the end of the name, in small letters, which must not contradict the content; "" for none.
        content: the whole file.
    """
    if content.startswith(_COMPOUND_FILE):
        if _ENCRYPTED_PACKAGE in content:
            raise inspect_xlsx.password_protected(name)
        raise refusal(
            name,
            "this is a workbook of the old binary kind (.xls), whatever its name says.",
            "Open it in a spreadsheet program, save it as .xlsx, and try again.",
        )
    if content.startswith(_ZIP):
        if suffix in TEXT_SUFFIXES:
            raise refusal(
                name,
                f"the name ends in {suffix}, but this is a zip archive, such as a workbook is.",
                "If it is a workbook, rename it to end in .xlsx and try again.",
            )
        return _with_lost_zeros(read_xlsx.read_xlsx(name, content))
    _refuse_other_kinds(name, suffix, content)
    return _with_lost_zeros(read_csv.read_csv(name, content))


def _with_lost_zeros(file: SourceFile) -> SourceFile:
    found = tuple(remark for sheet in file.sheets for remark in lost_zeros(sheet))
    return replace(file, remarks=(*file.remarks, *found)) if found else file


def file_content(path: Path) -> bytes:
    """Return a file's bytes, once its kind and its size are known to be fit to be read."""
    name = path.name or str(path)
    try:
        if not path.exists():
            raise refusal(name, f"there is no file {path}.", "Check the name and the folder.")
        if path.is_dir():
            raise refusal(name, f"{path} is a folder.", "Give one file of it.")
        if not path.is_file():
            raise refusal(name, f"{path} is not an ordinary file.", "Save its content into a file first.")
        size = path.stat().st_size
        if size == 0:
            raise refusal(name, "the file is empty.", "Download or save it again.")
        if size > read_csv.MAX_FILE_BYTES:
            limit = read_csv.MAX_FILE_BYTES // 10**6
            raise refusal(name, f"the file has {size / 1e6:.0f} MB; the limit is {limit} MB.", "Split it.")
        return path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "its name is not one the system accepts"
        raise refusal(
            name,
            f"{path} cannot be read: {reason}.",
            "Check that you may open it and that no other program holds it.",
        ) from None


def _refuse_other_kinds(name: str, suffix: str, content: bytes) -> None:
    """Raise InputErrors for what is neither a workbook nor a csv file."""
    start = content[:1024].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith(_PAGE_STARTS):
        raise refusal(
            name,
            "this is a web page or another XML text, not a table, whatever its name says.",
            "If you downloaded it, sign in there and download it again; else save it as .xlsx or csv.",
        )
    if start.startswith(b"%pdf"):
        raise refusal(
            name,
            "this is a PDF document.",
            "Ask for it as .xlsx or csv, or type the lines into the fill-in sheet.",
        )
    if suffix in WORKBOOK_SUFFIXES:
        raise refusal(
            name,
            f"the name ends in {suffix}, but this is no workbook.",
            "If it is a text with commas or semicolons, rename it to end in .csv; else save or download it again.",
        )
