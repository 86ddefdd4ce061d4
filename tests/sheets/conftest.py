"""Studies and hand-made plans that the sheets are drawn from."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.design.unchecked import draw
from trials.classroom.lessons import schedule, timetable_of
from trials.design.planned import plan_factors
from trials.design.values import Plan, PlanGroup, PlanRow, Shuffle
from trials.randomness import stream
from trials.render.typeset import Paper
from trials.sheets import Handouts, make_sheets
from trials.study.reading import read_study
from trials.study.values import Study, StudyGroup

DEMO = Path(__file__).resolve().parents[2] / "study_demo"


def _study(name: str) -> Study:
    return read_study(DEMO / name / "study.toml")


def _members(study: Study, group: StudyGroup) -> list[str]:
    own = list(group.members) or [str(n) for n in range(1, group.count + 1)]
    if group.within is None:
        return own
    parents = _members(study, study.group(group.within))
    return [f"{parent}-{member}" for parent in parents for member in own]


def _hand_plan(study: Study, n: int) -> Plan:
    """Lay out ``n`` items by counting round, so that every sheet has something on it."""
    groups = tuple(
        PlanGroup(
            name=group.name,
            path=study.path(group.name),
            within=group.within,
            step=group.step,
            role=group.role,
            members=tuple(_members(study, group)),
            random=group.random,
        )
        for group in study.groups
    )
    by_name = {group.name: group for group in groups}
    rows = []
    measure = [int(k) + 1 for k in stream(20, "measure").permutation(n)]
    for i in range(n):
        where: dict[str, str] = {}
        for group in groups:
            members = group.members
            if group.role == "maker":
                where[group.name] = members[i % len(members)]
            elif group.within in where:
                inside = [m for m in members if m.startswith(where[group.within] + "-")]
                per = n // len(by_name[group.within].members)
                where[group.name] = inside[(i % per) * len(inside) // per]
            else:
                where[group.name] = members[i * len(members) // n]
        levels = {}
        for k, factor in enumerate(study.factors):
            if factor.applied_to is None:
                at = (i // (k + 1) + i // 6) % len(factor.levels)
            else:
                at = by_name[factor.applied_to].members.index(where[factor.applied_to])
            levels[factor.name] = factor.levels[at % len(factor.levels)]
        code = f"{'BCDFGHJKLMNPQRSTVWXZ'[i % 20]}{'ABCDEFGHJK'[i // 20]}{(7 * i) % 90 + 10}"
        rows.append(PlanRow(run=i + 1, measure=measure[i], item=code, groups=where, factors=levels))
    return Plan(
        program_version="0.1.0",
        study_digest=study.digest(),
        seed=1,
        seeds_tried=(1,),
        family="hand-made",
        factors=plan_factors(study),
        groups=groups,
        rows=tuple(rows),
        criteria={},
        skeleton=(),
        audit=(),
        power=(),
        verdict_chances=(),
        shuffle=Shuffle(kind="units", size=None, smallest_p={}),
    )


@pytest.fixture(scope="session")
def demo_study() -> Callable[[str], Study]:
    """Give a study of study_demo by its name."""
    return _study


@pytest.fixture(scope="session")
def hand_plan() -> Callable[[Study, int], Plan]:
    """Give a plan of so many items, laid out by hand."""
    return _hand_plan


@pytest.fixture(scope="session")
def cells() -> tuple[Study, Plan]:
    """Give the study of 48 cells in six teams and two sessions, with a plan."""
    study = _study("cells")
    return study, _hand_plan(study, 48)


@pytest.fixture(scope="session")
def in_lessons() -> tuple[Study, Plan]:
    """Give the study of a class with two lessons, and its plan with a timetable."""
    study = _study("lessons")
    plan = draw(study, seed=20300514)
    table = timetable_of(study, schedule(study, plan, advise=False))
    return study, plan.model_copy(update={"timetable": table})


@pytest.fixture(scope="module", params=["a4", "us-letter"])
def handed_out(request: pytest.FixtureRequest, in_lessons: tuple[Study, Plan]) -> Handouts:
    paper: Paper = request.param
    return make_sheets(*in_lessons, paper=paper)


@pytest.fixture(scope="module")
def printed(in_lessons: tuple[Study, Plan]) -> Handouts:
    return make_sheets(*in_lessons)
