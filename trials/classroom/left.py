"""What is left to do of a plan, step by step, once something was lost, not made or is over."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from trials.classroom.arrange import Bundle, bundles, making_steps
from trials.design.values import Plan, PlannedWork, PlanRow, Timetable
from trials.study.values import Step, Study


@dataclass(frozen=True)
class Left:
    """What is still to be done of a plan.

    ``rows``: items that aren't finished, in the order of the plan. ``steps``: of each step those of
    them that it is still done to. ``crews``: who does a step to an item, where the timetable says.
    ``fixed``: of what can't be started afresh the step because of which: it was done to several at
    once, and is over.
    """

    study: Study
    plan: Plan
    rows: tuple[PlanRow, ...]
    steps: Mapping[str, tuple[PlanRow, ...]]
    crews: Mapping[tuple[str, str], str]
    fixed: Mapping[str, str]

    @property
    def anew(self) -> tuple[PlanRow, ...]:
        """The items that can be started afresh if they fail: only for these there are spares."""
        return tuple(row for row in self.rows if row.item not in self.fixed)

    @property
    def begun(self) -> bool:
        """Whether some step of what isn't finished is over."""
        return any(len(rows) < len(self.rows) for rows in self.steps.values())

    def of(self, step: Step) -> tuple[PlanRow, ...]:
        """Return the items that a step is still done to."""
        return self.steps[step.name]


def left_of(
    study: Study, plan: Plan, gone: Collection[str] = (), measured: Collection[str] = ()
) -> Left:
    """Return what is left to do; everything where nothing is gone or over.

    Parameters
    ----------
    gone : codes of items that are lost or not made.
    measured : codes of items that have readings, and are finished with that.
    """
    over = {(work.step, item) for work in works_over(plan) for item in work.items}
    works = plan.timetable.works if plan.timetable is not None else ()
    finished = {*gone, *measured} if gone or over else set()
    rows = tuple(row for row in plan.rows if row.item not in finished)
    return Left(
        study,
        plan,
        rows,
        {
            step.name: tuple(row for row in rows if (step.name, row.item) not in over)
            for step in study.steps
        },
        {(work.step, item): work.crew for work in works for item in work.items},
        _fixed(study, plan),
    )


def _fixed(study: Study, plan: Plan) -> dict[str, str]:
    """Return of each item the first step that is over and was done to several at once."""
    at = {step.name: place for place, step in enumerate(study.steps)}
    together = [work for work in works_over(plan) if work.group]
    latest_first = sorted(together, key=lambda work: -at[work.step])
    return {item: work.step for work in latest_first for item in work.items}


def works_over(plan: Plan) -> tuple[PlannedWork, ...]:
    """Return what was done when the rest of the timetable was placed again."""
    table = plan.timetable
    return () if table is None else tuple(table.works[at] for at in table.over)


def begun_items(plan: Plan) -> frozenset[str]:
    """Return what something was done to before it was lost and the rest was placed again."""
    table = plan.timetable
    if table is None:
        return frozenset()
    placed = {item for work in table.works for item in work.items}
    return frozenset(item for work in table.past for item in work.items) - placed


def past_works(
    before: Timetable, after: Timetable, since: int, lost: Collection[str]
) -> tuple[PlannedWork, ...]:
    """Return what was done before a lesson with items that are lost by now, as it was done.

    What goes together is told whole, with the others in it. What was never made was not in it.

    Parameters
    ----------
    before : the timetable so far.
    after : what is left placed again from lesson ``since`` on, without what is lost.
    """
    placed = {item for work in after.works for item in work.items}
    right_before = {(w.step, w.lesson) for w in map(after.works.__getitem__, after.over)}
    found: dict[tuple[str, object], PlannedWork] = {}
    for work in (*before.past, *before.works):
        made = tuple(item for item in work.items if item in placed or item in lost)
        over = work.lesson < since or (
            work.between and work.lesson == since and (work.step, work.lesson) in right_before
        )
        key = work.step, work.group or work.items
        if over and set(made) - placed and key not in found:  # what is told already has more
            found[key] = work.model_copy(update={"items": made})
    return tuple(found.values())


def bundles_left(
    study: Study,
    plan: Plan,
    lost: Collection[str],
    unmade: Collection[str],
    measured: Collection[str],
) -> tuple[Bundle, ...]:
    """Return what goes together, without what is gone; what has passed stays as it was done.

    It has passed where the timetable says so, or where something of it has readings. Of a group
    that goes together in no step, all that is left must have some. What was never made was not in
    it either. Whatever nothing is left of is left out, and the others keep their names.
    """
    over = {(work.step, work.group) for work in works_over(plan)}
    steps = {step.name for step in making_steps(study)}
    found = []
    for one in bundles(study, plan):
        made = tuple(row for row in one.rows if row.item not in unmade)
        there = tuple(row for row in made if row.item not in lost)
        read = [row.item in measured for row in there]
        passed = (one.group.step, one.label) in over or (
            any(read) if one.group.step in steps else bool(read) and all(read)
        )
        rows = made if passed else there
        if rows:
            found.append(
                Bundle(one.group, one.label, one.sessions, rows, one.settings, passed=passed)
            )
    return tuple(found)
