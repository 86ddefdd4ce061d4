"""The timetable of a class on paper, against the plan's own works read without its code."""

from __future__ import annotations

import datetime
import io
import re
from collections import Counter

import pytest
from pypdf import PdfReader

from tests.papers import faults
from tests.remembered import forget_pages, words_of_pages
from trials.classroom.agenda import agenda_of
from trials.classroom.lessons import timetable_of
from trials.classroom.rest import schedule_rest
from trials.design.values import Plan, PlannedWork
from trials.render.typeset import Paper
from trials.sheets import Handouts, make_sheets
from trials.sheets.class_times import minute_lines
from trials.sheets.lesson import lesson_pages
from trials.sheets.measuring import measuring_sheets, parted_by, planned
from trials.sheets.parts import Job
from trials.study.values import Caution, Lessons, Study
from trials.words import cautions, class_times, logbook, teaching
from trials.words.forbidden import find_forbidden

BEGINS = {1: datetime.datetime(2030, 5, 14, 10, 15), 2: datetime.datetime(2030, 5, 16, 10, 15)}
LAST = datetime.timedelta(minutes=50 - 5 - 4)
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def pages(handouts: Handouts, name: str) -> list[str]:
    return list(words_of_pages(handouts.files[name]))


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


def readers(plan: Plan) -> dict[str, str]:
    """Return who reads each item: the team after the one that made it, in a ring."""
    teams = plan.groups[0].members
    after = dict(zip(teams, (*teams[1:], teams[0]), strict=True))
    return {row.item: after[row.groups["team"]] for row in plan.rows}


def latest(plan: Plan, item: str) -> str:
    """Return by when a cell is measured: 4 minutes of closing, 2 of waiting, and 10 that it keeps.

    Measuring takes 4 minutes, and the last 5 of 50 are for clearing up.
    """
    (closed,) = (at(w) for w in works(plan) if w.step == "close" and w.items == (item,))
    return clock(min(closed + datetime.timedelta(minutes=4 + 2 + 10), BEGINS[2] + LAST))


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


def measured_by(plan: Plan, who: dict[str, str]) -> Plan:
    """Return the plan with others in whose line the measuring of each item stands."""
    assert plan.timetable is not None
    others = tuple(
        work.model_copy(update={"crew": who[work.items[0]]}) if work.step == "measure" else work
        for work in works(plan)
    )
    return plan.model_copy(
        update={"timetable": plan.timetable.model_copy(update={"works": others})}
    )


def test_who_reads_for_whom_is_said_where_it_is_measured(
    in_lessons: tuple[Study, Plan], printed: Handouts
) -> None:
    study, plan = in_lessons
    told = (
        "M, measuring: the team in whose line it stands reads, and hasn't seen the making sheet of "
        "the cell. Another team made it, or finished it, and hands it over. Who reads: brook for "
        "ridge; cliff for brook; dune for cliff; fjord for dune; marsh for fjord; ridge for marsh."
    )
    for name in ("timetable.pdf", "lesson.pdf"):
        said = [page for page in pages(printed, name) if told in page]
        assert [page[:8] for page in said] == ["Lesson 2"]
    helped = measured_by(plan, dict.fromkeys(readers(plan), "the helper"))
    text = " ".join(pages(make_sheets(study, helped), "timetable.pdf"))
    assert "M. Measure the cell the helper: " in text
    assert "nother team" not in text


def test_an_older_timetable_with_measuring_beside_the_makers_is_told_as_it_is(
    in_lessons: tuple[Study, Plan],
) -> None:
    study, plan = in_lessons
    makers = {row.item: row.groups["team"] for row in plan.rows}
    handouts = make_sheets(study, measured_by(plan, makers))
    told = (
        "M, measuring, stands in the line of a team that made or finished the cell. If another "
        "team is there, let somebody of it read."
    )
    for name in ("timetable.pdf", "lesson.pdf"):
        assert [page[:8] for page in pages(handouts, name) if told in page] == ["Lesson 2"]
        assert "Who reads: " not in " ".join(pages(handouts, name))
    assert "You read " not in " ".join(pages(handouts, "making-sheets.pdf"))
    mixed = makers | {plan.rows[0].item: readers(plan)[plan.rows[0].item]}
    text = " ".join(pages(make_sheets(study, measured_by(plan, mixed)), "timetable.pdf"))
    (codes,) = re.findall(r"M, measuring, of (.*?) stands in the line of a team that made", text)
    assert set(re.findall(r"\w+", codes)) - {"and"} == makers.keys() - {plan.rows[0].item}


def test_what_is_done_between_stands_below_its_heading(handed_out: Handouts) -> None:
    found = [page for page in pages(handed_out, "timetable.pdf") if "Between lessons" in page]
    assert len(found) == 1
    assert found[0].index("Between lessons") < found[0].index("firing F1")


def test_the_first_page_to_measure_on_has_room_for_several(
    in_lessons: tuple[Study, Plan], handed_out: Handouts
) -> None:
    first = pages(handed_out, "measuring-sheets.pdf")[0].split()
    assert sum(row.item in first for row in in_lessons[1].rows) >= 3


def parts_of(handouts: Handouts) -> dict[str, list[str]]:
    """Return the pages of the measuring sheets by what stands behind 'Measuring sheet:'."""
    found: dict[str, list[str]] = {}
    for page in pages(handouts, "measuring-sheets.pdf"):
        title = re.match(r"Measuring sheet: (.*?) \d+ cells?, ", page)
        if title is not None:
            found[title[1]] = []
        found[[*found][-1]].append(page)
    return found


def test_each_meter_pair_has_a_measuring_sheet_of_two_pages_in_the_order_of_time(
    in_lessons: tuple[Study, Plan], handed_out: Handouts
) -> None:
    """By hand: four pairs read six cells each; each cell stands on the sheet of its own pair."""
    _, plan = in_lessons
    found = parts_of(handed_out)
    assert [*found] == [f"meter pair {n}" for n in range(1, 5)]
    begun = {work.items[0]: at(work) for work in works(plan) if work.step == "measure"}
    seen: list[str] = []
    for pair, papers in found.items():
        assert len(papers) == 2
        text = " ".join(papers)
        lines = re.findall(r"(\d+) (\w{3}) \w+ (\d+:\d+), by \d+:\d+ \w+ (meter pair \d)", text)
        assert len(lines) == 6
        assert [code for _, code, *_ in lines] == sorted(
            (code for _, code, *_ in lines), key=begun.__getitem__
        )
        for order, code, begins, piece in lines:
            place = str(plan.row(code).measure)
            assert order in (place, f"2{place}")  # read as one with the 2 of reading 2 beside it
            assert begins == clock(begun[code])
            assert piece == pair
        seen += [code for _, code, *_ in lines]
        assert f"This sheet lies at {pair}." in papers[0]
        assert "later than planned, or than 'by': measure it all the same" in papers[0]
        assert "one reads, one writes" in papers[0]
    assert sorted(seen) == sorted(row.item for row in plan.rows)
    assert dict(handed_out.listing)["measuring-sheets.pdf"].startswith("a part for each meter pair")


def test_measuring_sheets_are_whole_where_no_piece_is_known_or_of_what_teams_have(
    in_lessons: tuple[Study, Plan],
) -> None:
    study, plan = in_lessons
    bare = make_sheets(study, plan.model_copy(update={"timetable": None}))
    assert [*parts_of(bare)] == ["all cells"]
    own = tuple(
        one.model_copy(update={"per": "team"}) if one.name == "meter pair" else one
        for one in study.equipment
    )
    job = Job(study.model_copy(update={"equipment": own}), plan, "a4")
    assert parted_by(job) == ""
    assert parted_by(Job(study, plan, "a4")) == "meter pair"


def test_what_is_lost_or_not_in_the_timetable_is_told_once(
    in_lessons: tuple[Study, Plan],
) -> None:
    study, plan = in_lessons
    first, *_ = (row.item for row in plan.rows)
    content = measuring_sheets(Job(study, plan, "a4", (first,)))
    text = " ".join(words_of_pages(content))
    assert text.count(f"Left out of this list. Lost: {first}.") == 1
    assert text.count("Measuring sheet: meter pair") == 4


def test_materials_tell_what_is_worn_as_the_lesson_pages_do(printed: Handouts) -> None:
    """By hand, from the study: 30 students, and an adult who fires and lays in dye alone."""
    told = " ".join(pages(printed, "materials.pdf"))
    lessons = " ".join(pages(printed, "lesson.pdf"))
    for line in (
        "Eye protection (M004): 30",
        "Protective gloves (M009): 18 pairs",
    ):
        assert line in lessons
        assert f"Lesson 1 {line}" in told
    assert "Between lessons 1 and 2 Eye protection (M004): for the responsible adult" in told
    assert "Between lessons 1 and 2 Protective gloves (M009): for the responsible adult" in told
    assert "lamp and mask: 4 (number them 1 to 4)" in told
    assert len(pages(printed, "materials.pdf")) == 2


def test_the_meter_is_spoken_of_only_where_a_step_tests_with_it(printed: Handouts) -> None:
    first, second = pages(printed, "lesson.pdf")
    assert "test with the meter first" in first
    assert "test with the meter first" not in second


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


def test_the_teacher_has_one_page_a_lesson(
    in_lessons: tuple[Study, Plan], handed_out: Handouts
) -> None:
    study, plan = in_lessons
    text = pages(handed_out, "lesson.pdf")
    assert len(text) == 2
    for number, page in enumerate(text, 1):
        assert page.startswith(f"Lesson {number}, ")
        assert cautions.FIRST in page
        here = {work.step for work in works(plan) if work.lesson == number and not work.between}
        for step in study.steps:
            for caution in step.cautions:
                there = "".join(caution.text.split()) in "".join(page.split())
                assert there == (step.name in here)
                for code in (*caution.iso7010, *caution.ghs) if there else ():
                    assert "".join(cautions.code_text(code).split()) in "".join(page.split())
    # by hand: 24 cells of 2 slides, half a millilitre of paste, 15 cm of tape, 5 mL of water
    for told in ("Conductive slide: 48", "ready mixed: 12 mL", "tape: 3.6 m", "water: 120 mL"):
        assert told in text[0]
    assert "lamp and mask: 4" in text[1]
    assert "Iodide electrolyte: 1.2 mL" in text[1]
    assert "Done before this lesson: 'Fire the slides' and 'Lay the slides" in text[1]


def test_each_is_read_by_another_team_at_its_time_with_a_piece_of_its_own(
    in_lessons: tuple[Study, Plan],
) -> None:
    """All teams read four cells of another team, and no meter pair reads two cells in a minute."""
    study, plan = in_lessons
    told = planned(Job(study, plan, "a4"))
    assert set(told) == {row.item for row in plan.rows}
    maker = {row.item: row.groups["team"] for row in plan.rows}
    reads = Counter(one.lines[1] for one in told.values())
    assert reads == dict.fromkeys(plan.groups[0].members, 4)
    assert all(maker[item] != one.lines[1] for item, one in told.items())
    busy: set[tuple[str, int]] = set()
    for work in (one for one in works(plan) if one.step == "measure"):
        begins, _, piece = told[work.items[0]].lines
        assert begins == f"{clock(at(work))}, by {latest(plan, work.items[0])}"
        assert piece in {f"meter pair {n}" for n in range(1, 5)}
        minutes = {(piece, minute) for minute in range(work.start, work.start + work.minutes)}
        assert not busy & minutes
        busy |= minutes


def test_where_several_lessons_measure_each_time_has_its_lesson(
    in_lessons: tuple[Study, Plan],
) -> None:
    study, plan = in_lessons
    assert plan.timetable is not None
    late = next(work for work in works(plan) if work.step == "measure")
    moved = tuple(
        work.model_copy(update={"lesson": 3})
        if not work.between and work.items == late.items and work.lesson == 2
        else work
        for work in works(plan)
    )
    more = {"works": moved, "lessons": 3}
    table = plan.timetable.model_copy(update=more)
    told = planned(Job(study, plan.model_copy(update={"timetable": table}), "a4"))
    for work in (one for one in moved if one.step == "measure"):
        begins, *_ = told[work.items[0]].lines
        assert begins.startswith(f"lesson {work.lesson}, ")
        assert work.lesson == 3 or f" {clock(at(work))}, by {latest(plan, *work.items)}" in begins
    over = table.model_copy(update={"since": 3})
    told = planned(Job(study, plan.model_copy(update={"timetable": over}), "a4"))
    gone = {item for item, one in told.items() if one.lines == ("lesson 2, over",)}
    assert gone == {row.item for row in plan.rows} - {*late.items}


def test_without_a_timetable_there_is_room_for_which_piece_was_used(
    in_lessons: tuple[Study, Plan], printed: Handouts
) -> None:
    study, plan = in_lessons
    assert "cross out what was otherwise" in pages(printed, "measuring-sheets.pdf")[0]
    bare = make_sheets(study, plan.model_copy(update={"timetable": None}))
    assert "'With': number what there are several of" in pages(bare, "measuring-sheets.pdf")[0]
    alone = tuple(one.model_copy(update={"count": 1}) for one in study.equipment)
    one = study.model_copy(update={"equipment": alone})
    without = make_sheets(one, plan.model_copy(update={"timetable": None}))
    assert "'With'" not in pages(without, "measuring-sheets.pdf")[0]


def test_what_can_wait_and_what_cant_is_told(
    in_lessons: tuple[Study, Plan], printed: Handouts
) -> None:
    """Cells lie at most 10 minutes before they are measured, 16 hours in the dye: 'keeps'."""
    study, plan = in_lessons
    before, first = (pages(printed, "timetable.pdf")[at] for at in (0, -1))
    # all slides are fired after lesson 1, and the pieces are taken out of the dye in it
    assert "misses 'Fire the slides', done before the next one" in before
    assert "can wait until the next lesson" not in before
    assert "and its 5 min, take the pieces out, cover the dish. Start nothing" in before
    assert "16 h" not in before
    assert "This is the last lesson: what isn't done at its end needs one lesson more" in first
    assert "next lesson" not in first
    best = class_times.BEST  # for the teacher alone
    assert [best in page for page in pages(printed, "lesson.pdf")] == [False, True]
    assert not any(best in page for page in pages(printed, "timetable.pdf"))
    assert "after 'Close the cell' and its 2 min, 'Measure the cell' begins within 10 min" in first
    assert "'Close the cell' begins within 16 h" in first
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


def test_what_is_laid_out_has_numbers(in_lessons: tuple[Study, Plan], printed: Handouts) -> None:
    """Of tools as many as are in use in the busiest minute; goggles for all 30.

    Gloves by hand: in lesson 1 3 pairs for each of 6 teams; in lesson 2 2 more for who measures, so
    30. The same number wherever it stands.
    """
    first, second = pages(printed, "lesson.pdf")
    materials = " ".join(pages(printed, "materials.pdf"))
    for page, pairs, told in (
        (first, 18, "18 pairs, listed below; not all 30 do this at once"),
        (second, 30, "30 pairs, listed below"),
    ):
        assert "Eye protection (M004): 30" in page
        assert f"Protective gloves (M009): {told}" in page
        assert f"Disposable gloves: {pairs} pairs" in page
    for step, pairs in (("Coat the slide", 3), ("Close the cell", 3), ("Measure the cell", 2)):
        told = f"Disposable gloves {step} {pairs} pairs for each team {pairs} pairs"
        assert f"{told} {6 * pairs} pairs {6 * pairs} pairs" in materials
    assert "Disposable gloves, in all 48 pairs" in materials
    assert "Binder clip: 48" in second  # two stay on each of 24 cells
    assert "Binder clip Close the cell 2 for each cell 8 48 76" in materials
    assert "Mask" not in first + second  # the white powder is mixed before, by an adult
    spans = [(w.start, w.start + w.minutes) for w in works(in_lessons[1]) if w.step == "coat"]
    busiest = max(sum(a <= minute < b for a, b in spans) for minute in range(50))
    assert busiest <= 12
    assert "Glass rod: 12" in first  # counted under [equipment], two for each team
    study, plan = in_lessons
    named = tuple(one for one in study.equipment if one.name != "glass rod")
    dusty = tuple(
        step.model_copy(update={"cautions": (Caution(text="Dust.", iso7010=("M016",)),)})
        if step.name == "coat"
        else step
        for step in study.steps
    )
    job = Job(study.model_copy(update={"equipment": named, "steps": dusty}), plan, "a4")
    agenda = agenda_of(job.study, plan)
    assert agenda is not None
    unnamed = " ".join(words_of_pages(lesson_pages(job, agenda))[0].split())
    assert "up to" not in first.casefold()
    assert f"Glass rod: up to {busiest}" in unnamed
    assert "'Up to': in use at once" in unnamed
    assert "Mask (M016): 30" in unnamed
    assert "lamp and mask: 4" in second  # counted under [equipment]
    # by hand: half of 24 cells, 5 g and 1 g each
    assert "Chopped red cabbage: 60 g" in first
    assert "Dried hibiscus: 12 g" in first
    assert "Small dish with lid: 24" in first


def test_what_is_worn_once_is_there_for_each_lesson(in_lessons: tuple[Study, Plan]) -> None:
    """By hand: one team closes a cell in lesson 3, one measures it: 3 and 2 pairs of gloves."""
    study, plan = in_lessons
    assert plan.timetable is not None
    late = next(work for work in works(plan) if work.step == "close")
    moved = tuple(
        work.model_copy(update={"lesson": 3})
        if work.items == late.items and work.lesson == 2 and not work.between
        else work
        for work in works(plan)
    )
    table = plan.timetable.model_copy(update={"works": moved, "lessons": 3})
    handouts = make_sheets(study, plan.model_copy(update={"timetable": table}))
    said = [re.findall(r"Disposable gloves: (\d+) pairs", p) for p in pages(handouts, "lesson.pdf")]
    assert said == [["18"], ["30"], ["5"]]
    materials = " ".join(pages(handouts, "materials.pdf"))
    assert re.search(
        r"Disposable gloves Close the cell 3 pairs for each team .* 21 pairs", materials
    )
    assert "Disposable gloves, in all 53 pairs" in materials


def test_mistakes_and_question_are_those_of_the_lesson(printed: Handouts) -> None:
    first, second = pages(printed, "lesson.pdf")
    assert "one drop, one even pull with the rod" in first
    assert "Too much electrolyte" in second
    assert "Three readings in a row" in second
    assert "Too much electrolyte" not in first
    asked = [page.split("A question for the class ")[1].split("?")[0] for page in (first, second)]
    assert asked[0] != asked[1]


def test_any_lesson_has_three_mistakes_and_a_question_of_its_own() -> None:
    asked: list[str] = []
    for _ in range(3):
        asked.append(teaching.question([teaching.Done("Fold it.", False)], asked))
        assert len(set(teaching.mistakes([]))) == teaching.MISTAKES == 3
    assert len(set(asked)) == 3


def test_a_lesson_page_comes_only_with_a_timetable(in_lessons: tuple[Study, Plan]) -> None:
    study, plan = in_lessons
    bare = make_sheets(study, plan.model_copy(update={"timetable": None}))
    assert "lesson.pdf" not in bare.files
    assert "logbook.pdf" in bare.files


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


def test_a_crowded_lesson_still_has_one_page(in_lessons: tuple[Study, Plan]) -> None:
    """Nothing is missing in the teacher's lines, though works begin in every minute."""
    study, plan = in_lessons
    assert plan.timetable is not None
    spread = {1: 0, 2: 0}
    moved = []
    for work in works(plan):
        start = work.start
        if not work.between:
            start = 5 + spread[work.lesson] % 38
            spread[work.lesson] += 1
        moved.append(work.model_copy(update={"start": start}))
    table = plan.timetable.model_copy(update={"works": tuple(moved)})
    crowded = plan.model_copy(update={"timetable": table})
    text = pages(make_sheets(study, crowded, paper="us-letter"), "lesson.pdf")
    assert len(text) == 2
    assert re.search(r"From \(\d+ min\)", text[0])
    told = sum(int(n) for n in re.findall(r"(\d+) cells?: ", text[0]))
    assert told == spread[1] == 72


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


def test_a_lesson_that_fits_has_one_page(printed: Handouts) -> None:
    """Lesson 1, the adult's page, lesson 2: no line of clearing up alone on a page."""
    text = pages(printed, "timetable.pdf")
    assert [page[:8] for page in text] == ["Lesson 1", "Between ", "Lesson 2"]


def test_what_measures_is_numbered_where_it_is_laid_out(printed: Handouts) -> None:
    first, second = pages(printed, "lesson.pdf")
    assert "lamp and mask: 4 (number them 1 to 4)" in second
    assert "one for each meter pair (number them): 4" in second
    assert "number them" not in first
