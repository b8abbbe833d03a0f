"""The list of lines that are broken to see whether tests notice keeps up with the program."""

from __future__ import annotations

from tools.break_lines import ROOT, guide_row, read_list


def test_every_line_still_stands_in_its_file_once() -> None:
    """Forty lines of the computing rooms; a line that was changed or doubled wants its entry changed too."""
    lines = read_list()
    assert len(lines) == 40
    assert {each.file.split("/")[1] for each in lines} == {"costing", "sourcing"}
    assert all(each.line != each.instead for each in lines)


def test_the_guide_lists_every_line() -> None:
    """In the order of the list: `python -m tests.tools.break_lines --list` prints the rows."""
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert "\n".join(map(guide_row, read_list())) in guide
