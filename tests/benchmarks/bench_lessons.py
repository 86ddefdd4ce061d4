"""How long a timetable takes: classes of 48 items and one of 120, with ovens and burners.

Run it by hand: ``python tests/benchmarks/bench_lessons.py``. It prints a table, judges nothing. The
times of the steps are made up for the purpose; in the last class they are those of the example of
two lessons, with twice as much to do in four.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

import sys
import time
from pathlib import Path

from trials.classroom.lessons import schedule
from trials.design.draw import sketch
from trials.study import (
    Equipment,
    Lessons,
    Limits,
    Response,
    Step,
    Study,
    StudyFactor,
    StudyGroup,
    read_study,
)

DEMOS = Path(__file__).parents[2] / "study_demo"
STEPS = (
    Step(name="prepare", minutes=2),
    Step(name="coat", minutes=3),
    Step(name="heat", minutes=5, waiting=3, one_by_one=("burner",), busy=("oven",),
         equipment_for={"oven": ("oven",), "burner": ("burner",)}),
    Step(name="soak", minutes=2, waiting=20, keeps=10),
    Step(name="rinse", minutes=1),
    Step(name="close", minutes=2, waiting=2, keeps=6),
    Step(name="measure", minutes=4, stage="measure", equipment=("meter pair",)),
)  # fmt: skip


def class_of(items: int, teams: int, lessons: int, firings: int, pairs: int) -> Study:
    """Return a study whose firings of six go into one oven, or one by one to two burners."""
    return Study(
        title="Class",
        question="Which?",
        item_name="cell",
        factors=(
            StudyFactor(name="heat", levels=("oven", "burner"), applied_to="firing"),
            StudyFactor(name="dye", levels=("a", "b", "c"), shared=False),
        ),
        groups=(
            StudyGroup(name="team", count=teams, role="maker"),
            StudyGroup(name="firing", count=firings, step="heat", capacity=6),
        ),
        responses=(Response(name="power", unit="mW", primary=True),),
        steps=STEPS,
        equipment=(
            Equipment(name="oven", holds=6, together=True),
            Equipment(name="burner", count=2, flame=True),
            Equipment(name="meter pair", count=pairs),
        ),
        lessons=Lessons(minutes=100, count=lessons),
        limits=Limits(items=items, copies=items // 6),
    )


def twice_the_example() -> Study:
    """Return the study of the example with 48 cells in four lessons, a day apart."""
    study = read_study(DEMOS / "lessons" / "study.toml")
    more = {"count": 8}
    groups = tuple(g.model_copy(update=more if g.step else {}) for g in study.groups)
    return study.model_copy(
        update={
            "groups": groups,
            "lessons": Lessons(minutes=50, count=4, put_out=5, tidy=5, hands=3),
            "limits": Limits(items=48, copies=12),
        }
    )


def main() -> None:
    """Print seconds of computing, how far it got, and the length found."""
    for study in (class_of(48, 6, 2, 8, 4), class_of(120, 10, 4, 20, 6), twice_the_example()):
        plan = sketch(study)
        start = time.process_time()
        found = schedule(study, plan, advise=False).placement
        seconds = time.process_time() - start
        length = f"{found.lessons} lessons, over after {found.ends} minutes of lessons"
        sys.stdout.write(
            f"{len(plan.rows):>4} items {seconds:6.1f} s  {found.status:<10} {length}; "
            f"none before {found.bound}\n"
        )


if __name__ == "__main__":
    main()
