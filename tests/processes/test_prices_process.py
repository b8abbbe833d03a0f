"""The real command compares the sample quotes, as the guide shows it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

from command_line import ROOT, RunnerHere


def test_sample_quotes_are_compared_by_the_real_command(tmp_path: Path) -> None:
    """Loaded, listed, compared; the answer on stdout, messages on stderr, and a refusal with exit code 1."""
    run = RunnerHere(tmp_path, tmp_path / "shop.blankbook", {"BLANKBOOK_TODAY": "2026-04-02"})
    assert (
        run("start", "--name", "Shop", "--currency", "USD", "--first-month", "2026-01", "--yes").returncode
        == 0
    )
    for name in ("items", "suppliers", "quotes", "duties"):
        shutil.copy(ROOT / "samples" / f"{name}.csv", tmp_path)
        done = run(name, "load", f"{name}.csv", "--yes")
        assert done.returncode == 0, done.stderr
    asked = (
        "compare",
        "--prices",
        "PLOVER",
        "--colour",
        "Moss",
        "--quantity",
        "600",
        "--entry",
        "2026-05-20",
    )
    done = run(*asked, "--rate", "CNY=0.1462", "--picture", "plover.png", "--json")
    assert done.returncode == 0, done.stderr
    data = json.loads(done.stdout)
    assert [each["name"] for each in data["contenders"]] == [
        "Nine Sparrows Knitting Mill, knit to order",
        "Tarnwick Blank Goods, Plover",
    ]
    assert (tmp_path / "plover.png").stat().st_size > 10_000
    assert "Wrote plover.png." in done.stderr
    nobody = run("compare", "--prices", "TAPE-HEAT")
    assert (nobody.returncode, "nobody offers TAPE-HEAT" in nobody.stderr, nobody.stdout) == (1, True, "")
