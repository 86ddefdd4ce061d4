"""A small class for the tests: six teams, one oven of six that the adult fires between lessons."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tests.design.unchecked import draw
from trials.design.values import Plan
from trials.study import (
    Equipment,
    Lessons,
    Limits,
    Response,
    Step,
    Study,
    StudyFactor,
    StudyGroup,
    check_study,
)

STEPS = (
    Step(name="coat", minutes=8),
    Step(name="heat", minutes=10, waiting=40, when="between", by="the adult", equipment=("oven",),
         busy=("oven",)),
    Step(name="soak", minutes=4, waiting_is="soak", keeps=5),
    Step(name="rinse", minutes=1),
    Step(name="close", minutes=3, waiting=2, keeps=3),
    Step(name="measure", minutes=4, stage="measure", equipment=("meter pair",)),
)  # fmt: skip

PLANS: dict[str, Plan] = {}  # by study


def class_study(soaks: tuple[str, str] = ("5", "10"), **changes: Any) -> Study:
    """Return a study of 18 items by six teams; ``changes`` go into it."""
    said: dict[str, Any] = {
        "title": "Soaking",
        "question": "Does soaking longer help?",
        "item_name": "cell",
        "factors": (
            StudyFactor(name="soak", levels=soaks, kind="quantity", unit="min", shared=False),
            StudyFactor(name="kind", levels=("a", "b", "c"), shared=False),
        ),
        "groups": (StudyGroup(name="team", count=6, role="maker"),),
        "responses": (Response(name="power", unit="mW", primary=True),),
        "steps": STEPS,
        "equipment": (
            Equipment(name="oven", holds=6, together=True),
            Equipment(name="meter pair", count=4),
        ),
        "lessons": Lessons(minutes=50),
        "limits": Limits(items=18, copies=3),
    }
    study = Study(**(said | changes))
    check_study(study)
    return study


def class_plan(study: Study) -> Plan:
    """Return a plan of the study, without its fair-test check."""
    key = study.model_dump_json()
    if key not in PLANS:
        PLANS[key] = draw(study, seed=3)
    return PLANS[key]


def kept_plan(folder: Path) -> dict[str, Any]:
    """Return plan.json of a study's folder."""
    value: dict[str, Any] = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    return value
