"""Plans by search: combinations, fractions, controls, groups of different sizes."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.design.unchecked import draw as draw_unchecked
from tests.sizes import examples
from trials.design.balance import excess_of
from trials.design.draw import draw
from trials.design.saved import plan_from_json, plan_to_json
from trials.design.shuffle import plan_layout, plan_units, shuffles
from trials.design.values import Plan
from trials.errors import PlanError
from trials.study import (
    Limits,
    Options,
    Response,
    Spread,
    Study,
    StudyFactor,
    StudyGroup,
    read_study,
)

CELLS = Path(__file__).parents[2] / "study_demo" / "cells" / "study.toml"
BAN = {"dye": "beetroot", "heat": "burner"}


def two_level(
    count: int, limits: Limits, *, interactions: int = 2, groups: tuple[StudyGroup, ...] = ()
) -> Study:
    return Study(
        title="t",
        question="q",
        factors=tuple(
            StudyFactor(name=n, levels=("a", "b"), shared=False) for n in "pqrstuv"[:count]
        ),
        groups=groups,
        responses=(Response(name="y"),),
        limits=limits,
        analysis=Options(interactions=interactions),
    )


def one_factor(
    versions: int, limits: Limits, control: str | None = None, *groups: StudyGroup
) -> Study:
    levels = tuple("abcdefgh"[:versions])
    factor = StudyFactor(name="x", levels=levels, control=control, shared=False)
    return Study(
        title="t",
        question="q",
        factors=(factor,),
        groups=groups,
        responses=(Response(name="y"),),
        limits=limits,
    )


@pytest.fixture(scope="module")
def banned() -> tuple[Study, Plan]:
    study = read_study(CELLS)
    study = study.model_copy(update={"limits": Limits(items=48, forbidden=(BAN,))})
    return study, draw(study, seed=5)


def has(plan: Plan, combination: dict[str, str]) -> bool:
    return any(combination.items() <= row.factors.items() for row in plan.rows)


def test_what_is_forbidden_is_never_made(banned: tuple[Study, Plan]) -> None:
    _, plan = banned
    assert not has(plan, BAN)
    assert plan.search is not None
    assert plan.search.bound <= plan.search.value
    dye, heat = (["hibiscus", "red cabbage", "beetroot"].index, ["oven", "burner"].index)
    for layout in shuffles(plan, np.random.default_rng(2), 100):
        assert not ((layout["dye"] == dye("beetroot")) & (layout["heat"] == heat("burner"))).any()


def test_each_version_is_spread_over_the_teams_in_its_share(banned: tuple[Study, Plan]) -> None:
    _, plan = banned
    codes, units = plan_layout(plan), plan_units(plan)
    for factor in plan.factors:
        counts = np.bincount(codes[factor.name], minlength=len(factor.levels))
        shares = tuple(counts / counts.sum())
        assert excess_of(codes[factor.name], len(shares), units.codes["team"], shares) == 0
    firings = {row.groups["firing"]: row.factors["heat"] for row in plan.rows}
    assert len(firings) == 8
    assert set(firings.values()) == {"oven", "burner"}


def test_a_plan_by_search_comes_back_from_its_file(banned: tuple[Study, Plan]) -> None:
    study, plan = banned
    assert plan_from_json(plan_to_json(plan)) == plan
    assert draw(study, seed=5).digest() == plan.digest()


def test_what_is_required_is_made() -> None:
    must = {"p": "a", "q": "b", "r": "b", "s": "a"}
    limits = Limits(items=9, fraction=True, required=(must,))
    plan = draw(two_level(4, limits, interactions=1), seed=3)
    assert has(plan, must)
    for layout in shuffles(plan, np.random.default_rng(2), 50):
        made = np.stack([layout[name] for name in "pqrs"], axis=1).tolist()
        assert [0, 1, 1, 0] in made


def test_a_fraction_of_known_size_is_the_published_one() -> None:
    # G. E. P. Box, J. S. Hunter and W. G. Hunter, Statistics for Experimenters: 2^(5-1), V
    plan = draw(two_level(5, Limits(items=16, fraction=True), interactions=2), seed=3)
    assert "2^(5-1), resolution V" in plan.family
    assert plan.search is not None
    assert plan.search.proved
    signs = np.stack([1 - 2 * plan_layout(plan)[name] for name in "pqrst"], axis=1)
    assert abs(int(signs.prod(axis=1).sum())) == 16  # the defining word has all five letters


def test_twelve_runs_screen_seven_factors() -> None:
    plan = draw(two_level(7, Limits(items=12, fraction=True), interactions=1), seed=3)
    assert plan.family.startswith("Plackett-Burman")
    signs = np.stack([1 - 2 * plan_layout(plan)[name] for name in "pqrstuv"], axis=1)
    assert (signs.T @ signs == 12 * np.eye(7)).all()


def test_a_control_gets_the_square_root_of_the_versions_as_many() -> None:
    # C. W. Dunnett (1955), J. Am. Stat. Assoc. 50: n0 / n = sqrt(versions compared with it)
    plan = draw(one_factor(5, Limits(items=24), "a"), seed=3)
    counts = Counter(row.factors["x"] for row in plan.rows)
    assert counts == {"a": 8, "b": 4, "c": 4, "d": 4, "e": 4}
    even = draw(one_factor(5, Limits(items=25, copies=5), "a"), seed=3)
    assert set(Counter(row.factors["x"] for row in even.rows).values()) == {5}


def test_seven_versions_in_blocks_of_three_have_efficiency_seven_ninths() -> None:
    # W. G. Cochran and G. M. Cox, Experimental Designs, plan 11.7: E = 7/9
    block = StudyGroup(name="block", count=7, capacity=3)
    plan = draw(one_factor(7, Limits(items=21), None, block), seed=3)
    assert plan.criteria["x"] == pytest.approx(7 / 9, abs=1e-9)
    assert plan.search is not None
    assert plan.search.proved


def test_groups_of_different_sizes_hold_every_version_in_its_share() -> None:
    oven = StudyGroup(name="oven", count=3, sizes=(6, 4, 2))
    plan = draw(one_factor(2, Limits(), None, oven), seed=3)
    counts = Counter((row.groups["oven"], row.factors["x"]) for row in plan.rows)
    assert counts == {(f"O{o}", x): c for o, c in ((1, 3), (2, 2), (3, 1)) for x in "ab"}


def test_too_few_items_get_the_nearest_possible_and_its_cost() -> None:
    with pytest.raises(PlanError) as caught:
        draw(two_level(4, Limits(items=9, fraction=True)), seed=1)
    assert caught.value.code == "plan.too_few_to_tell"
    assert "make 2 more (at least 11)" in caught.value.do
    assert "interactions = 1" in caught.value.do
    assert draw(two_level(4, Limits(items=11, fraction=True)), seed=1).rows
    assert draw(two_level(4, Limits(items=9, fraction=True), interactions=1), seed=1).rows


@pytest.mark.long
@given(
    st.lists(st.tuples(st.integers(0, 2), st.integers(0, 2)), max_size=3, unique=True),
    st.integers(12, 20),
    st.integers(0, 5),
)
@settings(derandomize=True, max_examples=examples(3, 15), deadline=None)
def test_no_ban_is_ever_broken(bans: list[tuple[int, int]], items: int, seed: int) -> None:
    levels = ("a", "b", "c")
    forbidden = tuple({"p": levels[one], "q": levels[other]} for one, other in bans)
    if len(bans) == 3 and (len({b[0] for b in bans}) == 1 or len({b[1] for b in bans}) == 1):
        return  # a level that could never be made
    study = Study(
        title="t",
        question="q",
        factors=tuple(StudyFactor(name=n, levels=levels, shared=False) for n in "pq"),
        groups=(StudyGroup(name="team", count=3, role="maker"),),
        responses=(Response(name="y"),),
        limits=Limits(items=items, forbidden=forbidden),
        analysis=Options(interactions=1),
    )
    plan = draw_unchecked(study, seed=seed)
    assert len(plan.rows) == items
    assert not any(has(plan, ban) for ban in forbidden)
    teams = Counter(row.groups["team"] for row in plan.rows)
    assert max(teams.values()) - min(teams.values()) <= 1


@pytest.mark.parametrize("levels", [2, 3])
@pytest.mark.parametrize("sessions", [0, 2])
def test_every_small_study_with_one_ban_can_be_drawn(levels: int, sessions: int) -> None:
    groups = (StudyGroup(name="session", count=sessions),) if sessions else ()
    for place in range(levels):
        study = Study(
            title="t",
            question="q",
            factors=(
                StudyFactor(name="p", levels=("a", "b"), shared=False),
                StudyFactor(name="q", levels=tuple("abc"[:levels]), shared=False),
            ),
            groups=groups,
            responses=(Response(name="y"),),
            limits=Limits(items=12, forbidden=({"p": "a", "q": "abc"[place]},)),
        )
        plan = draw(study, seed=1)
        assert len(plan.rows) == 12
        assert plan_from_json(plan_to_json(plan)) == plan


def test_a_spread_of_items_alone_hides_no_group() -> None:
    # blocks of whose spread nothing is said still vary: the plan is the balanced one
    block = StudyGroup(name="block", count=7, capacity=3)
    study = one_factor(7, Limits(items=21), None, block)
    response = Response(name="y", spread=Spread(items=1.0))
    study = study.model_copy(update={"responses": (response,)})
    assert draw(study, seed=3).criteria["x"] == pytest.approx(7 / 9, abs=1e-9)


def test_few_sessions_stand_for_themselves_in_the_search() -> None:
    study = one_factor(2, Limits(), None, StudyGroup(name="oven", count=3, sizes=(6, 4, 2)))
    plan = draw(study, seed=3)
    found = plan.search
    assert found is not None
    # each version as often as the other in each of three blocks: sum over blocks of n/4 is 3, so
    # the variance of the half difference, scaled, is 1 / 12
    assert found.value == pytest.approx(1 / 12, rel=1e-9)


def test_groups_too_small_for_the_model_still_get_an_even_plan() -> None:
    block = StudyGroup(name="block", count=2, capacity=2)
    plan = draw(two_level(2, Limits(items=4), groups=(block,)), seed=1)
    assert len(plan.rows) == 4
    assert plan.search is None
    assert "Infinity" not in plan_to_json(plan)


@pytest.mark.long
def test_what_is_said_is_said_of_the_plan_that_was_drawn() -> None:
    oven = StudyGroup(name="oven", count=3, sizes=(6, 4, 4))
    study = two_level(3, Limits(), interactions=1, groups=(oven,))
    for seed in range(examples(2, 4)):
        plan = draw(study, seed=seed)
        found = plan.search
        assert found is not None
        X = np.stack([2 * plan_layout(plan)[name] - 1 for name in "pqr"], axis=1).astype(float)
        member = plan_units(plan).codes["oven"]
        Z = np.eye(3)[member]
        rest = X - Z @ np.linalg.lstsq(Z, X, rcond=None)[0]
        value = np.trace(np.linalg.inv(rest.T @ rest)) / 3
        assert found.value == pytest.approx(value, rel=1e-9)
        assert found.proved == (found.value <= found.bound * (1 + 1e-9))
