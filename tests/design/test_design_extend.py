"""An extended plan: what was made stays, the new part is a block with a shuffle of its own."""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from tests.design.unchecked import draw
from tests.sizes import LONG
from trials.design.extend import extend
from trials.design.planned import part_plans
from trials.design.saved import plan_from_json, plan_to_json
from trials.design.shuffle import all_layouts, plan_layout, shuffles
from trials.design.values import Plan
from trials.errors import PlanError
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup, read_study

DEMO = Path(__file__).parents[2] / "study_demo"


def planes(per_shape: int = 2) -> Study:
    return Study(
        title="Planes",
        question="Which flies further?",
        factors=(StudyFactor(name="shape", levels=("dart", "glider"), shared=False),),
        responses=(Response(name="distance", unit="m"),),
        limits=Limits(copies=per_shape),
    )


@cache
def planned(name: str) -> tuple[Study, Plan]:
    study = read_study(DEMO / name / "study.toml")
    return study, draw(study, seed=5)


@cache
def extended(name: str) -> Plan:
    return extend(*planned(name), seed=6)


@pytest.mark.long
@pytest.mark.parametrize("name", ["cells", "tea", "greenhouse", "planes"])
def test_what_was_made_stays(name: str) -> None:
    (study, plan), longer = planned(name), extended(name)
    n = len(plan.rows)
    for before, after in zip(plan.rows, longer.rows[:n], strict=True):
        assert (after.run, after.measure, after.item) == (before.run, before.measure, before.item)
        assert after.factors == before.factors
        assert before.groups.items() <= after.groups.items()
    assert [part.items for part in longer.parts] == [n, len(longer.rows) - n]
    assert len({row.item for row in longer.rows}) == len(longer.rows)
    assert plan_from_json(plan_to_json(longer)) == longer
    if LONG or name != "cells":
        assert extend(study, plan, seed=6).digest() == longer.digest()


def test_the_new_part_is_a_session_of_its_own() -> None:
    longer = extended("cells")
    new = longer.rows[48:]
    assert {row.groups["session"] for row in new} == {"S3"}
    assert {row.groups["firing"] for row in new} == {"F9", "F10", "F11", "F12"}
    assert {row.groups["team"] for row in new} == {row.groups["team"] for row in longer.rows[:48]}
    heats = {row.groups["firing"]: row.factors["heat"] for row in new}
    assert Counter(heats.values()) == {"oven": 2, "burner": 2}


def test_without_sessions_the_parts_are_the_blocks() -> None:
    study = planes(4)
    plan = draw(study, seed=1)
    twice = extend(study, extend(study, plan, seed=2), seed=3, items=6)
    assert [g.name for g in twice.groups] == ["part"]
    assert twice.groups[0].members == ("part 1", "part 2", "part 3")
    counts = Counter((row.groups["part"], row.factors["shape"]) for row in twice.rows)
    assert sorted(counts.values()) == [3, 3, 4, 4, 4, 4]
    skeleton = {row.source: row.df for row in twice.skeleton}
    assert (skeleton["part"], skeleton["shape"]) == (2, 1)


def test_a_name_that_is_taken_is_not_given_to_the_parts() -> None:
    study = planes().model_copy(
        update={"factors": (StudyFactor(name="part", levels=("a", "b"), shared=False),)}
    )
    assert extend(study, draw(study, seed=1), seed=2).groups[0].name == "part 2"


def test_each_part_is_shuffled_by_itself() -> None:
    study = planes()
    longer = extend(study, draw(study, seed=1), seed=2)
    every = all_layouts(longer)
    assert every is not None
    # 6 ways of giving two of four planes each shape, in each part
    assert every["shape"].shape == (36, 8)
    assert longer.shuffle.size == 36
    assert len({tuple(one) for one in every["shape"].tolist()}) == 36
    assert (every["shape"][0] == plan_layout(longer)["shape"]).all()
    assert (every["shape"][:, :4].sum(axis=1) == 2).all()
    drawn = Counter(
        tuple(one["shape"].tolist()) for one in shuffles(longer, np.random.default_rng(4), 7200)
    )
    assert len(drawn) == 36
    assert stats.chisquare(list(drawn.values())).pvalue > 0.001


def test_the_smallest_p_is_no_smaller_than_counting_shows() -> None:
    study = planes()
    longer = extend(study, draw(study, seed=1), seed=2)
    # of 36 layouts two tell the same story: every dart a glider and the other way round
    smallest = longer.shuffle.smallest_p["shape"]
    assert smallest is not None
    assert smallest >= 2 / 36


def test_a_chain_in_one_part_keeps_its_rules() -> None:
    study = planes().model_copy(
        update={
            "groups": (StudyGroup(name="lesson", count=2), StudyGroup(name="team", count=3)),
            "limits": Limits(items=10),
        }
    )
    plan = draw(study, seed=3)
    assert plan.shuffle.kind == "chain"
    longer = extend(study, plan, seed=4)
    parts: tuple[Plan, ...] = part_plans(longer)
    assert sum(len(part.rows) for part in parts) == len(longer.rows)
    for layout in shuffles(longer, np.random.default_rng(1), 50):
        first = layout["shape"][:10]
        assert first.sum() == 5


def test_a_part_that_can_not_be_made_is_refused() -> None:
    study, plan = planned("cells")
    with pytest.raises(PlanError) as caught:
        extend(study, plan, seed=6, items=2)
    assert caught.value.text()
