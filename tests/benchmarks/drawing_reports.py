"""Timings of the page of a decision: `python -m tests.benchmarks.drawing_reports`.

The yardstick is drawing its plots alone, from chart data that is ready; nothing is asserted.
"""

from __future__ import annotations

import datetime
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

HERE = Path(__file__).resolve().parent
for place in (HERE, HERE.parents[1]):
    # Run as a file or as a module, from a checkout that need not be installed.
    if str(place) not in sys.path:
        sys.path.insert(0, str(place))

from measuring import Row, side_by_side, table  # noqa: E402

from ledger.intake.study_file import read_content, study_from  # noqa: E402
from ledger.intake.study_sources import sources_of_file  # noqa: E402
from ledger.sourcing.charts import charts_of  # noqa: E402
from ledger.sourcing.decide import decide  # noqa: E402
from ledger.views.decision_pictures import decision_pictures  # noqa: E402
from ledger.views.decision_report import write_decision_report  # noqa: E402
from ledger.views.pictures import drawn, svg_text  # noqa: E402

STUDY = HERE.parents[1] / "samples" / "wren-study.toml"
TODAY = datetime.date(2026, 3, 31)


def rows(futures: int, rounds: int) -> Iterator[Row]:
    """Yield the page with and without the decision it is about, against its plots alone."""
    content = read_content(STUDY)
    study = study_from(content, STUDY.name, TODAY)
    sources = sources_of_file(STUDY.name, content, study)
    decision = decide(study, futures, 1)
    pictures = decision_pictures(decision, charts_of(decision))

    def plots() -> None:
        for each in pictures:
            svg_text(drawn(each.draw, each.height_inches), each.title, each.shows)

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "page.html"

        def page() -> None:
            path.unlink(missing_ok=True)
            write_decision_report(decision, sources, path)

        def whole() -> None:
            path.unlink(missing_ok=True)
            write_decision_report(decide(study, futures, 1), sources, path)

        # The first drawing loads fonts and code that all later ones share.
        plots()
        seconds = side_by_side(
            {"page": page, "whole": whole, "yardstick": plots}, rounds, clock=time.process_time
        )
    against = "its plots alone"
    yield Row(
        f"page of a decision, {futures} futures", seconds["page"], seconds["yardstick"], "s", against, 2
    )
    yield Row(
        f"decision and page, {futures} futures", seconds["whole"], seconds["yardstick"], "s", against, 2
    )


def main(futures: int = 2_000, rounds: int = 5) -> None:
    """Print the table."""
    print(table(rows(futures, rounds)))  # noqa: T201


if __name__ == "__main__":
    main()
