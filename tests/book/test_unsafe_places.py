"""Where a book lies: network drives, folders kept alike elsewhere and conflict copies are told, nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.book.unsafe_places import place_warnings


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """A file that stands for a book, in a folder of no meaning."""
    folder = tmp_path / "shop books"
    folder.mkdir()
    path = folder / "shop.blankbook"
    path.touch()
    return path


def mounts(tmp_path: Path, *rows: str) -> Path:
    """Write a list of mounts as the system does."""
    path = tmp_path / "mounts"
    path.write_text("\n".join(["/dev/sda1 / ext4 rw 0 0", *rows, ""]), encoding="utf-8")
    return path


def escaped(folder: Path) -> str:
    """A folder's path as the list of mounts has it."""
    return str(folder).replace(" ", r"\040")


@pytest.mark.parametrize("kind", ["nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "fuse.something"])
def test_a_network_drive_is_told(book: Path, tmp_path: Path, kind: str) -> None:
    """The type of the file system stands in the warning, with what to do instead."""
    listed = mounts(tmp_path, f"server:/books {escaped(book.parent)} {kind} rw 0 0")
    (told,) = place_warnings(book, listed)
    assert f"({kind})" in told
    assert "blankbook backup" in told


@pytest.mark.parametrize("kind", ["ext4", "btrfs", "xfs", "tmpfs", "overlay", "fuseblk", "exfat", "apfs"])
def test_a_disk_of_this_computer_is_not(book: Path, tmp_path: Path, kind: str) -> None:
    """A stick or a second disk is as good as the first."""
    assert place_warnings(book, mounts(tmp_path, f"x {escaped(book.parent)} {kind} rw 0 0")) == []


def test_the_nearest_mount_counts(book: Path, tmp_path: Path) -> None:
    """A disk of this computer below a network drive is a disk of this computer."""
    rows = (f"x {escaped(book.parents[1])} nfs rw 0 0", f"y {escaped(book.parent)} ext4 rw 0 0")
    assert place_warnings(book, mounts(tmp_path, *rows)) == []
    assert len(place_warnings(book, mounts(tmp_path, rows[0]))) == 1


def test_what_everything_lies_on_is_not_told(book: Path, tmp_path: Path) -> None:
    """A computer without a disk of its own has no better place to offer."""
    listed = tmp_path / "mounts"
    listed.write_text("root / 9p rw 0 0\n", encoding="utf-8")
    assert place_warnings(book, listed) == []


def test_a_system_without_a_list_is_not_asked(book: Path, tmp_path: Path) -> None:
    """Where there is no such list, only names count; a list of nonsense does no harm."""
    assert place_warnings(book, tmp_path / "none") == []
    nonsense = tmp_path / "mounts"
    nonsense.write_bytes(b"\xff\xfe\n\n a\n")
    assert place_warnings(book, nonsense) == []


@pytest.mark.parametrize("name", ["Cloud", "My cloud", "sync", "team-sync", "Synced Files", "OurCloud"])
def test_a_folder_kept_alike_elsewhere_is_told(tmp_path: Path, name: str) -> None:
    """Folders say it in their names, at any height."""
    folder = tmp_path / name / "shop"
    folder.mkdir(parents=True)
    (told,) = place_warnings(folder / "shop.blankbook", tmp_path / "none")
    assert f"'{name}'" in told


@pytest.mark.parametrize(
    "name", ["async", "cloudberry", "Documents", "syncopated tees", "in sync.txt folder?"]
)
def test_words_that_only_look_alike_are_not(tmp_path: Path, name: str) -> None:
    """Whole words count, and a folder of shirts with clouds on them is a false alarm one can live with."""
    folder = tmp_path / name
    folder.mkdir()
    told = place_warnings(folder / "shop.blankbook", tmp_path / "none")
    assert (told != []) == (name == "in sync.txt folder?")


@pytest.mark.parametrize(
    "name",
    ["shop (conflicted copy 2026-03-02).blankbook", "shop.conflict-1.blankbook", "shop Konflikt.blankbook"],
)
def test_a_conflict_copy_is_told(book: Path, tmp_path: Path, name: str) -> None:
    """A copy that says conflict beside the book may hold what the book lacks."""
    (book.parent / name).touch()
    (told,) = place_warnings(book, tmp_path / "none")
    assert name in told


def test_other_files_beside_the_book_are_not_told(book: Path, tmp_path: Path) -> None:
    """Backups, other books and conflicts of other files are nobody's business here."""
    for name in ("shop.before-restore.blankbook", "other.blankbook", "notes conflict.txt", "shop.csv"):
        (book.parent / name).touch()
    assert place_warnings(book, tmp_path / "none") == []


def test_several_conflict_copies_are_one_warning(book: Path, tmp_path: Path) -> None:
    """The first is named, the rest counted."""
    for number in range(3):
        (book.parent / f"shop conflict {number}.blankbook").touch()
    (told,) = place_warnings(book, tmp_path / "none")
    assert "'shop conflict 0.blankbook' and 2 more" in told


def test_a_linked_book_is_where_it_leads(book: Path, tmp_path: Path) -> None:
    """A link in a folder of no meaning to a book in one with a meaning."""
    folder = tmp_path / "cloud"
    folder.mkdir()
    real = book.rename(folder / "real.blankbook")
    book.symlink_to(real)
    assert len(place_warnings(book, tmp_path / "none")) == 1
