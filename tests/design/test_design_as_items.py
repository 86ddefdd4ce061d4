"""Where firings hold unequal numbers, as many firings for each version are also as many items."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import numpy as np
import pytest

from tests.design.test_design_uniform import allowed, drawn_evenly, draws, factor, units_of
from trials.design.chain import Kept
from trials.design.draw import draw
from trials.design.shuffle import plan_layout, plan_shuffler
from trials.design.values import Balance
from trials.study import Limits, Response, Study, StudyFactor, StudyGroup


def heated(firing: StudyGroup, *around: StudyGroup, dyes: int = 3, copies: int = 7) -> Study:
    heat = StudyFactor(name="heat", levels=("oven", "burner"), applied_to="firing")
    dye = StudyFactor(name="dye", levels=tuple("abc"[:dyes]), shared=False)
    return Study(
        title="t",
        question="q",
        factors=(dye, heat) if dyes else (heat,),
        groups=(*around, firing),
        responses=(Response(name="y"),),
        limits=Limits(copies=copies),
        item_name="cell",
    )


EIGHT = StudyGroup(name="firing", count=8, capacity=6)  # 42 cells: six of 5 and two of 6
FOUR = StudyGroup(name="firing", count=4, within="session", capacity=6)
STUDIES = {
    "firings": heated(EIGHT),
    "firings and teams": heated(EIGHT, StudyGroup(name="team", count=6, role="maker")),
    "firings in sessions": heated(FOUR, StudyGroup(name="session", count=2)),
}


@pytest.mark.long
@pytest.mark.parametrize("study", STUDIES.values(), ids=STUDIES)
def test_seven_copies_are_seven_of_each_recipe(study: Study, effort: Callable[[int], int]) -> None:
    for seed in range(effort(100)):
        plan = draw(study, seed=seed)
        recipes = Counter((row.factors["dye"], row.factors["heat"]) for row in plan.rows)
        assert list(recipes.values()) == [7] * 6
        firings = {row.groups["firing"]: row.factors["heat"] for row in plan.rows}
        assert list(Counter(firings.values()).values()) == [4, 4]
        assert not {"unequal"} & {finding.code for finding in plan.audit}


def test_every_layout_that_could_have_been_drawn_has_seven_too() -> None:
    plan = draw(STUDIES["firings"], seed=1)
    heat = plan_layout(plan)["heat"]
    rng = np.random.default_rng(3)
    seen = set()
    for codes in plan_shuffler(plan).draws(plan_layout(plan), 50, rng):
        assert np.bincount(codes["heat"]).tolist() == [21, 21]
        seen.add(codes["heat"].tobytes())
    assert heat.sum() == 21
    assert len(seen) > 20  # and there is still a choice: 2 * C(6, 3) = 40 ways of the firings


@pytest.mark.long
def test_each_way_of_the_firings_is_drawn_equally_often() -> None:
    member = [0, 0, 0, 1, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5]
    units = units_of(14, firing=member)
    rules = (Balance(factors=("x",), counted="firing"), Balance(factors=("x",)))
    every: set[object] = set()
    for ways in allowed(6, (2,), lambda x: x.sum() == 3 and x[0] != x[1]):
        every.add((tuple(ways[0][m] for m in member),))
    assert len(every) == 12  # 2 * C(4, 2), by hand
    start = [0, 0, 0, 1, 1, 1, 0, 0, 0, 0, 1, 1, 1, 1]
    x = factor("x", 2, "firing")
    drawn_evenly(draws(units, (x,), {"x": start}, Kept(balance=rules), {"x": (0, 1)}), every)


def test_where_no_way_gives_equal_numbers_the_plan_says_why() -> None:
    three = StudyGroup(name="firing", count=3, capacity=5)
    plan = draw(heated(three, dyes=0), seed=1)
    (found,) = (finding for finding in plan.audit if finding.code == "unequal")
    sizes = Counter(row.groups["firing"] for row in plan.rows)
    assert sorted(sizes.values()) == [4, 5, 5]  # 14 can't be halved in whole firings
    assert found.message is not None
    assert "a firing gets one version of heat as a whole, and firings hold 4 or 5 cells" in (
        found.message
    )
