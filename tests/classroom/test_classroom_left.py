"""What is left to do once something is gone or over: counted by hand from the timetable's works."""

from __future__ import annotations

from collections import defaultdict

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.classroom.bench import class_plan, class_study
from trials.classroom.agenda import agenda_of
from trials.classroom.left import left_of
from trials.classroom.lessons import schedule, timetable_of
from trials.classroom.materials import needs, spare_items
from trials.classroom.readers import Helpers
from trials.classroom.rest import schedule_rest
from trials.classroom.work import job_of
from trials.design.spares import spares
from trials.design.values import Plan, Timetable
from trials.study import Study
from trials.study.values import Material

STUDY = class_study()
PLAN = class_plan(STUDY)
CODES = [row.item for row in PLAN.rows]


@pytest.fixture(scope="module")
def timed() -> Plan:
    return PLAN.model_copy(
        update={"timetable": timetable_of(STUDY, schedule(STUDY, PLAN, advise=False))}
    )


def again(study: Study, plan: Plan, gone: tuple[str, ...], since: int) -> Plan:
    table = timetable_of(study, schedule_rest(study, plan, since=since, gone=gone))
    assert table is not None
    return plan.model_copy(update={"timetable": table})


def fired(table: Timetable) -> dict[str, set[str]]:
    """Return the items of each firing of the adult, by its name."""
    found: dict[str, set[str]] = defaultdict(set)
    for work in table.works:
        if work.step == "heat":
            found[work.group] |= set(work.items)
    return dict(found)


@given(st.sets(st.sampled_from(CODES), max_size=len(CODES)))
def test_batches_keep_their_numbers_whatever_is_gone(gone: set[str]) -> None:
    whole = {w.group: set(w.items) for w in job_of(STUDY, PLAN).works if w.step == "heat"}
    left = {w.group: set(w.items) for w in job_of(STUDY, PLAN, gone).works if w.step == "heat"}
    assert left == {name: items - gone for name, items in whole.items() if items - gone}


def test_a_batch_that_has_passed_stays_as_it_was_done(timed: Plan) -> None:
    """Others once moved up into its gap, as if they had been fired with it."""
    assert timed.timetable is not None
    before = fired(timed.timetable)
    gone = tuple(items.pop() for items in map(set, before.values()))[:1]
    after = again(STUDY, timed, gone, since=2)
    assert after.timetable is not None
    assert fired(after.timetable) == {name: items - set(gone) for name, items in before.items()}
    assert agenda_of(STUDY, after) is not None


def test_what_is_over_is_what_came_before_the_lesson(timed: Plan) -> None:
    """The works between lessons 1 and 2 are done too, when lesson 2 begins."""
    assert timed.timetable is not None
    assert timed.timetable.over == ()
    table = again(STUDY, timed, (), since=2).timetable
    assert table is not None
    done = {
        (work.step, work.items)
        for work in timed.timetable.works
        if work.lesson == 1 or (work.lesson == 2 and work.between)
    }
    assert {(table.works[at].step, table.works[at].items) for at in table.over} == done
    first = again(STUDY, timed, (), since=1).timetable
    assert first is not None
    assert first.over == ()


def test_nothing_is_left_out_before_something_is_gone_or_over(timed: Plan) -> None:
    left = left_of(STUDY, timed, (), CODES[:5])
    assert left.rows == timed.rows
    assert not left.begun
    assert all(left.of(step) == timed.rows for step in STUDY.steps)


def test_materials_are_those_of_the_steps_that_come(timed: Plan) -> None:
    """18 items, 1 lost and 2 measured: 15; each step as often as its works are still to come."""
    per = {
        "coat": (Material(name="paste", amount=2),),
        "close": (Material(name="clip", amount=2), Material(name="glove", amount=4, per="team")),
        "measure": (Material(name="towel", amount=1, per="lesson"),),
    }
    study = STUDY.model_copy(
        update={
            "steps": tuple(
                step.model_copy(update={"materials": per.get(step.name, ())})
                for step in STUDY.steps
            )
        }
    )
    gone, measured = (CODES[0],), CODES[1:3]
    early = left_of(study, timed, gone, measured)
    assert [row.item for row in early.rows] == CODES[3:]
    assert not early.begun
    assert spare_items(study, timed, early) == spares(15, 0.25)
    found = {need.material.name: need for need in needs(study, timed, early)}
    assert (found["paste"].times, found["paste"].spare) == (15, spares(15, 0.25))
    late = again(study, timed, gone, since=2)
    assert late.timetable is not None
    come = [w for at, w in enumerate(late.timetable.works) if at not in late.timetable.over]
    left = left_of(study, late, gone, measured)
    for step in study.steps:
        items = {item for w in come if w.step == step.name for item in w.items}
        assert {row.item for row in left.of(step)} == items - set(measured)
    found = {need.material.name: need for need in needs(study, late, left)}
    assert left.begun
    assert "paste" not in found  # everything was coated in lesson 1
    assert found["clip"].times == 15
    assert found["glove"].times == len({w.crew for w in come if w.step == "close"})
    assert found["towel"].times == len({w.lesson for w in come if w.step == "measure"})


def test_what_went_into_the_oven_cannot_be_started_afresh(timed: Plan) -> None:
    """All 18 are fired: no spares. One firing of them isn't: spares for its items alone."""
    fired = again(STUDY, timed, (), since=2)
    table = fired.timetable
    assert table is not None
    assert left_of(STUDY, fired).anew == ()
    assert spare_items(STUDY, fired, left_of(STUDY, fired)) == 0
    waits = next(work for work in table.works if work.step == "heat")
    over = tuple(at for at in table.over if table.works[at] != waits)
    some = fired.model_copy(update={"timetable": table.model_copy(update={"over": over})})
    left = left_of(STUDY, some)
    assert {row.item for row in left.anew} == {*waits.items}
    assert {left.fixed[item] for item in {*CODES} - {*waits.items}} == {"heat"}
    assert spare_items(STUDY, some, left) == spares(len(waits.items), 0.25)


def test_items_others_finish_are_on_their_trays(timed: Plan) -> None:
    clip = (Material(name="clip", amount=1),)
    steps = tuple(
        step.model_copy(update={"materials": clip if step.name == "close" else ()})
        for step in STUDY.steps
    )
    study = STUDY.model_copy(update={"steps": steps})
    team = timed.rows[0].groups["team"]
    mine = [row.item for row in timed.rows if row.groups["team"] == team]
    other = next(row.groups["team"] for row in timed.rows if row.groups["team"] != team)
    table = timetable_of(
        study, schedule_rest(study, timed, since=2, helpers=Helpers(dict.fromkeys(mine, other)))
    )
    handed = timed.model_copy(update={"timetable": table})
    (need,) = needs(study, handed, left_of(study, handed))
    assert (need.times, need.team) == (18, (3, 6))
