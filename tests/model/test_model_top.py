"""The search ends at the top: a grid all over the possible variances never finds a better one."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sizes import examples
from trials.errors import AnalysisError
from trials.model import FitOptions, Group, Layout, Structure, fit_rows, make_layout
from trials.model.layout import Floats
from trials.model.reduced import Reduced, reduce_rows
from trials.model.reml import evaluate, fit, informed
from trials.model.terms import make_design

SHAPES = (["a"], ["a", "a/b"], ["a", "b"], ["a/b"])


def layouts(seed: int, shape: int) -> tuple[Layout, Floats]:
    """Small and lopsided: groups of any size, nested or crossing, and any mix of variances."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(12, 40))
    a, b = (rng.integers(int(rng.integers(3, 7)), size=n) for _ in range(2))
    rows = {
        "a": [f"a{i}" for i in a],
        "b": [f"b{i}" for i in b],
        "feed": ["xy"[i] for i in rng.integers(2, size=n)],
    }
    groups = [Group(path, random=True) for path in SHAPES[shape]]
    layout = make_layout(Structure(["feed"], groups), rows)
    sd = 10 ** rng.uniform(-1, 0.5, 3)
    y = sd[0] * rng.normal(size=n) + sd[1] * rng.normal(size=7)[a] + sd[2] * rng.normal(size=7)[b]
    return layout, y


def grid(data: Reduced, told: np.ndarray, bounded: bool) -> float:
    """Return the highest criterion at ratios of every kind, the scale at its best for each."""
    ratios = [0.0, *np.geomspace(0.01, 100, 7 if told.sum() < 4 else 4)]
    if not bounded:
        ratios += [-0.02, -0.1, -0.3]
    best = -np.inf
    df = data.n - data.k
    for chosen in product(ratios, repeat=int(told[1:].sum())):
        theta = np.zeros(len(told))
        theta[0] = 1.0
        theta[1:][told[1:]] = chosen
        if not data.is_positive(theta, 1e-2):
            continue
        at = evaluate(data, theta)
        k = data.k
        ((W,), _) = data.heights(theta[None])
        b = np.append(-at.beta, 1.0)
        scale = float(b @ W[: k + 1, : k + 1] @ b) / df
        best = max(best, at.loglik + 0.5 * df * (scale - 1 - np.log(scale)))
    return best


@pytest.mark.long
@settings(derandomize=True, max_examples=examples(25, 60), deadline=None)
@given(st.integers(0, 100_000), st.integers(0, 3), st.booleans())
def test_no_grid_finds_a_better_one(seed: int, shape: int, bounded: bool) -> None:
    layout, y = layouts(seed, shape)
    data = reduce_rows(make_design(layout), y)
    told = informed(data)
    at, trace = fit(data, told, bounded=bounded)
    assert trace.verdict in ("top reached", "edge reached")
    if trace.converged:
        assert at.loglik >= grid(data, told, bounded) - 1e-7
        assert trace.tops[-1] == pytest.approx(min(trace.tops))


def test_the_record_tells_the_way() -> None:
    layout, y = layouts(3, 1)
    trace = fit_rows(layout, y).trace
    assert trace is not None
    assert trace.converged
    deviance = [step[-1] for step in trace.steps]
    assert (np.diff(deviance) <= 1e-9 * np.abs(deviance[:-1])).all()
    assert deviance[-1] == pytest.approx(trace.tops[-1])
    assert trace.rivals >= 4


def readings(*, lost: bool) -> tuple[Layout, Floats, Floats]:
    """Ten items read three times with the same number each time, one reading lost or not."""
    rng = np.random.default_rng(3)
    item = np.repeat(np.arange(10), 3)[: 29 if lost else 30]
    own = rng.normal(size=10).round(2)
    rows = {"feed": ["xy"[i % 2] for i in item], "item": [str(i) for i in item]}
    return make_layout(Structure(["feed"]), rows, item="item"), own[item], own


@pytest.mark.parametrize("bounded", [True, False])
@pytest.mark.parametrize("lost", [True, False])
def test_readings_that_are_all_the_same_are_no_repeats(lost: bool, bounded: bool) -> None:
    """The answer is that of one value an item: 8 degrees of freedom, not 27."""
    layout, y, own = readings(lost=lost)
    fit = fit_rows(layout, y, FitOptions(df="kenward-roger", bounded=bounded))
    once = make_layout(Structure(["feed"]), {"feed": list("xy" * 5)})
    expected = fit_rows(once, own).tests[0].result
    assert fit.tests[0].result.f == pytest.approx(expected.f, rel=1e-6)
    assert fit.tests[0].result.den_df == pytest.approx(8.0, rel=1e-6)
    assert fit.component("residual").unbounded == 0.0


def six_firings(rows: int = 18) -> dict[str, list[str]]:
    firing = np.repeat(np.arange(6), 3)[:rows]
    return {
        "heat": ["ab"[i % 2] for i in firing],
        "firing": [f"f{i}" for i in firing],
        "feed": list("xyz" * 6)[:rows],
    }


FIRED = Structure(["heat", "feed"], ["firing"], {"heat": "firing"})


@pytest.mark.parametrize(
    ("value", "code"),
    [(np.inf, "table.not_finite"), (np.nan, "table.not_finite"), (1e200, "table.too_large")],
)
def test_values_that_cannot_be_reckoned_with(value: float, code: str) -> None:
    y = np.append(np.arange(17.0), value)
    with pytest.raises(AnalysisError) as caught:
        fit_rows(make_layout(FIRED, six_firings()), y)
    assert caught.value.code == code
    assert "18" in caught.value.where


def test_an_endless_covariate_is_refused() -> None:
    with pytest.raises(AnalysisError) as caught:
        make_layout(FIRED, six_firings(), covariates={"age": np.append(np.ones(17), np.inf)})
    assert caught.value.code == "table.not_finite"


def test_a_constant_response_is_refused() -> None:
    with pytest.raises(AnalysisError) as caught:
        fit_rows(make_layout(FIRED, six_firings()), np.full(18, 3.0))
    assert caught.value.code == "model.constant"


@pytest.mark.parametrize("rows", [3, 6])
def test_where_all_is_used_up_there_are_estimates_and_no_p(rows: int) -> None:
    """One firing, or one item per recipe."""
    fit = fit_rows(
        make_layout(FIRED, six_firings(rows)), np.random.default_rng(1).normal(size=rows)
    )
    assert all(test.result.f is None for test in fit.tests)
    assert all(c.unbounded is None for c in fit.components)


def test_a_collinear_covariate_is_not_estimable() -> None:
    rows = six_firings()
    same = np.array([1.0 if heat == "a" else 0.0 for heat in rows["heat"]])
    layout = make_layout(FIRED, rows, covariates={"age": same})
    fit = fit_rows(layout, np.random.default_rng(2).normal(size=18))
    notes = {test.hypothesis.term.name: test.result.note for test in fit.tests}
    assert notes["heat"] == "not_estimable"
    assert fit.tests[-1].result.f is not None


def test_an_empty_combination_leaves_the_rest() -> None:
    rows = {key: labels[:] for key, labels in six_firings().items()}
    kept = [i for i in range(18) if (rows["heat"][i], rows["feed"][i]) != ("b", "z")]
    layout = make_layout(FIRED, {key: [labels[i] for i in kept] for key, labels in rows.items()})
    fit = fit_rows(layout, np.random.default_rng(2).normal(size=len(kept)))
    assert [test.result.f is not None for test in fit.tests] == [True, True, True]
    assert fit.tests[-1].hypothesis.notes == ("some_combinations_empty",)
