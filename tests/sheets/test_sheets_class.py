"""The timetable of a class on paper, against the plan's own works read without its code."""

from __future__ import annotations

import datetime
import io
import re

import pytest
from pypdf import PdfReader

from trials.design.values import Plan, PlannedWork
from trials.render.typeset import Paper
from trials.sheets import Handouts, make_sheets
from trials.study.values import Lessons, Study
from trials.words import class_times
from trials.words.forbidden import find_forbidden

BEGINS = {1: datetime.datetime(2030, 5, 14, 10, 15), 2: datetime.datetime(2030, 5, 16, 10, 15)}
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def pages(handouts: Handouts, name: str) -> list[str]:
    reader = PdfReader(io.BytesIO(handouts.files[name]))
    return [" ".join(page.extract_text().replace("\u200b", "").split()) for page in reader.pages]


def works(plan: Plan) -> tuple[PlannedWork, ...]:
    assert plan.timetable is not None
    return plan.timetable.works


def at(work: PlannedWork) -> datetime.datetime:
    """Return when a work begins, from what the plan says of lessons of 50 minutes."""
    begin = BEGINS[work.lesson]
    if work.between:
        begin = BEGINS[work.lesson - 1] + datetime.timedelta(minutes=50)
    return begin + datetime.timedelta(minutes=work.start)


def clock(moment: datetime.datetime) -> str:
    return f"{moment.hour}:{moment.minute:02d}"


@pytest.fixture(scope="module", params=["a4", "us-letter"])
def handed_out(request: pytest.FixtureRequest, in_lessons: tuple[Study, Plan]) -> Handouts:
    paper: Paper = request.param
    return make_sheets(*in_lessons, paper=paper)


@pytest.fixture(scope="module")
def printed(in_lessons: tuple[Study, Plan]) -> Handouts:
    return make_sheets(*in_lessons)


def untimed(study: Study) -> Study:
    """Return the study without days and times of its lessons."""
    lessons = Lessons(minutes=50, count=2, apart=48, students=30)
    return study.model_copy(update={"lessons": lessons})


def lines_of(study: Study, plan: Plan, lesson: int) -> list[str]:
    """Return what each line of a lesson's table must say, made from the plan's works alone."""
    number = {step.name: str(n) for n, step in enumerate(study.steps, 1)} | {"measure": "M"}
    labels = {step.name: step.label for step in study.steps}
    mine = [w for w in works(plan) if w.lesson == lesson and not w.between]
    keys = sorted({(w.start, list(labels).index(w.step), w.step) for w in mine})
    team = {row.item: row.groups["team"] for row in plan.rows}
    found = []
    for start, _, step in keys:
        teams: dict[str, list[str]] = {}
        for work in mine:
            if (work.start, work.step) == (start, step):
                assert {team[item] for item in work.items} == {work.crew}
                teams.setdefault(work.crew, []).extend(work.items)
        order = "measure" if step == "measure" else "run"
        who = "; ".join(
            f"{name}: {', '.join(sorted(teams[name], key=lambda i: getattr(plan.row(i), order)))}"
            for name in sorted(teams)
        )
        found.append(f"{number[step]}. {labels[step]} {who}")
    return found


def test_each_lesson_has_a_page_with_all_that_begins(
    in_lessons: tuple[Study, Plan], handed_out: Handouts
) -> None:
    study, plan = in_lessons
    text = pages(handed_out, "timetable.pdf")
    for lesson, day in ((1, "Tuesday 14 May 2030"), (2, "Thursday 16 May 2030")):
        page = next(p for p in text if p.startswith(f"Lesson {lesson}, {day}, 10:15"))
        place = 0
        for line in lines_of(study, plan, lesson):
            place = page.index(line, place)
    minutes = {clock(at(work)) for work in works(plan) if not work.between}
    for minute in minutes:
        assert any(re.search(rf"(?<!\d){minute}(?!\d)", page) for page in text)


def test_what_the_adult_does_between_is_told_with_day_order_and_minutes(
    in_lessons: tuple[Study, Plan], handed_out: Handouts
) -> None:
    _, plan = in_lessons
    text = " ".join(pages(handed_out, "timetable.pdf"))
    fired = sorted((w for w in works(plan) if w.step == "heat"), key=lambda w: w.start)
    assert len(fired) == 4
    for number, work in enumerate(fired, 1):
        assert f"{number} {DAYS[at(work).weekday()]} {clock(at(work))} 4. Fire the slides" in text
        assert f"{work.group}: {', '.join(work.items)} 10 min 1 h 50 min" in text
    soaked = sorted((w for w in works(plan) if w.step == "soak"), key=lambda w: w.start)
    assert f"5 {DAYS[at(soaked[0]).weekday()]} {clock(at(soaked[0]))}" in text
    assert ", ".join(work.items[0] for work in soaked) in text
    # by hand: four firings of 10 minutes and 24 slides of 1 minute
    assert "Work in all: 64 min" in text


def test_without_days_minutes_are_told(in_lessons: tuple[Study, Plan]) -> None:
    study, plan = in_lessons
    table = works(plan)
    assert plan.timetable is not None
    bare = plan.model_copy(update={"timetable": plan.timetable.model_copy(update={"starts": ()})})
    text = pages(make_sheets(untimed(study), bare), "timetable.pdf")
    first = min(w.start for w in table if w.lesson == 1)
    assert first == 5
    assert text[0].startswith("Lesson 1 Versions")
    assert "minute 5 1. Wash the glass" in text[0]
    assert any("2 h after lesson 1 4. Fire the slides" in page for page in text)
    assert not any("10:20" in page for page in text)


def test_a_plan_without_times_keeps_its_page_of_sums(in_lessons: tuple[Study, Plan]) -> None:
    study, plan = in_lessons
    text = pages(make_sheets(study, plan.model_copy(update={"timetable": None})), "timetable.pdf")
    assert text[0].startswith("Order and times")


def test_times_of_steps_that_were_changed_since_are_not_printed(
    in_lessons: tuple[Study, Plan],
) -> None:
    study, plan = in_lessons
    slower = tuple(
        step.model_copy(update={"minutes": 9}) if step.name == "coat" else step
        for step in study.steps
    )
    handouts = make_sheets(study.model_copy(update={"steps": slower}), plan)
    text = pages(handouts, "timetable.pdf")
    assert class_times.STALE in text[0]
    assert text[0].startswith("Order and times")


def test_the_same_plan_gives_the_same_bytes(
    in_lessons: tuple[Study, Plan], printed: Handouts
) -> None:
    assert make_sheets(*in_lessons).files == printed.files


def test_no_page_for_students_has_a_word_they_should_not_meet(handed_out: Handouts) -> None:
    for name in ("timetable.pdf",):
        for page in pages(handed_out, name):
            assert find_forbidden(page) == ()
