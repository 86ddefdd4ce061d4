"""How long the sheets of a class take: 48 cells, six teams, with amounts of materials.

Run it by hand: ``python tests/benchmarks/bench_sheets.py [lessons]``. It prints seconds of
computing of one start, libraries read first, and judges nothing. Asked for: sheets, labels and
materials for 48 cells in under 2 s. With ``lessons`` it is the ready class of two lessons, twice as
large, with every step at its minute; beside each file stands how many times as long it takes as
for the same class without a timetable. Last comes ``trials sheets`` itself for the ready class of
24 cells, a process of its own with all that it loads: seconds of computing, and by the clock.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

import datetime
import multiprocessing
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from trials.classroom.lessons import schedule, timetable_of
from trials.design.draw import draw, sketch
from trials.design.values import Plan
from trials.service.new import new
from trials.sheets import make_sheets
from trials.sheets.class_times import timetable
from trials.sheets.label_sheets import PLAIN
from trials.sheets.labels import labels
from trials.sheets.lesson import lesson_pages
from trials.sheets.lists import cautions_list
from trials.sheets.logbook import logbook
from trials.sheets.making import making_sheets
from trials.sheets.materials import materials, materials_csv
from trials.sheets.measuring import measuring_sheets
from trials.sheets.parts import Job
from trials.sheets.risk import risk_form
from trials.sheets.workbook import entry_workbook
from trials.study import Study, read_study
from trials.study.values import Material
from trials.workspace import open_workspace, save_plan

DEMOS = Path(__file__).parents[2] / "study_demo"
PARTS: dict[str, Callable[[Job], object]] = {
    "cautions.pdf": cautions_list,
    "risk-form.pdf": risk_form,
    "materials.pdf": materials,
    "materials.csv": materials_csv,
    "timetable.pdf": timetable,
    "lesson.pdf": lambda job: lesson_pages(job, job.agenda) if job.agenda else None,
    "labels.pdf": lambda job: labels(job, PLAIN),
    "making-sheets.pdf": making_sheets,
    "logbook.pdf": logbook,
    "measuring-sheets.pdf": measuring_sheets,
    "entry-workbook.xlsx": entry_workbook,
}


def main(*asked: str) -> None:
    """Print seconds of computing for each file as the first of its kind, then for all again."""
    lessons = asked == ("lessons",)
    study, plan = _two_lessons() if lessons else _no_lessons()
    spent = _apart(Job(study, plan, "a4"))
    plain: dict[str, float] = {}
    if lessons:
        untimed = plan.model_copy(update={"timetable": None})
        plain = _apart(Job(study, untimed, "a4"))
    for name, seconds in spent.items():
        times = f" {seconds / plain[name]:8.2f} times" if plain.get(name, 0.0) > 1e-3 else ""
        sys.stdout.write(f"{name:22} {seconds:6.2f} s{times}\n")
    start = time.process_time()
    make_sheets(study, plan, paper="us-letter", label_size="2.625 x 1 in")
    sys.stdout.write(f"{'all, once more':22} {time.process_time() - start:6.2f} s\n")
    if lessons:
        computing, clock = _command()
        sys.stdout.write(f"{'trials sheets':22} {computing:6.2f} s, {clock:.2f} s by the clock\n")


def _seconds(job: Job) -> dict[str, float]:
    """Return seconds of computing for each file, one after another, and for all."""
    materials_csv(job)  # what counting loads is read first
    spent = {}
    for name, make in PARTS.items():
        start = time.process_time()
        make(job)
        spent[name] = time.process_time() - start
    return spent | {"all, the first time": sum(spent.values())}


def _apart(job: Job) -> dict[str, float]:
    """Return the same from a process of its own: nothing of it was typeset before."""
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as other:
        return other.submit(_seconds, job).result()


def _command() -> tuple[float, float]:
    """Return seconds of computing and by the clock of ``trials sheets`` for the ready class."""
    with tempfile.TemporaryDirectory() as folder:
        here = new(Path(folder) / "class", example="lessons").folder
        study = read_study(here / "study.toml")
        plan = sketch(study)
        found = timetable_of(study, schedule(study, plan, advise=False))
        plan = plan.model_copy(update={"timetable": found})
        save_plan(open_workspace(here), plan, measured=False, today=datetime.date(2026, 3, 2))
        before, start = os.times(), time.perf_counter()
        asked = [sys.executable, "-m", "trials", "sheets", str(here)]
        subprocess.run(asked, stdout=subprocess.DEVNULL, check=True)
        clock, after = time.perf_counter() - start, os.times()
    user = after.children_user - before.children_user
    return user + after.children_system - before.children_system, clock


def _no_lessons() -> tuple[Study, Plan]:
    study = _with_amounts(read_study(DEMOS / "cells" / "study.toml"))
    return study, draw(study, seed=5)


def _two_lessons() -> tuple[Study, Plan]:
    """Return the ready class with 48 cells for 24, lessons of 90 minutes and a second oven."""
    study = read_study(DEMOS / "lessons" / "study.toml")
    groups = tuple(g.model_copy(update={"count": 8} if g.step else {}) for g in study.groups)
    tools = tuple(
        one.model_copy(update={"count": 2} if one.name == "oven" else {}) for one in study.equipment
    )
    lessons = study.lessons.model_copy(update={"minutes": 90}) if study.lessons else None
    limits = study.limits.model_copy(update={"items": 48, "copies": 12})
    changed = {"groups": groups, "equipment": tools, "lessons": lessons, "limits": limits}
    study = study.model_copy(update=changed)
    plan = sketch(study)
    found = timetable_of(study, schedule(study, plan, advise=False))
    if found is None:
        raise SystemExit("There is no timetable for this class: change _two_lessons.")
    return study, plan.model_copy(update={"timetable": found})


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
    main(*sys.argv[1:])
