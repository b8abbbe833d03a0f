"""Files are written whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.errors import UsageError
from ledger.views.whole_file import write_whole


def test_a_new_file_is_written(tmp_path: Path) -> None:
    """With its content, and without a draft beside it."""
    write_whole(tmp_path / "a.bin", b"all of it")
    assert [path.name for path in tmp_path.iterdir()] == ["a.bin"]
    assert (tmp_path / "a.bin").read_bytes() == b"all of it"


def test_a_file_that_is_there_is_never_written_over(tmp_path: Path) -> None:
    """Unless it is told."""
    path = tmp_path / "a.bin"
    path.write_bytes(b"mine")
    with pytest.raises(UsageError, match="is there already"):
        write_whole(path, b"other")
    assert path.read_bytes() == b"mine"


def test_replacing_leaves_one_whole_file(tmp_path: Path) -> None:
    """The old content goes when it is told to."""
    path = tmp_path / "a.bin"
    path.write_bytes(b"mine")
    write_whole(path, b"other", replace=True)
    assert path.read_bytes() == b"other"


def test_a_file_that_came_meanwhile_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody who writes the name between the question and the naming keeps their file."""
    path = tmp_path / "a.bin"
    monkeypatch.setattr("ledger.views.whole_file.refuse_existing", lambda *_args, **_named: None)
    path.write_bytes(b"theirs")
    with pytest.raises(UsageError, match="is there already"):
        write_whole(path, b"other")
    assert path.read_bytes() == b"theirs"
    assert [each.name for each in tmp_path.iterdir()] == ["a.bin"]


def test_a_failed_write_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk is told in words, and no half file stays."""

    def full(_number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("ledger.views.whole_file.os.fsync", full)
    with pytest.raises(UsageError, match="No space left"):
        write_whole(tmp_path / "a.bin", b"all of it")
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    """It says which, and what to do."""
    with pytest.raises(UsageError, match="does not exist"):
        write_whole(tmp_path / "no" / "a.bin", b"")


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    """Naming a folder asks for a file in it."""
    with pytest.raises(UsageError, match="is a folder"):
        write_whole(tmp_path, b"")
