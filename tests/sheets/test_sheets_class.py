"""The timetable of a class on paper, against the plan's own works read without its code."""

from __future__ import annotations

import datetime
import io
import re

import pytest
from pypdf import PdfReader

from tests.papers import faults
from tests.remembered import forget_pages
from tests.sheets.class_pages import DAYS, at, clock, latest, pages, readers, works
from trials.classroom.lessons import timetable_of
from trials.classroom.rest import schedule_rest
from trials.design.values import Plan
from trials.render.typeset import Paper
from trials.sheets import Handouts, make_sheets
from trials.sheets.class_times import minute_lines
from trials.sheets.measuring import planned
from trials.sheets.parts import Job
from trials.study.values import Lessons, Study
from trials.words import class_times, logbook
from trials.words.forbidden import find_forbidden


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
        does = readers(plan) if step == "measure" else team
        teams: dict[str, list[str]] = {}
        for work in mine:
            if (work.start, work.step) == (start, step):
                assert {does[item] for item in work.items} == {work.crew}
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
        first = next(
            n for n, p in enumerate(text) if p.startswith(f"Lesson {lesson}, {day}, 10:15")
        )
        page, place = " ".join(text[first:]), 0  # a long table goes on over the page
        for line in lines_of(study, plan, lesson):
            place = page.index(line, place)
    minutes = {clock(at(work)) for work in works(plan) if not work.between}
    for minute in minutes:
        assert any(re.search(rf"(?<!\d){minute}(?!\d)", page) for page in text)


def test_waiting_that_is_ended_by_hand_has_a_line_at_its_end(
    in_lessons: tuple[Study, Plan], printed: Handouts
) -> None:
    """3 minutes of brewing, then 5 until the pieces are taken out: 8 after it begins."""
    text = " ".join(pages(printed, "timetable.pdf"))
    told = "3. Brew the dye take the pieces out, cover the dish"
    begun = {clock(at(work)): work for work in works(in_lessons[1]) if work.step == "brew"}
    lines = re.findall(rf"{re.escape(told)} \(begun at (\d+:\d\d)\)", text)
    assert sorted(lines) == sorted(begun)
    for minute, work in begun.items():
        over = clock(at(work) + datetime.timedelta(minutes=8))
        line = re.escape(f"{told} (begun at {minute})")
        # a time that stands beside several lines is read after the first of them
        assert re.search(rf" {over} {line}|{line} ?{over}", text)
    assert "take the pieces out, cover" in pages(printed, "lesson.pdf")[0]
    assert "take the pieces out, cover" not in pages(printed, "lesson.pdf")[1]


def test_each_lesson_says_when_all_is_done_and_what_is_left_over(
    in_lessons: tuple[Study, Plan], printed: Handouts
) -> None:
    """The last minute of work of each lesson, from the works; 5 minutes are for clearing up."""
    for lesson, begins in enumerate(("10:15", "10:15"), 1):
        ends = [
            work.start + work.minutes + (5 if work.step == "brew" else 0)
            for work in works(in_lessons[1])
            if work.lesson == lesson and not work.between
        ]
        over = datetime.datetime.strptime(begins, "%H:%M") + datetime.timedelta(minutes=max(ends))
        told = f"All is done at {clock(over)}, {50 - 5 - max(ends)} minutes before clearing up."
        assert told in pages(printed, "lesson.pdf")[lesson - 1]
        assert told in " ".join(pages(printed, "timetable.pdf"))


def test_where_the_study_does_not_say_what_is_done_then_the_line_says_that_it_goes_on(
    in_lessons: tuple[Study, Plan],
) -> None:
    study, plan = in_lessons
    steps = [
        step.model_copy(update={"ended_by_hand": True}) if step.name == "brew" else step
        for step in study.steps
    ]
    job = Job(study.model_copy(update={"steps": tuple(steps)}), plan, "a4")
    assert job.agenda is not None
    part = next(part for part in job.agenda.parts if not part.between)
    told = [line[2] for line in minute_lines(job, job.agenda, part, codes=True) if len(line) > 2]
    ends = [line for line in told if "waiting is over" in line]
    assert ends[0].startswith("waiting is over: go on with what began at 10:")
    assert not any("pieces" in line for line in told)


def test_what_is_done_between_stands_below_its_heading(handed_out: Handouts) -> None:
    found = [page for page in pages(handed_out, "timetable.pdf") if "Between lessons" in page]
    assert len(found) == 1
    assert found[0].index("Between lessons") < found[0].index("firing F1")


def test_what_the_adult_does_between_is_told_with_day_order_and_minutes(
    in_lessons: tuple[Study, Plan], handed_out: Handouts
) -> None:
    study, plan = in_lessons
    text = " ".join(pages(handed_out, "timetable.pdf"))
    fired = sorted((w for w in works(plan) if w.step == "heat"), key=lambda w: w.start)
    assert len(fired) == 4
    for number, work in enumerate(fired, 1):
        assert f"{number} {DAYS[at(work).weekday()]} {clock(at(work))} 4. Fire the slides" in text
        assert f"{work.group}: {', '.join(work.items)} 10 min 1 h 50 min" in text
    soaked = sorted((w for w in works(plan) if w.step == "soak"), key=lambda w: w.start)
    assert f"5 {DAYS[at(soaked[0]).weekday()]} {clock(at(soaked[0]))}" in text
    assert ", ".join(work.items[0] for work in soaked) in text
    adult = text[text.index("Between lessons") : text.index("Lesson 2, ")]
    for step in study.steps:
        here = {work.step for work in works(plan) if work.between}
        told = (step.text, *(caution.text for caution in step.cautions))
        for one in told if step.name in here else ():
            assert "".join(one.split()) in "".join(adult.split())
    assert adult.count(class_times.WAIT_UNTIL_READY) == 1
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
    # 10 minutes to carry the slides to the oven, then the first firing of 2 h
    assert any("10 min after lesson 1 4. Fire the slides" in page for page in text)
    assert any("2 h 10 min after lesson 1 4. Fire the slides" in page for page in text)
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
    forget_pages()
    assert make_sheets(*in_lessons).files == printed.files


def test_no_page_for_students_has_a_word_they_should_not_meet(handed_out: Handouts) -> None:
    for name in ("timetable.pdf", "lesson.pdf", "logbook.pdf"):
        for page in pages(handed_out, name):
            assert find_forbidden(page) == ()


def test_each_team_finds_when_each_of_its_steps_begins(
    in_lessons: tuple[Study, Plan], handed_out: Handouts
) -> None:
    study, plan = in_lessons
    text = pages(handed_out, "making-sheets.pdf")
    of = {(work.step, item): work for work in works(plan) for item in work.items}
    reads, makes = readers(plan), {row.item: row.groups["team"] for row in plan.rows}
    where = planned(Job(study, plan, "a4"))
    labels = {step.name: step.label for step in study.steps}
    parts = (("clean", "coat", "brew"), ("heat", "soak"), ("close", "measure"))
    assert {step for part in parts for step in part} == {step.name for step in study.steps}
    for team in plan.groups[0].members:
        page = next(p for p in text if f"Making sheet: team {team}" in p)
        assert "The times count, also where 'Order' says otherwise." in page
        place = page.index("When each step begins")
        own = [row.item for row in plan.rows if row.groups["team"] == team]
        for part in parts:  # here each step is done in one lesson only
            begun = {step: {item: at(of[step, item]) for item in own} for step in part}
            columns = sorted(part, key=lambda step: min(begun[step].values()))
            for step in columns:
                place = page.index(labels[step], place)
                if step == "brew":  # a waiting that somebody ends by hand
                    place = page.index("take the pieces out, cover the dish", place)
            for item in sorted(own, key=lambda item: min(begun[step][item] for step in part)):
                line = item
                for step in columns:
                    moment = begun[step][item]
                    day = f"{DAYS[moment.weekday()]} " if of[step, item].between else ""
                    line += f" {day}{clock(moment)}"
                    if step == "brew":  # 3 minutes of work, then 5 in the dish
                        line += f" {clock(moment + datetime.timedelta(minutes=3 + 5))}"
                    if step == "measure":
                        line += f" ({reads[item]} reads) {latest(plan, item)}"
                place = page.index(line, place)
        (told,) = re.findall(r"You read for (\w+): ([^.]*)\.", page)
        mine = {item: clock(at(of["measure", item])) for item in makes if reads[item] == team}
        assert set(told[1].split(", ")) == {
            f"{begins} {item} ({where[item].lines[2]})" for item, begins in mine.items()
        }
        assert "Go there in twos: one reads, one writes." in page
        assert "Too late for 'at the latest'? Do it all the same" in page
        assert {plan.row(item).groups["team"] for item in mine} == {told[0]}
        assert "Make 4 cells: go by the times below." in page


def test_a_step_in_two_lessons_has_a_column_in_each(in_lessons: tuple[Study, Plan]) -> None:
    study, plan = in_lessons
    assert plan.timetable is not None
    moved = plan.rows[0].item  # its dye is brewed in lesson 2 instead
    later = tuple(
        work.model_copy(update={"lesson": 2, "start": 7})
        if (work.step, work.items) == ("brew", (moved,))
        else work
        for work in works(plan)
    )
    table = plan.timetable.model_copy(update={"works": later})
    handouts = make_sheets(study, plan.model_copy(update={"timetable": table}))
    team = plan.rows[0].groups["team"]
    text = " ".join(pages(handouts, "making-sheets.pdf")).split(f"sheet: team {team}")[1]
    times = text[text.index("When each step begins") : text.index("The same for all")]
    assert times.count("3. Brew the dye") == 2
    first, second = times.split("Lesson 2, ")
    assert re.search(rf" {moved} \d+:\d+ \d+:\d+ – – ", first)
    assert " 10:22 " in re.split(r" [A-Z0-9]{3} ", second.split(moved)[1])[0] + " "


def test_what_can_wait_and_what_cant_is_told(
    in_lessons: tuple[Study, Plan], printed: Handouts
) -> None:
    """Cells lie at most 10 minutes before they are measured, a day in the dye: 'keeps'."""
    study, plan = in_lessons
    before, first = (pages(printed, "timetable.pdf")[at] for at in (0, -1))
    # all slides are fired after lesson 1, and the pieces are taken out of the dye in it
    assert "misses 'Fire the slides', done before the next one" in before
    assert "can wait until the next lesson" not in before
    assert "and its 5 min, take the pieces out, cover the dish. Start nothing" in before
    assert "begins within 24 h" not in before
    assert "This is the last lesson: what isn't done at its end needs one lesson more" in first
    assert "next lesson" not in first
    best = class_times.BEST  # for the teacher alone
    assert [best in page for page in pages(printed, "lesson.pdf")] == [False, True]
    assert not any(best in page for page in pages(printed, "timetable.pdf"))
    assert "after 'Close the cell' and its 2 min, 'Measure the cell' begins within 10 min" in first
    assert "'Close the cell' begins within 24 h" in first
    assert "no harm" not in first
    free = tuple(
        step.model_copy(update={"keeps": None, "ended_by_hand": False}) for step in study.steps
    )
    kept = make_sheets(study.model_copy(update={"steps": free}), plan)
    assert not any("can't wait" in page for page in pages(kept, "timetable.pdf"))


def test_between_lessons_far_apart_days_have_their_dates(
    in_lessons: tuple[Study, Plan],
) -> None:
    """With nine days between two lessons a Wednesday would come twice; with two it doesn't."""
    study, plan = in_lessons
    assert study.lessons is not None
    starts = ("2027-01-12 10:15", "2027-01-21 10:15")
    far = study.model_copy(update={"lessons": study.lessons.model_copy(update={"starts": starts})})
    rest = schedule_rest(far, plan, since=2, open_steps=("heat",))
    table = timetable_of(far, rest)
    assert table is not None
    again = plan.model_copy(update={"timetable": table.model_copy(update={"since": 2})})
    printed = make_sheets(far, again)
    told = " ".join(pages(printed, "timetable.pdf"))
    narrow = " ".join(pages(printed, "making-sheets.pdf"))
    # by hand: four firings of two hours take from 8:00 to 16:00, on the day before the lesson
    for hour in (8, 10, 12, 14):
        assert f"Wednesday 20 January, {hour}:00 4. Fire the slides" in told
        assert f"Wed 20 Jan, {hour}:00" in narrow
    assert "Thursday 21 January, 8:00" in told
    assert not any(f"{day} {hour}:" in told + narrow for day in DAYS for hour in range(7, 18))


def test_logbook_pages_are_numbered_dated_and_of_one_team_and_lesson(
    in_lessons: tuple[Study, Plan], handed_out: Handouts
) -> None:
    _, plan = in_lessons
    text = pages(handed_out, "logbook.pdf")
    teams = plan.groups[0].members
    assert len(text) == 2 * len(teams)
    for place, page in enumerate(text):
        team, lesson = teams[place // 2], 1 + place % 2
        assert page.startswith(f"Team {team}: lesson {lesson}")
        assert f"Logbook page {place + 1} of 12" in page
        assert "Date" in page
        assert all(rule in page for rule in logbook.RULES)
        mine = {row.item for row in plan.rows if row.groups["team"] == team}
        read = {item for item, who in readers(plan).items() if who == team and lesson == 2}
        assert {row.item for row in plan.rows if f" {row.item} " in page} == mine | read
        assert all(f" {i} (team {plan.row(i).groups['team']}) M" in page for i in read)


def test_a_logbook_without_times_goes_by_team_and_session(cells: tuple[Study, Plan]) -> None:
    text = pages(make_sheets(*cells), "logbook.pdf")
    assert len(text) == 12
    assert text[0].startswith("Team alder, session 1 Logbook page 1 of 12")


@pytest.mark.parametrize("name", ["timetable.pdf", "lesson.pdf", "logbook.pdf"])
def test_pages_fit_the_paper_and_are_tagged(in_lessons: tuple[Study, Plan], name: str) -> None:
    # ISO 216 and ANSI/ASME Y14.1
    for paper, size in (("a4", (210.0, 297.0)), ("us-letter", (215.9, 279.4))):
        chosen: Paper = "a4" if paper == "a4" else "us-letter"
        content = make_sheets(*in_lessons, paper=chosen).files[name]
        reader = PdfReader(io.BytesIO(content))
        assert faults(content) == []
        for page in reader.pages:
            sides = (page.mediabox.width, page.mediabox.height)
            found = tuple(float(side) * 25.4 / 72 for side in sides)
            assert found == pytest.approx(size, abs=0.1)


def test_what_begins_at_one_time_stays_on_one_page(in_lessons: tuple[Study, Plan]) -> None:
    """Three steps begin in every second minute, so that each lesson takes several pages."""
    study, plan = in_lessons
    assert plan.timetable is not None
    starts = dict.fromkeys(("clean", "coat", "brew", "close", "measure"), 0)
    moved = []
    for work in works(plan):
        start = work.start
        if not work.between:
            start = 5 + 2 * starts[work.step] % 38
            starts[work.step] += 1
        moved.append(work.model_copy(update={"start": start}))
    table = plan.timetable.model_copy(update={"works": tuple(moved)})
    crowded = plan.model_copy(update={"timetable": table})
    for paper in ("a4", "us-letter"):
        chosen: Paper = "a4" if paper == "a4" else "us-letter"
        text = pages(make_sheets(study, crowded, paper=chosen), "timetable.pdf")
        head = "Begins Step Who, with which code "  # again on each page that the table goes on to
        goes_on = [page for page in text if page.startswith(head)]
        assert goes_on
        for page in text:
            for steps in (("1. Wash", "2. Coat", "3. Brew"), ("6. Close", "M. Measure")):
                rows = page.replace("3. Brew the dye take", "").split("Begins Step ")[
                    1:
                ]  # below the chart, which names steps, too
                assert len({" ".join(rows).count(step) for step in steps}) == 1
        assert not any(page.split(" Two lessons: ")[0].endswith(head.strip()) for page in text)


def test_each_team_has_a_page_of_lists_and_a_page_of_steps(
    in_lessons: tuple[Study, Plan], handed_out: Handouts
) -> None:
    """A page to sign, two for each of six teams, two of cards; no step alone on a third page."""
    study = in_lessons[0]
    text = pages(handed_out, "making-sheets.pdf")
    assert len(text) == 1 + 2 * 6 + 2
    for lists, steps in zip(text[1:13:2], text[2:13:2], strict=True):
        assert lists.startswith("Making sheet: team ")
        assert "When each step begins" in lists
        places = [steps.index(f"{n}. {s.label}") for n, s in enumerate(study.steps[:6], 1)]
        assert places == sorted(places)
