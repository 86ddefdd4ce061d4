"""Classes that make no slip: how often the readings of one raise a question all the same.

The classes are invented from the truth behind the demo, with nothing lost, failed or mistyped, and
told as numbers of three readings a cell (study_demo/cells/truth.toml).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import pytest

from tests.invented import DEMOS, generator
from tests.kept import REPORTS
from trials.ingest import read_file
from trials.ingest import workbook_layout as layout
from trials.study import read_study
from trials.workspace import load_plan, open_workspace


@pytest.mark.long
@pytest.mark.parametrize("failed", [0, 3])
def test_honest_classes_are_hardly_ever_asked(
    failed: int, effort: Callable[[int], int], evidence: Callable[[str, object], None]
) -> None:
    """Fewer than 1 in 20 classes of 48 cells, 144 readings, get any question at all."""
    make = generator("cells")
    study = read_study(DEMOS / "cells" / "study.toml")
    plan = load_plan(open_workspace(REPORTS / "cells"))[0]
    truth = make.read_truth()
    truth["trouble"].update(failed=failed, lost=0, swapped=0, slips=0, commas_team="")
    classes, asked, codes = effort(2000), 0, Counter[str]()
    for seed in range(1000, 1000 + classes):
        lines = make.measure(study, plan, truth | {"seed": seed}).lines
        rows = [layout.headings_of(study)[:-1], *(line.cells() for line in lines)]
        table = "".join(",".join(row) + "\n" for row in rows)
        questions = read_file(table.encode(), "class.csv", study, plan).questions
        asked += bool(questions)
        codes.update(question.code for question in questions)
    found = {"classes": classes, "asked": asked, "questions": dict(sorted(codes.items()))}
    evidence(f"honest_classes_{failed}_failed", found)
    assert asked <= max(1, 0.05 * classes)
