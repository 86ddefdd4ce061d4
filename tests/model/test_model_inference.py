"""Where a line has no standard error, and the fewest degrees of freedom that carry a test."""

from __future__ import annotations

import numpy as np
import pytest

from trials.model import FitOptions, Structure, fit_rows, make_layout
from trials.model.inference import LEAST_DF, UNSURE, StrataInference
from trials.model.layout import Floats


def inference(xi: list[float], recipe: list[list[float]], df: list[float]) -> StrataInference:
    """One coefficient, whose variance is the mean square expected in the first stratum."""
    parts: tuple[Floats, ...] = (np.eye(1), np.zeros((1, 1)), np.zeros((1, 1)))
    known = np.array([True, True, True])
    return StrataInference(np.ones(1), np.array(xi), np.array(df), parts, np.array(recipe), known)


@pytest.mark.parametrize(("larger", "has_error"), [(3.0, True), (1.05, False)])
def test_a_difference_of_mean_squares_by_satterthwaite(larger: float, has_error: bool) -> None:
    """Satterthwaite (1946), Biometrics Bulletin 2: df = (sum a m)^2 / sum (a m)^2 / df."""
    recipe = [[0.0, 1.0, -1.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
    line = inference([0.0, larger, 1.0], recipe, [0.0, 4.0, 6.0]).line(np.ones(1))
    df = (larger - 1) ** 2 / (larger**2 / 4 + 1 / 6)
    assert (df > LEAST_DF) == has_error
    if has_error:
        assert line.df == pytest.approx(df, rel=1e-12)
        assert line.se == pytest.approx((larger - 1) ** 0.5, rel=1e-12)
        assert not line.note
    else:
        assert (line.se, line.df, line.note) == (None, None, UNSURE)


@pytest.mark.parametrize("seed", range(20))
def test_four_denominator_df_exactly_are_enough_for_a_test(seed: int) -> None:
    """In a balanced plan Kenward-Roger is the exact F test (Kenward and Roger 1997, section 3)."""
    rng = np.random.default_rng(seed)
    rows = {"heat": list("aaaaaabbbbbb"), "firing": list("111222333444"), "dye": list("xyz" * 4)}
    layout = make_layout(Structure(["heat", "dye"], ["firing"], {"heat": "firing"}), rows)
    y = rng.normal(size=12) + 2 * np.repeat(rng.normal(size=4), 3)
    exact = fit_rows(layout, y)
    mixed = fit_rows(layout, y, FitOptions(df="kenward-roger"))
    assert exact.estimator == "strata"
    for one, other in zip(exact.tests[1:], mixed.tests[1:], strict=True):
        assert one.result.den_df == 4
        assert other.result.den_df == pytest.approx(4, rel=1e-8)
        assert other.result.f == pytest.approx(one.result.f, rel=1e-8)


@pytest.mark.parametrize("seed", range(20))
def test_three_denominator_df_are_enough_too(seed: int) -> None:
    """Two blocks of four: the moments of F don't exist, the formula is exact all the same."""
    rng = np.random.default_rng(seed)
    rows = {"lot": list("aaaabbbb"), "dye": list("wxyz" * 2)}
    layout = make_layout(Structure(["dye"], ["lot"]), rows, random=["lot"])
    y = rng.normal(size=8) + np.repeat(rng.normal(size=2), 4)
    (exact,) = fit_rows(layout, y, FitOptions(df="strata")).tests
    (mixed,) = fit_rows(layout, y, FitOptions(df="kenward-roger")).tests
    assert exact.result.den_df == 3
    assert mixed.result.den_df == pytest.approx(3, rel=1e-6)
    assert mixed.result.f == pytest.approx(exact.result.f, rel=1e-6)
