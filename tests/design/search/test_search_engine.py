"""The search itself: against every layout, published designs, and its own promises."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.design.factorials import full_factorial
from trials.design.search import (
    Criterion,
    Found,
    Problem,
    SearchFactor,
    SearchGroup,
    layout_value,
    robustness,
    search,
)
from trials.design.search import engine as engine_module
from trials.design.search.exhaust import best_of_all, is_small
from trials.design.search.layouts import as_value, make_ready
from trials.design.search.rules import Rules
from trials.design.search.values import Kind
from trials.design.values import Balance
from trials.errors import PlanError

SEED = 20


def find(
    problem: Problem, criterion: Criterion | None = None, starts: int = 10, seed: int = SEED
) -> Found:
    return search(problem, criterion, starts=starts, rng=np.random.default_rng(seed))


def quadratic(n: int, factors: int) -> Problem:
    """Curves in all factors and their products, on three levels each."""
    names = "uvwxyz"[:factors]
    return Problem(n, tuple(SearchFactor(name, 3, values=(-1, 0, 1), degree=2) for name in names))


def made(problem: Problem, found: Found) -> np.ndarray:
    """Settings -1, 0, 1 of every item, shape (n, factors)."""
    return np.stack([found.codes[f.name] for f in problem.factors], axis=1) - 1.0


def raw_determinant(points: np.ndarray, weights: np.ndarray) -> float:
    """|sum of w x x'| with the columns 1, x, x^2 and products, as books print it."""
    levels = list(points.T)
    columns = [np.ones(len(points)), *levels, *(x * x for x in levels)]
    columns += [x * y for i, x in enumerate(levels) for y in levels[i + 1 :]]
    X = np.column_stack(columns)
    return float(np.linalg.det((X * weights[:, None]).T @ X))


# Atkinson & Donev (1992), Optimum Experimental Designs, chapter 11; Atkinson, Donev & Tobias
# (2007), chapter 12: D-efficiencies of the exact designs for the quadratic in two factors on the
# 3^2 grid, relative to the continuous optimum (numbers from memory).
@pytest.mark.parametrize(("n", "efficiency"), [(6, 0.8849), (7, 0.9454), (8, 0.9572), (9, 0.9740)])
@pytest.mark.parametrize("exhaust", [True, False])
def test_published_quadratics_in_two_factors(
    n: int, efficiency: float, exhaust: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not exhaust:
        monkeypatch.setattr(engine_module, "is_small", lambda _: False)
    problem = quadratic(n, 2)
    found = find(problem, Criterion("D"))
    weights = np.array([0.0962, 0.0802, 0.1458])[np.abs(problem.allowed - 1).sum(axis=1)]
    continuous = raw_determinant(problem.allowed - 1.0, weights)  # the optimum, same source
    share = (raw_determinant(made(problem, found), np.full(n, 1 / n)) / continuous) ** (1 / 6)
    assert share == pytest.approx(efficiency, abs=3e-4)
    assert found.proved == exhaust
    if not exhaust:
        assert found.efficiency == pytest.approx(efficiency, abs=1e-4)


def test_published_determinant_of_the_quadratic_in_six_points() -> None:
    # 256 is the largest |X'X| of six points of the 3^2 grid: Box & Draper (1971), Technometrics 13,
    # 731-742, give 262 with points off the grid (from memory); all 3003 sets were looked at
    problem = quadratic(6, 2)
    points = made(problem, find(problem, Criterion("D")))
    assert raw_determinant(points, np.ones(6)) == pytest.approx(256)


def test_published_quadratic_in_three_factors() -> None:
    # 14 runs of the 3^3: (|X'X| / n^p)^(1/p) = 0.4630447, printed by a user of another program at
    # https://stat.ethz.ch/pipermail/r-help/2011-November/296625.html from 100 starts
    problem = quadratic(14, 3)
    found = find(problem, Criterion("D"), starts=20)
    share = raw_determinant(made(problem, found), np.full(14, 1 / 14)) ** (1 / 10)
    assert share >= 0.4630447 - 1e-6


# Twenty sizes (v, k, r): balanced incomplete blocks, square lattices, cyclic designs. They are here
# because a published design, not the search, reaches 0.99 of the bound: see test_search_bounds.
SIZES = [
    (4, 2, 3), (5, 2, 4), (6, 3, 5), (7, 3, 3), (7, 4, 4), (9, 3, 4), (10, 4, 6), (11, 5, 5),
    (13, 4, 4), (16, 4, 5), (21, 5, 5),
    (9, 3, 2), (9, 3, 3), (16, 4, 2), (16, 4, 3), (25, 5, 2), (25, 5, 3),
    (8, 3, 3), (10, 5, 5), (8, 4, 4),
]  # fmt: skip


@pytest.mark.parametrize(("v", "k", "r"), SIZES)
def test_blocks_come_within_a_hundredth_of_the_bound(v: int, k: int, r: int) -> None:
    group = SearchGroup("block", np.arange(v * r) // k, None)
    equal = Balance(factors=("a",))
    found = find(Problem(v * r, (SearchFactor("a", v),), (group,), balance=(equal,)), starts=6)
    assert found.excess == (0,)
    assert 0.99 <= found.efficiency <= 1.0


def test_seven_versions_in_blocks_of_three_are_proved_best() -> None:
    group = SearchGroup("block", np.arange(21) // 3, None)
    found = find(Problem(21, (SearchFactor("a", 7),), (group,)))
    assert 1 / (21 * found.value) == pytest.approx(7 / 9, rel=1e-9)
    assert found.proved


def small_problem(rng: np.random.Generator) -> Problem:
    n = int(rng.integers(6, 9))
    oven = np.sort(np.append(rng.integers(0, 3, n - 3), [0, 1, 2])).astype(np.intp)
    recipes = full_factorial([2, 3])
    forbidden = int(rng.integers(len(recipes)))
    recipes = np.delete(recipes, forbidden, axis=0)
    return Problem(
        n,
        (SearchFactor("a", 2, [None, "oven"][int(rng.integers(2))]), SearchFactor("b", 3)),
        (SearchGroup("oven", oven, float(rng.choice([0.3, 2.0]))),),
        recipes=recipes,
        interactions=1,
        fixed={0: tuple(int(c) for c in recipes[int(rng.integers(5))])},
        required=(tuple(int(c) for c in recipes[-1]),),
        balance=(Balance(factors=("b",)),),
    )


@settings(derandomize=True, max_examples=15, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from(("A", "D", "I")))
def test_search_finds_what_looking_at_every_layout_finds(seed: int, kind: Kind) -> None:
    rng = np.random.default_rng(seed)
    problem, criterion = small_problem(rng), Criterion(kind)
    ready = make_ready(problem, criterion)
    if not is_small(ready):
        return
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engine_module, "is_small", lambda _: False)
        found = search(problem, criterion, starts=12, rng=rng)
    limit = np.array(found.excess)
    best = best_of_all(ready, limit)
    assert best is not None
    assert found.value == pytest.approx(as_value(ready, best.score), rel=1e-9)


def class_of_48(*, forbidden: bool) -> Problem:
    """Two sessions of four firings of six; teams cross them; heat by the firing."""
    position = np.arange(48)
    groups = (
        SearchGroup("session", position // 24, None),
        SearchGroup("firing", position // 6, 1.0),
        SearchGroup("team", position % 6, 0.5),
    )
    rules = [Balance(factors=("heat",), within=w, counted="firing") for w in ((), ("session",))]
    rules += [
        Balance(factors=(name,), within=within)
        for name in ("soak", "kind")
        for within in ((), ("session",), ("firing",), ("team",))
    ]
    recipes = full_factorial([2, 2, 3])
    if forbidden:
        recipes = recipes[~((recipes[:, 1] == 1) & (recipes[:, 2] == 2))]
    return Problem(
        48,
        (SearchFactor("heat", 2, "firing"), SearchFactor("soak", 2), SearchFactor("kind", 3)),
        groups,
        recipes=recipes,
        balance=tuple(rules),
    )


@pytest.mark.parametrize("forbidden", [False, True])
def test_class_of_48(forbidden: bool) -> None:
    problem = class_of_48(forbidden=forbidden)
    found = find(problem, starts=4)
    assert found.excess == (0,) * len(problem.balance)
    table = np.stack([found.codes[f.name] for f in problem.factors], axis=1)
    assert {tuple(row) for row in table.tolist()} <= {tuple(r) for r in problem.allowed.tolist()}
    for firing in range(8):
        assert len(set(table[problem.groups[1].codes == firing, 0].tolist())) == 1
    if not forbidden:
        assert found.efficiency > 0.96
    again = find(problem, starts=4)
    assert all((again.codes[name] == found.codes[name]).all() for name in found.codes)


@settings(derandomize=True, max_examples=15, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from(("A", "D", "I")))
def test_never_worse_than_its_start_in_value_or_balance(seed: int, kind: Kind) -> None:
    rng = np.random.default_rng(seed)
    n = int(rng.integers(12, 30))
    shelf = rng.integers(0, 3, n).astype(np.intp)
    start = {"a": rng.integers(0, 2, n), "b": rng.integers(0, 3, n), "c": rng.integers(0, 2, n)}
    for name, codes in start.items():
        codes[: 3 if name == "b" else 2] = np.arange(3 if name == "b" else 2)
    kept = int(rng.integers(n))
    problem = Problem(
        n,
        (SearchFactor("a", 2), SearchFactor("b", 3), SearchFactor("c", 2)),
        (SearchGroup("shelf", np.unique(shelf, return_inverse=True)[1].astype(np.intp), 1.0),),
        interactions=1,
        fixed={kept: tuple(int(start[name][kept]) for name in "abc")},
        balance=tuple(
            Balance(factors=factors, within=within)
            for factors, within in (
                (("a",), ()), (("b",), ("shelf",)), (("a", "c"), ()), (("b",), ("c",)),
            )
        ),
        start={name: codes.astype(np.intp) for name, codes in start.items()},
    )  # fmt: skip
    found = search(problem, Criterion(kind), starts=2, rng=rng)
    before = Rules(problem).excess(np.stack([start[name] for name in "abc"], axis=1))
    assert all(np.array(found.excess) <= before)
    assert found.value <= layout_value(problem, problem.start or {}, Criterion(kind)) * (1 + 1e-12)
    assert tuple(int(found.codes[name][kept]) for name in "abc") == problem.fixed[kept]


def test_kept_items_stay_and_the_rest_makes_up_for_them() -> None:
    fixed = dict.fromkeys(range(6), (0, 0))  # six alike, one of which is allowed no longer
    recipes = np.delete(full_factorial([2, 2]), 0, axis=0)
    problem = Problem(
        12, (SearchFactor("a", 2), SearchFactor("b", 2)), recipes=recipes, interactions=1,
        fixed=fixed,
    )  # fmt: skip
    found = find(problem)
    pairs = np.stack([found.codes["a"], found.codes["b"]], axis=1)
    assert (pairs[:6] == 0).all()
    assert (pairs[6:].sum(axis=1) > 0).all()
    assert np.bincount(pairs[6:] @ [2, 1], minlength=4).tolist() == [0, 2, 2, 2]


def test_required_recipes_occur() -> None:
    # a curve needs no inner corner, but the requirement does
    problem = replace(quadratic(9, 2), required=((1, 1), (0, 1)), interactions=1)
    found = find(problem, Criterion("D"))
    made = {(int(u), int(v)) for u, v in zip(found.codes["u"], found.codes["v"], strict=True)}
    assert {(1, 1), (0, 1)} <= made


def test_telling_and_ending_early() -> None:
    told: list[tuple[int, int]] = []
    problem = class_of_48(forbidden=True)
    search(
        problem,
        starts=2,
        rng=np.random.default_rng(1),
        tell=lambda done, all_: told.append((done, all_)),
    )
    assert told == [(1, 2), (2, 2)]
    ended = search(problem, starts=50, rng=np.random.default_rng(1), seconds=0.0)
    assert ended.reason == "time_up"
    assert ended.starts == 1
    assert not ended.proved


def test_too_few_items_and_what_contradicts_itself_are_refused() -> None:
    factors = (SearchFactor("a", 3), SearchFactor("b", 3))
    with pytest.raises(PlanError) as few:
        find(Problem(8, factors))
    assert few.value.code == "search.too_few_items"
    assert "9" in few.value.allowed
    with pytest.raises(PlanError, match="no group oven"):
        Problem(8, (SearchFactor("a", 2, "oven"),))
    with pytest.raises(PlanError, match="required recipe"):
        Problem(8, factors, recipes=np.array([[0, 0], [1, 1], [2, 2]]), required=((0, 1),))
    recipes = np.array([[0, 0], [1, 1], [2, 2]])
    start = {"a": np.zeros(8, dtype=np.intp), "b": np.ones(8, dtype=np.intp)}
    with pytest.raises(PlanError, match="forbidden recipe"):
        find(Problem(8, factors, recipes=recipes, interactions=1, start=start))


def test_what_a_fixed_group_hides_is_not_estimable() -> None:
    oven = SearchGroup("oven", np.arange(8) // 4, None)
    found = find(Problem(8, (SearchFactor("a", 2, "oven"),), (oven,)))
    assert found.reason == "not_estimable"
    assert not found.proved
    assert found.efficiency == 0.0
    pairs = SearchGroup("pair", np.arange(6) // 2, None)
    with pytest.raises(PlanError) as few:  # mean, 4 of versions, 2 of pairs
        find(Problem(6, (SearchFactor("a", 5),), (pairs,)))
    assert few.value.found == "6 items, 7 things to estimate"


def test_robustness_tells_what_a_wrong_spread_would_cost() -> None:
    # a plan chosen as if ovens were all alike is poor where they are not
    oven = SearchGroup("oven", np.arange(24) // 4, 0.0)
    problem = Problem(24, (SearchFactor("a", 6),), (oven,), balance=(Balance(factors=("a",)),))
    alone = {"a": np.arange(24, dtype=np.intp) // 4}  # each version in one oven
    poor = robustness(problem, alone, rng=np.random.default_rng(3))
    assert [score.ratio for score in poor.scores] == [0.0, 1.0, 4.0]
    assert poor.scores[0].efficiency == pytest.approx(1.0)
    # six ovens as six items of variance 1 + 4 * 4, against about 1 / E of 24 items
    assert poor.worst == poor.scores[2].efficiency < 0.1
    good = search(problem.with_ratio(4.0), starts=5, rng=np.random.default_rng(3))
    assert robustness(problem, good.codes, rng=np.random.default_rng(3)).worst > 0.99
