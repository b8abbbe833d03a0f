"""LibreOffice as a writer: it converts files in a profile of its own, without a window."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

PROGRAM = shutil.which("soffice") or shutil.which("libreoffice")
MISSING = "LibreOffice is not installed (apt-get install libreoffice-calc-nogui): its files are not tested"

needs_office = pytest.mark.skipif(PROGRAM is None, reason=MISSING)


def convert(sources: list[Path], kind: str, folder: Path) -> list[Path]:
    """Return the sources converted by LibreOffice, in a new folder, under their own names.

    ``kind`` is the new ending, with a filter and its options after colons where one is needed.
    """
    assert PROGRAM is not None, MISSING
    folder.mkdir(parents=True)
    profile = folder / "profile"
    subprocess.run(
        [
            PROGRAM,
            f"-env:UserInstallation={profile.as_uri()}",
            *("--headless", "--norestore", "--convert-to", kind, "--outdir", str(folder)),
            *map(str, sources),
        ],
        check=True,
        capture_output=True,
        timeout=120,
        env={**os.environ, "LC_ALL": "C.UTF-8"},
    )
    shutil.rmtree(profile, ignore_errors=True)
    ending = kind.split(":", maxsplit=1)[0]
    made = [folder / f"{source.stem}.{ending}" for source in sources]
    missing = [path.name for path in made if not path.exists()]
    assert not missing, f"LibreOffice did not write {', '.join(missing)}"
    return made
