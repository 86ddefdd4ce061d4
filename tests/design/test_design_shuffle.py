"""The shuffle: every layout equally often, none that the plan forbids, sizes counted two ways."""

from __future__ import annotations

from collections import Counter
from itertools import permutations, product
from math import comb, factorial
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from trials.design.draw import draw
from trials.design.shuffle import all_layouts, plan_layout, shuffle_matrix
from trials.design.values import Plan
from trials.randomness import stream
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup, read_study

DEMO = Path(__file__).parents[2] / "study_demo"
RESPONSE = (Response(name="y", primary=True),)


def one_factor(levels: int, items: int, groups: tuple[StudyGroup, ...] = ()) -> Study:
    factor = StudyFactor(name="a", levels=tuple("xyzw"[:levels]))
    return Study(title="t", question="q", factors=(factor,), groups=groups, responses=RESPONSE,
                 limits=Limits(items=items))  # fmt: skip


def blocks(count: int) -> tuple[StudyGroup, ...]:
    return (StudyGroup(name="lesson", count=count),)


def uniform_p(plan: Plan, draws: int = 12_000) -> tuple[float, int]:
    """Return the chi-square p of equal frequencies over all layouts, and how many there are."""
    rows = shuffle_matrix(plan, stream(4, "uniform"), draws)["a"]
    seen = Counter(row.tobytes() for row in rows)
    everything = all_layouts(plan)
    assert everything is not None
    known = {row.tobytes() for row in everything["a"]}
    assert set(seen) <= known
    return float(stats.chisquare([seen[key] for key in known]).pvalue), len(known)


@pytest.mark.parametrize(
    ("study", "layouts"),
    [
        (one_factor(2, 6), comb(6, 3)),  # 3 against 3
        (one_factor(2, 8), comb(8, 4)),
        (one_factor(3, 6), 90),
        (one_factor(2, 8, blocks(2)), comb(4, 2) ** 2),
        (one_factor(3, 9, blocks(3)), 6**3),
    ],
)
def test_every_layout_is_equally_likely(study: Study, layouts: int) -> None:
    plan = draw(study, seed=9)
    p, size = uniform_p(plan)
    assert size == layouts == plan.shuffle.size
    assert p > 0.001  # seeded: the same draw every time


@pytest.mark.parametrize(("each", "smallest"), [(3, 0.10), (4, 2 / 70), (5, 2 / 252)])
def test_the_smallest_p_is_known_before_building(each: int, smallest: float) -> None:
    """3 against 3 can't go below 0.10; 4 against 4 reaches 0.029: counted, 2 / C(2n, n)."""
    plan = draw(one_factor(2, 2 * each), seed=1)
    assert plan.shuffle.smallest_p["a"] == pytest.approx(smallest)


def test_heat_on_eight_firings_has_36_layouts() -> None:
    plan = draw(read_study(DEMO / "cells" / "study.toml"), seed=7)
    assert plan.shuffle.smallest_p["heat"] == pytest.approx(2 / comb(4, 2) ** 2)
    heat = all_layouts(plan, ["heat"])
    assert heat is not None
    assert len(heat["heat"]) == 36


def test_blocks_equal_the_slow_enumeration() -> None:
    plan = draw(one_factor(3, 6, blocks(2)), seed=3)
    found = all_layouts(plan)
    assert found is not None
    lesson = [row.groups["lesson"] for row in plan.rows]
    places = [[i for i, g in enumerate(lesson) if g == name] for name in dict.fromkeys(lesson)]
    expected = set()
    for ways in product(permutations(range(3)), repeat=2):
        layout = np.zeros(6, dtype=np.intp)
        for where, way in zip(places, ways, strict=True):
            layout[where] = way
        expected.add(layout.tobytes())
    assert {row.tobytes() for row in found["a"]} == expected


def test_a_control_keeps_its_name() -> None:
    factor = StudyFactor(name="a", levels=("none", "x", "y"), control="none")
    study = Study(title="t", question="q", factors=(factor,), responses=RESPONSE,
                  limits=Limits(items=9))  # fmt: skip
    layouts = all_layouts(draw(study, seed=2))
    assert layouts is not None
    assert len(layouts["a"]) == factorial(9) // factorial(3) ** 3


def test_incomplete_structures_walk_a_chain_that_keeps_the_balance() -> None:
    """Four teams in three lessons with ten items: no complete crossing."""
    groups = (
        StudyGroup(name="lesson", count=3),
        StudyGroup(name="team", count=4, role="maker"),
    )
    plan = draw(one_factor(2, 10, groups), seed=5)
    assert plan.shuffle.kind == "chain"
    rows = shuffle_matrix(plan, stream(1, "chain"), 300)["a"]
    own = plan_layout(plan)["a"]
    assert {tuple(sorted(np.bincount(row).tolist())) for row in rows} == {
        tuple(sorted(np.bincount(own).tolist()))
    }
    assert len({row.tobytes() for row in rows}) > 20
    for rule in plan.shuffle.balance:
        if rule.factors != ("a",) or rule.counted is not None:
            continue
        for row in rows:
            for member in {tuple(r.groups[g] for g in rule.within) for r in plan.rows}:
                here = [
                    i
                    for i, r in enumerate(plan.rows)
                    if tuple(r.groups[g] for g in rule.within) == member
                ]
                count = np.bincount(row[here], minlength=2)
                assert count.max() - count.min() <= 1 + rule.excess


def test_layouts_of_a_chain_are_near_uniform() -> None:
    """A small incomplete structure: the chain reaches its layouts about equally often."""
    groups = (
        StudyGroup(name="lesson", count=2),
        StudyGroup(name="team", count=3, role="maker"),
    )
    plan = draw(one_factor(2, 8, groups), seed=5)
    if plan.shuffle.kind != "chain":
        pytest.fail("the structure is complete; choose another for this test")
    rows = shuffle_matrix(plan, stream(2, "chain"), 3000)["a"]
    seen = Counter(row.tobytes() for row in rows)
    assert stats.chisquare(list(seen.values())).pvalue > 0.001
