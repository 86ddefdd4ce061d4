"""Effect sizes against R's effectsize (values in tests/reference/sizes) and pingouin."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import quad
from scipy.special import nctdtr

from trials.analysis import sizes
from trials.model.studentised import noncentral_t_cdf

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "sizes" / "effectsize.json").read_text("utf-8")
)
TERMS: list[dict[str, Any]] = REFERENCE["terms"]
NAMES = [f"{term['case']}-{term['term']}" for term in TERMS]


@pytest.mark.parametrize("term", TERMS, ids=NAMES)
def test_partial_eta_and_omega_equal_r(term: dict[str, Any]) -> None:
    f, num_df, den_df = term["f"], term["num_df"], term["den_df"]
    eta = sizes.partial_eta_squared(f, num_df, den_df)
    assert eta == pytest.approx(term["partial_eta2"], rel=1e-12)
    interval = sizes.partial_eta_squared_interval(f, num_df, den_df, 0.9)
    assert interval == pytest.approx(tuple(term["interval"]), abs=2e-9)  # R's pf stops at 1e-9
    omega = sizes.partial_omega_squared(f, num_df, den_df, term["n"])
    assert omega == pytest.approx(term["partial_omega2"], abs=1e-12)


@pytest.mark.parametrize("case", ["01_plantgrowth", "02_toothgrowth"])
def test_share_is_omega_squared_in_balanced_layouts(case: str) -> None:
    """R's effectsize::omega_squared; a term's mean square effect is num_df (MS - MSE) / n."""
    terms = [term for term in TERMS if term["case"] == case]
    mean_squares = {t["term"]: t["num_df"] * (t["mean_sq"] - t["residual"]) / t["n"] for t in terms}
    shares = sizes.shares_of_variance(mean_squares, [terms[0]["residual"]])
    for term in terms:
        assert shares[term["term"]] == pytest.approx(term["omega2"], rel=1e-11)


def test_mean_square_effect_of_group_means() -> None:
    rng = np.random.default_rng(3)
    y = rng.normal(size=(4, 6)) + np.array([[0.0], [1.0], [2.0], [0.5]])
    error = float(y.var(axis=1, ddof=1).mean())
    centring = np.eye(4) - 0.25
    effects = centring @ y.mean(axis=1)
    found = sizes.mean_square_effect(effects, centring * error / 6)
    between = float(6 * y.mean(axis=1).var(ddof=1))
    assert found == pytest.approx(3 * (between - error) / 24, rel=1e-12)


@pytest.mark.parametrize("pair", REFERENCE["hedges"], ids=lambda pair: str(pair["pair"]))
def test_hedges_g_equals_r(pair: dict[str, Any]) -> None:
    difference, sd = pair["d"] * pair["sd"], pair["sd"]
    assert sizes.small_sample_correction(18) == pytest.approx(pair["j"], rel=1e-13)
    assert sizes.hedges_g(difference, sd, 18) == pytest.approx(pair["g"], rel=1e-12)
    interval = sizes.hedges_g_interval(difference, sd * math.sqrt(0.2), sd, 18, 0.95)
    assert interval == pytest.approx(tuple(pair["interval"]), abs=2e-7)  # found there by optim


def test_hedges_g_next_to_pingouin() -> None:
    """pingouin has Cohen's d, and J by the approximation 1 - 3 / (4 n - 9)."""
    from pingouin import compute_effsize  # type: ignore[import-untyped]  # it ships no types

    x, y = np.array([5.1, 4.2, 6.0, 5.5, 4.9]), np.array([6.3, 7.0, 6.6, 5.9])
    sd = math.sqrt((4 * x.var(ddof=1) + 3 * y.var(ddof=1)) / 7)
    d = compute_effsize(x, y, eftype="cohen")
    assert (x.mean() - y.mean()) / sd == pytest.approx(d, rel=1e-12)
    found = sizes.hedges_g(x.mean() - y.mean(), sd, 7)
    assert found == pytest.approx(compute_effsize(x, y, eftype="hedges"), rel=2e-3)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.floats(-40, 40), st.floats(1.5, 80), st.sampled_from([0.5, 0.9, 0.95, 0.99]))
def test_the_limits_put_the_tails_where_they_belong(t: float, df: float, conf: float) -> None:
    interval = sizes.hedges_g_interval(t, 1.0, 1.0, df, conf)
    correction = sizes.small_sample_correction(df)
    assert interval is not None
    assert correction is not None
    low, high = (limit / correction for limit in interval)
    tail = (1 - conf) / 2
    for ncp, chance in ((low, 1 - tail), (high, tail)):
        scipys = nctdtr(df, ncp, t) if t >= 0 else 1 - nctdtr(df, -ncp, -t)
        if math.isfinite(scipys):
            assert scipys == pytest.approx(chance, abs=1e-9)
    assert low < t < high


@pytest.mark.parametrize(
    ("t", "df", "ncp"), [(4.0, 2.0, 9.25), (7.13, 3.0, -1.0), (3.17, 1.38, 9.68), (-5.0, 8.0, 1.0)]
)
def test_noncentral_t_equals_direct_integration(t: float, df: float, ncp: float) -> None:
    def integrand(s: float) -> float:
        return float(2 * s * df * stats.chi2.pdf(df * s * s, df) * stats.norm.cdf(t * s - ncp))

    expected, _ = quad(integrand, 0, 12, epsabs=1e-13, epsrel=1e-11, limit=300, points=[1.0, 3.0])
    assert noncentral_t_cdf(t, df, ncp) == pytest.approx(expected, rel=1e-9, abs=1e-13)


def test_what_cannot_be_computed_is_none() -> None:
    assert sizes.partial_eta_squared(math.inf, 1, 5) is None
    assert sizes.partial_eta_squared(math.nan, 1, 5) is None
    assert sizes.partial_eta_squared(2.0, 1, 0) is None
    assert sizes.partial_eta_squared_interval(2.0, 0, 5, 0.95) is None
    assert sizes.partial_eta_squared_interval(1e9, 1, 5, 0.95) is None
    assert sizes.partial_omega_squared(math.inf, 1, 5) is None
    assert sizes.small_sample_correction(1.0) is None
    assert sizes.small_sample_correction(math.inf) == 1.0
    assert sizes.hedges_g(1.0, 0.0, 5) is None
    assert sizes.hedges_g(1.0, 1.0, 1) is None
    assert sizes.hedges_g_interval(1.0, 0.0, 1.0, 5, 0.95) is None
    assert sizes.hedges_g_interval(1e7, 1.0, 1.0, 5, 0.95) is None
    assert sizes.shares_of_variance({"a": -1.0}, [0.0]) == {"a": None}


def test_edges() -> None:
    assert sizes.partial_omega_squared(0.5, 2, 10) == 0.0
    assert sizes.partial_eta_squared_interval(0.0, 2, 10, 0.95) == (0.0, 0.0)
    low, high = sizes.partial_eta_squared_interval(0.8, 2, 10, 0.95) or (None, None)
    assert low == 0.0
    assert high is not None
    estimate = sizes.partial_eta_squared(0.8, 2, 10)
    assert estimate is not None
    assert high > estimate
