"""Layouts to begin from: allowed everywhere, kept items untouched, balance as near as can be."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.design.factorials import full_factorial
from trials.design.search import Criterion, Problem, SearchFactor, SearchGroup
from trials.design.search import starts as starts_module
from trials.design.search.layouts import make_ready
from trials.design.search.starts import beyond, dealt, first_layout, keeps_as_well, mended
from trials.design.values import Balance
from trials.errors import PlanError


def two_sizes(*, n: int = 24, kept: bool = False) -> Problem:
    """Four trays of six; a by the tray, b and c by the item, one combination forbidden."""
    recipes = full_factorial([2, 2, 3])
    recipes = recipes[~((recipes[:, 0] == 1) & (recipes[:, 2] == 2))]
    rules = [Balance(factors=("a",), counted="tray"), Balance(factors=("b",))]
    rules += [Balance(factors=("b",), within=("tray",)), Balance(factors=("b",), within=("a",))]
    rules += [Balance(factors=("c",)), Balance(factors=("b", "c"), within=("tray",))]
    return Problem(
        n,
        (SearchFactor("a", 2, "tray"), SearchFactor("b", 2), SearchFactor("c", 3)),
        (SearchGroup("tray", np.arange(n) // 6, 1.0),),
        recipes=recipes,
        fixed={0: (1, 1, 1), 1: (1, 0, 0)} if kept else {},
        required=((0, 1, 2), (1, 0, 1)),
        balance=tuple(rules),
    )


@settings(derandomize=True, max_examples=10, deadline=None)
@given(st.integers(0, 10**6), st.booleans())
def test_dealt_and_mended_layouts_are_allowed(seed: int, kept: bool) -> None:
    rng = np.random.default_rng(seed)
    problem = two_sizes(kept=kept)
    ready = make_ready(problem, Criterion())
    first = dealt(ready, rng)
    second = mended(ready, first, rng)
    assert beyond(ready, second) <= beyond(ready, first)
    for recipe in (first, second):
        codes = ready.recipes[recipe]
        assert ready.open[recipe].all()
        assert all(tuple(codes[p]) == r for p, r in problem.fixed.items())
        trays = problem.groups[0].codes
        assert all(len(set(codes[trays == tray, 0].tolist())) == 1 for tray in range(4))


def test_the_solver_keeps_what_can_be_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(starts_module, "EFFORT", 0.3)
    # six trays of which half can't have the third version of c: c can't be even everywhere, b can
    problem = two_sizes(n=36, kept=True)
    easy = replace(problem, balance=tuple(r for r in problem.balance if "c" not in r.factors))
    ready = make_ready(easy, Criterion())
    solved = starts_module._solved(ready, np.random.default_rng(1), hard=True)
    assert solved is not None
    assert beyond(ready, solved) == 0
    whole = make_ready(problem, Criterion())
    assert starts_module._solved(whole, np.random.default_rng(1), hard=True) is None
    near = starts_module._solved(whole, np.random.default_rng(1), hard=False)
    assert near is not None
    assert whole.rules.missing(whole.recipes[near]) == 0


def test_first_layout_asks_the_solver_where_exchanges_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = two_sizes(kept=True)
    easy = replace(problem, balance=tuple(r for r in problem.balance if "c" not in r.factors))
    ready = make_ready(easy, Criterion())
    monkeypatch.setattr(starts_module, "PATIENCE", 0)  # nothing is mended
    assert beyond(ready, first_layout(ready, np.random.default_rng(2))) == 0


def test_keeping_as_well() -> None:
    problem = Problem(4, (SearchFactor("a", 2),), balance=(Balance(factors=("a",)),))
    ready = make_ready(problem, Criterion())
    even, uneven = np.array([0, 0, 1, 1]), np.array([0, 0, 0, 1])
    assert keeps_as_well(ready, even, uneven)
    assert not keeps_as_well(ready, uneven, even)


def test_a_unit_with_nothing_allowed_is_named() -> None:
    recipes = np.array([[0, 0], [1, 1]])
    problem = Problem(
        4,
        (SearchFactor("a", 2, "tray"), SearchFactor("b", 2, "shelf")),
        (
            SearchGroup("tray", np.array([0, 0, 1, 1]), 1.0),
            SearchGroup("shelf", np.array([0, 1, 0, 1]), 1.0),
        ),
        recipes=recipes,
        interactions=1,
        fixed={0: (0, 0), 3: (1, 1)},
    )
    with pytest.raises(PlanError) as refused:
        first_layout(make_ready(problem, Criterion()), np.random.default_rng(1))
    assert refused.value.code in ("search.no_layout", "search.start")
