"""Flames and what catches fire that a study names without declaring them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.design.unchecked import draw
from trials.classroom.hazards import hazards, in_one_lesson, must_be_apart, safer
from trials.classroom.lessons import schedule, timetable_of
from trials.classroom.work import job_of
from trials.service.safety_text import caution_notes, safety_document, safety_lines
from trials.study import Study, parse_study, read_study, write_study
from trials.study.messages import key_text

HERE = Path(__file__).parents[2]
TEXT = """
title = "Two dyes"
question = "Which dye is stronger?"
item_name = "cup"
[factors.dye]
levels = ["spinach", "hibiscus"]
[factors.dye.how]
spinach = "Pour 5 mL of alcohol (ethanol) on the leaves."
hibiscus = "Heat 5 mL of water on the burner and pour it on the leaves."
[groups.team]
count = 2
role = "maker"
[responses.colour]
unit = "mm"
[limits]
copies = 2
[lessons]
minutes = 50
[equipment.burner]
count = 2
[[steps]]
name = "brew"
minutes = 4
factors = ["dye"]
equipment_for = { hibiscus = ["burner"] }
[[steps]]
name = "look"
stage = "measure"
minutes = 3
"""


def _study(old: str = "", new: str = "") -> Study:
    assert old in TEXT
    return parse_study(TEXT.replace(old, new))


def test_each_level_is_asked_about_with_its_key() -> None:
    found = hazards(_study())
    told = [(one.kind, one.word, key_text(one.path), one.levels) for one in found]
    assert told == [
        ("flame", "burner", "equipment.burner", ("hibiscus",)),
        ("flammable", "alcohol", "factors.dye.how.spinach", ("spinach",)),
    ]
    assert not any(one.said or one.cautioned for one in found)


def test_until_it_is_settled_the_two_are_never_in_one_lesson() -> None:
    study = _study()
    plan = draw(study, seed=1)
    works = [work for work in job_of(study, plan).works if work.step == "brew"]
    dye = {row.item: row.factors["dye"] for row in plan.rows}
    for work in works:
        assert work.flammable == (dye[work.items[0]] == "spinach")
        assert work.flame == (dye[work.items[0]] == "hibiscus")
    timed = plan.model_copy(update={"timetable": timetable_of(study, schedule(study, plan))})
    assert timed.timetable is not None
    lessons = {
        colour: {
            w.lesson
            for w in timed.timetable.works
            if w.step == "brew" and dye[w.items[0]] == colour
        }
        for colour in ("spinach", "hibiscus")
    }
    assert not lessons["spinach"] & lessons["hibiscus"]
    assert in_one_lesson(study, timed) == ()


def test_a_timetable_from_before_is_found_out() -> None:
    calm = _study("Pour 5 mL of alcohol (ethanol) on the leaves.", "Pour water on the leaves.")
    plan = draw(calm, seed=1)
    timed = plan.model_copy(update={"timetable": timetable_of(calm, schedule(calm, plan))})
    assert in_one_lesson(calm, timed) == ()
    assert in_one_lesson(_study(), timed) == (1,)
    assert safety_lines(_study(), timed, Path("cups"))[0].startswith("Stop: the timetable")


def test_the_usual_caution_is_printed_until_there_is_one() -> None:
    step = safer(_study()).steps[0]
    assert [caution.iso7010[0] for caution in step.cautions] == ["W017", "W021"]
    assert safer(safer(_study())) == safer(_study())
    assert len(caution_notes(_study())) == 2


def test_what_is_told_to_write_settles_it() -> None:
    text = TEXT
    for one in safety_document(_study()):
        for part in one["write"]:
            head = part["under"].split(",")[0]
            lines = "\n".join(part["lines"])
            if head == "[[steps]]" and lines.startswith("[[steps.cautions]]"):
                text = text.replace(
                    '[[steps]]\nname = "look"', f'{lines}\n[[steps]]\nname = "look"'
                )
            elif head == "[[steps]]":
                text = text.replace('name = "brew"\n', f'name = "brew"\n{lines}\n')
            else:
                text = text.replace(f"{head}\n", f"{head}\n{lines}\n")
    settled = parse_study(text)
    assert hazards(settled) == ()
    assert settled.steps[0].flammable == ("spinach",)
    assert safer(settled) == settled
    assert must_be_apart(settled)
    assert parse_study(write_study(settled)) == settled


@pytest.mark.parametrize(
    ("old", "new", "kinds"),
    [
        ("[equipment.burner]", "[equipment.burner]\nflame = false", {"flammable"}),
        ('name = "brew"', 'name = "brew"\nflammable = false', {"flame"}),
        ('name = "brew"', 'name = "brew"\nflammable = false\nflame = false', set()),
        ("on the burner", "on the stove", {"flame", "flammable"}),  # equipment_for has it still
        ("alcohol (ethanol)", "water, without alcohol,", {"flame"}),
        ('factors = ["dye"]\n', "", {"flame", "flammable"}),
    ],
)
def test_each_answer_settles_its_question(old: str, new: str, kinds: set[str]) -> None:
    assert {one.kind for one in hazards(_study(old, new))} == kinds


def test_texts_of_a_factor_without_a_step_are_told_too() -> None:
    found = [one for one in hazards(_study('factors = ["dye"]\n')) if one.step is None]
    assert [one.levels for one in found] == [("hibiscus",), ("spinach",)]
    lines = safety_lines(_study('factors = ["dye"]\n'), draw(_study(), seed=1), Path("c"))
    assert any('at which dye is set: factors = ["dye"]' in line for line in lines)


def test_a_study_without_lessons_is_told_that_nothing_keeps_them_apart() -> None:
    study = _study("[lessons]\nminutes = 50\n")
    assert "write [lessons]" in safety_lines(study, draw(study, seed=1), Path("c"))[0]


def test_a_caution_that_is_there_is_not_asked_for() -> None:
    cautioned = _study(
        '[[steps]]\nname = "look"',
        '[[steps.cautions]]\ntext = "Alcohol catches fire: air it."\n[[steps]]\nname = "look"',
    )
    assert [(one.kind, one.cautioned) for one in hazards(cautioned)] == [
        ("flame", False),
        ("flammable", True),  # still asked, as there is a flame to keep it apart from
    ]
    alone = cautioned.model_copy(
        update={"steps": (cautioned.steps[0].model_copy(update={"flame": False}),)}
    )
    assert hazards(alone) == ()


@pytest.mark.parametrize("name", sorted(p.name for p in (HERE / "study_demo").iterdir()))
def test_no_example_is_asked_about(name: str) -> None:
    path = HERE / "study_demo" / name / "study.toml"
    study = read_study(path)
    assert hazards(study) == ()
    assert [step.cautions for step in safer(study).steps] == [step.cautions for step in study.steps]


def test_a_caution_about_the_skin_is_none_about_fire() -> None:
    study = _study(
        '[[steps]]\nname = "look"',
        '[[steps.cautions]]\ntext = "Ethanol dries the skin."\n[[steps]]\nname = "look"',
    )
    assert [(one.kind, one.cautioned) for one in hazards(study)][1] == ("flammable", False)


CALM = TEXT.replace("alcohol (ethanol)", "water").replace("on the burner", "first")
CALM = CALM.replace("[equipment.burner]\ncount = 2\n", "")
CALM = CALM.replace('equipment_for = { hibiscus = ["burner"] }\n', "")


def test_what_is_kept_the_same_is_read_until_a_step_tells_of_it() -> None:
    kept = CALM.replace("[factors.dye]", 'same = ["one pot", "5 mL of ethanol"]\n[factors.dye]', 1)
    study = parse_study(kept)
    (one,) = hazards(study)
    assert (one.kind, one.step, key_text(one.path)) == ("flammable", None, "same[2]")
    lines = safety_lines(study, draw(study, seed=1), Path("c"))
    assert any("at which it is used: flammable = true" in line for line in lines)
    for said in ("false", "true"):
        told = parse_study(kept.replace('name = "brew"', f'name = "brew"\nflammable = {said}'))
        assert not any(found.step is None for found in hazards(told))


def test_names_of_levels_that_no_step_sets_are_read() -> None:
    assert hazards(parse_study(CALM)) == ()
    named = CALM.replace('factors = ["dye"]\n', "").replace("hibiscus", "candle")
    (one,) = hazards(parse_study(named))
    assert (one.kind, one.step, one.levels) == ("flame", None, ("candle",))
    assert key_text(one.path).startswith("factors.dye.levels")
