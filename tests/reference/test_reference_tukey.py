"""Tukey's p and intervals where R's are rough, against a separate integration.

R's ptukey works to about 2e-12 in the upper tail, and to about 8e-7 near 2 degrees of freedom.
Here the double integral of the studentised range is done by Gauss-Legendre panels, written so that
the upper tail loses no digits to subtraction from 1.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import gammaln, ndtr

from trials.model.structure import Group

from .support import R, Setup, agree, analyse, comparison, options, pick

Numbers = NDArray[np.float64]


def panels(low: float, high: float, count: int) -> tuple[Numbers, Numbers]:
    """Return nodes and weights of 40-point Gauss-Legendre on ``count`` equal panels."""
    node, weight = np.polynomial.legendre.leggauss(40)
    edges = np.linspace(low, high, count + 1)
    centre, half = (edges[1:] + edges[:-1]) / 2, (edges[1:] - edges[:-1]) / 2
    return (centre[:, None] + half[:, None] * node).ravel(), (half[:, None] * weight).ravel()


def upper_tail(q: float, count: int, df: float) -> float:
    """P(Q > q) for ``count`` means: with z the smallest of them and w = q s,

    k int phi(z) [(1 - Phi(z))^(k-1) - (Phi(z + w) - Phi(z))^(k-1)] dz, averaged over s.
    """
    z, z_weight = panels(-9, 9, 12)
    density = np.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    above = ndtr(-z)
    s, s_weight = panels(0, 8, 160)
    log_chi = math.log(2) + df / 2 * math.log(df / 2) - gammaln(df / 2)
    chi = np.exp(log_chi + (df - 1) * np.log(s) - df * s * s / 2)
    some = chi > 1e-30 * chi.max()  # the rest is lost beside the sum, whatever the range there
    s, s_weight, chi = s[some], s_weight[some], chi[some]
    beyond = ndtr(-(z + q * s[:, None])) / above
    with np.errstate(divide="ignore"):
        lost = -np.expm1((count - 1) * np.log1p(-beyond))
    ranges = count * np.sum(z_weight * density * above ** (count - 1) * lost, axis=1)
    return float(np.sum(s_weight * chi * ranges))


def test_the_integration_gives_the_published_five_per_cent_points() -> None:
    """R: 3.50642612 for 3 means and 27 df. 3.88 and 4.33 for 3 and 4 means and 10 df: Pearson and
    Hartley, Biometrika Tables for Statisticians, vol. 1, from memory."""
    assert upper_tail(3.50642612, 3, 27) == pytest.approx(0.05, abs=1e-8)
    assert upper_tail(3.88, 3, 10) == pytest.approx(0.05, abs=2e-4)
    assert upper_tail(4.33, 4, 10) == pytest.approx(0.05, abs=2e-4)


def test_small_p_in_the_latin_square() -> None:
    response = analyse(
        Setup(
            R / "10_orchardsprays.csv",
            ("treatment",),
            (Group("row", random=False), Group("col", random=False)),
            options=options("decrease"),
        )
    )
    compared = 0
    for row in pick("10_orchardsprays", "raw/treatment/pairs"):
        if row["p_tukey"] > 1e-4:
            continue
        line, _ = comparison(response, row["a"], row["b"])
        wanted = upper_tail(math.sqrt(2) * abs(row["t"]), 8, 42)
        agree(line.p_adjusted, wanted, f"Tukey p of {row['a']} and {row['b']}")
        compared += 1
    assert compared >= 5


@pytest.mark.parametrize("random", [True, False])
def test_limits_near_two_df(random: bool) -> None:
    """The half-width over the standard error is the 5 % point of the range over root 2.

    Below 2 df R has no value at all.
    """
    response = analyse(
        Setup(
            R / "13b_three_strata_unbalanced.csv",
            ("heat", "dye"),
            (Group("lesson", random=random), Group("lesson/load")),
            (("heat", "lesson/load"),),
            options("mv", item="cell"),
        )
    )
    for a, b in (("low", "mid"), ("low", "high"), ("mid", "high")):
        line, _ = comparison(response, {"heat": a}, {"heat": b})
        low, high = line.interval_adjusted
        assert low is not None
        assert high is not None
        assert line.se is not None
        assert line.df is not None
        q = (high - low) / 2 / line.se * math.sqrt(2)
        assert 1.9 < line.df < 2.1
        assert upper_tail(q, 3, line.df) == pytest.approx(0.05, abs=1e-9)
