"""Dunnett's method against R by double integration, printed tables, and scipy's Monte Carlo."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from trials.model.dunnett import (
    adjusted_p,
    critical,
    loadings_of_counts,
    loadings_of_covariance,
)

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "multiplicity" / "pairs.json").read_text("utf-8")
)["dunnett"]


def test_plantgrowth_equals_r_by_double_integration() -> None:
    """Dobson (1983) as PlantGrowth in R 4.2.2."""
    loadings = loadings_of_counts(10, (10, 10))
    reach = critical(0.95, loadings, 27)
    assert reach == pytest.approx(REFERENCE["critical_0.95"], rel=1e-9)
    for row in REFERENCE["comparisons"]:
        assert adjusted_p(row["t"], loadings, 27) == pytest.approx(row["p_exact"], rel=1e-9)
        assert row["estimate"] - reach * row["se"] == pytest.approx(row["lower_exact"], rel=1e-9)


@pytest.mark.parametrize(
    ("confidence", "df", "points"),
    [
        (0.95, 5, (2.57, 3.03, 3.29, 3.48, 3.62)),
        (0.95, 10, (2.23, 2.57, 2.76, 2.89, 2.99)),
        (0.95, 20, (2.09, 2.38, 2.54, 2.65, 2.73)),
        (0.95, math.inf, (1.96, 2.21, 2.35, 2.44, 2.51)),
        (0.99, 5, (4.03, 4.63, 4.98, 5.22, 5.41)),
        (0.99, 10, (3.17, 3.53, 3.74, 3.88, 3.99)),
    ],
)
def test_printed_two_sided_points(confidence: float, df: float, points: tuple[float, ...]) -> None:
    """C. W. Dunnett (1964), Biometrics 20, 482-491, tables II and III (from memory)."""
    for k, point in enumerate(points, start=1):
        reach = critical(confidence, loadings_of_counts(1, (1,) * k), df)
        assert reach == pytest.approx(point, abs=0.0055)


def test_unequal_groups_of_dunnetts_own_example() -> None:
    """Dunnett (1955), blood counts; p and limits by R's multcomp as kept in scipy's tests."""
    loadings = loadings_of_counts(6, (4, 5))
    df = 12
    assert adjusted_p(0.85703, loadings, df) == pytest.approx(0.6201020, abs=2e-5)
    assert adjusted_p(3.69375, loadings, df) == pytest.approx(0.0058254, abs=2e-6)


def test_against_scipys_quasi_monte_carlo() -> None:
    rng = np.random.default_rng(11)
    control = rng.normal(0, 1, 7)
    samples = [rng.normal(shift, 1, n) for shift, n in ((0.5, 4), (1.0, 9), (1.6, 5))]
    expected = stats.dunnett(*samples, control=control, rng=np.random.default_rng(1))
    loadings = loadings_of_counts(7, (4, 9, 5))
    found = [adjusted_p(t, loadings, 21) for t in expected.statistic]
    assert found == pytest.approx(expected.pvalue, abs=1e-3)


@pytest.mark.parametrize("df", [2.5, 11.0, math.inf])
def test_correlation_near_one_and_correlation_zero(df: float) -> None:
    """Near 1 all comparisons are one comparison; at 0 and infinite df they are independent."""
    t = 2.5
    single = adjusted_p(t, (0.0,), df)
    gaps = [adjusted_p(t, (loading,) * 4, df) / single - 1 for loading in (0.99, 0.9999, 0.999999)]
    assert gaps[0] / 10 == pytest.approx(gaps[1], rel=0.2)  # as the square root of 1 - correlation
    assert gaps[1] / 10 == pytest.approx(gaps[2], rel=0.05)
    if math.isinf(df):
        assert adjusted_p(t, (0.0,) * 4, df) == pytest.approx(1 - (1 - single) ** 4, rel=1e-12)


def test_loadings_from_a_covariance() -> None:
    counts = loadings_of_counts(6, (4, 5, 9, 2))
    within = np.diag([1 / 4, 1 / 5, 1 / 9, 1 / 2]) + 1 / 6
    assert loadings_of_covariance(3.7 * within) == pytest.approx(counts, rel=1e-12)
    signed = np.outer([1, -1, 1, 1], [1, -1, 1, 1]) * within
    found = loadings_of_covariance(signed)
    assert found is not None
    assert np.abs(found) == pytest.approx(counts, rel=1e-12)
    two = loadings_of_covariance([[1, -0.5], [-0.5, 1]])
    assert two == pytest.approx((math.sqrt(0.5), -math.sqrt(0.5)))
    assert loadings_of_covariance([[4.0]]) == (0.0,)


@pytest.mark.parametrize(
    "covariance",
    [
        [[1, 0.5, 0.2], [0.5, 1, 0.0], [0.2, 0.0, 1]],
        [[1, 0.5, 0.5, 0.5], [0.5, 1, 0.5, 0.5], [0.5, 0.5, 1, 0.6], [0.5, 0.5, 0.6, 1]],
        [[1, 1], [1, 1]],
        [[0, 0], [0, 1]],
        [[math.nan, 0], [0, 1]],
    ],
)
def test_other_covariances_have_no_loadings(covariance: list[list[float]]) -> None:
    assert loadings_of_covariance(covariance) is None


def test_one_comparison_is_a_t_test() -> None:
    assert adjusted_p(2.0, (0.0,), 8.5) == pytest.approx(2 * stats.t.sf(2.0, 8.5), rel=1e-12)
    assert critical(0.95, (0.0,), 8.5) == pytest.approx(stats.t.isf(0.025, 8.5), rel=1e-12)


def test_nothing_to_compare_is_refused() -> None:
    assert math.isnan(adjusted_p(math.nan, (0.5, 0.5), 5))
    none: tuple[float, ...] = ()
    for loadings, df in ((none, 5), ((1.0, 0.5), 5), ((0.5,), 0)):
        with pytest.raises(ValueError, match=r"comparison|loadings|freedom"):
            adjusted_p(1, loadings, df)
    with pytest.raises(ValueError, match="confidence"):
        critical(0.0, (0.5,), 5)
