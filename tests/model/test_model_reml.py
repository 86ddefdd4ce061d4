"""REML against a slow, plain implementation with n x n matrices, and against itself."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize

from trials.model import FitOptions, Layout, Structure, fit_rows, make_layout
from trials.model.inference import MixedInference
from trials.model.layout import Floats
from trials.model.reduced import reduce_rows
from trials.model.reml import At, evaluate, fit, informed
from trials.model.strata import indicator
from trials.model.terms import Design, make_design


def unbalanced(seed: int) -> tuple[Layout, Floats]:
    """Teams crossing two-level nested firings, with items lost at random."""
    rng = np.random.default_rng(seed)
    rows: dict[str, list[str]] = {name: [] for name in ("day", "firing", "team", "heat", "feed")}
    for day in range(3):
        for firing in range(4):
            for team in range(7):
                if rng.random() < 0.2:
                    continue
                rows["day"].append(f"d{day}")
                rows["firing"].append(f"d{day}f{firing}")
                rows["team"].append(f"t{team}")
                rows["heat"].append("ab"[firing % 2])
                rows["feed"].append("xyz"[int(rng.integers(3))])
    structure = Structure(["heat", "feed"], ["day/firing", "team"], {"heat": "day/firing"})
    layout = make_layout(structure, rows)
    y = rng.normal(size=layout.n)
    for grouping, sd in zip(layout.random, (0.7, 1.2), strict=False):
        y = y + sd * rng.normal(size=grouping.members)[grouping.coded.codes]
    return layout, y


def plain(design: Design, y: Floats, theta: Floats) -> tuple[float, Floats, Floats, Floats]:
    """Return criterion, score, observed and expected information by the textbook."""
    X = design.XK
    matrices = [np.eye(len(y))]
    matrices += [indicator(g.coded) @ indicator(g.coded).T for g in design.layout.random]
    V = sum(t * M for t, M in zip(theta, matrices, strict=True))
    Vi = np.linalg.inv(V)
    info = X.T @ Vi @ X
    P = Vi - Vi @ X @ np.linalg.inv(info) @ X.T @ Vi
    Py = P @ y
    value = -0.5 * (np.linalg.slogdet(V)[1] + np.linalg.slogdet(info)[1] + y @ Py)
    score = np.array([0.5 * (Py @ M @ Py - np.trace(P @ M)) for M in matrices])
    expected = np.array([[0.5 * np.trace(P @ A @ P @ B) for B in matrices] for A in matrices])
    observed = np.array([[Py @ A @ P @ B @ Py for B in matrices] for A in matrices]) - expected
    return float(value), score, observed, expected


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("theta", [(1.0, 0.3, 0.8), (0.5, -0.02, 0.4), (2.0, 0.0, 0.0)])
def test_criterion_and_information_equal_the_textbook(
    seed: int, theta: tuple[float, float, float]
) -> None:
    layout, y = unbalanced(seed)
    design = make_design(layout)
    at = evaluate(reduce_rows(design, y), np.array(theta))
    value, score, observed, expected = plain(design, y, np.array(theta))
    shift = at.loglik - value  # constant: the criterion may leave one out
    other = evaluate(reduce_rows(design, y), np.array([1.5, 0.1, 0.2]))
    assert other.loglik - plain(design, y, np.array([1.5, 0.1, 0.2]))[0] == pytest.approx(shift)
    np.testing.assert_allclose(at.score, score, rtol=1e-8, atol=1e-9)
    np.testing.assert_allclose(at.observed, observed, rtol=1e-8, atol=1e-9)
    np.testing.assert_allclose(at.expected, expected, rtol=1e-8, atol=1e-9)


def test_kenward_roger_sums_equal_the_textbook() -> None:
    layout, y = unbalanced(4)
    design = make_design(layout)
    theta = np.array([0.9, 0.4, 0.7])
    at = evaluate(reduce_rows(design, y), theta)
    X = design.XK
    matrices = [np.eye(len(y))]
    matrices += [indicator(g.coded) @ indicator(g.coded).T for g in layout.random]
    Vi = np.linalg.inv(sum(t * M for t, M in zip(theta, matrices, strict=True)))
    for i, A in enumerate(matrices):
        np.testing.assert_allclose(at.N[i], X.T @ Vi @ A @ Vi @ X, atol=1e-9)
        for j, B in enumerate(matrices):
            Q = X.T @ Vi @ A @ Vi @ B @ Vi @ X
            np.testing.assert_allclose(at.Q[i, j], (Q + Q.T) / 2, atol=1e-9)


@settings(derandomize=True, max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_the_top_is_a_top(seed: int) -> None:
    """No point of a grid round the answer, and no other search, gets higher."""
    layout, y = unbalanced(seed)
    data = reduce_rows(make_design(layout), y)
    at, trace = fit(data, informed(data))
    assert trace.converged
    assert np.abs(at.score * at.theta[0]).max() < 1e-5
    for scale in (1e-3, 0.1, 0.5):
        for sign in np.array(np.meshgrid([-1, 0, 1], [-1, 0, 1], [-1, 0, 1])).T.reshape(-1, 3):
            theta = at.theta + scale * sign * at.theta[0]
            if data.is_positive(theta):
                assert evaluate(data, theta).loglik <= at.loglik + 1e-9


def _bounded_elsewhere(layout: Layout, y: Floats) -> float:
    data = reduce_rows(make_design(layout), y)

    def cost(root: Floats) -> float:
        theta = np.append(np.exp(root[0]), root[1:] ** 2)
        return -evaluate(data, theta).loglik if data.is_positive(theta) else 1e9

    starts = [np.array([0.0, a, b]) for a in (0.1, 1.0) for b in (0.1, 1.0)]
    found = [
        optimize.fmin(cost, s, xtol=1e-9, ftol=1e-11, maxiter=4000, full_output=True, disp=False)
        for s in starts
    ]
    return -min(float(f[1]) for f in found)


@pytest.mark.parametrize("seed", range(40, 48))
def test_bounded_search_equals_a_slow_search_of_another_kind(seed: int) -> None:
    layout, y = unbalanced(seed)
    data = reduce_rows(make_design(layout), y)
    at, _ = fit(data, informed(data), bounded=True)
    assert (at.theta >= 0).all()
    assert at.loglik == pytest.approx(_bounded_elsewhere(layout, y), abs=1e-6)


def split_plot(values: list[float]) -> tuple[Layout, Floats]:
    rows: dict[str, list[str]] = {name: [] for name in ("block", "plot", "a", "b")}
    for block in range(6):
        for plot in range(2):
            for b in range(3):
                rows["block"].append(str(block))
                rows["plot"].append(str(plot))
                rows["a"].append(f"a{plot}")
                rows["b"].append(f"b{b}")
    structure = Structure(["a", "b"], ["block", "block/plot"], {"a": "block/plot"})
    return make_layout(structure, rows), np.array(values)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.lists(st.floats(-100, 100), min_size=36, max_size=36))
def test_strata_and_reml_agree_on_orthogonal_plans(values: list[float]) -> None:
    layout, y = split_plot(values)
    y = y + np.random.default_rng(5).normal(scale=20, size=36)
    exact = fit_rows(layout, y)
    mixed = fit_rows(layout, y, FitOptions(df="kenward-roger"))
    assert (exact.estimator, mixed.estimator) == ("strata", "reml")
    inference = mixed.inference
    assert isinstance(inference, MixedInference)
    assert isinstance(inference.at, At)
    for one, other in zip(exact.tests, mixed.tests, strict=True):
        assert one.result.f == pytest.approx(other.result.f, rel=1e-8)
        assert one.result.den_df == pytest.approx(other.result.den_df, rel=1e-6)
    for first, second in zip(exact.components, mixed.components, strict=True):
        scale = exact.components[-1].unbounded or 1.0
        assert first.unbounded == pytest.approx(second.unbounded, rel=1e-7, abs=1e-8 * scale)
