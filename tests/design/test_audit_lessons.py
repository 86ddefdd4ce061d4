"""What the timetable of a class does to the comparison, on timetables laid by hand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.design.unchecked import draw
from trials.design.audit import with_timed_findings
from trials.design.values import AuditFinding, Plan, PlannedWork, Timetable
from trials.service.new import new
from trials.service.plan import draw_plan
from trials.study import Limits, Response, Step, Study, StudyFactor, StudyGroup

STEPS = (Step(name="fold", label="Fold", minutes=2), Step(name="throw", minutes=3, stage="measure"))
SOAK = StudyFactor(name="soak", levels=("5", "10", "40"), kind="quantity", unit="min", shared=False)
FOLD = StudyFactor(name="paper", levels=("thin", "thick"), shared=False)


def study(**change: Any) -> Study:
    base: dict[str, Any] = {
        "title": "t",
        "question": "q",
        "item_name": "plane",
        "factors": (FOLD,),
        "responses": (Response(name="flight", unit="m", primary=True),),
        "steps": STEPS,
        "limits": Limits(items=12),
    }
    return Study(**(base | change))


def timed(made: Study, made_in: dict[str, int], measured_in: dict[str, int]) -> Plan:
    """Return a plan whose items have their steps in these lessons."""
    plan = draw(made, seed=5)
    works = [
        PlannedWork(step=step, items=(item,), crew="everyone", lesson=lesson, start=5, minutes=2)
        for step, when in (("fold", made_in), ("throw", measured_in))
        for item, lesson in when.items()
    ]
    table = Timetable(
        lessons=3, minutes=50, ends=150, bound=150, proved=True, whole=True, works=tuple(works)
    )
    return plan.model_copy(update={"timetable": table})


def by_level(made: Study, lessons: dict[str, int], factor: str = "paper") -> dict[str, int]:
    return {row.item: lessons[row.factors[factor]] for row in draw(made, seed=5).rows}


def found(made: Study, plan: Plan) -> dict[str, AuditFinding]:
    told = with_timed_findings(made, plan)
    return {one.code: one for one in told.audit[len(plan.audit) :]}


@pytest.fixture(scope="module")
def all_in_one() -> dict[str, int]:
    return {row.item: 1 for row in draw(study(), seed=5).rows}


def test_a_plan_without_times_has_nothing_to_tell() -> None:
    plan = draw(study(), seed=5)
    assert with_timed_findings(study(), plan) is plan


def test_all_in_one_lesson_is_fair(all_in_one: dict[str, int]) -> None:
    assert found(study(), timed(study(), all_in_one, all_in_one)) == {}


def test_a_version_measured_in_another_lesson_is_a_stop(all_in_one: dict[str, int]) -> None:
    plan = timed(study(), all_in_one, by_level(study(), {"thin": 2, "thick": 3}))
    tied = found(study(), plan)["lesson_tied"]
    assert tied.severity == "stop"
    assert tied.message == (
        "The timetable gives thin and thick (paper) lessons of their own for the step 'throw': "
        "lessons 2 and 3. If one of them does better, nobody can tell whether it was the paper or "
        "the day: another room, other light, hands with more practice."
    )
    assert tied.remedy.startswith("Let every plane wait as long as the slowest version")


def test_a_version_made_in_another_lesson_is_a_warning(all_in_one: dict[str, int]) -> None:
    plan = timed(study(), by_level(study(), {"thin": 1, "thick": 2}), all_in_one)
    tied = found(study(), plan)["lesson_tied"]
    assert (tied.severity, tied.facts["step"]) == ("warn", "Fold")


def test_one_of_three_versions_alone_is_named_with_its_unit() -> None:
    made = study(factors=(SOAK,))
    one = {row.item: 1 for row in draw(made, seed=5).rows}
    plan = timed(made, one, by_level(made, {"5": 2, "10": 2, "40": 3}, "soak"))
    tied = found(made, plan)["lesson_tied"]
    assert (tied.facts["alone"], tied.facts["lessons"]) == (["40"], [3])
    assert "for 40\u00a0min (soak) into lesson 3" in tied.message


def test_versions_that_share_their_lessons_are_fair(all_in_one: dict[str, int]) -> None:
    # two of each version in each of three lessons; and there is a group for it
    made = study(groups=(StudyGroup(name="occasion", count=3, step="throw"),))
    plan = draw(made, seed=5)
    occasions = {member: n for n, member in enumerate(plan.groups[0].members, 1)}
    when = {row.item: occasions[row.groups["occasion"]] for row in plan.rows}
    all_here = dict.fromkeys(when, 1)
    assert len(all_here) == len(all_in_one)
    assert found(made, timed(made, all_here, when)) == {}


def test_where_lessons_are_what_is_compared_nothing_is_tied() -> None:
    groups = (StudyGroup(name="occasion", count=4),)
    made = study(factors=(FOLD.model_copy(update={"applied_to": "occasion"}),), groups=groups)
    plan = draw(made, seed=5)
    occasions = {member: n for n, member in enumerate(plan.groups[0].members, 1)}
    when = {row.item: occasions[row.groups["occasion"]] for row in plan.rows}
    assert "lesson_tied" not in found(made, timed(made, when, when))


def test_measuring_in_two_lessons_without_a_group_for_it_is_told(
    all_in_one: dict[str, int],
) -> None:
    halves = {item: 1 + at % 2 for at, item in enumerate(sorted(all_in_one))}
    split = found(study(), timed(study(), all_in_one, halves))["lesson_split"]
    assert split.severity == "warn"
    assert "The planes are measured in lessons 1 and 2" in split.message
    assert '[groups.occasion] with count = 2 and step = "throw"' in split.remedy


def test_a_session_over_two_lessons_is_told_with_its_name() -> None:
    made = study(groups=(StudyGroup(name="session", count=2),))
    plan = draw(made, seed=5)
    first = plan.groups[0].members[0]
    when = {
        row.item: (1 + at % 2) if row.groups["session"] == first else 3
        for at, row in enumerate(plan.rows)
    }
    told = [
        one
        for one in with_timed_findings(made, timed(made, dict.fromkeys(when, 1), when)).audit
        if one.code == "lesson_split"
    ]
    assert [one.facts["member"] for one in told] == [first]
    assert f"The timetable measures session {first} in lessons 1 and 2, not in one." in (
        told[0].message
    )


def test_what_is_done_between_lessons_is_tied_to_none(all_in_one: dict[str, int]) -> None:
    plan = timed(study(), by_level(study(), {"thin": 1, "thick": 2}), all_in_one)
    assert plan.timetable is not None
    works = tuple(w.model_copy(update={"between": True}) for w in plan.timetable.works)
    table = plan.timetable.model_copy(update={"works": works})
    assert found(study(), plan.model_copy(update={"timetable": table})) == {}


def test_trials_plan_tells_it(tmp_path: Path) -> None:
    folder = tmp_path / "planes"
    new(folder, example="planes")
    path = folder / "study.toml"
    # one thrower: eight planes of 3 minutes don't fit into one lesson of 15
    text = path.read_text(encoding="utf-8")
    assert "[[steps]]" in text
    text = text.replace(
        "[[steps]]", "[lessons]\nminutes = 15\nput_out = 0\ntidy = 0\nhands = 1\n\n[[steps]]", 1
    )
    path.write_text(text, encoding="utf-8")
    done = draw_plan(folder, seed=3)
    assert done.plan.timetable is not None
    assert "lesson_split" in [one.code for one in done.plan.audit]
    assert "measured in lessons" in "\n".join(done.text())
