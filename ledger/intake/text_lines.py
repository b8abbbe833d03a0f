"""The lines of a text file, whatever its encoding, in little memory however long a line is."""

from __future__ import annotations

import codecs
import io
from collections.abc import Iterator
from dataclasses import dataclass

from ledger.errors import InputErrors
from ledger.intake.table import refusal

MAX_LINE_CHARACTERS = 1_000_000
MAX_LINES = 2_000_000
"""A million blank lines are passed over; a text of nothing else without end is refused."""

SAMPLE_CHARACTERS = 65_536

_CHUNK_BYTES = 1_000_000
_UTF16_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_LOOKED_AT = 4096
_FEW_OF = 50
_MOSTLY_NUL = 0.6
"""The least share of NULs among every other byte by which UTF-16 is known: what is not ASCII has none."""
_CHECK_IT = "Check that it is the right file."


@dataclass(frozen=True)
class TextLines:
    """A text that was found to be one: its lines are decoded while they are read."""

    name: str
    content: bytes
    encoding: str

    @property
    def remarks(self) -> tuple[str, ...]:
        """What the maker should know of the encoding."""
        if self.encoding != "cp1252":
            return ()
        return ("the file is not UTF-8; it was read as Windows-1252: check letters with accents",)

    def sample(self) -> str:
        """Return the text's beginning."""
        return self._stream().read(SAMPLE_CHARACTERS)

    def __iter__(self) -> Iterator[str]:
        """Yield each line with its end.

        Raises InputErrors at a line without end, at too many lines, and at a NUL.
        """
        stream = self._stream()
        has_nul = self.encoding.startswith("utf-16")
        for number in range(1, MAX_LINES + 2):
            line = stream.readline(MAX_LINE_CHARACTERS + 1)
            if not line:
                return
            if len(line) > MAX_LINE_CHARACTERS:
                what = f"line {number} has more than {MAX_LINE_CHARACTERS} characters: this is no table."
                raise refusal(self.name, what, _CHECK_IT)
            if has_nul and "\0" in line:
                raise _no_text(self.name)
            yield line
        raise refusal(self.name, f"the file has more than {MAX_LINES} lines.", _CHECK_IT)

    def _stream(self) -> io.TextIOWrapper:
        # A wrapper decodes as it goes; the whole text in memory would be up to four bytes a character.
        return io.TextIOWrapper(io.BytesIO(self.content), encoding=self.encoding, newline="")


def open_text(name: str, content: bytes) -> TextLines:
    """Return a text's lines: UTF-8, UTF-16, or else Windows-1252.

    UTF-16 is known by its byte order mark, or by the NUL beside every letter of it.

    Raises InputErrors where the content is no text.
    """
    encodings: tuple[str, ...] = ("utf-8-sig", "cp1252")
    if content.startswith(_UTF16_MARKS):
        encodings = ("utf-16",)
    elif b"\0" in content:
        encodings = _unmarked_utf16(content)
    for encoding in encodings:
        if _decodes(content, encoding):
            return TextLines(name, content, encoding)
    raise _no_text(name)


def _unmarked_utf16(content: bytes) -> tuple[str, ...]:
    """Return the order of bytes of a UTF-16 text without its mark, nothing where it is none."""
    start = content[:_LOOKED_AT]
    first, second = start[::2].count(0), start[1::2].count(0)
    half = len(start) / 2
    if len(content) % 2 == 0 and first * _FEW_OF <= second and second >= half * _MOSTLY_NUL:
        return ("utf-16-le",)
    if len(content) % 2 == 0 and second * _FEW_OF <= first and first >= half * _MOSTLY_NUL:
        return ("utf-16-be",)
    return ()


def _decodes(content: bytes, encoding: str) -> bool:
    decoder = codecs.getincrementaldecoder(encoding)()
    view = memoryview(content)
    try:
        for start in range(0, len(content), _CHUNK_BYTES):
            decoder.decode(view[start : start + _CHUNK_BYTES])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def _no_text(name: str) -> InputErrors:
    return refusal(
        name,
        "this is not a text file, or its encoding is unknown.",
        "Open it in a spreadsheet program and save it as csv in UTF-8.",
    )
