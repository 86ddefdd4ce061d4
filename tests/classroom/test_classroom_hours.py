"""Work between lessons goes on in the hours of the day, by the calendar and not by the minute."""

from __future__ import annotations

import datetime

import pytest

from tests.classroom.bench import class_plan, class_study
from tests.classroom.by_the_minute import faults
from trials.classroom.agenda import agenda_of
from trials.classroom.hours import open_spans
from trials.classroom.lessons import schedule, timetable_of
from trials.classroom.timetable import place
from trials.classroom.values import Room, Work
from trials.classroom.work import Job
from trials.design.values import Plan
from trials.errors import StudyError
from trials.study import Lessons, Step, Study, check_study

FRIDAY, MONDAY = "2030-05-17 10:15", "2030-05-20 10:15"


def timed(between: str, *starts: str) -> Study:
    return class_study(lessons=Lessons(minutes=50, starts=starts, between=between))


@pytest.fixture(scope="module")
def plan() -> Plan:
    return class_plan(class_study())


@pytest.mark.parametrize("between", ["08:00-17:00", "16:00-20:00", "00:00-24:00"])
def test_the_adult_works_in_the_hours_and_never_on_a_weekend(plan: Plan, between: str) -> None:
    study = timed(between, FRIDAY, MONDAY)
    found = schedule(study, plan, advise=False)
    assert found.placement.lessons == 2
    assert faults(found.job, found.room, found.placement) == []
    agenda = agenda_of(study, plan.model_copy(update={"timetable": timetable_of(study, found)}))
    assert agenda is not None
    begin, end = (datetime.time(int(text[:2]) % 24) for text in between.split("-"))
    fired = 0
    for part in agenda.parts:
        for turn in part.turns if part.between else ():
            fired += 1
            first, last = part.moment(turn.start), part.moment(turn.start + 49)  # 10 + 40 minutes
            assert first is not None
            assert last is not None
            assert first.date() == last.date()
            assert first.strftime("%A") in ("Friday", "Monday")
            assert begin <= first.time()
            assert last.time() < end or not end.hour
    assert fired == 3


def test_a_weekend_with_a_lesson_is_a_time_of_work(plan: Plan) -> None:
    study = timed("08:00-17:00", "2030-05-18 10:15", "2030-05-19 18:00")
    found = schedule(study, plan, advise=False)
    assert found.placement.lessons == 2
    assert faults(found.job, found.room, found.placement) == []


def test_lessons_too_close_for_the_hours_are_told_with_what_helps(plan: Plan) -> None:
    # one oven, three firings of 50 minutes: not in the two hours until five o'clock
    study = timed("08:00-17:00", "2030-05-14 14:10", "2030-05-14 18:00")
    found = schedule(study, plan)
    assert not found.placement.placed
    assert "hours" in {cure.kind for cure in found.cures}


def test_without_days_and_times_no_hours_are_known(plan: Plan) -> None:
    study = class_study(lessons=Lessons(minutes=50, between="08:00-09:00"))
    found = schedule(study, plan, advise=False)
    assert found.room.hours == ()
    assert found.placement.lessons == 2


@pytest.mark.parametrize("between", ["17:00-08:00", "in the evening", "08:00-25:00", "8-17"])
def test_hours_that_are_none_are_refused(between: str) -> None:
    lessons = Lessons(minutes=50, between=between)
    with pytest.raises(StudyError) as problem:
        check_study(class_study().model_copy(update={"lessons": lessons}))
    assert problem.value.code == "study.bad_hours"


def test_a_step_longer_than_the_hours_is_refused() -> None:
    steps = (Step(name="heat", minutes=90, when="between", by="the adult"),)
    lessons = Lessons(minutes=50, between="12:00-13:00")
    asked = class_study().model_copy(update={"steps": steps, "lessons": lessons, "equipment": ()})
    with pytest.raises(StudyError) as problem:
        check_study(asked)
    assert problem.value.code == "study.bad_hours"


@pytest.mark.parametrize(
    ("between", "firings", "begin"),
    [("08:00-17:00", 2, "20 08:00"), ("08:00-17:00", 1, "21 08:00"), ("08:00-09:00", 1, "21 08:00"),
     ("", 2, "20 10:15"), ("08:00-13:00", 4, "19 08:00")],
)  # fmt: skip
def test_what_is_not_done_yet_comes_on_the_last_days_before_the_lesson(
    between: str, firings: int, begin: str
) -> None:
    """Lessons on Tuesday 12 and Thursday 21 January 2027, 10:15; each firing takes two hours.

    By hand: on the Thursday there is time for one from 8:00 on, so two begin on the Wednesday; of
    four, a morning of five hours has time for two. Where no hours are said, the day before begins
    24 hours before the lesson. An adult who is there for an hour only is there for the ten
    minutes by hand, and it is over by 10:00.
    """
    first = datetime.datetime(2027, 1, 12, 10, 15)
    starts = (0, 9 * 1440)
    hours = open_spans(Lessons(minutes=50, between=between), first, starts) if between else ()
    works = [
        Work("fire", (str(n),), "adult", 10, waiting=110, between=True, places=(("oven", 1),),
             busy=("oven",))
        for n in range(firings)
    ]  # fmt: skip
    works += [Work("weigh", (str(n),), "a", 4, after=(n,)) for n in range(firings)]
    room = Room(starts, 50, 0, 0, {"adult": 1, "a": 1}, {"oven": 1}, hours)
    job = Job(tuple(works), (), ())
    placement = place(job, room, since=50)
    assert placement.placed
    assert faults(job, room, placement) == []
    told = sorted(slot.start for slot in placement.slots[:firings])
    expected = datetime.datetime.strptime(f"2027-01-{begin}", "%Y-%m-%d %H:%M")
    assert first + datetime.timedelta(minutes=told[0]) == expected


@pytest.mark.parametrize(
    ("clock", "keeps", "begin"),
    [("10:15", 1440, "16 08:00"), ("09:05", 1440, "16 08:00"), ("09:02", 1440, "15 09:06"),
     ("08:00", 1440, "15 08:04"), ("08:00", 960, "15 16:04")],
)  # fmt: skip
def test_what_keeps_until_the_lesson_is_done_in_a_row_with_time_to_spare(
    clock: str, keeps: int, begin: str
) -> None:
    """Tuesday 14 and Thursday 16 May 2030: four dishes, a minute each, ready an hour later.

    By hand: from 8:00 on that morning they are ready at 9:01 to 9:04; where the lesson begins
    earlier, they are made the day before. What is closed at 9:07 and keeps for a day is then too
    old if it was ready before 9:07, and has an hour to spare if it was begun at 9:06, ready at
    10:07. So with 8:05 and 8:04; with 16 hours ready at 17:05, begun at 16:04.
    """
    hour, minute = map(int, clock.split(":"))
    first = datetime.datetime(2030, 5, 14, hour, minute)
    starts = (0, 2 * 1440)
    hours = open_spans(Lessons(minutes=50, between="08:00-17:00"), first, starts)
    works = [Work("cut", (str(n),), "a", 4) for n in range(4)]
    works += [
        Work("soak", (str(n),), "adult", 1, waiting=60, keeps=keeps, between=True, after=(n,))
        for n in range(4)
    ]
    works += [Work("close", (str(n),), "a", 4, after=(4 + n,)) for n in range(4)]
    room = Room(starts, 50, 5, 5, {"adult": 1, "a": 4}, {}, hours)
    job = Job(tuple(works), (), ())
    placement = place(job, room)
    assert placement.placed
    assert faults(job, room, placement) == []
    told = sorted(slot.start for slot in placement.slots[4:8])
    assert told == list(range(told[0], told[0] + 4))  # in a row
    expected = datetime.datetime.strptime(f"2030-05-{begin}", "%Y-%m-%d %H:%M")
    assert first + datetime.timedelta(minutes=told[0]) == expected
    slack = [later.start - one.start - 61 for one, later in
             zip(placement.slots[4:8], placement.slots[8:], strict=True)]  # fmt: skip
    assert all(5 <= lying <= keeps - 60 for lying in slack)
