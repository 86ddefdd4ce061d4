"""Between lessons a flame and what catches fire are never out at one time, waiting and all."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.classroom.bench import class_plan, class_study
from tests.classroom.by_the_minute import faults
from trials.classroom.hazards import at_one_time
from trials.classroom.lessons import schedule, timetable_of
from trials.classroom.rest import schedule_rest
from trials.classroom.timetable import most_items, place
from trials.classroom.values import Placement, Room, Slot, Work
from trials.classroom.work import Job
from trials.service.safety_text import safety_lines
from trials.study import Equipment, Lessons, Step

# one lesson of 10 minutes, then 10 to 30 are between lessons, and one of 10 more
CREWS = {"a": 1, "b": 1, "one": 1, "two": 1}


def _job(first: Work, second: Work) -> Job:
    works: list[Work] = []
    for item, middle in (("a", first), ("b", second)):
        works += [
            Work("s", (item,), item, 1),
            Work(middle.step, (item,), middle.crew, middle.minutes, waiting=middle.waiting,
                 between=True, after=(len(works),), flame=middle.flame,
                 flammable=middle.flammable),
            Work("t", (item,), item, 1, after=(len(works) + 1,)),
        ]  # fmt: skip
    return Job(tuple(works), (), ())


def _flame(minutes: int, waiting: int = 0) -> Work:
    return Work("fire", ("a",), "one", minutes, waiting=waiting, flame=True)


def _liquid(minutes: int, waiting: int = 0) -> Work:
    return Work("rinse", ("b",), "two", minutes, waiting=waiting, flammable=True)


@given(
    st.integers(1, 9), st.integers(0, 6), st.integers(1, 9), st.integers(0, 6), st.integers(14, 30)
)
@settings(derandomize=True, max_examples=60, deadline=None)
def test_it_fits_just_when_some_pair_of_minutes_keeps_them_apart(
    burns: int, glows: int, pours: int, stands: int, closes: int
) -> None:
    """Both begin between minute 10 and ``closes``, and each pair of minutes is tried."""
    job = _job(_flame(burns, glows), _liquid(pours, stands))
    room = Room((0, 60), 10, 0, 0, CREWS, {}, ((10, closes),))
    found = place(job, room, spread=False)
    ways = [
        (one, two)
        for one, two in itertools.product(range(10, closes), repeat=2)
        if one + burns <= closes and two + pours <= closes
        and (one + burns + glows <= two or two + pours + stands <= one)
    ]  # fmt: skip
    assert found.placed is bool(ways)
    if found.placed:
        assert faults(job, room, found) == []


@pytest.mark.parametrize(("end", "fits"), [(18, 2), (17, 1)])
def test_of_the_two_one_is_left_out_where_there_is_no_time_for_both(end: int, fits: int) -> None:
    """By hand: 5 minutes of pouring from minute 10 on, then 3 of the flame; it may glow alone."""
    job = _job(_flame(3, 2), _liquid(5))
    room = Room((0, 60), 10, 0, 0, CREWS, {}, ((10, end),))
    found = most_items(job, room)
    assert (len(found.kept), found.bound) == (fits, fits)


def test_the_checker_sees_what_the_timetable_must_not_do() -> None:
    job = _job(_flame(3), _liquid(2, waiting=4))
    room = Room((0, 60), 10, 0, 0, CREWS)
    for rinse, beside in ((13, False), (14, True), (18, True), (21, True), (22, False)):
        starts = ((0, 0), (19, 1), (60, 1), (0, 0), (rinse, 1), (60, 1))  # the flame until 22
        placed = Placement("found", tuple(Slot(at, lesson) for at, lesson in starts))
        told = faults(job, room, placed)
        assert any("a flame burns" in one for one in told) is beside


def test_what_stands_open_until_the_next_lesson_keeps_the_flame_out_of_it() -> None:
    """Poured in lesson 1 and open for 100 minutes: the flame of lesson 2 waits for lesson 3."""
    works = (
        Work("rinse", ("a",), "a", 1, waiting=100, flammable=True),
        Work("fire", ("b",), "b", 1, flame=True, after=(2,)),
        Work("s", ("b",), "b", 10),
    )
    room = Room((0, 60, 120), 10, 0, 0, CREWS)
    found = place(Job(works, (), ()), room)
    assert faults(Job(works, (), ()), room, found) == []
    assert {slot.lesson for slot in found.slots[:2]} == {0, 2}


BETWEEN = (
    Step(name="coat", minutes=5),
    Step(name="fire", minutes=10, waiting=10, when="between", by="the adult",
         equipment=("burner",)),
    Step(name="rinse", minutes=2, waiting=30, when="between", by="the helper", flammable=True),
    Step(name="measure", minutes=4, stage="measure"),
)  # fmt: skip
BURNER = (Equipment(name="burner", holds=1, flame=True),)


def test_a_class_whose_adults_fire_and_rinse_between_lessons() -> None:
    study = class_study(steps=BETWEEN, equipment=BURNER, lessons=Lessons(minutes=50))
    plan = class_plan(study)
    found = schedule(study, plan, advise=False)
    assert found.placement.placed
    assert faults(found.job, found.room, found.placement) == []
    timed = plan.model_copy(update={"timetable": timetable_of(study, found)})
    again = schedule_rest(study, timed, since=2, gone=[plan.rows[0].item], open_steps=("fire",))
    assert again.placement.placed
    assert faults(again.job, again.room, again.placement) == []


def test_a_timetable_from_before_is_found_out_and_placed_again() -> None:
    """Drawn when nothing was known of the flame: both adults begin at once."""
    calm = class_study(
        steps=BETWEEN,
        equipment=(Equipment(name="burner", holds=1, flame=False),),
        lessons=Lessons(minutes=50),
    )
    study = class_study(steps=BETWEEN, equipment=BURNER, lessons=Lessons(minutes=50))
    plan = class_plan(study)
    old = plan.model_copy(
        update={"timetable": timetable_of(calm, schedule(calm, plan, advise=False))}
    )
    assert at_one_time(calm, old) == ()
    assert at_one_time(study, old) == ((2, "fire"),)
    told = safety_lines(study, old, Path("cups"))[0]
    assert told.startswith("Stop: right before lesson 2")
    assert told.endswith("trials lessons cups --since 2 --not-yet fire")
    found = schedule_rest(study, old, since=2, open_steps=("fire",))
    new = plan.model_copy(update={"timetable": timetable_of(study, found)})
    assert at_one_time(study, new) == ()
