"""From a plan and the steps to works, lessons, what is tight and what helps."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from tests.classroom.bench import STEPS, class_plan, class_study
from tests.classroom.by_the_minute import faults
from trials.classroom.lessons import Cure, Schedule, schedule, timetable_of
from trials.classroom.rest import schedule_rest
from trials.classroom.timetable import place
from trials.classroom.work import job_of, room_of
from trials.design.values import Plan
from trials.study import Equipment, Lessons, Study


@pytest.fixture(scope="module")
def study() -> Study:
    return class_study()


@pytest.fixture(scope="module")
def plan(study: Study) -> Plan:
    return class_plan(study)


@pytest.fixture(scope="module")
def found(study: Study, plan: Plan) -> Schedule:
    return schedule(study, plan, advise=False)


def test_every_item_goes_through_every_step(study: Study, plan: Plan) -> None:
    job = job_of(study, plan)
    for row in plan.rows:
        mine = [work.step for work in job.works if row.item in work.items]
        assert mine == [step.name for step in STEPS]
    soaks = {w.items[0]: w.waiting for w in job.works if w.step == "soak"}
    assert soaks == {row.item: int(row.factors["soak"]) for row in plan.rows}


def test_what_shares_the_oven_is_one_item_of_each_team(study: Study, plan: Plan) -> None:
    team = {row.item: row.groups["team"] for row in plan.rows}
    fired = [work.items for work in job_of(study, plan).works if work.step == "heat"]
    assert [len(items) for items in fired] == [6, 6, 6]
    assert all(len({team[item] for item in items}) == 6 for items in fired)


def test_the_class_is_done_in_two_lessons(study: Study, plan: Plan, found: Schedule) -> None:
    assert (found.placement.status, found.placement.lessons) == ("proved", 2)
    assert faults(found.job, found.room, found.placement) == []
    # coating alone takes each team 8 + 8 minutes with four hands, measuring 18 / 4 x 4 minutes
    kept = timetable_of(study, found)
    assert kept is not None
    assert {work.lesson for work in kept.works if work.step == "heat"} == {2}
    assert all(work.between == (work.step == "heat") for work in kept.works)
    measured = [w for w in kept.works if w.step == "measure"]
    order = {row.item: row.measure for row in plan.rows}
    assert [order[w.items[0]] for w in sorted(measured, key=lambda w: (w.start, order[w.items[0]]))
            ] == sorted(order.values())  # fmt: skip


def test_one_lesson_too_few_is_impossible_and_one_more_helps(plan: Plan) -> None:
    study = class_study(lessons=Lessons(minutes=50, count=1))
    found = schedule(study, plan)
    assert found.placement.status == "impossible"
    assert Cure("lessons", "", 1, 2) in found.cures


def test_too_few_meters_are_named_and_cured(plan: Plan) -> None:
    few = (Equipment(name="oven", holds=6, together=True), Equipment(name="meter pair", count=1))
    study = class_study(lessons=Lessons(minutes=50, count=2), equipment=few)
    found = schedule(study, plan)
    assert not found.placement.placed
    tightest = found.loads[0]
    assert (tightest.kind, tightest.name, tightest.wanted) == ("equipment", "meter pair", 72)
    assert (tightest.offered, tightest.share) == (80, 0.9)
    more = class_study(lessons=Lessons(minutes=50), equipment=few)
    lessons = schedule(more, plan, advise=False).placement.lessons
    assert Cure("lessons", "", lessons - 2, lessons) in found.cures


def test_a_wait_longer_than_a_lesson_is_told() -> None:
    study = class_study(("5", "45"), lessons=Lessons(minutes=50, count=4))
    found = schedule(study, class_plan(study))
    (chain,) = found.chains
    assert (chain.steps, chain.minutes) == (("soak", "rinse"), 4 + 45 + 1)
    assert found.placement.status == "impossible"
    assert found.cures[0].kind == "minutes"


def test_a_second_oven_is_no_help_between_lessons(study: Study, plan: Plan) -> None:
    assert room_of(study, plan, 2).places == {"oven": 6, "meter pair": 4}
    found = schedule(study, plan)
    assert all(cure.name != "oven" for cure in found.cures)


def test_the_same_plan_has_the_same_timetable(study: Study, plan: Plan, found: Schedule) -> None:
    assert schedule(study, plan, advise=False) == found


# ---- when the day changes ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def timed(study: Study, plan: Plan, found: Schedule) -> Plan:
    return plan.model_copy(update={"timetable": timetable_of(study, found)})


def test_what_was_done_stays_and_lost_items_are_left_out(study: Study, timed: Plan) -> None:
    gone = [row.item for row in timed.rows if row.groups["team"] == timed.rows[0].groups["team"]]
    found = schedule_rest(study, timed, since=2, gone=gone)
    assert (found.placement.status, found.placement.lessons) == ("proved", 2)
    kept = timetable_of(study, found)
    assert kept is not None
    assert timed.timetable is not None
    assert {item for work in kept.works for item in work.items}.isdisjoint(gone)
    before = {(w.step, i): w.start for w in timed.timetable.works for i in w.items}
    coated = [work for work in kept.works if work.step == "coat"]
    assert len(coated) == 18 - len(gone)
    assert all(before[work.step, work.items[0]] == work.start for work in coated)


def test_without_the_only_oven_nothing_is_promised(study: Study, timed: Plan) -> None:
    found = schedule_rest(study, timed, since=2, fewer={"oven": 1})
    assert not found.placement.placed


def test_with_one_meter_it_takes_two_lessons_more(study: Study, timed: Plan) -> None:
    found = schedule_rest(study, timed, since=2, fewer={"meter pair": 3})
    assert found.placement.placed
    assert found.placement.lessons == 4  # ten can be measured in a lesson of 40 working minutes
    left = [n for n, w in enumerate(found.job.works) if w.step == "measure"]
    slots = [found.placement.slots[n] for n in left]
    assert {slot.lesson for slot in slots} <= {1, 2, 3}
    starts = sorted(slot.start for slot in slots)
    assert all(second - first >= 4 for first, second in itertools.pairwise(starts))


@pytest.mark.parametrize("pieces", [1, 2, 3])
def test_what_is_said_to_be_too_much_for_one_lesson_cannot_be_placed(pieces: int) -> None:
    """Against the solver, which knows nothing of the sum: more lessons are no help."""
    keeps = {"heat": 600, "rinse": 30}
    steps = tuple(
        step.model_copy(update={"keeps": keeps.get(step.name, step.keeps)}) for step in STEPS
    )
    study = class_study(steps=steps)
    plan = class_plan(study)
    kept = timetable_of(study, schedule(study, plan, advise=False))
    found = schedule_rest(
        study, plan.model_copy(update={"timetable": kept}), since=2, fewer={"meter pair": pieces}
    )
    # 18 items of 4 minutes: with one pair 72 minutes, with two 36; the first is ready to
    # measure after 15 minutes (4 + 5 of soaking, 1 of rinsing, 3 + 2 of closing), 25 remain
    left = 4 - pieces
    told = [(rush.name, rush.wanted, rush.offered) for rush in found.rushes]
    assert (("meter pair", 72 / left, 25) in told) == (72 / left > 25)
    assert kept is not None
    begun = {(w.step, i): w for w in kept.works for i in w.items}
    room = room_of(study, plan, 4)
    done = {
        at: (0 if not w.between else room.gap(1)[0]) + begun[w.step, w.items[0]].start
        for at, w in enumerate(found.job.works)
        if w.step in ("coat", "heat")
    }
    fewer = replace(room, places=room.places | {"meter pair": left})
    placed = place(found.job, fewer, done=done, since=room.gap(1)[0])
    assert placed.placed == found.placement.placed == (not found.rushes)
