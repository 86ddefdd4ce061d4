"""How long the sheets of a class take: 48 cells, six teams, with amounts of materials.

Run it by hand: ``python tests/benchmarks/bench_sheets.py``. It prints seconds of computing of one
start, libraries read first, and judges nothing. Asked for: sheets, labels and materials for 48
cells in under 2 s.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

import sys
import time
from collections.abc import Callable
from pathlib import Path

from trials.design.draw import draw
from trials.sheets import make_sheets
from trials.sheets.label_sheets import PLAIN
from trials.sheets.labels import labels
from trials.sheets.lists import cautions_list, timetable
from trials.sheets.making import making_sheets
from trials.sheets.materials import materials, materials_csv
from trials.sheets.measuring import measuring_sheets
from trials.sheets.parts import Job
from trials.sheets.risk import risk_form
from trials.sheets.workbook import entry_workbook
from trials.study import Study, read_study
from trials.study.values import Material

CELLS = Path(__file__).parents[2] / "study_demo" / "cells" / "study.toml"
PARTS: dict[str, Callable[[Job], object]] = {
    "cautions.pdf": cautions_list,
    "risk-form.pdf": risk_form,
    "materials.pdf": materials,
    "materials.csv": materials_csv,
    "timetable.pdf": timetable,
    "labels.pdf": lambda job: labels(job, PLAIN),
    "making-sheets.pdf": making_sheets,
    "measuring-sheets.pdf": measuring_sheets,
    "entry-workbook.xlsx": entry_workbook,
}


def main() -> None:
    """Print seconds of computing for each file as the first of its kind, then for all again."""
    study = _with_amounts(read_study(CELLS))
    plan = draw(study, seed=5)
    job = Job(study, plan, "a4")
    total = 0.0
    for name, make in PARTS.items():
        start = time.process_time()
        make(job)
        spent = time.process_time() - start
        total += spent
        sys.stdout.write(f"{name:22} {spent:6.2f} s\n")
    sys.stdout.write(f"{'all, the first time':22} {total:6.2f} s\n")
    start = time.process_time()
    make_sheets(study, plan, paper="us-letter", label_size="2.625 x 1 in")
    sys.stdout.write(f"{'all, once more':22} {time.process_time() - start:6.2f} s\n")


def _with_amounts(study: Study) -> Study:
    """Return the study with something used up at each step."""
    used = (
        Material(name="paper towel", amount=1),
        Material(name="water", amount=20, unit="mL"),
        Material(name="gloves", amount=2, per="lesson"),
    )
    steps = tuple(step.model_copy(update={"materials": used}) for step in study.steps)
    return study.model_copy(update={"steps": steps})


if __name__ == "__main__":
    main()
