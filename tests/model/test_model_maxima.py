"""The single-step multivariate t against exact integrals, scipy's, and a plain double integral."""

from __future__ import annotations

import json
import math
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr
from scipy.stats import multivariate_t
from scipy.stats import t as student

from trials.model import dunnett, tukey
from trials.model.maxima import Chance, largest
from trials.model.studentised import scaled_chi

PROMISED = 1e-4  # absolute
REFERENCE = Path(__file__).parents[1] / "reference" / "r" / "01_plantgrowth.json"


def _pairs(levels: int) -> np.ndarray:
    return np.array(
        [np.eye(levels)[a] - np.eye(levels)[b] for a, b in combinations(range(levels), 2)]
    )


def _of_means(variances: list[float]) -> np.ndarray:
    pairs = _pairs(len(variances))
    return np.asarray(pairs @ np.diag(variances) @ pairs.T)


@pytest.mark.parametrize("levels", [3, 4, 6])
@pytest.mark.parametrize("df", [2.5, 10, math.inf])
def test_all_pairs_of_equal_means_have_tukeys_p_without_being_told(levels: int, df: float) -> None:
    """The integral of the studentised range is exact here; the directions must find it."""
    family = largest(_of_means([1.0] * levels))
    assert family is not None
    for t in (1.5, 2.5, 4.0):
        found, exact = family.adjusted_p(t, df), tukey.adjusted_p(t, levels, df)
        assert abs(found.value - exact) < max(found.error, 1e-6)
        assert found.error < 6 * PROMISED


def test_told_that_they_are_pairs_it_is_exact_where_tukey_is() -> None:
    family = largest(_of_means([2.0] * 5), levels=5)
    assert family is not None
    assert family.adjusted_p(2.8, 10).value == pytest.approx(
        tukey.adjusted_p(2.8, 5, 10), rel=1e-12
    )
    assert family.critical(0.95, 10) == pytest.approx(tukey.critical(0.95, 5, 10), rel=1e-9)


def _three_pairs(variances: list[float], t: float, df: float) -> float:
    """Return the p of three means by a double integral: over s, and over the first mean."""
    V = np.diag(variances)
    (ab, ac, bc) = _pairs(3)
    sd = [math.sqrt(row @ V @ row) for row in (ab, ac, bc)]
    s, weight = scaled_chi(df)
    node, share = np.polynomial.legendre.leggauss(12)
    middle = (np.arange(400) + 0.5) / 200 - 1
    x = (middle[:, None] + node / 400).ravel()  # mean a minus mean b in its own sd, of the bound
    w = np.tile(share / 400, 400)
    slope = float(ab @ V @ ac) / sd[0] ** 2
    rest = math.sqrt(float(ac @ V @ ac) - slope**2 * sd[0] ** 2)
    inside = np.zeros(len(s))
    for i, bound in enumerate(t * s):
        first = bound * x
        low = np.maximum(-bound * sd[1], first * sd[0] - bound * sd[2])
        high = np.minimum(bound * sd[1], first * sd[0] + bound * sd[2])
        mean = slope * first * sd[0]
        chance = (ndtr((high - mean) / rest) - ndtr((low - mean) / rest)).clip(0.0)
        inside[i] = bound * (w @ (chance * np.exp(-(first**2) / 2))) / math.sqrt(2 * math.pi)
    return float(1 - weight @ inside)


@pytest.mark.parametrize("variances", [[1.0, 1.0, 1.0], [1.0, 2.0, 5.0], [0.1, 4.0, 1.0]])
@pytest.mark.parametrize("t", [1.0, 2.4, 4.5])
def test_three_means_with_unequal_variances(variances: list[float], t: float) -> None:
    family = largest(_of_means(variances), levels=3)
    assert family is not None
    found = family.adjusted_p(t, 7.5)
    assert found.value == pytest.approx(_three_pairs(variances, t, 7.5), abs=2e-7)
    assert found.error < 1e-6


@settings(deadline=None, max_examples=10)
@given(st.lists(st.floats(0.2, 5.0), min_size=4, max_size=5), st.floats(2.0, 5.0))
def test_unequal_numbers_are_at_most_what_kramer_says(variances: list[float], t: float) -> None:
    """Kramer's p is conservative for independent means (A. J. Hayter, 1984, Ann. Statist. 12)."""
    levels = len(variances)
    family = largest(_of_means(variances), levels=levels)
    assert family is not None
    found = family.adjusted_p(t, 12)
    assert found.value <= tukey.adjusted_p(t, levels, 12) + max(found.error, 1e-9)
    alone = 2 * student.sf(t, 12)
    assert alone <= found.value <= math.comb(levels, 2) * alone + found.error
    assert family.adjusted_p(-t, 12) == found


@pytest.mark.parametrize(
    "loadings", [(0.7071, 0.7071, 0.7071), (0.5, 0.6, 0.7, 0.8), (0.3, 0.9, 0.5), (0.8, -0.4, 0.6)]
)
@pytest.mark.parametrize("two_sided", [True, False])
def test_comparisons_with_a_control_have_dunnetts_chances(
    loadings: tuple[float, ...], two_sided: bool
) -> None:
    R = np.outer(loadings, loadings)
    np.fill_diagonal(R, 1)
    family = largest(R, two_sided=two_sided)
    assert family is not None
    for t in (1.5, 2.5, 4.0):
        found = family.beyond(t, 8)
        exact = dunnett.beyond(t, loadings, 8, two_sided=two_sided)
        assert abs(found.value - exact) < max(found.error, 1e-7)
        assert found.error < 3 * PROMISED


@pytest.mark.parametrize("df", [4, 30])
def test_correlations_of_no_simple_form_equal_scipys_integration(df: int) -> None:
    """scipy.stats.multivariate_t integrates the density by its own lattice, here to about 1e-5."""
    R = np.array([[1, 0.7, 0.1, -0.3], [0.7, 1, 0.5, 0], [0.1, 0.5, 1, 0.4], [-0.3, 0, 0.4, 1]])
    assert dunnett.loadings_of_covariance(R) is None
    family = largest(R)
    assert family is not None
    for t in (1.8, 2.6, 4.0):
        bound = np.full(4, t)
        law = multivariate_t(shape=R, df=df, seed=np.random.default_rng(5))
        wanted = 1 - float(law.cdf(bound, lower_limit=-bound, maxpts=60_000, random_state=5))
        found = family.adjusted_p(t, df)
        assert abs(found.value - wanted) < found.error + 3e-5
        assert found.error < PROMISED


def test_dunnett_of_r_by_quasi_monte_carlo() -> None:
    """R 4.2.2, multcomp 1.4.22 (mvtnorm 1.1.3), good to about 1e-4; PlantGrowth (Dobson 1983)."""
    rows = json.loads(REFERENCE.read_text("utf-8"))["results"]["dunnett"]
    family = largest([[2.0, 1.0], [1.0, 2.0]])
    assert family is not None
    for row in rows:
        p = family.adjusted_p(row["t"], 27).value
        assert p == pytest.approx(row["p_exact"], abs=1e-6)
        assert p == pytest.approx(row["p_multcomp"], abs=PROMISED)


def test_one_difference_is_students_t() -> None:
    family = largest([[3.0]])
    assert family is not None
    assert family.adjusted_p(-2.0, 9).value == pytest.approx(2 * student.sf(2, 9), rel=1e-12)
    one_way = largest([[3.0]], two_sided=False)
    assert one_way is not None
    assert one_way.critical(0.95, 9) == pytest.approx(student.isf(0.05, 9), rel=1e-9)


def test_the_critical_value_has_the_chance_asked_for() -> None:
    family = largest(_of_means([1.0, 2.0, 3.0, 1.5]), levels=4)
    assert family is not None
    assert family.beyond(family.critical(0.9, 11), 11).value == pytest.approx(0.1, abs=1e-10)
    again = largest(_of_means([1.0, 2.0, 3.0, 1.5]), levels=4)
    assert again is not None
    assert again.critical(0.9, 11) == family.critical(0.9, 11)


def test_what_has_no_answer() -> None:
    assert largest([[0.0]]) is None
    assert largest([[math.nan]]) is None
    family = largest([[1.0, 0.2], [0.2, 1.0]])
    assert family is not None
    assert family.adjusted_p(0.0, 5) == Chance(1.0, 0.0)
    assert math.isnan(family.adjusted_p(math.nan, 5).value)
    with pytest.raises(ValueError, match=r"confidence 0\.4"):
        family.critical(0.4, 5)
    with pytest.raises(ValueError, match="degrees of freedom 0"):
        family.critical(0.95, 0)
    with pytest.raises(ValueError, match="not above 0"):
        family.beyond(-1, 5)


@pytest.mark.parametrize(
    ("k", "df", "one_sided"),
    [(1, 5, 2.02), (2, 5, 2.44), (3, 5, 2.68), (4, 5, 2.85), (2, 10, 2.15), (3, 10, 2.34),
     (4, 10, 2.47), (5, 10, 2.56), (3, 20, 2.19), (3, math.inf, 2.06)],
)  # fmt: skip
def test_printed_points_of_dunnetts_one_sided_table(k: int, df: float, one_sided: float) -> None:
    """C. W. Dunnett (1955), J. Am. Statist. Assoc. 50, table 1a, 95 % (from memory)."""
    loadings = (math.sqrt(0.5),) * k
    assert dunnett.critical_above(0.95, loadings, df) == pytest.approx(one_sided, abs=0.0051)
