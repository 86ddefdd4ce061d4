"""A variance for each level of a factor: Welch's test, direct likelihood, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from trials.errors import AnalysisError
from trials.model import RESIDUAL, FitOptions, Layout, Structure, fit_rows, make_layout
from trials.model.fit import DfChoice
from trials.model.layout import Floats
from trials.model.terms import make_design

values = st.lists(st.floats(-100, 100).map(lambda x: round(x, 3)), min_size=2, max_size=9)


@pytest.mark.parametrize("df", ["kenward-roger", "satterthwaite"])
@settings(derandomize=True, max_examples=60, deadline=None)
@given(values, values)
def test_two_levels_are_welchs_test(df: DfChoice, first: list[float], second: list[float]) -> None:
    """B. L. Welch (1938), Biometrika 29; df by Satterthwaite (1946). By scipy: ttest_ind."""
    assume(np.std(first) > 0.01 and np.std(second) > 0.01)
    y = np.array([*first, *second])
    layout = make_layout(Structure(["feed"]), {"feed": ["x"] * len(first) + ["y"] * len(second)})
    fit = fit_rows(layout, y, FitOptions(df=df, spread_by="feed"))
    welch = stats.ttest_ind(first, second, equal_var=False)
    (test,) = fit.tests
    assert test.result.f == pytest.approx(float(welch.statistic) ** 2, rel=1e-8, abs=1e-12)
    assert test.result.den_df == pytest.approx(float(welch.df), rel=1e-8)
    for level, own in (("x", first), ("y", second)):
        variance = fit.component(RESIDUAL, level).unbounded
        assert variance == pytest.approx(np.var(own, ddof=1), rel=1e-8)


def firings(seed: int) -> tuple[Layout, Floats]:
    """Six slides in each of eight firings; the two heats spread differently; some lost."""
    rng = np.random.default_rng(seed)
    kept = np.flatnonzero(rng.random(48) > 0.15)
    firing = kept // 6
    rows = {
        "firing": [str(i) for i in firing],
        "heat": ["ab"[i % 2] for i in firing],
        "feed": ["xyz"[i % 3] for i in kept],
    }
    structure = Structure(["heat", "feed"], ["firing"], {"heat": "firing"})
    sd = np.where(firing % 2, 3.0, 1.0)
    return make_layout(structure, rows), sd * rng.normal(size=len(kept)) + rng.normal(size=8)[
        firing
    ]


def criterion(layout: Layout, y: Floats, theta: Floats) -> float:
    """Return minus twice the REML likelihood by the textbook; variances of a, b and the firings."""
    X = make_design(layout).XK
    firing = layout.grouping("firing").coded.codes
    V = np.diag(theta[layout.factors["heat"].codes])
    V += theta[2] * (firing[:, None] == firing[None])
    if np.linalg.eigvalsh(V)[0] <= 1e-8:
        return 1e9
    Vi = np.linalg.inv(V)
    info = X.T @ Vi @ X
    e = y - X @ np.linalg.solve(info, X.T @ Vi @ y)
    return float(np.linalg.slogdet(V)[1] + np.linalg.slogdet(info)[1] + e @ Vi @ e)


@pytest.mark.parametrize("seed", range(1, 5))
def test_a_slow_search_finds_the_same_variances(seed: int) -> None:
    layout, y = firings(seed)
    fit = fit_rows(layout, y, FitOptions(spread_by="heat"))
    found = [fit.component(RESIDUAL, "a"), fit.component(RESIDUAL, "b"), fit.component("firing")]
    start = np.array([c.unbounded for c in found])

    def cost(theta: Floats) -> float:
        return criterion(layout, y, theta) if (theta[:2] > 0).all() else 1e9

    least, value, *_ = optimize.fmin(
        cost, start * 1.2 + 0.05, xtol=1e-8, ftol=1e-12, maxiter=4000, full_output=True, disp=False
    )
    np.testing.assert_allclose(start, least, rtol=1e-4, atol=1e-5)
    assert criterion(layout, y, start) <= value + 1e-9


def test_items_of_readings_spread_by_level() -> None:
    """Balanced readings: the items' variance per level is that of Welch's test of item means."""
    rng = np.random.default_rng(4)
    item = np.repeat(np.arange(14), 3)
    level = np.where(item < 6, 0, 1)
    y = rng.normal(size=14)[item] * np.where(level, 5.0, 1.0) + 0.3 * rng.normal(size=42)
    rows = {"feed": ["xy"[i] for i in level], "item": [str(i) for i in item]}
    layout = make_layout(Structure(["feed"]), rows, item="item")
    fit = fit_rows(layout, y, FitOptions(spread_by="feed", df="satterthwaite"))
    means = y.reshape(14, 3).mean(axis=1)
    welch = stats.ttest_ind(means[:6], means[6:], equal_var=False)
    assert fit.tests[0].result.f == pytest.approx(float(welch.statistic) ** 2, rel=1e-8)
    assert fit.tests[0].result.den_df == pytest.approx(float(welch.df), rel=1e-2)
    assert [(c.path, c.level) for c in fit.components] == [
        ("item", "x"), ("item", "y"), (RESIDUAL, None),
    ]  # fmt: skip


def test_single_items_have_no_firing_of_their_own() -> None:
    """An oven takes six, a burner one: each burner item varies as a whole, as in Welch's test."""
    rng = np.random.default_rng(8)
    firing = [*np.repeat(np.arange(4), 6), *range(4, 16)]
    heat = ["oven"] * 24 + ["burner"] * 12
    rows = {"firing": [str(i) for i in firing], "heat": heat}
    layout = make_layout(Structure(["heat"], ["firing"], {"heat": "firing"}), rows)
    y = rng.normal(size=36) + rng.normal(size=16)[firing]
    fit = fit_rows(layout, y, FitOptions(spread_by="heat", df="satterthwaite"))
    oven, burner = y[:24].reshape(4, 6).mean(axis=1), y[24:]
    welch = stats.ttest_ind(oven, burner, equal_var=False)
    assert fit.tests[0].result.f == pytest.approx(float(welch.statistic) ** 2, rel=1e-8)
    assert fit.tests[0].result.den_df == pytest.approx(float(welch.df), rel=1e-8)
    assert fit.component(RESIDUAL, "burner").unbounded == pytest.approx(np.var(burner, ddof=1))


def test_a_level_with_one_item_has_no_p() -> None:
    layout = make_layout(Structure(["feed"]), {"feed": list("xxxyyyz")})
    y = np.array([1.0, 2.0, 4.0, 1.0, 5.0, 9.0, 7.0])
    fit = fit_rows(layout, y, FitOptions(spread_by="feed"))
    assert fit.tests[0].result.f is None
    assert fit.tests[0].result.note == "no_replication"
    assert fit.component(RESIDUAL, "z").unbounded is None


def test_a_level_that_does_not_vary_is_refused() -> None:
    layout = make_layout(Structure(["feed"]), {"feed": list("xxxyyy")})
    with pytest.raises(AnalysisError) as caught:
        fit_rows(layout, np.array([1.0, 2.0, 4.0, 3.1, 3.1, 3.1]), FitOptions(spread_by="feed"))
    assert caught.value.code == "model.level_constant"
    assert caught.value.found == "y"
