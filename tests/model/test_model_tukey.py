"""Tukey's method against R (emmeans) on many fits, scipy's own integration, and printed tables."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import studentized_range

from trials.model.studentised import scaled_chi
from trials.model.tukey import adjusted_p, critical, range_survival

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "multiplicity" / "pairs.json").read_text("utf-8")
)
PAIRS: list[dict[str, Any]] = [
    dict(zip(REFERENCE["columns"], row, strict=True)) for row in REFERENCE["pairs"]
]


@pytest.mark.parametrize("case", sorted({pair["case"] for pair in PAIRS}))
def test_p_and_limits_equal_those_of_r(case: str) -> None:
    """R 4.2.2, emmeans 1.8.4.1; sources of the data in the reference file.

    R's own ptukey is good to about 1e-11 absolute (1e-8 at 12 levels and 3.8 df), hence the
    tolerances: scipy's integration agrees with ours to 12 digits at these very points.
    """
    for pair in (pair for pair in PAIRS if pair["case"] == case):
        levels, df = pair["levels"], pair["df"]
        t = pair["estimate"] / pair["se"]
        p = adjusted_p(t, levels, df)
        assert p == pytest.approx(pair["p_tukey"], rel=1e-7, abs=3e-12), pair
        scipys = studentized_range.sf(abs(t) * math.sqrt(2), levels, df)
        assert p == pytest.approx(scipys, rel=1e-9, abs=1e-13), pair
        reach = critical(0.95, levels, df) * pair["se"]
        limits = (pair["estimate"] - reach, pair["estimate"] + reach)
        assert limits == pytest.approx((pair["lower_tukey"], pair["upper_tukey"]), rel=1e-6)


@pytest.mark.parametrize("levels", [2, 3, 7, 20])
@pytest.mark.parametrize("df", [1, 2, 2.5, 6.25, 30, math.inf])
@pytest.mark.parametrize("t", [0.3, 2.0, 5.0])
def test_p_equals_scipy(levels: int, df: float, t: float) -> None:
    expected = studentized_range.sf(t * math.sqrt(2), levels, df)
    assert adjusted_p(-t, levels, df) == pytest.approx(expected, rel=1e-7, abs=1e-13)


@pytest.mark.parametrize(
    ("levels", "df", "confidence", "q"),
    [
        (3, 10, 0.95, 3.88),
        (4, 12, 0.95, 4.20),
        (5, 20, 0.95, 4.23),
        (3, 10, 0.99, 5.27),
        (5, 20, 0.99, 5.29),
        (10, 60, 0.95, 4.65),
        (3, math.inf, 0.95, 3.31),
    ],
)
def test_printed_points_of_the_studentised_range(
    levels: int, df: float, confidence: float, q: float
) -> None:
    """Pearson and Hartley, Biometrika Tables for Statisticians, vol. 1, table 29 (from memory)."""
    assert critical(confidence, levels, df) * math.sqrt(2) == pytest.approx(q, abs=0.0051)


@pytest.mark.parametrize("df", [0.5, 1.5, 3, 40, 5000, 1e7])
def test_averages_over_the_scale_have_the_moments_of_chi_square(df: float) -> None:
    s, weight = scaled_chi(df)
    assert weight.sum() == pytest.approx(1, rel=1e-14)
    assert weight @ s**2 == pytest.approx(1, rel=1e-12)
    assert weight @ (s**2 - 1) ** 2 == pytest.approx(2 / df, rel=1e-9)
    assert not s.flags.writeable


def test_the_range_of_two_is_a_folded_normal() -> None:
    width = np.array([0.0, 0.5, 3.0, 9.0])
    expected = [math.erfc(w / 2) for w in width]
    assert range_survival(width, 2) == pytest.approx(expected, rel=1e-11)


def test_p_and_critical_undo_each_other() -> None:
    for levels, df, confidence in ((3, 2.2, 0.9), (12, 3.76, 0.95), (6, 45, 0.9706)):
        t = critical(confidence, levels, df)
        assert adjusted_p(t, levels, df) == pytest.approx(1 - confidence, rel=1e-9)


def test_nothing_to_compare_is_refused() -> None:
    assert math.isnan(adjusted_p(math.nan, 3, 5))
    for t, levels, df in ((1, 1, 5), (1, 3, 0), (1, 3, -1)):
        with pytest.raises(ValueError, match=r"levels|freedom"):
            adjusted_p(t, levels, df)
    with pytest.raises(ValueError, match="confidence"):
        critical(1.0, 3, 5)


def test_too_few_degrees_of_freedom_are_refused_before_memory_runs_out() -> None:
    with pytest.raises(ValueError, match="below"):
        critical(0.95, 3, 1e-6)
    with pytest.raises(ValueError, match="below"):
        adjusted_p(2.0, 3, 1e-6)
