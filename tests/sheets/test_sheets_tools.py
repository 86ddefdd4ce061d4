"""Tools that each team has for itself: what is laid out, and what is printed once one is gone."""

from __future__ import annotations

import csv
import io

import pytest

from tests.classroom.bench import class_plan, class_study
from tests.remembered import words_of_pages
from trials.classroom.lessons import schedule, timetable_of
from trials.classroom.rest import schedule_rest
from trials.design.values import Missing, Plan
from trials.render.lesson_chart import LessonChart, LessonPlot, lesson_chart
from trials.sheets import Handouts, class_times, make_sheets
from trials.sheets.class_times import timetable
from trials.sheets.parts import Job
from trials.sheets.readers import pieces
from trials.study import Equipment
from trials.study.values import Study

BOTTLE = "small bottle of electrolyte with dropper"
GONE = 2


def words(handouts: Handouts, name: str) -> str:
    return " ".join(" ".join(words_of_pages(handouts.files[name])).split())


def rows(handouts: Handouts) -> list[list[str]]:
    return list(csv.reader(io.StringIO(handouts.files["materials.csv"].decode("utf-8-sig"))))


@pytest.fixture(scope="module")
def less(in_lessons: tuple[Study, Plan]) -> Plan:
    """Two of the six droppers are out of order from lesson 2 on."""
    study, plan = in_lessons
    table = timetable_of(study, schedule_rest(study, plan, since=2, fewer={"dropper": GONE}))
    assert table is not None
    missing = (Missing(equipment="dropper", pieces=GONE, since=2),)
    told = table.model_copy(update={"missing": missing, "since": 2})
    return plan.model_copy(update={"timetable": told})


@pytest.fixture(scope="module")
def shared(in_lessons: tuple[Study, Plan], less: Plan) -> Handouts:
    return make_sheets(in_lessons[0], less)


def test_as_many_are_laid_out_as_all_teams_have(printed: Handouts) -> None:
    """By hand: six teams with one dropper and two trays each, and two tweezers for the adult."""
    lesson, materials = words(printed, "lesson.pdf"), words(printed, "materials.pdf")
    for told in ("ropper: 6, 1 for each team", "ray: 12, 2 for each team"):
        assert told in lesson
        assert told in materials
    assert "meter, lamp and mask: 4" in lesson  # of the class
    assert "tweezers: 2 for the responsible adult" in materials
    assert "tweezers: 12, 2 for each team" in materials


def test_a_spreadsheet_has_each_number_by_itself(printed: Handouts) -> None:
    heads, *lines = rows(printed)
    at = [heads.index(name) for name in ("each team, fewest", "each team, most", "the class")]
    tools = [line for line in lines if line[0] == "equipment"]
    found = {(line[1], line[2]): [line[place] for place in at] for line in tools}
    assert found["tray", "Close the cell"] == ["2", "2", "12"]
    assert found["tweezers", "Lay the slides in their dye"] == ["", "", "2"]
    assert found["oven", "Fire the slides"] == ["", "", "1"]  # one for the class


def test_what_is_left_is_shared_by_the_teams(shared: Handouts) -> None:
    told = (
        "ropper: 4 (2 are out of order; number those that are left 1 to 4; the teams share what is "
        "left)"
    )
    assert told in words(shared, "lesson.pdf")
    assert told in words(shared, "materials.pdf")
    assert "ray: 12, 2 for each team" in words(shared, "lesson.pdf")
    (dropper,) = (line for line in rows(shared) if "dropper" in line[1])
    assert dropper[6:9] == ["", "", "4"]


def test_the_chart_shows_who_has_what_is_shared_and_not_what_is_a_teams_own(
    in_lessons: tuple[Study, Plan], less: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[list[str]] = []

    def seen(plot: LessonPlot) -> LessonChart:
        drawn.append([line.label for line in plot.lines])
        return lesson_chart(plot)

    monkeypatch.setattr(class_times, "lesson_chart", seen)
    study, plan = in_lessons
    for one in (plan, less):
        timetable(Job(study, one, "a4"))
    first, second, again = drawn
    meters = study.equipment[1].label
    assert "Dropper" not in (*first, *second)
    assert second[-1].casefold() == meters.casefold()
    assert [label.casefold() for label in again[-2:]] == [meters.casefold(), BOTTLE]


def test_pieces_of_a_team_are_numbered_for_itself() -> None:
    meters = (Equipment(name="oven", holds=6, together=True),)
    found = {}
    for count, per in ((2, "team"), (12, "class"), (1, "team")):
        meter = Equipment.model_validate({"name": "meter pair", "count": count, "per": per})
        study = class_study(equipment=(*meters, meter))
        plan = class_plan(study)
        table = timetable_of(study, schedule(study, plan, advise=False))
        job = Job(study, plan.model_copy(update={"timetable": table}), "a4")
        assert job.agenda is not None
        told = [pieces(job, part) for part in job.agenda.parts]
        found[count] = {number for one in told for numbers in one.values() for number in numbers}
    assert found[2] == {"meter pair 1", "meter pair 2"}
    assert len(found[12]) > 2
    assert found[1] == set()
