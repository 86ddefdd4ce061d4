"""The teacher's page of a lesson: what is laid out, worn and watched for."""

from __future__ import annotations

import re

from tests.remembered import words_of_pages
from tests.sheets.class_pages import pages, works
from trials.classroom.agenda import agenda_of
from trials.design.values import Plan
from trials.sheets import Handouts, make_sheets
from trials.sheets.lesson import lesson_pages
from trials.sheets.parts import Job
from trials.study.values import Caution, Study
from trials.words import cautions, teaching


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


def test_what_protects_and_what_is_hot_or_cold_is_laid_out_where_it_is_used(
    printed: Handouts,
) -> None:
    """Common practice, no source: what people missed who set the class up by its sheets."""
    first, second = pages(printed, "lesson.pdf")
    for thing in ("Kettle: 1", "Refrigerator for chemicals: 1", "mixes the paste: 1"):
        assert thing in first
    assert "Small bottle of electrolyte with dropper: 6, 1 for each team" in second
    assert all("To wear: one for each who works, and yours" in page for page in (first, second))
    adult = pages(printed, "timetable.pdf")[1]
    assert "You need: oven, tongs, heat-proof gloves and hot sign." in adult
    assert "You need: refrigerator for chemicals and tweezers." in adult
    materials = " ".join(pages(printed, "materials.pdf"))
    for tool in ("tongs", "heat-proof gloves", "hot sign"):
        assert f"Fire the slides {tool} 24 cells" in materials
    for told in (second, " ".join(pages(printed, "cautions.pdf"))):
        assert "wet cells and dye: by your school's rules. Wash hands." in told


def test_the_meter_is_spoken_of_only_where_a_step_tests_with_it(printed: Handouts) -> None:
    first, second = pages(printed, "lesson.pdf")
    assert "test with the meter first" in first
    assert "test with the meter first" not in second


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
        assert "(all codes: cautions.pdf)" in page
    # by hand: 24 cells of 2 slides, half a millilitre of paste, 15 cm of tape, 5 mL of water
    for told in ("Conductive slide: 48", "ready mixed: 12 mL", "tape: 3.6 m", "water: 120 mL"):
        assert told in text[0]
    assert "lamp and mask: 4" in text[1]
    assert "Iodide electrolyte: 1.2 mL" in text[1]
    assert "Done before this lesson: 'Fire the slides' and 'Lay the slides" in text[1]


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
        step.model_copy(
            update={"cautions": (Caution(text="Dust.", iso7010=("M016",)),), "materials": ()}
        )
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


def test_a_lesson_that_fits_has_one_page(printed: Handouts) -> None:
    """Lesson 1, the adult's page, lesson 2: no line of clearing up alone on a page."""
    text = pages(printed, "timetable.pdf")
    assert [page[:8] for page in text] == ["Lesson 1", "Between ", "Lesson 2"]
