"""A flame and alcohol in one study are told wherever no timetable keeps them apart."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.classroom.bench import class_study
from trials.classroom.fire import not_kept_apart
from trials.service.plan_text import fire_lines
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
def test_what_nothing_keeps_apart_is_told(
    steps: tuple[Step, ...], equipment: tuple[Equipment, ...], timed: bool
) -> None:
    asked = study(*steps, equipment=equipment, timed=timed)
    assert not_kept_apart(asked) == (("burner",), ("ethanol",))
    (line,) = fire_lines(asked)
    assert "never be in the room in the same lesson" in line
    assert ("[lessons]" in line) is not timed


@pytest.mark.parametrize(
    ("steps", "equipment"),
    [
        ((HEAT, RINSE.model_copy(update={"flammable": True})), LIT),  # the timetable does it
        ((HEAT,), ()),
        ((RINSE,), ()),
        (  # a caution names what must not be there
            (HEAT.model_copy(update={"cautions": (Caution(text="No alcohol in the room."),)}),),
            (),
        ),
    ],
)
def test_nothing_is_told_where_there_is_no_danger(
    steps: tuple[Step, ...], equipment: tuple[Equipment, ...]
) -> None:
    assert not_kept_apart(study(*steps, equipment=equipment)) is None


def test_the_examples_are_silent() -> None:
    """They use no alcohol, because burners are lit in them."""
    for path in sorted(DEMO.glob("*/study.toml")):
        assert fire_lines(read_study(path)) == [], path
