"""The search's arithmetic: updates against fresh computation, criteria against the model's room."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sizes import examples
from trials.design.factorials import full_factorial
from trials.design.search import Criterion, Problem, SearchFactor, SearchGroup, layout_value
from trials.design.search.layouts import State, make_ready
from trials.design.search.moves import all_changes
from trials.design.search.rules import Rules
from trials.design.search.starts import dealt
from trials.design.search.values import Kind
from trials.design.values import Balance
from trials.model import RESIDUAL, Structure, make_layout, precision

KINDS: tuple[Kind, ...] = ("A", "D", "I")


def random_problem(rng: np.random.Generator) -> Problem:
    """A small problem with groups of unequal size, forbidden recipes, kept items and rules."""
    n = int(rng.integers(12, 22))
    oven = np.sort(rng.integers(0, 5, n))
    oven = np.unique(oven, return_inverse=True)[1].astype(np.intp)
    hand = rng.integers(0, 2, n)
    hand[:2] = 0, 1
    levels = [2, int(rng.integers(2, 4)), int(rng.integers(2, 4))]
    recipes = full_factorial(levels)
    recipes = np.delete(recipes, rng.integers(len(recipes)), axis=0)
    fixed = {0: tuple(int(c) for c in recipes[0])}
    where = [None, "oven", None][int(rng.integers(3))]
    numbers = tuple(float(x) for x in range(levels[1])) if rng.random() < 0.5 else None
    return Problem(
        n,
        (
            SearchFactor("a", 2, where),
            SearchFactor("b", levels[1], values=numbers, degree=2),
            SearchFactor("c", levels[2], control=0),
        ),
        (
            SearchGroup("oven", oven, float(rng.choice([0.0, 1.0, 4.0]))),
            SearchGroup("hand", hand.astype(np.intp), None),
        ),
        residual=float(rng.choice([0.5, 1.0])),
        recipes=recipes,
        interactions=int(rng.integers(1, 3)),
        fixed=fixed,
        balance=(Balance(factors=("b",)), Balance(factors=("c",), within=("oven",))),
    )


@settings(derandomize=True, max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from(KINDS))
def test_updates_equal_a_fresh_computation(seed: int, kind: Kind) -> None:
    rng = np.random.default_rng(seed)
    ready = make_ready(random_problem(rng), Criterion(kind))
    state = State(ready, dealt(ready, rng), ridge=1e-2)
    for stage in ready.stages:
        units = rng.permutation(stage.free)[:3]
        for rows, recipes in all_changes(state, stage, units):
            if not len(rows):
                continue
            promised, told = state.at_most(rows, recipes), state.scores(rows, recipes)
            for number in rng.permutation(len(rows))[:4]:
                other = state.recipe.copy()
                real = recipes[number] != state.recipe[rows[number]]
                other[rows[number][real]] = recipes[number][real]
                fresh = State(ready, other, ridge=1e-2)
                np.testing.assert_allclose(told[number], fresh.score, rtol=1e-8, atol=1e-8)
                assert fresh.score - state.score >= promised[number] - 1e-8 * abs(state.score)
            state.take(rows[0], recipes[0])
            fresh = State(ready, state.recipe, ridge=1e-2)
            np.testing.assert_allclose(state.score, fresh.score, rtol=1e-8, atol=1e-8)
            np.testing.assert_allclose(state.inverse, fresh.inverse, rtol=1e-7, atol=1e-8)
            np.testing.assert_allclose(state.G, fresh.G, rtol=1e-8, atol=1e-8)


@pytest.mark.long
@settings(derandomize=True, max_examples=examples(10, 25), deadline=None)
@given(st.integers(0, 10**6))
def test_changes_make_no_forbidden_recipe_and_spare_what_is_kept(seed: int) -> None:
    rng = np.random.default_rng(seed)
    problem = random_problem(rng)
    ready = make_ready(problem, Criterion())
    state = State(ready, dealt(ready, rng), ridge=1e-2)
    allowed = {tuple(row) for row in problem.allowed.tolist()}
    for stage in ready.stages:
        for rows, recipes in all_changes(state, stage, stage.free, both=True):
            for number in range(len(rows)):
                after = state.recipe.copy()
                real = recipes[number] != state.recipe[rows[number]]
                after[rows[number][real]] = recipes[number][real]
                codes = ready.recipes[after]
                assert {tuple(row) for row in codes[1:].tolist()} <= allowed
                assert tuple(codes[0]) == problem.fixed[0]
                unit = problem.unit(problem.factors[0].group)
                assert len(np.unique(np.stack([unit, codes[:, 0]]), axis=1).T) == len(
                    np.unique(unit)
                )


@settings(derandomize=True, max_examples=30, deadline=None)
@given(st.integers(0, 10**6))
def test_excess_after_a_change_equals_counting_again(seed: int) -> None:
    rng = np.random.default_rng(seed)
    problem = random_problem(rng)
    ready = make_ready(problem, Criterion())
    state = State(ready, dealt(ready, rng), ridge=1e-2)
    rules = Rules(problem)
    stage = ready.stages[-1]
    for rows, recipes in all_changes(state, stage, stage.free[:4], both=True):
        told = rules.excess_after(state.codes, rows, ready.recipes[recipes])
        limit = rules.excess(state.codes)
        kept = rules.kept(state.codes, rows, ready.recipes[recipes], limit)
        for number in range(len(rows)):
            after = state.codes.copy()
            real = recipes[number] != state.recipe[rows[number]]
            after[rows[number][real]] = ready.recipes[recipes[number][real]]
            counted = rules.excess(after)
            assert told[number].tolist() == counted.tolist()
            assert kept[number] == bool((counted <= limit).all())


def _codes(rng: np.random.Generator, n: int, levels: int) -> np.ndarray:
    return rng.permutation(np.arange(n, dtype=np.intp) % levels)


def test_criterion_a_is_the_mean_variance_that_generalised_least_squares_has() -> None:
    # outside check: covariance of the coefficients from statsmodels' GLS, another coding
    import statsmodels.api as sm  # type: ignore[import-untyped]  # it ships no types

    rng = np.random.default_rng(5)
    n = 36
    oven = np.repeat(np.arange(9), 4)
    levels = {"a": 2, "b": 3, "c": 3}
    codes = {name: _codes(rng, n, count) for name, count in levels.items()}
    V = 0.7 * np.eye(n) + 0.4 * (oven[:, None] == oven[None, :])
    cells = [(name, level) for name, count in levels.items() for level in range(1, count)]
    X = np.column_stack([np.ones(n), *((codes[f] == level).astype(float) for f, level in cells)])
    cov = np.asarray(sm.GLS(np.zeros(n), X, sigma=V).fit().normalized_cov_params)
    shares = []
    for name, count in levels.items():
        rows = np.zeros((count, X.shape[1]))
        for level in range(1, count):
            rows[level, 1 + cells.index((name, level))] = 1.0
        pairs = [rows[x] - rows[y] for x, y in combinations(range(count), 2)]
        shares.append(np.mean([row @ cov @ row for row in pairs]) / (2 * count))
    problem = Problem(
        n,
        (SearchFactor("a", 2), SearchFactor("b", 3), SearchFactor("c", 3)),
        (SearchGroup("oven", oven, 0.4),),
        residual=0.7,
        interactions=1,
    )
    assert layout_value(problem, codes) == pytest.approx(np.mean(shares), rel=1e-9)
    weighted = layout_value(problem, codes, Criterion(weights={"a": 3.0, "b": 0.0, "c": 1.0}))
    assert weighted == pytest.approx(0.75 * shares[0] + 0.25 * shares[2], rel=1e-9)


def test_with_a_recipe_missing_pairs_are_averaged_as_the_analysis_does() -> None:
    rng = np.random.default_rng(6)
    recipes = np.delete(full_factorial([2, 3]), 5, axis=0)  # the second of a with the third of b
    table = recipes[np.arange(20) % 5][rng.permutation(20)]
    codes = {"a": table[:, 0], "b": table[:, 1]}
    columns = {name: [str(c) for c in own] for name, own in codes.items()}
    known = precision(make_layout(Structure(["a", "b"], []), columns), {RESIDUAL: 1.0})
    problem = Problem(20, (SearchFactor("a", 2), SearchFactor("b", 3)), recipes=recipes)
    for name, levels in (("a", 2), ("b", 3)):
        errors = [known.pair(name, x, y).se for x, y in combinations(range(levels), 2)]
        share = np.mean([se**2 for se in errors if se is not None]) / (2 * levels)
        only = Criterion(weights={"a": 0.0, "b": 0.0, "a:b": 0.0, name: 1.0})
        assert layout_value(problem, codes, only) == pytest.approx(share, rel=1e-9)


def test_with_a_control_each_is_compared_with_it() -> None:
    codes = {"a": np.repeat(np.arange(4), [6, 2, 3, 3])}
    problem = Problem(14, (SearchFactor("a", 4, control=0),), residual=2.0)
    mean = np.mean([2.0 * (1 / 6 + 1 / m) for m in (2, 3, 3)])
    assert layout_value(problem, codes) == pytest.approx(mean / 8, rel=1e-12)


def test_evenly_spread_independent_items_have_the_value_one_by_n() -> None:
    recipes = np.tile(full_factorial([2, 3, 4]), (2, 1))
    codes = {name: recipes[:, place] for place, name in enumerate("abc")}
    factors = (SearchFactor("a", 2), SearchFactor("b", 3), SearchFactor("c", 4))
    for kind in KINDS:
        value = layout_value(Problem(48, factors, interactions=3), codes, Criterion(kind))
        assert value == pytest.approx(24 / 48 if kind == "I" else 1 / 48, rel=1e-12)
