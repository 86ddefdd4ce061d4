"""What the timetable of a class does to the comparison: sessions split, versions in other lessons.

A plan without a timetable has none of it.
"""

from __future__ import annotations

from collections.abc import Iterator

from trials.design.audit.view import Found, View, last
from trials.design.values import PlanFactor, PlanGroup, PlannedWork

_Lessons = dict[str, int]  # item -> the lesson in which a step is done to it


def lesson_split(view: View) -> Iterator[Found]:
    """One session is measured in several lessons; or all items, where there are no sessions."""
    steps = [step.name for step in view.study.steps if step.stage == "measure"]
    measured = [when for step in steps if (when := _works(view, step))]
    if not measured:
        return
    sessions = [group for group in view.plan.groups if _is_session(view, group)]
    for group in sessions:
        for member in group.members:
            rows = [row.item for row in view.plan.rows if row.groups[group.name] == member]
            lessons = sorted({when[item] for when in measured for item in rows if item in when})
            if len(lessons) > 1:
                facts = {"group": view.labels[group.name], "member": member, "lessons": lessons}
                yield Found((group.name, member), facts)
    lessons = sorted({lesson for when in measured for lesson in when.values()})
    if not sessions and len(lessons) > 1:
        yield Found(("all",), {"group": None, "lessons": lessons, "step": steps[0]})


def lesson_tied(view: View) -> Iterator[Found]:
    """A version has a step in lessons of its own, in which no other version has it."""
    for factor in view.plan.factors:
        for stage in ("measure", "make"):
            found = _tied(view, factor, stage)
            if found is not None:
                yield found
                break


def _tied(view: View, factor: PlanFactor, stage: str) -> Found | None:
    levels = {row.item: row.factors[factor.name] for row in view.plan.rows}
    for step in view.study.steps:
        when = _works(view, step.name) if step.stage == stage else {}
        there: dict[int, set[str]] = {}
        for item, lesson in when.items():
            there.setdefault(lesson, set()).add(levels[item])
        if len({level for held in there.values() for level in held}) < 2:
            continue
        if _lesson_is_unit(view, factor, when):
            continue
        alone = [
            level
            for level in factor.levels
            if all(held == {level} for held in there.values() if level in held)
            and any(level in held for held in there.values())
        ]
        if alone:
            facts = {
                "factor": view.labels[factor.name],
                "alone": alone,
                "unit": factor.unit,
                "lessons": sorted(n for n, held in there.items() if held & set(alone)),
                "step": step.label or step.name,
            }
            return Found((factor.name,), facts, severity="stop" if stage == "measure" else "warn")
    return None


def _lesson_is_unit(view: View, factor: PlanFactor, when: _Lessons) -> bool:
    """Whether each lesson holds one unit of the factor: then lessons are what is compared."""
    group = last(factor.applied_to)
    if group is None:
        return False
    units: dict[int, set[str]] = {}
    for row in view.plan.rows:
        if row.item in when:
            units.setdefault(when[row.item], set()).add(row.groups[group])
    return all(len(held) == 1 for held in units.values())


def _is_session(view: View, group: PlanGroup) -> bool:
    """Whether a group parts the measuring in time."""
    steps = {step.name for step in view.study.steps if step.stage == "measure"}
    timely = group.step is None or group.step in steps
    return timely and group.within is None and group.role is None


def _works(view: View, step: str) -> _Lessons:
    table = view.plan.timetable
    works: tuple[PlannedWork, ...] = table.works if table is not None else ()
    here = {row.item for row in view.plan.rows}
    return {
        item: work.lesson
        for work in works
        if work.step == step and not work.between
        for item in work.items
        if item in here
    }
