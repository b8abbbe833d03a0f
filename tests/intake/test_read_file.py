"""Choosing how to read a file by what it is."""

from __future__ import annotations

import io
import os
import zipfile
from pathlib import Path

import openpyxl
import pytest

from ledger.errors import InputErrors
from ledger.intake import read_csv
from ledger.intake.read_file import read_file

COMPOUND_FILE = bytes.fromhex("d0cf11e0a1b11ae1") + bytes(600)


def zipped(**parts: bytes) -> bytes:
    """Return a zip archive of the parts, their names without the last dot."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name.replace("__", "/").replace("_", "."), data)
    return buffer.getvalue()


def a_workbook() -> bytes:
    """Return a small workbook's file."""
    buffer = io.BytesIO()
    made = openpyxl.Workbook()
    made.active.append(["sku"])
    made.save(buffer)
    return buffer.getvalue()


@pytest.mark.parametrize("name", ["lines.xlsx", "lines.xlsm", "lines", "lines.download"])
def test_a_workbook_is_read_as_one(tmp_path: Path, name: str) -> None:
    """The content decides, where the name does not contradict it."""
    path = tmp_path / name
    path.write_bytes(a_workbook())
    assert read_file(path).sheets[0].has_addresses


@pytest.mark.parametrize("name", ["lines.csv", "lines.txt", "LINES.CSV", "lines", "lines.dat"])
def test_a_text_is_read_as_csv(tmp_path: Path, name: str) -> None:
    """So it does for text."""
    path = tmp_path / name
    path.write_bytes(b"sku,name\n")
    assert (read_file(path).name, read_file(path).sheets[0].has_addresses) == (name, False)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.xlsx", b"", "the file is empty"),
        ("a.xlsx", b"\n<!DOCTYPE html><html>sign in</html>", "web page"),
        ("a.csv", b"\xef\xbb\xbf<html>", "web page"),
        ("a.xlsx", COMPOUND_FILE, r"old binary kind \(.xls\)"),
        ("a.xls", COMPOUND_FILE, r"old binary kind \(.xls\)"),
        ("a.xlsx", COMPOUND_FILE + "EncryptedPackage".encode("utf-16-le"), "protected with a password"),
        ("a.xlsx", zipped(notes_txt=b"x"), "no workbook in it"),
        ("a.xlsx", zipped(mimetype=b"x", content_xml=b"x"), "OpenDocument"),
        ("a.xlsx", zipped(xl__workbook_bin=b"x"), r"binary workbook \(.xlsb\)"),
        ("a.xlsx", a_workbook()[:2000], "damaged or was cut short"),
        ("a.xlsx", b"sku,name\n", "this is no workbook"),
        ("a.csv", a_workbook(), "rename it to end in .xlsx"),
        ("a.csv", b"%PDF-1.7", "PDF"),
    ],
)
def test_what_is_not_what_its_name_says_is_refused(
    tmp_path: Path, name: str, content: bytes, words: str
) -> None:
    """Each kind is told apart in plain words."""
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(InputErrors, match=words):
        read_file(path)


def test_an_archive_of_a_future_kind_is_refused(tmp_path: Path) -> None:
    """A part that asks for another version of the format cannot be unpacked."""
    content = bytearray(a_workbook())
    content[content.find(b"PK\x01\x02") + 6] = 200
    path = tmp_path / "a.xlsx"
    path.write_bytes(bytes(content))
    with pytest.raises(InputErrors, match="cannot be unpacked"):
        read_file(path)


def test_a_zip_with_a_password_is_refused(tmp_path: Path) -> None:
    """The archive's own encryption counts as protection too."""
    content = bytearray(a_workbook())
    place = content.find(b"PK\x01\x02")
    content[place + 8] |= 1
    path = tmp_path / "a.xlsx"
    path.write_bytes(bytes(content))
    with pytest.raises(InputErrors, match="protected with a password"):
        read_file(path)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    """The path that was looked for is shown."""
    with pytest.raises(InputErrors, match=r"there is no file .*none\.csv"):
        read_file(tmp_path / "none.csv")


def test_a_folder_is_refused(tmp_path: Path) -> None:
    """A folder is no file."""
    with pytest.raises(InputErrors, match="is a folder"):
        read_file(tmp_path)


def test_a_pipe_is_refused_at_once(tmp_path: Path) -> None:
    """Reading from a pipe nobody writes to would wait for ever."""
    os.mkfifo(tmp_path / "pipe.csv")
    with pytest.raises(InputErrors, match="not an ordinary file"):
        read_file(tmp_path / "pipe.csv")


def test_a_name_too_long_for_the_system_is_refused(tmp_path: Path) -> None:
    """What the system refuses comes back in plain words."""
    with pytest.raises(InputErrors, match="cannot be read: File name too long"):
        read_file(tmp_path / ("a" * 300 + ".csv"))


def test_a_file_that_may_not_be_opened_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file of somebody else is reported with the system's reason."""
    path = tmp_path / "a.csv"
    path.write_bytes(b"sku")

    def denied(_path: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", denied)
    with pytest.raises(InputErrors, match="cannot be read: Permission denied"):
        read_file(path)


def test_a_huge_file_is_refused_before_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The size on disk decides."""
    monkeypatch.setattr(read_csv, "MAX_FILE_BYTES", 10)
    path = tmp_path / "a.csv"
    path.write_bytes(b"x" * 11)
    with pytest.raises(InputErrors, match="the limit is"):
        read_file(path)
