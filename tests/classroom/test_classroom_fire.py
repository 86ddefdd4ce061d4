"""A flame and alcohol in one study are told wherever no timetable keeps them apart."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.classroom.bench import class_plan, class_study
from trials.classroom.hazards import burning, hazards, must_be_apart, safer
from trials.service.safety_text import safety_lines
from trials.study import Equipment, Step, Study
from trials.study.reading import read_study
from trials.study.values import Caution, Material

DEMO = Path(__file__).resolve().parents[2] / "study_demo"
HEAT = Step(name="heat", minutes=5, equipment=("gas burner",))
RINSE = Step(name="rinse", minutes=1, materials=(Material(name="ethanol", amount=2, unit="mL"),))
MEASURE = Step(name="measure", minutes=4, stage="measure")
LIT = (Equipment(name="gas burner", flame=True),)


def study(*steps: Step, equipment: tuple[Equipment, ...] = (), timed: bool = True) -> Study:
    more: dict[str, Any] = {} if timed else {"lessons": None}
    return class_study(steps=(*steps, MEASURE), equipment=equipment, **more)


@pytest.mark.parametrize(
    ("steps", "equipment", "timed"),
    [
        ((HEAT, RINSE), (), True),
        ((HEAT, RINSE), LIT, True),  # the flame is marked, the liquid isn't
        ((HEAT, RINSE.model_copy(update={"flammable": True})), (), True),
        ((HEAT, RINSE.model_copy(update={"flammable": True})), LIT, False),
    ],
)
def test_a_flame_and_what_catches_fire_must_be_apart(
    steps: tuple[Step, ...], equipment: tuple[Equipment, ...], timed: bool
) -> None:
    """What isn't marked is asked about, and counts as marked; without lessons nothing helps."""
    asked = study(*steps, equipment=equipment, timed=timed)
    assert must_be_apart(asked)
    told = safety_lines(asked, class_plan(class_study()), Path("cups"))
    words = {one.word for one in hazards(asked) if not one.said}
    marked = steps[1].flammable is True
    assert words == {*(() if equipment else ("gas burner",)), *(() if marked else ("ethanol",))}
    first = "never be in the room in the same lesson" in told[0]
    assert first is not timed
    assert ("[lessons]" in told[0]) is not timed
    apart = safer(asked)
    assert burning(apart, apart.steps[0], ()) == {"flame"}
    assert burning(apart, apart.steps[1], ()) == {"flammable"}


@pytest.mark.parametrize(
    "steps",
    [
        (HEAT,),
        (RINSE,),
        (  # a caution names what must not be there
            HEAT.model_copy(update={"cautions": (Caution(text="No alcohol in the room."),)}),
        ),
    ],
)
def test_nothing_has_to_be_apart_where_there_is_one_of_the_two(steps: tuple[Step, ...]) -> None:
    assert not must_be_apart(study(*steps))
    assert not must_be_apart(study(*steps, timed=False))


def test_what_is_marked_is_not_asked_about_again() -> None:
    marked = study(HEAT, RINSE.model_copy(update={"flammable": True}), equipment=LIT)
    assert all(one.said for one in hazards(marked))  # a caution may be missing still


def test_the_examples_are_silent() -> None:
    """They use no alcohol, because burners are lit in them."""
    plan = class_plan(class_study())
    for path in sorted(DEMO.glob("*/study.toml")):
        assert safety_lines(read_study(path), plan, path.parent) == [], path
